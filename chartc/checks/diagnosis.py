"""The troubles of a text sorted into roots and consequences.

The counting tells everything that does not come out. Here the first trouble is taken, the
change looked for that mends it, and the text worked on with that change: what comes out then
was a consequence and is not mentioned. A trouble no single change mends is told as it is, and
what follows is left alone until a stated count comes out again.

A text may also come out by chance: rows that fit the number cast on, but not the multiple the
text states; a stitch pattern that does not end with the count it began with. Such a text is
worked on numbers on which chance has no part.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from chartc.checks.edits import Changer
from chartc.checks.ranking import ROW_KINDS, sums
from chartc.checks.repairs import Finder, Tried, as_mends
from chartc.checks.telling import CHECKS, trouble_words
from chartc.checks.trial import Chain, Lane, Link, Purse
from chartc.checks.troubles import COUNT_TROUBLES, Group, Trouble
from chartc.checks.words_of import sts
from chartc.counting import Counted, Event, Works
from chartc.counting import events as ev
from chartc.counting.records import Readings
from chartc.counting.whole import begins_free, chosen_readings
from chartc.pattern import (
    Again,
    CastOn,
    Fill,
    Multiple,
    Pattern,
    Reach,
    Repeat,
    Row,
    Section,
    Work,
    walk,
)
from chartc.source import Source, Span

MOST_TROUBLES = 30  # of a chain; a text with more is not to be read at all
MOST_SEARCHES = 8  # troubles for which a mend is looked for
UNBOUND = 1 << 40

# what the reader cannot read for certain: what the row then does not come to follows from it
UNSURE = frozenset(
    {
        "not-understood", "bracket-not-closed", "bracket-not-opened", "star-never-repeated",
        "star-missing", "pass-over-without-slip", "size-list-length", "nothing-left",
    }
)  # fmt: skip


def diagnose(
    source: Source, pattern: Pattern, counted: Counted, gauge: Fraction | None = None
) -> tuple[Trouble, ...]:
    """The root troubles of a text, in the order in which it is worked."""
    unclear = _unclear_stitches(source, pattern)
    return tuple(
        one
        for one in _Diagnosis(source, pattern, counted, gauge).run()
        if not (one.group.row is not None and _works(one.group.row, unclear))
    )


def _unclear_stitches(source: Source, pattern: Pattern) -> frozenset[str]:
    """Stitches whose own explanation is at odds with itself: what goes wrong in a row with one
    of them is put down to the explanation."""
    spans = {
        r.span for r in pattern.remarks if r.check in ("own-stitch-differs", "held-stitches-differ")
    }
    names = {source.at(span).lower() for span in spans}
    return frozenset(
        own.stitch.key for own in pattern.own if own.stitch is not None and own.name.lower() in names
    )


def _works(row: Row, keys: frozenset[str]) -> bool:
    return bool(keys) and any(isinstance(s, Work) and s.stitch.key in keys for s in walk(row.steps))


class _Diagnosis:
    def __init__(
        self, source: Source, pattern: Pattern, counted: Counted, gauge: Fraction | None
    ) -> None:
        self.source = source
        self.pattern = pattern
        self.counted = counted
        self.gauge = gauge
        self._readings: Readings | None = None
        self.troubled = {e.section for e in counted.events if e.kind in COUNT_TROUBLES}
        self.unsure = {e.section for e in counted.events} - self.troubled

    @property
    def readings(self) -> Readings:
        if self._readings is None:
            self._readings = chosen_readings(self.pattern, self.gauge)
        return self._readings

    def run(self) -> list[Trouble]:
        pattern = self.pattern
        bound = [i for i in range(len(pattern.sections)) if not begins_free(pattern, i)]
        out: list[Trouble] = []
        for i, section in enumerate(pattern.sections):
            if i not in bound:
                out.extend(self.free(section, i))
        if any(i in self.troubled for i in bound):
            links = [
                Link(i, k, it) for i in bound for k, it in enumerate(pattern.sections[i].flow)
            ]
            lanes = [(size, None) for size in range(max(1, len(pattern.sizes)))]
            out.extend(self.roots(Chain(links, lanes, self.gauge, self.readings), False))
        else:
            for i in bound:
                out.extend(self.by_chance(pattern.sections[i], i))
        return out

    def roots(self, chain: Chain, one_size: bool) -> list[Trouble]:
        return Roots(self.source, self.pattern, chain, one_size).run()

    # -------------------------------------------------------------- stitch patterns

    def free(self, section: Section, i: int) -> list[Trouble]:
        """A stitch pattern, worked on numbers of its multiple."""
        found = self.counted.sections[i]
        multiple = section.multiple
        stated = multiple if multiple is not None and multiple.of > 0 else None
        links = [Link(i, k, it) for k, it in enumerate(section.flow)]
        if stated is not None and found.works is not None:
            if not self.agrees(stated, [found.works, *found.more]):
                if self.own_multiple(section, found.works):
                    return [self.multiple_trouble(section, i, stated, found.works)]
                numbers = self.numbers(stated, found.works)
                return self.roots(Chain(links, [(0, n) for n in numbers], self.gauge, self.readings), True)
        elif i in self.troubled:
            shown = found.shown_on
            numbers = self.numbers(stated, None) if stated is not None else [shown or 1]
            return self.roots(Chain(links, [(0, n) for n in numbers], self.gauge, self.readings), True)
        net = found.net
        if found.works is None or net is None or not (net.per_repeat or net.fixed):
            return []
        return self.comes_back(section, links, found.works, stated)

    @staticmethod
    def agrees(stated: Multiple, works: Sequence[Works]) -> bool:
        """Whether the rows work for the multiple stated, large enough numbers of it."""
        k = 1 + max(0, max(w.least for w in works) - stated.plus) // stated.of
        return all(
            any(w.holds(stated.of * n + stated.plus) for w in works) for n in (k + 1, k + 2, k + 3)
        ) or all(w.multiple == 0 for w in works)

    @staticmethod
    def numbers(stated: Multiple, works: Works | None) -> list[int]:
        least = works.least if works is not None and works.least < 400 else 0
        k = max(2, -(-(least - stated.plus) // stated.of))
        return [stated.of * n + stated.plus for n in (k, k + 1)]

    @staticmethod
    def own_multiple(section: Section, works: Works) -> bool:
        """Whether at least two rows ask for the multiple that works, so that it is the stated
        one that is wrong."""
        uses = {
            step.span.start: sums(step.body, 0)[0]
            for it in section.flow
            if isinstance(it, Row)
            for step in it.steps
            if isinstance(step, Repeat) and step.target is not None
        }
        asking = sum(1 for total in uses.values() if total and total == works.multiple)
        return bool(uses) and asking >= min(2, len(uses))

    def multiple_trouble(
        self, section: Section, i: int, stated: Multiple, works: Works
    ) -> Trouble:
        said = f"{stated.of}" + (f" plus {stated.plus}" if stated.plus else "")
        is_ = f"{works.multiple}" + (f" plus {works.plus}" if works.plus else "")
        row = next((it for it in section.flow if isinstance(it, Row)), None)
        event = Event(ev.NOTHING_FITS, stated.span, row, None, {}, i)
        words = f"the rows work for multiples of {is_}, not for multiples of {said} as stated here"
        return Trouble(Group((event,)), (), "multiple-stated-differs", words)

    def comes_back(
        self, section: Section, links: list[Link], works: Works, stated: Multiple | None
    ) -> list[Trouble]:
        """A stitch pattern that gains or loses: worked a second time it must still come out,
        or the row is told with which it would end as it began."""
        if not _pattern_of_rows(section) or (works.multiple and not stated):
            return []
        if works.multiple == 0:
            numbers = [works.plus]
        else:
            assert stated is not None
            numbers = self.numbers(stated, works)
        again = [*links, *(Link(one.section, one.index + len(links), one.instruction) for one in links)]
        chain = Chain(again, [(0, n) for n in numbers], self.gauge, self.readings)
        found = self.roots(chain, True)[:1]
        return [
            replace(
                one,
                check="rows-do-not-come-back" if one.check != "repeat-unbalanced" else one.check,
                words=one.words or self.not_back(one),
            )
            for one in found
            if one.mends and one.mends[0].full
        ]

    def not_back(self, trouble: Trouble) -> str:
        return (
            "the rows do not end with the count they began with, so they cannot be worked again: "
            + trouble_words(trouble.group)
        )

    # -------------------------------------------------------------- chance

    def by_chance(self, section: Section, i: int) -> list[Trouble]:
        """A section that comes out on what is cast on, but not on the multiple it states."""
        found = self.counted.sections[i]
        stated = section.multiple
        if stated is None or stated.of <= 1 or found.works is None or len(self.pattern.sizes) > 1:
            return []
        if i in self.unsure or self.agrees(stated, [found.works, *found.more]):
            return []
        starts = [k for k, it in enumerate(section.flow) if isinstance(it, CastOn)]
        if len(starts) != 1:
            return []
        if self.own_multiple(section, found.works):
            return [self.multiple_trouble(section, i, stated, found.works)]
        links = [Link(i, k, it) for k, it in enumerate(section.flow) if k > starts[0]]
        numbers = self.numbers(stated, None)
        chain = Chain(links, [(0, n) for n in numbers], self.gauge, self.readings, stated=False)
        return self.roots(chain, True)[:1]


def _pattern_of_rows(section: Section) -> bool:
    """Whether a section is nothing but rows that are numbered from 1: a stitch pattern to be
    worked over and over."""
    rows = [it for it in section.flow if isinstance(it, Row)]
    return (
        len(rows) == len(section.flow) > 1
        and rows[0].number == 1
        and all(row.number is not None for row in rows)
    )


class Roots:
    """The root troubles of a chain, in the order it is worked."""

    def __init__(self, source: Source, pattern: Pattern, chain: Chain, one_size: bool) -> None:
        self.chain = chain
        self.one_size = one_size
        self.source = source
        self.pattern = pattern
        self._finder: Finder | None = None
        self.unread = [r.span for r in pattern.remarks if r.check in UNSURE]

    @property
    def finder(self) -> Finder:
        if self._finder is None:
            self._finder = Finder(self.source, self.pattern, self.chain)
        return self._finder

    def run(self) -> list[Trouble]:
        chain = self.chain
        purse = Purse(UNBOUND)
        for lane in chain.lanes:
            chain.run(lane, 0, purse)
        out: list[Trouble] = []
        for number in range(MOST_TROUBLES):
            waiting = [lane for lane in chain.lanes if lane.met is not None]
            if not waiting:
                break
            first = min(waiting, key=lambda lane: lane.progress)
            assert first.met is not None
            kind, span = first.met.event.kind, first.met.event.span
            troubled = [
                lane for lane in waiting
                if lane.met is not None
                and (lane.met.event.kind, lane.met.event.span) == (kind, span)
            ]  # fmt: skip
            found: list[Tried] = []
            if not self.unsure(first.met.event):
                if number < MOST_SEARCHES:
                    found = self.finder.mends(troubled)
                out.append(self.trouble(troubled, found))
            if found:
                self.adopt(found[0], purse)
            else:
                chain.known = chain.known | {(kind, span)}
                for lane in troubled:
                    chain.run(lane, lane.stopped, purse)
        return out

    def unsure(self, event: Event) -> bool:
        """Whether the row in trouble could not be read for certain."""
        row = event.row
        spans = [row.span] if row is not None else []
        spans.append(event.span)
        return any(
            one.start <= span.start and span.end <= one.end for one in spans for span in self.unread
        )

    def trouble(self, troubled: Sequence[Lane], found: Sequence[Tried]) -> Trouble:
        group = self.group(troubled)
        mends = as_mends(found)
        check = CHECKS[group.kind]
        if group.kind == ev.DOES_NOT_FIT and _is_rib(group):
            check = "rib-does-not-close"
        words = ""
        best = mends[0] if mends else None
        if best is None and group.first.pass_number > 1 and not self.one_size:
            again = self.chain.links[troubled[0].stopped].instruction
            if isinstance(again, Again) and group.kind in ROW_KINDS and group.row is not None:
                words = (
                    f"{_name(group.row)} comes out the first time but not when it is worked again: "
                    f"{trouble_words(group)}"
                )
                events = tuple(replace(e, span=again.span) for e in group.events)
                return Trouble(Group(events), (), "rows-do-not-come-back", words)
        if best is not None and best.kind == "cast on" and check != "rib-does-not-close":
            check = "cast-on-does-not-work"
        elif best is not None and best.row is not None and group.row is not None:
            elsewhere = best.row.steps is not group.row.steps
            body = _repeat_at(best.row, best.place)
            if elsewhere and body is not None and group.kind != ev.STATED_DIFFERS:
                uses, makes = body
                if uses != makes:
                    check = "repeat-unbalanced"
                    label = _name(group.row)
                    words = (
                        f"this repeat uses {sts(uses)} and makes {makes}, so {label} does not "
                        f"come out: {trouble_words(group)}"
                    )
        return Trouble(group, mends, check, words)

    def group(self, troubled: Sequence[Lane]) -> Group:
        events = [lane.met.event for lane in troubled if lane.met is not None]
        if self.one_size:
            return Group((replace(events[0], size_index=None),))
        return Group(tuple(sorted(events, key=lambda e: e.size_index or 0)))

    def adopt(self, tried: Tried, purse: Purse) -> None:
        """Go on with the text as mended."""
        chain = self.chain
        changer = Changer(tried.edit)
        for at, link in enumerate(chain.links):
            new = changer(link.instruction)
            if new is not link.instruction:
                chain.links[at] = replace(link, instruction=new)
        for lane in chain.lanes:
            if lane.stopped >= tried.start or lane.met is None:
                chain.run(lane, tried.start, purse)


def _name(row: Row) -> str:
    if row.number is None:
        return "a later row" if not row.in_round else "a later round"
    return f"{'rnd' if row.in_round else 'row'} {row.number}"


def _is_rib(group: Group) -> bool:
    """Whether a round is a rib: knits and purls only, repeated all the way."""
    row = group.row
    if row is None or not row.in_round or len(row.steps) != 1:
        return False
    step = row.steps[0]
    if not isinstance(step, Repeat) or step.target is None or step.target.reach is not Reach.END:
        return False
    keys = [s.stitch.key for s in walk(step.body) if isinstance(s, Work)]
    plain = {"k", "p", "k1tbl", "p1tbl", "ktbl", "ptbl", "k-tbl", "p-tbl"}
    faces = {key[0] for key in keys}
    return bool(keys) and set(keys) <= plain and faces == {"k", "p"} and len(keys) <= 4


def _repeat_at(row: Row, place: Span) -> tuple[int, int] | None:
    """Loops used and made by one time through the open repeat a passage stands in."""
    for step in row.steps:
        if isinstance(step, Repeat) and step.target is not None:
            if step.span.start <= place.start and place.end <= step.span.end:
                if any(isinstance(s, Fill) for s in step.body):
                    return None
                return sums(step.body, 0)
    return None


__all__ = ["COUNT_TROUBLES", "Group", "Trouble", "diagnose"]
