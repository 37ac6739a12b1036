"""Are these two the same knitting? Two texts, a text and a chart, two charts, or two sizes.

What is compared is the fabric as it looks from the right side, not the words: rows worked on
the wrong side count as what they show on the right one, and different wordings of a row are
the same row. Stitches are the same when they are the same knot, whatever they are called.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import Literal

from chartc.counting import count
from chartc.counting.ledger import Works
from chartc.fabric import Fabric, Plan, Worked
from chartc.knitting import plans
from chartc.pattern import NOWHERE, CastOn, Pattern, Row
from chartc.source import Source, Span
from chartc.stitch import Stitch
from chartc.vocabulary import Vocabulary, load_vocabulary
from chartc.wording.tidy import alone

Status = Literal["same", "differs", "shifted", "only in the first", "only in the second"]
FARTHEST = 12  # stitches sideways that are still called a shift
_LONGEST_PROGRESSION = 100_000  # stitches up to which a common number is looked for
_WIDE = 400  # stitches on which two patterns of different widths are still compared


class CannotMatch(Exception):
    """There is nothing to compare; the message is in plain words."""


@dataclass(frozen=True, slots=True)
class Seen:
    """A stitch of a row: as it is worked, how it is told apart from the right side, and the
    passage it comes from."""

    worked: Stitch
    shown: tuple[object, ...]
    span: Span


@dataclass(frozen=True, slots=True)
class SeenRow:
    """A row from the right edge to the left."""

    label: str
    number: int | None
    side: str
    in_round: bool
    stitches: tuple[Seen, ...]
    span: Span

    @property
    def rightward(self) -> bool:
        return self.side == "WS" and not self.in_round

    @property
    def shown(self) -> tuple[tuple[object, ...], ...]:
        return tuple(seen.shown for seen in self.stitches)

    @property
    def name(self) -> str:
        if self.number is not None:
            return f"{'rnd' if self.in_round else 'row'} {self.number}"
        return self.label.lower() or "row"


@dataclass(frozen=True, slots=True)
class RowMatch:
    """Two rows compared.

    place   which stitch differs first, from 1 in the order the first text works them; 0 when
            the rows are the same
    column  its place from the right edge as seen from the right side, from 0
    first, second   the rows; None where one has no such row
    one, other      the stitches that differ; None where a row has ended there
    shift   stitches the second is shifted against the first (positive: to the left); 0 none
    """

    status: Status
    first: SeenRow | None
    second: SeenRow | None
    place: int = 0
    column: int = -1
    one: Seen | None = None
    other: Seen | None = None
    shift: int = 0

    @property
    def name(self) -> str:
        row = self.first or self.second
        return row.name if row is not None else ""


@dataclass(frozen=True, slots=True)
class SectionMatch:
    """Two sections compared, row by row. `stitches`: the numbers both were worked on.
    `remark`: what stands in the way of a comparison on one number, "" for nothing."""

    name: str
    other_name: str
    stitches: tuple[int, int]
    rows: tuple[RowMatch, ...]
    remark: str = ""

    @property
    def same(self) -> bool:
        return not self.remark and all(row.status == "same" for row in self.rows)


@dataclass(frozen=True, slots=True)
class Match:
    """The comparison of two patterns."""

    sections: tuple[SectionMatch, ...]

    @property
    def same(self) -> bool:
        return bool(self.sections) and all(section.same for section in self.sections)


# ------------------------------------------------------------------ what a row shows


def knot(stitch: Stitch) -> tuple[object, ...]:
    """What a stitch is, whatever it is called."""
    return (
        stitch.uses, stitch.makes, stitch.heads, stitch.front, stitch.strands, stitch.over,
        stitch.wraps, stitch.extra,
    )  # fmt: skip


def shown(stitch: Stitch, from_behind: bool, vocabulary: Vocabulary) -> tuple[object, ...]:
    """A stitch as it looks from the right side; one worked on the wrong side that looks like
    no stitch of the right side is told apart from all of those."""
    if not from_behind:
        return knot(stitch)
    twin = vocabulary.twin(stitch)
    if twin is None or (twin.uses, twin.makes) != (stitch.uses, stitch.makes):
        return ("from behind", *knot(stitch))
    return knot(twin)


def seen_rows(rows: Fabric | Sequence[Plan]) -> list[SeenRow]:
    """The rows of a fabric, or of plans, as they look from the right side."""
    vocabulary = load_vocabulary()
    found: list[SeenRow] = []
    for row in rows.rows if isinstance(rows, Fabric) else rows:
        behind = row.side == "WS" and not row.in_round
        stitches = [
            Seen(done.stitch, shown(done.stitch, behind, vocabulary), done.span)
            for done in row.stitches
        ]
        if behind:
            stitches.reverse()
        found.append(
            SeenRow(row.label, row.number, row.side, row.in_round, tuple(stitches), row.span)
        )
    return found


# ------------------------------------------------------------------ rows against rows


def match_rows(first: Sequence[SeenRow], second: Sequence[SeenRow]) -> list[RowMatch]:
    """Rows paired and compared: by their numbers where each has its own, or in order, with
    rows that only one of them has left over; whichever finds more rows the same."""
    tried = [
        [_compare(a, b) for a, b in pairs]
        for pairs in (_by_number(first, second), _in_order(first, second))
        if pairs
    ]
    return max(tried, key=lambda rows: sum(r.status == "same" for r in rows), default=[])


_Pairs = list[tuple[SeenRow | None, SeenRow | None]]


def _by_number(first: Sequence[SeenRow], second: Sequence[SeenRow]) -> _Pairs:
    numbers = [row.number for row in first], [row.number for row in second]
    if any(None in n or len(set(n)) != len(n) for n in numbers):
        return []
    mine, its = ({row.number or 0: row for row in rows} for rows in (first, second))
    return [(mine.get(n), its.get(n)) for n in sorted(mine.keys() | its.keys())]


def _in_order(first: Sequence[SeenRow], second: Sequence[SeenRow]) -> _Pairs:
    pairs: _Pairs = []
    lines = SequenceMatcher(
        None, [row.shown for row in first], [row.shown for row in second], autojunk=False
    )
    for _, a, b, c, d in lines.get_opcodes():
        for i in range(max(b - a, d - c)):
            pairs.append((first[a + i] if a + i < b else None,
                          second[c + i] if c + i < d else None))  # fmt: skip
    return pairs


def _compare(a: SeenRow | None, b: SeenRow | None) -> RowMatch:
    if a is None or b is None:
        return RowMatch("only in the first" if b is None else "only in the second", a, b)
    mine, its = a.shown, b.shown
    if mine == its:
        return RowMatch("same", a, b)
    ones = a.stitches[::-1] if a.rightward else a.stitches
    others = b.stitches[::-1] if a.rightward else b.stitches
    place = next(
        (i for i, (x, y) in enumerate(zip(ones, others, strict=False)) if x.shown != y.shown),
        min(len(ones), len(others)),
    )
    one = ones[place] if place < len(ones) else None
    other = others[place] if place < len(others) else None
    total = max(len(ones), len(others))
    column = total - 1 - place if a.rightward else place
    by = shift_between(mine, its, a.in_round and b.in_round)
    status: Status = "shifted" if by else "differs"
    return RowMatch(status, a, b, place + 1, column, one, other, by)


def shift_between(
    first: Sequence[object], second: Sequence[object], in_round: bool = False
) -> int:
    """By how many stitches the second row is the first moved sideways (positive: to the left,
    when both are given from the right edge); 0 when it is not.

    In a round the whole must be the same, turned; in a flat row all but the edges, and more
    than a stitch or two must be there to be recognised.
    """
    total = len(first)
    if total != len(second) or first == second or len(set(first)) < 2:
        return 0
    for size in range(1, min(FARTHEST, total // 2) + 1):
        for by in (size, -size):
            if in_round:
                if all(second[(i + by) % total] == first[i] for i in range(total)):
                    return by
                continue
            low, high = max(0, by), min(total, total + by)
            room = size + 1  # what the shift pushes out, and an edge stitch kept in its place
            inside = range(low + room - size, high - room + size)
            differing = [i for i in inside if second[i] != first[i - by]]
            pattern = {second[i] for i in inside}
            if not differing and len(inside) > total // 2 and len(pattern) > 1:
                return by
    return 0


# ------------------------------------------------------------------ patterns


def match_fabrics(first: Fabric, second: Fabric) -> SectionMatch:
    """Two fabrics compared."""
    rows = match_rows(seen_rows(first), seen_rows(second))
    return SectionMatch("", "", (len(first.cast_on), len(second.cast_on)), tuple(rows))


def match(
    first: Pattern,
    second: Pattern,
    *,
    sections: tuple[str | None, str | None] = (None, None),
    sizes: tuple[int, int] = (0, 0),
) -> Match:
    """Compare two patterns (from words or from charts), section by section.

    sections   names of the section wanted of each; None for all that can be paired
    sizes      the size of each, 0-based

    Raises CannotMatch when there are no rows to compare, or no section of that name.
    """
    mine, its = _sections(first, sections[0]), _sections(second, sections[1])
    if not mine or not its:
        which = "first" if not mine else "second"
        raise CannotMatch(f"the {which} of the two has no rows to compare")
    found: list[SectionMatch] = []
    for i, j in _paired(first, second, mine, its, sizes):
        found.append(_match_sections(first, second, i, j, sizes))
    return Match(tuple(found))


def _sections(pattern: Pattern, name: str | None) -> list[int]:
    def has_rows(i: int) -> bool:
        return any(isinstance(it, Row) for it in pattern.sections[i].flow)

    if name is not None:
        wanted = [
            i for i, s in enumerate(pattern.sections) if s.name.lower().startswith(name.lower())
        ]
        if not wanted:
            known = ", ".join(s.name for s in pattern.sections if s.name) or "none has a name"
            raise CannotMatch(f"there is no section “{name}”; the sections are: {known}")
        return wanted[:1]
    return [i for i in range(len(pattern.sections)) if has_rows(i)]


def _paired(
    first: Pattern,
    second: Pattern,
    mine: Sequence[int],
    its: Sequence[int],
    sizes: tuple[int, int],
) -> list[tuple[int, int]]:
    """Sections that belong together: of the same name, else in order; a text of one section
    goes with the section of the other it is most like."""
    if len(mine) == 1 and len(its) == 1:
        return [(mine[0], its[0])]
    if len(mine) == 1 or len(its) == 1:
        tried = [
            (_match_sections(first, second, i, j, sizes), (i, j)) for i in mine for j in its
        ]
        best = max(tried, key=lambda item: _alike(item[0]))
        return [best[1]]
    names = {second.sections[j].name.lower(): j for j in reversed(its)}
    by_name = [
        (i, names[first.sections[i].name.lower()])
        for i in mine
        if first.sections[i].name.lower() in names
    ]
    if len(by_name) == min(len(mine), len(its)):
        return by_name
    return list(zip(mine, its, strict=False))


def _alike(found: SectionMatch) -> float:
    return sum(row.status == "same" for row in found.rows) / max(1, len(found.rows))


def _match_sections(
    first: Pattern, second: Pattern, i: int, j: int, sizes: tuple[int, int]
) -> SectionMatch:
    names = first.sections[i].name, second.sections[j].name
    only = alone(first, i), alone(second, j)
    remark = ""
    if only[0] is not None and only[1] is not None:
        numbers, remark = _numbers(only[0], only[1], _printed(first, i), _printed(second, j))
        planned = [_rows_on(p, 0, 0, n) for p, n in zip(only, numbers, strict=True) if p]
    else:
        one = _rows_on(first, i, sizes[0], None)
        free = second.sections[j].starts == "free"
        planned = [one, _rows_on(second, j, sizes[1], one[0] if free else None)]
        numbers = planned[0][0], planned[1][0]
    rows = match_rows(seen_rows(planned[0][1]), seen_rows(planned[1][1]))
    if not rows:
        remark = "none of the rows can be worked out"
    return SectionMatch(*names, numbers, tuple(rows), remark)


def _rows_on(
    pattern: Pattern, section: int, size: int, number: int | None
) -> tuple[int, list[Plan]]:
    """The rows of a section, each once, and the number of stitches they are worked on."""
    cast_on, planned = plans(pattern, section, size, cast_on=number)
    seen: set[tuple[Span, int | None]] = set()
    once: list[Plan] = []
    for plan in planned:
        if (plan.span, plan.number) not in seen:
            seen.add((plan.span, plan.number))
            once.append(plan)
    return cast_on, once


def _printed(pattern: Pattern, section: int) -> int | None:
    """The number cast on in the text, when it is the same for all sizes."""
    for it in pattern.sections[section].flow:
        if isinstance(it, CastOn):
            return None if it.count.sized else it.count.values[0]
    return None


def _numbers(
    first: Pattern, second: Pattern, *printed: int | None
) -> tuple[tuple[int, int], str]:
    """Stitches to work two stitch patterns on, and a remark when it cannot be one number.

    A number that fits both; where one of them fits none, as rows with a slip in them do, that
    of the other, so that the rows are compared on the same stitches.
    """
    a, b = count(first).sections[0].works, count(second).sections[0].works
    if printed[0] is not None and printed[0] == printed[1]:
        return (printed[0], printed[0]), ""
    if a is None or b is None:
        works = a or b
        number = _two_repeats(works) if works else printed[0] or printed[1] or 24
        return (number, number), ""
    number = common_number(a, b)
    if number and number <= 2 * max(_two_repeats(a), _two_repeats(b)):
        return (number, number), ""
    remark = f"no number of stitches fits both: {told(a)}; {told(b)}"
    if number:
        remark = f"the repeats are not the same width: {told(a)}; {told(b)}"
        if number <= _WIDE:
            return (number, number), ""
    return (_two_repeats(a), _two_repeats(b)), remark


def common_number(a: Works, b: Works) -> int:
    """A number of stitches both work on, wide enough to show two repeats of each where there
    are such; 0 when no number fits both."""
    fitting = [
        n for n in range(max(a.least, b.least), _LONGEST_PROGRESSION, max(1, a.multiple or 1))
        if a.holds(n) and b.holds(n)
    ][:1] if a.multiple and b.multiple else [
        n for n in ((a.plus,) if not a.multiple else (b.plus,)) if a.holds(n) and b.holds(n)
    ]  # fmt: skip
    if not fitting:
        return 0
    step = _least_common(a.multiple, b.multiple)
    number = fitting[0]
    wanted = max(_two_repeats(a), _two_repeats(b))
    while step and number < wanted:
        number += step
    return number if a.holds(number) and b.holds(number) else fitting[0]


def _least_common(a: int, b: int) -> int:
    from math import lcm

    return lcm(a, b)


def _two_repeats(works: Works) -> int:
    number = works.least + 2 * works.multiple
    return max(number, 12) if works.multiple == 1 else number


def told(works: Works) -> str:
    """ "multiple of 6 + 3"; "exactly 9"."""
    if not works.multiple:
        return f"exactly {works.plus}"
    plus = f" + {works.plus}" if works.plus else ""
    return f"multiple of {works.multiple}{plus}"


# ------------------------------------------------------------------ told


def match_text(found: Match, first: Source, second: Source) -> str:
    """The comparison in words: for each section what is the same, then each row that is not."""
    lines: list[str] = []
    for section in found.sections:
        name = section.name or section.other_name
        head = f"{name}: " if name else ""
        same = sum(row.status == "same" for row in section.rows)
        total = len(section.rows)
        if section.same:
            lines.append(f"{head}the same knitting, {_rows(total)} on {section.stitches[0]} sts")
            continue
        lines.append(f"{head}not the same: {total - same} of {_rows(total)} differ")
        if section.remark:
            lines.append(f"  {section.remark}")
        lines.extend(f"  {row_text(row, first, second)}" for row in section.rows
                     if row.status != "same")  # fmt: skip
    return "\n".join(lines) + "\n"


def _rows(count: int) -> str:
    return f"{count} row" if count == 1 else f"{count} rows"


def row_text(row: RowMatch, first: Source, second: Source) -> str:
    """One row that differs, in words."""
    if row.first is None or row.second is None:
        return f"{row.name}: {row.status}"
    both = _side_note(row)
    if row.status == "shifted":
        way = "left" if row.shift > 0 else "right"
        moved = f"{abs(row.shift)} stitch{'es' if abs(row.shift) != 1 else ''} to the {way}"
        return f"{row.name}: the same, but shifted {moved} in the second{both}"
    return (
        f"{row.name}: differs first at stitch {row.place}: {_says(row.one, first)} in the first, "
        f"{_says(row.other, second)} in the second{both}"
    )


def _side_note(row: RowMatch) -> str:
    a, b = row.first, row.second
    if a is None or b is None or a.side == b.side or not (a.side and b.side):
        return ""
    return f" ({a.side} in the first, {b.side} in the second)"


def _says(seen: Seen | None, source: Source) -> str:
    if seen is None:
        return "the row has ended"
    name = seen.worked.title or seen.worked.us or seen.worked.key
    own = " ".join(source.at(seen.span).split())
    if seen.span == NOWHERE or not own or own.lower() == name:
        return name
    line, column = source.locate(seen.span.start)
    return f"{name} (“{own[:40]}”, line {line}, column {column})"


def match_json(found: Match, first: Source, second: Source) -> dict[str, object]:
    """The comparison as plain data for `json.dumps`."""

    def stitch(seen: Seen | None, source: Source) -> dict[str, object] | None:
        if seen is None:
            return None
        line, column = source.locate(seen.span.start)
        return {
            "stitch": seen.worked.us or seen.worked.key, "title": seen.worked.title,
            "text": source.at(seen.span), "line": line, "column": column,
        }  # fmt: skip

    return {
        "same": found.same,
        "sections": [
            {
                "first": section.name,
                "second": section.other_name,
                "stitches": list(section.stitches),
                "same": section.same,
                "remark": section.remark,
                "rows": [
                    {
                        "row": row.name,
                        "status": row.status,
                        "stitch": row.place or None,
                        "column": row.column if row.column >= 0 else None,
                        "shift": row.shift,
                        "first": stitch(row.one, first),
                        "second": stitch(row.other, second),
                    }
                    for row in section.rows
                ],
            }
            for section in found.sections
        ],
    }


def differing(fabric: Fabric, row: RowMatch) -> Worked | None:
    """The stitch of the first fabric at which a row differs, to be marked on its chart."""
    if row.first is None or row.place == 0:
        return None
    for other in fabric.rows:
        if other.span == row.first.span and other.number == row.first.number:
            stitches = other.stitches
            return stitches[row.place - 1] if row.place <= len(stitches) else None
    return None
