"""The text worked through in one size, with plain numbers.

Rows are counted one by one and what they do is noted for the ledger. Repeated rows are
followed until two times through change the stitches alike; from there the last time through
is known without the ones between (each row is a straight-line map, so equal changes stay
equal), and only the last is worked again to see that it still fits.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from chartc.counting import events as ev
from chartc.counting.events import Event
from chartc.counting.lin import Number
from chartc.counting.machine import Ctx, Failure, GiveUp, Needle, RowResult, RowRun, find_step
from chartc.counting.rows import Block, FillOp, Item, RepOp, Simple, Variant, sized, variants, whole
from chartc.pattern import (
    NOWHERE,
    Again,
    CastOn,
    Ease,
    Finish,
    Instruction,
    Join,
    Loose,
    Mark,
    Num,
    On,
    Plain,
    Row,
    Stated,
    Step,
    Take,
    Unread,
    Until,
    UntilKind,
)
from chartc.source import Span

LIMIT = 10_000_000  # stitches; no needle holds more
FOLLOWED = 400  # times through followed one by one when the changes never settle























class Piece:
    """A piece of knitting in one size, worked through the text."""

    def __init__(
        self, book: RowBook, size: int, gauge: Fraction | None, readings: Readings
    ) -> None:
        self.book = book
        self.size = size
        self.gauge = gauge
        self.readings = readings
        self.needle = Needle(0, alive=False)
        self.section = -1
        self.records: list[Record] = []
        self.between: list[Between] = []
        self.events: list[Event] = []
        self._told: set[tuple[str, Span, str]] = set()
        self.troubles = 0  # every trouble, told or not
        self.doubt = False  # the count is a guess: the next row may put it right
        self.others: tuple[int, ...] = ()  # counts to try when the next row does not fit
        self.any_side = True  # the first row may begin on either side
        self.started = False
        self.seen: set[tuple[int, int, int | None]] = set()  # rows worked at least once
        self.first = True  # the row in work is worked for the first time
        self.key: Key = ()
        self.pass_number = 1
        self.names: list[str] = []
        # for the unrolling: called for each row with its reading, the needle before it and
        # the side that faces the worker
        self.worker: Callable[[Row, Variant, Needle, str], None] | None = None

    # -------------------------------------------------------------- telling

    def tell(
        self,
        kind: str,
        span: Span,
        row: Row | None = None,
        words: str = "",
        ident: int = -1,
        at: Span = NOWHERE,
        data: dict[str, int] | None = None,
        trouble: bool = True,
    ) -> None:
        if trouble:
            self.troubles += 1
        key = (kind, span, words)
        if key in self._told:
            return
        self._told.add(key)
        self.events.append(
            Event(
                kind,
                span,
                row,
                self.size,
                data or {},
                self.section,
                self.pass_number,
                ident,
                words,
                at,
            )
        )

    # -------------------------------------------------------------- flow

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
        found = [i for i, (name, _) in enumerate(held) if name == it.name]
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
            self.needle.forget()
            self.any_side = True
            self.started = True
        elif steps:
            way = self.book.ways(steps, self.size)[0]
            if not needle.alive and any(isinstance(s, Take | On) for s in steps):
                needle.alive = True
            if needle.known and needle.alive:
                self._loose_steps(it, way)
        if it.stated:
            self.check_stated(it.stated, None, None, None, it.span)

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

    # -------------------------------------------------------------- rows

    def row(self, row: Row, counted: bool = True) -> None:
        if row.only is not None and self.size not in row.only:
            return
        place = (row.span.start, row.span.end, row.number)
        self.first = place not in self.seen
        self.seen.add(place)
        needle = self.needle
        if not needle.alive:
            self._no_stitches(row)
            needle = self.needle
        ways = self.book.ways(row.steps, self.size)
        if needle.known and len(ways) == 1:
            s = ways[0].simple
            if s is not None and needle.bare and not self.readings.doubtful.get(id(row)):
                n = needle.right[0]
                assert isinstance(n, int)
                r, ok = fits(s, n)
                if ok:
                    self._plain_row(row, ways[0], s, n, r)
                    return
        if not needle.known:
            self._blind(row, ways[0])
            return
        self._attempts(row, ways)

    def _plain_row(self, row: Row, way: Variant, s: Simple, n: int, r: int) -> None:
        """A row without markers that comes out."""
        needle = self.needle
        used = n
        after = simple_after(s, n, r)
        start = needle.copy() if self.worker is not None else needle
        side = self.side_of(row, True)
        if self.worker is not None:
            self.worker(row, way, start, side)
        needle.right[0] = after
        needle.rows += 1
        times: dict[int, Number] | None = None
        if s.ident >= 0:
            times = {s.ident: r + 1 if s.last or s.last2 or _has_last(s) else r}
        self.doubt, self.others = False, ()
        self.records.append(
            Record(
                self.key,
                row,
                row.label,
                row.span,
                side,
                self.pass_number,
                n,
                used,
                after - n + used,
                after,
                times,
            )
        )
        if after > LIMIT:
            self._too_big(row.span, after, row)
        elif row.stated:
            self.check_stated(self.stated_here(row), row, n, times, row.span)

    def side_of(self, row: Row, turn: bool) -> str:
        """The side that faces the worker in this row; tells when the text says otherwise."""
        needle = self.needle
        if row.in_round:
            if turn:
                needle.facing = 0
            self.any_side = False
            return ""
        if turn:
            needle.facing ^= 1
        side = "RS" if needle.facing == 0 else "WS"
        if row.side and row.side != side:
            if not self.any_side and needle.known:
                self.tell(ev.SIDE_DIFFERS, row.head, row, words=row.side, trouble=False)
            needle.facing = 0 if row.side == "RS" else 1
            side = row.side
        self.any_side = False
        return side

    def _no_stitches(self, row: Row) -> None:
        if row.steps and isinstance(row.steps[0], Take | On):
            self.needle.alive = True
            return
        if self.started:
            self.tell(ev.NO_STITCHES, row.span, row)
        held = self.needle.held
        self.needle = Needle(0)
        self.needle.held = held
        self.needle.forget()

    def _blind(self, row: Row, way: Variant) -> None:
        """A row on a count that is not known."""
        needle = self.needle
        if not row.in_round:
            needle.facing ^= 1
        self.any_side = True
        side = "" if row.in_round else (row.side or ("RS" if needle.facing == 0 else "WS"))
        if row.side:
            needle.facing = 0 if row.side == "RS" else 1
        self.any_side = not row.side
        needle.rows += 1
        s = way.simple
        used = made = None
        if s is not None and s.open is None and not way.unread:
            used, made = s.a + s.c, s.a2 + s.c2
        total = self.stated_total(self.stated_here(row))
        if total is not None:
            needle.set_total(total)
            self.doubt, self.others = False, ()
        self.records.append(
            Record(
                self.key, row, row.label, row.span, side, self.pass_number, None, used, made, total
            )
        )

    def stated_here(self, row: Row) -> tuple[Stated, ...]:
        """What the row states for this time through: a total holds where the row is first
        worked; later times through a shaped repetition have counts of their own."""
        if self.first:
            return row.stated
        return tuple(one for one in row.stated if one.kind in ("change", "repeat"))

    def stated_total(self, stated: Sequence[Stated]) -> int | None:
        for one in stated:
            if one.kind == "total":
                return one.num.at(self.size)
        return None

    def attempt(self, row: Row, way: Variant, needle: Needle) -> RowResult:
        """Work a row on a needle (which changes), lending stitches when it does not fit."""
        s = way.simple
        if s is not None and needle.bare:
            n = whole(needle.right[0])
            r, ok = fits(s, n)
            if not ok:
                r = max(r, s.least)
            after = simple_after(s, n, r)
            needle.right[0] = after
            needle.facing = 0 if row.in_round else needle.facing ^ 1
            needle.rows += 1
            times: dict[int, Number] = {}
            if s.ident >= 0:
                times[s.ident] = r + 1 if _has_last(s) else r
            failure = None if ok else simple_failure(s, n)
            used = n if ok or failure is None else failure.data.get("takes", n)
            return RowResult(n, used, after - n + used, after, times, failure)
        run = RowRun(needle, Ctx(), row.in_round, True)
        return run.run(way)

    def _attempts(self, row: Row, ways: tuple[Variant, ...]) -> None:
        """A row that does not come out at once, has markers, or can be read two ways."""
        start = self.needle
        best: tuple[Variant, Needle, RowResult] | None = None
        stop: GiveUp | None = None
        readings = self.readings
        forced = readings.chosen.get(id(row))
        groups: dict[tuple[int, ...], int] = {}
        fine: set[int] = set()
        ambiguous = len(ways) > 1 and any(way.differs for way in ways)
        for way in ways:
            group = groups.setdefault(tuple(id(d) for d in way.differs), len(groups))
            if forced is not None and group != forced:
                continue
            if forced is None and readings.final and group != 0:
                continue
            if group in fine:
                continue
            needle = start.copy()
            try:
                result = self.attempt(row, way, needle)
            except GiveUp as gave_up:
                stop = stop or gave_up
                continue
            ok = result.failure is None and not self.differs(row, result, needle)
            if ok:
                fine.add(group)
            if (
                best is None
                or (ok and best[2].failure is not None)
                or (ok and self.differs(row, best[2], best[1]))
            ):
                best = (way, needle, result)
            if ok and not ambiguous:
                break
        if ambiguous and not readings.final:
            readings.doubtful[id(row)] = len(groups)
            for group in groups.values():
                if group not in fine:
                    readings.bad.add((id(row), group))
        if best is None:
            assert stop is not None
            self._gave_up(row, ways[0], stop)
            return
        way, needle, result = best
        if result.failure is not None and (self.doubt or self.others):
            again = self._put_right(row, ways, start)
            if again is not None:
                way, start, needle, result = again
            elif self.doubt:
                self._gave_up(row, way, None)
                return
        self._accept(row, way, start, needle, result)

    def differs(self, row: Row, result: RowResult, needle: Needle) -> bool:
        total = self.stated_total(self.stated_here(row))
        return total is not None and total != result.after

    def _put_right(
        self, row: Row, ways: tuple[Variant, ...], start: Needle
    ) -> tuple[Variant, Needle, Needle, RowResult] | None:
        """After a doubtful count: the count with which this row comes out."""
        counts = list(self.others)
        if self.doubt:
            s = ways[0].simple
            if s is not None:
                near = nearest_fit(s, whole(start.total()))
                if near is not None:
                    counts.append(near)
        for count in counts:
            if not 0 <= count <= LIMIT:
                continue
            for way in ways:
                if way.differs:
                    continue
                right = start.copy()
                right.set_total(count)
                needle = right.copy()
                try:
                    result = self.attempt(row, way, needle)
                except GiveUp:
                    continue
                if result.failure is None:
                    return way, right, needle, result
        return None

    def _gave_up(self, row: Row, way: Variant, stop: GiveUp | None) -> None:
        if stop is not None:
            span = stop.span if stop.span != NOWHERE else row.body
            self.tell(stop.why, span, row)
        if self.needle.known:
            before = self.needle.total()
            self.needle.forget()
            self._blind(row, way)
            self.records[-1].before = whole(before) if stop is not None else None
            if stop is not None and way.net is not None and self.records[-1].after is None:
                self.needle.set_total(before + way.net)
                self.needle.lost = True
                self.records[-1].after = whole(self.needle.total())
                self.doubt = True

    def _accept(
        self, row: Row, way: Variant, start: Needle, needle: Needle, result: RowResult
    ) -> None:
        self.needle = needle
        flips = way.has_turn and not row.in_round
        side = ""
        if not row.in_round:
            # an odd number of turns within the row has already turned the work
            facing = needle.facing ^ (1 if flips and _odd_turns(way) else 0)
            keep = needle.facing
            needle.facing = facing
            side = self.side_of(row, False)
            needle.facing = keep ^ (facing ^ needle.facing)
        else:
            self.any_side = False
        if self.worker is not None:
            self.worker(row, way, start, side)
        before, after = whole(result.before), whole(result.after)
        self.records.append(
            Record(
                self.key,
                row,
                row.label,
                row.span,
                side,
                self.pass_number,
                before,
                whole(result.used),
                whole(result.made),
                after,
                result.times or None,
            )
        )
        for note in result.notes:
            self.tell(note.kind, note.where, row, words=note.name, data=note.data, trouble=False)
        for step in way.differs:
            self.tell(ev.READ_OTHERWISE, step.span, row, trouble=False)
        if result.failure is not None:
            self._misfit(result.failure, row, way, before)
            total = self.stated_total(self.stated_here(row))
            if total is not None:
                needle.set_total(total)
                self.records[-1].after = total
                self.doubt, self.others = False, ()
            else:
                self.doubt = True
                self.others = ()
                if any(isinstance(n, int) and n < 0 for n in needle.numbers()):
                    needle.forget()
            return
        self.doubt, self.others = False, ()
        if after > LIMIT:
            self._too_big(row.span, after, row)
            return
        if row.stated:
            self.check_stated(self.stated_here(row), row, before, result.times, row.span)

    def _too_big(self, span: Span, count: int, row: Row | None = None) -> None:
        self.tell(ev.TOO_BIG, span, row, data={"count": count, "limit": LIMIT})
        self.needle.forget()

    def _misfit(self, failure: Failure, row: Row | None, way: Variant | None, n: int) -> None:
        at = NOWHERE
        if failure.kind == ev.DOES_NOT_FIT and way is not None and way.simple is not None:
            at = runs_out_at(way.simple, failure.data.get("remainder", 0))
        span = failure.where
        if span == NOWHERE:
            span = row.body if row is not None else NOWHERE
        data = dict(failure.data)
        data.setdefault("before", n)
        self.tell(failure.kind, span, row, failure.name, failure.ident, at, data)

    # -------------------------------------------------------------- stated counts

    def check_stated(
        self,
        stated: Sequence[Stated],
        row: Row | None,
        before: int | None,
        times: dict[int, Number] | None,
        span: Span,
    ) -> None:
        """Compare what the text states with what is counted."""
        needle = self.needle
        if not needle.known:
            total = self.stated_total(stated)
            if total is not None:
                needle.set_total(total)
                self.doubt, self.others = False, ()
            return
        after = whole(needle.total())
        for one in stated:
            n = one.num.at(self.size)
            wrong: int | None = None
            if one.kind == "total":
                wrong = None if n == after else after
            elif one.kind == "change":
                wrong = None if before is None or n == after - before else after - before
            elif one.kind == "repeat":
                change = self._repeat_change(row)
                wrong = None if change is None or n == change else change
            elif one.kind == "side":
                wrong = self._each_side(n, after)
            elif one.kind == "marker":
                wrong = self._between_markers(n)
            elif one.kind == "held" and needle.held and all(h != n for _, h in needle.held):
                wrong = whole(needle.held[-1][1])
            if wrong is None:
                continue
            self.tell(
                ev.STATED_DIFFERS,
                one.span,
                row,
                one.kind,
                data={
                    "stated": n,
                    "counted": wrong,
                    "before": -1 if before is None else before,
                    "after": after,
                },
            )
            if one.kind == "total":
                if self.doubt:
                    needle.set_total(n)
                    self.doubt = False
                else:
                    self.others = (n,)

    def _repeat_change(self, row: Row | None) -> int | None:
        if row is None:
            return None
        s = self.book.ways(row.steps, self.size)[0].simple
        if s is None:
            return None
        if s.open is not None:
            return s.b2 - s.b
        for item in s.head.items:
            if item.sub is not None:
                return item.make - item.use
        return None

    def _each_side(self, n: int, after: int) -> int | None:
        parts = self.needle.right
        if len(parts) == 2:
            if parts[0] == n and parts[1] == n:
                return None
            return whole(parts[0] if parts[0] != n else parts[1])
        if after == 2 * n or after == n:
            return None
        return None if len(parts) > 2 else after // 2

    def _between_markers(self, n: int) -> int | None:
        needle = self.needle
        if needle.lost:
            return None
        parts = [*needle.right] if needle.left == [0] else [*needle.right, *needle.left]
        if n in parts:
            return None
        return whole(parts[-2] if len(parts) > 2 else parts[-1])

    # -------------------------------------------------------------- repeated rows

    def again(self, it: Again) -> None:
        key, number = self.key, self.pass_number
        seen = any(
            isinstance(r, Row) and (r.span.start, r.span.end, r.number) in self.seen for r in it.rows
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
        start, end = marks[-2][1], marks[-1][1]
        earlier = self.records[marks[-3][1] : start] if len(marks) >= 3 else []
        rows = self.records[start:end]
        first = number
        number += skip * stride
        if stride == 1 and len(earlier) == len(rows) and skip:
            self.between.append(Between(len(key), first, number, rows, earlier))
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

    # -------------------------------------------------------------- rows told in prose

    def plain(self, it: Plain) -> None:
        key, number = self.key, self.pass_number
        rows = self.book.plain_rows(it)

        if len(rows) > 1 and it.rows is not None:
            count = max(0, it.rows.at(self.size))
            whole_times, rest = divmod(count, len(rows))

            def rhythm(which: int, final: bool) -> None:
                for i, row in enumerate(rows):
                    self.key = (*key, which, i)
                    self.pass_number = which
                    self.plain_row(it, row)

            self.passes(rhythm, whole_times, it.span, key)
            for i in range(rest):
                self.key = (*key, whole_times + 1, i)
                self.pass_number = whole_times + 1
                self.plain_row(it, rows[i])
            self.key, self.pass_number = key, number
            return

        def once(which: int, final: bool) -> None:
            for i, row in enumerate(rows):
                self.key = (*key, which, i)
                self.pass_number = which
                self.plain_row(it, row)

        if it.rows is not None:
            self.passes(once, max(0, it.rows.at(self.size)), it.span, key)
        elif it.until is not None and it.until.kind is UntilKind.LENGTH:
            self.until_length(once, it.until, it.span, key, None)
        else:
            once(1, True)
        self.key, self.pass_number = key, number

    def plain_row(self, it: Plain, row: Row) -> None:
        if row.steps:
            self.row(row)
            return
        needle = self.needle
        if not needle.alive:
            self._no_stitches(row)
            needle = self.needle
        if not needle.known:
            needle.rows += 1
            if not row.in_round:
                needle.facing ^= 1
            return
        start = needle.copy() if self.worker is not None else needle
        RowRun(needle, Ctx(), row.in_round, True).as_set()
        side = self.side_of(row, False)
        if self.worker is not None:
            self.worker(row, AS_SET, start, side)
        n = whole(needle.total())
        self.records.append(Record(self.key, None, "", it.span, side, self.pass_number, n, n, n, n))

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

            def once(which: int, final: bool) -> None:
                gap = lead if which == 1 else every - 1
                self.pass_number = which
                for i in range(min(gap, 2)):
                    self.key = (*key, which, i)
                    self._rest(between, it)
                if gap > 2:
                    self.needle.rows += gap - 2
                    if not shaping.in_round and gap % 2:
                        self._rest(between, it)
                        self.needle.rows -= 1
                self.key = (*key, which, 3)
                self.row(shaping)

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
            self.between.append(Between(len(key), 2, times - 1, [rows[1]], [rows[0]]))

    def _rest(self, between: Row, it: Ease) -> None:
        needle = self.needle
        if not needle.known:
            return
        start = needle.copy() if self.worker is not None else needle
        RowRun(needle, Ctx(), between.in_round, True).as_set()
        side = self.side_of(between, False)
        if self.worker is not None:
            self.worker(between, AS_SET, start, side)

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


AS_SET = Variant((), None, net=0)


def _has_last(s: Simple) -> bool:
    return isinstance(s.open, RepOp) and s.open.last is not None


def _odd_turns(way: Variant) -> bool:
    from chartc.counting.rows import TurnOp

    return sum(isinstance(op, TurnOp) for op in way.ops) % 2 == 1


def needs_open(steps: Sequence[Step]) -> bool:
    """Whether loose steps take stitches off the left-hand needle."""
    return any(not isinstance(s, Mark | Take | On) and type(s).__name__ != "Shift" for s in steps)






