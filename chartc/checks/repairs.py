"""Where the slip is: the single change of the text that makes everything come out.

A row that does not come out is often not the row with the slip. Every single-token change of
the rows worked since the count was last confirmed is tried: the count goes on from the state
kept before the row, so that only what comes after is worked again, and of all changes that
move the count alike only one is worked. Those with which the text comes out are ranked by how
well they go with the rest of the text.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from chartc.checks.edits import Changer, Edit, Editor, Key, Steps, number_text, value_span
from chartc.checks.ranking import Ranking
from chartc.checks.trial import Chain, Lane, Met, Outcome, Purse, Spent, rows_within
from chartc.checks.troubles import Mend
from chartc.counting import events as ev
from chartc.findings import Repair
from chartc.pattern import (
    Again,
    CastOn,
    Ease,
    Finish,
    Instruction,
    Loose,
    Num,
    Pattern,
    Row,
    Stated,
    Work,
    walk,
)
from chartc.source import Source, Span
from chartc.stitch import Stitch

MOST_ROWS = 6000  # rows worked on trial for one trouble
MOST_PLACES = 80  # row statements looked at for the slip, the nearest first
MOST_MENDS = 4
MOST_KINDS = 14  # different stitches put in on trial
_NUMBERS = re.compile(r"\d+\s*[(\[]\s*\d+(?:\s*[,:;]\s*\d+)*\s*[)\]]")
SMALL = (-1, 1, -2, 2, -3, 3)


@dataclass(frozen=True)
class Tried:
    """An edit that makes the trouble go away, and how far the text comes with it."""

    edit: Edit
    start: int
    last: int  # the link its row is last worked in before the trouble
    full: int  # lanes that come out to the end
    reached: tuple[tuple[int, tuple[int, ...]], ...]


@dataclass(frozen=True, slots=True)
class Place:
    """A row of the chain: the links it is first and last worked in before the trouble."""

    row: Row
    first: int
    last: int


class Finder:
    """Looks for the change that mends a trouble of a chain."""

    def __init__(self, source: Source, pattern: Pattern, chain: Chain) -> None:
        self.source = source
        self.pattern = pattern
        self.chain = chain
        self.editor = Editor(source, pattern)
        self.ranking = Ranking(source, pattern, self.editor.printed)

    def mends(self, troubled: Sequence[Lane]) -> list[Tried]:
        """Edits that mend the first trouble of these lanes, the likeliest first."""
        stopped = max(lane.stopped for lane in troubled)
        start = min(self.anchor(lane) for lane in troubled)
        purse = Purse(MOST_ROWS)
        found = self.search(troubled, start, stopped, purse)
        if not found and start:
            found = self.search(troubled, self.cast_on_before(stopped), stopped, purse)
        if not found:
            return []
        most = max(tried.full for tried in found)
        if most:
            best = [tried for tried in found if tried.full == most]
        else:
            far = max(tried.reached for tried in found)
            best = [tried for tried in found if tried.reached == far]
        return self.ranking.sort(best, troubled, stopped)

    @staticmethod
    def anchor(lane: Lane) -> int:
        """The link after the last one in which a stated count came out."""
        for at in range(lane.stopped - 1, -1, -1):
            if lane.anchors[at]:
                return at + 1
        return 0

    def cast_on_before(self, stopped: int) -> int:
        for at in range(stopped, -1, -1):
            if isinstance(self.chain.links[at].instruction, CastOn):
                return at
        return 0

    # -------------------------------------------------------------- searching

    def search(
        self, troubled: Sequence[Lane], start: int, stopped: int, purse: Purse
    ) -> list[Tried]:
        found: list[Tried] = []
        groups: dict[Key, Tried | None] = {}
        sizes = [lane.size for lane in troubled]
        try:
            for edit, first, last in self.edits(troubled, sizes, start, stopped):
                key = (first, *edit.group)
                if key in groups:
                    known = groups[key]
                    if known is not None:
                        found.append(replace(known, edit=edit, last=last))
                    continue
                tried = self.attempt(edit, first, troubled, purse)
                groups[key] = tried
                if tried is not None:
                    found.append(replace(tried, last=last))
        except Spent:
            pass
        return found

    def attempt(
        self, edit: Edit, first: int, troubled: Sequence[Lane], purse: Purse
    ) -> Tried | None:
        changer = Changer(edit)
        reached: dict[int, Outcome] = {}
        order = [*troubled, *(lane for lane in self.chain.lanes if lane not in troubled)]
        for n, lane in enumerate(order):
            if lane.stopped < first:
                continue  # it stops before the change is reached
            outcome = self.chain.outcome(lane, first, changer, purse)
            if outcome.progress < lane.progress:
                return None
            if n < len(troubled) and outcome.progress <= lane.progress:
                return None
            reached[id(lane)] = outcome
        full = sum(outcome.met is None for outcome in reached.values())
        return Tried(edit, first, first, full, tuple(o.progress for o in reached.values()))

    def edits(
        self, troubled: Sequence[Lane], sizes: Sequence[int], start: int, stopped: int
    ) -> Iterator[tuple[Edit, int, int]]:
        """All edits of what is worked from the link `start` to the trouble, with the link each
        first matters in; those of the row in trouble first."""
        met = troubled[0].met
        assert met is not None
        deltas = self.deltas(troubled)
        if met.event.kind == ev.STATED_DIFFERS:
            for edit in self.stated(troubled):
                yield edit, stopped, stopped
        for place in self.places(start, stopped, met):
            for edit in self.editor.row(place.row, sizes, deltas, self.used_near(place.row)):
                yield edit, place.first, place.last
        for at in range(stopped, start - 1, -1):
            it = self.chain.links[at].instruction
            for num, least in self.numbers(it):
                for edit in self.editor.number(num, (at, num.span), None, deltas, sizes,
                                               least=least):  # fmt: skip
                    if edit.kind == "number":
                        edit = replace(edit, kind="cast on" if isinstance(it, CastOn) else "times")
                    yield edit, at, at
            if isinstance(it, CastOn):
                for edit in self.sums(it, at, deltas, sizes):
                    yield edit, at, at
            if met.event.kind != ev.STATED_DIFFERS:
                for stated in self.totals(it):
                    for edit in self.editor.number(stated.num, (at, stated.span), None, deltas,
                                                   sizes):  # fmt: skip
                        yield replace(edit, kind="stated"), at, at

    @staticmethod
    def totals(it: Instruction) -> Iterator[Stated]:
        """Counts stated: where the count is not known they are taken as they stand."""
        stack = [it]
        while stack:
            one = stack.pop()
            if isinstance(one, Again):
                stack.extend(one.rows)
            elif isinstance(one, Row | Loose):
                yield from (s for s in one.stated if s.kind == "total")

    def sums(
        self, it: CastOn, at: int, deltas: Sequence[int], sizes: Sequence[int]
    ) -> Iterator[Edit]:
        """A piece begun with stitches from several places: one of the numbers told."""
        text = self.source.plain[it.span.start : it.span.end]
        if value_span(self.source, it.count, 0) is not None or len(it.count.values) < 2:
            return
        for told in _NUMBERS.finditer(text):
            found = list(re.finditer(r"\d+", told[0]))
            if len(found) != len(it.count.values):
                continue
            was = tuple(int(one[0]) for one in found)
            for size in sizes:
                one = found[size]
                start = it.span.start + told.start() + one.start()
                where = Span(start, start + len(one[0]))
                for d in deltas:
                    if was[size] + d < 0:
                        continue
                    values = list(it.count.values)
                    values[size] += d
                    now = (*was[:size], was[size] + d, *was[size + 1 :])
                    yield Edit(
                        "size", (at, "sum", size, d), where, Repair(where, str(was[size] + d)),
                        f"with {was[size] + d} for {was[size]}", None,
                        num=(it.count.span, tuple(values)), by=d, was=was, now=now,
                    )  # fmt: skip

    @staticmethod
    def numbers(it: Instruction) -> Iterator[tuple[Num, int]]:
        if isinstance(it, CastOn):
            yield it.count, 1
        elif isinstance(it, Again | Ease):
            if it.times is not None:
                yield it.times, 1
            if it.until is not None:
                yield it.until.num, 1
            if isinstance(it, Again):
                for inner in it.rows:
                    if not isinstance(inner, Row):
                        yield from Finder.numbers(inner)
        elif isinstance(it, Loose):
            for step in it.steps:
                count = getattr(step, "count", None)
                if isinstance(count, Num):
                    yield count, 1
        elif isinstance(it, Finish) and it.count is not None:
            yield it.count, 0

    def places(self, start: int, stopped: int, met: Met) -> list[Place]:
        """The rows worked in a stretch of the chain, the last ones first, the row in trouble
        before all; each statement of the text once."""
        firsts: dict[int, int] = {}
        rows: dict[int, Place] = {}
        for at in range(stopped + 1):
            for row in rows_within(self.chain.links[at].instruction):
                key = id(row.steps)
                firsts.setdefault(key, at)
                if at >= start and row.steps:
                    rows[key] = Place(row, firsts[key], at)
        out = sorted(rows.values(), key=lambda p: -p.last)
        trouble = met.event.row
        if trouble is not None:
            out.sort(key=lambda p: p.row.steps is not trouble.steps)
        return out

    def used_near(self, row: Row) -> list[Stitch]:
        """The stitches of the rows about a row that change the count or are worked oddly."""
        rows, at = self.ranking.kin.get(id(row.steps), ([row.steps], 0))
        near = rows[max(0, at - 8) : at + 9]
        found: dict[str, Stitch] = {}
        for steps in near:
            for step in walk(steps):
                if isinstance(step, Work) and step.stitch.uses + step.stitch.makes:
                    found.setdefault(step.stitch.key, step.stitch)
        return list(found.values())[:MOST_KINDS]

    @staticmethod
    def deltas(troubled: Sequence[Lane]) -> list[int]:
        """By how much numbers are changed on trial: a little, and by what is missing."""
        out = list(SMALL)
        for lane in troubled:
            assert lane.met is not None
            data = lane.met.event.data
            found = [data[key] for key in ("short", "left", "remainder") if key in data]
            if "stated" in data and "counted" in data:
                found.append(data["stated"] - data["counted"])
            for n in found:
                for d in (n, -n):
                    if d and d not in out and abs(d) < 1000:
                        out.append(d)
        return out

    def stated(self, troubled: Sequence[Lane]) -> Iterator[Edit]:
        """The statement changed to what is counted."""
        met = troubled[0].met
        assert met is not None
        event = met.event
        num = self.stated_num(met)
        if num is None or event.words in ("change", "repeat", "side"):
            return
        values = list(num.values)
        text = self.source.at(num.span)
        if not num.sized:
            counted = {lane.met.event.data["counted"] for lane in troubled if lane.met}
            if len(counted) != 1:
                return
            new = counted.pop()
            repair = Repair(num.span, number_text(text, new))
            yield Edit("stated", ("stated",), num.span, repair, f"with “{repair.text}” here",
                       event.row, num=(num.span, (new,)), by=new - num.values[0])  # fmt: skip
            return
        spans = []
        for lane in troubled:
            assert lane.met is not None
            where = value_span(self.source, num, lane.size)
            if where is None:
                return
            values[lane.size] = lane.met.event.data["counted"]
            spans.append((where, values[lane.size]))
        out = text
        for where, new in sorted(spans, reverse=True, key=lambda one: one[0].start):
            a, b = where.start - num.span.start, where.end - num.span.start
            out = out[:a] + str(new) + out[b:]
        place = spans[0][0] if len(spans) == 1 else num.span
        repair = Repair(place, str(spans[0][1]) if len(spans) == 1 else out)
        by = max((b - a for a, b in zip(num.values, values, strict=True)), key=abs)
        yield Edit("stated", ("stated",), place, repair, f"with “{repair.text}” here", event.row,
                   num=(num.span, tuple(values)), by=by)  # fmt: skip

    def stated_num(self, met: Met) -> Num | None:
        span = met.event.span

        def of(stated: Iterable[Stated]) -> Num | None:
            return next((one.num for one in stated if one.span == span), None)

        stack: list[Instruction] = [link.instruction for link in self.chain.links]
        for it in stack:
            if isinstance(it, Again):
                stack.extend(it.rows)
            elif isinstance(it, Row | Loose):
                found = of(it.stated)
                if found is not None:
                    return found
            elif isinstance(it, Finish) and it.count is not None and it.count.span == span:
                return it.count
        return None


def as_mends(found: Sequence[Tried]) -> tuple[Mend, ...]:
    """The likeliest edits as mends, each wording once."""
    out: list[Mend] = []
    for tried in found:
        edit = tried.edit
        mend = Mend(edit.row, edit.place, edit.repair, edit.words, edit.kind, tried.full > 0)
        if all(mend.repair != one.repair for one in out):
            out.append(mend)
        if len(out) == MOST_MENDS:
            break
    return tuple(out)


__all__ = ["Finder", "Steps", "Stitch", "Tried", "as_mends"]
