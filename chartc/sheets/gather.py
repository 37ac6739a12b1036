"""A proved pattern put in the order in which one knits it: what is told, row by row, and the
count after each row in every size, straight out of the ledger.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from chartc.counting import LedgerEntry, Works, count
from chartc.fabric import DoesNotFit, Fabric, Plan, knit
from chartc.knitting import TooManyStitches, plans
from chartc.pattern import (
    Again,
    CastOn,
    Change,
    Ease,
    Instruction,
    Pattern,
    Plain,
    Row,
    Section,
    Unread,
    UntilKind,
    walk,
)
from chartc.proof import Proof
from chartc.source import Span

# a paragraph: lines up to a blank one, or to a line that ends a sentence
_PARAGRAPH = re.compile(r"(?:[^\n]*[^\s.:)][^\S\n]*\n(?=[^\n]*\S))*[^\n]*\S[^\n]*\n?")

MOST_DRAWN = 60  # stitches across a chart on a handout
MOST_ROWS = 64


@dataclass(frozen=True, slots=True)
class Number:
    """A count out of the ledger. `key` tells where it stands: "section.entry.size.part", the
    entry being its index in the ledger of its section."""

    value: int | None
    key: str


@dataclass(frozen=True, slots=True)
class RowLine:
    """A row as it is worked.

    label    "Rnd 2", "Row 5"; side "RS", "WS" or ""
    words    its instructions without the label, as the text has them
    before, after   for each size (0-based) the counts each time it is worked, in turn
    row      the row as written
    """

    label: str
    side: str
    in_round: bool
    number: int | None
    words: str
    row: Row
    before: dict[int, tuple[Number, ...]]
    after: dict[int, tuple[Number, ...]]
    times: dict[int, int]

    @property
    def name(self) -> str:
        """ "Row 5 (WS)"."""
        return f"{self.label} ({self.side})" if self.side else self.label


@dataclass(frozen=True, slots=True)
class RunOfRows:
    """Rows told one after the other."""

    lines: tuple[RowLine, ...]


@dataclass(frozen=True, slots=True)
class Telling:
    """A passage between rows, as the text has it, and the counts when it has been done.

    after   for each size the last count it leads to; empty when nothing is worked
    rows    how many rows of its own it comes to in each size ("knit 4 rnds"); empty for none
    again   the rows it has worked again; `open` it goes on until a length, and `known` tells
            whether the gauge gives the number of rows for it
    """

    text: str
    span: Span
    after: dict[int, Number] = field(default_factory=dict)
    rows: dict[int, int] = field(default_factory=dict)
    again: frozenset[tuple[Span, int | None]] = frozenset()
    open: bool = False
    known: bool = True


@dataclass(frozen=True, slots=True)
class SectionPart:
    """A section in working order."""

    index: int
    section: Section
    name: str
    pieces: tuple[RunOfRows | Telling, ...]

    def lines(self) -> Iterator[RowLine]:
        for piece in self.pieces:
            if isinstance(piece, RunOfRows):
                yield from piece.lines


def is_front(section: Section) -> bool:
    """Whether it is no part to knit, but a remark in front that reads like an instruction."""
    return not section.name and not any(isinstance(it, Row | CastOn) for it in section.flow)


def squeezed(text: str) -> str:
    """The text with its line breaks and spaces made single."""
    return " ".join(text.split())


def parts_of(proof: Proof) -> tuple[SectionPart, ...]:
    """Every section, in the order of the text."""
    made = []
    sections = proof.pattern.sections
    for i, section in enumerate(sections):
        if is_front(section):
            continue
        end = sections[i + 1].span.start if i + 1 < len(sections) else len(proof.source.text)
        pieces = tuple(_pieces(proof, i, section, end))
        made.append(SectionPart(i, section, section.name or proof.pattern.title, pieces))
    return tuple(made)


# ------------------------------------------------------------------ the ledger, item by item


@dataclass
class _Done:
    """What the ledger says of one instruction: entries with their index."""

    entries: list[tuple[int, LedgerEntry]] = field(default_factory=list)


def _rows_in(items: Sequence[Instruction]) -> set[tuple[Span, int | None]]:
    found: set[tuple[Span, int | None]] = set()
    for it in items:
        if isinstance(it, Row):
            found.add((it.span, it.number))
        elif isinstance(it, Again):
            found |= _rows_in(it.rows)
        elif isinstance(it, Ease) and it.shaping is not None:
            found.add((it.shaping.span, it.shaping.number))
    return found


def _spans_in(items: Sequence[Instruction]) -> set[Span]:
    found: set[Span] = set()
    for it in items:
        found.add(it.span)
        if isinstance(it, Again):
            found |= _spans_in(it.rows)
    return found


def _given_out(section: Section, entries: Sequence[LedgerEntry]) -> dict[int, _Done]:
    """The ledger's entries for each item of the section's flow."""
    flow = section.flow
    rows = [_rows_in((it,)) for it in flow]
    spans = [_spans_in((it,)) for it in flow]
    out: dict[int, _Done] = {}
    at = 0
    for place, entry in enumerate(entries):
        for j in range(at, len(flow)):
            it = flow[j]
            if entry.row is not None and not isinstance(it, Plain):
                fits = (entry.row.span, entry.row.number) in rows[j]
            else:
                fits = entry.span in spans[j] or (
                    it.span.start <= entry.span.start and entry.span.end <= it.span.end
                )
            if fits:
                out.setdefault(j, _Done()).entries.append((place, entry))
                at = j + 1 if isinstance(it, Row) else j
                break
    return out


def _numbers(
    section: int, done: Sequence[tuple[int, LedgerEntry]], part: str
) -> dict[int, tuple[Number, ...]]:
    found: dict[int, list[Number]] = {}
    for place, entry in done:
        for one in entry.sizes:
            key = f"{section}.{place}.{one.size_index}.{part}"
            found.setdefault(one.size_index, []).append(Number(getattr(one, part), key))
    return {size: tuple(numbers) for size, numbers in found.items()}


def _times(done: Sequence[tuple[int, LedgerEntry]]) -> dict[int, int]:
    found: dict[int, int] = {}
    for _, entry in done:
        for one in entry.sizes:
            found[one.size_index] = found.get(one.size_index, 0) + 1 + entry.folded
    return found


# ------------------------------------------------------------------ pieces


def _pieces(proof: Proof, index: int, section: Section, end: int) -> Iterator[RunOfRows | Telling]:
    entries = proof.counted.sections[index].entries
    done = _given_out(section, entries)
    text = proof.source.text
    # each row's own and later workings
    workings: dict[tuple[Span, int | None], list[tuple[int, LedgerEntry]]] = {}
    for place, entry in enumerate(entries):
        if entry.row is not None:
            workings.setdefault((entry.row.span, entry.row.number), []).append((place, entry))
    at = _after_heading(text, section.span.end)
    run: list[RowLine] = []
    waiting: list[int] = []  # items of the flow that are no rows, since the last passage told
    seen: set[tuple[Span, int | None]] = set()
    for j, it in enumerate(section.flow):
        if not isinstance(it, Row):
            waiting.append(j)
            continue
        key = (it.span, it.number)
        if key in seen:
            continue
        seen.add(key)
        if it.span.start > at:
            told = list(_told(proof, index, section, Span(at, it.span.start), waiting, done))
            if told:
                if run:
                    yield RunOfRows(tuple(run))
                    run = []
                yield from told
            waiting = []
        at = max(at, it.span.end)
        run.append(_row_line(proof, index, it, workings.get(key, [])))
    if run:
        yield RunOfRows(tuple(run))
    if at < end:
        yield from _told(proof, index, section, Span(at, end), waiting, done)


def _after_heading(text: str, at: int) -> int:
    """Past the rest of the heading's line."""
    stop = text.find("\n", at)
    rest = text[at : stop if stop >= 0 else len(text)]
    return at + len(rest) if not re.search(r"\w", rest) else at


