"""Rows counted one by one, with plain numbers, in one size.

What a row does is noted for the ledger; what does not come out is told, and the count goes on
as well as it can.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from math import lcm

from chartc.counting import events as ev
from chartc.counting.context import Ctx, Failure, GiveUp
from chartc.counting.events import Event
from chartc.counting.limits import LIMIT
from chartc.counting.lin import Number
from chartc.counting.machine import RowResult, RowRun
from chartc.counting.needle import Needle
from chartc.counting.ops import MarkOp, RepOp, Simple, TurnOp, Variant, whole
from chartc.counting.records import (
    Between,
    Key,
    Readings,
    Record,
    RowBook,
)
from chartc.counting.rows import net_of
from chartc.counting.simple import (
    fits,
    nearest_fit,
    runs_out_at,
    simple_after,
    simple_failure,
)
from chartc.pattern import (
    NOWHERE,
    On,
    Row,
    Stated,
    Take,
)
from chartc.source import Span

AS_SET = Variant((), None)


class RowWork:
    """The work in one size: the needle, and the rows worked on it."""

    def __init__(
        self, book: RowBook, size: int, gauge: Fraction | None, readings: Readings
    ) -> None:
        self.book = book
        self.size = size
        self.gauge = gauge
        self.readings = readings
        self.needle = Needle(0, alive=False)
        self.trail: list[int] = []  # decisions taken since it was last emptied
        self.rough = 1  # what the numbers must move by for the same decisions again
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
        self.leaps = True  # times through that go alike may be left out
        self.key: Key = ()
        self.pass_number = 1
        self.names: list[str] = []
        # for the unrolling: called for each row with its reading, the needle before it and
        # the side that faces the worker
        self.worker: Callable[[Row, Variant, Needle, str], None] | None = None

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

    def plain_row(self, row: Row) -> None:
        """A row told in prose."""
        if row.steps:
            self.row(row)
            return
        if not self.needle.alive:
            self._no_stitches(row)
        side = self.set_row(row)
        if self.needle.known:
            n = whole(self.needle.total())
            self.records.append(
                Record(self.key, None, "", row.span, side, self.pass_number, n, n, n, n)
            )

    def set_row(self, row: Row) -> str:
        """A row worked as the stitches are set, without change. Returns its side."""
        needle = self.needle
        if not needle.known:
            needle.rows += 1
            if not row.in_round:
                needle.facing ^= 1
            return ""
        start = needle.copy() if self.worker is not None else needle
        RowRun(needle, Ctx(), row.in_round, True).as_set()
        side = self.side_of(row, False)
        if self.worker is not None:
            self.worker(row, AS_SET, start, side)
        return side

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
        if any(isinstance(op, MarkOp) for op in way.ops):
            needle.lost = True  # markers placed or slipped who knows where
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
        ctx = Ctx()
        result = RowRun(needle, ctx, row.in_round, True).run(way)
        self.trail.extend(ctx.path)
        if ctx.rough > 1:
            self.rough = lcm(self.rough, ctx.rough)
        return result

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
        if result.failure is not None and result.failure.kind == ev.TOO_FEW:
            back = self._with_held(row, ways, start)
            if back is not None:
                way, start, needle, result = back
        if result.failure is not None and (self.doubt or self.others):
            again = self._put_right(row, ways, start)
            if again is not None:
                way, start, needle, result = again
            elif self.doubt:
                self._gave_up(row, way, None)
                return
        self._accept(row, way, start, needle, result)

    def _with_held(
        self, row: Row, ways: tuple[Variant, ...], start: Needle
    ) -> tuple[Variant, Needle, Needle, RowResult] | None:
        """A row that runs out of stitches takes back those that wait without a name, as when
        the instep is taken along again after the heel."""
        for at in range(len(start.held) - 1, -1, -1):
            name, waiting = start.held[at]
            if name or not isinstance(waiting, int):
                continue
            fuller = start.copy()
            fuller.held.pop(at)
            fuller.join_in(waiting, row.in_round)
            for way in ways:
                if way.differs:
                    continue
                needle = fuller.copy()
                try:
                    result = self.attempt(row, way, needle)
                except GiveUp:
                    continue
                if result.failure is None:
                    return way, fuller, needle, result
        return None

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
        net = net_of(way.ops) if stop is not None and not way.unread else None
        if stop is not None:
            span = stop.span if stop.span != NOWHERE else row.body
            self.tell(stop.why, span, row, trouble=net is None)
        if self.needle.known:
            before = self.needle.total()
            self.needle.forget()
            self._blind(row, way)
            self.records[-1].before = whole(before) if stop is not None else None
            if net is not None and self.records[-1].after is None:
                self.needle.set_total(before + net)
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


def _has_last(s: Simple) -> bool:
    return isinstance(s.open, RepOp) and s.open.last is not None


def _odd_turns(way: Variant) -> bool:
    return sum(isinstance(op, TurnOp) for op in way.ops) % 2 == 1
