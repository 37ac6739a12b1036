"""The text worked through in one size: casting on, rows, repetitions, shaping told in prose."""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction

from chartc.counting import events as ev
from chartc.counting.context import Ctx, GiveUp
from chartc.counting.limits import LIMIT
from chartc.counting.lin import Number
from chartc.counting.machine import RowRun
from chartc.counting.needle import Needle, drop_markers
from chartc.counting.ops import Variant, whole
from chartc.counting.records import (
    Between,
    Key,
    Readings,
    Record,
    RowBook,
)
from chartc.counting.repeating import Repeating
from chartc.pattern import (
    NOWHERE,
    Again,
    CastOn,
    Ease,
    Finish,
    Instruction,
    Join,
    Keep,
    Loose,
    Mark,
    On,
    Plain,
    Row,
    Step,
    Take,
    Unread,
    UntilKind,
)

__all__ = ["Piece", "Readings", "RowBook", "needs_open"]


class Piece(Repeating):
    """A piece of knitting in one size, worked through the text."""

    def scratch(self, needle: Needle) -> Repeating:
        piece = Piece(self.book, self.size, self.gauge, self.readings.copy())
        piece.needle = needle
        piece.section = self.section
        piece.started = True
        piece.seen = self.seen
        piece.any_side = self.any_side
        return piece

    def run(self, flow: Sequence[Instruction], section: int) -> None:
        self.section = section
        base = (section,)
        for i, instruction in enumerate(flow):
            self.key = (*base, i)
            self.pass_number = 1
            self.instruction(instruction)

    def instruction(self, it: Instruction) -> None:
        if isinstance(it, Row):
            self.row(it)
        elif isinstance(it, Again):
            self.again(it)
        elif isinstance(it, Plain):
            self.plain(it)
        elif isinstance(it, Ease):
            self.ease(it)
        elif isinstance(it, CastOn):
            self.cast_on(it)
        elif isinstance(it, Loose):
            self.loose(it)
        elif isinstance(it, Finish):
            self.finish(it)
        else:
            assert isinstance(it, Join)

    def cast_on(self, it: CastOn) -> None:
        old = self.needle
        count = max(0, it.count.at(self.size))
        held = list(old.held)
        if it.kind == "held":
            held = self._from_holder(it, held, count)
        elif old.alive and old.known and old.total() != 0:
            held.append(("\0left", old.total()))
        needle = Needle(count)
        needle.held = held
        self.needle = needle
        self.doubt, self.others = False, ()
        self.any_side = True
        self.started = True
        label = {"cast on": "Cast on", "pick up": "Pick up"}.get(it.kind, "On the needle")
        self.records.append(
            Record(self.key, None, label, it.span, "", self.pass_number, 0, 0, count, count)
        )
        if count > LIMIT:
            self.tell(ev.TOO_BIG, it.span, data={"count": count, "limit": LIMIT})
            needle.forget()

    def _from_holder(
        self, it: CastOn, held: list[tuple[str, Number]], count: int
    ) -> list[tuple[str, Number]]:
        found = [i for i, (name, _) in enumerate(held) if name == it.name] if it.name else []
        if not found and held:
            found = [i for i, (name, n) in enumerate(held) if n == count]
        if not found:
            return held
        name, have = held.pop(found[-1])
        if isinstance(have, int) and have != count:
            if have < count:
                self.tell(
                    ev.STATED_DIFFERS,
                    it.count.span,
                    words="held",
                    data={"stated": count, "counted": have},
                )
            else:
                held.insert(found[-1], (name, have - count))
        return held

    def finish(self, it: Finish) -> None:
        needle = self.needle
        if not needle.alive:
            return
        total = needle.total()
        if needle.known and it.count is not None and not self.doubt:
            n = it.count.at(self.size)
            if n != total:
                self.tell(
                    ev.STATED_DIFFERS,
                    it.count.span,
                    words="finish",
                    data={"stated": n, "counted": whole(total)},
                )
        if needle.known:
            gone = whole(total)
            self.records.append(
                Record(self.key, None, "", it.span, "", self.pass_number, gone, gone, 0, 0)
            )
        new = Needle(0, alive=False)
        new.held = needle.held
        if it.kind == "hold" and needle.known:
            new.held = [*new.held, (it.name, total)]
        self.needle = new
        self.doubt, self.others = False, ()

    def loose(self, it: Loose) -> None:
        steps = it.steps
        needle = self.needle
        if any(isinstance(s, Unread) for s in steps):
            # told in general terms: the count is open until the text states one
            held = needle.held
            self.needle = Needle(0)
            self.needle.held = held
            self.needle.facing = needle.facing
            self.needle.lost = (
                needle.lost or bool(needle.lm or needle.rm) or _speaks_of_markers(steps)
            )
            self.needle.forget()
            self.any_side = True
            self.started = True
        elif len(steps) == 1 and isinstance(steps[0], Keep):
            self._keep(steps[0])
        elif steps:
            way = self.book.ways(steps, self.size)[0]
            if not needle.alive and any(isinstance(s, Take | On) for s in steps):
                needle.alive = True
            if needle.known and needle.alive:
                self._loose_steps(it, way)
        if it.stated:
            self.check_stated(it.stated, None, None, None, it.span)

    def _keep(self, step: Keep) -> None:
        """Work goes on over some stitches only; the others wait on a holder without a name."""
        old = self.needle
        count = max(0, step.count.at(self.size))
        needle = Needle(count)
        needle.held = list(old.held)
        # the work stands as it did: the next row turns it, or goes on in the same direction
        needle.facing = old.facing
        if old.alive and old.known:
            total = whole(old.total())
            if total < count:
                self.tell(
                    ev.TOO_FEW,
                    step.count.span,
                    data={"before": total, "takes": count, "short": count - total},
                )
            elif total > count:
                needle.held.append(("", total - count))
        self.needle = needle
        self.doubt, self.others = False, ()
        self.any_side = True
        self.started = True

    def _loose_steps(self, it: Loose, way: Variant) -> None:
        needle = self.needle
        only_marks = all(isinstance(s, Mark) for s in it.steps)
        run = RowRun(needle, Ctx(), False, True)
        run.start_total = needle.total()
        try:
            if only_marks and all(s.op == "remove" for s in it.steps if isinstance(s, Mark)):
                drop_markers(needle)
                return
            if needs_open(it.steps):
                needle.open_row(False)
                needle.fresh = True
            run.ops(way.ops)
            needle.wait()
            if run.shift is not None:
                needle.shift += run.shift
                run.shift_round(run.shift)
        except GiveUp as stop:
            self.tell(stop.why, stop.span if stop.span != NOWHERE else it.span)
            needle.forget()
            return
        if run.failure is not None and not self.doubt:
            self._misfit(run.failure, None, None, whole(run.start_total))
        for note in run.notes:
            if note.kind != ev.SPLIT:
                self.tell(note.kind, note.where, data=note.data, words=note.name, trouble=False)
        if needle.left == [0] and needle.right == [0] and not needle.lm and not needle.rm:
            needle.alive = False
            needle.fresh = False

    def plain(self, it: Plain) -> None:
        key, number = self.key, self.pass_number
        rows = self.book.plain_rows(it)

        if len(rows) > 1 and it.rows is not None:
            count = max(0, it.rows.at(self.size))
            whole_times, rest = divmod(count, len(rows))

            def rhythm(piece: Repeating, which: int, final: bool) -> None:
                for i, row in enumerate(rows):
                    piece.key = (*key, which, i)
                    piece.pass_number = which
                    piece.plain_row(row)

            self.passes(rhythm, whole_times, it.span, key)
            for i in range(rest):
                self.key = (*key, whole_times + 1, i)
                self.pass_number = whole_times + 1
                self.plain_row(rows[i])
            self.key, self.pass_number = key, number
            return

        def once(piece: Repeating, which: int, final: bool) -> None:
            for i, row in enumerate(rows):
                piece.key = (*key, which, i)
                piece.pass_number = which
                piece.plain_row(row)

        if it.rows is not None:
            self.passes(once, max(0, it.rows.at(self.size)), it.span, key)
        elif it.until is not None and it.until.kind is UntilKind.LENGTH:
            self.until_length(once, it.until, it.span, key, None)
        else:
            once(self, 1, True)
        self.key, self.pass_number = key, number

    def ease(self, it: Ease) -> None:
        key, number = self.key, self.pass_number
        needle = self.needle
        by = it.by.at(self.size)
        every = max(1, it.every.at(self.size))
        times = self._ease_times(it, by, every)
        if times is None:
            needle.forget()
            return
        if not needle.alive:
            self.started = True
            if needle.known:
                self.tell(ev.NO_STITCHES, it.span)
            needle.forget()
        if times <= 0:
            return
        if it.shaping is not None and it.shaping.steps:
            shaping = it.shaping
            between = Row("", None, "", shaping.in_round, (), (), it.span, it.span, it.span)
            lead = max(0, it.first - 1)

            def once(piece: Repeating, which: int, final: bool) -> None:
                gap = lead if which == 1 else every - 1
                piece.pass_number = which
                for i in range(min(gap, 2)):
                    piece.key = (*key, which, i)
                    piece.set_row(between)
                if gap > 2:
                    piece.needle.rows += gap - 2
                    if not shaping.in_round and gap % 2:
                        piece.set_row(between)
                        piece.needle.rows -= 1
                piece.key = (*key, which, 3)
                piece.row(shaping)

            self.passes(once, times, it.span, key)
            self.key, self.pass_number = key, number
            return
        rows = max(1, it.first) + (times - 1) * every
        needle.rows += rows
        if needle.known:
            before = whole(needle.total())
            after = before + by * times
            if after < 0 or (by < 0 and before + by * (times - 1) < -2 * by):
                self.tell(
                    ev.NEGATIVE,
                    it.span,
                    data={"before": before, "by": by, "times": times, "after": after},
                )
                needle.forget()
                self.doubt = False
            elif after > LIMIT:
                self._too_big(it.span, after)
            else:
                self._ease_records(it, key, before, by, times)
                self.fold_in(after)
        self.key, self.pass_number = key, number

    def fold_in(self, after: int) -> None:
        needle = self.needle
        if not needle.rm and not needle.lm and needle.left == [0]:
            needle.right = [after]
        else:
            needle.set_total(after)

    def _ease_records(self, it: Ease, key: Key, before: int, by: int, times: int) -> None:
        rows: list[Record] = []
        for i in sorted({1, 2, times} & set(range(1, times + 1))):
            n = before + by * (i - 1)
            rows.append(Record((*key, i, 0), None, "", it.span, "", i, n, n, n + by, n + by))
        self.records.extend(rows)
        if times > 3:
            self.between.append(Between(key[0], len(key), 2, times - 1, 1, [rows[1]], [rows[0]]))

    def _ease_times(self, it: Ease, by: int, every: int) -> int | None:
        if it.times is not None:
            return it.times.at(self.size)
        until = it.until
        needle = self.needle
        if until is None:
            return 1
        if until.kind is UntilKind.COUNT:
            target = until.num.at(self.size)
            if not needle.known:
                needle.set_total(target)
                return 0
            now = whole(needle.total())
            left = target - now
            if left == 0:
                return 0
            if by == 0 or (left > 0) != (by > 0):
                self.tell(
                    ev.NEVER_ENDS, until.span, data={"target": target, "count": now, "change": by}
                )
                needle.set_total(target)
                return 0
            if left % by:
                n = left // by
                self.tell(
                    ev.STEPPED_OVER,
                    until.span,
                    data={
                        "target": target,
                        "before": now + n * by,
                        "after": now + (n + 1) * by,
                        "change": by,
                    },
                )
                needle.set_total(target)
                return 0
            return left // by
        if self.gauge is None or not until.tenths_mm:
            return None
        tenths = until.tenths_mm[min(self.size, len(until.tenths_mm) - 1)]
        rows = int(Fraction(tenths, 1000) * self.gauge + Fraction(1, 2))
        if not until.from_here:
            rows -= needle.rows
        return max(0, (rows - max(1, it.first)) // every + 1)


def needs_open(steps: Sequence[Step]) -> bool:
    """Whether loose steps take stitches off the left-hand needle."""
    return any(not isinstance(s, Mark | Take | On) and type(s).__name__ != "Shift" for s in steps)


_MARKER = re.compile(r"\b(?:m|mk|pm|sm|rm|markers?)\b", re.IGNORECASE)


def _speaks_of_markers(steps: Sequence[Step]) -> bool:
    """Whether a passage told in general terms may have moved markers."""
    return any(
        isinstance(step, Mark) or (isinstance(step, Unread) and bool(_MARKER.search(step.text)))
        for step in steps
    )
