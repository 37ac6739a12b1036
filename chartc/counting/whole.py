"""A whole pattern counted: all sizes, all sections, the sets, the ledger."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from chartc.counting import events as ev
from chartc.counting.events import Event
from chartc.counting.exact import Exact
from chartc.counting.flow import Piece
from chartc.counting.ledger import (
    Counted,
    LedgerEntry,
    Net,
    RepeatBalance,
    SectionCount,
    SizeCount,
    WholeText,
    Works,
    as_works,
)
from chartc.counting.lin import Lin, Range
from chartc.counting.needle import Needle
from chartc.counting.records import Between, Key, Readings, Record, RowBook
from chartc.pattern import CastOn, Finish, Instruction, Pattern, Repeat, Row, Section
from chartc.source import Span

MOST_ENTRIES = 600  # a section's ledger lists every time through up to this length


def count(pattern: Pattern, row_gauge: Fraction | None = None) -> Counted:
    """Count a pattern in all its sizes.

    row_gauge: rows per 100 mm, for lengths ("until piece measures"); None when not known.
    Never raises for any pattern; what does not come out is told in `Counted.events`.
    """
    return _Count(pattern, row_gauge).run()


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
        whole, first_sets = self.whole_texts(bound)
        for i, section in enumerate(sections):
            if i in by_section:
                results.extend(by_section[i])
                continue
            entries = self.entries(pieces, i)
            works, more, why = first_sets.get(i, (None, (), None))
            net = self.net(section, works) if i in first_sets else None
            results.append(SectionCount(i, works, why, net, entries, more))
        events.sort(key=lambda e: (e.section, e.span.start, e.pass_number, e.size_index or 0))
        return Counted(tuple(results), whole, tuple(events))

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
        flow = section.flow
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
        entries = self.entries([piece.piece], i)
        net = self.net(section, works[0] if works else None)
        del flow
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

    def net(self, section: Section, works: Works | None) -> Net | None:
        """The change over the rows as written once."""
        flow = list(section.flow)
        if flow and isinstance(flow[0], CastOn):
            flow = flow[1:]
        cut = next((k for k, it in enumerate(flow) if isinstance(it, CastOn | Finish)), len(flow))
        exact = Exact(self.book, 0, self.gauge, self.readings, expand=False)
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

    # -------------------------------------------------------------- sets of whole texts

    def whole_texts(
        self, bound: Sequence[int]
    ) -> tuple[
        tuple[WholeText, ...],
        dict[int, tuple[Works | None, tuple[Works, ...], Event | None]],
    ]:
        """For each cast-on and size, the numbers with which all that hangs on it works."""
        out: list[WholeText] = []
        sets: dict[int, tuple[Works | None, tuple[Works, ...], Event | None]] = {}
        sections = self.pattern.sections
        steps = [(i, it) for i in bound for it in sections[i].flow]
        for at, (i, it) in enumerate(steps):
            if not isinstance(it, CastOn) or it.kind == "held":
                continue
            for size in range(self.sizes):
                out.append(self.whole(steps[at + 1 :], i, it, size, sets))
        return tuple(out), sets

    def whole(
        self,
        steps: Sequence[tuple[int, Instruction]],
        section: int,
        cast: CastOn,
        size: int,
        sets: dict[int, tuple[Works | None, tuple[Works, ...], Event | None]],
    ) -> WholeText:
        exact = Exact(self.book, size, self.gauge, self.readings)
        exact.begin()
        printed = cast.count.at(size)
        current = section
        kept = exact.domains()
        bad: Event | None = None  # what rules the printed number out
        for i, it in steps:
            if i != current and size == 0 and section not in sets:
                sets[section] = self.as_set(exact, kept, section)
            current = i
            if not exact.depends and isinstance(it, CastOn):
                break
            depended = exact.depends
            exact.run((it,))
            if exact.gave_up is not None:
                break
            if not exact.branches and not depended:
                # pieces that have nothing to do with this cast-on
                break
            kept = exact.domains()
            if bad is None and not any(d.holds(printed) for d in kept):
                row = it if isinstance(it, Row) else exact.ruling.row
                r = exact.ruling
                bad = Event(
                    ev.NOTHING_FITS,
                    r.span if row is None else row.body,
                    row,
                    size,
                    dict(r.failure.data) if r.failure else {},
                    i,
                    words=r.failure.kind if r.failure else "",
                )
            if not exact.branches:
                break
        if size == 0 and section not in sets:
            sets[section] = self.as_set(exact, kept, section)
        works = tuple(as_works(d) for d in kept)
        if exact.gave_up is not None:
            return WholeText(
                section,
                size,
                cast.span,
                printed,
                False if bad else None,
                (),
                bad or exact.why(current),
            )
        holds = any(w.holds(printed) for w in works)
        below = [w.below(printed) for w in works]
        above = [w.above(printed) for w in works]
        lows = [b for b in below if b is not None]
        highs = [a for a in above if a is not None]
        return WholeText(
            section,
            size,
            cast.span,
            printed,
            holds,
            works,
            None if holds else bad or exact.why(current),
            None if holds or not lows else max(lows),
            None if holds or not highs else min(highs),
        )

    def as_set(
        self, exact: Exact, kept: list[Range], section: int
    ) -> tuple[Works | None, tuple[Works, ...], Event | None]:
        if exact.gave_up is not None:
            return None, (), exact.why(section)
        works = [as_works(d) for d in kept]
        return (works[0] if works else None), tuple(works[1:]), exact.why(section)

    # -------------------------------------------------------------- ledger

    def entries(self, pieces: Sequence[Piece], section: int) -> tuple[LedgerEntry, ...]:
        """The ledger of a section: the records of all sizes side by side."""
        lists: list[list[Record]] = []
        spans: list[list[Between]] = []
        rows = 0
        for piece in pieces:
            records = [r for r in piece.records if r.key[0] == section]
            between = [b for b in piece.between if b.rows and b.rows[0].key[0] == section]
            lists.append(records)
            spans.append(between)
            rows = max(rows, len(records) + sum(len(b) for b in between))
        fold = rows > MOST_ENTRIES
        if not fold:
            for records, between in zip(lists, spans, strict=True):
                filled = False
                for b in between:
                    for number in range(b.number + 1, b.until + 1):
                        records.extend(b.record(k, number) for k in range(len(b.rows)))
                        filled = True
                if filled:
                    records.sort(key=lambda r: r.key)
        if len(pieces) == 1:
            size = pieces[0].size
            out = [self.entry(section, [(size, r)]) for r in lists[0]]
            keys = [r.key for r in lists[0]]
        else:
            table: dict[Key, list[tuple[int, Record]]] = {}
            for piece, records in zip(pieces, lists, strict=True):
                for r in records:
                    table.setdefault(r.key, []).append((piece.size, r))
            keys = sorted(table)
            out = [self.entry(section, table[key]) for key in keys]
        return folded(out, keys) if fold else tuple(out)

    def entry(self, section: int, records: list[tuple[int, Record]]) -> LedgerEntry:
        first = records[0][1]
        sizes = tuple(SizeCount(s, r.before, r.used, r.made, r.after) for s, r in records)
        repeats: tuple[RepeatBalance, ...] = ()
        row = first.row
        if row is not None and any(isinstance(step, Repeat) for step in row.steps):
            repeats = balances(row, records)
        return LedgerEntry(
            section, first.label, row, first.span, first.side, first.pass_number, sizes, repeats
        )


class _Shown:
    __slots__ = ("piece", "start")

    def __init__(self, start: int, piece: Piece) -> None:
        self.start = start
        self.piece = piece


def balances(row: Row, records: list[tuple[int, Record]]) -> tuple[RepeatBalance, ...]:
    """The repeats of a row with what one time through does."""
    from chartc.counting.limits import DEEPEST
    from chartc.counting.rows import depth

    if depth(row.steps) > DEEPEST:
        return ()
    out: list[RepeatBalance] = []
    sizes = [s for s, _ in records]
    stack: list[Repeat] = [s for s in reversed(row.steps) if isinstance(s, Repeat)]
    while stack:
        step = stack.pop()
        times: list[int | None] = []
        for size, record in records:
            found = record.times.get(step.ident) if record.times is not None else None
            if found is None and step.times is not None:
                found = step.times.at(size)
            times.append(found if isinstance(found, int) else None)
        uses, makes, ups, downs = body_sums(step, sizes[0])
        out.append(RepeatBalance(step.ident, step.span, tuple(times), uses, makes, ups, downs))
        stack.extend(s for s in reversed(step.body) if isinstance(s, Repeat))
    return tuple(out)


def body_sums(step: Repeat, size: int) -> tuple[int, int, int, int]:
    """Loops used and made, added and taken, by one time through a repeat."""
    from chartc.pattern import Change, Off, On, Work

    uses = makes = ups = downs = 0
    for inner in step.body:
        if isinstance(inner, Work):
            n = max(0, inner.times.at(size))
            st = inner.stitch
            uses += n * st.uses
            makes += n * st.makes
            if st.net > 0:
                ups += n * st.net
            else:
                downs -= n * st.net
        elif isinstance(inner, Repeat):
            n = inner.times.at(size) if inner.times is not None else 1
            u, m, a, b = body_sums(inner, size)
            uses, makes, ups, downs = uses + n * u, makes + n * m, ups + n * a, downs + n * b
        elif isinstance(inner, On):
            makes += inner.count.at(size)
            ups += inner.count.at(size)
        elif isinstance(inner, Off) and inner.count is not None:
            uses += inner.count.at(size)
            downs += inner.count.at(size)
        elif isinstance(inner, Change):
            ups += max(0, inner.by.at(size))
            downs -= min(0, inner.by.at(size))
    return uses, makes, ups, downs


def folded(entries: list[LedgerEntry], keys: list[Key]) -> tuple[LedgerEntry, ...]:
    """A long ledger with only the first, second and last time through of each block."""
    last: dict[Key, int] = {}
    for key in keys:
        for depth in range(2, len(key), 2):
            prefix = key[:depth]
            last[prefix] = max(last.get(prefix, 0), key[depth])
    out: list[LedgerEntry] = []
    before: dict[Key, int] = {}
    for entry, key in zip(entries, keys, strict=True):
        left_out = False
        jumped = 0
        for depth in range(2, len(key), 2):
            prefix, number = key[:depth], key[depth]
            end = last[prefix]
            if 2 < number < end:
                left_out = True
                break
            was = before.get(prefix)
            if was is not None and number > was + 1 and number == end:
                jumped = number - was - 1
        if left_out:
            continue
        for depth in range(2, len(key), 2):
            before[key[:depth]] = key[depth]
        out.append(replace(entry, folded=jumped) if jumped else entry)
    return tuple(out)


def span_of(row: Row) -> Span:
    return row.span
