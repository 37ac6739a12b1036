"""Rows worked again and again, without unrolling.

A block is followed until two times through change the stitches alike; from there the last
time through is known without the ones between (each row is a straight-line map, so equal
changes stay equal), and only the last is worked again to see that it still fits.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction

from chartc.counting import events as ev
from chartc.counting.limits import FOLLOWED, LIMIT
from chartc.counting.needle import Needle
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


class Repeating(RowWork):
    """Work that can be repeated."""

    def instruction(self, it: Instruction) -> None:
        """Work one instruction of the text."""
        raise NotImplementedError

    def again(self, it: Again) -> None:
        key, number = self.key, self.pass_number
        seen = any(
            isinstance(r, Row) and (r.span.start, r.span.end, r.number) in self.seen
            for r in it.rows
        )
        extra = 1 if it.more or seen else 0

        def once(which: int, final: bool) -> None:
            block: Sequence[Instruction] = it.rows
            if final and it.last_rows:
                block = first_rows(block, it.last_rows, self.size)
            for i, inner in enumerate(block):
                self.key = (*key, which, i)
                self.pass_number = which + extra
                self.instruction(inner)

        if it.until is None:
            times = 1 if it.times is None else it.times.at(self.size)
            self.passes(once, max(0, times), it.span, key)
        elif it.until.kind is UntilKind.COUNT:
            self.until_count(once, it.until, key)
        else:
            self.until_length(once, it.until, it.span, key, it)
        self.key, self.pass_number = key, number

    def passes(self, once: Callable[[int, bool], None], total: int, span: Span, key: Key) -> None:
        """Work a block `total` times."""
        marks: list[tuple[Needle, int]] = [(self.needle.copy(), len(self.records))]
        number = 0
        while number < total:
            troubles = self.troubles
            known = self.needle.known
            number += 1
            once(number, number == total)
            if self.troubles != troubles or (known and not self.needle.known):
                self._stopped(marks, number, span)
                return
            if not self.needle.known:
                if number >= 2:
                    return  # nothing can be learnt from going on
                continue
            marks.append((self.needle.copy(), len(self.records)))
            if self.doubt or self.others:
                continue
            stride, change = self._settled(marks)
            if stride and total - number > 2 * stride:
                self._jump(once, marks, number, total, stride, change, key, span)
                return
            if number >= FOLLOWED and total > FOLLOWED:
                self.tell(ev.UNDECIDED, span)
                self.needle.forget()
                return
            if len(marks) > 6:
                del marks[0]

    def _settled(self, marks: list[tuple[Needle, int]]) -> tuple[int, list[int]]:
        """Whether the last times through changed the needle alike: every time (1), or every
        second time (2, when rows are worked to and fro over markers). 0 when not."""
        for stride in (1, 2):
            if len(marks) < 2 * stride + 1:
                continue
            a, b, c = marks[-1 - 2 * stride][0], marks[-1 - stride][0], marks[-1][0]
            if not (a.shape() == b.shape() == c.shape()) or (a.facing != c.facing and stride == 2):
                continue
            na, nb, nc = a.numbers(), b.numbers(), c.numbers()
            if len(na) != len(nb) or len(nb) != len(nc):
                continue
            change = [whole(z - y) for y, z in zip(nb, nc, strict=True)]
            if all(whole(y - x) == d for x, y, d in zip(na, nb, change, strict=True)):
                return stride, change
        return 0, []

    def _jump(
        self,
        once: Callable[[int, bool], None],
        marks: list[tuple[Needle, int]],
        number: int,
        total: int,
        stride: int,
        change: list[int],
        key: Key,
        span: Span,
    ) -> int:
        """From after time `number` to after the last time, working only the last one(s)."""
        base = marks[-1][0]
        skip = (total - number - 1) // stride  # strides left out
        if stride == 2 and skip and (total - number - skip * 2) < 1:
            skip -= 1

        def before(strides: int) -> Needle:
            new = base.with_numbers(
                [n + d * strides for n, d in zip(base.numbers(), change, strict=True)]
            )
            per = base.rows - marks[-1 - stride][0].rows
            new.rows = base.rows + per * strides
            if stride == 1 and (base.facing != marks[-2][0].facing) and strides % 2:
                new.facing ^= 1
            return new

        def try_from(strides: int) -> bool:
            """Whether the next time through, so many strides on, still works alike."""
            kept = (
                self.needle,
                len(self.records),
                len(self.events),
                set(self._told),
                self.troubles,
                len(self.between),
                self.doubt,
                self.others,
                self.any_side,
            )
            self.needle = before(strides)
            if whole(self.needle.total()) > LIMIT or any(
                whole(n) < 0 for n in self.needle.numbers()
            ):
                fine = False
            else:
                for i in range(stride):
                    once(number + strides * stride + 1 + i, False)
                fine = (
                    self.troubles == kept[4]
                    and self.needle.known
                    and self.needle.shape() == base.shape()
                    and [whole(n) for n in self.needle.numbers()]
                    == [
                        whole(n) + d * (strides + 1)
                        for n, d in zip(base.numbers(), change, strict=True)
                    ]
                )
            self.needle = kept[0]
            del self.records[kept[1] :]
            del self.events[kept[2] :]
            self._told = kept[3]
            self.troubles = kept[4]
            del self.between[kept[5] :]
            self.doubt, self.others, self.any_side = kept[6], kept[7], kept[8]
            return fine

        if any(change) and skip and not try_from(skip - 1 if stride == 2 else skip):
            # somewhere on the way it stops fitting: find the first such time
            low, high = 0, skip
            while high - low > 1:
                mid = (low + high) // 2
                if try_from(mid):
                    low = mid
                else:
                    high = mid
            skip = low if not try_from(low) else high
        if skip:
            now = self.records[marks[-1 - stride][1] : marks[-1][1]]
            was = self.records[marks[-1 - 2 * stride][1] : marks[-1 - stride][1]]
            if len(now) == len(was):
                self.between.append(
                    Between(key[0], len(key), number, number + skip * stride, stride, now, was)
                )
        number += skip * stride
        self.needle = before(skip)
        if whole(self.needle.total()) > LIMIT:
            self._too_big(span, whole(self.needle.total()))
            return number
        while number < total:
            troubles = self.troubles
            number += 1
            old = self.needle.copy()
            once(number, number == total)
            if self.troubles != troubles or not self.needle.known:
                self._stopped([(old, 0)], number, span, base=marks)
                break
        return number

    def _stopped(
        self,
        marks: list[tuple[Needle, int]],
        number: int,
        span: Span,
        base: list[tuple[Needle, int]] | None = None,
    ) -> None:
        """A time through did not come out: say so when it is the repetition's fault."""
        known = [m for m, _ in (base or marks) if m.known]
        if number < 2 or len(known) < 2:
            return
        change = whole(known[-1].total()) - whole(known[-2].total())
        if change:
            self.tell(ev.NET_ON_REPETITION, span, data={"change": change, "pass": number})
            self.doubt = True

    def until_count(self, once: Callable[[int, bool], None], until: Until, key: Key) -> None:
        needle = self.needle
        target = until.num.at(self.size)
        if not needle.known:
            once(1, False)
            self.needle.set_total(target)
            return
        start = whole(needle.total())
        if start == target and not self.doubt:
            self.tell(ev.ALREADY_THERE, until.span, data={"target": target}, trouble=False)
            return
        trouble = False

        def solve(change: int) -> int | None:
            """Times still to be worked when each changes the count by `change`."""
            nonlocal trouble
            now = whole(self.needle.total())
            left = target - now
            if left == 0:
                return 0
            if change == 0 or (left > 0) != (change > 0):
                trouble = True
                self.tell(
                    ev.NEVER_ENDS,
                    until.span,
                    data={"target": target, "count": now, "change": change},
                )
                return None
            if left % change:
                trouble = True
                n = left // change
                self.tell(
                    ev.STEPPED_OVER,
                    until.span,
                    data={
                        "target": target,
                        "before": now + n * change,
                        "after": now + (n + 1) * change,
                        "change": change,
                    },
                )
                return None
            return left // change

        # follow one by one until the count is met or passed, or the changes settle
        last = start
        met = False

        def step(which: int, final: bool) -> None:
            nonlocal last, met, trouble
            once(which, final)
            if not self.needle.known:
                return
            now = whole(self.needle.total())
            if (last < target < now or now < target < last) and not final:
                trouble = True
                self.tell(
                    ev.STEPPED_OVER,
                    until.span,
                    data={"target": target, "before": last, "after": now, "change": now - last},
                )
            met = met or now == target
            last = now

        number = 0
        troubles = self.troubles
        marks: list[tuple[Needle, int]] = [(self.needle.copy(), len(self.records))]
        while not met and not trouble and number < FOLLOWED:
            number += 1
            step(number, False)
            if self.troubles != troubles or not self.needle.known:
                break
            marks.append((self.needle.copy(), len(self.records)))
            stride, change = self._settled(marks)
            if stride == 1 and not met and not trouble:
                more = solve(last - whole(marks[-2][0].total()))
                if more is None:
                    break
                self._jump(once, marks, number, number + more, 1, change, key, until.span)
                break
        else:
            if number >= FOLLOWED and not met:
                self.tell(ev.UNDECIDED, until.span)
        if not self.needle.known or self.needle.total() != target:
            self.needle.set_total(target)  # as the text has it
            self.doubt, self.others = False, ()

    def until_length(
        self,
        once: Callable[[int, bool], None],
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
        once(1, False)
        if self.troubles != troubles or not self.needle.known:
            return
        one = self.needle.copy()
        doubt, others, any_side = self.doubt, self.others, self.any_side
        records = len(self.records)
        once(2, False)
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
