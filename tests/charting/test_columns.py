"""The column optimum against trying every placing, on small fabrics."""

from __future__ import annotations

from itertools import combinations, product
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chartc.charting.columns import Problem, Pull, best
from chartc.charting.placing import place, pose
from chartc.charting.units import RowUnits, row_units
from chartc.fabric import Fabric, knit

from .fabrics import flat, plan, rounds

MENU = {  # stitch -> uses, makes (by definition of the stitch)
    "k": (1, 1), "p": (1, 1), "k2tog": (2, 1), "ssk": (2, 1), "s2kp": (3, 1), "yo": (0, 1),
    "yo2": (0, 2), "kfb": (1, 2), "lt": (2, 2), "bo": (1, 0), "kyok": (1, 3),
}  # fmt: skip


def some_fabric(random: Random, rows: int, widest: int) -> Fabric:
    """A fabric of random rows, in the round or flat."""
    count = random.randint(2, widest)
    in_round = random.random() < 0.4
    start, plans = count, []
    for n in range(rows):
        left, made, words = count, 0, []
        while left:
            options = [
                key
                for key, (uses, makes) in MENU.items()
                if uses <= left and made + makes + left - uses <= widest
            ]
            key = random.choice([*options, "k", "k"])
            words.append(key)
            left -= MENU[key][0]
            made += MENU[key][1]
        if not made:
            words = ["k"] * count
            made = count
        side = "" if in_round else ("RS", "WS")[n % 2]
        shift = random.choice([0, 0, 0, 1, -1]) if in_round and count > 2 else 0
        plans.append(plan(" ".join(words), n + 1, side, shift=shift))
        count = made
    return knit(start, plans)


def turned_loops(row: RowUnits) -> tuple[int, ...]:
    """The loops that go to the other end when the start of the round moves."""
    if row.shift > 0:
        return row.before[len(row.before) - row.shift :]
    return row.before[: -row.shift] if row.shift else ()


def cheapest(fabric: Fabric) -> tuple[int, int, int]:
    """The least price of any placing, by trying them all: shifts (and, in a shaped piece, the
    missing stitches inside), then distance from the loops in front, then missing stitches."""
    rows = row_units(fabric)
    shaped = len(fabric.cast_on) != len(fabric.live) or any(
        worked.stitch.makes == 0 for row in fabric.rows for worked in row.stitches
    )
    width = max(len(row.units) for row in rows)
    # Rows in blocks that share their columns. A row whose count is the same begins a block
    # only when one of its stitches would lie across a gap or the place of joining.
    moved = 0
    starts: list[int] = []
    windows: list[int] = []
    spots: dict[int, tuple[int, int]] = {}  # loop -> place in its block, laps of the round
    for r, row in enumerate(rows):
        moved += row.shift if r else 0
        windows.append(moved)
        for loop in turned_loops(row) if r else ():
            spots[loop] = (spots[loop][0], spots[loop][1] + (1 if row.shift > 0 else -1))
        mine = [spots.get(loop, (0, 0)) for loop in row.before]
        torn = len(mine) == len(row.units) < width and any(
            0 <= row.units[i].order == row.units[i - 1].order
            and mine[i] != (mine[i - 1][0] + 1, mine[i - 1][1])
            for i in range(1, len(mine))
        )
        if r == 0 or len(row.units) != len(row.before) or torn:
            starts.append(r)
            mine = [(i, 0) for i in range(len(row.units))]
        spots = {unit.loop: spot for unit, spot in zip(row.units, mine, strict=True)}
    choices = [
        list(combinations(range(windows[r], windows[r] + width), len(rows[r].units)))
        for r in starts
    ]
    found: list[tuple[int, int, int]] = []
    for picked in product(*choices):
        shift = holes = fronts = spans = 0
        columns: dict[int, int] = {}
        here: tuple[int, ...] = ()
        good = True
        for r, row in enumerate(rows):
            for loop in turned_loops(row) if r else ():
                columns[loop] += width if row.shift > 0 else -width
            if r in starts:
                here = picked[starts.index(r)]
                spans += here[-1] - here[0] if len(here) > 1 else 0
            else:
                here = tuple(columns[loop] for loop in row.before)
            if len(here) > 1:
                holes += here[-1] - here[0] - (len(here) - 1)
            now = {}
            for i, unit in enumerate(row.units):
                if i and unit.order >= 0 and unit.order == row.units[i - 1].order:
                    good = good and here[i] == here[i - 1] + 1
                if r:
                    shift += sum(abs(here[i] - columns[loop]) for loop in unit.parents)
                    if unit.order >= 0 and len(unit.parents) > 1:
                        front = fabric.rows[r].stitches[unit.order].used[0]
                        if front in unit.parents:
                            fronts += abs(here[i] - columns[front])
                if unit.loop >= 0:
                    now[unit.loop] = here[i]
            columns = now
        if good:
            found.append((shift + holes * shaped, fronts, spans))
    return min(found)


