"""A row made ready for counting: its steps with the numbers of one size put in.

Stretches of stitches without markers or open ends become a `Block`, whose loops used and
made are known at once however often its repeats are worked. What needs the needle (markers,
open repeats, turns ...) stays an operation. Rows that can be read in more than one way give
several `Variant`s.
"""

from __future__ import annotations

from collections.abc import Sequence
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
    Off,
    On,
    Reach,
    Repeat,
    Shift,
    Step,
    Take,
    Turn,
    Work,
)

__all__ = ["depth", "sized", "variants", "whole"]

# ------------------------------------------------------------------ making


def depth(steps: Sequence[Step]) -> int:
    """How deep repeats lie within repeats."""
    deepest = 0
    stack: list[tuple[Sequence[Step], int]] = [(steps, 0)]
    while stack:
        row, level = stack.pop()
        deepest = max(deepest, level)
        for step in row:
            if isinstance(step, Repeat):
                stack.append((step.body, level + 1))
                if step.last is not None:
                    stack.append((step.last, level + 1))
    return deepest


class _Maker:
    def __init__(self, size: int, choice: dict[int, int]) -> None:
        self.size = size
        self.choice = choice

    def steps(self, steps: Sequence[Step], inner: bool = False) -> tuple[Op, ...]:
        """The operations of some steps; `inner` within a repeat."""
        ops: list[Op] = []
        items: list[Item] = []

        def close() -> None:
            if items:
                ops.append(BlockOp(Block(tuple(items))))
                items.clear()

        size = self.size
        count = len(steps)
        for at, step in enumerate(steps):
            kind = type(step)
            if kind is Work:
                assert isinstance(step, Work)
                st = step.stitch
                items.append(
                    Item(st.uses, st.makes, max(0, step.times.at(size)), step.span, st, source=step)
                )
            elif isinstance(step, Repeat):
                op = self.repeat(step)
                if isinstance(op, Item):
                    items.append(op)
                elif isinstance(op, tuple):
                    items.extend(op)
                else:
                    close()
                    ops.append(op)
            elif isinstance(step, On):
                n = max(0, step.count.at(size))
                items.append(Item(0, 1, n, step.span, None, source=step))
            elif isinstance(step, Off) and inner and step.count is not None and not step.target:
                n = max(0, step.count.at(size))
                items.append(Item(1, 0, n, step.span, None, source=step))
                if self.choice.get(id(step), 0) == 0:
                    items.append(Item(1, 1, 1, step.span, None, source=step))
            else:
                close()
                if isinstance(step, Fill):
                    st2 = step.stitch
                    use, make = (1, 1) if st2 is None else (st2.uses, st2.makes)
                    t = step.target
                    ops.append(FillOp(st2, use, make, t.reach, t.n.at(size), t.name, step.span))
                elif isinstance(step, Mark):
                    ops.append(MarkOp(step.op, step.name, step.span))
                elif isinstance(step, Turn):
                    leaving = None if step.leaving is None else step.leaving.at(size)
                    ops.append(TurnOp(step.kind, leaving, step.span))
                elif isinstance(step, Off):
                    follows = steps[at + 1] if at + 1 < count else None
                    kept = self.choice.get(id(step), 0) == 0 and follows is not None
                    if isinstance(follows, Fill):
                        same = follows.stitch is None or follows.stitch.uses == 1
                        if same and follows.target.reach in (Reach.END, Reach.LAST):
                            kept = False  # the one already there is simply part of the rest
                    n2 = None if step.count is None else max(0, step.count.at(size))
                    t2 = step.target
                    ops.append(
                        OffOp(
                            n2,
                            None if t2 is None else t2.reach,
                            0 if t2 is None else t2.n.at(size),
                            "" if t2 is None else t2.name,
                            step.span,
                            kept,
                        )
                    )
                elif isinstance(step, Hold):
                    t3 = step.target
                    ops.append(
                        HoldOp(
                            None if step.count is None else max(0, step.count.at(size)),
                            Reach.END if t3 is None else t3.reach,
                            0 if t3 is None else t3.n.at(size),
                            "" if t3 is None else t3.name,
                            step.name,
                            step.span,
                        )
                    )
                elif isinstance(step, Take):
                    n3 = None if step.count is None else max(0, step.count.at(size))
                    ops.append(TakeOp(step.name, n3, step.worked, step.span))
                elif isinstance(step, Change):
                    ops.append(ChangeOp(step.by.at(size), step.each_end, step.span))
                elif isinstance(step, Shift):
                    ops.append(ShiftOp(step.by.at(size), step.span))
                else:
                    ops.append(UnreadOp(step.span))
        close()
        _reserve(ops)
        return tuple(ops)

    def repeat(self, step: Repeat) -> Item | tuple[Item, ...] | RepOp:
        body = self.steps(step.body, inner=True)
        block = _block(body)
        last: tuple[Op, ...] | None = None
        last_block: Block | None = None
        if step.last is not None:
            last_steps = step.last
            if step.cut:
                keep = self.choice.get(id(step), 0)
                last_steps = (*step.body[:keep], *step.last)
            last = self.steps(last_steps, inner=True)
            last_block = _block(last)
        target = step.target
        times: int | None = None
        if target is None:
            num = step.times
            if step.other_times is not None and self.choice.get(id(step), 0) == 1:
                num = step.other_times
            times = max(0, num.at(self.size)) if num is not None else 1
        if times is not None and block is not None and (last is None or last_block is not None):
            use, make = whole(block.use), whole(block.make)
            if last_block is None:
                return Item(use, make, times, step.span, None, block, step.ident, source=step)
            full = Item(
                use, make, max(0, times - 1), step.span, None, block, step.ident, source=step
            )
            if times == 0:
                return full
            end = Item(
                whole(last_block.use),
                whole(last_block.make),
                1,
                step.span,
                None,
                last_block,
                step.ident,
                source=step,
            )
            return (full, end)
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


