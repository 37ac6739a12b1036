"""chartc: the compiler and proof-reader for written knitting.

Plain trade words in; a proof, a chart and matching words out.

    import chartc

    proof = chartc.prove("samples/dunlin-tracks.knit")
    proof.sound                     nothing is wrong with the text, in any size
    for finding in proof.findings:  what is, with the passage of the text
        print(finding.message)
    proof.to_json()                 all of it as data

    chart = chartc.draw("samples/dunlin-tracks.knit")
    chart                           shows itself in a notebook
    chart.svg                       the text of an SVG file

A text is given as a path, or as it stands: any string with a line break in it is taken for the
text itself. Everything else stands in its own module; nothing is loaded before it is used.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from chartc.charting import Chart, ChartOptions
    from chartc.findings import Finding
    from chartc.pattern import Pattern
    from chartc.proof import Proof
    from chartc.source import CannotRead, Source

__version__ = "0.1.0"

__all__ = [
    "CannotRead",
    "Chart",
    "ChartOptions",
    "Finding",
    "Pattern",
    "Proof",
    "Source",
    "__version__",
    "draw",
    "prove",
    "read",
]

# types, each with the module it is loaded from when it is first asked for
_TYPES = {
    "CannotRead": "chartc.source",
    "Chart": "chartc.charting",
    "ChartOptions": "chartc.charting",
    "Finding": "chartc.findings",
    "Pattern": "chartc.pattern",
    "Proof": "chartc.proof",
    "Source": "chartc.source",
}


def __getattr__(name: str) -> object:
    if name in _TYPES:
        from importlib import import_module

        return getattr(import_module(_TYPES[name]), name)
    raise AttributeError(f"module 'chartc' has no attribute {name!r}")


def _source(text: str | Path | Source) -> Source:
    from chartc.source import Source, load

    if isinstance(text, Source):
        return text
    if isinstance(text, str) and "\n" in text:
        return Source("text", text)
    return load(text)


def read(text: str | Path | Source, terms: str = "") -> Pattern:
    """The pattern a text says, resolved: sizes, sections, rows and steps.

    text    a path, or the text itself (a string with a line break), or a `Source`
    terms   a set of terms from grammar/terms/ ("older" for the books of the nineteenth
            century), "" for today's usage

    What cannot be read is a remark of the pattern, never an error. Raises CannotRead for a
    file that cannot be read.
    """
    from chartc.reading import read as read_source

    return read_source(_source(text), terms)


def prove(text: str | Path | Source, terms: str = "") -> Proof:
    """Read, count and check a text: findings, ledger, and the numbers that work.

    Arguments and errors as for `read`. All that is wrong with the text is a finding.
    """
    from chartc.proof import prove as prove_source

    return prove_source(_source(text), terms)


def draw(
    text: str | Path | Source | Proof,
    *,
    section: str | int | None = None,
    size: str | int | None = None,
    whole: bool = False,
    options: ChartOptions | None = None,
    terms: str = "",
) -> Chart:
    """The chart of a section of a text. It shows itself in a notebook.

    text      as for `read`, or a proof
    section   name or 0-based index; None for the first with rows
    size      name or 0-based index; None for the first
    whole     every stitch of the size; else the edges and two repeats where the section works
              on any number of repeats
    options   how it is drawn

    Raises CannotRead for a file that cannot be read and `chartc.drawing.NoChart` where there
    is nothing to draw.
    """
    from chartc.drawing import chart_of
    from chartc.proof import Proof
    from chartc.proof import prove as prove_source

    proof = text if isinstance(text, Proof) else prove_source(_source(text), terms)
    return chart_of(proof, section=section, size=size, whole=whole, options=options)