@pytest.mark.parametrize("seed", range(150))
def test_no_placing_is_cheaper(seed: int) -> None:
    random = Random(seed)
    fabric = some_fabric(random, random.randint(2, 4), random.randint(3, 6))
    rows = row_units(fabric)
    task = pose(fabric, rows, range(len(rows)))
    placing = place(fabric, rows, range(len(rows)))
    # Back from columns to unknowns: any unknown can be read off the first unit that has it.
    x = [0] * len(task.problem.low)
    least = task.windows[0][0] - placing.rows[0].low
    for refs, spot in zip(task.refs, placing.rows, strict=True):
        for (unknown, plus), column in zip(refs, spot.columns, strict=True):
            x[unknown] = column + least - plus
    assert task.problem.allowed(x)
    assert task.price(x) == cheapest(fabric)
    assert placing.shift == task.shift(x)


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_sums_of_differences_are_least(data: st.DataObject) -> None:
    """The minimiser on its own, against every placing of four unknowns."""
    count, high = 4, 3
    problem = Problem()
    for _ in range(count):
        problem.add(0, high)
    whole = st.integers(0, count - 1)
    for _ in range(data.draw(st.integers(0, 3))):
        a, b = data.draw(whole), data.draw(whole)
        if a < b:
            problem.apart.append((a, b, data.draw(st.integers(0, 1))))
    for _ in range(data.draw(st.integers(0, 6))):
        a, b = data.draw(whole), data.draw(whole)
        weight = data.draw(st.integers(1, 5))
        problem.pulls.append(Pull(a, b, data.draw(st.integers(-3, 3)), weight))
    allowed = [x for x in product(range(high + 1), repeat=count) if problem.allowed(x)]
    x = best(problem, data.draw(st.sampled_from(allowed)))
    assert problem.allowed(x)
    assert problem.cost(x) == min(problem.cost(y) for y in allowed)


def test_a_start_that_breaks_a_rule_is_refused() -> None:
    problem = Problem([0, 0], [3, 3], [(0, 1, 1)])
    with pytest.raises(ValueError, match="constraint"):
        best(problem, [1, 1])


def test_as_many_stitches_as_below_keep_their_columns() -> None:
    fabric = flat(8, ["k yo k:2 ssk k:3", "p:8", "k2tog k:5 yo k", "p:8"])
    placing = place(fabric, row_units(fabric), range(4))
    assert all(spot.columns == tuple(range(8)) for spot in placing.rows)
    assert placing.width == 8


def test_a_moved_start_of_the_round_moves_the_row() -> None:
    fabric = rounds(6, ["k:6", "yo ssk k:4", "k:6"], shifts=[0, 2, -1])
    placing = place(fabric, row_units(fabric), range(3))
    assert [spot.columns[0] for spot in placing.rows] == [0, 2, 1]
    assert placing.width == 8
