"""How the rows of a fabric stand over one another: where repeats begin, how far a row leans,
which stitches reach across an edge, what becomes of yarn overs.

Pure functions on a finished `Fabric`. Places along a row ("slots") are counted from the right
edge as seen from the right side, 0 first; in a round, from the start of the round.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from chartc.fabric import Fabric, FabricRow, Worked
from chartc.source import Span


@dataclass(frozen=True, slots=True)
class Offset:
    """Where a repeat begins against the rows below.

    row, repeat   row index, and number of the repeat within its row
    number        the row below whose repeat it is measured against (rows without repeats in
                  between are looked through)
    starts        slots, among the loops the row is worked into, of the right-hand edge of
                  each time through
    below         the right-hand edges of the times through of the repeat below, carried up
                  to the same loops; None where a stitch straddles the edge
    offsets       for each of `starts`, the distance to the nearest edge below (positive: to
                  the left); None when there is none
    """

    row: int
    repeat: int
    number: int
    starts: tuple[int, ...]
    below: tuple[int | None, ...]
    offsets: tuple[int | None, ...]

    @property
    def same(self) -> int | None:
        """The one offset of every time through, or None when they differ."""
        first = self.offsets[0] if self.offsets else None
        return first if all(o == first for o in self.offsets) else None


@dataclass(frozen=True, slots=True)
class Drift:
    """The running balance along one time through a repeat, in the order it is worked.

    balance    stitches gained (positive) or lost since the repeat began, after each stitch
    highest, lowest   the extremes, 0 included: how far the stitches lean either way before
               the decrease pays back the increase
    net        what one time through gains or loses
    """

    row: int
    repeat: int
    balance: tuple[int, ...]
    highest: int
    lowest: int
    net: int
    spans: tuple[Span, ...]

    def from_stitch(self, first: int) -> tuple[int, ...]:
        """The same balance when the repeat is begun at another of its stitches."""
        steps = [b - a for a, b in zip((0, *self.balance), self.balance, strict=False)]
        turned = steps[first:] + steps[:first]
        out: list[int] = []
        total = 0
        for step in turned:
            total += step
            out.append(total)
        return tuple(out)


@dataclass(frozen=True, slots=True)
class Reach:
    """A stitch that takes loops from both sides of an edge: the start of the round where it
    used to be, or the edge of a repeat of the row below (`edge` "round" or "repeat")."""

    row: int
    order: int
    span: Span
    edge: str


@dataclass(frozen=True, slots=True)
class DoubleOver:
    """Two or more yarn overs side by side and what becomes of them in the next row.

    loops     the loop numbers
    workers   (row, order) of the stitch worked into each loop; None when it is never worked
    as_one    one stitch takes them all and nothing else
    """

    row: int
    order: int
    span: Span
    loops: tuple[int, ...]
    workers: tuple[tuple[int, int] | None, ...]
    as_one: bool


@dataclass(frozen=True, slots=True)
class EdgeOver:
    """A yarn over at the very edge of a row or at the start or end of a round."""

    row: int
    order: int
    span: Span
    at_start: bool
    in_round: bool


def needles(fabric: Fabric) -> list[list[int]]:
    """The loops on the needle before each row, right edge first, and once more at the end."""
    needle = list(fabric.cast_on)
    out: list[list[int]] = []
    for row in fabric.rows:
        if row.shift and row.in_round and needle:
            by = row.shift % len(needle)
            needle = needle[by:] + needle[:by]
        out.append(needle)
        along = needle[::-1] if row.rightward else needle
        used = [n for stitch in row.stitches for n in stitch.used]
        made = [n for stitch in row.stitches for n in stitch.left]
        if used:
            place = {n: i for i, n in enumerate(along)}
            places = [place[n] for n in used]
            first, last = min(places), max(places) + 1
        else:
            first = last = 0
        along = along[:first] + made + along[last:]
        needle = along[::-1] if row.rightward else along
    out.append(needle)
    return out


def offsets(fabric: Fabric) -> tuple[Offset, ...]:
    """Every repeat against the repeat last worked below it."""
    out: list[Offset] = []
    before = needles(fabric)
    edges: list[int | None] = []  # of the repeat below, among the loops now on the needle
    below = -1
    for row in fabric.rows:
        place = {n: i for i, n in enumerate(before[row.index])}
        after = {n: i for i, n in enumerate(before[row.index + 1])}
        repeats = _repeats(row)
        if row.shift and row.in_round and edges and place:
            edges = [None if e is None else (e - row.shift) % len(place) for e in edges]
        known = sorted(e for e in edges if e is not None)
        for ident, passes in repeats.items():
            starts = [
                min(place[n] for stitch in some for n in stitch.used)
                for some in passes
                if any(stitch.used for stitch in some)
            ]
            if below >= 0 and starts:
                near = tuple(_nearest(start, known) for start in starts)
                out.append(Offset(row.index, ident, below, tuple(starts), tuple(edges), near))
        if repeats:
            widest = max(repeats.values(), key=len)
            edges = [
                min(after[n] for stitch in some for n in stitch.left)
                for some in widest
                if any(stitch.left for stitch in some)
            ]
            below = row.index
        else:
            edges = [None if e is None else _carried(row, e, place, after) for e in edges]
    return tuple(out)


def _nearest(start: int, edges: Sequence[int]) -> int | None:
    if not edges:
        return None
    return min((start - e for e in edges), key=lambda d: (abs(d), d))


def _carried(row: FabricRow, edge: int, place: dict[int, int], after: dict[int, int]) -> int | None:
    """An edge among the loops below, carried to the loops the row makes."""
    highest = -1
    for stitch in row.stitches:
        slots = [place[n] for n in stitch.used]
        if not slots:
            continue
        if min(slots) < edge <= max(slots):
            return None
        if max(slots) < edge:
            highest = max([highest, *(after[n] for n in stitch.left)])
    if highest < 0 and edge > 0:
        return edge if not row.stitches else None
    return highest + 1


def _repeats(row: FabricRow) -> dict[int, list[list[Worked]]]:
    """For each outermost repeat of a row, the stitches of each time through."""
    out: dict[int, dict[int, list[Worked]]] = {}
    for stitch in row.stitches:
        if stitch.passes:
            mark = stitch.passes[0]
            out.setdefault(mark.repeat, {}).setdefault(mark.number, []).append(stitch)
    return {ident: [some[k] for k in sorted(some)] for ident, some in out.items()}


def drift(fabric: Fabric) -> tuple[Drift, ...]:
    """The running balance of the first time through every outermost repeat."""
    out: list[Drift] = []
    for row in fabric.rows:
        for ident, passes in _repeats(row).items():
            total = 0
            balance: list[int] = []
            for worked in passes[0]:
                total += worked.stitch.net
                balance.append(total)
            out.append(
                Drift(
                    row.index,
                    ident,
                    tuple(balance),
                    max(0, *balance),
                    min(0, *balance),
                    total,
                    tuple(worked.span for worked in passes[0]),
                )
            )
    return tuple(out)


def reaching(fabric: Fabric) -> tuple[Reach, ...]:
    """Stitches that take loops from both sides of where the round began at first, or of an
    edge between two times through of a repeat in the row directly below."""
    out: list[Reach] = []
    before = needles(fabric)
    start: int | None = 0  # where the round began, among the loops on the needle
    edges: list[int] = []
    for row in fabric.rows:
        place = {n: i for i, n in enumerate(before[row.index])}
        after = {n: i for i, n in enumerate(before[row.index + 1])}
        if row.shift and row.in_round and place and start is not None:
            start = (start - row.shift) % len(place)
            edges = [(e - row.shift) % len(place) for e in edges]
        inner = set(edges)
        for worked in row.stitches:
            if len(worked.used) < 2:
                continue
            slots = [place[n] for n in worked.used]
            low, high = min(slots), max(slots)
            if start and row.in_round and low < start <= high:
                out.append(Reach(row.index, worked.order, worked.span, "round"))
            if worked.stitch.makes < len(worked.used) and any(low < e <= high for e in inner):
                out.append(Reach(row.index, worked.order, worked.span, "repeat"))
        if start:
            start = _carried(row, start, place, after)
        edges = []
        for passes in _repeats(row).values():
            edges.extend(
                min(after[n] for stitch in some for n in stitch.left)
                for some in passes[1:]
                if any(stitch.left for stitch in some)
            )
    return tuple(out)


def double_overs(fabric: Fabric) -> tuple[DoubleOver, ...]:
    """Yarn overs lying side by side, and what is worked into them."""
    out: list[DoubleOver] = []
    for row in fabric.rows:
        run: list[tuple[Worked, int]] = []
        for worked in (*row.stitches, None):
            loops: Iterable[int] = ()
            if worked is not None and worked.stitch.uses == 0 and _is_over(worked):
                loops = worked.left
                run.extend((worked, n) for n in loops)
                continue
            if len(run) > 1:
                out.append(_double(fabric, run))
            run = []
    return tuple(out)


def _is_over(worked: Worked) -> bool:
    stitch = worked.stitch
    if stitch.heads:
        return all(form == "yo" for form in stitch.heads)
    return stitch.kind == "yarn over"


def _double(fabric: Fabric, run: Sequence[tuple[Worked, int]]) -> DoubleOver:
    loops = tuple(n for _, n in run)
    workers = tuple(fabric.children.get(n) for n in loops)
    first = workers[0]
    as_one = False
    if first is not None and all(w == first for w in workers):
        child = fabric.rows[first[0]].stitches[first[1]]
        as_one = set(child.used) == set(loops)
    worked = run[0][0]
    span = worked.span.join(run[-1][0].span)
    return DoubleOver(worked.row, worked.order, span, loops, workers, as_one)


def edge_overs(fabric: Fabric) -> tuple[EdgeOver, ...]:
    """Yarn overs worked first or last in a row or round."""
    out: list[EdgeOver] = []
    for row in fabric.rows:
        if not row.stitches:
            continue
        for worked, at_start in ((row.stitches[0], True), (row.stitches[-1], False)):
            if worked.stitch.uses == 0 and _is_over(worked):
                out.append(EdgeOver(row.index, worked.order, worked.span, at_start, row.in_round))
    return tuple(out)
