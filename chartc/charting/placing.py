"""Which column every stitch stands in.

A row with as many stitches as the one below keeps its columns. Where the count changes, the
columns are chosen so that the stitches shift sideways from their loops as little as possible
in all. In a piece that is shaped (that ends with another count than it begins with, or whose
stitches are cast on or bound off on the way) a missing stitch inside the fabric counts as a
shift, so that the chart shows the outline; not inside a repeat, so that every repeat looks the
same. Among equal placings a decrease stands over the loop that lies in front, and missing
stitches are at the edges.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from chartc.charting.columns import Problem, Pull, best
from chartc.charting.units import RowUnits, Unit
from chartc.fabric import Fabric


@dataclass(frozen=True, slots=True)
class Place:
    """The columns of a row's units from the right, and the columns open to the row."""

    columns: tuple[int, ...]
    low: int
    high: int  # exclusive


@dataclass(frozen=True, slots=True)
class Placing:
    """The places of all rows; `shift` is the sum of all sideways shifts (the least there is)."""

    rows: tuple[Place, ...]
    width: int
    shift: int


@dataclass(frozen=True, slots=True)
class Task:
    """The problem behind a placing: for each row and unit an unknown and a fixed distance."""

    problem: Problem
    refs: tuple[tuple[tuple[int, int], ...], ...]
    windows: tuple[tuple[int, int], ...]
    shift_pulls: tuple[Pull, ...]
    front_pulls: tuple[Pull, ...]
    hole_pulls: tuple[Pull, ...]
    span_pulls: tuple[Pull, ...]
    blocks: tuple[tuple[int, int], ...]  # first unknown and how many, for rows with their own
    settled: tuple[int, int, int, int]  # shift, holes, fronts, spans of columns without a choice

    def shift(self, x: Sequence[int]) -> int:
        return self.settled[0] + _paid(self.shift_pulls, x)

    def price(self, x: Sequence[int]) -> tuple[int, int, int]:
        """What a placing costs, the weightier aim first: shifts and, in a shaped piece, the
        missing stitches inside; fronts not stood over; missing stitches anywhere inside."""
        return (
            self.shift(x) + self.settled[1] + _paid(self.hole_pulls, x),
            self.settled[2] + _paid(self.front_pulls, x),
            self.settled[3] + _paid(self.span_pulls, x),
        )


def _torn(units: Sequence[Unit], refs: Sequence[tuple[int, int]]) -> bool:
    """Whether a stitch of several loops would lie across loops ended in the row below, or
    across the place where the round is joined."""
    return any(
        one.order >= 0
        and one.order == other.order
        and (b[0] - a[0], b[1] - a[1]) not in ((1, 0), (0, 1))
        for (one, other), (a, b) in zip(pairwise(units), pairwise(refs), strict=True)
    )


def _paid(pulls: Sequence[Pull], x: Sequence[int]) -> int:
    return sum(abs(x[p.a] - x[p.b] + p.offset) for p in pulls)


