"""What a row is made of for the counting: blocks of plain stitches, and operations that need
the needle (markers, open repeats, turns, stitches coming and going)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

from chartc.counting.lin import Number
from chartc.pattern import NOWHERE, Reach, Step
from chartc.source import Span
from chartc.stitch import Stitch


@dataclass(slots=True)
class Item:
    """One stitch, or a bracket (`sub`), worked `times` times."""

    use: int
    make: int
    times: Number
    span: Span
    stitch: Stitch | None = None
    sub: Block | None = None
    ident: int = -1
    is_open: bool = False


class Block:
    """Items one after the other. `use` and `make` are the loops used and made in all; `even`
    when each stitch takes one loop and gives one back, so that nothing ever moves."""

    __slots__ = ("even", "items", "make", "use")

    even: bool

    def __init__(self, items: tuple[Item, ...]) -> None:
        self.items = items
        use: Number = 0
        make: Number = 0
        even = True
        for item in items:
            times = item.times
            use = use + times * item.use
            make = make + times * item.make
            if even and not (item.use == 1 == item.make if item.sub is None else item.sub.even):
                even = False
        self.use: Number = use
        self.make: Number = make
        self.even = even


def whole(x: Number) -> int:
    """A number known to be plain."""
    assert isinstance(x, int)
    return x


@dataclass(slots=True)
class BlockOp:
    block: Block


@dataclass(slots=True)
class FillOp:
    stitch: Stitch | None
    use: int
    make: int
    reach: Reach
    n: int
    name: str
    span: Span


@dataclass(slots=True)
class RepOp:
    """A repeat that needs the needle. `block` is its body when that is a plain block, else
    `body` holds its operations. `times` None: open."""

    body: tuple[Op, ...]
    block: Block | None
    times: int | None
    reach: Reach | None
    n: int
    name: str
    least: int
    last: tuple[Op, ...] | None
    last_block: Block | None
    ident: int
    span: Span
    reserve: int = 0
    slack: bool = False
    twice: bool = False


@dataclass(slots=True)
class MarkOp:
    what: str
    name: str
    span: Span


@dataclass(slots=True)
class TurnOp:
    kind: str
    leaving: int | None
    span: Span


@dataclass(slots=True)
class OffOp:
    """`kept` True: one more stitch is worked and stays on the right needle (decision 9)."""

    n: int | None
    reach: Reach | None
    target_n: int
    name: str
    span: Span
    kept: bool


@dataclass(slots=True)
class HoldOp:
    n: int | None
    reach: Reach
    target_n: int
    target_name: str
    name: str
    span: Span


@dataclass(slots=True)
class TakeOp:
    name: str
    n: int | None
    worked: bool
    span: Span


@dataclass(slots=True)
class ChangeOp:
    by: int
    each_end: bool
    span: Span
    reserve: int = 0


@dataclass(slots=True)
class ShiftOp:
    by: int
    span: Span


@dataclass(slots=True)
class UnreadOp:
    span: Span


Op: TypeAlias = (
    BlockOp
    | FillOp
    | RepOp
    | MarkOp
    | TurnOp
    | OffOp
    | HoldOp
    | TakeOp
    | ChangeOp
    | ShiftOp
    | UnreadOp
)


@dataclass(slots=True)
class Simple:
    """A row that is nothing but head, one open repeat (or none) and tail:
    before = a + r * b + c (+ last) loops, after = a2 + r * b2 + c2 (+ last2).

    r      times through, not counting a differing last time; at least `least`
    keep   loops the repeat leaves: c, or what the text says ("to last 6 sts")
    """

    head: Block
    tail: Block
    open: RepOp | FillOp | None
    a: int
    a2: int
    b: int
    b2: int
    c: int
    c2: int
    last: int
    last2: int
    least: int
    keep: int
    ident: int


@dataclass(slots=True)
class Variant:
    """One way to read a row; `differs` are the steps not read in the usual way."""

    ops: tuple[Op, ...]
    simple: Simple | None
    differs: tuple[Step, ...] = ()
    has_turn: bool = False
    over_gap: bool = False  # the row itself bridges a split (it casts on, or names the gap)
    unread: bool = False
    deep: bool = False


def find_step(items: Sequence[Item], p: int) -> tuple[Span, dict[str, int]]:
    """The step that needs the loop after the first p, and the time through each bracket."""
    where: dict[str, int] = {}
    span = NOWHERE
    current: Sequence[Item] = items
    while True:
        found: Item | None = None
        for item in current:
            through = plain_times(item.times) * item.use
            if p < through:
                found = item
                break
            p -= through
            span = item.span
        if found is None:
            return span, where
        span = found.span
        if found.sub is None:
            return span, where
        where["pass"] = p // found.use + 1
        where["ident"] = found.ident
        p %= found.use
        current = found.sub.items


def plain_times(x: Number) -> int:
    return x if isinstance(x, int) else 0
