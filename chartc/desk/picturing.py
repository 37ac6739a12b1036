"""The chart of one section as the page shows it: the drawing, and what each cell is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from chartc.charting import ChartOptions, Grid, Theme, lay_out, make_legend
from chartc.charting.legend import Legend, abbreviation
from chartc.charting.rowwords import describe, left_out_line, reading_line, row_name, row_words
from chartc.charting.svg import draw
from chartc.counting import Works, count, events
from chartc.desk.limits import MOST_STITCHES
from chartc.desk.offsets import Offsets
from chartc.desk.proofing import counted_of
from chartc.fabric import CAST_ON, DoesNotFit, Fabric, Plan, knit
from chartc.knitting import TooManyStitches, plans
from chartc.pattern import Pattern
from chartc.proof import Proof, row_gauge
from chartc.stitch import Stitch

# The page colours the drawing itself, light or dark.
PAGE_THEME = Theme(
    ink="var(--chart-ink)", paper="var(--chart-paper)", accent="var(--chart-accent)",
    grid="var(--chart-grid)", tint="var(--chart-tint)",
)  # fmt: skip
_NOT_OUT = {
    events.TOO_FEW, events.TOO_MANY, events.DOES_NOT_FIT, events.USES_NOTHING,
    events.NEVER_REPEATS, events.OPEN_TWICE, events.PAST_TARGET, events.NO_MARKER,
    events.MARKER_PASSED, events.UNREAD,
}  # fmt: skip
MOST_NARROW = 60  # stitches: an edge and two repeats no wider than this are shown by default


@dataclass(frozen=True)
class ChartWish:
    """What the page asks for.

    section   index of the section
    size      0-based
    one       that size is wanted and no other, in what shows several
    whole     all stitches of the size; else the edges and two repeats where that can be told
    gauge     cells in the proportion of the gauge
    numbers, mirrored, pattern_rows, as_worked, drift   as in `ChartOptions`
    """

    section: int = 0
    size: int = 0
    one: bool = False
    whole: bool = False
    pattern_rows: bool = False
    mirrored: bool = False
    as_worked: bool = False
    drift: bool = False
    gauge: bool = False
    numbers: bool = False
    usage: str = "us"

    @classmethod
    def of(cls, data: dict[str, Any]) -> ChartWish:
        """From what the page sends; anything odd is left at its default."""
        kept: dict[str, Any] = {}
        for name, default in cls().__dict__.items():
            value = data.get(name, default)
            if type(value) is type(default):
                kept[name] = value
        wish = cls(**kept)
        return replace(
            wish,
            section=max(0, wish.section),
            size=max(0, wish.size),
            usage="uk" if wish.usage == "uk" else "us",
        )

    def options(self, proof: Proof, theme: Theme | None = None) -> ChartOptions:
        """The same as options of a chart."""
        return ChartOptions(
            view="as worked" if self.as_worked else "right side",
            pattern_rows=self.pattern_rows,
            left_handed=self.mirrored,
            usage="uk" if self.usage == "uk" else "us",
            drift=self.drift,
            numbers=self.numbers,
            proportion=_proportion(proof) if self.gauge else 1.0,
            theme=theme or Theme(),
        )


@dataclass(frozen=True)
class Knitted:
    """A section knitted for its chart. `broken`: why it ends before its last row, else ""."""

    fabric: Fabric
    cast_on: int
    cut: bool
    broken: str = ""
    place: tuple[int, int] | None = None


class NoChart(Exception):
    """There is nothing to draw; the message says why, in plain words."""


def chart_data(text: str, wish: ChartWish, terms: str = "") -> dict[str, Any]:
    """The drawing and its cells, or `none`: why there is no chart."""
    proof = counted_of(text, terms)
    try:
        knitted = knit_section(proof, wish)
    except NoChart as reason:
        return {"none": str(reason)}
    options = replace(wish.options(proof, PAGE_THEME), legend="below")
    grid = lay_out(knitted.fabric, options=options)
    if not grid.rows or not grid.width:
        return {"none": "there are no rows to draw in this part"}
    at = Offsets(text)
    stitches: dict[Stitch, int] = {}
    rows = _rows(grid, knitted.fabric, stitches, at)
    legend = make_legend(grid, options.usage, hatched=any(row.in_round for row in grid.rows))
    return {
        "svg": draw(grid, legend, options=options),
        "key": _key(legend),
        "reads": " ".join([reading_line(grid), *map(left_out_line, grid.left_out)]),
        "alt": describe(grid, proof.pattern.sections[wish.section].name),
        "width": grid.width,
        "mirrored": grid.left_handed,
        "section": wish.section,
        "size": wish.size,
        "castOn": knitted.cast_on,
        "cut": knitted.cut,
        "broken": knitted.broken,
        "rows": rows,
        "names": [
            row_label(row.label, row.number, proof.source.at(row.span))
            for row in knitted.fabric.rows
        ],
        "stitches": [
            {
                "name": abbreviation(stitch, "uk" if wish.usage == "uk" else "us"),
                "title": stitch.title or stitch.key,
                "how": stitch.how,
                "uses": stitch.uses,
                "makes": stitch.makes,
            }
            for stitch in stitches
        ],
    }


def _key(legend: Legend) -> list[dict[str, Any]]:
    """What the signs of the chart mean, in the order of its own key."""
    found: list[dict[str, Any]] = [
        {
            "wide": max(1, entry.stitch.makes or entry.stitch.uses),
            "says": [
                {"side": one.side, "name": one.name, "title": one.title, "how": one.how}
                for one in entry.meanings
            ],
            "behind": entry.behind,
        }
        for entry in legend.entries
    ]
    for there, name, how in (
        (legend.no_stitch, "no stitch", "There is no stitch here: pass over this box."),
        (legend.resting, "not worked", "The stitch waits on the needle while this row is worked."),
        (legend.frame, "repeat", "Work the stitches inside the frame again and again."),
    ):
        if there:
            found.append(
                {"wide": 1, "says": [{"side": "", "name": name, "title": "", "how": how}],
                 "behind": False}
            )  # fmt: skip
    return found


def row_label(label: str, number: int | None, words: str) -> str:
    """What a row is called: its label, else its number, else its own words."""
    if label.strip():
        return label.strip().rstrip(":")
    if number is not None:
        return f"row {number}"
    words = " ".join(words.split())
    return f"“{words[:38]}{'…' if len(words) > 38 else ''}”" if words else "a row"


def knit_section(proof: Proof, wish: ChartWish) -> Knitted:
    """The rows of a section as a fabric. Raises NoChart."""
    pattern = proof.pattern
    if wish.section >= len(pattern.sections):
        raise NoChart("there are no rows in the text yet")
    size = min(wish.size, pattern.size_count - 1)
    gauge = row_gauge(pattern)
    if not wish.whole:
        found = _narrow(proof, pattern, wish.section, size)
        if found is not None:
            return found
    try:
        cast_on, planned = plans(
            pattern, wish.section, size, row_gauge=gauge, limit_stitches=MOST_STITCHES
        )
    except TooManyStitches as error:
        raise NoChart(
            f"this part has more than {error.limit} stitches; too many for a chart on the page"
        ) from None
    made = _knitted(proof, cast_on, planned, cut=False)
    return made if made.broken else replace(made, broken=_trouble(proof, wish.section, size))


def _trouble(proof: Proof, section: int, size: int) -> str:
    """Why a chart that can be drawn is not the chart of a sound text, else ""."""
    for event in proof.counted.events:
        mine = event.section == section and event.size_index in (None, size)
        if mine and event.row is not None and event.kind in _NOT_OUT:
            name = row_label(event.row.label, event.row.number, proof.source.at(event.row.span))
            return f"{name} does not come out"
    return ""


def _narrow(proof: Proof, pattern: Pattern, section: int, size: int) -> Knitted | None:
    """The section on its edges and two repeats; None when it has no repeat of its own."""
    if pattern.sections[section].starts == "goes on":
        # Alone, and on any number that suits it, it tells what its own repeat is.
        own = replace(pattern.sections[section], starts="free")
        pattern, section = replace(pattern, sections=(own,)), 0
        works = count(pattern, row_gauge(pattern)).sections[0].works
    else:
        works = proof.counted.sections[section].works
    if works is None or works.multiple < 1 or not works.holds(works.least):
        return None
    try:
        cast_on, planned = plans(
            pattern, section, size, cast_on=_two_repeats(works), row_gauge=row_gauge(pattern),
            limit_stitches=MOST_STITCHES,
        )  # fmt: skip
        return _knitted(proof, cast_on, planned, cut=True, strict=True)
    except (TooManyStitches, DoesNotFit, NoChart):
        return None


def _two_repeats(works: Works) -> int:
    """Stitches of the edges and two repeats; some more where any number works."""
    if works.multiple == 1:
        return max(works.least, 12) if works.most is None else min(works.most, works.least + 12)
    number = works.least + works.multiple
    return number if number <= MOST_NARROW and works.holds(number) else works.least


def _knitted(
    proof: Proof, cast_on: int, planned: Sequence[Plan], *, cut: bool, strict: bool = False
) -> Knitted:
    if not planned:
        raise NoChart("there are no rows to draw in this part")
    try:
        return Knitted(knit(cast_on, planned), cast_on, cut)
    except DoesNotFit as error:
        if strict:
            raise
        plan = planned[error.row]
        name = row_label(plan.label, plan.number, proof.source.at(plan.span))
        why = f"{name} needs {error.short} {'st' if error.short == 1 else 'sts'} more than there are"
        if not error.row:
            raise NoChart(f"no chart yet: {why}") from None
        place = (error.span.start, error.span.end)
        return Knitted(knit(cast_on, planned[: error.row]), cast_on, cut, why, place)


def _proportion(proof: Proof) -> float:
    """Height of a cell for a width of 1, from the gauge; 1 where none is given."""
    fact = proof.pattern.fact("gauge")
    if fact is None:
        return 1.0
    from chartc.facts import parse_gauge
    from chartc.fitting.agreement import gauge_from

    stated = parse_gauge(fact.value)
    gauge = None if stated is None else gauge_from(stated)
    if gauge is None or gauge.rows is None:
        return 1.0
    return min(2.0, max(0.4, float(gauge.stitches / gauge.rows)))


def _rows(
    grid: Grid, fabric: Fabric, stitches: dict[Stitch, int], at: Offsets
) -> list[dict[str, Any]]:
    """The rows of the chart, bottom first.

    A cell is [column, width, stitch, order, start, end, from, to]: `from` the stitches whose
    loops it is drawn through and `to` those worked into its loops, each [row of the fabric,
    order]; a row of -1 is the cast-on.
    """
    out = []
    for row in grid.rows:
        worked = fabric.rows[row.index].stitches
        cells = []
        for cell in row.cells:
            if cell.kind != "stitch" or cell.worked is None:
                continue
            one = worked[cell.order]
            sources = [
                [loop.row, loop.maker if loop.row != CAST_ON else loop.slot]
                for loop in (fabric.loops[number] for number in one.used)
            ]
            into = dict.fromkeys(
                fabric.children[number] for number in one.left if number in fabric.children
            )
            cells.append(
                [
                    cell.column, cell.width, stitches.setdefault(cell.worked, len(stitches)),
                    cell.order, at(cell.span.start), at(cell.span.end), sources,
                    [list(pair) for pair in into],
                ]
            )  # fmt: skip
        out.append(
            {
                "index": row.index,
                "name": row_name(row),
                "words": row_words(row),
                "fromLeft": row.from_left,
                "start": at(row.span.start),
                "end": at(row.span.end),
                "cells": cells,
            }
        )
    return out
