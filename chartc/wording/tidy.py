"""The tidy copy of a text: its rows in house style, everything else as its author wrote it.

Nothing is changed on trust. The new text is read again, and every change after which it is not
the same knitting is taken back.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from functools import partial
from itertools import pairwise

from chartc.counting import count
from chartc.fabric import Plan
from chartc.knitting import TooManyStitches, plans
from chartc.pattern import (
    CastOn,
    Fill,
    Instruction,
    Num,
    Pattern,
    Repeat,
    Row,
    Section,
    Step,
    Work,
)
from chartc.reading import read
from chartc.source import Source, Span
from chartc.stitch import Stitch
from chartc.vocabulary import load_vocabulary
from chartc.wording.naming import sized_words
from chartc.wording.rows import (
    WrittenRow,
    authors_repeats,
    lines_of,
    split_lines,
    with_counts,
    worded,
    written_rows,
)
from chartc.wording.sentences import NotWorded, step_words
from chartc.wording.splitting import WIDEST, RowParts, Split, filled
from chartc.wording.style import HouseStyle

_BETWEEN = re.compile(
    r"\s*(?:[,;]|,?\s*and|,?\s*then|[,;]?\s*end(?:ing)?(?:\s+with)?)?\s*", re.IGNORECASE
)

_IN_TWO = re.compile(r"(\((?:k1, p1|p1, k1)\)) in 2 sts(?: tog)?")
_BARE = re.compile(r"k(nit)?|p(url)?|work", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Edit:
    """A passage and its new words. `readable` the same in words the reader reads, where `text`
    is for the ear."""

    span: Span
    text: str
    readable: str
    section: int
    rewritten: bool = False  # the rows are told anew, not step by step


@dataclass(frozen=True, slots=True)
class Tidied:
    """A tidy copy. `kept_rows`: statements left as they were because no tidier wording of
    them reads back as the same knitting."""

    text: str
    edits: tuple[Edit, ...]
    kept: tuple[Span, ...] = ()


def tidy(source: Source, style: HouseStyle | None = None, pattern: Pattern | None = None) -> Tidied:
    """The text with its rows in house style."""
    pattern = pattern or read(source)
    style = _with_its_word(style or HouseStyle(), source, pattern)
    made = list(_edits(source, pattern, style))
    judge = _Judge(source, pattern)
    kept = _settle(made, judge)
    # Where rows told anew do not hold, they may still be tidied step by step.
    lost = {edit.section for edit in made if edit.rewritten and edit not in kept}
    if lost:
        more = [
            edit
            for i in sorted(lost)
            for edit in _step_by_step(source, pattern.sections[i], i, style)
        ]
        free = [e for e in more if not any(_overlap(e.span, k.span) for k in kept)]
        kept = _settle([*kept, *free], judge)
        made += more
    done = {edit.span for edit in kept}
    return Tidied(
        _applied(source.text, [(edit.span, edit.text) for edit in kept]),
        tuple(kept),
        tuple(sorted({edit.span for edit in made} - done)),
    )


def _with_its_word(style: HouseStyle, source: Source, pattern: Pattern) -> HouseStyle:
    """The style with the word for a round that the text itself uses: its sentences about its
    rounds stay as they are, and the two should agree."""
    heads = [
        source.at(row.head).lower()
        for section in pattern.sections
        for row in rows_of(section)
        if row.in_round
    ]
    short = sum("rnd" in head for head in heads)
    long = sum("round" in head for head in heads)
    if short == long or style.words == "spoken":
        return style
    return replace(style, rounds="Rnd" if short > long else "Round")


def _overlap(a: Span, b: Span) -> bool:
    return a.start < b.end and b.start < a.end


def _applied(text: str, changes: Iterable[tuple[Span, str]]) -> str:
    for span, words in sorted(changes, key=lambda change: change[0], reverse=True):
        text = text[: span.start] + words + text[span.end :]
    return text


# ------------------------------------------------------------------ what to change


def _edits(source: Source, pattern: Pattern, style: HouseStyle) -> Iterable[Edit]:
    seen: set[Span] = set()
    for i, section in enumerate(pattern.sections):
        edits = told_anew(source, pattern, i, style) or _step_by_step(
            source, section, i, style
        )
        for edit in edits:
            if edit.span not in seen and edit.text != source.at(edit.span):
                seen.add(edit.span)
                yield edit


def rows_of(section: Section) -> list[Row]:
    """The rows of a section, in working order, without those worked again."""
    return [it for it in section.flow if isinstance(it, Row)]


def is_simple(row: Row) -> bool:
    """The row is stitches, runs and repeats and nothing else, the same in all sizes."""

    def simple(step: Step) -> bool:
        if isinstance(step, Work):
            return not step.times.sized
        if isinstance(step, Fill):
            return step.stitch is not None and not step.target.name and not step.target.n.sized
        return (
            isinstance(step, Repeat)
            and not (step.times is not None and step.times.sized)
            and not (step.target is not None and (step.target.n.sized or step.target.name))
            and all(simple(inner) for inner in (*step.body, *(step.last or ())))
        )

    return row.readable and not row.as_set and row.only is None and all(map(simple, row.steps))


def alone(pattern: Pattern, section: int) -> Pattern | None:
    """The rows of a section as a stitch pattern of their own, worked on any number that fits;
    None where they are no such thing: shaping by size, markers, short rows, or rows that other
    instructions come between."""
    flow = pattern.sections[section].flow
    places = [i for i, it in enumerate(flow) if isinstance(it, Row)]
    rows = rows_of(pattern.sections[section])
    if not rows or places[-1] - places[0] + 1 != len(rows) or not all(map(is_simple, rows)):
        return None
    only = replace(pattern.sections[section], flow=tuple(rows), starts="free", multiple=None)
    return replace(pattern, sections=(only,))


def stitch_pattern(
    pattern: Pattern, section: int, times: int = 3
) -> tuple[int, list[Plan]] | None:
    """The rows of a section worked once, on its edge stitches and so many repeats; None where
    the section is no stitch pattern (see `alone`) or its rows do not come out."""
    only = alone(pattern, section)
    if only is None:
        return None
    works = count(only).sections[0].works
    if works is None:
        return None
    number = works.least + max(0, times - 1) * works.multiple
    if works.multiple == 1:
        number = max(number, 12 + works.least)
    return worked_on(only, number)


def parts_of(
    pattern: Pattern, section: int, found: tuple[int, list[Plan]], *, allow: float, fills: bool
) -> Split:
    """Edges and repeat of the rows `stitch_pattern` found. Rows that work on one number of
    stitches alone are told whole: an open repeat would promise more than they hold."""
    cast_on, planned = found
    lines = lines_of(planned, cast_on)
    only = alone(pattern, section)
    works = count(only).sections[0].works if only is not None else None
    if works is None or not works.multiple:
        rows = rows_of(pattern.sections[section])
        told = [
            (filled(line.facing()) if fills and _has_fill(row) else None) or RowParts(line.facing())
            for line, row in zip(lines, rows, strict=True)
        ]
        return Split(tuple(told), 0, cast_on)
    if works.multiple > WIDEST:
        return Split(tuple(RowParts(line.facing()) for line in lines), 0, cast_on)
    return split_lines(lines, authors_repeats(planned), allow=allow, fills=fills)


def _is_open(row: Row) -> bool:
    return any(isinstance(step, Repeat) and step.target is not None for step in row.steps)


def _has_fill(row: Row) -> bool:
    return any(isinstance(step, Fill) for step in row.steps)


def worked_on(only: Pattern, number: int, section: int = 0) -> tuple[int, list[Plan]] | None:
    """A stitch pattern's rows on so many stitches; None where they do not come out."""
    rows = rows_of(only.sections[section])
    try:
        cast_on, planned = plans(only, section, cast_on=number)
    except TooManyStitches:
        return None
    planned = planned[: len(rows)]
    if len(planned) < len(rows) or any(plan.shift or plan.skip or plan.turned for plan in planned):
        return None
    lines = lines_of(planned, cast_on)
    return (cast_on, planned) if all(line.whole for line in lines) else None


