"""The exact set of starting numbers for which a text comes out.

The needle holds numbers that depend on the starting number n, and a set of n for which
everything so far came out. Each row narrows the set (a congruence from its repeat, a bound
from its edges). Where a question has two answers on the set, it is split in two and both
halves are followed; halves that end in the same state are joined again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm
from typing import TypeAlias

from chartc.counting import events as ev
from chartc.counting.context import Ctx, Failure, GiveUp, Misfit
from chartc.counting.events import Event
from chartc.counting.flow import needs_open
from chartc.counting.limits import FOLLOWED, LIMIT, MOST_BRANCHES
from chartc.counting.lin import START, Lin, Number, Range, merged, tidy, unite
from chartc.counting.machine import RowRun
from chartc.counting.needle import Needle, drop_markers
from chartc.counting.ops import Simple, Variant, whole
from chartc.counting.records import Readings, RowBook, first_rows, rows_in
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
    Take,
    Until,
    UntilKind,
)
from chartc.source import Span


@dataclass(slots=True)
class Branch:
    """One case: a set of starting numbers and the needle they lead to.

    trail, rough   the decisions taken since the last time through began (see `Ctx`)
    """

    domain: Range
    needle: Needle
    trail: tuple[int, ...] = ()
    rough: int = 1

    def fresh(self, domain: Range | None = None) -> Branch:
        """A copy to work on, perhaps for fewer numbers, with no decisions taken yet."""
        return Branch(domain or self.domain, self.needle.copy())


@dataclass(slots=True)
class Stand:
    """A case between two times through a block, and the decisions of the one before it."""

    needle: Needle
    mu: int
    trail: tuple[int, ...]
    rough: int


Once: TypeAlias = Callable[[list[Branch], bool], list[Branch]]


@dataclass(slots=True)
class Ruling:
    """The row that narrowed the set last, and the one that left nothing."""

    row: Row | None = None
    span: Span = NOWHERE
    before: Range | None = None
    failure: Failure | None = None
    other: Row | None = None
    constant: bool = False  # the count there did not depend on the starting number


class Exact:
    """Follows a text for all starting numbers at once."""

    def __init__(
        self,
        book: RowBook,
        size: int,
        gauge: Fraction | None,
        readings: Readings,
        *,
        expand: bool = True,
    ) -> None:
        self.book = book
        self.size = size
        self.gauge = gauge
        self.readings = readings
        self.expand = expand  # False: rows as written once, repetitions left out
        self.branches: list[Branch] = []
        self.ruling = Ruling()
        self.narrowed_by: Row | None = None
        self.gave_up: GiveUp | None = None
        self.few: list[Range] = []  # where the row in work ran out of stitches
        self.rows_known = True

    def begin(self, least: int = 1) -> None:
        everything = tidy(0, 1, least, None)
        assert everything is not None
        self.branches = [Branch(everything, Needle(START))]

    # -------------------------------------------------------------- results

    def domains(self) -> list[Range]:
        return unite([branch.domain for branch in self.branches])

    def why(self, section: int) -> Event | None:
        """Why no number works or why it cannot be told."""
        if self.gave_up is not None:
            return Event(
                self.gave_up.why, self.gave_up.span, self.ruling.row, None, section=section
            )
        if self.branches:
            return None
        r = self.ruling
        data: dict[str, int] = dict(r.failure.data) if r.failure is not None else {}
        if r.before is not None:
            data |= {
                "multiple": 0 if r.before.single else r.before.mu,
                "plus": r.before.lo if r.before.single else r.before.rho,
                "first": r.before.lo,
            }
        return Event(
            ev.NOTHING_FITS,
            r.span,
            r.row,
            None,
            data,
            section,
            words=r.failure.kind if r.failure is not None else "",
            other=r.other,
        )

    @property
    def depends(self) -> bool:
        """Whether anything still depends on the starting number."""
        return any(isinstance(n, Lin) for branch in self.branches for n in branch.needle.numbers())

    # -------------------------------------------------------------- flow

    def run(self, flow: Sequence[Instruction]) -> None:
        try:
            for it in flow:
                if not self.branches:
                    return
                self.branches = self.instruction(self.branches, it)
        except GiveUp as stop:
            self.gave_up = stop

    def instruction(self, branches: list[Branch], it: Instruction) -> list[Branch]:
        if isinstance(it, Row):
            return self.row(branches, it)
        if isinstance(it, Again):
            return self.again(branches, it) if self.expand else branches
        if isinstance(it, Plain):
            return self.plain(branches, it)
        if isinstance(it, Ease):
            return self.ease(branches, it)
        if isinstance(it, Loose):
            return self.loose(branches, it)
        if isinstance(it, CastOn):
            for branch in branches:
                old = branch.needle
                needle = Needle(max(0, it.count.at(self.size)))
                needle.held = list(old.held)
                if it.kind == "held":
                    found = [i for i, (name, _) in enumerate(needle.held) if name == it.name]
                    if found:
                        needle.held.pop(found[-1])
                elif old.alive and old.total() != 0:
                    needle.held.append(("\0left", old.total()))
                branch.needle = needle
            return branches
        if isinstance(it, Finish):
            for branch in branches:
                new = Needle(0, alive=False)
                new.held = list(branch.needle.held)
                if it.kind == "hold":
                    new.held.append((it.name, branch.needle.total()))
                branch.needle = new
            return branches
        assert isinstance(it, Join)
        return branches

    # -------------------------------------------------------------- one row

    def row(self, branches: list[Branch], row: Row) -> list[Branch]:
        if row.only is not None and self.size not in row.only:
            return branches
        ways = self.book.ways(row.steps, self.size)
        if len(ways) > 1:
            ways = self._chosen(row, ways)
        out: list[Branch] = []
        for branch in branches:
            if not branch.needle.alive:
                if row.steps and isinstance(row.steps[0], Take | On):
                    branch.needle.alive = True
                else:
                    out.append(branch)
                    continue
            if any(not name for name, _ in branch.needle.held) and not branch.needle.lm:
                out.extend(self._with_held(branch, row, ways))
            else:
                out.extend(self._row(branch, row, ways))
        return joined(out) if len(out) > 1 else out

    def _with_held(self, branch: Branch, row: Row, ways: tuple[Variant, ...]) -> list[Branch]:
        """A row that may take back stitches waiting without a name, when it runs out."""
        self.few = []
        held = branch.needle.held
        out = self._row(branch, row, ways, True)
        short = list(dict.fromkeys(self.few))
        if short and len(ways) > 1:
            raise GiveUp(ev.UNDECIDED, row.span)
        for at in range(len(held) - 1, -1, -1):
            if held[at][0] or not short:
                continue
            still: list[Range] = []
            for part in short:
                fuller = branch.fresh(part)
                _, waiting = fuller.needle.held.pop(at)
                fuller.needle.join_in(waiting, row.in_round)
                back = self._row(fuller, row, ways)
                left = without(part, [b.domain for b in back])
                if left is None:
                    raise GiveUp(ev.UNDECIDED, row.span)
                out.extend(back)
                still.extend(left)
            short = still
        return out

    def _row(
        self, branch: Branch, row: Row, ways: tuple[Variant, ...], track: bool = False
    ) -> list[Branch]:
        """A row on one case, in each of its readings. `track`: note in `few` where it runs
        out of stitches."""
        out: list[Branch] = []
        for way in ways:
            s = way.simple
            if s is not None and branch.needle.bare and not way.unread and not track:
                new = self._plain_row(branch, row, s, len(ways) > 1)
                if new is not None:
                    out.append(new)
                continue

            def work(run: RowRun, way: Variant = way) -> None:
                run.run(way)

            out.extend(self._cases(branch, work, row.in_round, row, row.body))
        return out

    def _chosen(self, row: Row, ways: tuple[Variant, ...]) -> tuple[Variant, ...]:
        wanted = self.readings.chosen.get(id(row), 0)
        groups: dict[tuple[int, ...], int] = {}
        chosen: list[Variant] = []
        for way in ways:
            group = groups.setdefault(tuple(id(d) for d in way.differs), len(groups))
            if group == wanted:
                chosen.append(way)
        return tuple(chosen)

    def _plain_row(self, branch: Branch, row: Row, s: Simple, copy: bool) -> Branch | None:
        needle, domain = branch.needle, branch.domain
        n = needle.right[0]
        if s.open is None:
            gap = n - s.a - s.c
            now = domain.where_at_least(gap)
            now = now.where_at_least(-gap) if now is not None else None
            r: Number = 0
        elif s.keep != s.c:
            now = None
        else:
            avail = n - (s.a + s.c + s.last)
            if s.b == 0:
                now = domain.where_at_least(avail) if s.least <= 1 and s.b2 == 0 else None
                now = now.where_at_least(-avail) if now is not None else None
                r = s.least
            else:
                now = domain.where_at_least(avail - s.least * s.b)
                if now is not None:
                    now = now.where_divides(avail, s.b)
                if now is not None:
                    r = avail // s.b if isinstance(avail, int) else avail.over(s.b)
        if now is None:
            kind = ev.DOES_NOT_FIT if s.open is not None else ev.TOO_FEW
            data = {"a": s.a, "b": s.b, "c": s.c, "last": s.last}
            failure = Failure(kind, row.body, data, s.ident)
            self._rule_out(row, row.body, domain, failure, isinstance(n, int))
            return None
        if now.mu != domain.mu:
            self.narrowed_by = row
        if copy:
            needle = needle.copy()
        after = n + (s.a2 - s.a + s.c2 - s.c + s.last2 - s.last) + r * (s.b2 - s.b)
        needle.right[0] = after
        needle.rows += 1
        needle.facing = 0 if row.in_round else needle.facing ^ 1
        if isinstance(after, Lin) and (now.lo > LIMIT or after.d > LIMIT or after.q > LIMIT**2):
            if now.lo > LIMIT:
                self._rule_out(row, row.body, domain, Failure(ev.TOO_BIG, row.body))
                return None
            raise GiveUp(ev.TOO_BIG, row.body)
        return Branch(now, needle, branch.trail, branch.rough)

    def _rule_out(
        self,
        row: Row | None,
        span: Span,
        domain: Range,
        failure: Failure,
        constant: bool = False,
    ) -> None:
        self.ruling = Ruling(row, span, domain, failure, self.narrowed_by, constant)

    def _cases(
        self,
        branch: Branch,
        work: Callable[[RowRun], object],
        in_round: bool,
        row: Row | None,
        span: Span,
    ) -> list[Branch]:
        """All ways a piece of work can go on a branch."""
        out: list[Branch] = []
        scripts: list[tuple[int, ...]] = [()]
        tried = 0
        while scripts:
            script = scripts.pop()
            tried += 1
            if tried > 4 * MOST_BRANCHES:
                raise GiveUp(ev.UNDECIDED, span)
            ctx = Ctx(branch.domain, script)
            needle = branch.needle.copy()
            ran_out: list[Range] = ctx.few
            try:
                run = RowRun(needle, ctx, in_round, False)
                run.start_total = needle.total()
                work(run)
                assert ctx.domain is not None
                if ctx.domain.mu != branch.domain.mu and row is not None:
                    self.narrowed_by = row
                if ctx.domain.lo > LIMIT:
                    self._rule_out(row, span, branch.domain, Failure(ev.TOO_BIG, span))
                else:
                    trail = (*branch.trail, *ctx.path) if ctx.path else branch.trail
                    rough = lcm(branch.rough, ctx.rough)
                    out.append(Branch(ctx.domain, needle, trail, rough))
            except Misfit as no:
                if no.failure.kind == ev.TOO_FEW and ctx.domain is not None:
                    ran_out.append(ctx.domain)
                fixed = all(isinstance(n, int) for n in branch.needle.numbers())
                self._rule_out(row, span, branch.domain, no.failure, fixed)
            self.few.extend(ran_out)
            scripts.extend(ctx.other_scripts())
        if len(out) > MOST_BRANCHES:
            raise GiveUp(ev.UNDECIDED, span)
        return out

    # -------------------------------------------------------------- repetition

    def block(self, branches: list[Branch], flow: Sequence[Instruction]) -> list[Branch]:
        for it in flow:
            if not branches:
                break
            branches = self.instruction(branches, it)
        return branches

    def again(self, branches: list[Branch], it: Again) -> list[Branch]:
        def once(some: list[Branch], final: bool) -> list[Branch]:
            block: Sequence[Instruction] = it.rows
            if final and it.last_rows:
                block = first_rows(block, it.last_rows, self.size)
            return self.block(some, block)

        if it.until is None:
            times = 1 if it.times is None else max(0, it.times.at(self.size))
            return self.passes(branches, once, times, it.span)
        if it.until.kind is UntilKind.COUNT:
            return self.until_count(branches, once, it.until)
        if it.until.kind is UntilKind.MARKED:
            return self.until_marked(branches, once, it.until)
        return self.until_length(
            branches, once, it.until, it.span, rows_in(it.rows, self.size), _in_round(it.rows)
        )

    def passes(self, branches: list[Branch], once: Once, total: int, span: Span) -> list[Branch]:
        """A block worked `total` times."""
        out: list[Branch] = []
        # a case, the times it was worked, the marks before, how many times through may be
        # left out at once (None: as many as there are)
        if len(branches) != 1:
            for branch in branches:
                out.extend(self.passes([branch], once, total, span))
            return joined(out)
        outer, outer_rough = branches[0].trail, branches[0].rough
        work: list[tuple[Branch, int, list[Stand], int | None]] = [
            (branches[0], 0, [_stand(branches[0])], None)
        ]
        steps = 0
        while work:
            branch, number, marks, cap = work.pop()
            if number >= total:
                branch.trail = (*outer, -2, *branch.trail) if total else outer
                branch.rough = lcm(outer_rough, branch.rough)
                out.append(branch)
                continue
            steps += 1
            if steps > 4 * FOLLOWED:
                raise GiveUp(ev.UNDECIDED, span)
            stride = settled(marks) if cap != 0 else 0
            skip = 0 if not stride else (total - number - 1) // stride
            if cap is not None:
                skip = min(skip, cap)
            if skip > 1:
                for some, worked, seen, most in self._leap(branch, once, stride, skip, marks):
                    work.append((some, number + worked, seen, most))
                continue
            for new in once([branch.fresh()], number + 1 == total):
                work.append((new, number + 1, [*marks[-4:], _stand(new)], None))
        return joined(out)

    def _leap(
        self, branch: Branch, once: Once, stride: int, skip: int, marks: list[Stand]
    ) -> Iterator[tuple[Branch, int, list[Stand], int | None]]:
        """Leave out `skip` strides for all starting numbers for which the one after them
        still goes alike; the other numbers come back to try fewer."""
        base = branch.needle
        before = marks[-1 - stride].needle
        change = [z - y for y, z in zip(before.numbers(), base.numbers(), strict=True)]
        if all(c == 0 for c in change):
            yield Branch(branch.domain, base.copy()), skip * stride, [_stand(branch)], 0
            return
        moved = [_moved(mark.needle, change, skip) for mark in marks[-1 - 2 * stride :]]
        there = moved[-1]
        domain: Range | None = branch.domain
        for n in there.numbers():
            if domain is not None:
                domain = domain.where_at_least(n)
        alike: list[Range] = []
        if domain is not None:
            alike = self._alike(Branch(domain, there), once, stride, change, marks)
        rest = without(branch.domain, alike)
        if rest is None:
            alike, rest = [], [branch.domain]
        for part in alike:
            seen = [
                Stand(needle, mark.mu, mark.trail, mark.rough)
                for needle, mark in zip(moved, marks[-1 - 2 * stride :], strict=True)
            ]
            yield Branch(part, there.copy()), skip * stride, seen, None
        for part in rest:
            yield Branch(part, base.copy()), 0, marks, skip // 2 if skip > 3 else 0

    def _alike(
        self, branch: Branch, once: Once, stride: int, change: list[Number], marks: list[Stand]
    ) -> list[Range]:
        """The starting numbers for which one more stride changes the needle alike, by the
        same decisions."""
        wanted = [n + c for n, c in zip(branch.needle.numbers(), change, strict=True)]
        shape = branch.needle.shape()
        narrowed, ruling = self.narrowed_by, self.ruling
        ends = [branch.fresh()]
        for i in range(stride):
            trail = marks[i - stride].trail
            after: list[Branch] = []
            for end in ends:
                new = once([end.fresh()], False)
                after.extend(b for b in new if b.trail == trail)
            ends = after
        self.narrowed_by, self.ruling = narrowed, ruling
        return [
            end.domain
            for end in ends
            if end.needle.shape() == shape and _same(end.needle.numbers(), wanted, end.domain)
        ]

    def until_count(self, branches: list[Branch], once: Once, until: Until) -> list[Branch]:
        """A block worked until there are so many stitches."""
        target = until.num.at(self.size)
        self.rows_known = False
        out: list[Branch] = []
        work = [(branch, [_stand(branch)], True) for branch in branches]
        steps = 0
        while work:
            branch, marks, may_leap = work.pop()
            steps += 1
            if steps > 4 * FOLLOWED:
                raise GiveUp(ev.UNDECIDED, until.span)
            gap = target - branch.needle.total()
            met = branch.domain.where_at_least(gap)
            met = met.where_at_least(-gap) if met is not None else None
            if met is not None:
                out.append(Branch(met, branch.needle.copy()))
            for up in (1, -1):
                domain = branch.domain.where_at_least(gap * up, 1)
                if domain is None:
                    continue
                part = branch.fresh(domain)
                if may_leap and settled(marks) == 1:
                    done, rest = self._solve(part, marks, gap * up, up, once, until)
                    out.extend(done)
                    work.extend((branch.fresh(r), marks, False) for r in rest)
                    continue
                for new in once([part], False):
                    # stepping over the count rules a starting number out
                    after = (target - new.needle.total()) * up
                    side = new.domain.where_at_least(after)
                    if side is None:
                        self._rule_out(
                            None, until.span, domain, Failure(ev.STEPPED_OVER, until.span)
                        )
                        continue
                    kept = Branch(side, new.needle, new.trail, new.rough)
                    work.append((kept, [*marks[-4:], _stand(kept)], True))
        return joined(out)

    def _solve(
        self,
        branch: Branch,
        marks: list[Stand],
        gap: Number,
        up: int,
        once: Once,
        until: Until,
    ) -> tuple[list[Branch], list[Range]]:
        """Settled changes: the times until the count is met come from one division. Also the
        starting numbers for which the changes do not stay alike so long."""
        base = branch.needle
        before = marks[-2].needle
        change = [z - y for y, z in zip(before.numbers(), base.numbers(), strict=True)]
        gain: Number = 0
        for c in change[: len(change) - len(base.held)]:
            gain = gain + c * up
        if any(isinstance(c, Lin) for c in change) or not isinstance(gain, int):
            raise GiveUp(ev.UNDECIDED, until.span)
        if gain <= 0:
            self._rule_out(None, until.span, branch.domain, Failure(ev.NEVER_ENDS, until.span))
            return [], []
        ctx = Ctx(branch.domain)
        times = ctx.divide(gap, gain)
        if times is None or not ctx.need(times - 1):
            self._rule_out(None, until.span, branch.domain, Failure(ev.STEPPED_OVER, until.span))
            return [], []
        assert ctx.domain is not None
        numbers = [n + (times - 1) * whole(c) for n, c in zip(base.numbers(), change, strict=True)]
        there: Range | None = ctx.domain
        for n in numbers:
            there = there.where_at_least(n) if there is not None else None
        alike: list[Range] = []
        end = base.with_numbers(numbers)
        if there is not None:
            alike = self._alike(Branch(there, end), once, 1, change, marks)
        rest = without(ctx.domain, alike)
        if rest is None:
            return [], [ctx.domain]
        done: list[Branch] = []
        for part in alike:
            done.extend(once([Branch(part, end.copy())], False))
        return done, rest

    def until_marked(self, branches: list[Branch], once: Once, until: Until) -> list[Branch]:
        """A block worked until a part between two markers has so many stitches."""
        target = until.num.at(self.size)
        self.rows_known = False
        out: list[Branch] = []
        work: list[tuple[Branch, list[Number] | None]] = [(branch, None) for branch in branches]
        steps = 0
        while work:
            branch, before = work.pop()
            steps += 1
            if steps > 4 * FOLLOWED:
                raise GiveUp(ev.UNDECIDED, until.span)
            if branch.needle.lost:
                raise GiveUp(ev.MARKER_LOST, until.span)
            parts = list(branch.needle.right)
            inner = parts[1:-1] if len(parts) > 2 else parts
            stuck = before is not None and (parts == before or len(parts) != len(before))

            def ask(ctx: Ctx, inner: Sequence[Number] = inner) -> str:
                if any(ctx.equals(n, target) for n in inner):
                    return "met"
                return "past" if all(ctx.at_least(n, target + 1) for n in inner) else "on"

            for domain, answer in split(branch.domain, ask):
                part = Branch(domain, branch.needle.copy(), branch.trail, branch.rough)
                if answer == "met":
                    out.append(part)
                elif answer == "past" or stuck:
                    self._rule_out(None, until.span, domain, Failure(ev.NEVER_ENDS, until.span))
                else:
                    work.extend((new, parts) for new in once([part.fresh()], False))
        return joined(out)

    def until_length(
        self,
        branches: list[Branch],
        once: Once,
        until: Until,
        span: Span,
        per: int,
        in_round: bool,
    ) -> list[Branch]:
        if self.gauge is not None and until.tenths_mm and per > 0:
            tenths = until.tenths_mm[min(self.size, len(until.tenths_mm) - 1)]
            out: list[Branch] = []
            for branch in branches:
                wanted = Fraction(tenths, 1000) * self.gauge
                if not until.from_here:
                    if not self.rows_known:
                        raise GiveUp(ev.UNDECIDED, until.span)
                    wanted -= branch.needle.rows
                todo = wanted - Fraction(1, 2)
                times = max(1, -((-todo.numerator) // (todo.denominator * per)))
                if until.after_side and not in_round and per % 2:
                    ends = "RS" if (branch.needle.facing + times * per) % 2 == 0 else "WS"
                    times += ends != until.after_side
                out.extend(self.passes([branch], once, times, span))
            return joined(out)
        self.rows_known = False
        out = []
        for one in once(branches, False):
            for two in once([one.fresh()], False):
                if one.needle.shape() != two.needle.shape():
                    raise GiveUp(ev.UNDECIDED, span)
                ctx = Ctx(two.domain)
                if all(
                    ctx.need_zero(b - a)
                    for a, b in zip(one.needle.numbers(), two.needle.numbers(), strict=True)
                ):
                    assert ctx.domain is not None
                    out.append(Branch(ctx.domain, one.needle.copy()))
                else:
                    self._rule_out(None, span, two.domain, Failure(ev.NET_ON_REPETITION, span))
        return joined(out)

    # -------------------------------------------------------------- rows told in prose

    def plain(self, branches: list[Branch], it: Plain) -> list[Branch]:
        rows = self.book.plain_rows(it)

        def some_rows(some: list[Branch], those: Sequence[Row]) -> list[Branch]:
            for row in those:
                if row.steps:
                    some = self.row(some, row)
                else:
                    new: list[Branch] = []
                    for branch in some:
                        if branch.needle.alive:
                            new.extend(self._cases(branch, as_set, row.in_round, row, it.span))
                        else:
                            new.append(branch)
                    some = joined(new)
            return some

        def once(some: list[Branch], final: bool) -> list[Branch]:
            return some_rows(some, rows)

        if it.rows is not None:
            count = max(0, it.rows.at(self.size))
            times, rest = divmod(count, len(rows))
            return some_rows(self.passes(branches, once, times, it.span), rows[:rest])
        if it.until is not None and it.until.kind is UntilKind.LENGTH:
            return self.until_length(branches, once, it.until, it.span, len(rows), it.in_round)
        return once(branches, True)

    def ease(self, branches: list[Branch], it: Ease) -> list[Branch]:
        by = it.by.at(self.size)
        every = max(1, it.every.at(self.size))
        out: list[Branch] = []
        for branch in branches:
            needle = branch.needle
            if not needle.alive:
                out.append(branch)
                continue
            ctx = Ctx(branch.domain)
            total = needle.total()
            times: Number
            if it.times is not None:
                times = it.times.at(self.size)
            elif it.until is not None and it.until.kind is UntilKind.COUNT:
                gap = it.until.num.at(self.size) - total
                found = ctx.divide(gap if by > 0 else -gap, abs(by)) if by else None
                if found is None or not ctx.need(found):
                    self._rule_out(
                        None, it.until.span, branch.domain, Failure(ev.STEPPED_OVER, it.until.span)
                    )
                    continue
                times = found
            elif it.until is not None and self.gauge is not None and it.until.tenths_mm:
                tenths = it.until.tenths_mm[min(self.size, len(it.until.tenths_mm) - 1)]
                rows = int(Fraction(tenths, 1000) * self.gauge + Fraction(1, 2))
                if not it.until.from_here:
                    if not self.rows_known:
                        raise GiveUp(ev.UNDECIDED, it.span)
                    rows -= needle.rows
                times = max(0, (rows - max(1, it.first)) // every + 1)
            else:
                raise GiveUp(ev.UNDECIDED, it.span)
            if it.shaping is not None and it.shaping.steps and isinstance(times, int):
                shaping = it.shaping
                lead = max(0, it.first - 1)

                def once(
                    some: list[Branch], final: bool, gap: int = every - 1, shaping: Row = shaping
                ) -> list[Branch]:
                    return self.row(self._rest(some, gap, shaping.in_round, it), shaping)

                if times > 0:
                    first = self.row(self._rest([branch], lead, shaping.in_round, it), shaping)
                    out.extend(self.passes(first, once, times - 1, it.span))
                else:
                    out.append(branch)
                continue
            after = total + times * by
            if not ctx.need(after) or (
                by < 0
                and not (isinstance(times, int) and times <= 0)
                and not ctx.need(total + (times - 1) * by + 2 * by)
            ):
                self._rule_out(None, it.span, branch.domain, Failure(ev.NEGATIVE, it.span))
                continue
            needle = needle.copy()
            if isinstance(times, int):
                needle.rows += max(1, it.first) + (times - 1) * every if times > 0 else 0
            else:
                self.rows_known = False
            if times != 0:
                if not needle.rm and not needle.lm and needle.left == [0]:
                    needle.right = [after]
                else:
                    needle.set_total(after)
            assert ctx.domain is not None
            out.append(Branch(ctx.domain, needle, branch.trail, branch.rough))
        return joined(out)

    def _rest(self, branches: list[Branch], rows: int, in_round: bool, it: Ease) -> list[Branch]:
        """Rows without change between shaping rows."""
        for _ in range(min(rows, 2 + rows % 2)):
            new: list[Branch] = []
            for branch in branches:
                new.extend(self._cases(branch, as_set, in_round, None, it.span))
            branches = new
        return branches

    def _keep(self, branches: list[Branch], step: Keep) -> list[Branch]:
        """Work goes on over some stitches only; the others wait."""
        count = max(0, step.count.at(self.size))
        out: list[Branch] = []
        for branch in branches:
            old = branch.needle
            ctx = Ctx(branch.domain)
            needle = Needle(count)
            needle.held = list(old.held)
            needle.facing = old.facing
            if old.alive:
                waiting = old.total() - count
                if not ctx.need(waiting):
                    self._rule_out(None, step.span, branch.domain, Failure(ev.TOO_FEW, step.span))
                    continue
                if waiting != 0:
                    needle.held.append(("", waiting))
            assert ctx.domain is not None
            out.append(Branch(ctx.domain, needle, branch.trail, branch.rough))
        return out

    def loose(self, branches: list[Branch], it: Loose) -> list[Branch]:
        if not it.steps:
            return branches
        if len(it.steps) == 1 and isinstance(it.steps[0], Keep):
            return self._keep(branches, it.steps[0])
        way = self.book.ways(it.steps, self.size)[0]
        takes = any(isinstance(s, Take | On) for s in it.steps)
        removes = all(isinstance(s, Mark) and s.op == "remove" for s in it.steps)

        def work(run: RowRun) -> None:
            if removes:
                drop_markers(run.needle)
                return
            if needs_open(it.steps):
                run.needle.open_row(False)
                run.needle.fresh = True
            run.ops(way.ops)
            run.needle.wait()
            if run.shift is not None:
                run.needle.shift += run.shift
                run.shift_round(run.shift)

        out: list[Branch] = []
        for branch in branches:
            if not branch.needle.alive:
                if not takes:
                    out.append(branch)
                    continue
                branch.needle.alive = True
            for new in self._cases(branch, work, False, None, it.span):
                needle = new.needle
                if needle.left == [0] and needle.right == [0] and not needle.lm and not needle.rm:
                    needle.alive = False
                    needle.fresh = False
                out.append(new)
        return joined(out)


def split(domain: Range, ask: Callable[[Ctx], str]) -> list[tuple[Range, str]]:
    """The answers to a question, each with the starting numbers it holds for."""
    out: list[tuple[Range, str]] = []
    scripts: list[tuple[int, ...]] = [()]
    while scripts:
        script = scripts.pop()
        ctx = Ctx(domain, script)
        answer = ask(ctx)
        assert ctx.domain is not None
        out.append((ctx.domain, answer))
        scripts.extend(ctx.other_scripts())
        if len(out) > 4 * MOST_BRANCHES:
            raise GiveUp(ev.UNDECIDED)
    return out


def as_set(run: RowRun) -> None:
    run.as_set()


def _in_round(block: Sequence[Instruction]) -> bool:
    return any(isinstance(r, Row) and r.in_round for r in block)


def _stand(branch: Branch) -> Stand:
    return Stand(branch.needle, branch.domain.mu, branch.trail, branch.rough)


def _moved(needle: Needle, change: Sequence[Number], strides: int) -> Needle:
    return needle.with_numbers(
        [n + c * strides for n, c in zip(needle.numbers(), change, strict=True)]
    )


def without(domain: Range, parts: Sequence[Range]) -> list[Range] | None:
    """What is left of a set when some parts of it, of the same step, are taken out; None
    when a part has another step."""
    left: list[Range] = [domain]
    for part in parts:
        after: list[Range] = []
        for one in left:
            if part.mu != one.mu and not part.single:
                return None
            for lo, hi in (
                (one.lo, part.lo - 1),
                (max(one.lo, part.hi + 1), one.hi) if part.hi is not None else (1, 0),
            ):
                if hi is None or lo <= hi:
                    rest = tidy(
                        one.rho, one.mu, lo, hi if one.hi is None or hi is None else min(hi, one.hi)
                    )
                    if rest is not None:
                        after.append(rest)
        left = after
    return left


def settled(marks: list[Stand]) -> int:
    """1 or 2 when the last changes were alike each time, or each second time; else 0."""
    for stride in (1, 2):
        if len(marks) < 2 * stride + 1:
            continue
        late = marks[-2 * stride :]
        if any(m.trail != n.trail for m, n in zip(late, late[stride:], strict=False)):
            continue
        a, b, c = marks[-1 - 2 * stride], marks[-1 - stride], marks[-1]
        if not a.mu == b.mu == c.mu:
            continue
        if not (a.needle.shape() == b.needle.shape() == c.needle.shape()):
            continue
        na, nb, nc = a.needle.numbers(), b.needle.numbers(), c.needle.numbers()
        if not len(na) == len(nb) == len(nc):
            continue
        rough = lcm(*(m.rough for m in late))
        if all(
            y - x == z - y and (rough == 1 or _by(z - y, rough))
            for x, y, z in zip(na, nb, nc, strict=True)
        ):
            return stride
    return 0


def _by(change: Number, rough: int) -> bool:
    """Whether a change is a plain multiple."""
    return isinstance(change, int) and change % rough == 0


def _same(one: Sequence[Number], two: Sequence[Number], domain: Range) -> bool:
    """Whether two lists of numbers agree on a set (two points settle a straight line)."""
    points = [domain.lo]
    if not domain.single:
        points.append(domain.lo + domain.mu)
    for a, b in zip(one, two, strict=True):
        if a == b:
            continue
        p, q, d = (a, 0, 1) if isinstance(a, int) else (a.p, a.q, a.d)
        r, s, e = (b, 0, 1) if isinstance(b, int) else (b.p, b.q, b.d)
        if any((p + q * n) * e != (r + s * n) * d for n in points):
            return False
    return True


def joined(branches: list[Branch]) -> list[Branch]:
    """Cases with the same outcome as one case, where their sets make one progression."""
    if len(branches) < 2:
        return branches
    work = list(branches)
    again = True
    while again and len(work) > 1:
        again = False
        for i in range(len(work)):
            for j in range(len(work)):
                if i == j:
                    continue
                a, b = work[i], work[j]
                if a.domain.single and not b.domain.single:
                    continue
                if a.needle.shape() != b.needle.shape():
                    continue
                na, nb = a.needle.numbers(), b.needle.numbers()
                if len(na) != len(nb) or len(a.needle.left) != len(b.needle.left):
                    continue
                both = merged(a.domain, b.domain)
                if both is None or not _same(na, nb, b.domain):
                    continue
                rest = [x for k, x in enumerate(work) if k not in (i, j)]
                trail = a.trail if a.trail == b.trail else (-1, *a.trail, -1, *b.trail)
                work = [*rest, Branch(both, a.needle, trail, lcm(a.rough, b.rough))]
                again = True
                break
            if again:
                break
    if len(work) > MOST_BRANCHES:
        raise GiveUp(ev.UNDECIDED)
    return work