def pose(fabric: Fabric, rows: Sequence[RowUnits], chosen: Sequence[int]) -> Task:
    """The problem for the chosen rows (indices, rising)."""
    width = max((len(rows[r].units) for r in chosen), default=0)
    problem = Problem()
    origin = problem.add(0, 0)  # columns that have no choice are told from it
    blocks: list[tuple[int, int]] = []
    settled, settled_holes, settled_fronts, settled_spans = 0, 0, 0, 0
    shifts: list[Pull] = []
    fronts: list[Pull] = []
    spans: list[Pull] = []
    holes: list[Pull] = []
    shaped = _shaped(fabric, rows, chosen)
    repeats = any(
        mark.open for r in chosen for worked in fabric.rows[r].stitches for mark in worked.passes
    )
    refs: list[tuple[tuple[int, int], ...]] = []
    windows: list[tuple[int, int]] = []
    where: dict[int, tuple[int, int]] = {}  # loop -> its unknown and distance
    moved = 0
    before = None
    for r in chosen:
        row = rows[r]
        units = row.units
        count = len(units)
        joined = before is not None and before == r - 1
        before = r
        if joined and row.shift:
            moved += row.shift
            turned = len(row.before) - row.shift if row.shift > 0 else -row.shift
            for place, loop in enumerate(row.before):
                unknown, plus = where[loop]
                if row.shift > 0 and place >= turned:
                    where[loop] = (unknown, plus + width)
                elif row.shift < 0 and place < turned:
                    where[loop] = (unknown, plus - width)
        mine = [where[loop] for loop in row.before] if joined else []
        if len(mine) != count or (count < width and _torn(units, mine)):
            if count == width:
                mine = [(origin, moved + i) for i in range(count)]
                settled_spans += max(0, count - 1)
            else:  # new unknowns for a row whose count has changed
                blocks.append((len(problem.low), count))
                mine = [
                    (problem.add(moved + i, moved + width - count + i), 0) for i in range(count)
                ]
                problem.apart += [(a[0], b[0], 1) for a, b in pairwise(mine)]
                if count > 1:
                    spans.append(Pull(mine[-1][0], mine[0][0], 0, 1))
        worked = fabric.rows[r].stitches
        for i, unit in enumerate(units):
            here, plus = mine[i]
            if i and unit.order >= 0 and unit.order == units[i - 1].order:
                a, pa = mine[i - 1]
                if a != here:
                    problem.apart.append((here, a, plus - pa - 1))
            if not joined:
                continue
            for loop in unit.parents:
                b, pb = where[loop]
                if b == here:
                    settled += abs(plus - pb)
                else:
                    shifts.append(Pull(here, b, plus - pb, 1))
            if unit.order >= 0 and len(unit.parents) > 1:
                front = worked[unit.order].used[0]
                if front in unit.parents:
                    b, pb = where[front]
                    if b == here:
                        settled_fronts += abs(plus - pb)
                    else:
                        fronts.append(Pull(here, b, plus - pb, 1))
        if shaped and count > 1:
            for a, b in _plain_stretches(fabric, r, units, repeats):
                (left, left_plus), (right, right_plus) = mine[b], mine[a]
                gap = left_plus - right_plus - (b - a)
                if left == right:
                    settled_holes += abs(gap)
                else:
                    holes.append(Pull(left, right, gap, 1))
        where = {unit.loop: mine[i] for i, unit in enumerate(units) if unit.loop >= 0}
        refs.append(tuple(mine))
        windows.append((moved, moved + width))
    # Each aim outweighs everything the next one could gain.
    reach = 2 * (width + abs(moved)) + 1
    second = 1 + reach * len(spans)
    first = 1 + second * reach * (len(fronts) + 1)
    problem.pulls = _merged(
        [
            *(Pull(p.a, p.b, p.offset, first) for p in shifts),
            *(Pull(p.a, p.b, p.offset, first) for p in holes),
            *(Pull(p.a, p.b, p.offset, second) for p in fronts),
            *spans,
        ]
    )
    return Task(
        problem, tuple(refs), tuple(windows),
        tuple(shifts), tuple(fronts), tuple(holes), tuple(spans), tuple(blocks),
        (settled, settled_holes, settled_fronts, settled_spans),
    )  # fmt: skip


def _shaped(fabric: Fabric, rows: Sequence[RowUnits], chosen: Sequence[int]) -> bool:
    """Whether the rows do not come back to their first count by increases and decreases alone."""
    if not chosen:
        return False
    after = sum(unit.loop >= 0 for unit in rows[chosen[-1]].units)
    return after != len(rows[chosen[0]].before) or any(
        worked.stitch.makes == 0 or worked.stitch.kind == "cast on"
        for r in chosen
        for worked in fabric.rows[r].stitches
    )


def _merged(pulls: Sequence[Pull]) -> list[Pull]:
    """The same sum with each pair of unknowns and distance named once."""
    weights: dict[tuple[int, int, int], int] = {}
    for p in pulls:
        if p.a == p.b:
            continue
        key = (p.a, p.b, p.offset) if p.a < p.b else (p.b, p.a, -p.offset)
        weights[key] = weights.get(key, 0) + p.weight
    return [Pull(a, b, offset, weight) for (a, b, offset), weight in weights.items()]


def _plain_stretches(
    fabric: Fabric, r: int, units: Sequence[Unit], repeats: bool
) -> list[tuple[int, int]]:
    """The stretches of a row (first and last unit) where missing stitches are counted: all of
    it where the chart has no repeat, else what lies beyond the repeats on either side."""
    last = len(units) - 1
    if not repeats:
        return [(0, last)]
    stitches = fabric.rows[r].stitches
    inside = [
        i
        for i, unit in enumerate(units)
        if unit.order >= 0 and any(mark.open for mark in stitches[unit.order].passes)
    ]
    if not inside:
        return []
    return [(a, b) for a, b in ((0, inside[0]), (inside[-1], last)) if a < b]