def own_names(pattern: Pattern) -> dict[str, str]:
    """Key of a stitch -> the name the text itself explains it by."""
    names = {own.stitch.key: own.name for own in pattern.own if own.stitch is not None}
    vocabulary = load_vocabulary()
    for word in pattern.explained:
        stitch = vocabulary.named(word)
        if stitch is not None and stitch.kind == "cable":
            names.setdefault(stitch.key, word)
    return names


def renamed(stitch: Stitch, names: dict[str, str], doubled: bool = False) -> Stitch:
    """The stitch under the name the text gives it; `doubled`: the rows hold double yarn overs,
    and two stitches worked in two loops are those."""
    name = names.get(stitch.key)
    if name is None and doubled and (pair := _IN_TWO.fullmatch(stitch.us)):
        name = f"{pair[1]} in double yo"
    if name is None or name.lower() in (stitch.us.lower(), stitch.uk.lower()):
        return stitch
    return replace(stitch, us=name, uk=name, counted="")


def _renamed_parts(parts: RowParts, names: dict[str, str], doubled: bool) -> RowParts:
    def named(stitches: tuple[Stitch, ...]) -> tuple[Stitch, ...]:
        return tuple(renamed(stitch, names, doubled) for stitch in stitches)

    return RowParts(named(parts.right), named(parts.body), parts.times, named(parts.left))


