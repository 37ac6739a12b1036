"""A row made ready for counting: its steps with the numbers of one size put in.

Stretches of stitches without markers or open ends become a `Block`, whose loops used and
made are known at once however often its repeats are worked. What needs the needle (markers,
open repeats, turns ...) stays an operation. Rows that can be read in more than one way give
several `Variant`s.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

from chartc.counting.limits import DEEPEST, MOST_VARIANTS
from chartc.counting.ops import (
    Block,
    BlockOp,
    ChangeOp,
    FillOp,
    HoldOp,
    Item,
    MarkOp,
    OffOp,
    Op,
    RepOp,
    ShiftOp,
    Simple,
    TakeOp,
    TurnOp,
    UnreadOp,
    Variant,
    whole,
)
from chartc.pattern import (
    Change,
    Fill,
    Hold,
    Mark,
    Num,
    Off,
    On,
    Reach,
    Repeat,
    Shift,
    Step,
    Take,
    Turn,
    Unread,
    Work,
)

__all__ = ["Survey", "depth", "net_of", "sized", "survey", "variants", "whole"]

_PLAIN_KINDS = frozenset({Work, Fill, Repeat})


@dataclass(slots=True)
class Survey:
    """What a row holds, found in one walk over its steps.

    depth    how deep repeats lie within repeats
    sized    whether any number differs between sizes
    kinds    the kinds of step, wherever they stand
    gap      a target is a gap left by a turn
    doubt    some step can be read in more than one way
    """

    depth: int
    sized: bool
    kinds: set[type]
    gap: bool
    doubt: bool


def survey(steps: Sequence[Step]) -> Survey:
    """Look a row over."""
    deepest = 0
    varies = gap = doubt = False
    kinds: set[type] = set()
    stack: list[tuple[Sequence[Step], int]] = [(steps, 0)]
    while stack:
        some, level = stack.pop()
        if level > deepest:
            deepest = level
        for step in some:
            kind = type(step)
            kinds.add(kind)
            if kind is Work:
                varies = varies or len(step.times.values) > 1  # type: ignore[union-attr]
                continue
            nums: tuple[Num | None, ...] = ()
            if isinstance(step, Repeat):
                stack.append((step.body, level + 1))
                if step.last is not None:
                    stack.append((step.last, level + 1))
                nums = (step.times, step.other_times)
                doubt = doubt or step.cut or step.other_times is not None
            elif isinstance(step, Off | Hold | Take):
                nums = (step.count,)
                doubt = doubt or kind is Off
            elif isinstance(step, On):
                nums = (step.count,)
            elif isinstance(step, Change | Shift):
                nums = (step.by,)
            elif isinstance(step, Turn):
                nums = (step.leaving,)
            target = step.target if isinstance(step, Repeat | Fill | Off | Hold) else None
            if target is not None:
                varies = varies or len(target.n.values) > 1
                gap = gap or target.reach in (Reach.GAP, Reach.BEFORE_GAP, Reach.PAST_GAP)
            for num in nums:
                varies = varies or (num is not None and len(num.values) > 1)
    return Survey(deepest, varies, kinds, gap, doubt)


def sized(steps: Sequence[Step]) -> bool:
    """Whether any number in the steps differs between sizes."""
    return survey(steps).sized


def depth(steps: Sequence[Step]) -> int:
    """How deep repeats lie within repeats."""
    return survey(steps).depth


# ------------------------------------------------------------------ making


class _Maker:
    """Puts the numbers of one size into steps. `choice`: which way to read doubtful steps."""

    def __init__(self, size: int, choice: dict[int, int]) -> None:
        self.size = size
        self.choice = choice

    def steps(self, steps: Sequence[Step], inner: bool = False) -> tuple[Op, ...]:
        """The operations of some steps; `inner` within a repeat."""
        ops: list[Op] = []
        items: list[Item] = []
        size = self.size
        for at, step in enumerate(steps):
            if isinstance(step, Work):
                stitch = step.stitch
                items.append(
                    Item(stitch.uses, stitch.makes, step.times.at(size), step.span, stitch)
                )
                continue
            if isinstance(step, Repeat):
                made = self.repeat(step)
                if not isinstance(made, RepOp):
                    items.extend(made)
                    continue
                op: Op = made
            elif isinstance(step, On):
                items.append(Item(0, 1, max(0, step.count.at(size)), step.span))
                continue
            elif isinstance(step, Off):
                if inner and step.count is not None and step.target is None:
                    items.append(Item(1, 0, max(0, step.count.at(size)), step.span))
                    if self.choice.get(id(step), 0) == 0:
                        items.append(Item(1, 1, 1, step.span))
                    continue
                op = self.off(step, steps[at + 1] if at + 1 < len(steps) else None)
            else:
                op = self.other(step)
            if items:
                ops.append(BlockOp(Block(tuple(items))))
                items = []
            ops.append(op)
        if items:
            ops.append(BlockOp(Block(tuple(items))))
        if len(ops) > 1:
            _reserve(ops)
        return tuple(ops)

    def other(self, step: Step) -> Op:
        """A step that needs the needle."""
        size = self.size
        if isinstance(step, Fill):
            stitch, goal = step.stitch, step.target
            use, make = (1, 1) if stitch is None else (stitch.uses, stitch.makes)
            return FillOp(stitch, use, make, goal.reach, goal.n.at(size), goal.name, step.span)
        if isinstance(step, Mark):
            return MarkOp(step.op, step.name, step.span)
        if isinstance(step, Turn):
            return TurnOp(step.kind, _value(step.leaving, size), step.span)
        if isinstance(step, Hold):
            goal2 = step.target
            return HoldOp(
                _value(step.count, size),
                Reach.END if goal2 is None else goal2.reach,
                0 if goal2 is None else goal2.n.at(size),
                "" if goal2 is None else goal2.name,
                step.name,
                step.span,
            )
        if isinstance(step, Take):
            return TakeOp(step.name, _value(step.count, size), step.worked, step.span)
        if isinstance(step, Change):
            return ChangeOp(step.by.at(size), step.each_end, step.span)
        if isinstance(step, Shift):
            return ShiftOp(step.by.at(size), step.span)
        return UnreadOp(step.span)

    def off(self, step: Off, follows: Step | None) -> OffOp:
        kept = self.choice.get(id(step), 0) == 0 and follows is not None
        if isinstance(follows, Fill):
            alike = follows.stitch is None or follows.stitch.uses == 1
            if alike and follows.target.reach in (Reach.END, Reach.LAST):
                kept = False  # the one already there is simply part of the rest
        goal = step.target
        return OffOp(
            _value(step.count, self.size),
            None if goal is None else goal.reach,
            0 if goal is None else goal.n.at(self.size),
            "" if goal is None else goal.name,
            step.span,
            kept,
        )

    def repeat(self, step: Repeat) -> tuple[Item, ...] | RepOp:
        """A repeat as plain items when it needs no needle, else as an operation."""
        body = self.steps(step.body, inner=True)
        block = _block(body)
        last: tuple[Op, ...] | None = None
        last_block: Block | None = None
        if step.last is not None:
            end = step.last
            if step.cut:
                end = (*step.body[: self.choice.get(id(step), 0)], *step.last)
            last = self.steps(end, inner=True)
            last_block = _block(last)
        target = step.target
        times: int | None = None
        if target is None:
            num = step.times
            if step.other_times is not None and self.choice.get(id(step), 0) == 1:
                num = step.other_times
            times = max(0, num.at(self.size)) if num is not None else 1
            if block is not None and (last is None or last_block is not None):
                return _items(step, block, last_block, times)
        return RepOp(
            body,
            block,
            times,
            None if target is None else target.reach,
            0 if target is None else target.n.at(self.size),
            "" if target is None else target.name,
            step.least,
            last,
            last_block,
            step.ident,
            step.span,
        )


def _value(num: Num | None, size: int) -> int | None:
    return None if num is None else max(0, num.at(size))


def _items(step: Repeat, block: Block, last: Block | None, times: int) -> tuple[Item, ...]:
    """A bracket worked so many times, its last time perhaps otherwise."""
    use, make = whole(block.use), whole(block.make)
    if last is None or times == 0:
        return (Item(use, make, times, step.span, None, block, step.ident),)
    return (
        Item(use, make, times - 1, step.span, None, block, step.ident),
        Item(whole(last.use), whole(last.make), 1, step.span, None, last, step.ident),
    )


def _block(ops: tuple[Op, ...]) -> Block | None:
    """The one block that some operations are, or None when they need the needle."""
    if not ops:
        return Block(())
    if len(ops) == 1 and isinstance(ops[0], BlockOp):
        return ops[0].block
    return None


def _reserve(ops: list[Op]) -> None:
    """Tell each repeat "to the end" how many loops the steps after it need ("rep from * to
    end, end k1"), whether an open step after it takes up what does not come out (`slack`),
    and whether another repeat after it goes to the end as well (`twice`)."""
    need = 0
    slack = twice = False
    for op in reversed(ops):
        if isinstance(op, BlockOp):
            need += whole(op.block.use)
        elif isinstance(op, FillOp):
            if op.reach is Reach.LAST:
                need, slack, twice = op.n, False, False
            elif op.reach is Reach.END:
                slack = True
        elif isinstance(op, RepOp):
            op.reserve, op.slack, op.twice = need, slack, twice
            if op.times is not None:
                need += _least_use(op) * op.times
            elif op.reach is Reach.LAST:
                need, slack, twice = op.n, False, False
            elif op.reach is Reach.END:
                twice = True
        elif isinstance(op, ChangeOp):
            op.reserve = need
        elif isinstance(op, OffOp):
            need += (op.n or 0) + (1 if op.kept else 0)
        elif isinstance(op, HoldOp):
            need += op.n or 0
        elif isinstance(op, TurnOp):
            need, slack, twice = 0, False, False


def _least_use(op: RepOp) -> int:
    if op.block is not None:
        return whole(op.block.use)
    need = 0
    for inner in op.body:
        if isinstance(inner, BlockOp):
            need += whole(inner.block.use)
    return need


def _simple(ops: tuple[Op, ...]) -> Simple | None:
    """The head / repeat / tail form of a row, when it has one."""
    head = tail = Block(())
    mid: RepOp | FillOp | None = None
    for op in ops:
        if isinstance(op, BlockOp):
            if mid is None:
                head = op.block
            else:
                tail = op.block
        elif isinstance(op, FillOp | RepOp):
            if mid is not None or op.reach not in (Reach.END, Reach.LAST):
                return None
            if isinstance(op, RepOp) and (
                op.block is None
                or op.times is not None
                or (op.last is not None and op.last_block is None)
            ):
                return None
            mid = op
        else:
            return None
    a, a2 = whole(head.use), whole(head.make)
    c, c2 = whole(tail.use), whole(tail.make)
    if mid is None:
        return Simple(head, tail, None, a, a2, 0, 0, c, c2, 0, 0, 0, c, -1)
    keep = mid.n if mid.reach is Reach.LAST else 0 if isinstance(mid, FillOp) else c
    if isinstance(mid, FillOp):
        return Simple(head, tail, mid, a, a2, mid.use, mid.make, c, c2, 0, 0, 0, keep, -1)
    assert mid.block is not None
    last = last2 = 0
    least = mid.least
    if mid.last_block is not None:
        last, last2 = whole(mid.last_block.use), whole(mid.last_block.make)
        least = max(0, least - 1)
    return Simple(
        head,
        tail,
        mid,
        a,
        a2,
        whole(mid.block.use),
        whole(mid.block.make),
        c,
        c2,
        last,
        last2,
        least,
        keep,
        mid.ident,
    )


def net_of(ops: tuple[Op, ...]) -> int | None:
    """How a row changes the count, where its words alone tell it."""
    net = 0
    for op in ops:
        if isinstance(op, BlockOp):
            net += whole(op.block.make) - whole(op.block.use)
        elif isinstance(op, FillOp):
            if op.use != op.make:
                return None
        elif isinstance(op, RepOp):
            inner = net_of(op.body)
            if inner is None:
                return None
            if op.times is None:
                if inner != 0:
                    return None
                if op.last is not None:
                    inner = net_of(op.last)
                    if inner is None:
                        return None
                    net += inner
            else:
                net += inner * op.times
        elif isinstance(op, ChangeOp):
            net += op.by
        elif isinstance(op, OffOp):
            if op.n is None:
                return None
            net -= op.n
        elif isinstance(op, HoldOp | TakeOp | UnreadOp):
            return None
    return net


def _spots(steps: Sequence[Step]) -> list[tuple[Step, tuple[int, ...]]]:
    """The steps of a row that can be read in more than one way, with the ways (0 first)."""
    found: list[tuple[Step, tuple[int, ...]]] = []
    stack: list[Sequence[Step]] = [steps]
    while stack:
        row = stack.pop()
        for at, step in enumerate(row):
            if isinstance(step, Repeat):
                if step.cut and step.last is not None:
                    found.append((step, tuple(range(max(0, len(step.body) - 1), -1, -1))))
                elif step.other_times is not None and step.target is None:
                    found.append((step, (0, 1)))
                stack.append(step.body)
            elif isinstance(step, Off) and at + 1 < len(row):
                follows = row[at + 1]
                open_end = isinstance(follows, Fill) and follows.target.reach in (
                    Reach.END,
                    Reach.LAST,
                    Reach.UNTIL,
                )
                if not open_end and isinstance(follows, Work | Repeat | Fill):
                    found.append((step, (0, 1)))
            elif isinstance(step, Off) and row is not steps and step.count is not None:
                # the last of a repeat: what follows is the repeat again
                found.append((step, (0, 1)))
    return found


def _bridges(steps: Sequence[Step], look: Survey) -> bool:
    """Whether a row casts on within itself or names a gap, so that it works over a split."""
    return look.gap or any(isinstance(step, On) for step in steps[1:-1])


def variants(steps: Sequence[Step], size: int, look: Survey | None = None) -> tuple[Variant, ...]:
    """The ways to read a row in one size, the most usual first.

    The first variants differ only in where a last repeat is cut (the text says "ending last
    repeat k2" and leaves the rest to the knitter); `differs` names the steps that are read
    otherwise than usual.
    """
    look = look or survey(steps)
    if look.depth > DEEPEST:
        return (Variant((), None, unread=True, deep=True),)
    if not look.doubt:
        return (_variant(_Maker(size, {}).steps(steps), (), steps, look),)
    spots = _spots(steps)
    out: list[Variant] = []
    for picks in product(*(ways for _, ways in spots)):
        choice = {id(step): pick for (step, _), pick in zip(spots, picks, strict=True)}
        differs = tuple(
            step
            for (step, _), pick in zip(spots, picks, strict=True)
            if pick and not (isinstance(step, Repeat) and step.cut)
        )
        out.append(_variant(_Maker(size, choice).steps(steps), differs, steps, look))
        if len(out) >= MOST_VARIANTS:
            break
    if len(out) > 1:
        out.sort(key=lambda v: len(v.differs))
        out = _without_doubles(out)
    return tuple(out)


def _variant(
    ops: tuple[Op, ...], differs: tuple[Step, ...], steps: Sequence[Step], look: Survey
) -> Variant:
    if look.kinds <= _PLAIN_KINDS and not look.gap:
        return Variant(ops, _simple(ops), differs)
    return Variant(
        ops,
        _simple(ops),
        differs,
        Turn in look.kinds,
        _bridges(steps, look),
        Unread in look.kinds,
    )


def _without_doubles(out: list[Variant]) -> list[Variant]:
    """Drop cuts that come to the same numbers as an earlier one."""
    seen: set[tuple[int, ...]] = set()
    kept: list[Variant] = []
    for variant in out:
        s = variant.simple
        if s is not None and s.last and s.b:
            key = (s.a, s.a2, s.b, s.b2, s.c, s.c2, s.last % s.b, len(variant.differs))
            if key in seen:
                continue
            seen.add(key)
        kept.append(variant)
    return kept
