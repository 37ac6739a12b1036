"""Rows worked again and again, without unrolling.

A block is followed until two times through change the stitches alike; from there the last
time through is known without the ones between (each row is a straight-line map, so equal
changes stay equal), and only the last is worked again to see that it still fits.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm
from typing import TypeAlias

from chartc.counting import events as ev
from chartc.counting.limits import FOLLOWED, LIMIT
from chartc.counting.needle import GAP, Needle
from chartc.counting.ops import whole
from chartc.counting.records import (
    Between,
    Key,
    first_rows,
    rows_in,
)
from chartc.counting.rowwork import RowWork
from chartc.pattern import (
    Again,
    Instruction,
    Row,
    Until,
    UntilKind,
)
from chartc.source import Span

Once: TypeAlias = Callable[["Repeating", int, bool], None]
"""Works a block on a piece: which time through, and whether it is the last."""


@dataclass(slots=True)
class Stand:
    """A place between two times through: the needle, how many records there were, and the
    decisions of the time through before it."""

    needle: Needle
    records: int
    trail: tuple[int, ...] = ()
    rough: int = 1


class Follow:
    """A block followed time after time.

    number   times worked so far
    stopped  a time through did not come out, or the count is not known any more
    """

    def __init__(self, piece: Repeating, once: Once, key: Key, span: Span) -> None:
        self.piece = piece
        self.once = once
        self.key = key
        self.span = span
        self.number = 0
        self.stopped = False
        self.marks = [Stand(piece.needle.copy(), len(piece.records))]

    def step(self, final: bool) -> None:
        """Once more."""
        piece = self.piece
        troubles, known = piece.troubles, piece.needle.known
        self.number += 1
        piece.trail, piece.rough = [], 1
        self.once(piece, self.number, final)
        if piece.troubles != troubles or (known and not piece.needle.known):
            self.stopped = True
            self._blame()
        elif not piece.needle.known:
            self.stopped = self.number >= 2  # nothing can be learnt from going on
        else:
            trail = tuple(piece.trail)
            self.marks.append(Stand(piece.needle.copy(), len(piece.records), trail, piece.rough))
            if piece.doubt or piece.others:
                del self.marks[:-1]
            elif len(self.marks) > 5:
                del self.marks[0]

    def settled(self) -> tuple[int, list[int]]:
        """Whether the last times through changed the needle alike: every time (1), or every
        second time (2, when rows are worked to and fro over markers), and how. 0 when not."""
        if not self.piece.leaps:
            return 0, []
        for stride in (1, 2):
            if len(self.marks) < 2 * stride + 1:
                continue
            marks = self.marks[-2 * stride :]
            if any(m.trail != n.trail for m, n in zip(marks, marks[stride:], strict=False)):
                continue
            a, b, c = (self.marks[-1 - k * stride].needle for k in (2, 1, 0))
            if not (a.shape() == b.shape() == c.shape()) or (stride == 2 and a.facing != c.facing):
                continue
            na, nb, nc = a.numbers(), b.numbers(), c.numbers()
            if not len(na) == len(nb) == len(nc):
                continue
            change = [whole(z - y) for y, z in zip(nb, nc, strict=True)]
            rough = lcm(*(m.rough for m in marks))
            if all(
                whole(y - x) == d and d % rough == 0 for x, y, d in zip(na, nb, change, strict=True)
            ):
                return stride, change
        return 0, []

    def jump(self, stride: int, change: list[int], total: int) -> None:
        """Leave out as many times through as go alike, at most up to the last but one."""
        skip = (total - self.number - 1) // stride
        if skip < 1:
            return
        if any(change) and not self._alike(stride, change, skip):
            low, high = 0, skip  # alike at low, not at high
            while high - low > 1:
                mid = (low + high) // 2
                if self._alike(stride, change, mid):
                    low = mid
                else:
                    high = mid
            skip = low
        if skip < 1:
            return
        piece, marks = self.piece, self.marks
        now = piece.records[marks[-1 - stride].records : marks[-1].records]
        was = piece.records[marks[-1 - 2 * stride].records : marks[-1 - stride].records]
        until = self.number + skip * stride
        if len(now) == len(was):
            piece.between.append(
                Between(self.key[0], len(self.key), self.number, until, stride, now, was)
            )
        self.number = until
        piece.needle = self._there(stride, change, skip)
        last = marks[-1]
        self.marks = [Stand(piece.needle.copy(), len(piece.records), last.trail, last.rough)]

    def _there(self, stride: int, change: list[int], skip: int) -> Needle:
        """The needle so many strides on."""
        base = self.marks[-1].needle
        new = base.with_numbers([n + d * skip for n, d in zip(base.numbers(), change, strict=True)])
        before = self.marks[-1 - stride].needle
        new.rows = base.rows + (base.rows - before.rows) * skip
        if base.facing != before.facing and skip % 2:
            new.facing ^= 1
        return new

    def _alike(self, stride: int, change: list[int], skip: int) -> bool:
        """Whether the time through after so many strides still goes alike."""
        there = self._there(stride, change, skip)
        if whole(there.total()) > LIMIT or any(whole(n) < 0 for n in there.numbers()):
            return False
        piece = self.piece.scratch(there)
        wanted = [whole(n) + d for n, d in zip(there.numbers(), change, strict=True)]
        shape = there.shape()
        for i in range(stride):
            piece.trail = []
            self.once(piece, self.number + skip * stride + 1 + i, False)
            mark = self.marks[i - stride]
            if piece.troubles or not piece.needle.known or tuple(piece.trail) != mark.trail:
                return False
        return piece.needle.shape() == shape and piece.needle.numbers() == wanted

    def _blame(self) -> None:
        """A time through did not come out: say so when it is the repetition's fault."""
        if self.number < 2 or len(self.marks) < 2:
            return
        change = whole(self.marks[-1].needle.total()) - whole(self.marks[-2].needle.total())
        if change:
            self.piece.tell(
                ev.NET_ON_REPETITION, self.span, data={"change": change, "pass": self.number}
            )
            self.piece.doubt = True


