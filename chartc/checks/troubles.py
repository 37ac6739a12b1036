"""Troubles of the counts: what the counting tells, put together over the sizes, with the
changes of the text that would mend them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from chartc.checks.words_of import listed, plural
from chartc.counting import Event
from chartc.counting import events as ev
from chartc.findings import Repair
from chartc.pattern import Row
from chartc.source import Span

# kinds of events that say that a row, a repetition or a statement does not come out
COUNT_TROUBLES = frozenset(
    {
        ev.TOO_FEW, ev.TOO_MANY, ev.DOES_NOT_FIT, ev.USES_NOTHING, ev.MARKER_LEFT_OVER,
        ev.MARKER_PASSED, ev.NO_MARKER, ev.NO_GAP, ev.NO_CENTRE, ev.PAST_TARGET,
        ev.LEFT_DIFFERS, ev.CANNOT_SPREAD, ev.HELD_TOO_FEW, ev.NO_STITCHES, ev.NEGATIVE,
        ev.STATED_DIFFERS, ev.STEPPED_OVER, ev.NEVER_ENDS, ev.TOO_BIG, ev.NET_ON_REPETITION,
    }
)  # fmt: skip


@dataclass(frozen=True)
class Group:
    """The same event in one size or several: one problem.

    events   in the order of the sizes; never empty
    """

    events: tuple[Event, ...]

    @property
    def first(self) -> Event:
        return self.events[0]

    @property
    def kind(self) -> str:
        return self.events[0].kind

    @property
    def span(self) -> Span:
        return self.events[0].span

    @property
    def row(self) -> Row | None:
        return self.events[0].row

    @property
    def sizes(self) -> tuple[int, ...]:
        return tuple(e.size_index for e in self.events if e.size_index is not None)

    def has(self, *keys: str) -> bool:
        """Whether the numbers are known in every size."""
        return all(key in e.data for e in self.events for key in keys)

    def number(self, key: str) -> str:
        """A number of the events: once when it is the same in all sizes, else as a list."""
        return listed([e.data[key] for e in self.events])

    def value(self, key: str, default: int = 0) -> int:
        """The number in the first of the sizes."""
        return self.events[0].data.get(key, default)

    def plural(self, key: str, one: str = "st", many: str = "sts") -> str:
        """The number with its noun."""
        return plural([e.data[key] for e in self.events], one, many)


@dataclass(frozen=True)
class Mend:
    """A change of the text with which everything comes out.

    row      the row it is made in, None when it is made elsewhere
    place    the stitch or number at fault, for the finding to point at
    repair   what to replace
    words    the change in words
    kind     what is changed: "number", "insert", "cast on" ... (see `edits.Edit`)
    full     everything comes out with it, not only the row in trouble
    """

    row: Row | None
    place: Span
    repair: Repair
    words: str
    kind: str = ""
    full: bool = True


@dataclass(frozen=True)
class Trouble:
    """A root problem: what the counting tells, and the changes that would mend it, the
    likeliest first.

    check    the name of the check it is told by
    words    the message, when it is not the one of the counting
    """

    group: Group
    mends: tuple[Mend, ...] = ()
    check: str = ""
    words: str = ""

    @property
    def best(self) -> Mend | None:
        return self.mends[0] if self.mends else None


def grouped(events: Iterable[Event]) -> tuple[Group, ...]:
    """The events of the counting, those of several sizes put together."""
    table: dict[tuple[str, Span, str], list[Event]] = {}
    for event in events:
        same = table.setdefault((event.kind, event.span, event.words), [])
        if all(e.size_index != event.size_index for e in same):
            same.append(event)
    return tuple(
        Group(tuple(sorted(same, key=lambda e: e.size_index or 0))) for same in table.values()
    )
