"""What the text of a cell names."""

from __future__ import annotations

from functools import lru_cache

from chartc.pattern import Row, Work
from chartc.reading import read
from chartc.source import Source
from chartc.stitch import Stitch
from chartc.vocabulary import Vocabulary


def named(text: str, vocabulary: Vocabulary) -> tuple[Stitch, int] | None:
    """The stitch of a cell and how often it is worked there ("k3"), or None."""
    atoms = vocabulary.atoms(text)
    match = vocabulary.match(atoms)
    if match is not None and match.end == len(atoms) and match.stitch is not None:
        return match.stitch, max(1, match.times)
    return _as_row(text) if text[:1] in "([" else None


@lru_cache(maxsize=1024)
def _as_row(text: str) -> tuple[Stitch, int] | None:
    """Several stitches in one place, "(k1, p1) in next st": read as a row of their own."""
    pattern = read(Source("", f"Cell\n\nRow 1: {text}.\n"))
    rows = [it for section in pattern.sections for it in section.flow]
    if pattern.remarks or len(rows) != 1 or not isinstance(rows[0], Row):
        return None
    steps = rows[0].steps
    if len(steps) != 1 or not isinstance(steps[0], Work) or steps[0].times.values != (1,):
        return None
    return steps[0].stitch, 1
