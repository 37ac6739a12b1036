"""Rows of single stitches into written rows: the repeat found, equal rows told once."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from chartc.fabric import Fabric, Plan
from chartc.pattern import NOWHERE, Fill, Num, Reach, Repeat, Step, Target
from chartc.source import Span
from chartc.stitch import Stitch
from chartc.wording.naming import in_words, stitches_word
from chartc.wording.ribs import rib_names, shown_faces
from chartc.wording.sentences import row_sentence
from chartc.wording.shorten import shorten
from chartc.wording.splitting import RowParts, Split, split
from chartc.wording.style import HouseStyle


@dataclass(frozen=True, slots=True)
class LineOfStitches:
    """One row as it is worked: every stitch, in working order.

    before, after   stitches on the needle
    """

    label: str
    number: int | None
    side: str
    in_round: bool
    stitches: tuple[Stitch, ...]
    before: int
    after: int
    section: str = ""
    span: Span = NOWHERE

    @property
    def rightward(self) -> bool:
        """Worked from left to right as seen from the right side."""
        return self.side == "WS" and not self.in_round

    def facing(self) -> tuple[Stitch, ...]:
        """From the right edge to the left as seen from the right side."""
        return self.stitches[::-1] if self.rightward else self.stitches

    @property
    def whole(self) -> bool:
        """Every stitch on the needle is worked."""
        return sum(stitch.uses for stitch in self.stitches) == self.before


@dataclass(frozen=True, slots=True)
class WrittenRow:
    """A row in steps, ready to be put into words."""

    label: str
    number: int | None
    side: str
    in_round: bool
    steps: tuple[Step, ...]
    before: int
    after: int
    rib: str = ""
    per_repeat: bool = False  # `before` and `after` are those of one repeat
    lead: str = ""  # what the author wrote before the stitches: the yarn to work with
    note: str = ""  # what the author wrote after them: a count stated


def lines_of(rows: Fabric | Sequence[Plan], cast_on: int | None = None) -> list[LineOfStitches]:
    """The rows of a fabric, or of plans worked onto `cast_on` stitches."""
    if isinstance(rows, Fabric):
        count = len(rows.cast_on)
        found: Sequence[Plan] = [
            Plan(r.label, r.number, r.side, r.in_round, (), r.span, section=r.section)
            for r in rows.rows
        ]
        worked = [tuple(w.stitch for w in row.stitches) for row in rows.rows]
    else:
        found = rows
        worked = [tuple(done.stitch for done in plan.stitches) for plan in rows]
        count = cast_on if cast_on is not None else sum(s.uses for s in worked[0]) if worked else 0
    lines: list[LineOfStitches] = []
    for plan, stitches in zip(found, worked, strict=True):
        after = count + sum(stitch.net for stitch in stitches)
        lines.append(
            LineOfStitches(plan.label, plan.number, plan.side, plan.in_round, stitches,
                           count, after, plan.section, plan.span)
        )  # fmt: skip
        count = after
    return lines


def authors_repeats(plans: Sequence[Plan]) -> list[tuple[int, int]]:
    """Where the text itself begins its open repeats, and how wide they are: stitches before
    the right-hand edge of the repeat, and in it, for each row that has one."""
    found: dict[tuple[int, int], None] = {}
    for plan in plans:
        done = plan.stitches
        if plan.side == "WS" and not plan.in_round:
            done = done[::-1]
        times: dict[int, int] = {}
        before = 0
        for stitch in done:
            mark = next((mark for mark in stitch.passes if mark.open), None)
            if mark is not None:
                times[mark.number] = times.get(mark.number, 0) + stitch.stitch.uses
            elif not times:
                before += stitch.stitch.uses
        if len(times) > 1 and len(set(times.values())) == 1:
            found.setdefault((before, next(iter(times.values()))))
    return list(found)


def split_lines(
    lines: Sequence[LineOfStitches],
    prefer: Sequence[tuple[int, int]] = (),
    allow: float = 0.0,
    fills: bool = False,
) -> Split:
    """The repeat of the rows, as `splitting.split`; none where a row leaves stitches unworked."""
    if any(not line.whole for line in lines):
        return Split(tuple(RowParts(line.facing()) for line in lines), 0,
                     lines[0].before if lines else 0)  # fmt: skip
    return split([line.facing() for line in lines], prefer=prefer, allow=allow,
                 fills=fills)  # fmt: skip


def steps_of(parts: RowParts, rightward: bool) -> tuple[Step, ...]:
    """A row's parts as steps in working order."""
    if not parts.times:
        line = parts.right[::-1] if rightward else parts.right
        filled = _all_one(line)
        return (filled,) if filled is not None else shorten(line)
    first, body, last = parts.right, parts.body, parts.left
    if rightward:
        first, body, last = last[::-1], body[::-1], first[::-1]
    plain = body[0] if len(set(body)) == 1 and body[0].key in ("k", "p") else None
    if plain is not None:
        while first and first[-1] == plain:
            first = first[:-1]
        while last and last[0] == plain:
            last = last[1:]
    tail = sum(stitch.uses for stitch in last)
    target = Target(Reach.LAST, Num((tail,))) if tail else Target(Reach.END)
    middle: Step
    if plain is not None:
        middle = Fill(plain, target, NOWHERE)
    else:
        middle = Repeat(shorten(_smallest(body)), None, target, NOWHERE)
    return (*shorten(first), middle, *shorten(last))