def _told(
    proof: Proof, index: int, section: Section, span: Span, waiting: Sequence[int],
    done: dict[int, _Done],
) -> Iterator[Telling]:  # fmt: skip
    """The passages of a stretch of text, a paragraph each; the counts stand with the paragraph
    that holds the instruction."""
    text, facts = proof.source.text, proof.pattern.facts
    for piece in _PARAGRAPH.finditer(text, span.start, span.end):
        if any(f.span.start < piece.end() and piece.start() < f.span.end for f in facts):
            continue  # told at the head of the sheet
        words = squeezed(piece[0]).lstrip(".;, ")
        start, stop = piece.span()
        if not re.search(r"\w", words):
            continue
        inside = [j for j in waiting if start <= section.flow[j].span.start < stop]
        entries = [pair for j in inside if j in done for pair in done[j].entries]
        after = {size: numbers[-1] for size, numbers in _numbers(index, entries, "after").items()}
        items = [section.flow[j] for j in inside]
        lengths = [it for it in items if _open(it)]
        again = frozenset(_rows_in([it for it in items if isinstance(it, Again)]))
        worked = [
            pair for j in inside if j in done and isinstance(section.flow[j], Plain | Ease)
            for pair in done[j].entries
        ]  # fmt: skip
        yield Telling(words, Span(start, stop), after, _times(worked), again, bool(lengths),
                      all(_known(proof, it) for it in lengths))  # fmt: skip


