"""The resolved pattern: what the text says, in numbers and stitches.

`reading` makes these records; `counting`, `fabric` building, checks and the writer work on
them. All are frozen and carry the passage of text they came from.

Numbers: a `Num` holds one value for all sizes, or one value per size.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import Enum
from typing import TypeAlias

from chartc.source import Span
from chartc.vocabulary import Stitch

NOWHERE = Span(0, 0)


@dataclass(frozen=True, slots=True)
class Num:
    """A number of the text: `values` has one entry (all sizes) or one entry per size."""

    values: tuple[int, ...]
    span: Span = NOWHERE

    def at(self, size: int) -> int:
        """The value for a size (0-based); the last one stands in when the list is short."""
        return self.values[size] if size < len(self.values) else self.values[-1]

    @property
    def sized(self) -> bool:
        return len(self.values) > 1


ONE = Num((1,))


class Reach(Enum):
    """How far an open step or repeat goes."""

    END = "end"  # to the end of the row / round / what is on the needle
    LAST = "last"  # to the last n stitches before the end
    MARKER = "marker"  # to the next (or the named) marker
    BEFORE_MARKER = "before marker"  # to n stitches before the next (or named) marker
    PAST_MARKER = "past marker"  # to n stitches past the next (or named) marker
    OVER = "over"  # over the next n stitches
    UNTIL = "until"  # until there are n stitches on the right-hand needle
    GAP = "gap"  # to the gap left by the last turn
    BEFORE_GAP = "before gap"  # to n stitches before that gap
    PAST_GAP = "past gap"  # to n stitches past that gap
    CENTRE = "centre"  # to the centre stitch (the marked one, or the middle of the row)
    BEFORE_CENTRE = "before centre"


PART = "part"  # the name of a place that is a part of the piece ("instep"), not a marker


@dataclass(frozen=True, slots=True)
class Target:
    """`reach` with its number (`n`, 0 when it has none) and, for markers, a name or ""."""

    reach: Reach
    n: Num = Num((0,))
    name: str = ""
    span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class Work:
    """A stitch worked a number of times."""

    stitch: Stitch
    times: Num
    span: Span


@dataclass(frozen=True, slots=True)
class Fill:
    """One stitch (or, with `stitch` None, the stitches as they are set) over all stitches up
    to the target. May cover no stitch at all."""

    stitch: Stitch | None
    target: Target
    span: Span


@dataclass(frozen=True, slots=True)
class Repeat:
    """Steps worked again and again: `times` in all, or up to `target`.

    least   the fewest times through when it goes to a target (1 for starred and bracketed)
    last    the steps of the last time through when the text words it otherwise; the last
            time counts as one of the times (`least` may then be satisfied by it alone)
    cut     True when the text only says that the last time ends early ("ending last rep k2")
    ident   number of the repeat within its row, in the order the repeats open in the text
    """

    body: tuple[Step, ...]
    times: Num | None
    target: Target | None
    span: Span
    least: int = 1
    last: tuple[Step, ...] | None = None
    ident: int = 0
    label: str = ""
    # times when the trade also reads the number otherwise ("rep from * 4 times": 4 or 5)
    other_times: Num | None = None
    cut: bool = False


@dataclass(frozen=True, slots=True)
class Mark:
    """A marker: op is "place", "slip" or "remove"; `name` "" when the text gives none."""

    op: str
    name: str
    span: Span


@dataclass(frozen=True, slots=True)
class Turn:
    """The work is turned before the end of the row. kind: "plain", "wrap" (wrap and turn),
    "double" (a doubled stitch after turning). A wrap or double takes no stitch."""

    kind: str
    span: Span
    # "turn, leaving 5 sts unworked": the number the text says is left, if it says one
    leaving: Num | None = None


@dataclass(frozen=True, slots=True)
class Off:
    """Bind off: `count` stitches (None: all, or up to `target`). See language decision 9."""

    count: Num | None
    span: Span
    target: Target | None = None


@dataclass(frozen=True, slots=True)
class On:
    """New stitches: cast on (kind "cast on") or picked up ("pick up") onto the right needle."""

    count: Num
    kind: str
    span: Span


@dataclass(frozen=True, slots=True)
class Hold:
    """The next stitches go on a holder: `count` of them, or all up to `target`."""

    count: Num | None
    target: Target | None
    name: str
    span: Span


@dataclass(frozen=True, slots=True)
class Take:
    """Held stitches come back onto the needle and are worked (`worked`) or only placed on it.
    `count` None: all of that holder; `name` "" the text names none."""

    name: str
    count: Num | None
    span: Span
    worked: bool = True


@dataclass(frozen=True, slots=True)
class Change:
    """Shaping told by its sum alone: "inc 12 sts evenly", "dec 1 st at each end" (-2).

    each_end: the change is made half at either end of the row. `spread`: evenly over the row.
    The rest of the row is worked as set."""

    by: Num
    span: Span
    each_end: bool = False
    spread: bool = False


@dataclass(frozen=True, slots=True)
class Shift:
    """The start of the round moves `by` stitches (positive: later, to the left) without a
    stitch being worked, or the marker is moved after working them."""

    by: Num
    span: Span


@dataclass(frozen=True, slots=True)
class Keep:
    """Work goes on over `count` stitches only (the next ones, or with `last` those worked
    last); all others wait on a holder without a name, until a row needs them."""

    count: Num
    span: Span
    last: bool = False


@dataclass(frozen=True, slots=True)
class Unread:
    """A passage inside a row that could not be read: the count is not known after it."""

    span: Span
    text: str


Step: TypeAlias = (
    Work | Fill | Repeat | Mark | Turn | Off | On | Hold | Take | Change | Shift | Keep | Unread
)


@dataclass(frozen=True, slots=True)
class Stated:
    """A count the text states after a row.

    kind: "total" (all stitches on the needle), "change" (positive: increased, negative:
    decreased), "repeat" (change in each repeat), "side" (stitches each side), "marker"
    (stitches between markers), "held".
    """

    kind: str
    num: Num
    span: Span


@dataclass(frozen=True, slots=True)
class Row:
    """One row or round as written.

    label    as printed, without the colon ("Rnd 5", "Row 2 and all WS rows", "Next row")
    number   its number when this copy of it has one, else None
    side     "RS", "WS", or "" for a round or when unknown
    span     the whole statement; `head` its label; `body` the instructions
    """

    label: str
    number: int | None
    side: str
    in_round: bool
    steps: tuple[Step, ...]
    stated: tuple[Stated, ...]
    span: Span
    head: Span
    body: Span
    readable: bool = True
    # plain words when the row is told by its pattern alone ("work in rib as set")
    as_set: bool = False
    # the size indices (0-based) this row is worked for; None: all sizes
    only: frozenset[int] | None = None


class UntilKind(Enum):
    COUNT = "count"  # until there are n stitches (or n stitches remain)
    LENGTH = "length"  # until it measures so much
    WORKED = "worked"  # until no stitches are left beyond the gaps of the turns
    MARKED = "marked"  # until there are n stitches between two markers (the smallest such part)


@dataclass(frozen=True, slots=True)
class Until:
    """When a repetition stops.

    For COUNT `num` is the number of stitches. For LENGTH `tenths_mm` has one value per size
    (or one for all) in tenths of a millimetre. `after_side`: "RS"/"WS" when the text says on
    which side to end. `label`: "ending with row 4".
    """

    kind: UntilKind
    num: Num
    span: Span
    after_side: str = ""
    after_number: int | None = None
    tenths_mm: tuple[int, ...] = ()
    from_here: bool = True  # measured from this place rather than from the cast-on


@dataclass(frozen=True, slots=True)
class CastOn:
    """A new piece is begun with so many stitches. kind: "cast on", "pick up", "held"
    (stitches put back on the needle) or "join" (pieces joined)."""

    count: Num
    kind: str
    span: Span
    join: bool = False
    name: str = ""


@dataclass(frozen=True, slots=True)
class Join:
    """The work is joined into a round (True) or goes on back and forth (False)."""

    in_round: bool
    span: Span


@dataclass(frozen=True, slots=True)
class Again:
    """Rows worked again: the block `rows` (already resolved, in working order).

    times   how often the block is worked at this place, per size; None when `until` tells.
    printed the number as printed, and whether it was printed as "more"
    """

    rows: tuple[Instruction, ...]
    times: Num | None
    until: Until | None
    span: Span
    label: str = ""
    more: bool = False
    # rows of the block left out at the end of the last time ("ending with row 3"): how many
    # rows of the last time are worked; 0 for all
    last_rows: int = 0
    # "ending with row 6" by row number
    first: int | None = None
    last: int | None = None


@dataclass(frozen=True, slots=True)
class Ease:
    """Shaping spread over rows: on `first` row counted from here (1: the next) and then every
    `every`-th row, `times` in all, the count changes by `by` (negative: decreased).

    `then` chains a second rhythm ("then every foll alt row 4 times").
    """

    by: Num
    times: Num | None
    every: Num
    span: Span
    first: int = 1
    until: Until | None = None
    shaping: Row | None = None  # the row that makes the change, when the text gives it


@dataclass(frozen=True, slots=True)
class Plain:
    """Rows worked without change: "Knit 4 rnds.", "Work 12 rnds in rib as set."

    rows: how many (per size); None with `until`. `stitch` is the stitch of every row when the
    text says so ("Knit 4 rows"), else None. `words`: the pattern named ("rib", "garter st").
    """

    rows: Num | None
    until: Until | None
    stitch: Stitch | None
    words: str
    span: Span
    in_round: bool = False
    steps: tuple[Step, ...] = ()
    # steps of each row in turn, when the words name a rhythm of more than one row
    rhythm: tuple[tuple[Step, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class Finish:
    """All stitches are bound off, or the piece is set aside (kind "hold", "fasten off")."""

    kind: str
    span: Span
    count: Num | None = None
    name: str = ""


@dataclass(frozen=True, slots=True)
class Loose:
    """A single instruction outside a row that acts on the needle (place markers, put 40 sts
    on hold, stated counts in prose)."""

    steps: tuple[Step, ...]
    stated: tuple[Stated, ...]
    span: Span


Instruction: TypeAlias = CastOn | Join | Row | Again | Ease | Plain | Finish | Loose


@dataclass(frozen=True, slots=True)
class Multiple:
    """A printed multiple: of `of` stitches plus `plus`."""

    of: int
    plus: int
    span: Span


@dataclass(frozen=True, slots=True)
class Section:
    """A headed part of the text.

    starts   "free" when it is a stitch pattern of its own (worked on any number that fits),
             "cast on" when it begins with its own stitches, "goes on" when it continues on
             the stitches of the section before
    """

    name: str
    span: Span
    flow: tuple[Instruction, ...]
    starts: str
    in_round: bool
    multiple: Multiple | None = None
    # numbered rows as written, for order checks: (number, side, head span, printed word)
    written: tuple[Row, ...] = ()


@dataclass(frozen=True, slots=True)
class Fact:
    """A front-matter line: `key` folded ("gauge", "sizes"), its value and where both stand."""

    key: str
    value: str
    span: Span
    value_span: Span


@dataclass(frozen=True, slots=True)
class Own:
    """A stitch the text explains itself. `stitch` None when it could not be worked out."""

    name: str
    stitch: Stitch | None
    span: Span
    words: str


@dataclass(frozen=True, slots=True)
class Remark:
    """Something the reader noticed: `check` is the name of the check that reports it."""

    check: str
    span: Span
    message: str
    repair: tuple[tuple[Span, str], ...] = ()
    sizes: tuple[int, ...] = ()


@dataclass(frozen=True)
class Pattern:
    """A whole text, resolved."""

    title: str
    sizes: tuple[str, ...]  # ("",) for a one-size pattern
    construction: str  # "flat", "round" or "mixed"
    sections: tuple[Section, ...]
    facts: tuple[Fact, ...] = ()
    own: tuple[Own, ...] = ()
    notes: tuple[Span, ...] = ()
    remarks: tuple[Remark, ...] = ()
    # abbreviations seen at work: vocabulary key or word -> first passage
    used_terms: dict[str, Span] = field(default_factory=dict)
    # abbreviations the text explains: word -> passage
    explained: dict[str, Span] = field(default_factory=dict)

    @property
    def size_count(self) -> int:
        return len(self.sizes)

    def fact(self, key: str) -> Fact | None:
        for fact in self.facts:
            if fact.key == key:
                return fact
        return None


def walk(steps: tuple[Step, ...]) -> Iterator[Step]:
    """Every step, repeats before their bodies."""
    for step in steps:
        yield step
        if isinstance(step, Repeat):
            yield from walk(step.body)
            if step.last is not None:
                yield from walk(step.last)
