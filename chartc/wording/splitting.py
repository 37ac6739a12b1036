"""The repeat of a stitch pattern found in its rows: edge, repeat, edge, on all rows together.

The rows are taken as they lie, from the right edge to the left. First a repeat is looked for
that is the same columns on every row: each row begins its repeat over the stitch where the row
below began its own. Where a decrease lies across every such border, the repeat may step from
row to row, its width staying the same. Of several, the one that makes the shortest words.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise

from chartc.stitch import Stitch

WIDEST = 48  # the widest repeat looked for, in stitches
MOST_WIDE = 400  # rows wider than this are told without looking for a repeat
SHIFT_COST = 0.5  # a repeat that begins elsewhere than on the row before
LOOSE_COST = 3.0  # a row that ends with a stitch made from nothing, after its repeat


@dataclass(frozen=True, slots=True)
class RowParts:
    """A row from the right edge to the left, stitches as they are worked.

    times 0: no repeat, all stitches are in `right`.
    """

    right: tuple[Stitch, ...]
    body: tuple[Stitch, ...] = ()
    times: int = 0
    left: tuple[Stitch, ...] = ()


@dataclass(frozen=True, slots=True)
class Split:
    """All rows split. `stepping`: the repeat is not the same columns on all rows.
    `width` stitches of the repeat and `edge` stitches of both edges before the first row;
    width 0: no repeat was found."""

    rows: tuple[RowParts, ...]
    width: int
    edge: int
    stepping: bool = False


@dataclass(frozen=True, slots=True)
class _Option:
    """One way to split a row: the bounds of its stitches, and where it leads."""

    cost: float
    start: int  # index of the first stitch of the repeat
    period: int  # stitches in it
    times: int
    after: tuple[int, int, int]  # right edge, repeat, left edge, in loops after the row


class _Line:
    """A row's stitches by number, with the places where so many loops have been used."""

    def __init__(
        self, stitches: Sequence[Stitch], number: dict[Stitch, int], fills: bool
    ) -> None:
        self.stitches = tuple(stitches)
        self.keys = [number.setdefault(s, len(number)) for s in stitches]
        self.used = [0]
        self.made = [0]
        for stitch in stitches:
            self.used.append(self.used[-1] + stitch.uses)
            self.made.append(self.made[-1] + stitch.makes)
        self.before, self.after = self.used[-1], self.made[-1]
        self.changes = [0]  # stitches that differ from the one before, up to each place
        for one, other in pairwise(self.keys):
            self.changes.append(self.changes[-1] + (one != other))
        self.periodic: dict[int, list[int]] = {}
        self.cuts: dict[int, tuple[int, ...]] = {}
        for place, used in enumerate(self.used):
            self.cuts[used] = (*self.cuts.get(used, ()), place)
        kinds = set(stitches)
        only = next(iter(kinds)) if len(kinds) == 1 else None
        self.plain = only is not None and only.uses == only.makes == 1
        self.fill = self._longest_run() if fills and not self.plain else None

    def _longest_run(self) -> tuple[int, int] | None:
        """The run of knit or purl that "k to last 2 sts" would tell, in a row whose stitches
        all stand straight over those below: such a row fits any repeat."""
        if any(stitch.uses != 1 or stitch.makes != 1 for stitch in self.stitches):
            return None
        longest, at = (0, 0), 0
        for _, group in groupby(self.stitches, key=lambda stitch: stitch.key):
            length = len(list(group))
            if self.stitches[at].key in ("k", "p") and length > longest[1] - longest[0]:
                longest = (at, at + length)
            at += length
        return longest if longest[1] - longest[0] > max(4, len(self.keys) // 2) else None

    def runs(self, start: int, end: int) -> int:
        """Runs of equal stitches in a stretch, as `shorten.run_count`."""
        return 1 + self.changes[end - 1] - self.changes[start] if start < end else 0

    def repeats(self, start: int, period: int, times: int) -> bool:
        """Whether a stretch is worked `times` over from `start` on."""
        same = self.periodic.get(period)
        if same is None:
            keys = self.keys
            same = [0] * (len(keys) + 1)  # how far each place is like the one a period on
            for i in range(len(keys) - period - 1, -1, -1):
                same[i] = same[i + 1] + 1 if keys[i] == keys[i + period] else 0
            self.periodic[period] = same
        return same[start] >= period * (times - 1)

    def options(self, a: int, b: int, times: int) -> Iterator[_Option]:
        """Ways to begin the repeat after `a` loops, `b` loops wide, `times` through."""
        if self.plain:
            yield _Option(0.0, a, b, times, (a, b, self.before - a - b * times))
            return
        total = len(self.keys)
        if self.fill is not None:
            start, end = self.fill
            cost = 1.0 + self.runs(0, start) + self.runs(end, total)
            after = (a, b, self.before - a - b * times)
            yield _Option(cost, start, 1, end - start, after)
        for start in self.cuts.get(a, ()):
            for stop in self.cuts.get(a + b, ()):
                period = stop - start
                if period <= 0 or start + period * times > total:
                    continue
                end = start + period * times
                if self.used[end] != a + b * times or not self.repeats(start, period, times):
                    continue
                left = total - end
                loose = LOOSE_COST if left and self.used[end] == self.before else 0.0
                cost = self.runs(0, start) + self.runs(start, stop) + self.runs(end, total)
                wide = (start + left) * 0.02 + period * 0.01
                after = (
                    self.made[start],
                    self.made[stop] - self.made[start],
                    self.after - self.made[end],
                )
                yield _Option(cost + wide + loose, start, period, times, after)

    def parts(self, option: _Option) -> RowParts:
        s, start = self.stitches, option.start
        end = start + option.period * option.times
        return RowParts(s[:start], s[start : start + option.period], option.times, s[end:])


def split(
    rows: Sequence[Sequence[Stitch]],
    *,
    least_times: int = 2,
    prefer: Sequence[tuple[int, int]] = (),
    allow: float = 0.0,
    fills: bool = False,
) -> Split:
    """Split rows, given from the right edge to the left, into edges and a repeat.

    prefer  right edges and widths that the author used; one of them that is the same columns
            on all rows is taken, when its words are no longer than the shortest by more than
            the share `allow` (0.2: a fifth)
    fills   rows of edges and one long run of knit or purl go with any repeat; their run is then
            the repeat of that row, one stitch wide

    Every row must use exactly the loops the row before left; rows that do not are told whole.
    `least_times`: how often a repeat must be worked to count as one.
    """
    number: dict[Stitch, int] = {}
    lines = [_Line(row, number, fills) for row in rows]
    whole = Split(tuple(RowParts(tuple(row)) for row in rows), 0, lines[0].before if lines else 0)
    fits = all(line.after == above.before for line, above in pairwise(lines))
    if not lines or not fits or max(line.before for line in lines) > MOST_WIDE:
        return whole
    found = [
        candidate
        for candidate in (_same_columns(lines, least_times), _stepping(lines, least_times))
        if candidate is not None
    ]
    if len(found) == 2 and found[0][0] > found[1][0] * 1.4 + 2:
        found = found[1:]
    wanted = _preferred(lines, prefer, least_times)
    if wanted is not None and (not found or wanted[0] <= found[0][0] * (1 + allow) + 1e-9):
        return wanted[1]
    plain_cost = float(sum(line.runs(0, len(line.keys)) for line in lines))
    if not found or found[0][0] >= plain_cost:
        return whole
    return found[0][1]


def filled(row: Sequence[Stitch]) -> RowParts | None:
    """A row as edges and one long run of knit or purl ("k2, p to last 2 sts, k2"); None where
    it is no such row."""
    line = _Line(row, {}, True)
    if line.plain and row[0].key in ("k", "p"):
        return RowParts((), (row[0],), len(row), ())
    if line.fill is None:
        return None
    start, end = line.fill
    return RowParts(tuple(row[:start]), (row[start],), end - start, tuple(row[end:]))


def split_at(rows: Sequence[Sequence[Stitch]], right: int, width: int) -> Split | None:
    """The rows split with a repeat that begins after `right` stitches of the first row and is
    `width` stitches wide, the same columns on every row; None where that cannot be."""
    number: dict[Stitch, int] = {}
    lines = [_Line(row, number, False) for row in rows]
    found = _preferred(lines, [(right, width)], 1)
    return None if found is None else found[1]


def _preferred(
    lines: list[_Line], prefer: Sequence[tuple[int, int]], least: int
) -> tuple[float, Split] | None:
    best: tuple[float, Split] | None = None
    for a, b in prefer:
        if b < 1 or a < 0:
            continue
        for times in range((lines[0].before - a) // b, least - 1, -1):
            found = _follow(lines, a, b, times)
            if found is not None:
                if best is None or found[0] < best[0] - 1e-9:
                    best = found[0], _as_split(lines, found[1], b, times, stepping=False)
                break
    return best


def _starts(line: _Line, least: int) -> Iterator[tuple[int, int, int]]:
    """Right edge, width and times of every repeat a row of so many loops may have."""
    n = line.before
    for b in range(1, min(WIDEST, n // least) + 1):
        for a in range(n - least * b + 1):
            for times in range((n - a) // b, least - 1, -1):
                yield a, b, times


def _same_columns(lines: list[_Line], least: int) -> tuple[float, Split] | None:
    """The cheapest repeat that is the same columns on all rows."""
    first = next((i for i, line in enumerate(lines) if not line.plain), 0)
    best: tuple[float, tuple[_Option, ...]] | None = None
    chosen = (0, 0)
    settled: set[tuple[int, int]] = set()
    for a, b, times in _starts(lines[0], least):
        if (a, b) in settled or not any(lines[first].options(a, b, times)):
            continue
        found = _follow(lines, a, b, times)
        if found is not None:
            settled.add((a, b))
            if best is None or found[0] < best[0] - 1e-9:
                best, chosen = found, (b, times)
    if best is None:
        return None
    return best[0], _as_split(lines, best[1], *chosen, stepping=False)


def _follow(
    lines: list[_Line], a: int, b: int, times: int
) -> tuple[float, tuple[_Option, ...]] | None:
    """Carry a repeat up through all rows by the cheapest way there is."""
    states: dict[tuple[int, int], tuple[float, tuple[_Option, ...]]] = {(a, b): (0.0, ())}
    for line in lines:
        above: dict[tuple[int, int], tuple[float, tuple[_Option, ...]]] = {}
        for (right, width), (cost, path) in states.items():
            if width < 1:
                continue
            for option in line.options(right, width, times):
                state = option.after[:2]
                total = cost + option.cost
                if state not in above or total < above[state][0] - 1e-9:
                    above[state] = (total, (*path, option))
        states = above
        if not states:
            return None
    return min(states.values(), key=lambda found: found[0])


def _stepping(lines: list[_Line], least: int) -> tuple[float, Split] | None:
    """The cheapest repeat of one width that may begin elsewhere on each row."""
    best: tuple[float, tuple[_Option, ...]] | None = None
    chosen = (0, 0)
    for b in range(1, min(WIDEST, lines[0].before // least) + 1):
        cost, width, path = 0.0, b, []
        right = -1
        for line in lines:
            choice = None if width < 1 else _cheapest(line, width, right, least)
            if choice is None:
                break
            if not line.plain:
                cost += choice.cost + (SHIFT_COST if right not in (-1, choice.start) else 0.0)
                right = choice.after[0]
            path.append(choice)
            width = choice.after[1]
        else:
            if best is None or cost < best[0] - 1e-9:
                best, chosen = (cost, tuple(path)), (b, path[0].times)
    if best is None:
        return None
    return best[0], _as_split(lines, best[1], *chosen, stepping=True)


def _cheapest(line: _Line, b: int, right: int, least: int) -> _Option | None:
    best: _Option | None = None
    if line.plain:
        times = line.before // b
        a = max(0, min(right, line.before - b * times))
        return next(line.options(a, b, times), None) if times >= least else None
    for a in range(line.before - least * b + 1):
        for times in range((line.before - a) // b, least - 1, -1):
            found = min(line.options(a, b, times), key=lambda option: option.cost, default=None)
            if found is not None:
                if best is None or found.cost < best.cost - 1e-9:
                    best = found
                break
    return best


def _as_split(
    lines: list[_Line], path: Sequence[_Option], width: int, times: int, stepping: bool
) -> Split:
    rows = tuple(line.parts(option) for line, option in zip(lines, path, strict=True))
    return Split(rows, width, lines[0].before - width * times, stepping)
