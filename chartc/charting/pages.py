"""A chart too large for the paper, cut into parts at the borders of its repeats."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from chartc.charting.frames import Edge
from chartc.charting.grid import Cell, Grid, GridRow

OVERLAP = 2  # columns shown again on the next part
ROW_OVERLAP = 1


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet of paper, upright; mm."""

    name: str
    width: float
    height: float

    def turned(self) -> Paper:
        """The sheet on its side."""
        return Paper(self.name, self.height, self.width)


PAPERS = {"a4": Paper("A4", 210.0, 297.0), "letter": Paper("Letter", 215.9, 279.4)}
"""A4 by ISO 216; Letter by ANSI/ASME Y14.1, 8.5 x 11 in."""


@dataclass(frozen=True, slots=True)
class Part:
    """A part of a chart. Its own cells are columns `right` to `left` and rows `bottom` to
    `top` (exclusive) of the whole; `grid` shows them and a little of the parts beside it, its
    columns and rows counted from `first_column` and `first_row` of the whole."""

    grid: Grid
    right: int
    left: int
    bottom: int
    top: int
    first_column: int
    first_row: int


@dataclass(frozen=True, slots=True)
class Division:
    """How a chart is cut: column borders from the right, row borders from the bottom, both
    with the chart's own edges; `parts` row by row, from the right."""

    columns: tuple[int, ...]
    rows: tuple[int, ...]
    parts: tuple[Part, ...]


def divided(grid: Grid, most_columns: int, most_rows: int) -> Division:
    """The chart in parts of at most so many columns and rows, what overlaps included."""
    columns = _borders(grid.width, most_columns, OVERLAP, _column_penalties(grid))
    rows = _borders(len(grid.rows), most_rows, ROW_OVERLAP, _row_penalties(grid))
    parts = [
        _part(grid, right, left, bottom, top)
        for bottom, top in pairwise(rows)
        for right, left in pairwise(columns)
    ]
    return Division(tuple(columns), tuple(rows), tuple(parts))


def _borders(size: int, most: int, overlap: int, penalties: Sequence[int]) -> list[int]:
    """Borders so that there are as few parts as can be, cut where it hurts least."""
    if size <= most:
        return [0, size]
    inner = max(1, most - 2 * overlap)
    # best[c]: fewest parts, then least pain and evenness together, for what lies before
    # border c; and the border before it.
    best: list[tuple[int, int, int]] = [(0, 0, -1)]
    for at in range(1, size + 1):
        pain = penalties[at] if at < size else 0
        best.append(
            min(
                (best[c][0] + 1, best[c][1] + pain + (100 * (at - c) // inner) ** 2, c)
                for c in range(max(0, at - inner), at)
            )
        )
    borders = [size]
    while borders[-1] > 0:
        borders.append(best[borders[-1]][2])
    return borders[::-1]


def _column_penalties(grid: Grid) -> list[int]:
    """What a cut at each column costs: much for every stitch it goes through, a little for
    every row where no repeat begins or ends there."""
    through = [0] * (grid.width + 1)
    at_repeat = [0] * (grid.width + 1)
    rows_with_repeat = 0
    for row in grid.rows:
        edges: set[int] = set()
        last: tuple[int, int] | None = None
        end = 0
        for cell in row.cells:
            for column in range(cell.column + 1, cell.column + cell.width):
                through[column] += 1
            if cell.kind == "none":
                continue
            mark = next(((m.repeat, m.number) for m in cell.passes if m.open), None)
            if mark != last:
                edges.add(cell.column)
                if last is not None:
                    edges.add(end)
            last, end = mark, cell.column + cell.width
        if last is not None:
            edges.add(end)
        if edges:
            rows_with_repeat += 1
            for column in edges:
                if column <= grid.width:
                    at_repeat[column] += 1
    return [
        100_000 * cut + 3000 * (rows_with_repeat - here) // max(1, rows_with_repeat)
        for cut, here in zip(through, at_repeat, strict=True)
    ]


def _row_penalties(grid: Grid) -> list[int]:
    """Rows are best parted between sections, else before a right-side row."""
    penalties = [0]
    for below, above in pairwise(grid.rows):
        if below.section != above.section:
            penalties.append(0)
        else:
            penalties.append(1200 if above.side == "WS" else 1000)
    return [*penalties, 0]


def _part(grid: Grid, right: int, left: int, bottom: int, top: int) -> Part:
    low_row = max(0, bottom - ROW_OVERLAP)
    high_row = min(len(grid.rows), top + ROW_OVERLAP)
    low = max(0, right - OVERLAP) if right else 0
    high = min(grid.width, left + OVERLAP)
    rows = grid.rows[low_row:high_row]
    # Cells across the edge are shown whole, so the overlap widens where they are.
    grown = True
    while grown:
        grown = False
        for row in rows:
            for cell in row.cells:
                end = cell.column + cell.width
                if cell.column < low < end:
                    low, grown = cell.column, True
                if cell.column < high < end:
                    high, grown = end, True
    shown = tuple(_cut_row(row, low, high) for row in rows)
    frames = tuple(
        replace(
            frame,
            edges=tuple(Edge(e.row - low_row, e.right - low, e.left - low) for e in frame.edges),
        )
        for frame in grid.frames
    )
    part = replace(grid, rows=shown, width=high - low, frames=frames)
    return Part(part, right, left, bottom, top, low, low_row)


def _cut_row(row: GridRow, low: int, high: int) -> GridRow:
    cells = tuple(
        _moved(cell, low)
        for cell in row.cells
        if low <= cell.column and cell.column + cell.width <= high
    )
    return replace(row, cells=cells)


def _moved(cell: Cell, by: int) -> Cell:
    return replace(cell, column=cell.column - by, over=tuple(column - by for column in cell.over))
