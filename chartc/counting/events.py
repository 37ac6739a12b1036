"""What the counting has to tell: events, and the kinds there are.

An event holds exact numbers, never words for the reader; the checks put them into trade
words.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from chartc.pattern import NOWHERE, Row
from chartc.source import Span

# A row does not come out. Data where known: before (stitches there are), takes (stitches the
# row asks for), short or left; for rows with one open repeat also a, b, c, last (loops used
# before, in, after it, and by a last time that differs), remainder (left over after the last
# whole repeat), below and above (the nearest counts that fit); for targets part (stitches up
# to the target) and need.
TOO_FEW = "too-few"
TOO_MANY = "too-many"
DOES_NOT_FIT = "repeat-does-not-fit"
USES_NOTHING = "repeat-uses-nothing"  # an open repeat that uses no stitch never ends
NEVER_REPEATS = "never-repeats"  # what is repeated goes to the end of the row itself
OPEN_TWICE = "open-twice"  # two repeats in one row both go to the end: how often each?
MARKER_LEFT_OVER = "marker-left-over"  # left: stitches before a marker the text slips now
MARKER_PASSED = "marker-passed"  # over: stitches already worked past it
NO_MARKER = "no-marker"  # the text speaks of a marker and there is none ahead
NO_GAP = "no-gap"
NO_CENTRE = "no-centre"  # an even number of stitches has no centre stitch
PAST_TARGET = "past-target"  # need, on: more stitches on the needle than "until there are"
LEFT_DIFFERS = "left-differs"  # "leaving n sts unworked": stated, counted
CANNOT_SPREAD = "cannot-spread"  # by, part, need: shaping over too few stitches
HELD_TOO_FEW = "held-too-few"  # have, need: more stitches taken from a holder than it has
NO_STITCHES = "no-stitches"  # rows go on though nothing is on the needle
NEGATIVE = "negative"  # shaping by its sum takes more stitches than there are

# The text states a number and another is counted: stated, counted; `words` is the kind of
# `Stated` ("total", "change", "repeat", "side", "marker", "held"), "cast-on", or "finish".
STATED_DIFFERS = "stated-differs"

# Repetition
STEPPED_OVER = "stepped-over"  # target, before, after, passes: never exactly that count
NEVER_ENDS = "never-ends"  # target, count, change: the count does not come nearer
ALREADY_THERE = "already-there"  # target: no pass is worked
TOO_BIG = "too-big"  # count, limit: more stitches than a needle can hold
NET_ON_REPETITION = "net-not-zero-on-repetition"  # change: rows repeated do not come back
SIDE_CANNOT = "side-cannot"  # the repetition never ends on the side the text names

# Remarks
ACROSS_MARKER = "across-marker"  # a stitch takes loops from both sides of a marker
SPLIT = "split"  # behind, ahead: a bind-off in mid-row parts the work
READ_OTHERWISE = "read-otherwise"  # only the less usual reading comes out
LENGTH_ROWS = "length-rows"  # rows, passes: a length in whole repeats
HOLD_UNKNOWN = "hold-unknown"  # stitches taken back that were never put aside by that name
SIDE_DIFFERS = "side-differs"  # the label says RS or WS and the count of rows says otherwise

# The count is not known from here on, and why
UNREAD = "unread"
TOO_DEEP = "too-deep"
TOO_LONG = "too-long"
MARKER_LOST = "marker-lost"  # markers whose place the text leaves open
UNDECIDED = "undecided"
NOTHING_FITS = "nothing-fits"  # no starting number is left


@dataclass(frozen=True, slots=True)
class Event:
    """Something found while counting.

    kind         one of the constants of this module
    span         the passage concerned: the very step when it is known
    row          the row it happened in, or None
    size_index   0-based size, None when it concerns no one size
    data         exact numbers, by name (see the kind)
    section      index of the section in the pattern
    pass_number  which time through the rows are worked, from 1
    ident        number of the repeat within its row, -1 for none
    words        a name: the marker, the kind of statement, the target
    at           the step at which the stitches ran out, when that is another passage
    other        for conflicts: the row that the numbers were fixed by
    """

    kind: str
    span: Span
    row: Row | None
    size_index: int | None
    data: Mapping[str, int] = field(default_factory=dict)
    section: int = -1
    pass_number: int = 1
    ident: int = -1
    words: str = ""
    at: Span = NOWHERE
    other: Row | None = None
