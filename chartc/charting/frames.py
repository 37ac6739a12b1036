"""The repeat frame: which columns one repeat takes on every row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm


@dataclass(frozen=True, slots=True)
class Edge:
    """Where the repeat lies on one row: columns from `right` up to, not including, `left`."""

    row: int
    right: int
    left: int


@dataclass(frozen=True, slots=True)
class Frame:
    """One repeat, its edges from the bottom row to the top one."""

    edges: tuple[Edge, ...]

    @property
    def steps(self) -> bool:
        """Whether an edge moves from row to row."""
        return len({(edge.right, edge.left) for edge in self.edges}) > 1


@dataclass(frozen=True, slots=True)
class Run:
    """One time through an open repeat, as it stands on a row.

    right, left      columns of its outermost stitches (left exclusive)
    uses, makes      loops it uses and makes (a loop ended counts as made here: it has a cell)
    """

    right: int
    left: int
    uses: int
    makes: int


@dataclass(frozen=True, slots=True)
class FrameRow:
    """What a row gives to a frame: the times through its repeat from the right edge.

    right_end, left_end  where the nearest stitches outside the runs end, or the row's window
    open_left  no stitch lies beyond the runs on the left
    plain     a row without the repeat whose stitches are all the same plain one
    """

    runs: tuple[Run, ...]
    right_end: int
    left_end: int
    open_left: bool
    plain: bool


def find_frames(rows: Sequence[FrameRow]) -> tuple[Frame, ...]:
    """The frames of consecutive rows that repeat together."""
    frames: list[Frame] = []
    first = 0
    while first < len(rows):
        if not (rows[first].runs or rows[first].plain):
            first += 1
            continue
        end = first
        while end < len(rows) and (rows[end].runs or rows[end].plain):
            end += 1
        frame = _frame(rows, first, end)
        if frame is not None:
            frames.append(frame)
        first = end
    return tuple(frames)


def times_in_frame(rows: Sequence[FrameRow]) -> list[int]:
    """How many times through each row's repeat make up one repeat of all rows together:
    the smallest whole numbers that agree from row to row. 0 for rows without the repeat."""
    share: list[Fraction] = []  # times through, for each loop the frame has at its foot
    grown = Fraction(1)  # loops it has after the rows so far, for each at its foot
    for row in rows:
        if not row.runs or not row.runs[0].uses:
            share.append(Fraction(0))
            continue
        run = row.runs[0]
        share.append(grown / run.uses)
        grown *= Fraction(run.makes, run.uses)
        if not grown:
            grown = Fraction(1)
    loops = lcm(*(part.denominator for part in share if part), 1)
    return [
        min(int(part * loops), len(row.runs)) if part else len(row.runs[:1])
        for part, row in zip(share, rows, strict=True)
    ]


def _frame(rows: Sequence[FrameRow], first: int, end: int) -> Frame | None:
    times = times_in_frame(rows[first:end])
    busy = [r for r in range(first, end) if rows[r].runs]
    if not busy:
        return None
    # Which runs of each row: the choice that moves the edges least, from the right edge.
    costs: list[dict[int, tuple[int, int]]] = []
    for place, r in enumerate(busy):
        runs, take = rows[r].runs, times[r - first]
        here: dict[int, tuple[int, int]] = {}
        for j in range(len(runs) - take + 1):
            if not place:
                here[j] = (j, -1)
                continue
            last = busy[place - 1]
            below = rows[last].runs
            took = times[last - first]
            here[j] = min(
                (
                    cost
                    + abs(below[i].right - runs[j].right)
                    + abs(below[i + took - 1].left - runs[j + take - 1].left),
                    i,
                )
                for i, (cost, _) in costs[-1].items()
            )
        costs.append(here)
    picks: list[int] = [min(costs[-1], key=lambda j: (costs[-1][j][0], j))]
    for place in range(len(busy) - 1, 0, -1):
        picks.append(costs[place][picks[-1]][1])
    picks.reverse()
    rights: list[tuple[int, int, bool]] = []
    lefts: list[tuple[int, int, bool]] = []
    chosen = dict(zip(busy, picks, strict=True))
    for r in range(first, end):
        row = rows[r]
        if r not in chosen:
            rights.append((row.right_end, row.left_end, False))
            lefts.append((row.right_end, row.left_end, True))
            continue
        j, take = chosen[r], times[r - first]
        low = row.runs[j - 1].left if j else row.right_end
        rights.append((low, row.runs[j].right, False))
        on = j + take
        high = row.runs[on].right if on < len(row.runs) else row.left_end
        lefts.append((row.runs[on - 1].left, high, on == len(row.runs) and row.open_left))
    right = _straightest(rights)
    left = _straightest(lefts)
    return Frame(
        tuple(
            Edge(r, right[r - first], left[r - first])
            for r in range(first, end)
            if right[r - first] < left[r - first]
        )
    )


def _straightest(gates: Sequence[tuple[int, int, bool]]) -> list[int]:
    """A line through gates (lowest, highest column, whether it may go to the edge of the
    fabric) that turns as seldom as can be."""
    line: list[int] = []
    start = 0
    while start < len(gates):
        low, high, _ = gates[start]
        end = start + 1
        while end < len(gates) and max(low, gates[end][0]) <= min(high, gates[end][1]):
            low, high = max(low, gates[end][0]), min(high, gates[end][1])
            end += 1
        if end < len(gates) and gates[end][0] > high:
            value = high
        elif end < len(gates):
            value = low
        elif line:
            value = min(max(line[-1], low), high)
        else:
            value = high if all(gate[2] for gate in gates[start:end]) else low
        line.extend([value] * (end - start))
        start = end
    return line
