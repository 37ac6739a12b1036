"""Charts taken in: a table from a spreadsheet, or a drawing made by chartc, put into words."""

from __future__ import annotations

from typing import Any

from chartc.charting import NoGrid
from chartc.charting.svg import read_back
from chartc.counting import count
from chartc.fabric import DoesNotFit, knit
from chartc.knitting import TooManyStitches, plans
from chartc.pattern import CastOn, Pattern
from chartc.reading import read
from chartc.source import Source
from chartc.tables import looks_like_table, read_table
from chartc.wording.rows import (
    LineOfStitches,
    authors_repeats,
    lines_of,
    split_lines,
    worded,
    written_rows,
)
from chartc.wording.sentences import NotWorded
from chartc.wording.style import load_style

MOST_STITCHES = 20_000
REPEATS = 3  # times through that tell a repeat from what happens to stand twice


class CannotTake(Exception):
    """The chart cannot be put into words; the message says why."""


def is_chart(name: str) -> bool:
    """Whether a file of this name holds a chart."""
    return looks_like_table(name) or name.lower().endswith(".svg")


def chart_pattern(text: str, name: str) -> tuple[Pattern, Source]:
    """The pattern of a chart file and the text it is read from. Raises CannotTake."""
    if name.lower().endswith(".svg"):
        made = Source(name, take(text, name)["text"])
        return read(made), made
    source = Source(name, text)
    return read_table(source), source


def take(text: str, name: str) -> dict[str, Any]:
    """A chart as a text of its own: {text, notes}. Raises CannotTake."""
    if name.lower().endswith(".svg"):
        return _from_drawing(text, name)
    source = Source(name, text)
    pattern = read_table(source)
    section = next((i for i, s in enumerate(pattern.sections) if s.written), None)
    if section is None:
        raise CannotTake("there are no rows of a chart in this file")
    works = count(pattern).sections[section].works
    free = works is not None and pattern.sections[section].starts == "free"
    number = None
    if free and works is not None:
        number = works.least + (REPEATS - 1) * works.multiple if works.multiple > 1 else works.least
    try:
        cast_on, planned = plans(
            pattern, section, cast_on=number, limit_stitches=MOST_STITCHES
        )
        knit(cast_on, planned)
    except TooManyStitches:
        raise CannotTake("this chart has too many stitches to be put into words") from None
    except DoesNotFit as error:
        line = source.locate(error.span.start)[0]
        raise CannotTake(
            f"the chart does not come out: line {line} of the file needs "
            f"{error.short} {'st' if error.short == 1 else 'sts'} more than there are"
        ) from None
    if not planned:
        raise CannotTake("there are no rows of a chart in this file")
    lines = lines_of(planned, cast_on)
    begins = [it for it in pattern.sections[section].flow if isinstance(it, CastOn)]
    notes = []
    if pattern.remarks:
        first = pattern.remarks[0]
        at = source.locate(first.span.start)[0]
        more = len(pattern.remarks) - 1
        notes.append(
            f"Line {at} of the file: {first.message}" + (f", and {more} more." if more else ".")
        )
    made = _text(
        pattern.title or _stem(name), lines,
        split_lines(lines, prefer=authors_repeats(planned)) if free else None,
        cast_on if begins else None,
        [f"{own.name} = {own.words}" for own in pattern.own if own.words],
    )  # fmt: skip
    return {"text": made, "notes": notes}


def _from_drawing(text: str, name: str) -> dict[str, Any]:
    try:
        grid = read_back(text)
    except NoGrid:
        raise CannotTake(
            "this drawing carries no chart; only charts drawn by chartc can be read again"
        ) from None
    before = sum(cell.worked.uses for cell in grid.rows[0].working() if cell.worked)
    lines: list[LineOfStitches] = []
    for row in grid.rows:
        stitches = tuple(cell.worked for cell in row.working() if cell.worked is not None)
        after = before + sum(stitch.net for stitch in stitches)
        lines.append(
            LineOfStitches(row.label, row.number, row.side, row.in_round, stitches, before, after)
        )
        before = after
    notes = ["Rows that the drawing leaves out are not in it."] if grid.left_out else []
    return {"text": _text(_stem(name), lines, None, lines[0].before, []), "notes": notes}


def _stem(name: str) -> str:
    return name.rsplit("/", 1)[-1].rsplit(".", 1)[0].replace("-", " ").strip().capitalize()


def _text(
    title: str, lines: list[LineOfStitches], parts: Any, cast_on: int | None, own: list[str]
) -> str:
    try:
        rows = worded(written_rows(lines, parts), load_style("us"))
    except NotWorded:
        raise CannotTake("this chart has stitches that cannot be put into words") from None
    in_round = all(line.in_round for line in lines)
    out = [title, "", f"Worked: {'in the round' if in_round else 'flat'}"]
    if own:
        out += ["", "Special stitches:", *own]
    out.append("")
    if cast_on is not None:
        out.append(f"Cast on {cast_on} sts{' and join in the round' if in_round else ''}.")
    return "\n".join([*out, *rows]) + "\n"