def told_anew(
    source: Source, pattern: Pattern, section: int, style: HouseStyle
) -> list[Edit]:
    """The rows of a stitch pattern with the shortest repeat that is the same on all of them."""
    found = stitch_pattern(pattern, section)
    if found is None:
        return []
    cast_on, planned = found
    names = own_names(pattern)
    doubled = any(done.stitch.key == "yo2" for plan in planned for done in plan.stitches)
    lines = [
        replace(line, stitches=tuple(renamed(s, names, doubled) for s in line.stitches))
        for line in lines_of(planned, cast_on)
    ]
    parts = parts_of(pattern, section, found, allow=0.2, fills=True)
    if not parts.width and any(_is_open(row) for row in rows_of(pattern.sections[section])):
        works = count(only).sections[0].works if (only := alone(pattern, section)) else None
        if works is not None and works.multiple:
            return []  # repeats of different widths: no one repeat tells them all
    parts = replace(parts, rows=tuple(_renamed_parts(row, names, doubled) for row in parts.rows))
    rows = rows_of(pattern.sections[section])
    around = [_around(source, row) for row in rows]
    if None in around:
        return []
    counts = _counts(pattern, section) if style.counts != "none" else None
    told = with_counts(written_rows(lines, parts), parts, counts)
    written = [
        replace(row, lead=words[0], note=words[1])
        for row, words in zip(told, around, strict=True)
        if words is not None
    ]
    edits: list[Edit] = []
    for region, places in _regions(source, rows):
        group = [written[i] for i in places]
        text, readable = _both(style, _wording_of(group))
        edits.append(Edit(region, text, readable, section, rewritten=True))
    return edits


def _wording_of(rows: list[WrittenRow]) -> Callable[[HouseStyle], str]:
    return lambda style: "\n".join(worded(rows, style))


def _both(style: HouseStyle, words: Callable[[HouseStyle], str]) -> tuple[str, str]:
    """The words of a style, and the same in words that can be read back."""
    text = words(style)
    if style.words != "spoken":
        return text, text
    return text, words(replace(style, words="spelled"))


def _counts(pattern: Pattern, section: int) -> list[int] | None:
    """The stitches on the needle before the first row and after each, when the text says how
    many it begins with and it is one number for all sizes."""
    flow = pattern.sections[section].flow
    begun = next((it for it in flow if isinstance(it, CastOn)), None)
    only = alone(pattern, section)
    if begun is None or begun.count.sized or only is None:
        works = count(only).sections[0].works if only is not None else None
        if only is None or works is None or works.multiple:
            return None
        number = works.plus
    else:
        number = begun.count.values[0]
    found = worked_on(only, number)
    if found is None:
        return None
    return [number, *(line.after for line in lines_of(found[1], number))]


def _around(source: Source, row: Row) -> tuple[str, str] | None:
    """What the author wrote before and after the steps of a row ("With A", a stated count);
    None where there are words between them that would be lost."""
    steps = [step for step in row.steps if _inside(step.span, row.body)]
    if not steps:
        return "", _trailing(source.at(row.body)) if row.stated else ""
    for step, after in pairwise(steps):
        gap = source.at(Span(step.span.end, after.span.start))
        if not _BETWEEN.fullmatch(gap.strip("()[] ")):
            return None
    lead = source.at(Span(row.body.start, steps[0].span.start)).strip().strip(",;:").strip()
    end = steps[-1].span.end
    if any(isinstance(step, Repeat) and step.last is not None for step in steps):
        # "ending last repeat k2" belongs to the repeat; what follows it may be a count
        end = min((stated.span.start for stated in row.stated), default=row.body.end)
        while end > steps[-1].span.end and source.text[end - 1] in "([-–—  ":
            end -= 1
    trail = source.at(Span(end, row.body.end))
    lead = " ".join(lead.split()) if any(c.isalnum() for c in lead) else ""
    return lead, _trailing(trail.lstrip(")] "))


def _trailing(text: str) -> str:
    found = " ".join(text.strip().lstrip(".,;").split())
    return found if any(c.isalnum() for c in found) else ""


