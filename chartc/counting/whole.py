"""A whole pattern counted: all sizes, all sections, the sets, the ledger."""

from __future__ import annotations

import gc
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from chartc.counting.events import Event
from chartc.counting.exact import Exact
from chartc.counting.flow import Piece
from chartc.counting.ledger import (
    Counted,
    SectionCount,
    as_works,
)
from chartc.counting.lin import Range
from chartc.counting.listing import list_entries
from chartc.counting.needle import Needle
from chartc.counting.records import Readings, RowBook
from chartc.counting.rows import survey
from chartc.counting.sets import Sets, net_change
from chartc.pattern import Again, CastOn, Instruction, Pattern, Row, Section


def count(pattern: Pattern, row_gauge: Fraction | None = None) -> Counted:
    """Count a pattern in all its sizes.

    row_gauge: rows per 100 mm, for lengths ("until piece measures"); None when not known.
    Never raises for any pattern; what does not come out is told in `Counted.events`.
    """
    collecting = gc.isenabled()
    gc.disable()  # many small records and no cycles: searching them for garbage costs as much
    try:
        return _Count(pattern, row_gauge).run()
    finally:
        if collecting:
            gc.enable()


def begins_free(pattern: Pattern, i: int) -> bool:
    """Whether a section is a stitch pattern of its own, or would go on from nothing."""
    section = pattern.sections[i]
    if section.starts == "free":
        return True
    if section.starts == "cast on":
        return False
    so_far = [*(s for s in pattern.sections[:i] if s.starts != "free"), section]
    return not any(isinstance(it, CastOn) for s in so_far for it in s.flow)


def chosen_readings(pattern: Pattern, row_gauge: Fraction | None = None) -> Readings:
    """How the rows that can be read two ways are read (their choice is the same in all
    sizes)."""
    counting = _Count(pattern, row_gauge)
    if counting.any_doubt():
        counting.run()
    if not counting.readings.final:
        counting.settle_readings()
    return counting.readings