def place(fabric: Fabric, rows: Sequence[RowUnits], chosen: Sequence[int]) -> Placing:
    """The best columns for the chosen rows."""
    task = pose(fabric, rows, chosen)
    units = [rows[r].units for r in chosen]
    x = list(task.problem.low)
    if task.blocks:
        starts = [_start(task, units, close) for close in (False, True)]
        x = best(task.problem, min(starts, key=task.price))
        if _symmetrical(fabric, chosen):
            x = _evened(task, x)
    found = [tuple(x[unknown] + plus for unknown, plus in row) for row in task.refs]
    least = min((low for low, _ in task.windows), default=0)
    most = max((high for _, high in task.windows), default=0)
    for columns in found:
        if columns:
            least, most = min(least, columns[0]), max(most, columns[-1] + 1)
    return Placing(
        tuple(
            Place(tuple(c - least for c in columns), low - least, high - least)
            for columns, (low, high) in zip(found, task.windows, strict=True)
        ),
        most - least,
        task.shift(x),
    )


def _symmetrical(fabric: Fabric, chosen: Sequence[int]) -> bool:
    """Whether every row reads as its own mirror image."""
    for r in chosen:
        row = fabric.rows[r]
        stitches = [worked.stitch for worked in row.stitches]
        if row.shift or any(
            one.mirror != other.key for one, other in zip(stitches, reversed(stitches), strict=True)
        ):
            return False
    return True


def _evened(task: Task, x: list[int]) -> list[int]:
    """A symmetrical placing as good as the one given, where there is one."""
    width = max((high for _, high in task.windows), default=0)
    rounded: list[list[int]] = [list(x), list(x)]  # halves rounded outwards, and inwards
    for first, count in task.blocks:
        for i in range(count):
            twice = x[first + i] + width - 1 - x[first + count - 1 - i]
            if twice % 2 and 2 * i == count - 1:
                return x  # the middle stitch has no middle column
            up = (twice + 1) // 2
            rounded[0][first + i] = twice // 2 if 2 * i < count else up
            rounded[1][first + i] = up if 2 * i < count else twice // 2
    price = task.price(x)
    for candidate in rounded:
        if task.problem.allowed(candidate) and task.price(candidate)[0] == price[0]:
            return candidate
    return x


def _start(task: Task, fabric_rows: Sequence[Sequence[Unit]], close: bool) -> list[int]:
    """A good placing to start from: outwards from the widest row, each row over (or under)
    the one already placed as its own stitches would have it, or all its stitches close
    together."""
    low, high = task.problem.low, task.problem.high
    x: list[int | None] = [a if a == b else None for a, b in zip(low, high, strict=True)]
    sizes = [len(units) for units in fabric_rows]
    if not sizes:
        return []
    widest = sizes.index(max(sizes))
    own = {first for first, _ in task.blocks}
    order = [*range(widest, len(sizes)), *range(widest - 1, -1, -1)]
    for r in order:
        refs, units = task.refs[r], fabric_rows[r]
        if not refs or x[refs[0][0]] is not None:
            continue
        near = r - 1 if r > widest else r + 1
        wanted: list[list[int]] = [[] for _ in units]
        if 0 <= near < len(sizes) and near != r:
            upper = max(near, r)
            under = {unit.loop: i for i, unit in enumerate(fabric_rows[upper - 1])}
            for i, unit in enumerate(fabric_rows[upper]):
                for loop in unit.parents:
                    j = under.get(loop)
                    if j is None:
                        continue
                    mine, other = (i, j) if upper == r else (j, i)
                    unknown, plus = task.refs[near][other]
                    value = x[unknown]
                    if value is not None:
                        wanted[mine].append(value + plus)
        row_low = low[refs[0][0]]
        if refs[0][0] not in own:
            continue
        room = high[refs[0][0]] - row_low
        if close:
            middle = sorted(c - row_low - i for i, columns in enumerate(wanted) for c in columns)
            offsets = [min(max(_middle(middle), 0), room)] * len(units)
        else:
            offsets = _level(wanted, units, row_low, room)
        for (unknown, _), offset in zip(refs, offsets, strict=True):
            x[unknown] = low[unknown] + offset
    placed = [value if value is not None else low[v] for v, value in enumerate(x)]
    return placed if task.problem.allowed(placed) else list(low)


def _level(
    wanted: Sequence[Sequence[int]], units: Sequence[Unit], low: int, room: int
) -> list[int]:
    """How far each unit of a row stands from the right-most place it could have: rising along
    the row, between 0 and `room`, near what is wanted (pooled medians)."""
    pools: list[tuple[list[int], int]] = []  # wished-for distances and how many units
    for i, unit in enumerate(units):
        values, size = [column - low - i for column in wanted[i]], 1
        joined = i and unit.order >= 0 and unit.order == units[i - 1].order
        while pools and (joined or not values or _middle(pools[-1][0]) > _middle(values)):
            joined = False
            before, count = pools.pop()
            values, size = before + values, size + count
        pools.append((sorted(values), size))
    return [min(max(_middle(values), 0), room) for values, size in pools for _ in range(size)]


def _middle(values: Sequence[int]) -> int:
    return values[len(values) // 2] if values else 0
