"""The results of counting, as other stages read them."""

from __future__ import annotations

from dataclasses import dataclass

from chartc.counting.events import Event
from chartc.counting.lin import Range
from chartc.pattern import Row
from chartc.source import Span


@dataclass(frozen=True, slots=True)
class Works:
    """Starting numbers that work: multiple * k + plus, from `least` up to `most`.

    `plus` is less than `multiple`; "multiple of 4 + 6" is multiple 4, plus 2, least 10.
    multiple 0: `plus` is the only number. most None: no end.
    """

    multiple: int
    plus: int
    least: int
    most: int | None = None

    def holds(self, n: int) -> bool:
        """Whether n stitches work."""
        if self.multiple == 0:
            return n == self.plus
        return (
            n >= self.least
            and (self.most is None or n <= self.most)
            and (n - self.plus) % self.multiple == 0
        )

    def below(self, n: int) -> int | None:
        """The largest working number under n."""
        if self.multiple == 0:
            return self.plus if self.plus < n else None
        top = n - 1 if self.most is None else min(n - 1, self.most)
        if top < self.least:
            return None
        return top - (top - self.plus) % self.multiple

    def above(self, n: int) -> int | None:
        """The smallest working number over n."""
        if self.multiple == 0:
            return self.plus if self.plus > n else None
        low = max(n + 1, self.least)
        low += (self.plus - low) % self.multiple
        return low if self.most is None or low <= self.most else None


def as_works(r: Range) -> Works:
    if r.single:
        return Works(0, r.lo, r.lo, r.lo)
    return Works(r.mu, r.rho, r.lo, r.hi)


@dataclass(frozen=True, slots=True)
class Net:
    """The change of the count after the rows as written once: per_repeat * k + fixed, where
    the starting number is multiple * k + plus."""

    per_repeat: int
    fixed: int


@dataclass(frozen=True, slots=True)
class SizeCount:
    """One row in one size. Counts are None where they are not known.

    before  stitches on the needles when the row begins
    used    stitches taken from the left-hand needle (worked, bound off or put on a holder)
    made    stitches put on the right-hand needle
    after   before - used + made
    """

    size_index: int
    before: int | None
    used: int | None
    made: int | None
    after: int | None


@dataclass(frozen=True, slots=True)
class RepeatBalance:
    """One repeat of a row: how often it is worked in each size (aligned with the entry's
    `sizes`; None where not known) and what one time through uses, makes, adds and takes."""

    ident: int
    span: Span
    times: tuple[int | None, ...]
    uses: int
    makes: int
    increases: int
    decreases: int


@dataclass(frozen=True, slots=True)
class LedgerEntry:
    """One worked row, for all sizes that work it at this time through.

    section      index of the section
    row          the row as written; None for rows told in prose (`span` tells which)
    side         "RS", "WS", or "" for a round
    pass_number  which time through its block, from 1
    folded       times through left out of the list just before this entry
    """

    section: int
    label: str
    row: Row | None
    span: Span
    side: str
    pass_number: int
    sizes: tuple[SizeCount, ...]
    repeats: tuple[RepeatBalance, ...] = ()
    folded: int = 0


@dataclass(frozen=True, slots=True)
class SectionCount:
    """A section counted.

    works      the starting numbers that work, None when there is none or it cannot be told;
               only for sections that begin with a number of their own (free or cast on)
    more       further numbers that do not fit into the one progression of `works`
    why_not    when `works` is None: the event that says why
    net        the change after the rows as written once, None when it cannot be told
    shown_on   for a free section the number of stitches the ledger is shown on
    """

    section: int
    works: Works | None
    why_not: Event | None
    net: Net | None
    entries: tuple[LedgerEntry, ...]
    more: tuple[Works, ...] = ()
    shown_on: int | None = None


@dataclass(frozen=True, slots=True)
class WholeText:
    """From one cast-on, in one size: the numbers with which the whole text that hangs on it
    works.

    printed     the number in the text, and whether it works (None: cannot be told)
    works       the numbers that work, one progression or several; () none or not known
    why_not     the row that rules the printed number (or every number) out, or why it
                cannot be told
    below, above  nearest working numbers where the printed one does not work
    """

    section: int
    size_index: int
    span: Span
    printed: int
    fits: bool | None
    works: tuple[Works, ...]
    why_not: Event | None
    below: int | None = None
    above: int | None = None


@dataclass(frozen=True)
class Counted:
    """Everything the counting found: one `SectionCount` for each section of the pattern, the
    sets of whole texts, and the events in the order of the text."""

    sections: tuple[SectionCount, ...]
    whole: tuple[WholeText, ...]
    events: tuple[Event, ...]

    @property
    def entries(self) -> tuple[LedgerEntry, ...]:
        return tuple(entry for section in self.sections for entry in section.entries)
