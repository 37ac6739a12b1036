"""The chart as a grid: which cell stands where, before anything is drawn.

Column 0 is at the right edge as seen from the right side, row 0 is the first one worked.
Everything here is whole numbers; sizes in mm belong to the drawing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import groupby, pairwise
from typing import Literal

from chartc.charting.frames import Edge, Frame, FrameRow, Run, find_frames
from chartc.charting.options import ChartOptions
from chartc.charting.placing import Place, place
from chartc.charting.units import RowUnits, row_units
from chartc.fabric import Fabric, FabricRow, Pass
from chartc.source import Span
from chartc.stitch import Stitch

CellKind = Literal["stitch", "none", "rest"]
Partner = Callable[[Stitch], Stitch | None]

NOWHERE = Span(0, 0)


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell of a row.

    column      its right-most column (0 at the right edge), as seen from the right side
    width       columns it takes; 0 for a stitch that neither uses nor makes a loop
    kind        "stitch"; "none" where there is no stitch; "rest" where a loop waits on the
                needle and is not worked in this row
    stitch      the stitch shown, None unless kind is "stitch"
    worked      the stitch as it is worked (p2tog where k2tog is shown on a WS row)
    wrong_side  worked on the wrong side and shown from the right side without a partner there
    outside     a "none" cell beyond the edge of the fabric
    over        columns of the loops it was drawn through, the front one first
    order       its place in working order; -1 when nothing is worked
    span        the passage of text that made it
    passes      the repeats it belongs to, outermost first
    """

    column: int
    width: int = 1
    kind: CellKind = "stitch"
    stitch: Stitch | None = None
    worked: Stitch | None = None
    wrong_side: bool = False
    outside: bool = False
    over: tuple[int, ...] = ()
    order: int = -1
    span: Span = NOWHERE
    passes: tuple[Pass, ...] = ()