def with_brackets(source: Source, span: Span, within: Span) -> Span:
    """A passage made to hold both brackets of each pair it holds one of."""
    start, end = span.start, span.end
    depth = lowest = 0
    for mark in source.text[start:end]:
        depth += (mark in "([") - (mark in ")]")
        lowest = min(lowest, depth)
    missing = -lowest  # closed here, opened before
    while missing and start > within.start:
        start -= 1
        missing -= source.text[start] in "(["
    missing = depth - lowest  # opened here, closed after
    while missing and end < within.end:
        missing -= source.text[end] in ")]"
        end += 1
    return Span(start, end)


def _inside(span: Span, other: Span) -> bool:
    return other.start <= span.start and span.end <= other.end


def _regions(source: Source, rows: Sequence[Row]) -> list[tuple[Span, list[int]]]:
    """Row statements that follow one another with nothing between them, and the rows told
    there. A row told by another's statement ("and all WS rows") goes with that statement."""
    by_span: dict[Span, list[int]] = {}
    for i, row in enumerate(rows):
        by_span.setdefault(row.span, []).append(i)
    regions: list[tuple[Span, list[int]]] = []
    for span in sorted(by_span):
        if regions and not source.at(Span(regions[-1][0].end, span.start)).strip():
            before, places = regions[-1]
            regions[-1] = (before.join(span), places + by_span[span])
        else:
            regions.append((span, list(by_span[span])))
    return [(span, sorted(places)) for span, places in regions]


def _step_by_step(
    source: Source, section: Section, index: int, style: HouseStyle
) -> Iterable[Edit]:
    """Every step of every row in house style, what lies between them kept."""
    seen: set[Span] = set()
    for it in section.flow:
        if not isinstance(it, Row) or it.body in seen or not it.readable:
            continue
        seen.add(it.body)
        if not it.steps or not all(_inside(step.span, it.body) for step in it.steps):
            continue
        ends = [step.span for step in it.steps]
        if any(a.end > b.start for a, b in pairwise(ends)):
            continue
        text, readable = _both(style, partial(_restepped, source, it))
        yield Edit(Span(ends[0].start, ends[-1].end), text, readable, index)


def _restepped(source: Source, row: Row, style: HouseStyle) -> str:
    text = ""
    starred = False
    before: str | None = None  # the own words of the step before, None while it has none
    steps = _merged(row.steps, source)
    for i, step in enumerate(steps):
        own = source.at(step.span)
        try:
            words: str | None = _words(source, step, style, row, len(steps) == 1, starred)
        except NotWorded:
            words = None
        if i:
            gap = source.at(Span(steps[i - 1].span.end, step.span.start))
            tidy_gap = words is not None and before is not None and _BETWEEN.fullmatch(gap)
            text += ", " if tidy_gap else gap
        starred = starred or "*" in own
        text += own if words is None else words
        before = words
    return _with_capital(text) if style.capital else text


def _with_capital(text: str) -> str:
    at = 1 if text[:1] in ("*", "(", "[") else 0
    return text[:at] + text[at : at + 1].upper() + text[at + 1 :]


def _words(
    source: Source, step: Step, style: HouseStyle, row: Row, alone: bool, starred: bool
) -> str:
    """A step in house style. Raises NotWorded where the author's words say more than the step."""
    own = source.at(step.span)
    if isinstance(step, Work):
        if _BARE.fullmatch(own) or not _names(own, step.stitch):
            raise NotWorded
        if step.times.sized:
            return _sized(source, step, style)
    may_star = not starred or own.lstrip().startswith("*")
    words = step_words(step, style, row.in_round, may_star)
    if not alone and words in ("knit", "purl"):
        return f"{words[0] if style.words == 'short' else words} to end"
    return words


def _sized(source: Source, step: Work, style: HouseStyle) -> str:
    """The numbers of the sizes as the author sets them out: 8 (9, 10) or 8 (9: 10)."""
    words = sized_words(step.stitch, step.times.values, style)
    if not words:
        raise NotWorded
    first, *others = (str(n) for n in step.times.values)
    own = source.at(step.times.span)
    if re.findall(r"\d+", own) == [first, *others]:
        words = words.replace(f"{first} ({', '.join(others)})", own)
    return words


def _names(own: str, stitch: Stitch) -> bool:
    """Whether words name the stitch itself: "MDS" is a slip and more besides."""
    vocabulary = load_vocabulary()
    match = vocabulary.match(vocabulary.atoms(own))
    return match is not None and match.stitch is not None and match.stitch.key == stitch.key