def _block(ops: tuple[Op, ...]) -> Block | None:
    """The one block that some operations are, or None when they need the needle."""
    if not ops:
        return Block(())
    if len(ops) == 1 and isinstance(ops[0], BlockOp):
        return ops[0].block
    return None


def _reserve(ops: list[Op]) -> None:
    """Tell each step that goes "to the end" how many loops the steps after it need."""
    need = 0
    slack = False
    for op in reversed(ops):
        if isinstance(op, BlockOp):
            need += whole(op.block.use)
        elif isinstance(op, FillOp):
            op.reserve, op.slack = need, slack
            if op.reach is Reach.LAST:
                need, slack = op.n, False
            elif op.reach is Reach.END:
                slack = slack or op.reserve == 0
        elif isinstance(op, RepOp):
            op.reserve, op.slack = need, slack
            if op.times is not None:
                need += _least_use(op) * op.times
            elif op.reach is Reach.LAST:
                need, slack = op.n, False
            elif op.reach is Reach.END:
                need += _least_use(op) * op.least
                slack = True
        elif isinstance(op, ChangeOp):
            op.reserve = need
        elif isinstance(op, OffOp):
            need += (op.n or 0) + (1 if op.kept else 0)
        elif isinstance(op, HoldOp):
            need += op.n or 0
        elif isinstance(op, TurnOp):
            need, slack = 0, False


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
    keep = mid.n if mid.reach is Reach.LAST else c
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


def _net(ops: tuple[Op, ...]) -> int | None:
    """How a row changes the count, where its words alone tell it."""
    net = 0
    for op in ops:
        if isinstance(op, BlockOp):
            net += whole(op.block.make) - whole(op.block.use)
        elif isinstance(op, FillOp):
            if op.use != op.make:
                return None
        elif isinstance(op, RepOp):
            inner = _net(op.body)
            if inner is None:
                return None
            if op.times is None:
                if inner != 0:
                    return None
                if op.last is not None:
                    inner = _net(op.last)
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


def _spots(steps: Sequence[Step], size: int) -> list[tuple[Step, tuple[int, ...]]]:
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
    return found


def _has(ops: Sequence[Op], kind: type) -> bool:
    stack: list[Sequence[Op]] = [ops]
    while stack:
        for op in stack.pop():
            if isinstance(op, kind):
                return True
            if isinstance(op, RepOp):
                stack.append(op.body)
    return False


def _bridges(steps: Sequence[Step]) -> bool:
    """Whether a row casts on within itself or names a gap, so that it works over a split."""
    for at, step in enumerate(steps):
        if isinstance(step, On) and 0 < at < len(steps) - 1:
            return True
        if (
            isinstance(step, Fill | Repeat)
            and step.target is not None
            and step.target.reach in (Reach.GAP, Reach.BEFORE_GAP, Reach.PAST_GAP)
        ):
            return True
    return False


def sized(steps: Sequence[Step]) -> bool:
    """Whether any number in the steps differs between sizes."""
    stack: list[Sequence[Step]] = [steps]
    while stack:
        for step in stack.pop():
            if isinstance(step, Work):
                if step.times.sized:
                    return True
            elif isinstance(step, Repeat):
                for num in (step.times, step.other_times):
                    if num is not None and num.sized:
                        return True
                if step.target is not None and step.target.n.sized:
                    return True
                stack.append(step.body)
                if step.last is not None:
                    stack.append(step.last)
            elif isinstance(step, Fill):
                if step.target.n.sized:
                    return True
            elif isinstance(step, Off | Hold):
                if step.count is not None and step.count.sized:
                    return True
                if step.target is not None and step.target.n.sized:
                    return True
            elif isinstance(step, On):
                if step.count.sized:
                    return True
            elif isinstance(step, Take):
                if step.count is not None and step.count.sized:
                    return True
            elif isinstance(step, Change | Shift):
                if step.by.sized:
                    return True
            elif isinstance(step, Turn) and step.leaving is not None and step.leaving.sized:
                return True
    return False


def variants(steps: Sequence[Step], size: int) -> tuple[Variant, ...]:
    """The ways to read a row in one size, the most usual first.

    The first variants differ only in where a last repeat is cut (the text says "ending last
    repeat k2" and leaves the rest to the knitter); `differs` names the steps that are read
    otherwise than usual.
    """
    if depth(steps) > DEEPEST:
        return (Variant((), None, unread=True, deep=True),)
    spots = _spots(steps, size)
    out: list[Variant] = []
    bridges = _bridges(steps)
    ways = [ways for _, ways in spots]
    for picks in product(*ways):
        choice = {id(step): pick for (step, _), pick in zip(spots, picks, strict=True)}
        differs = tuple(
            step
            for (step, _), pick in zip(spots, picks, strict=True)
            if pick and not (isinstance(step, Repeat) and step.cut)
        )
        ops = _Maker(size, choice).steps(steps)
        out.append(
            Variant(
                ops,
                _simple(ops),
                differs,
                _has(ops, TurnOp),
                bridges,
                _has(ops, UnreadOp),
                net=_net(ops),
            )
        )
        if len(out) >= MOST_VARIANTS:
            break
    if len(out) > 1:
        out.sort(key=lambda v: len(v.differs))
        out = _without_doubles(out)
    return tuple(out)


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