@dataclass(frozen=True, slots=True)
class GridRow:
    """A row of the chart, its cells from the right edge to the left.

    index   row of the fabric it shows
    number  as in the text, None when the text gives none
    side    "RS", "WS", or "" for a round
    from_left   it is worked from left to right as seen from the right side
    shift   loops the start of the round has moved before this row
    """

    index: int
    label: str
    number: int | None
    side: str
    in_round: bool
    from_left: bool
    cells: tuple[Cell, ...]
    section: str = ""
    shift: int = 0
    span: Span = NOWHERE

    def working(self) -> tuple[Cell, ...]:
        """The stitch cells in the order they are worked."""
        stitches = [cell for cell in self.cells if cell.kind == "stitch"]
        return tuple(sorted(stitches, key=lambda cell: cell.order))


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Rows left out of the chart because every stitch of them is the same plain one.

    labels, numbers   of the rows; a number is None when the text gives none
    side    "RS", "WS" or "" for rounds
    worked  the stitch as it is worked there
    """

    labels: tuple[str, ...]
    numbers: tuple[int | None, ...]
    side: str
    worked: Stitch


@dataclass(frozen=True, slots=True)
class Grid:
    """The laid-out chart: rows bottom to top (rows[0] is worked first).

    width    columns of the whole chart
    shift    sum of the sideways shifts of all stitches from their loops (the least possible)
    frames   the repeats, each with its edges on every row
    left_out plain rows not shown, and what they are (see LeftOut)
    """

    rows: tuple[GridRow, ...]
    width: int
    in_round: bool
    shift: int = 0
    frames: tuple[Frame, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    left_handed: bool = False
    as_worked: bool = False
    background: str = "k"

    def stitches(self) -> tuple[tuple[Stitch, bool], ...]:
        """The stitches shown, each with whether it is seen from behind, in the order met."""
        met: dict[tuple[Stitch, bool], None] = {}
        seen: set[tuple[int, bool]] = set()  # by identity: the same few objects fill the cells
        for row in self.rows:
            for cell in row.working():
                if cell.stitch is not None and (id(cell.stitch), cell.wrong_side) not in seen:
                    seen.add((id(cell.stitch), cell.wrong_side))
                    met.setdefault((cell.stitch, cell.wrong_side))
        return tuple(met)


def lay_out(
    fabric: Fabric,
    *,
    options: ChartOptions | None = None,
    twin: Partner | None = None,
) -> Grid:
    """Lay the fabric out as a chart.

    `twin` gives the stitch that looks from the right side as the one given looks when worked
    on the wrong side, or None; the vocabulary's own is used when it is left out.
    """
    options = options or ChartOptions()
    if twin is None:
        from chartc.vocabulary import load_vocabulary

        twin = load_vocabulary().twin
    chosen = [
        row.index for row in fabric.rows if not options.sections or row.section in options.sections
    ]
    units = row_units(fabric)
    placing = place(fabric, units, chosen)
    as_worked = options.view == "as worked"
    shown = _Shown(twin, as_worked)
    rows: list[GridRow] = []
    below: dict[int, int] = {}
    if chosen and len(units[chosen[0]].units) == len(units[chosen[0]].before):
        below = dict(zip(units[chosen[0]].before, placing.rows[0].columns, strict=True))
    for r, spot in zip(chosen, placing.rows, strict=True):
        rows.append(_grid_row(fabric.rows[r], units[r], spot, below, shown))
        below = {
            unit.loop: column
            for unit, column in zip(units[r].units, spot.columns, strict=True)
            if unit.loop >= 0
        }
    grid = Grid(
        tuple(rows), placing.width, fabric.in_round, placing.shift, _frames(rows, placing.rows),
        left_handed=options.left_handed, as_worked=as_worked, background=options.background,
    )  # fmt: skip
    return without_plain_rows(grid) if options.pattern_rows else grid


_Mark = Callable[["Cell"], "tuple[int, int] | None"]


def _frames(rows: list[GridRow], spots: tuple[Place, ...]) -> tuple[Frame, ...]:
    """The frames of all sections. Repeats side by side, parted by markers, have one each; a
    repeat that holds another has one too, and the one inside is marked as inner."""
    frames: list[Frame] = []
    first = 0
    for _, section in groupby(rows, key=lambda row: row.section):
        held = list(section)
        nested = any(mark.open for row in held for cell in row.cells for mark in cell.passes[1:])
        levels = ((_outer_pass, False), (_inner_pass, True)) if nested else ((_open_pass, False),)
        around: dict[int, Edge] = {}  # the outer frame, by row of the section
        for mark, inner in levels:
            repeats = [_repeats(row, mark) for row in held]
            for track in range(max(map(len, repeats))):
                found = find_frames(
                    [
                        _frame_row(row, spots[first + r], repeats[r], track, mark, around.get(r))
                        for r, row in enumerate(held)
                    ]
                )
                if not inner:
                    around |= {e.row: e for frame in found for e in frame.edges if nested}
                frames += [
                    Frame(tuple(Edge(e.row + first, e.right, e.left) for e in frame.edges), inner)
                    for frame in found
                ]
        first += len(held)
    return tuple(frames)


class _Shown:
    """The stitch to show for one worked, and whether it stands without a partner."""

    def __init__(self, twin: Partner, as_worked: bool) -> None:
        self.twin, self.as_worked = twin, as_worked
        self.found: dict[int, tuple[Stitch, bool, Stitch]] = {}  # by identity

    def __call__(self, stitch: Stitch, wrong_side: bool) -> tuple[Stitch, bool]:
        if not wrong_side or self.as_worked:
            return stitch, False
        found = self.found.get(id(stitch))
        if found is None:
            other = self.twin(stitch)
            if other is None or (other.uses, other.makes) != (stitch.uses, stitch.makes):
                found = (stitch, True, stitch)
            else:
                found = (other, False, stitch)
            self.found[id(stitch)] = found  # holds the stitch, so that its id stays its own
        return found[:2]


def _grid_row(
    row: FabricRow, units: RowUnits, spot: Place, below: dict[int, int], shown: _Shown
) -> GridRow:
    cells: list[Cell] = []
    columns_at: dict[int, list[int]] = {}
    for unit, column in zip(units.units, spot.columns, strict=True):
        if unit.order < 0:
            over = (below[unit.loop],) if unit.loop in below else ()
            cells.append(Cell(column, kind="rest", over=over))
        else:
            columns_at.setdefault(unit.order, []).append(column)
    edge = spot.columns[-1] + 1 if spot.columns else 0
    for worked in row.stitches if row.rightward else row.stitches[::-1]:
        # Cells without width stand where the next stitch begins.
        mine = columns_at.get(worked.order)
        stitch, behind = shown(worked.stitch, row.rightward)
        if mine:
            edge = mine[0]
        cells.append(
            Cell(
                edge, len(mine) if mine else 0, "stitch", stitch, worked.stitch, behind,
                over=tuple(below[loop] for loop in worked.used if loop in below),
                order=worked.order, span=worked.span, passes=worked.passes,
            )
        )  # fmt: skip
    taken = set(spot.columns)
    if spot.columns:
        first, last = spot.columns[0], spot.columns[-1]
        cells.extend(
            Cell(column, kind="none", outside=not first < column < last)
            for column in range(spot.low, spot.high)
            if column not in taken
        )
    cells.sort(key=lambda cell: (cell.column, cell.width, cell.order))
    return GridRow(
        row.index, row.label, row.number, row.side, row.in_round, row.rightward,
        tuple(cells), row.section, units.shift, row.span,
    )  # fmt: skip


def _repeats(row: GridRow, mark: _Mark) -> list[int]:
    """The repeats of this row, from the right edge."""
    found: dict[int, None] = {}
    for cell in row.cells:
        key = mark(cell)
        if key is not None:
            found.setdefault(key[0])
    return list(found)


def _frame_row(
    row: GridRow, spot: Place, repeats: list[int], track: int, mark: _Mark, around: Edge | None
) -> FrameRow:
    """What the row gives to a frame; `around` is the outer frame the runs must lie in."""
    stitches = [cell for cell in row.cells if cell.kind != "none"]
    if 0 < len(repeats) <= track:
        return FrameRow((), spot.high, spot.low, False)  # no frame runs through
    mine = repeats[track] if repeats else -1

    def time_through(cell: Cell) -> tuple[int, int] | None:
        key = mark(cell)
        return key if key is not None and key[0] == mine else None

    runs: list[Run] = []
    right_end, left_end = spot.low, spot.high
    open_left = True
    for key, group in groupby(stitches, key=time_through):
        cells = list(group)
        end = max(cell.column + cell.width for cell in cells)
        if key is None:
            if not runs:
                right_end = end
            else:
                left_end, open_left = cells[0].column, False
            continue
        left_end, open_left = spot.high, True
        runs.append(
            Run(
                cells[0].column,
                end,
                sum(cell.worked.uses for cell in cells if cell.worked),
                sum(cell.width for cell in cells),
            )
        )
    starts: tuple[int, ...] = ()
    if row.from_left and runs:
        starts = _other_starts(stitches, runs)
    if around is not None:
        inside = [run for run in runs if around.right <= run.right and run.left <= around.left]
        runs = inside or runs
    plain = () if runs else _plain_stretches(stitches, spot)
    return FrameRow(tuple(runs), right_end, left_end, open_left, starts, plain)


def _other_starts(cells: list[Cell], runs: list[Run]) -> tuple[int, ...]:
    """The columns at which the row's stitches may be parted so that what lies between two
    of them a repeat apart is one time through."""
    period = sum(runs[0].right <= cell.column < runs[0].left for cell in cells)
    first = next(i for i, cell in enumerate(cells) if cell.column == runs[0].right)
    end = first + period * len(runs)

    def shown(i: int) -> tuple[Stitch | None, int]:
        return cells[i].stitch, cells[i].width

    if any(shown(i) != shown(i + period) for i in range(first, end - period)):
        return ()
    while first and shown(first - 1) == shown(first - 1 + period):
        first -= 1
    while end < len(cells) and shown(end) == shown(end - period):
        end += 1
    inside = cells[first:end]
    if any(a.column + a.width != b.column for a, b in pairwise(inside)):
        return ()  # missing stitches between: the edges of the text are the safe ones
    return (*(cell.column for cell in inside), inside[-1].column + inside[-1].width)


def _plain_stretches(cells: list[Cell], spot: Place) -> tuple[tuple[int, int], ...]:
    """The stretches of one plain stitch, up to the edges of the row where they get there."""
    found = []
    for stitch, group in groupby(cells, key=lambda cell: cell.stitch):
        held = list(group)
        if stitch is not None and stitch.uses == stitch.makes == 1 and not stitch.extra:
            low = spot.low if held[0] is cells[0] else held[0].column
            high = spot.high if held[-1] is cells[-1] else held[-1].column + 1
            found.append((low, high))
    return tuple(found)


def _outer_pass(cell: Cell) -> tuple[int, int] | None:
    return (cell.passes[0].repeat, cell.passes[0].number) if cell.passes else None


def _inner_pass(cell: Cell) -> tuple[int, int] | None:
    for mark in cell.passes[1:]:
        if mark.open:
            return mark.repeat, mark.number
    return None


def _open_pass(cell: Cell) -> tuple[int, int] | None:
    for mark in cell.passes:
        if mark.open:
            return mark.repeat, mark.number
    return None


def without_plain_rows(grid: Grid) -> Grid:
    """The grid without the plain rows that come between pattern rows.

    Only rows whose every stitch is worked alike and shows the blank background are left out,
    and only when every other row is one; else the grid comes back unchanged.
    """

    def plain(row: GridRow) -> Stitch | None:
        stitches = {cell.worked for cell in row.cells if cell.kind == "stitch"}
        blank = all(
            cell.kind == "none" or (cell.stitch is not None and cell.stitch.key == grid.background)
            for cell in row.cells
        )
        return next(iter(stitches)) if blank and len(stitches) == 1 else None

    out: dict[int, Stitch] = {}
    for start in (1, 0):
        candidates = {i: plain(grid.rows[i]) for i in range(start, len(grid.rows), 2)}
        found = {i: stitch for i, stitch in candidates.items() if stitch is not None}
        if candidates and len(found) == len(candidates):
            out = found
            break
    if not out or len(out) == len(grid.rows):
        return grid
    kept = [i for i in range(len(grid.rows)) if i not in out]
    place_of = {old: new for new, old in enumerate(kept)}
    groups: dict[tuple[str, str], list[int]] = {}
    for i, stitch in out.items():
        groups.setdefault((grid.rows[i].side, stitch.key), []).append(i)
    return replace(
        grid,
        rows=tuple(grid.rows[i] for i in kept),
        frames=tuple(
            replace(
                frame,
                edges=tuple(
                    Edge(place_of[edge.row], edge.right, edge.left)
                    for edge in frame.edges
                    if edge.row in place_of
                ),
            )
            for frame in grid.frames
        ),
        left_out=tuple(
            LeftOut(
                tuple(grid.rows[i].label for i in places),
                tuple(grid.rows[i].number for i in places),
                side,
                out[places[0]],
            )
            for (side, _), places in groups.items()
        ),
    )
