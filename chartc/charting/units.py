"""What stands on the needle after each row: the units that take columns of the chart."""

from __future__ import annotations

from dataclasses import dataclass

from chartc.fabric import Fabric


@dataclass(frozen=True, slots=True)
class Unit:
    """One column's worth of a row, from the right edge to the left.

    order    the worked stitch it belongs to (its place in working order); -1 for a loop that
             waits and is not worked in this row
    loop     the loop on the needle after the row; -1 where a loop was ended
    parents  the loops below it: those its stitch was drawn through, or the waiting loop
    """

    order: int
    loop: int
    parents: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class RowUnits:
    """A row's units from the right edge, and the needle before the row in the same direction
    (turned by `shift` loops when the start of the round moved)."""

    units: tuple[Unit, ...]
    before: tuple[int, ...]
    shift: int


def row_units(fabric: Fabric) -> list[RowUnits]:
    """The units of every row, found again from the loops' places."""
    needle = list(fabric.cast_on)
    rows: list[RowUnits] = []
    for row in fabric.rows:
        shift = 0
        if row.shift and row.in_round and needle:
            by = row.shift % len(needle)
            needle = needle[by:] + needle[:by]
            shift = row.shift if abs(row.shift) < len(needle) else by
        before = tuple(needle)
        ahead = needle[::-1] if row.rightward else needle
        used = sum(len(worked.used) for worked in row.stitches)
        made = sum(len(worked.left) for worked in row.stitches)
        total = len(needle) - used + made
        start = 0
        for worked in row.stitches:
            if worked.left:
                slot = fabric.loops[worked.left[0]].slot
                made_before = sum(len(w.left) for w in row.stitches[: worked.order])
                start = (total - 1 - slot if row.rightward else slot) - made_before
                break
            if worked.used:
                start = min(ahead.index(loop) for loop in worked.used)
                break
        units = [Unit(-1, loop, (loop,)) for loop in ahead[:start]]
        at = start
        for worked in row.stitches:
            taken = tuple(ahead[at : at + len(worked.used)])
            at += len(worked.used)
            if len(taken) == len(worked.left) == 1:
                units.append(Unit(worked.order, worked.left[0], taken))
            elif worked.left:
                links = linked(len(taken), len(worked.left))
                units += [
                    Unit(worked.order, loop, tuple(taken[j] for j in links[i]))
                    for i, loop in enumerate(worked.left)
                ]
            else:
                units += [Unit(worked.order, -1, (loop,)) for loop in taken]
        units += [Unit(-1, loop, (loop,)) for loop in ahead[at:]]
        if row.rightward:
            units.reverse()
        needle = [unit.loop for unit in units if unit.loop >= 0]
        rows.append(RowUnits(tuple(units), before, shift))
    return rows


def linked(uses: int, makes: int) -> list[list[int]]:
    """For each loop made, the loops used that lie below it when both are spread over the same
    width: all of them for a decrease to one, the same one for an increase from one."""
    return [
        [j for j in range(uses) if j * makes < (i + 1) * uses and i * uses < (j + 1) * makes]
        for i in range(makes)
    ]
