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
    """One repeat, its edges from the bottom row to the top one; `inner` when it lies inside
    another."""

    edges: tuple[Edge, ...]
    inner: bool = False

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
    starts    where else one time through may be taken to begin: the columns from which on the
              row goes on repeating itself. Rows worked from the left have them, so that a
              frame need not step only because its text begins at the other end.
    plain     in a row without the repeat, its stretches of one plain stitch
    """

    runs: tuple[Run, ...]
    right_end: int
    left_end: int
    open_left: bool
    starts: tuple[int, ...] = ()
    plain: tuple[tuple[int, int], ...] = ()


def find_frames(rows: Sequence[FrameRow]) -> tuple[Frame, ...]:
    """The frames of consecutive rows that repeat together."""
    held = [_holds(rows, r) for r in range(len(rows))]
    frames: list[Frame] = []
    first = 0
    while first < len(rows):
        if not held[first]:
            first += 1
            continue
        end = first
        while end < len(rows) and held[end]:
            end += 1
        frame = _frame(rows, first, end)
        if frame is not None:
            frames.append(frame)
        first = end
    return tuple(frames)


def _holds(rows: Sequence[FrameRow], r: int) -> bool:
    """Whether a frame can run through a row: it has the repeat, or is the same plain stitch
    along a whole repeat of the nearest rows that have it."""
    if rows[r].runs:
        return True
    near = [
        next((rows[q].runs for q in way if rows[q].runs), None)
        for way in (range(r - 1, -1, -1), range(r + 1, len(rows)))
    ]
    found = [runs for runs in near if runs]
    return bool(found) and all(
        any(low <= run.right and run.left <= high for run in runs for low, high in rows[r].plain)
        for runs in found
    )


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


@dataclass(frozen=True, slots=True)
class _Choice:
    """One way to lay the frame on a row: the gates its right and left edge must go through
    (lowest and highest column; whether the left one may lie at the edge of the fabric)."""

    right: tuple[int, int]
    left: tuple[int, int]
    open_left: bool
    at: tuple[int, int]  # the edges of the stitches themselves
    off: int = 0  # 1 when the text begins its repeat elsewhere


def _apart(one: tuple[int, int], other: tuple[int, int]) -> int:
    """How far two gates are from a straight line through both."""
    return max(0, one[0] - other[1], other[0] - one[1])


def _choices(row: FrameRow, take: int) -> list[_Choice]:
    runs = row.runs
    found = []
    for j in range(len(runs) - take + 1):
        on = j + take
        right, left = runs[j].right, runs[on - 1].left
        low = runs[j - 1].left if j else row.right_end
        high = runs[on].right if on < len(runs) else row.left_end
        open_left = on == len(runs) and row.open_left
        found.append(_Choice((low, right), (left, high), open_left, (right, left)))
    wide = runs[take - 1].left - runs[0].right
    found += [
        _Choice((start, start), (start + wide, start + wide), False, (start, start + wide), 1)
        for start in row.starts
        if start + wide in row.starts
    ]
    return found


def _frame(rows: Sequence[FrameRow], first: int, end: int) -> Frame | None:
    times = times_in_frame(rows[first:end])
    busy = [r for r in range(first, end) if rows[r].runs]
    if not busy:
        return None
    # The choice for every row that moves the edges least, then keeps to the text, then to the
    # right edge.
    options = [_choices(rows[r], times[r - first]) for r in busy]
    costs: list[list[tuple[int, int, int]]] = []  # moved, off the text, choice below
    for place, choices in enumerate(options):
        if not place:
            costs.append([(0, choice.off, -1) for choice in choices])
            continue
        below = options[place - 1]
        before = costs[-1]
        same = {choice.at: i for i, choice in reversed(list(enumerate(below)))}
        here: list[tuple[int, int, int]] = []
        for choice in choices:
            # Nothing is cheaper than standing where the row below stands.
            at = same.get(choice.at)
            nearby = range(len(below)) if at is None else (at,)
            here.append(
                min(
                    (
                        before[i][0]
                        + _apart(below[i].right, choice.right)
                        + _apart(below[i].left, choice.left),
                        before[i][1] + choice.off,
                        i,
                    )
                    for i in nearby
                )
            )
        costs.append(here)
    pick = min(range(len(costs[-1])), key=lambda i: (*costs[-1][i][:2], options[-1][i].at))
    chosen: dict[int, _Choice] = {}
    for place in range(len(busy) - 1, -1, -1):
        chosen[busy[place]] = options[place][pick]
        pick = costs[place][pick][2]
    right = _straightest([(*chosen[r].right, False) for r in busy])
    left = _straightest([(*chosen[r].left, chosen[r].open_left) for r in busy])
    edges: list[Edge] = []
    place = 0  # the row with the repeat that a row without it follows
    for r in range(first, end):
        if rows[r].runs:
            place = busy.index(r, place)
            edges.append(Edge(r, right[place], left[place]))
            continue
        # The frame runs straight on as far as the plain stretch allows.
        wide = left[place] - right[place]
        low, high = min(
            rows[r].plain,
            key=lambda stretch: abs(
                max(stretch[0], min(right[place], stretch[1] - wide)) - right[place]
            ),
        )
        start = max(low, min(right[place], high - wide))
        edges.append(Edge(r, start, min(start + wide, high)))
    return Frame(tuple(edge for edge in edges if edge.right < edge.left))


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
