"""Shaping told by its sum alone, spelled out: evenly over a row, and over many rows.

"Inc 12 sts evenly" and "dec 1 st each end every 4th row 6 times" leave the knitter to work
out where and when; these functions say it, and say when it cannot be done.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import gcd

from chartc.fitting.gauge import Gauge
from chartc.fitting.numbers import (
    MOST_ROWS,
    MOST_STITCHES,
    FittingProblem,
    nearest_whole,
    whole,
)
from chartc.measures import Number, exact

# Increases and decreases by the loops they use and make; common practice.
_USES: dict[str, tuple[int, int]] = {
    "m1": (0, 1),
    "yo": (0, 1),
    "kfb": (1, 2),
    "k2tog": (2, 1),
    "ssk": (2, 1),
    "k3tog": (3, 1),
}
# Longest list of places printed in words before the even spacing is told in larger groups.
_MOST_GROUPS = 5


@dataclass(frozen=True, slots=True)
class Spread:
    """Increases or decreases spread evenly over a row or round.

    stitches   before the row
    after      after it
    stitch     what is worked at each place ("m1", "k2tog"), which uses `uses` stitches
    gaps       plain stitches before the first place, between places, and (flat) after the last;
               in the round the last gap is the one that closes the round: gaps[0] comes first
    places     for each place, the stitches of the row before (1-based, in the order worked) it
               uses; for a stitch that uses none, the number of the stitch it follows (0: first)
    words      the row in trade words
    """

    stitches: int
    after: int
    changes: int
    stitch: str
    uses: int
    in_round: bool
    gaps: tuple[int, ...]
    places: tuple[tuple[int, ...], ...]
    words: str

    def listed(self) -> str:
        """Where they fall, as a list: "after sts 7, 14, 21" or "on sts 6-7, 13-14"."""
        if not self.places:
            return "nowhere"
        if self.uses == 0:
            return "after sts " + ", ".join(str(place[0]) for place in self.places)
        shown = (
            f"{place[0]}" if len(place) == 1 else f"{place[0]}-{place[-1]}" for place in self.places
        )
        return "on sts " + ", ".join(shown)


def _even(total: int, parts: int) -> list[int]:
    """`total` in `parts` whole parts, as even as can be, the larger ones spread among them."""
    return [(i + 1) * total // parts - i * total // parts for i in range(parts)]


def spread_evenly(
    stitches: Number,
    change: Number,
    *,
    in_round: bool = True,
    stitch: str = "",
    plain: str = "k",
) -> Spread:
    """Spell out "inc / dec `change` sts evenly" over `stitches`.

    change    positive: stitches gained; negative: stitches lost
    stitch    "m1" (unless said otherwise), "yo" or "kfb" for increases; "k2tog" (unless said
              otherwise), "ssk" or "k3tog" (two lost at each place) for decreases
    plain     the stitch worked between ("k" or "p")

    In the round the gaps differ by at most one. Flat, one such gap is shared between the two
    edges, so that an increase never stands at the very edge. Raises FittingProblem when there
    is no room.
    """
    count = whole(stitches, "the number of stitches")
    by = whole(change, "the stitches to increase or decrease", least=-MOST_STITCHES)
    worked = stitch or ("m1" if by >= 0 else "k2tog")
    if worked not in _USES:
        raise FittingProblem(f"{worked} is not one of {', '.join(_USES)}")
    uses, makes = _USES[worked]
    each = makes - uses
    verb = "increase" if by > 0 else "decrease"
    if by == 0:
        return Spread(count, count, 0, worked, uses, in_round, (count,), (), f"{plain}{count}")
    if (by > 0) != (each > 0):
        raise FittingProblem(f"{worked} does not {verb}")
    if by % each:
        raise FittingProblem(
            f"{abs(by)} sts cannot be taken away with {worked}, which takes {-each} at a time"
        )
    times = by // each
    room = count // uses if uses else (count if in_round else count - 1)
    if times > room:
        raise FittingProblem(
            f"{count} sts have room for {room} of {worked} and {times} are asked for; "
            + (
                "work more than one increase in a place"
                if by > 0
                else "decrease over more than one row"
            )
        )
    gaps = _gaps(count - times * uses, times, in_round, edge=1 if uses == 0 else 0)
    return Spread(
        count,
        count + by,
        times,
        worked,
        uses,
        in_round,
        gaps,
        _places(gaps, times, uses),
        _words(gaps, times, worked, plain, in_round),
    )


def _gaps(plain: int, times: int, in_round: bool, edge: int) -> tuple[int, ...]:
    """The plain stitches before each place and, flat, after the last."""
    if in_round:
        gaps = _even(plain, times)
        return tuple(_told_shortly(gaps))
    inner = _even(plain, times)
    shared = inner.pop(0)
    if shared < 2 * edge:  # too tight to share one gap: keep a stitch at each edge
        shared = 2 * edge
        inner = _even(plain - shared, times - 1) if times > 1 else []
        if times == 1:
            shared = plain
    first = shared // 2
    return (first, *_told_shortly(inner), shared - first)


def _told_shortly(gaps: list[int]) -> list[int]:
    """The gaps as they are, or, when the words would be long, gathered: the rarer size half
    before and half after the commoner one, so that the row stays balanced."""
    if _groups(gaps) <= _MOST_GROUPS:
        return gaps
    common = max(set(gaps), key=lambda gap: (gaps.count(gap), gap))
    rare = [gap for gap in gaps if gap != common]
    half = len(rare) // 2
    return rare[:half] + [common] * (len(gaps) - len(rare)) + rare[half:]


def _groups(gaps: Sequence[int]) -> int:
    """How many bracketed groups the words would need."""
    period = _period(gaps)
    return sum(1 for i in range(period) if i == 0 or gaps[i] != gaps[i - 1])


def _period(gaps: Sequence[int]) -> int:
    """The shortest stretch of which `gaps` is a whole number of copies (0 for none)."""
    size = len(gaps)
    if size < 2:
        return size
    large = sum(1 for gap in gaps if gap != gaps[0])
    # an even spread repeats exactly as often as the two gap sizes share a factor
    for period in (size // gcd(size, large),) if large else (1,):
        if all(gaps[i] == gaps[i % period] for i in range(size)):
            return period
    return size


def _places(gaps: tuple[int, ...], times: int, uses: int) -> tuple[tuple[int, ...], ...]:
    places, at = [], 0
    for gap in gaps[:times]:
        at += gap
        places.append(tuple(range(at + 1, at + uses + 1)) if uses else (at,))
        at += uses
    return tuple(places)


def _words(gaps: tuple[int, ...], times: int, worked: str, plain: str, in_round: bool) -> str:
    if in_round:
        return _runs(gaps, worked, plain)
    tail = f", {plain}{gaps[-1]}" if gaps[-1] else ""
    if times > 1 and gaps[0] == gaps[1]:
        return _runs(gaps[:times], worked, plain) + tail
    head = f"{plain}{gaps[0]}, " if gaps[0] else ""
    inner = _runs(gaps[1:times], worked, plain)
    return head + worked + (", " + inner if inner else "") + tail


def _runs(gaps: Sequence[int], worked: str, plain: str) -> str:
    """Gap and place in turn, equal ones gathered in brackets, a rhythm in square brackets."""
    if not gaps:
        return ""
    period = _period(gaps)
    copies = len(gaps) // period
    runs: list[tuple[int, int]] = []
    for gap in gaps[:period]:
        if runs and runs[-1][0] == gap:
            runs[-1] = (gap, runs[-1][1] + 1)
        else:
            runs.append((gap, 1))

    def one(gap: int) -> str:
        return f"{plain}{gap}, {worked}" if gap else worked

    if len(runs) == 1:
        gap, number = runs[0]
        number *= copies
        return one(gap) if number == 1 else f"({one(gap)}) {_times(number)}"
    inside = ", ".join(one(g) if n == 1 else f"({one(g)}) {_times(n)}" for g, n in runs)
    return inside if copies == 1 else f"[{inside}] {_times(copies)}"


def _times(number: int) -> str:
    return {1: "once", 2: "twice"}.get(number, f"{number} times")


@dataclass(frozen=True, slots=True)
class Phase:
    """Shaping on every `every`-th row, `times` times, `by` stitches each time (negative:
    decreased). `first`: the row of this phase that shapes first (`every`, or 1 for "next")."""

    every: int
    times: int
    by: int
    first: int


@dataclass(frozen=True, slots=True)
class Schedule:
    """Shaping over many rows.

    rows         the shaping rows, counted from 1
    counts       stitches after each shaping row
    rows_used    up to and including the last shaping row
    """

    start: int
    phases: tuple[Phase, ...]
    rows: tuple[int, ...]
    counts: tuple[int, ...]

    @property
    def rows_used(self) -> int:
        return self.rows[-1] if self.rows else 0

    @property
    def end(self) -> int:
        return self.counts[-1] if self.counts else self.start

    def words(self) -> str:
        """In trade words: "dec 2 sts every 4th row 6 times, then every 2nd row 3 times"."""
        parts, said = [], 0
        for phase in self.phases:
            verb = ""
            if phase.by != said:
                verb = f"{'inc' if phase.by > 0 else 'dec'} {abs(phase.by)} "
                verb += "st " if abs(phase.by) == 1 else "sts "
                said = phase.by
            rhythm = "every row" if phase.every == 1 else f"every {ordinal(phase.every)} row"
            if phase.first != phase.every:
                start = "next row" if phase.first == 1 else f"the {ordinal(phase.first)} row"
                more = phase.times - 1
                on = f"on {start}" + (
                    f" and {rhythm} after it {more} more time{'' if more == 1 else 's'}"
                    if more
                    else ""
                )
                parts.append(verb + on)
            else:
                parts.append(f"{verb}{rhythm} {_times(phase.times)}")
        return ", then ".join(parts) if parts else "work straight"


def ordinal(value: int) -> str:
    """1st, 2nd, 3rd, 4th, 11th, 22nd."""
    if value % 100 in (11, 12, 13):
        return f"{value}th"
    return f"{value}" + {1: "st", 2: "nd", 3: "rd"}.get(value % 10, "th")


def schedule(start: Number, phases: Sequence[Phase]) -> Schedule:
    """Follow phases of shaping from `start` stitches.

    'Dec 1 st each end every 4th row 6 times' is Phase(every=4, times=6, by=-2, first=4): rows
    4, 8 ... 24. 'Next and every foll 4th row 6 times' on the next row first is
    Phase(4, 7, -2, 1): rows 1, 5 ... 25. Raises FittingProblem when stitches run out.
    """
    count = whole(start, "the number of stitches", least=0)
    row, rows, counts = 0, [], []
    for phase in phases:
        every = whole(phase.every, "the rows between shapings", most=MOST_ROWS)
        times = whole(phase.times, "the number of shapings", least=0, most=MOST_ROWS)
        first = whole(phase.first, "the first shaping row", most=MOST_ROWS)
        if row + first + (times - 1) * every > MOST_ROWS:
            raise FittingProblem("the shaping goes on for more rows than anyone knits")
        for time in range(times):
            row += first if time == 0 else every
            count += phase.by
            if count < 0 or (count == 0 and time + 1 < times):
                raise FittingProblem(
                    f"there are not enough stitches for the shaping on row {row}: "
                    f"{count - phase.by} left and {-phase.by} to take away"
                )
            if count > MOST_STITCHES:
                raise FittingProblem("the shaping makes more stitches than anyone knits")
            rows.append(row)
            counts.append(count)
    return Schedule(int(exact(start)), tuple(phases), tuple(rows), tuple(counts))


def shape_every(
    start: Number, by: Number, every: Number, times: Number, *, on_next: bool = False
) -> Schedule:
    """'`by` sts every `every`-th row `times` times'; `on_next`: the first on the next row.

    Raises FittingProblem as `schedule` does.
    """
    rhythm = whole(every, "the rows between shapings", most=MOST_ROWS)
    change = whole(by, "the stitches of one shaping", least=-MOST_STITCHES)
    number = whole(times, "the number of shapings", least=0, most=MOST_ROWS)
    return schedule(start, (Phase(rhythm, number, change, 1 if on_next else rhythm),))


def plan_shaping(
    start: Number, end: Number, rows: Number, *, each: int = 2, step: int = 2
) -> Schedule:
    """Shape from `start` to `end` stitches within `rows` rows, as evenly as whole rows allow.

    each   stitches changed on a shaping row (2: one at each end; 8: a raglan of four lines)
    step   shaping rows lie a multiple of this many rows apart (2: always on the same side;
           1: any row, as in the round)
    At most two rhythms, `step` rows different, the closer one first. Raises FittingProblem when
    the change is no multiple of `each`, or there are too few rows.
    """
    first = whole(start, "the stitches at the start")
    last = whole(end, "the stitches at the end", least=0)
    room = whole(rows, "the rows to shape in", most=MOST_ROWS)
    per = whole(each, "the stitches changed on a shaping row")
    apart = whole(step, "the rows between shapings")
    change = last - first
    if not change:
        return Schedule(first, (), (), ())
    if abs(change) % per:
        fewer = abs(change) // per * per
        raise FittingProblem(
            f"{abs(change)} sts cannot be shaped {per} at a time; {fewer} or {fewer + per} can"
        )
    times = abs(change) // per
    slots = room // apart
    if times > slots:
        raise FittingProblem(
            f"{times} shaping rows do not fit in {room} rows; {times * apart} rows are needed"
        )
    short, wide = divmod(slots, times)
    by = per if change > 0 else -per
    phases = [
        Phase(short * apart, times - wide, by, short * apart),
        Phase((short + 1) * apart, wide, by, (short + 1) * apart),
    ]
    return schedule(first, [phase for phase in phases if phase.times])


@dataclass(frozen=True, slots=True)
class PickUp:
    """Stitches picked up along row ends: `stitches` over `rows`, `skipped` rows left out.

    words   "pick up 3 sts, miss 1 row" told over the whole edge
    """

    rows: int
    stitches: int
    words: str


# Three stitches to four rows (knotions.com, bromiskelly: seen); 2 to 3 is the other one met.
PICK_UP_RATIO = (3, 4)


def pick_up(rows: Number, ratio: tuple[int, int] = PICK_UP_RATIO) -> PickUp:
    """Stitches to pick up along `rows` row ends at so many stitches to so many rows.

    Rounded to the nearest stitch, a half up. Raises FittingProblem on silly numbers.
    """
    along = whole(rows, "the number of rows", most=MOST_ROWS)
    few = whole(ratio[0], "the stitches of the ratio")
    many = whole(ratio[1], "the rows of the ratio")
    if few > many:
        raise FittingProblem("a pick-up takes at most one stitch from each row end")
    return pick_up_to(along, max(1, nearest_whole(Fraction(along * few, many))))


def pick_up_to(rows: Number, stitches: Number) -> PickUp:
    """Spread `stitches` evenly along `rows` row ends: which row ends are missed.

    Raises FittingProblem when there are more stitches than row ends.
    """
    along = whole(rows, "the number of rows", most=MOST_ROWS)
    count = whole(stitches, "the stitches to pick up")
    if count > along:
        raise FittingProblem(
            f"{count} sts cannot be picked up along {along} row ends at one in each; "
            f"pick up {along} and increase in the first row"
        )
    missed = along - count
    if not missed:
        return PickUp(along, count, f"pick up 1 st in each of {along} row ends")
    gaps = _told_shortly(_even(count, missed))
    return PickUp(along, count, _runs(gaps, "miss 1", "pick up "))


def pick_up_ratio(gauge: Gauge) -> Fraction:
    """Stitches to one row end so that the edge neither draws in nor flares: the height of a
    row over the width of a stitch (28 rows and 21 stitches to 10 cm give 3 to 4)."""
    return gauge.row_mm / gauge.stitch_mm


@dataclass(frozen=True, slots=True)
class Yoke:
    """Rounds of shaping between two counts, `per_round` stitches each round."""

    start: int
    end: int
    per_round: int
    rounds: int


def yoke_rounds(start: Number, end: Number, per_round: Number = 8) -> Yoke:
    """Shaping rounds between two counts: (end - start) / per round, a whole number.

    A raglan of four lines changes by 8 (cs.oswego.edu ARAN project; ysolda 2007: seen).
    Raises FittingProblem, with the nearest counts that work, when it is not whole.
    """
    first = whole(start, "the stitches at the start")
    last = whole(end, "the stitches at the end")
    per = whole(per_round, "the stitches changed in a round")
    change = abs(last - first)
    if change % per:
        sign = 1 if last > first else -1
        near = sorted(first + sign * k * per for k in (change // per, change // per + 1))
        shown = " or ".join(str(count) for count in near if count > 0)
        raise FittingProblem(
            f"{first} to {last} sts is {change} sts, no multiple of {per}; {shown} sts would be"
        )
    return Yoke(first, last, per, change // per)
