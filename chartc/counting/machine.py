"""The needles, and how one row is worked on them.

`Needle` holds the stitches as numbers: the left-hand needle (ahead) and the right-hand one
(behind), each cut into parts by markers. `RowRun` works the operations of a row on it. The
same code serves plain numbers and numbers that depend on the starting count: whatever has to
be decided is asked of a `Ctx`, which for dependent numbers splits the set of starting numbers
in two and comes back for the other half.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from chartc.counting import events as ev
from chartc.counting.context import Ctx, Failure, GiveUp, Misfit, Note
from chartc.counting.limits import MOST_PASSES
from chartc.counting.lin import Number
from chartc.counting.needle import GAP, HELD, NEEDLE, ROUND, SPLIT, Needle, hard
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
    TakeOp,
    TurnOp,
    UnreadOp,
    Variant,
    find_step,
    plain_times,
)
from chartc.fabric import Done, Pass
from chartc.pattern import NOWHERE, PART, Reach
from chartc.source import Span
from chartc.vocabulary import Stitch

__all__ = ["Needle", "RowResult", "RowRun", "advance"]


@dataclass(slots=True)
class RowResult:
    """What a row did. `times`: how often each repeat was worked, by its number in the row."""

    before: Number
    used: Number
    made: Number
    after: Number
    times: dict[int, Number]
    failure: Failure | None = None
    notes: list[Note] = field(default_factory=list)


def advance(block: Block, p: Number, ctx: Ctx) -> tuple[Number, Number, bool]:
    """Where a marker that lies p loops into a block comes to lie: the loops used and made
    when it is passed, and whether a stitch needed loops from both sides of it.

    A marker is passed when the next stitch needs a loop from beyond it; a stitch that takes
    loops from both sides is finished first. `p` is less than what the block uses.
    """
    used: Number = 0
    made: Number = 0
    while True:
        inner: Block | None = None
        for item in block.items:
            through = item.times * item.use
            if ctx.at_least(p - through):
                p = p - through
                used = used + through
                made = made + item.times * item.make
                continue
            q, rest = ctx.floor(p, item.use)
            used = used + q * item.use
            made = made + q * item.make
            if item.sub is None:
                if rest:
                    return used + item.use, made + item.make, True
                return used, made, False
            inner, p = item.sub, rest
            break
        if inner is None:
            return used, made, False
        block = inner


class RowRun:
    """Works one row on a needle. With `lend`, a row that does not come out is worked on with
    stitches lent or left over, so that the count goes on; the first thing wrong is kept."""

    def __init__(
        self,
        needle: Needle,
        ctx: Ctx,
        in_round: bool,
        lend: bool,
        trace: list[Done] | None = None,
        stand_ins: Callable[[str], Stitch] | None = None,
    ) -> None:
        self.needle = needle
        self.ctx = ctx
        self.in_round = in_round
        self.lend = lend
        self.used: Number = 0
        self.made: Number = 0
        self.times: dict[int, Number] = {}
        self.failure: Failure | None = None
        self.notes: list[Note] = []
        self.to_go: int | None = None  # stitches up to the marker the text speaks of
        self.slipped: list[tuple[str, Number]] = []  # markers passed in silence: name, past it
        self.trace = trace
        self.stand_ins = stand_ins
        self.passes: tuple[Pass, ...] = ()
        self.start_total: Number = 0
        self.shift: int | None = None
        self.rebased = False  # the marker at the start of the round was taken off

    # -------------------------------------------------------------- troubles

    def fail(
        self,
        kind: str,
        where: Span,
        more: Mapping[str, Number] | None = None,
        *,
        name: str = "",
        ident: int = -1,
        **data: Number,
    ) -> None:
        """The row does not come out: keep the first reason (or stop, when not lending)."""
        if self.failure is not None:
            return
        every = {**more, **data} if more else data
        plain = {key: value for key, value in every.items() if isinstance(value, int)}
        failure = Failure(kind, where, plain, ident, name)
        if not self.lend:
            raise Misfit(failure)
        self.failure = failure

    def note(self, kind: str, where: Span, name: str = "", **data: Number) -> None:
        plain = {key: value for key, value in data.items() if isinstance(value, int)}
        self.notes.append(Note(kind, where, plain, name))

    # -------------------------------------------------------------- the row

    def run(self, variant: Variant) -> RowResult:
        needle = self.needle
        if variant.unread:
            raise GiveUp(ev.TOO_DEEP if variant.deep else ev.UNREAD)
        before = needle.total()
        if needle.open_row(self.in_round) and variant.over_gap:
            # the row bridges the split: the other side is taken along again
            _, rest = needle.held.pop()
            needle.left.append(rest)
            needle.lm.append(GAP)
        before = needle.total()
        self.start_total = before
        self.ops(variant.ops)
        self.close(variant)
        self.forget_marks(HELD)
        if self.shift is not None:
            needle.shift += self.shift
            self.shift_round(self.shift)
        needle.rows += 1
        return RowResult(
            before,
            self.used,
            self.made,
            before - self.used + self.made,
            self.times,
            self.failure,
            self.notes,
        )

    def as_set(self) -> None:
        """A whole row worked over all stitches without change."""
        self.needle.open_row(self.in_round)
        self.start_total = self.needle.total()
        rest = self.dist_end()
        if self.trace is not None and self.stand_ins is not None and isinstance(rest, int):
            self.trace.extend([Done(self.stand_ins("set"), NOWHERE)] * rest)
        self.pass_over(rest)
        self._slip_all()
        self.needle.rows += 1

    def close(self, variant: Variant) -> None:
        """The end of the row: nothing may be left over."""
        needle = self.needle
        if variant.ops and isinstance(variant.ops[-1], TurnOp):
            return
        if self.in_round and sum(isinstance(op, TurnOp) for op in variant.ops) % 2:
            return  # on the way back, the stitches of the round have no end to come to
        rest = self.dist_end()
        if self.in_round and self._new_start(variant, rest):
            return
        if isinstance(rest, int) and rest < 0:
            needle.right[-1] = needle.right[-1] + rest
            self._slip_all()
            needle.left[0] = 0
            return
        if not self.ctx.need_zero(rest):
            where = _last_span(variant.ops)
            self.fail(ev.TOO_MANY, where, left=rest, before=self.start_total, takes=self.used)
            self.pass_over(rest)
        self._slip_all()
        needle.left[0] = 0

    def _new_start(self, variant: Variant, rest: Number) -> bool:
        """Whether the round ends here because its start is moved to this place."""
        if rest == 0:
            return False
        last = variant.ops[-1] if variant.ops else None
        placed = self.rebased and isinstance(last, MarkOp) and last.what == "place"
        if self.shift is None and not placed:
            return False
        self.needle.shift = plain_times(self.made)
        self.shift = None
        return True

    def _slip_all(self) -> None:
        """Soft markers with nothing after them are slipped at the end of a row."""
        needle = self.needle
        while needle.lm and not hard(needle.lm[0]):
            self._slip()

    def _slip(self) -> None:
        needle = self.needle
        mark = needle.lm.pop(0)
        over = needle.left.pop(0)
        if isinstance(over, int) and over < 0:
            needle.left[0] = needle.left[0] + over
        if mark != GAP:
            needle.rm.append(mark)
            needle.right.append(0)

    def pass_over(self, n: Number) -> None:
        """Move stitches across as they are (left over at the end of a row)."""
        needle = self.needle
        while needle.lm and not hard(needle.lm[0]):
            part = needle.left[0]
            needle.right[-1] = needle.right[-1] + part
            needle.left[0] = 0
            n = n - part
            self._slip()
        needle.right[-1] = needle.right[-1] + n
        needle.left[0] = needle.left[0] - n

    # -------------------------------------------------------------- distances

    def dist_end(self) -> Number:
        needle = self.needle
        n = needle.left[0]
        for i, mark in enumerate(needle.lm):
            if hard(mark):
                break
            n = n + needle.left[i + 1]
        return n

    def dist_marker(self, name: str) -> Number | None:
        """Stitches up to the next (or the named) marker; None when there is none ahead.
        "last" is the last one ahead, "#2" the second."""
        needle = self.needle
        if name == "last" or name.startswith("#"):
            ahead: list[Number] = []
            so_far: Number = 0
            for part, mark in zip(needle.left, needle.lm, strict=False):
                so_far = so_far + part
                if hard(mark):
                    break
                if mark != GAP:
                    ahead.append(so_far)
            at = len(ahead) if name == "last" else int(name[1:])
            return ahead[at - 1] if 0 < at <= len(ahead) else None
        if name and name not in needle.lm and name not in needle.rm:
            tail = ROUND + ":" + name
            if tail not in needle.lm and tail not in needle.rm:
                name = ""
        n: Number = 0
        for part, mark in zip(needle.left, needle.lm, strict=False):
            n = n + part
            if mark in (GAP, SPLIT):
                continue
            if not name or mark == name or mark == ROUND + ":" + name:
                return n
        return None

    def _dist_mark(self, wanted: str) -> Number:
        """Stitches up to the end of the needle, or of the part, in work; else of the row."""
        n: Number = 0
        for part, mark in zip(self.needle.left, self.needle.lm, strict=False):
            n = n + part
            if mark == wanted:
                return n
        return self.dist_end()

    def _part_by_needle(self, times: int) -> None:
        """ "(K1, m1r, k to last st on needle, m1l, k1) twice": the stitches lie half and half."""
        needle = self.needle
        if needle.lm or times > 12:
            return
        part = self.ctx.divide(needle.left[0], times)
        if part is None:
            return
        needle.left = [part] * times
        needle.lm = [NEEDLE] * (times - 1)

    def forget_marks(self, mark: str) -> None:
        """Take off the marks of one kind; their stitches stay."""
        needle = self.needle
        while mark in needle.rm:
            at = needle.rm.index(mark)
            needle.rm.pop(at)
            over = needle.right.pop(at + 1)
            needle.right[at] = needle.right[at] + over
        while mark in needle.lm:
            at = needle.lm.index(mark)
            needle.lm.pop(at)
            over = needle.left.pop(at + 1)
            needle.left[at] = needle.left[at] + over

    def dist_gap(self) -> Number | None:
        needle = self.needle
        n: Number = 0
        for part, mark in zip(needle.left, needle.lm, strict=False):
            n = n + part
            if mark == GAP:
                return n
            if mark == SPLIT:
                return None
        return None

    def dist_centre(self, span: Span) -> Number:
        """Stitches up to the centre stitch: the one between two markers, else the middle."""
        needle = self.needle
        n: Number = 0
        for i, part in enumerate(needle.left[:-1]):
            if (
                i
                and not hard(needle.lm[i - 1])
                and not hard(needle.lm[i])
                and self.ctx.equals(part, 1)
            ):
                return n
            n = n + part
        half = self.ctx.divide(self.start_total - 1, 2)
        if half is None:
            self.fail(ev.NO_CENTRE, span, before=self.start_total)
            half = self.ctx.floor(self.start_total, 2)[0]
        return self.dist_end() - half - 1

    def distance(self, reach: Reach, n: int, name: str, span: Span) -> Number:
        """How many stitches lie before a target; failing when it is already passed."""
        needle = self.needle
        if reach is Reach.END:
            return self._dist_mark(name) if name in (NEEDLE, HELD) else self.dist_end()
        if reach is Reach.LAST:
            end = self._dist_mark(name) if name in (NEEDLE, HELD) else self.dist_end()
            return self._short(end, n, span, "end")
        if reach is Reach.OVER:
            return n
        if reach is Reach.UNTIL:
            on: Number = 0
            for i in range(len(needle.right) - 1, -1, -1):
                on = on + needle.right[i]
                if i and needle.rm[i - 1] == SPLIT:
                    break
            d = n - on
            if not self.ctx.need(d):
                self.fail(ev.PAST_TARGET, span, need=n, on=on)
                d = 0
            return d
        if reach in (Reach.CENTRE, Reach.BEFORE_CENTRE):
            return self._short(self.dist_centre(span), n, span, "centre")
        if reach in (Reach.GAP, Reach.BEFORE_GAP, Reach.PAST_GAP):
            gap = self.dist_gap()
            if gap is None:
                if not needle.lost:
                    self.fail(ev.NO_GAP, span)
                else:
                    raise GiveUp(ev.MARKER_LOST, span)
                return self.dist_end()
            if reach is Reach.PAST_GAP:
                return gap + n
            return self._short(gap, n, span, "gap")
        if needle.lost or name == PART:
            raise GiveUp(ev.MARKER_LOST, span)
        if self.to_go == 0 and needle.lm:
            # the text stands at a marker it does not mention slipping: on to the next one
            ahead = [m for m in needle.lm if m not in (GAP, SPLIT)]
            if len(ahead) > 1 or self.in_round:
                while needle.lm and needle.lm[0] in (GAP, SPLIT):
                    self._slip()
                if needle.lm:
                    self._slip()
        self.to_go = None
        to = self.dist_marker(name)
        if to is None:
            if not self.in_round:
                self.fail(ev.NO_MARKER, span, name=name)
            to = self.dist_end()
        if reach is Reach.PAST_MARKER:
            return to + n
        n_before = n if reach is Reach.BEFORE_MARKER else 0
        d = self._short(to, n_before, span, "marker")
        self.to_go = n_before
        return d

    def _short(self, to: Number, n: int, span: Span, what: str) -> Number:
        d = to - n
        if n and not self.ctx.has(d):
            self.fail(
                ev.TOO_FEW, span, name=what, part=to, need=n, short=n - to, before=self.start_total
            )
            return 0
        return d

    # -------------------------------------------------------------- working

    def ops(self, ops: Sequence[Op]) -> None:
        for op in ops:
            if isinstance(op, BlockOp):
                self.block(op.block)
            elif isinstance(op, FillOp):
                self.fill(op)
            elif isinstance(op, RepOp):
                self.repeat(op)
            elif isinstance(op, MarkOp):
                self.mark(op)
            elif isinstance(op, TurnOp):
                if op.leaving is not None:
                    left = self.dist_end()
                    if not self.ctx.need_zero(left - op.leaving):
                        self.fail(ev.LEFT_DIFFERS, op.span, stated=op.leaving, counted=left)
                rest: Number = 0
                for part in self.needle.left:
                    rest = rest + part
                self.needle.turn(self.in_round, self.in_round or self.ctx.at_least(rest, 1))
                self.to_go = None
                if op is not ops[-1]:
                    self.needle.fresh = False
            elif isinstance(op, OffOp):
                self.off(op)
            elif isinstance(op, HoldOp):
                self.hold(op)
            elif isinstance(op, TakeOp):
                self.take(op)
            elif isinstance(op, ChangeOp):
                self.change(op)
            elif isinstance(op, ShiftOp):
                self.shift = op.by
            else:
                assert isinstance(op, UnreadOp)
                raise GiveUp(ev.UNREAD, op.span)

    def shift_round(self, by: int) -> None:
        """Move the start of the round over `by` stitches; markers keep their stitches."""
        needle, ctx = self.needle, self.ctx
        if not needle.rm:
            return
        parts, names = needle.right, needle.rm
        tail: str | None = None
        if parts[-1] == 0:  # the marker at the start of the round moves along
            parts.pop()
            tail = names.pop()
        back = by < 0
        if back:
            parts.reverse()
            names.reverse()
        todo: Number = abs(by)
        while names and ctx.at_least(todo - parts[0]):
            part = parts.pop(0)
            todo = todo - part
            parts[-1] = parts[-1] + part
            parts.append(0)
            names.append(names.pop(0))
        if names:
            parts[0] = parts[0] - todo
            parts[-1] = parts[-1] + todo
            if parts[-1] == 0:  # the new start falls on another marker
                parts.pop()
                tail = tail or names.pop()
        if back:
            parts.reverse()
            names.reverse()
        if tail is not None:
            parts.append(0)
            names.append(tail)

    def block(self, block: Block) -> None:
        """Work a stretch of stitches, passing markers on the way."""
        needle = self.needle
        use, make = block.use, block.make
        self.used = self.used + use
        self.made = self.made + make
        if self.trace is not None:
            self.trace.extend(self.expand(block))
        if self.to_go is not None:
            self.to_go = self.to_go - use if isinstance(use, int) and use <= self.to_go else None
        if not needle.lm:
            left = needle.left[0] - use
            if not self.ctx.has(left):
                self._ran_out(block, needle.left[0])
            needle.left[0] = left
            needle.right[-1] = needle.right[-1] + make
            return
        if isinstance(use, int) and use == 0:
            needle.right[-1] = needle.right[-1] + make
            return
        self._block_over_markers(block)

    def _ran_out(self, block: Block, have: Number) -> None:
        span, at = NOWHERE, dict[str, int]()
        if isinstance(have, int):
            span, at = find_step(block.items, max(0, have))
        ident = at.pop("ident", -1)
        self.fail(
            ev.TOO_FEW,
            span,
            at,
            ident=ident,
            short=block.use - have,
            before=self.start_total,
            takes=self.used,
        )

    def _block_over_markers(self, block: Block) -> None:
        needle, ctx = self.needle, self.ctx
        use = block.use
        edge: Number = needle.left[0]  # where the part in work ends, from the block's start
        used_to: Number = 0  # loops certainly used when the last marker was passed
        made_to: Number = 0
        # counted stitches go on past the start of the round; only open ones end there
        while needle.lm and needle.lm[0] != SPLIT:
            if ctx.at_least(edge - use):
                break
            if not ctx.at_least(used_to - edge, 1):
                if block.even:
                    used_to, made_now = edge, edge
                else:
                    used_to, made_now, across = advance(block, edge, ctx)
                    if across and needle.lm[0] != GAP:
                        self.note(ev.ACROSS_MARKER, self._span_at(block, edge), name=needle.lm[0])
                needle.right[-1] = needle.right[-1] + (made_now - made_to)
                made_to = made_now
            mark = needle.lm.pop(0)
            needle.left.pop(0)
            if mark != GAP:
                needle.rm.append(mark)
                needle.right.append(0)
                self.slipped.append((mark, use - edge))
            edge = edge + needle.left[0]
        if not ctx.has(edge - use):
            self._ran_out(block, edge)
        needle.left[0] = edge - use
        needle.right[-1] = needle.right[-1] + (block.make - made_to)

    def _span_at(self, block: Block, p: Number) -> Span:
        return find_step(block.items, p)[0] if isinstance(p, int) else NOWHERE

    def fill(self, op: FillOp) -> None:
        d = self.distance(op.reach, op.n, op.name, op.span)
        to_go = self.to_go
        if not self.ctx.has(d):
            self.fail(ev.TOO_FEW, op.span, short=-d, before=self.start_total)
            d = 0
        if op.use == 1:
            times: Number = d
        elif op.use == 0:
            if not self.ctx.need_zero(d):
                self.fail(ev.USES_NOTHING, op.span, left=d, before=self.start_total)
            times = 0
        else:
            whole = self.ctx.divide(d, op.use)
            if whole is None:
                times, rest = self.ctx.floor(d, op.use)
                self.fail(
                    ev.DOES_NOT_FIT,
                    op.span,
                    name=op.reach.value,
                    left=rest,
                    part=d,
                    b=op.use,
                    before=self.start_total,
                )
            else:
                times = whole
        self.block(Block((Item(op.use, op.make, times, op.span, op.stitch),)))
        self.to_go = to_go

    def repeat(self, op: RepOp) -> None:
        if op.twice and op.reach is Reach.END:
            self.fail(ev.OPEN_TWICE, op.span, ident=op.ident)
        if op.times is not None:
            self._fixed(op)
        elif op.block is not None and (op.last is None or op.last_block is not None):
            self._open(op)
        else:
            self._open_followed(op)

    def _fixed(self, op: RepOp) -> None:
        """A bracket with markers or open steps in it, so many times."""
        assert op.times is not None
        self.times[op.ident] = op.times
        outer = self.passes
        if op.times > 1 and _by_needle(op.body):
            self._part_by_needle(op.times)
        for number in range(1, op.times + 1):
            if number > MOST_PASSES:
                raise GiveUp(ev.TOO_LONG, op.span)
            final = number == op.times
            self.passes = (*outer, Pass(op.ident, number, final))
            body = op.last if final and op.last is not None else op.body
            self.ops(body)
            if self.failure is not None:
                self.failure.data.setdefault("pass", number)
                if number > 50:
                    break
        self.passes = outer
        self.forget_marks(NEEDLE)

    def _open(self, op: RepOp) -> None:
        """An open repeat of plain stitches."""
        assert op.block is not None and op.reach is not None
        ctx = self.ctx
        part = self.distance(op.reach, op.n, op.name, op.span)
        to_go = self.to_go
        reserve = op.reserve if op.reach is Reach.END else 0
        last = op.last_block
        last_use: Number = 0 if last is None else last.use
        avail = part - reserve - last_use
        least = op.least if last is None else max(0, op.least - 1)
        b = op.block.use
        assert isinstance(b, int)
        data: dict[str, Number] = {
            "part": part,
            "b": b,
            "last": last_use,
            "before": self.start_total,
            "reserve": reserve,
        }
        if b == 0:
            self.fail(ev.USES_NOTHING, op.span, data, ident=op.ident, left=avail)
            r: Number = least
        else:
            if not ctx.has(avail - least * b):
                self.fail(
                    ev.TOO_FEW,
                    op.span,
                    data,
                    name=op.reach.value,
                    ident=op.ident,
                    short=least * b - avail,
                )
                r = 0 if not isinstance(avail, int) else max(0, avail // b)
            elif op.slack and op.reach is Reach.END:
                r = ctx.floor(avail, b)[0]
            else:
                whole = ctx.divide(avail, b)
                if whole is None:
                    r, rest = ctx.floor(avail, b)
                    self.fail(
                        ev.DOES_NOT_FIT,
                        op.span,
                        data,
                        name=op.reach.value,
                        ident=op.ident,
                        left=rest,
                    )
                else:
                    r = whole
        use, make = op.block.use, op.block.make
        assert isinstance(use, int) and isinstance(make, int)
        items = [Item(use, make, r, op.span, None, op.block, op.ident, True)]
        self.times[op.ident] = r
        if last is not None:
            assert isinstance(last.use, int) and isinstance(last.make, int)
            items.append(Item(last.use, last.make, 1, op.span, None, last, op.ident, True))
            self.times[op.ident] = r + 1
        self.block(Block(tuple(items)))
        self.to_go = to_go

    def _open_followed(self, op: RepOp) -> None:
        """An open repeat whose body needs the needle (markers): followed time by time."""
        assert op.reach is not None
        outer = self.passes
        number = 0
        if op.last is not None:
            raise GiveUp(ev.UNDECIDED, op.span)
        if any(isinstance(step, FillOp) and step.reach is Reach.END for step in op.body):
            self.fail(ev.NEVER_REPEATS, op.span, ident=op.ident)
        while True:
            left = self.distance(op.reach, op.n, op.name, op.span)
            self.to_go = None
            if op.reach is Reach.END:
                left = left - op.reserve
            if number >= op.least and self._done(left):
                break
            number += 1
            if number > MOST_PASSES:
                raise GiveUp(ev.TOO_LONG, op.span)
            state = (tuple(self.needle.left), tuple(self.needle.lm))
            self.passes = (*outer, Pass(op.ident, number, False, True))
            self.ops(op.body)
            if self.failure is not None:
                self.failure.data.setdefault("pass", number)
                break
            if state == (tuple(self.needle.left), tuple(self.needle.lm)):
                self.fail(ev.USES_NOTHING, op.span, ident=op.ident, left=left)
                break
        self.passes = outer
        self.times[op.ident] = number

    def _done(self, left: Number) -> bool:
        """Whether an open repeat has come to its end (never past it)."""
        if isinstance(left, int):
            return left <= 0
        return not self.ctx.at_least(left, 1)

    # -------------------------------------------------------------- markers

    def mark(self, op: MarkOp) -> None:
        needle = self.needle
        if op.what == "place":
            needle.rm.append(op.name)
            needle.right.append(0)
            self.to_go = None
            return
        if needle.lost:
            return
        self.to_go = None
        at_start = not needle.rm and len(needle.right) == 1 and needle.right[0] == 0
        while needle.lm and needle.lm[0] == GAP and needle.left[0] == 0:
            self._slip()
        if at_start and self.in_round and needle.left[0] != 0:
            # the marker at the start of the round
            if op.what == "remove":
                self.rebased = True
                if needle.lm and needle.left[-1] == 0:
                    needle.left.pop()
                    needle.lm.pop()
            return
        if not needle.lm or needle.lm[0] == SPLIT:
            rest = self.dist_end()
            if self.in_round and self.ctx.need_zero(rest):
                return
            if op.what == "remove" and needle.rm and needle.right[-1] == 0:
                self._drop_behind()
                return
            self._passed(op, rest)
            return
        part = needle.left[0]
        if op.what == "remove" and needle.rm and needle.right[-1] == 0 and part != 0:
            self._drop_behind()
            return
        if not self.ctx.need_zero(part):
            self._passed(op, part)
            if self.failure is not None and self.failure.kind == ev.MARKER_PASSED:
                return
            needle.right[-1] = needle.right[-1] + part
            needle.left[0] = 0
        self.slipped.clear()
        if op.what == "remove":
            needle.left.pop(0)
            needle.lm.pop(0)
        else:
            name = needle.lm[0]
            self._slip()
            if name.startswith(ROUND):
                needle.rm[-1] = name

    def _drop_behind(self) -> None:
        needle = self.needle
        needle.rm.pop()
        over = needle.right.pop()
        needle.right[-1] = needle.right[-1] + over

    def _passed(self, op: MarkOp, rest: Number) -> None:
        """The text slips a marker that is not at hand."""
        if self.slipped:
            name, over = self.slipped[-1]
            self.fail(ev.MARKER_PASSED, op.span, name=name, over=over)
        elif not self.needle.lm:
            self.fail(ev.NO_MARKER, op.span, name=op.name)
        else:
            self.fail(
                ev.MARKER_LEFT_OVER,
                op.span,
                name=self.needle.lm[0],
                left=rest,
                before=self.start_total,
            )

    # -------------------------------------------------------------- stitches leaving and coming

    def _remove(self, n: Number, span: Span, key: str) -> None:
        """The next n stitches leave the needle; markers among them go with them."""
        needle, ctx = self.needle, self.ctx
        self.used = self.used + n
        self.to_go = None
        if self.trace is not None and isinstance(n, int) and self.stand_ins is not None:
            self.trace.extend([Done(self.stand_ins(key), span, self.passes)] * max(0, n))
        at_start = True
        while needle.lm and not hard(needle.lm[0]):
            part = needle.left[0]
            if at_start and part == 0 and isinstance(n, int) and n > 0:
                self._slip()
                continue
            at_start = False
            if ctx.at_least(part - n):
                break
            n = n - part
            needle.left.pop(0)
            needle.lm.pop(0)
        left = needle.left[0] - n
        if not ctx.has(left):
            self.fail(ev.TOO_FEW, span, short=-left, before=self.start_total, takes=self.used)
        needle.left[0] = left

    def off(self, op: OffOp) -> None:
        needle, ctx = self.needle, self.ctx
        if op.n is not None and op.reach is None:
            n: Number = op.n
        elif op.reach is not None:
            n = self.distance(op.reach, op.target_n, op.name, op.span)
        else:
            n = self.dist_end()
        before: Number = 0
        for i in range(len(needle.right) - 1, -1, -1):
            before = before + needle.right[i]
            if i and needle.rm[i - 1] == SPLIT:
                break
        self._remove(n, op.span, "bo")
        rest = self.dist_end()
        if isinstance(rest, int) and rest < 0:
            return
        splits = False
        if not self.in_round and n != 0 and ctx.at_least(before, 1) and ctx.at_least(rest, 1):
            splits = True
            needle.rm.append(SPLIT)
            needle.right.append(0)
            self.note(ev.SPLIT, op.span, behind=before, ahead=rest)
        if op.kept and (splits or ctx.at_least(rest, 1)):
            self.block(Block((Item(1, 1, 1, op.span, None),)))

    def hold(self, op: HoldOp) -> None:
        n: Number
        if op.n is not None:
            n = op.n
        else:
            n = self.distance(op.reach, op.target_n, op.target_name, op.span)
        self._remove(n, op.span, "hold")
        self.needle.held.append((op.name, n))

    def take(self, op: TakeOp) -> None:
        needle = self.needle
        at = self._holder(op.name)
        if at is None:
            if op.n is None:
                raise GiveUp(ev.HOLD_UNKNOWN, op.span)
            self.note(ev.HOLD_UNKNOWN, op.span, name=op.name, need=op.n)
            n: Number = op.n
        else:
            name, have = needle.held[at]
            n = have if op.n is None else op.n
            rest = have - n
            if op.n is not None and not self.ctx.need(rest):
                self.fail(ev.HELD_TOO_FEW, op.span, name=name, have=have, need=op.n)
                rest = 0
            if rest == 0:
                needle.held.pop(at)
            else:
                needle.held[at] = (name, rest)
        self.made = self.made + n
        self.to_go = None
        if op.worked:
            needle.right[-1] = needle.right[-1] + n
            if self.trace is not None and self.stand_ins is not None and isinstance(n, int):
                self.trace.extend([Done(self.stand_ins("take"), op.span, self.passes)] * n)
        else:
            needle.left[0] = needle.left[0] + n

    def _holder(self, name: str) -> int | None:
        held = self.needle.held
        if not held:
            return None
        for i in range(len(held) - 1, -1, -1):
            if held[i][0] == name:
                return i
        if not name:
            return len(held) - 1
        unnamed = [i for i, (other, _) in enumerate(held) if not other]
        if unnamed:
            return unnamed[-1]
        return 0 if len(held) == 1 else None

    def change(self, op: ChangeOp) -> None:
        """Shaping told by its sum: the rest of the row with so many more or fewer."""
        needle, ctx = self.needle, self.ctx
        rest = self.dist_end() - op.reserve
        need = op.by if op.by >= 0 else -2 * op.by
        if not ctx.need(rest - need):
            self.fail(
                ev.CANNOT_SPREAD, op.span, by=op.by, part=rest, need=need, before=self.start_total
            )
        self.to_go = None
        self.used = self.used + rest
        self.made = self.made + rest + op.by
        if self.trace is not None and self.stand_ins is not None and isinstance(rest, int):
            self.trace.extend(self._spread(rest, op))
        soft = [m for m in needle.lm if not hard(m) and m != GAP]
        if not soft or op.each_end:
            first = op.by // 2 if soft else 0
            needle.right[-1] = needle.right[-1] + first
            left = rest
            while needle.lm and not hard(needle.lm[0]):
                part = needle.left[0]
                if not ctx.at_least(left - part, 1):
                    break
                needle.right[-1] = needle.right[-1] + part
                left = left - part
                needle.left[0] = 0
                self._slip()
            needle.right[-1] = needle.right[-1] + left + (op.by - first)
            needle.left[0] = needle.left[0] - left
            return
        total = needle.total() + op.by
        needle.right, needle.rm = [total - op.reserve], []
        needle.left, needle.lm = [op.reserve], []
        needle.lost = True

    def _spread(self, rest: int, op: ChangeOp) -> Iterator[Done]:
        """The stitches of a spread change: as even as whole stitches allow."""
        assert self.stand_ins is not None
        set_stitch, shape = self.stand_ins("set"), self.stand_ins("inc" if op.by > 0 else "dec")
        n = abs(op.by)
        plain = rest if op.by > 0 else rest - 2 * n
        if op.each_end and n == 2:
            gaps = [min(1, plain), max(0, plain - 2), min(1, max(0, plain - 1))]
        else:
            cuts = [(2 * i + 1) * plain // (2 * n) if n else plain for i in range(n)]
            ends = [0, *cuts, plain]
            gaps = [ends[i + 1] - ends[i] for i in range(len(ends) - 1)]
        for i, gap in enumerate(gaps):
            yield from [Done(set_stitch, op.span, self.passes)] * gap
            if i < n:
                yield Done(shape, op.span, self.passes)

    # -------------------------------------------------------------- stitches one by one

    def expand(self, block: Block) -> Iterator[Done]:
        """Every stitch of a block with the repeats it was worked in."""
        assert self.stand_ins is not None
        yield from self._expand(block, self.passes)

    def _expand(self, block: Block, passes: tuple[Pass, ...]) -> Iterator[Done]:
        assert self.stand_ins is not None
        for i, item in enumerate(block.items):
            times = plain_times(item.times)
            if item.sub is None:
                stitch = item.stitch
                if stitch is None:
                    key = "set"
                    if item.use == 0:
                        key = "co"
                    elif item.make == 0:
                        key = "bo"
                    stitch = self.stand_ins(key)
                yield from [Done(stitch, item.span, passes)] * times
                continue
            after = block.items[i + 1] if i + 1 < len(block.items) else None
            before = block.items[i - 1] if i else None
            more = after is not None and after.ident == item.ident and after.sub is not None
            base = 0
            if before is not None and before.ident == item.ident and before.sub is not None:
                base = plain_times(before.times)
            for number in range(1, times + 1):
                final = number == times and not more
                mark = Pass(item.ident, base + number, final, item.is_open)
                yield from self._expand(item.sub, (*passes, mark))


def _by_needle(ops: Sequence[Op]) -> bool:
    return any(isinstance(op, FillOp | RepOp) and op.name == NEEDLE for op in ops)


def _last_span(ops: Sequence[Op]) -> Span:
    """The last step of a row, for pointing at what is left over."""
    while ops:
        op = ops[-1]
        if isinstance(op, BlockOp):
            return op.block.items[-1].span if op.block.items else NOWHERE
        return op.span
    return NOWHERE
