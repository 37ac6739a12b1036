"""Rows and whole charts in words, for a screen reader and for the text beside a chart."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from chartc.charting.grid import Cell, Grid, GridRow, LeftOut
from chartc.stitch import Stitch


def listed(items: Sequence[str]) -> str:
    """ "2", "2 and 4", "2, 4 and 6"."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} and {items[-1]}"


def worked_words(stitch: Stitch, times: int) -> str:
    """A stitch worked a number of times, in plain words."""
    if stitch.key in ("k", "p"):
        return f"{stitch.title} {times}"
    name = stitch.title or stitch.us or stitch.key
    return name if times == 1 else f"{name}, {times} times"


def _stretch(cells: Sequence[Cell]) -> str:
    """Stitches in working order, equal neighbours counted together."""
    parts = []
    for stitch, group in groupby(cells, key=lambda cell: cell.worked):
        if stitch is not None:
            parts.append(worked_words(stitch, len(list(group))))
    return "; ".join(parts)


def _open_repeat(cell: Cell) -> int | None:
    return next((mark.repeat for mark in cell.passes if mark.open), None)


def _time_through(cell: Cell) -> int | None:
    return next((mark.number for mark in cell.passes if mark.open), None)


def _repeated(runs: Sequence[Sequence[Cell]]) -> list[str]:
    """The times through a repeat, those worked alike told together."""
    parts = []
    for stitches, group in groupby(runs, key=lambda run: tuple(cell.worked for cell in run)):
        alike = list(group)
        words = _stretch(alike[0])
        if len(stitches) == 1:
            parts.append(_stretch([cell for run in alike for cell in run]))
        elif len(runs) == 1:
            parts.append(f"repeat: ({words})")
        elif len(alike) == 1:
            parts.append(f"once: ({words})")
        else:
            parts.append(f"repeat {len(alike)} times: ({words})")
    return parts


def row_words(row: GridRow) -> str:
    """The row as it is worked: "knit 2; repeat 3 times: (yarn over; knit two together)"."""
    cells = row.working()
    if not cells:
        return "no stitches worked"
    parts: list[str] = []
    for repeat, stretch in groupby(cells, key=_open_repeat):
        held = list(stretch)
        if repeat is None:
            parts.append(_stretch(held))
        else:
            parts += _repeated([list(run) for _, run in groupby(held, key=_time_through)])
    waiting = sum(cell.kind == "rest" for cell in row.cells)
    if waiting:
        parts.append(f"{waiting} not worked")
    return "; ".join(part for part in parts if part)


def row_name(row: GridRow) -> str:
    """ "Row 3 (RS)"; the label as written where there is one."""
    name = row.label or f"{'Round' if row.in_round else 'Row'} {row.number or row.index + 1}"
    if row.side and row.side not in name:
        name += f" ({row.side})"
    return name


def row_title(row: GridRow) -> str:
    """The row named, and how it is worked."""
    return f"{row_name(row)}: {row_words(row)}."


def short_label(row: GridRow) -> str:
    """What stands beside the row in the chart."""
    if row.number is not None:
        return str(row.number)
    return row.label.strip().rstrip(":")


def reading_line(grid: Grid) -> str:
    """How the chart is read."""
    right, left = ("left", "right") if grid.left_handed else ("right", "left")
    sides = {row.side for row in grid.rows if not row.in_round}
    rounds = any(row.in_round for row in grid.rows)
    parts = []
    if rounds:
        parts.append(f"every round from {right} to {left}")
    if "WS" in sides and (sides - {"WS"} or not rounds):
        if sides - {"WS"}:
            parts.append(f"right-side rows from {right} to {left}")
        parts.append(f"wrong-side rows from {left} to {right}")
    elif sides:
        parts.append(f"every row from {right} to {left}")
    line = f"Read from the bottom up, {listed(parts)}." if parts else "Read from the bottom up."
    if grid.as_worked:
        line += " Every stitch is shown as it is worked."
    elif "WS" in sides:
        line += " Every stitch is shown as it looks from the right side."
    if grid.left_handed:
        line += " This is the mirror image, for knitting from left to right."
    return line


def left_out_line(left: LeftOut) -> str:
    """ "Not shown: rows 2, 4 and 6 (WS), purl every stitch."."""
    if all(number is not None for number in left.numbers):
        names = listed([str(number) for number in left.numbers])
        many = len(left.numbers) > 1
        kind = "rows" if left.side else "rounds"
        which = f"{kind if many else kind[:-1]} {names}"
    else:
        which = listed([label.rstrip(":") for label in left.labels])
    side = f" ({left.side})" if left.side else ""
    return f"Not shown: {which}{side}, {left.worked.title} every stitch."


def describe(grid: Grid, title: str) -> str:
    """The chart as a whole, as alternative text."""
    count = len(grid.rows)
    rounds = bool(grid.rows) and all(row.in_round for row in grid.rows)
    kind = "round" if rounds else "row"
    text = f"Knitting chart{f' for {title}' if title else ''}: "
    text += f"{count} {kind}{'s' if count != 1 else ''}, {grid.width} stitch"
    text += f"{'es' if grid.width != 1 else ''} wide. {reading_line(grid)}"
    for frame in grid.frames:
        wide = sorted({edge.left - edge.right for edge in frame.edges})
        size = str(wide[0]) if len(wide) == 1 else f"{wide[0]} to {wide[-1]}"
        which = (
            "A finer frame marks the repeat inside it"
            if frame.inner
            else "A frame marks the repeat"
        )
        text += f" {which}, {size} stitch{'es' if size != '1' else ''} wide"
        text += ", stepping from row to row." if frame.steps else "."
    for left in grid.left_out:
        text += f" {left_out_line(left)}"
    return text
