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

from chartc.checks.loops import sums
from chartc.checks.telling import trouble_words
from chartc.checks.troubles import COUNT_TROUBLES, Group, Trouble
from chartc.counting import Counted, Event, Works
from chartc.counting import events as ev
from chartc.counting.records import Readings
from chartc.counting.whole import begins_free, chosen_readings
from chartc.pattern import CastOn, Instruction, Multiple, Pattern, Repeat, Row, Section, Work, walk
from chartc.source import Source

# a section and the number of an instruction in it, with the instruction
Place = tuple[int, int, Instruction]
# a size, and a number of stitches to begin with where the chain does not cast on itself
Lane = tuple[int, int | None]


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
                (i, k, it) for i in bound for k, it in enumerate(pattern.sections[i].flow)
            ]
            lanes: list[Lane] = [(size, None) for size in range(max(1, len(pattern.sizes)))]
            out.extend(self.roots(links, lanes, one_size=False))
        else:
            for i in bound:
                out.extend(self.by_chance(pattern.sections[i], i))
        return out

    def roots(
        self, links: list[Place], lanes: list[Lane], one_size: bool = True, stated: bool = True
    ) -> list[Trouble]:
        from chartc.checks.roots import Roots
        from chartc.checks.trial import Chain, Link

        chain = Chain([Link(*one) for one in links], lanes, self.gauge, self.readings, stated)
        return Roots(self.source, self.pattern, chain, one_size).run()

    # -------------------------------------------------------------- stitch patterns

    def free(self, section: Section, i: int) -> list[Trouble]:
        """A stitch pattern, worked on numbers of its multiple."""
        found = self.counted.sections[i]
        multiple = section.multiple
        stated = multiple if multiple is not None and multiple.of > 0 else None
        links = [(i, k, it) for k, it in enumerate(section.flow)]
        if stated is not None and found.works is not None:
            if not self.agrees(stated, [found.works, *found.more]):
                if self.own_multiple(section, found.works):
                    return [self.multiple_trouble(section, i, stated, found.works)]
                numbers = self.numbers(stated, found.works)
                return self.roots(links, [(0, n) for n in numbers])
        elif i in self.troubled:
            shown = found.shown_on
            numbers = self.numbers(stated, None) if stated is not None else [shown or 1]
            return self.roots(links, [(0, n) for n in numbers])
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
        self, section: Section, links: list[Place], works: Works, stated: Multiple | None
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
        again = [*links, *((i, k + len(links), it) for i, k, it in links)]
        found = self.roots(again, [(0, n) for n in numbers])[:1]
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
        links = [(i, k, it) for k, it in enumerate(section.flow) if k > starts[0]]
        numbers = self.numbers(stated, None)
        return self.roots(links, [(0, n) for n in numbers], stated=False)[:1]


def _pattern_of_rows(section: Section) -> bool:
    """Whether a section is nothing but rows that are numbered from 1: a stitch pattern to be
    worked over and over."""
    rows = [it for it in section.flow if isinstance(it, Row)]
    return (
        len(rows) == len(section.flow) > 1
        and rows[0].number == 1
        and all(row.number is not None for row in rows)
    )