class Repeating(RowWork):
    """Work that can be repeated."""

    def instruction(self, it: Instruction) -> None:
        """Work one instruction of the text."""
        raise NotImplementedError

    def scratch(self, needle: Needle) -> Repeating:
        """Another piece in the same size, to try something out on."""
        raise NotImplementedError

    def again(self, it: Again) -> None:
        key, number = self.key, self.pass_number
        seen = any(
            isinstance(r, Row) and (r.span.start, r.span.end, r.number) in self.seen
            for r in it.rows
        )
        extra = 1 if it.more or seen else 0

        def once(piece: Repeating, which: int, final: bool) -> None:
            block: Sequence[Instruction] = it.rows
            if final and it.last_rows:
                block = first_rows(block, it.last_rows, self.size)
            for i, inner in enumerate(block):
                piece.key = (*key, which, i)
                piece.pass_number = which + extra
                piece.instruction(inner)

        if it.until is None:
            times = 1 if it.times is None else it.times.at(self.size)
            self.passes(once, max(0, times), it.span, key)
        elif it.until.kind is UntilKind.COUNT:
            self.until_count(once, it.until, key)
        elif it.until.kind is UntilKind.MARKED:
            self.until_marked(once, it.until)
        elif it.until.kind is UntilKind.WORKED:
            self.until_worked(once, it.until)
        else:
            self.until_length(once, it.until, it.span, key, it)
        self.key, self.pass_number = key, number

    def until_marked(self, once: Once, until: Until) -> None:
        """Work a block until a part between two markers has so many stitches."""
        target = until.num.at(self.size)
        number = 0
        before: list[int] | None = None
        while self.needle.known and not self.needle.lost:
            parts = [whole(n) for n in self.needle.right]
            inner = parts[1:-1] if len(parts) > 2 else parts
            if target in inner:
                return
            if before is not None and (parts == before or len(parts) != len(before)):
                break
            if number >= FOLLOWED or all(n > target for n in inner):
                break
            before = parts
            number += 1
            troubles = self.troubles
            once(self, number, False)
            if self.troubles != troubles:
                return
        if self.needle.known and not self.needle.lost:
            now = whole(self.needle.total())
            self.tell(ev.NEVER_ENDS, until.span, data={"target": target, "count": now, "change": 0})
        elif number == 0:
            once(self, 1, False)
            self.needle.forget()

    def until_worked(self, once: Once, until: Until) -> None:
        """Work a block until no stitches are left unworked beyond the turns."""
        number = 0
        while self.needle.known and not self.needle.lost and self._left_beyond():
            if number >= FOLLOWED:
                self.tell(ev.UNDECIDED, until.span)
                return
            trial = self.scratch(self.needle.copy())
            once(trial, number + 1, False)
            if trial.troubles or not trial.needle.known:
                break  # the last time through is told another way
            number += 1
            once(self, number, False)
        if not self.needle.known or self.needle.lost or self._left_beyond():
            if number == 0:
                once(self, 1, False)
            self.needle.forget()

    def _left_beyond(self) -> bool:
        """Whether stitches wait beyond a gap left by a turn."""
        needle = self.needle
        for parts, marks in (
            (needle.left, needle.lm),
            (needle.right[::-1], needle.rm[::-1]),
        ):
            for i, mark in enumerate(marks):
                if mark == GAP and any(whole(part) > 0 for part in parts[i + 1 :]):
                    return True
        return False

    def passes(self, once: Once, total: int, span: Span, key: Key) -> None:
        """Work a block `total` times."""
        outer, outer_rough = self.trail, self.rough
        self._passes(once, total, span, key)
        self.trail = [*outer, -2, *self.trail] if total else outer
        self.rough = lcm(outer_rough, self.rough)

    def _passes(self, once: Once, total: int, span: Span, key: Key) -> None:
        follow = Follow(self, once, key, span)
        followed = 0
        while follow.number < total and not follow.stopped:
            if followed >= (FOLLOWED if self.leaps else 100 * FOLLOWED):
                self.tell(ev.UNDECIDED, span)
                self.needle.forget()
                return
            followed += 1
            follow.step(follow.number + 1 == total)
            if follow.stopped:
                return
            stride, change = follow.settled()
            if stride and total - follow.number > 2 * stride:
                follow.jump(stride, change, total)
                if whole(self.needle.total()) > LIMIT:
                    self._too_big(span, whole(self.needle.total()))
                    return

    def until_count(self, once: Once, until: Until, key: Key) -> None:
        """Work a block until there are so many stitches."""
        target = until.num.at(self.size)
        if not self.needle.known:
            once(self, 1, False)
            self.needle.set_total(target)
            return
        now = whole(self.needle.total())
        if now == target and not self.doubt:
            self.tell(ev.ALREADY_THERE, until.span, data={"target": target}, trouble=False)
            return
        follow = Follow(self, once, key, until.span)
        followed = 0
        while now != target:
            if followed >= (FOLLOWED if self.leaps else 100 * FOLLOWED):
                self.tell(ev.UNDECIDED, until.span)
                break
            followed += 1
            last = now
            follow.step(False)
            if follow.stopped or not self.needle.known:
                break
            now = whole(self.needle.total())
            if last < target < now or now < target < last:
                self._stepped_over(until, target, last, now)
                break
            if now == target:
                break
            stride, change = follow.settled()
            if stride != 1:
                continue
            gain = now - last
            if gain == 0 or (target > now) != (gain > 0):
                data = {"target": target, "count": now, "change": gain}
                self.tell(ev.NEVER_ENDS, until.span, data=data)
                break
            follow.jump(stride, change, follow.number + max(1, (target - now) // gain))
            now = whole(self.needle.total())
        if not self.needle.known or self.needle.total() != target:
            self.needle.set_total(target)  # as the text has it
            self.doubt, self.others = False, ()

    def _stepped_over(self, until: Until, target: int, before: int, after: int) -> None:
        data = {"target": target, "before": before, "after": after, "change": after - before}
        self.tell(ev.STEPPED_OVER, until.span, data=data)

    def until_length(
        self,
        once: Once,
        until: Until,
        span: Span,
        key: Key,
        block: Again | None,
    ) -> None:
        needle = self.needle
        if self.gauge is not None and until.tenths_mm:
            tenths = (
                until.tenths_mm[self.size]
                if self.size < len(until.tenths_mm)
                else (until.tenths_mm[-1])
            )
            per = 1 if block is None else rows_in(block.rows, self.size)
            if per > 0:
                wanted = Fraction(tenths, 1000) * self.gauge
                if not until.from_here:
                    wanted -= needle.rows
                todo = wanted - Fraction(1, 2)
                times = max(1, -((-todo.numerator) // (todo.denominator * per)))
                if until.after_side and not self._in_round_block(block):
                    times = self._side_out(times, per, until, block)
                if times * per <= 100 * LIMIT:
                    self.tell(
                        ev.LENGTH_ROWS,
                        until.span,
                        data={"rows": times * per, "times": times},
                        trouble=False,
                    )
                    self.passes(once, times, span, key)
                    return
        troubles = self.troubles
        once(self, 1, False)
        if self.troubles != troubles or not self.needle.known:
            return
        one = self.needle.copy()
        doubt, others, any_side = self.doubt, self.others, self.any_side
        records = len(self.records)
        once(self, 2, False)
        failed = self.troubles != troubles
        two = self.needle
        del self.records[records:]
        change = whole(two.total()) - whole(one.total()) if two.known else 0
        self.needle, self.doubt, self.others, self.any_side = one, doubt, others, any_side
        if two.known and one.shape() == two.shape() and one.numbers() == two.numbers():
            return
        if change or failed:
            self.tell(ev.NET_ON_REPETITION, span, data={"change": change, "pass": 2})
            self.needle.forget()

    def _in_round_block(self, block: Again | None) -> bool:
        rows = [r for r in (block.rows if block is not None else ()) if isinstance(r, Row)]
        return any(r.in_round for r in rows)

    def _side_out(self, times: int, per: int, until: Until, block: Again | None) -> int:
        """The times through that end on the side the text names."""
        facing_now = self.needle.facing  # of the row just worked
        ends = "RS" if (facing_now + times * per) % 2 == 0 else "WS"
        if ends == until.after_side:
            return times
        if per % 2:
            return times + 1
        self.tell(ev.SIDE_CANNOT, until.span, words=until.after_side, trouble=False)
        return times
