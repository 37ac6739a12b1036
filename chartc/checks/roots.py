"""The root troubles of a chain: the first trouble, the change that mends it, and on from there.

Loaded only when something does not come out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from chartc.checks.edits import Changer
from chartc.checks.loops import sums
from chartc.checks.ranking import ROW_KINDS
from chartc.checks.repairs import Finder, Tried, as_mends
from chartc.checks.telling import CHECKS, trouble_words
from chartc.checks.trial import HORIZON, Chain, Lane, Purse, rows_within
from chartc.checks.troubles import Group, Trouble
from chartc.checks.words_of import sts
from chartc.counting import events as ev
from chartc.pattern import Again, Fill, Pattern, Reach, Repeat, Row, Work, walk
from chartc.source import Source, Span

MOST_TROUBLES = 30  # of a chain; a text with more is not to be read at all
MOST_SEARCHES = 8  # troubles for which a mend is looked for
UNBOUND = 1 << 40

# what the reader cannot read for certain: what the row then does not come to follows from it
UNSURE = frozenset(
    {
        "not-understood", "bracket-not-closed", "bracket-not-opened", "star-never-repeated",
        "star-missing", "pass-over-without-slip", "size-list-length", "nothing-left", "row-not-there",
        "row-range-backwards",
    }
)  # fmt: skip


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
        doubtful = -1  # the link after a mend with which not everything comes out
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
            unsure = self.unsure(first)
            if first.stopped <= doubtful:
                # nothing has come out in between: the mend was not the right one
                doubtful = -1
            elif not unsure:
                if number < MOST_SEARCHES:
                    found = self.finder.mends(troubled)
                out.append(self.trouble(troubled, found))
            if found:
                doubtful = -1 if found[0].full else first.stopped + 1
                self.adopt(found[0], purse)
            else:
                chain.known = {**chain.known, (kind, span): unsure}
                for lane in troubled:
                    chain.run(lane, lane.stopped, purse)
        return out

    def unsure(self, lane: Lane) -> bool:
        """Whether what is in trouble could not be read for certain."""
        assert lane.met is not None
        event = lane.met.event
        spans = [event.span, self.chain.links[lane.stopped].instruction.span]
        if event.row is not None:
            spans.append(event.row.span)
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
        edit = tried.edit
        changer = Changer(edit)
        where = {tried.start}
        if edit.row is not None:
            where.update(chain.worked_in.get(id(edit.row.steps), ()))
        if edit.tup is None and len(chain.links) < 4 * HORIZON:
            where.update(range(len(chain.links)))
        for at in sorted(where):
            link = chain.links[at]
            new = changer(link.instruction)
            if new is not link.instruction:
                chain.links[at] = replace(link, instruction=new)
                for row in rows_within(new):
                    worked = chain.worked_in.setdefault(id(row.steps), [])
                    if at not in worked:
                        worked.append(at)
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