def _merged(steps: Sequence[Step], source: Source) -> list[Step]:
    """Equal neighbours made one: "k1, k1" is k2."""
    merged: list[Step] = []
    for step in steps:
        last = merged[-1] if merged else None
        if (
            isinstance(step, Work)
            and isinstance(last, Work)
            and step.stitch == last.stitch
            and not step.times.sized
            and not last.times.sized
            and _BETWEEN.fullmatch(source.at(Span(last.span.end, step.span.start)))
        ):
            times = Num((last.times.values[0] + step.times.values[0],))
            merged[-1] = Work(step.stitch, times, last.span.join(step.span))
        else:
            merged.append(step)
    return merged


# ------------------------------------------------------------------ is it the same


def _settle(edits: list[Edit], judge: _Judge) -> list[Edit]:
    """The edits after which the text is still the same knitting."""
    if not edits or judge.same(edits):
        return edits
    if len(edits) == 1:
        return []
    half = len(edits) // 2
    first, second = _settle(edits[:half], judge), _settle(edits[half:], judge)
    both = first + second
    return both if judge.same(both) else max(first, second, key=len)


class _Judge:
    """Whether an edited text is the same knitting as the one it was made from."""

    def __init__(self, source: Source, pattern: Pattern) -> None:
        self.source, self.pattern = source, pattern
        self.counted = count(pattern)
        self.remarks = Counter(remark.check for remark in pattern.remarks)
        self.events = Counter(event.kind for event in self.counted.events)

    def same(self, edits: Sequence[Edit]) -> bool:
        text = _applied(self.source.text, [(edit.span, edit.readable) for edit in edits])
        other = read(Source(self.source.name, text))
        if Counter(remark.check for remark in other.remarks) - self.remarks:
            return False
        if [s.starts for s in other.sections] != [s.starts for s in self.pattern.sections]:
            return False
        counted = count(other)
        if Counter(event.kind for event in counted.events) - self.events:
            return False
        anew = {edit.section for edit in edits if edit.rewritten}
        return all(
            self._same_section(i, other, i in anew)
            for i in range(len(self.pattern.sections))
        )

    def _same_section(self, i: int, other: Pattern, anew: bool) -> bool:
        mine, its = self.pattern.sections[i], other.sections[i]
        if not anew:
            return normal_flow(mine.flow) == normal_flow(its.flow)
        if [type(it) for it in mine.flow] != [type(it) for it in its.flow]:
            return False
        before, after = alone(self.pattern, i), alone(other, i)
        if before is None or after is None:
            return False
        works = count(before).sections[0].works
        if works is None:
            return False
        numbers = {works.least + k * works.multiple for k in (0, 1, 3)}
        return all(_rows_on(before, n) == _rows_on(after, n) for n in numbers)


def _rows_on(only: Pattern, number: int) -> object:
    found = worked_on(only, number)
    return found and [
        (p.number, p.side, p.in_round, tuple(done.stitch.key for done in p.stitches))
        for p in found[1]
    ]


def normal_flow(flow: Sequence[Instruction]) -> list[object]:
    """Instructions without their places in the text, equal wordings made equal."""
    return [
        (it.number, it.in_round, normal_steps(it.steps), it.only, it.as_set,
         tuple((s.kind, s.num.values) for s in it.stated))
        if isinstance(it, Row)
        else type(it).__name__
        for it in flow
    ]  # fmt: skip


def normal_steps(steps: Sequence[Step]) -> tuple[object, ...]:
    """Steps without their places in the text; equal neighbours made one."""
    found: list[tuple[object, ...]] = []
    run: tuple[str, int] | None = None  # stitch and number of the run that goes on
    for step in steps:
        if isinstance(step, Work) and not step.times.sized:
            key, times = step.stitch.key, step.times.values[0]
            if run is not None and run[0] == key:
                times += run[1]
                found.pop()
            run = (key, times)
            found.append(("work", key, (times,)))
            continue
        run = None
        if isinstance(step, Work):
            found.append(("work", step.stitch.key, step.times.values))
        elif isinstance(step, Repeat):
            found.append((
                "repeat", normal_steps(step.body), step.times and step.times.values,
                step.target and (step.target.reach, step.target.n.values, step.target.name),
                None if step.last is None else normal_steps(step.last), step.least, step.cut,
            ))  # fmt: skip
        elif isinstance(step, Fill):
            found.append((
                "fill", step.stitch and step.stitch.key,
                step.target.reach, step.target.n.values, step.target.name,
            ))  # fmt: skip
        else:
            found.append((_placeless(step),))
    return tuple(found)


def _placeless(step: object) -> object:
    """A step's values, its places in the text left out."""
    if isinstance(step, Span):
        return None
    if is_dataclass(step) and not isinstance(step, type):
        return (
            type(step).__name__,
            *(_placeless(getattr(step, field.name)) for field in fields(step)),
        )
    return step
