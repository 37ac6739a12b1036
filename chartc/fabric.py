"""The stitch graph: which loop was drawn through which.

A fabric is a list of rows; a row is a list of worked stitches in the order they are worked;
a worked stitch knows the loops it was drawn through and the loops it left on the needle.
Built for one size, or for a small width when only a chart is wanted.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from chartc.source import Span
from chartc.vocabulary import Stitch

CAST_ON = -1


@dataclass(frozen=True, slots=True)
class Pass:
    """Where in a repeat a stitch was worked: which repeat of the row (counted from 0 in the
    order they open in the text) and which time through (from 1). `last` marks the last time."""

    repeat: int
    number: int
    last: bool = False
    open: bool = False  # worked "to the end" or "to last n": this repeat sets the multiple


@dataclass(frozen=True, slots=True)
class Done:
    """One stitch as the counting found it worked: what `knit` takes as input."""

    stitch: Stitch
    span: Span
    passes: tuple[Pass, ...] = ()


@dataclass(frozen=True, slots=True)
class Worked:
    """A stitch in the fabric.

    used    loop numbers it was drawn through, the front one first
    left    loop numbers it left on the needle, in working order
    """

    stitch: Stitch
    span: Span
    passes: tuple[Pass, ...]
    row: int
    order: int
    used: tuple[int, ...]
    left: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Loop:
    """A loop on the needle. `row` is CAST_ON for the loops cast on; `slot` is its place in
    the row as seen from the right side, 0 at the right edge."""

    number: int
    row: int
    slot: int
    maker: int  # order of the worked stitch in its row that made it; its slot for cast-on loops
    head: int  # which of that stitch's loops


@dataclass(frozen=True, slots=True)
class Plan:
    """One row to be knitted: its label and the stitches in working order."""

    label: str
    number: int | None
    side: str  # "RS", "WS" or "" for a round
    in_round: bool
    stitches: tuple[Done, ...]
    span: Span
    turned: bool = False  # a short row: the loops not worked stay where they are
    section: str = ""
    shift: int = 0  # loops the start of the round moved before this row (to the left: positive)
    # stitches of this row that are worked into loops it leaves behind on the needle
    skip: int = 0  # loops already on the other needle when the row starts (after a short row)


@dataclass(frozen=True, slots=True)
class FabricRow:
    """A row of the fabric; `stitches` in working order."""

    index: int
    label: str
    number: int | None
    side: str
    in_round: bool
    stitches: tuple[Worked, ...]
    span: Span
    section: str = ""
    shift: int = 0

    @property
    def rightward(self) -> bool:
        """True when the row is read from left to right (a wrong-side row worked flat)."""
        return self.side == "WS" and not self.in_round

    def facing(self) -> tuple[Worked, ...]:
        """The stitches from the right edge to the left as seen from the right side."""
        return self.stitches[::-1] if self.rightward else self.stitches


@dataclass(frozen=True)
class Fabric:
    """All rows from the first to the last, and every loop.

    `cast_on` numbers the loops the first row is worked into, from the right edge as seen from
    the right side; `live` the loops left on the needle at the end, in the same direction.
    """

    rows: tuple[FabricRow, ...]
    loops: tuple[Loop, ...]
    cast_on: tuple[int, ...]
    live: tuple[int, ...]
    in_round: bool
    children: dict[int, tuple[int, int]] = field(default_factory=dict)
    """loop number -> (row index, order) of the stitch worked into it."""


class DoesNotFit(Exception):
    """A row asks for more loops than there are. Carries the row index and the stitch's span."""

    def __init__(self, row: int, span: Span, short: int) -> None:
        super().__init__(f"row {row}: {short} loops short")
        self.row, self.span, self.short = row, span, short


def knit(cast_on: int, plans: Iterable[Plan]) -> Fabric:
    """Knit the rows one after the other onto `cast_on` loops.

    Raises DoesNotFit when a row needs more loops than are left on the needle.
    """
    loops: list[Loop] = [Loop(i, CAST_ON, i, i, 0) for i in range(cast_on)]
    first_loops = tuple(range(cast_on))
    needle: list[int] = list(first_loops)  # right edge first, as seen from the right side
    rows: list[FabricRow] = []
    children: dict[int, tuple[int, int]] = {}
    any_round = False
    for index, plan in enumerate(plans):
        any_round = any_round or plan.in_round
        rightward = plan.side == "WS" and not plan.in_round
        if plan.shift and plan.in_round and needle:
            by = plan.shift % len(needle)
            needle = needle[by:] + needle[:by]
        ahead = needle[::-1] if rightward else list(needle)
        behind, ahead = ahead[: plan.skip], ahead[plan.skip :]
        made: list[int] = []
        worked: list[Worked] = []
        at = 0
        base = len(loops)
        for order, done in enumerate(plan.stitches):
            stitch = done.stitch
            taken = ahead[at : at + stitch.uses]
            if len(taken) < stitch.uses:
                raise DoesNotFit(index, done.span, stitch.uses - len(taken))
            at += stitch.uses
            front = stitch.front or tuple(range(stitch.uses))
            left = tuple(range(len(loops), len(loops) + stitch.makes))
            for head, number in enumerate(left):
                loops.append(Loop(number, index, 0, order, head))
            for number in taken:
                children[number] = (index, order)
            made.extend(left)
            worked.append(
                Worked(stitch, done.span, done.passes, index, order,
                       tuple(taken[i] for i in front), left)
            )  # fmt: skip
        along = behind + made + ahead[at:]
        needle = along[::-1] if rightward else along
        for slot, number in enumerate(needle):
            if number >= base:
                old = loops[number]
                loops[number] = Loop(number, index, slot, old.maker, old.head)
        rows.append(
            FabricRow(index, plan.label, plan.number, plan.side, plan.in_round,
                      tuple(worked), plan.span, plan.section, plan.shift)
        )  # fmt: skip
    return Fabric(tuple(rows), tuple(loops), first_loops, tuple(needle), any_round, children)


def by_slot(fabric: Fabric, numbers: Sequence[int]) -> list[int]:
    """Loop numbers sorted by their place along their row, right edge first."""
    return sorted(numbers, key=lambda n: fabric.loops[n].slot)