def _smallest(body: tuple[Stitch, ...]) -> tuple[Stitch, ...]:
    """The shortest stretch the repeat is itself made of: k1, p1, k1, p1 is twice k1, p1."""
    for period in range(1, len(body) // 2 + 1):
        if len(body) % period == 0 and body == body[:period] * (len(body) // period):
            uses = sum(stitch.uses for stitch in body[:period])
            if uses:
                return body[:period]
    return body


def _all_one(stitches: Sequence[Stitch]) -> Fill | None:
    if len(stitches) > 1 and len(set(stitches)) == 1 and stitches[0].key in ("k", "p"):
        return Fill(stitches[0], Target(Reach.END), NOWHERE)
    return None


def written_rows(
    lines: Sequence[LineOfStitches], parts: Split | None = None
) -> list[WrittenRow]:
    """Every row in steps, with the repeat that `parts` (or the search) gives."""
    parts = parts or split_lines(lines, fills=True)
    ribs = rib_names([shown_faces(line.facing(), line.rightward) for line in lines])
    return [
        WrittenRow(line.label, line.number, line.side, line.in_round,
                   steps_of(row, line.rightward), line.before, line.after, rib)
        for line, row, rib in zip(lines, parts.rows, ribs, strict=True)
    ]  # fmt: skip


def with_counts(
    rows: Sequence[WrittenRow], parts: Split, counts: Sequence[int] | None
) -> list[WrittenRow]:
    """The rows with the counts to be told after them: those given (before the first row, and
    after each), or, where the number is open, those of one repeat; none where the edges change
    too."""
    if counts is not None:
        return [
            replace(row, before=counts[i], after=counts[i + 1]) for i, row in enumerate(rows)
        ]
    if not parts.width:
        return list(rows)
    found: list[WrittenRow] = []
    for row, part in zip(rows, parts.rows, strict=True):
        edges = sum(stitch.net for stitch in (*part.right, *part.left))
        uses = sum(stitch.uses for stitch in part.body)
        makes = sum(stitch.makes for stitch in part.body)
        filled = uses == makes == 1  # a run of plain stitches: no repeat to be counted
        found.append(
            replace(row, before=0, after=0)
            if edges or filled
            else replace(row, before=uses, after=makes, per_repeat=True)
        )
    return found


def _same(rows: Sequence[WrittenRow], style: HouseStyle) -> Callable[[int, int], bool]:
    def alike(i: int, j: int) -> bool:
        a, b = rows[i], rows[j]
        return a.side == b.side and _told_alike(a, b, style)

    return alike


def _told_alike(a: WrittenRow, b: WrittenRow, style: HouseStyle) -> bool:
    """The same words serve for both rows, whatever their sides."""
    return (
        b.number is not None
        and a.steps == b.steps
        and a.in_round == b.in_round
        and a.after - a.before == b.after - b.before
        and (a.lead, a.note) == (b.lead, b.note)
        and _count(a, style) == _count(b, style)
    )


def _run_of_both_sides(
    rows: Sequence[WrittenRow], i: int, told: set[int], style: HouseStyle
) -> list[int]:
    """Rows on end told alike on both sides ("Rows 1 to 4: Knit"); [] when the next row is not
    such a one, or some further row is told in the same words."""
    run = [i]
    while (
        (j := run[-1] + 1) < len(rows)
        and j not in told
        and rows[j].number == (rows[i].number or 0) + len(run)
        and _told_alike(rows[i], rows[j], style)
    ):
        run.append(j)
    if len({rows[j].side for j in run}) < 2:
        return []
    rest = [
        j for j in range(run[-1] + 1, len(rows))
        if rows[j].side in {rows[k].side for k in run} and _told_alike(rows[i], rows[j], style)
    ]  # fmt: skip
    return [] if rest else run


def worded(rows: Sequence[WrittenRow], style: HouseStyle) -> list[str]:
    """The rows as lines of text."""
    lines: list[str] = []
    told: set[int] = set()
    sides: set[str] = set()
    alike = _same(rows, style)
    for i, row in enumerate(rows):
        if i in told:
            continue
        group = [i]
        if style.merge and row.number is not None:
            group += [j for j in range(i + 1, len(rows)) if j not in told and alike(i, j)]
            group = _run_of_both_sides(rows, i, told, style) or group
        told.update(group)
        numbers = [rows[j].number for j in group]
        mixed = len({rows[j].side for j in group}) > 1
        label = _label(row, [n for n in numbers if n is not None], style, sides, mixed)
        text = row_sentence(
            row.steps, replace(style, capital=False) if row.lead else style, row.in_round
        )
        text = f"{row.lead}, {text}" if row.lead else text
        lines.append(f"{label}: {text}.{_count(row, style)}")
    return lines


def _label(
    row: WrittenRow, numbers: Sequence[int], style: HouseStyle, sides: set[str], mixed: bool
) -> str:
    """ "Row 1 (RS)", "Rnds 2, 4 and 6"; a row without a number keeps its own label."""
    spoken = style.words == "spoken"
    if not numbers:
        name = row.label or f"Next {'round' if row.in_round else 'row'}"
        says_side = row.side in name
    else:
        word = style.rounds if row.in_round else "Row"
        plural = "s" if len(numbers) > 1 else ""
        name = f"{word}{plural} {_numbers(numbers, spoken)}"
        says_side = False
    if row.side and not row.in_round and not says_side and not mixed:
        wanted = style.sides == "all" or (style.sides == "first" and row.side not in sides)
        if wanted:
            name += f" ({row.side})" if not spoken else (
                ", right side" if row.side == "RS" else ", wrong side"
            )  # fmt: skip
        sides.add(row.side)
    if mixed:
        sides.update(("RS", "WS"))
    if row.rib and style.name_ribs and row.rib not in name:
        name += f" ({row.rib})" if not spoken else f", {_spoken_rib(row.rib)}"
    return name


def _spoken_rib(name: str) -> str:
    knit, _, purl = name.removesuffix(" rib").partition("x")
    return f"{in_words(int(knit))} by {in_words(int(purl))} rib"


def _numbers(numbers: Sequence[int], spoken: bool) -> str:
    """ "2, 4 and 6"; "1 to 4" for a run of three or more; those wholly of two steps in full."""
    shown = [in_words(n) if spoken else str(n) for n in numbers]
    run = list(range(numbers[0], numbers[0] + len(numbers)))
    if len(numbers) > 2 and list(numbers) == run:
        return f"{shown[0]} to {shown[-1]}"
    if len(shown) == 1:
        return shown[0]
    return f"{', '.join(shown[:-1])} and {shown[-1]}"


def _said(note: str) -> str:
    """A count as written, for the ear: "(16 sts in each rep)" is "16 stitches in each repeat."."""
    text = note.strip("()[]. —–-")
    for short, long in ((r"\bsts\b", "stitches"), (r"\bst\b", "stitch"), (r"\breps?\b", "repeat"),
                        (r"\brem\b", "remain"), (r"\binc'?d\b", "increased"),
                        (r"\bdec'?d\b", "decreased")):  # fmt: skip
        text = re.sub(short, long, text.replace("’", "'"))
    text = re.sub(r"\d+", lambda figure: in_words(int(figure[0])), text)
    return f"{text[:1].upper()}{text[1:]}."


def _count(row: WrittenRow, style: HouseStyle) -> str:
    if row.note:
        return f" {_said(row.note) if style.words == 'spoken' else row.note}"
    if row.before == row.after == 0:
        return ""
    if style.counts == "all" or (style.counts == "changed" and row.after != row.before):
        if style.words == "spoken":
            each = " in each repeat" if row.per_repeat else ""
            return f" {stitches_word(row.after, style).capitalize()}{each}."
        each = "" if not row.per_repeat else " in each rep"
        return f" ({stitches_word(row.after, style)}{each})"
    return ""
