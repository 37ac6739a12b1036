"""Sending out: the chart, the words, the proof and the handout as files."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from importlib.util import find_spec
from typing import Any

from chartc.charting import ChartOptions, Grid
from chartc.desk.picturing import ChartWish, NoChart, knit_section
from chartc.desk.proofing import proof_of
from chartc.proof import Proof


class CannotMake(Exception):
    """The file cannot be made; the message says why in plain words."""


@dataclass(frozen=True)
class Made:
    """A file made: its name, its kind for the browser, and its bytes."""

    name: str
    media_type: str
    data: bytes


@dataclass(frozen=True)
class Kind:
    """A kind of file.

    needs   modules that must be installed, and the extra that brings them
    """

    key: str
    title: str
    says: str
    ending: str
    media_type: str
    make: Callable[[Proof, ChartWish], bytes]
    needs: tuple[str, ...] = ()
    extra: str = ""

    @property
    def missing(self) -> str:
        """What to do when something it needs is not installed, else ""."""
        if all(_there(name) for name in self.needs):
            return ""
        if not self.extra:
            return "this version of chartc cannot make it"
        return f"needs an addition: python -m pip install \"chartc[{self.extra}]\""


def _there(name: str) -> bool:
    try:
        return find_spec(name) is not None
    except ModuleNotFoundError:
        return False


def _grid(proof: Proof, wish: ChartWish) -> tuple[Grid, ChartOptions]:
    from chartc.charting import lay_out

    try:
        knitted = knit_section(proof, wish)
    except NoChart as reason:
        raise CannotMake(str(reason)) from None
    if knitted.broken:
        raise CannotMake(f"the chart is not sound: {knitted.broken}")
    options = wish.options(proof)
    return lay_out(knitted.fabric, options=options), options


def _title(proof: Proof, wish: ChartWish) -> str:
    section = proof.pattern.sections[wish.section].name
    return ": ".join(part for part in (proof.pattern.title, section) if part)


def _svg(proof: Proof, wish: ChartWish) -> bytes:
    from chartc.charting.svg import draw

    grid, options = _grid(proof, wish)
    return draw(grid, title=_title(proof, wish), options=options).encode("utf-8")


def _chart(proof: Proof, wish: ChartWish) -> Any:
    from chartc.charting.chart import Chart

    grid, options = _grid(proof, wish)
    return Chart(grid, _title(proof, wish), options)


def _png(proof: Proof, wish: ChartWish) -> bytes:
    from chartc.charting.printing import CannotPrint, to_png

    try:
        return to_png(_chart(proof, wish).svg)
    except CannotPrint as reason:
        raise CannotMake(str(reason)) from None


def _pdf(proof: Proof, wish: ChartWish) -> bytes:
    from chartc.charting.chart import TooWide
    from chartc.charting.printing import CannotPrint, to_pdf

    try:
        return to_pdf(_chart(proof, wish))
    except (CannotPrint, TooWide) as reason:
        raise CannotMake(str(reason)) from None


def _csv(proof: Proof, wish: ChartWish) -> bytes:
    from chartc.tables import CannotTabulate, write_table

    try:
        knitted = knit_section(proof, wish)
        if knitted.broken:
            raise CannotMake(f"the chart is not sound: {knitted.broken}")
        made = write_table(
            knitted.fabric, title=_title(proof, wish), own=proof.pattern.own,
            cast_on=None if knitted.cut else knitted.cast_on,
        )  # fmt: skip
    except (NoChart, CannotTabulate) as reason:
        raise CannotMake(str(reason)) from None
    return made.encode("utf-8-sig")


def _sheet(make: str, form: str) -> Callable[[Proof, ChartWish], bytes]:
    """A handout of `chartc.sheets` as a page ("html"), on paper ("pdf") or as captions."""

    def made(proof: Proof, wish: ChartWish) -> bytes:
        from chartc import sheets

        sizes = proof.pattern.sizes
        own = sizes[min(wish.size, len(sizes) - 1)] if wish.one and len(sizes) > 1 else ""
        try:
            options = sheets.SheetOptions(own=own, left_handed=wish.mirrored)
            if make == "captions":
                return sheets.captions(proof, options).encode("utf-8")
            found: sheets.Document
            if make == "exercise":
                found = sheets.exercise_sheet(proof, options)[0]
            elif make == "cue":
                found = sheets.cue_card(proof, options)
            elif make == "report":
                found = sheets.report(proof, options)
            else:
                found = sheets.class_sheet(proof, options)
            return found.html().encode("utf-8") if form == "html" else found.pdf()
        except sheets.SheetProblem as reason:
            raise CannotMake(str(reason)) from None

    return made


def _report_json(proof: Proof, wish: ChartWish) -> bytes:
    del wish
    return proof.to_json().encode("utf-8")


def _words(proof: Proof, wish: ChartWish) -> bytes:
    from chartc.wording.style import load_style
    from chartc.wording.tidy import tidy

    style = load_style("uk" if wish.usage == "uk" else "us")
    return tidy(proof.source, style, proof.pattern).text.encode("utf-8")


KINDS: tuple[Kind, ...] = (
    Kind("svg", "Chart, SVG", "a drawing for any layout program, true to size", "svg",
         "image/svg+xml", _svg),
    Kind("png", "Chart, PNG", "a picture of 300 dots per inch", "png", "image/png", _png,
         ("resvg_py",), "print"),
    Kind("pdf", "Chart, PDF", "for printing on A4, true to size", "pdf", "application/pdf", _pdf,
         ("typst",), "print"),
    Kind("csv", "Chart, CSV", "for a spreadsheet, one cell for each stitch", "csv",
         "text/csv; charset=utf-8", _csv),
    Kind("words", "Tidy words", "the text with its rows in house style", "knit",
         "text/plain; charset=utf-8", _words),
    Kind("sheet", "Class sheet", "the handout for a class, as a page", "html",
         "text/html; charset=utf-8", _sheet("class", "html")),
    Kind("sheet-pdf", "Class sheet, PDF", "the same for printing on A4", "pdf",
         "application/pdf", _sheet("class", "pdf"), ("typst",), "print"),
    Kind("cue", "Cue card", "the rows to be read aloud before a camera", "html",
         "text/html; charset=utf-8", _sheet("cue", "html")),
    Kind("captions", "Captions", "the cue card as captions for a film", "vtt",
         "text/vtt; charset=utf-8", _sheet("captions", "")),
    Kind("exercise", "Exercise", "the pattern with slips for the class to find", "html",
         "text/html; charset=utf-8", _sheet("exercise", "html")),
    Kind("report", "Editor's report", "findings, counts and materials, as a page", "html",
         "text/html; charset=utf-8", _sheet("report", "html")),
    Kind("report-pdf", "Editor's report, PDF", "the same for printing on A4", "pdf",
         "application/pdf", _sheet("report", "pdf"), ("typst",), "print"),
    Kind("report-json", "Proof, as data", "the same for other programs", "json",
         "application/json", _report_json),
)  # fmt: skip


def kinds() -> list[dict[str, str]]:
    """The kinds of file, for the page."""
    return [
        {"key": kind.key, "title": kind.title, "says": kind.says, "missing": kind.missing}
        for kind in KINDS
    ]


def make(kind: str, text: str, wish: dict[str, Any], name: str, terms: str = "") -> Made:
    """Make one file of a text. `name`: of the pattern's own file, for the name of the new one.

    Raises CannotMake.
    """
    found = next((one for one in KINDS if one.key == kind), None)
    if found is None:
        raise CannotMake("there is no such kind of file")
    if found.missing:
        raise CannotMake(f"{found.title}: {found.missing}")
    proof = proof_of(text, terms)
    wanted = ChartWish.of(wish)
    if wanted.section >= len(proof.pattern.sections):
        raise CannotMake("there are no rows in the text yet")
    data = found.make(proof, wanted)
    stem = name.rsplit("/", 1)[-1].rsplit(".", 1)[0] or proof.pattern.title or "pattern"
    stem = re.sub(r"[^A-Za-z0-9]+", "-", stem).strip("-").lower()[:60] or "pattern"
    if not found.key.startswith(found.ending) and found.key != "report-json":
        stem += {"words": "-tidy"}.get(found.key, f"-{found.key.removesuffix('-pdf')}")
    return Made(f"{stem}.{found.ending}", found.media_type, data)