class _Count:
    def __init__(self, pattern: Pattern, gauge: Fraction | None) -> None:
        self.pattern = pattern
        self.gauge = gauge
        self.book = RowBook()
        self.readings = Readings()
        self.sizes = max(1, len(pattern.sizes))

    def run(self) -> Counted:
        sections = self.pattern.sections
        bound = [i for i, s in enumerate(sections) if not begins_free(self.pattern, i)]
        pieces = self.pieces(bound)
        events: list[Event] = []
        results: list[SectionCount] = []
        by_section: dict[int, list[SectionCount]] = {}
        for i, section in enumerate(sections):
            if i not in bound:
                found, told = self.free(section, i)
                by_section[i] = [found]
                events.extend(told)
        for piece in pieces:
            events.extend(piece.events)
        sets = Sets(self.pattern, bound, self.book, self.gauge, self.readings)
        sets.find()
        for i, section in enumerate(sections):
            if i in by_section:
                results.extend(by_section[i])
                continue
            entries = list_entries(pieces, i)
            works, more, why = sets.sections.get(i, (None, (), None))
            net = None
            if i in sets.sections:
                net = net_change(section, works, self.book, self.gauge, self.readings)
            results.append(SectionCount(i, works, why, net, entries, more))
        events.sort(key=lambda e: (e.section, e.span.start, e.pass_number, e.size_index or 0))
        return Counted(tuple(results), tuple(sets.whole), tuple(events))

    def any_doubt(self) -> bool:
        """Whether any row can be read in more than one way."""
        stack: list[Instruction] = [it for s in self.pattern.sections for it in s.flow]
        while stack:
            it = stack.pop()
            if isinstance(it, Again):
                stack.extend(it.rows)
            elif isinstance(it, Row) and survey(it.steps).doubt:
                return True
        return False

    # -------------------------------------------------------------- in each size

    def pieces(self, bound: Sequence[int]) -> list[Piece]:
        """All sizes worked through; again when a row has to be read otherwise."""
        pieces = self._all_sizes(bound)
        if self.readings.doubtful:
            self.settle_readings()
            pieces = self._all_sizes(bound)
        return pieces

    def settle_readings(self) -> None:
        """Choose, for rows that can be read two ways, the way that comes out everywhere."""
        readings = self.readings
        for row, ways in readings.doubtful.items():
            chosen = 0
            if (row, 0) in readings.bad:
                for way in range(1, ways):
                    if (row, way) not in readings.bad:
                        chosen = way
                        break
            readings.chosen[row] = chosen
        readings.final = True

    def _all_sizes(self, bound: Sequence[int]) -> list[Piece]:
        out: list[Piece] = []
        sections = self.pattern.sections
        for size in range(self.sizes):
            piece = Piece(self.book, size, self.gauge, self.readings)
            for i in bound:
                piece.run(sections[i].flow, i)
            out.append(piece)
        return out

    # -------------------------------------------------------------- free sections

    def free(self, section: Section, i: int) -> tuple[SectionCount, list[Event]]:
        """A stitch pattern: the numbers it works for, its ledger on the least of them."""
        readings = self.readings
        exact = self.exact_free(section)
        domains = exact.domains() if exact.gave_up is None else []
        piece = self.on_number(section, i, self.number_for(section, domains, exact))
        if readings.doubtful and not readings.final:
            self.settle_readings()
            readings.final = False
            exact = self.exact_free(section)
            domains = exact.domains() if exact.gave_up is None else []
            piece = self.on_number(section, i, self.number_for(section, domains, exact))
        works = [as_works(d) for d in domains]
        n = int(piece.start)
        entries = list_entries([piece.piece], i)
        net = net_change(section, works[0] if works else None, self.book, self.gauge, self.readings)
        why = exact.why(i)
        found = SectionCount(i, works[0] if works else None, why, net, entries, tuple(works[1:]), n)
        return found, [replace(e, size_index=None) for e in piece.piece.events]

    def exact_free(self, section: Section) -> Exact:
        exact = Exact(self.book, 0, self.gauge, self.readings)
        exact.begin()
        exact.run(section.flow)
        return exact

    def number_for(self, section: Section, domains: list[Range], exact: Exact) -> list[int]:
        """Numbers to show a stitch pattern on, the best first."""
        numbers: list[int] = []
        if section.multiple is not None and section.multiple.of > 0:
            m = section.multiple
            numbers.append(2 * m.of + m.plus)
        if domains:
            d = domains[0]
            found = [d.lo + d.mu * j for j in range(3)]
            numbers.extend(n for n in found if d.hi is None or n <= d.hi)
        else:
            before = exact.ruling.before
            if before is not None:
                numbers.append(before.lo + (0 if before.single else before.mu))
            numbers.extend(self.own_numbers(section.flow))
        return numbers or [1]

    def own_numbers(self, flow: Sequence[Instruction]) -> list[int]:
        """For each of the first rows, a number it works on by itself with two repeats."""
        out: list[int] = []
        for it in flow:
            if isinstance(it, Row):
                s = self.book.ways(it.steps, 0)[0].simple
                if s is not None:
                    n = s.a + s.c + s.last + (2 * s.b if s.open is not None else 0)
                    if n and n not in out:
                        out.append(n)
            if len(out) >= 6:
                break
        return out

    def on_number(self, section: Section, i: int, numbers: list[int]) -> _Shown:
        """The section worked on the first number that shows two repeats, or, when none
        works, on the one with the least trouble."""
        best: _Shown | None = None
        printed = section.multiple is not None and section.multiple.of > 0
        for at, n in enumerate(numbers):
            piece = Piece(self.book, 0, self.gauge, self.readings)
            needle = Needle(n)
            piece.needle = needle
            piece.started = True
            piece.run(section.flow, i)
            shown = _Shown(n, piece)
            if printed and at == 0:
                return shown
            if piece.troubles == 0:
                times = [
                    t
                    for r in piece.records
                    if r.times
                    for t in r.times.values()
                    if isinstance(t, int)
                ]
                if not times or min(times) >= 2 or at == len(numbers) - 1:
                    return shown
            if best is None or piece.troubles < best.piece.troubles or (piece.troubles == 0):
                best = shown
        assert best is not None
        return best


class _Shown:
    __slots__ = ("piece", "start")

    def __init__(self, start: int, piece: Piece) -> None:
        self.start = start
        self.piece = piece