def _open(it: Instruction) -> bool:
    if isinstance(it, Again | Plain):
        return it.until is not None and it.until.kind is UntilKind.LENGTH
    return False


def _known(proof: Proof, it: Instruction) -> bool:
    from chartc.proof import row_gauge

    until = it.until if isinstance(it, Again | Plain) else None
    return until is not None and bool(until.tenths_mm) and row_gauge(proof.pattern) is not None


def _row_line(
    proof: Proof, index: int, row: Row, workings: Sequence[tuple[int, LedgerEntry]]
) -> RowLine:
    side = row.side
    if workings and not row.in_round:
        side = workings[0][1].side or side
    label = squeezed(row.label)
    if row.number is not None:
        word = re.match(r"[A-Za-z]+", label)
        kind = word[0].rstrip("s") if word else ("Rnd" if row.in_round else "Row")
        if kind.lower() not in ("row", "rnd", "round"):
            kind = "Rnd" if row.in_round else "Row"
        label = f"{kind.capitalize()} {row.number}"
    else:
        label = re.sub(r"\s*[\[(](?:RS|WS|right side|wrong side)[\])]\s*", "", label)
    return RowLine(
        label, "" if row.in_round else side, row.in_round, row.number,
        _words(proof, row), row,
        _numbers(index, workings, "before"), _numbers(index, workings, "after"), _times(workings),
    )  # fmt: skip


def _words(proof: Proof, row: Row) -> str:
    """The instructions of a row. A row told by naming another ("as Rnd 1") has the other's
    words; a total stated at its end is left out, for it stands with the counts."""
    body, text = row.body, proof.source.text
    spans = [step.span for step in row.steps if step.span.end > step.span.start]
    if spans and all(one.end <= body.start or one.start >= body.end for one in spans):
        found = squeezed(text[min(s.start for s in spans) : max(s.end for s in spans)])
        return found[:1].upper() + found[1:].rstrip(".") + "."
    end = body.end
    totals = [one.span for one in row.stated if one.kind == "total"]
    if totals and not re.search(r"\w", text[max(s.end for s in totals) : end].replace("rem", "")):
        end = min(one.start for one in totals)
    found = squeezed(text[body.start : end]).rstrip("([\u2014\u2013-=: ")
    return found if not found or found[-1] in ".)]" else found + "."


# ------------------------------------------------------------------ sizes


def size_indices(pattern: Pattern, names: Sequence[str]) -> tuple[int, ...]:
    """The sizes asked for, in the pattern's order; all for (). Raises KeyError with the name
    that is not there."""
    if not names:
        return tuple(range(len(pattern.sizes)))
    table = {name.casefold(): i for i, name in enumerate(pattern.sizes)}
    wanted = set()
    for name in names:
        key = name.strip().casefold()
        if key not in table:
            raise KeyError(name)
        wanted.add(table[key])
    return tuple(sorted(wanted))


# ------------------------------------------------------------------ a window for the chart


