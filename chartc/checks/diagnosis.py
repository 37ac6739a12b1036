"""The troubles of a text sorted into roots and consequences.

The counting tells everything that does not come out. Here the first trouble is taken, the
change looked for that mends it, and the text worked on with that change: what comes out then
was a consequence and is not mentioned. A trouble no single change mends is told as it is, and
what follows is left alone until a stated count comes out again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from chartc.checks.edits import Changer
from chartc.checks.repairs import Finder, Tried, as_mends
from chartc.checks.trial import Chain, Lane, Link, Purse
from chartc.checks.troubles import COUNT_TROUBLES, Group, Mend, Trouble, grouped
from chartc.counting import Counted
from chartc.counting.whole import begins_free, chosen_readings
from chartc.pattern import Pattern
from chartc.source import Source

MOST_TROUBLES = 30  # of a chain; a text with more is not to be read at all
MOST_SEARCHES = 8  # troubles for which a mend is looked for
UNBOUND = 1 << 40


def diagnose(
    source: Source, pattern: Pattern, counted: Counted, gauge: Fraction | None = None
) -> tuple[Trouble, ...]:
    """The root troubles of a text, in the order in which it is worked."""
    sections = {e.section for e in counted.events if e.kind in COUNT_TROUBLES}
    if not sections:
        return ()
    readings = chosen_readings(pattern, gauge)
    bound = [i for i in range(len(pattern.sections)) if not begins_free(pattern, i)]
    out: list[Trouble] = []
    free = [i for i in sorted(sections) if i not in bound]
    for i in free:
        links = [Link(i, k, it) for k, it in enumerate(pattern.sections[i].flow)]
        lanes = [(0, n) for n in numbers_for(pattern, counted, i)]
        chain = Chain(links, lanes, gauge, readings)
        out.extend(_Diagnosis(source, pattern, chain, one_size=True).run())
    if any(i in sections for i in bound):
        links = [
            Link(i, k, it) for i in bound for k, it in enumerate(pattern.sections[i].flow)
        ]
        lanes = [(size, None) for size in range(max(1, len(pattern.sizes)))]
        chain = Chain(links, lanes, gauge, readings)
        out.extend(_Diagnosis(source, pattern, chain, one_size=False).run())
    return tuple(out)


def numbers_for(pattern: Pattern, counted: Counted, section: int) -> list[int]:
    """Numbers of stitches to try a stitch pattern on."""
    multiple = pattern.sections[section].multiple
    if multiple is not None and multiple.of > 0:
        return [2 * multiple.of + multiple.plus, 3 * multiple.of + multiple.plus]
    shown = counted.sections[section].shown_on
    return [shown if shown is not None else 1]


class _Diagnosis:
    def __init__(self, source: Source, pattern: Pattern, chain: Chain, one_size: bool) -> None:
        self.chain = chain
        self.one_size = one_size
        self.source = source
        self.pattern = pattern
        self._finder: Finder | None = None

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
            if number < MOST_SEARCHES:
                found = self.finder.mends(troubled)
            out.append(Trouble(self.group(troubled), as_mends(found)))
            if found:
                self.adopt(found[0], purse)
            else:
                chain.known = chain.known | {(kind, span)}
                for lane in troubled:
                    chain.run(lane, lane.stopped, purse)
        return out

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


__all__ = ["COUNT_TROUBLES", "Group", "Mend", "Trouble", "diagnose", "grouped"]
