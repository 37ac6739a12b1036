"""What may be laid over a chart: the cells a finding is about, and how the fabric leans."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from chartc.charting.grid import Cell, Grid, GridRow
from chartc.source import Span


@dataclass(frozen=True, slots=True)
class Flag:
    """A remark on a passage of the text, to be marked where its stitches stand."""

    span: Span
    text: str


@dataclass(frozen=True, slots=True)
class FlaggedRun:
    """Cells side by side that a flag marks: columns from `right` up to `left`. An empty run
    (right equal to left) marks the row as a whole."""

    flag: int
    row: int
    right: int
    left: int


def _meets(one: Span, other: Span) -> bool:
    if one.start == one.end:
        return other.start <= one.start < other.end
    return one.start < other.end and other.start < one.end


def flagged_runs(grid: Grid, flags: Sequence[Flag]) -> list[FlaggedRun]:
    """Where each flag (by its place in the list) falls. A flag that meets no stitch but lies in
    a row's text marks the row; one that meets nothing is not in the list."""
    found: list[FlaggedRun] = []
    for number, flag in enumerate(flags):
        for place, row in enumerate(grid.rows):
            runs: list[list[int]] = []
            for cell in row.cells:
                if cell.kind != "stitch" or not _meets(flag.span, cell.span):
                    continue
                if runs and runs[-1][1] == cell.column:
                    runs[-1][1] = cell.column + cell.width
                else:
                    runs.append([cell.column, cell.column + cell.width])
            if runs:
                found += [FlaggedRun(number, place, right, left) for right, left in runs]
            elif _meets(flag.span, row.span):
                found.append(FlaggedRun(number, place, 0, 0))
    return found


@dataclass(frozen=True, slots=True)
class Lean:
    """A stitch that does not stand over the loop it was drawn through: the middles of both,
    in columns from the right edge. `by` is positive to the left."""

    row: int
    middle: float
    below: float

    @property
    def by(self) -> float:
        return self.middle - self.below


def _middle(cell: Cell) -> float:
    return cell.column + cell.width / 2


def _below(cell: Cell) -> float | None:
    """The middle of what a stitch stands on: the loop in front for a decrease, all of them
    for a stitch as wide as what it uses."""
    if cell.kind == "none" or not cell.over:
        return None
    if cell.width == len(cell.over) > 1:
        return sum(cell.over) / len(cell.over) + 0.5
    return cell.over[0] + 0.5


def leans(grid: Grid) -> list[Lean]:
    """The stitches that lean by a column or more, row by row."""
    found = []
    for place, row in enumerate(grid.rows):
        for cell in row.cells:
            below = _below(cell)
            if below is not None and abs(_middle(cell) - below) > 0.75:
                found.append(Lean(place, _middle(cell), below))
    return found


def furthest(grid: Grid) -> list[tuple[int, int]]:
    """For each row, how many columns its stitches lean at most: to the left, to the right."""
    most = [(0, 0)] * len(grid.rows)
    for lean in leans(grid):
        left, right = most[lean.row]
        by = round(lean.by)
        most[lean.row] = (max(left, by), max(right, -by))
    return most


def column_leans(grid: Grid) -> list[tuple[int, int]]:
    """For each stitch of the top row, its column and how far to the left it ends up from where
    its front loops come from at the foot of the chart. Stitches whose line of loops begins
    inside the chart (at a yarn over) are left out."""
    if not grid.rows:
        return []
    at: dict[int, float] = {}  # column -> where its loops began
    for place, row in enumerate(grid.rows):
        now: dict[int, float] = {}
        for cell in row.cells:
            if cell.kind == "none" or not cell.width:
                continue
            for offset in range(cell.width):
                column = cell.column + offset
                if not place:
                    now[column] = column
                    continue
                if cell.width == len(cell.over):
                    source = sorted(cell.over)[offset]
                elif cell.over:
                    source = cell.over[0]
                else:
                    continue
                if source in at:
                    now[column] = at[source]
        at = now
    return [(column, round(column - began)) for column, began in sorted(at.items())]


def repeat_starts(row: GridRow) -> list[int]:
    """The lines between cells where a time through the row's repeat begins, as it is worked."""
    starts: list[int] = []
    last: tuple[int, int] | None = None
    for cell in row.working():
        mark = next(((m.repeat, m.number) for m in cell.passes if m.open), None)
        if mark is not None and mark != last:
            starts.append(cell.column + cell.width if row.from_left else cell.column)
        last = mark
    return starts


def flags_from(findings: Iterable[object]) -> tuple[Flag, ...]:
    """Flags for findings of the proof: anything with a `span` and a `message`."""
    return tuple(
        Flag(finding.span, finding.message)  # type: ignore[attr-defined]
        for finding in findings
    )