@dataclass(frozen=True)
class Window:
    """Rows of a section on a number of stitches that suits a chart.

    cast_on   stitches it is shown on; `works` the numbers its rows work on
    plans     in working order; fabric the same knitted
    """

    cast_on: int
    works: Works
    plans: tuple[Plan, ...]
    fabric: Fabric


RowKey = tuple[Span, int | None]


def longest_run(part: SectionPart) -> frozenset[RowKey]:
    """The rows of the longest run of rows of a section: those that stand one over the other."""
    runs = [piece.lines for piece in part.pieces if isinstance(piece, RunOfRows)]
    longest = max(runs, key=len, default=())
    return frozenset((one.row.span, one.number) for one in longest)


def rows_only(pattern: Pattern, index: int, wanted: frozenset[RowKey]) -> Pattern:
    """The pattern with nothing but the rows wanted of one section, each once, on any number."""
    section = pattern.sections[index]
    rows: list[Instruction] = []
    seen: set[tuple[Span, int | None]] = set()
    for it in section.flow:
        if isinstance(it, Row) and (it.span, it.number) in wanted - seen:
            seen.add((it.span, it.number))
            rows.append(it)
    bare = replace(section, starts="free", flow=tuple(rows))
    return replace(pattern, sections=(bare,))


def window(pattern: Pattern, part: SectionPart, size: int, repeats: int = 1) -> Window | None:
    """The rows of a section on the smallest number that shows so many repeats, with its edges;
    None where its rows do not make a piece of their own."""
    mini = rows_only(pattern, part.index, longest_run(part))
    rows = [it for it in mini.sections[0].flow if isinstance(it, Row)]
    if not rows or any(isinstance(s, Change | Unread) for row in rows for s in walk(row.steps)):
        return None
    works = count(mini).sections[0].works
    if works is None:
        return None
    n = works.least
    for _ in range(repeats + 3):
        found = _knitted(mini, n, size)
        if found is None:
            return None
        planned, fabric = found
        if works.multiple == 0 or _shown(planned) >= repeats:
            return Window(n, works, tuple(planned), fabric)
        n += works.multiple
    return None


def _knitted(mini: Pattern, n: int, size: int) -> tuple[list[Plan], Fabric] | None:
    try:
        _, planned = plans(mini, 0, size, cast_on=n, limit_stitches=20_000)
        return planned, knit(n, planned)
    except (TooManyStitches, DoesNotFit):
        return None


def _shown(planned: Sequence[Plan]) -> int:
    """The fewest times any open repeat is worked, over the rows that have one."""
    fewest: int | None = None
    for plan in planned:
        most: dict[int, int] = {}
        for done in plan.stitches:
            for one in done.passes:
                if one.open:
                    most[one.repeat] = max(most.get(one.repeat, 0), one.number)
        for number in most.values():
            fewest = number if fewest is None else min(fewest, number)
    return fewest if fewest is not None else 0


def worth_a_chart(found: Window) -> bool:
    """Whether a chart of it tells more than a line of words would."""
    keys = {done.stitch.key for plan in found.plans for done in plan.stitches}
    if keys <= {"k", "p"} and len(found.plans) < 3:
        return False  # a rib is told in a line
    if found.cast_on < 4 and len(found.plans) < 4:
        return False
    alike = {tuple(done.stitch.key for done in plan.stitches) for plan in found.plans}
    widest = max((max(len(p.stitches), found.cast_on) for p in found.plans), default=0)
    return (
        len(keys) > 1 and len(alike) > 1 and widest <= MOST_DRAWN and len(found.plans) <= MOST_ROWS
    )


def planned_rows(proof: Proof, index: int, size: int) -> dict[tuple[Span, int | None], Plan]:
    """The rows of a section as really worked in a size, each the first time: every stitch."""
    from chartc.proof import row_gauge

    try:
        _, planned = plans(
            proof.pattern, index, size, row_gauge=row_gauge(proof.pattern), limit_stitches=200_000
        )
    except (TooManyStitches, ValueError):
        return {}
    found: dict[tuple[Span, int | None], Plan] = {}
    for plan in planned:
        found.setdefault((plan.span, plan.number), plan)
    return found
