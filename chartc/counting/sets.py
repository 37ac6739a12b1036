"""Which starting numbers make the whole text work, from each cast-on and in each size."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import TypeAlias

from chartc.counting import events as ev
from chartc.counting.events import Event
from chartc.counting.exact import Exact
from chartc.counting.ledger import Net, WholeText, Works, as_works
from chartc.counting.lin import Lin, Range
from chartc.counting.records import Readings, RowBook, varies
from chartc.pattern import CastOn, Finish, Instruction, Pattern, Row, Section

SectionSet: TypeAlias = tuple[Works | None, tuple[Works, ...], Event | None]


class Sets:
    """The sets of a pattern. `bound`: the sections that hang on a cast-on.

    whole      for each cast-on and size
    sections   for each section that begins with a cast-on, in the first size: the numbers
               with which that section alone works
    """

    def __init__(
        self,
        pattern: Pattern,
        bound: Sequence[int],
        book: RowBook,
        gauge: Fraction | None,
        readings: Readings,
    ) -> None:
        self.book = book
        self.gauge = gauge
        self.readings = readings
        self.sizes = max(1, len(pattern.sizes))
        self.steps = [(i, it) for i in bound for it in pattern.sections[i].flow]
        self.whole: list[WholeText] = []
        self.sections: dict[int, SectionSet] = {}

    def find(self) -> None:
        for at, (i, it) in enumerate(self.steps):
            if not isinstance(it, CastOn) or it.kind == "held":
                continue
            rest = self.steps[at + 1 :]
            if varies([other for _, other in rest], self.book):
                for size in range(self.sizes):
                    self._follow(rest, i, it, [size])
            else:
                self._follow(rest, i, it, list(range(self.sizes)))

    def _follow(
        self,
        steps: Sequence[tuple[int, Instruction]],
        section: int,
        cast: CastOn,
        sizes: Sequence[int],
    ) -> None:
        """All that hangs on one cast-on, for sizes that differ in nothing but its number."""
        exact = Exact(self.book, sizes[0], self.gauge, self.readings)
        exact.begin()
        open_sizes = dict.fromkeys(sizes)  # whose printed number has worked so far
        bad: dict[int, Event] = {}
        kept = exact.domains()
        seen = [branch.domain for branch in exact.branches]
        current = section
        other_piece = False
        for i, it in steps:
            if i != current:
                self._section(section, exact, kept)
                current = i
            if isinstance(it, CastOn | Finish):
                if isinstance(it, CastOn) and not exact.depends:
                    break
                other_piece = True
            exact.run((it,))
            if exact.gave_up is not None:
                break
            if not exact.branches and other_piece and exact.ruling.constant:
                break  # a piece that has nothing to do with this cast-on
            domains = [branch.domain for branch in exact.branches]
            if domains == seen:
                continue
            seen, kept = domains, exact.domains()
            for size in list(open_sizes):
                if not any(d.holds(cast.count.at(size)) for d in kept):
                    del open_sizes[size]
                    bad[size] = _ruled_out(exact, it, size, i)
            if not exact.branches:
                break
        self._section(section, exact, kept)
        works = tuple(as_works(d) for d in kept)
        why = exact.why(current)
        for size in sizes:
            printed = cast.count.at(size)
            self.whole.append(
                _verdict(section, size, cast, printed, works, bad.get(size), why, exact)
            )

    def _section(self, section: int, exact: Exact, kept: Sequence[Range]) -> None:
        if section in self.sections:
            return
        why = exact.why(section)
        if exact.gave_up is not None:
            self.sections[section] = (None, (), why)
            return
        works = [as_works(d) for d in kept]
        self.sections[section] = (works[0] if works else None, tuple(works[1:]), why)


def _ruled_out(exact: Exact, it: Instruction, size: int, section: int) -> Event:
    """The row that rules a printed number out."""
    ruling = exact.ruling
    row = it if isinstance(it, Row) else ruling.row
    failure = ruling.failure
    return Event(
        ev.NOTHING_FITS,
        ruling.span if row is None else row.body,
        row,
        size,
        dict(failure.data) if failure is not None else {},
        section,
        words=failure.kind if failure is not None else "",
    )


def _verdict(
    section: int,
    size: int,
    cast: CastOn,
    printed: int,
    works: tuple[Works, ...],
    bad: Event | None,
    why: Event | None,
    exact: Exact,
) -> WholeText:
    if exact.gave_up is not None:
        fits = None if bad is None else False
        return WholeText(section, size, cast.span, printed, fits, (), bad or why)
    if any(w.holds(printed) for w in works):
        return WholeText(section, size, cast.span, printed, True, works, None)
    below = [n for n in (w.below(printed) for w in works) if n is not None]
    above = [n for n in (w.above(printed) for w in works) if n is not None]
    return WholeText(
        section,
        size,
        cast.span,
        printed,
        False,
        works,
        bad or why,
        max(below, default=None),
        min(above, default=None),
    )


def net_change(
    section: Section,
    works: Works | None,
    book: RowBook,
    gauge: Fraction | None,
    readings: Readings,
) -> Net | None:
    """The change over the rows as written once."""
    flow = list(section.flow)
    if flow and isinstance(flow[0], CastOn):
        flow = flow[1:]
    cut = next((k for k, it in enumerate(flow) if isinstance(it, CastOn | Finish)), len(flow))
    exact = Exact(book, 0, gauge, readings, expand=False)
    exact.begin()
    exact.run(flow[:cut])
    if exact.gave_up is not None or not exact.branches:
        return None
    wide = max(exact.branches, key=lambda b: (b.domain.hi is None, -b.domain.mu))
    total = wide.needle.total()
    d = wide.domain
    if works is None:
        works = as_works(d)
    if isinstance(total, int):
        if works.multiple == 0:
            return Net(0, total - works.plus)
        return Net(-works.multiple, total - works.plus)
    assert isinstance(total, Lin)
    fixed = total.p + (total.q - total.d) * works.plus
    per = (total.q - total.d) * works.multiple
    if fixed % total.d or per % total.d:
        return None
    return Net(per // total.d, fixed // total.d)
