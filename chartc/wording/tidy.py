"""The tidy copy of a text: its rows in house style, everything else as its author wrote it.

Nothing is changed on trust. The new text is read again, and every change after which it is not
the same knitting is taken back.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from chartc.counting import Counted, count
from chartc.fabric import Plan
from chartc.knitting import TooManyStitches, plans
from chartc.pattern import (
    NOWHERE,
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
from chartc.wording.rows import lines_of, split_lines, worded, written_rows
from chartc.wording.sentences import NotWorded, step_words
from chartc.wording.style import HouseStyle

_BETWEEN = re.compile(r"\s*(?:[,;]|,?\s*and|,?\s*then)?\s*", re.IGNORECASE)

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
    if short == long:
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
    counted = count(pattern)
    seen: set[Span] = set()
    for i, section in enumerate(pattern.sections):
        edits = told_anew(source, pattern, counted, i, style) or _step_by_step(
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


def stitch_pattern(
    pattern: Pattern, counted: Counted, section: int, times: int = 3
) -> tuple[int, list[Plan]] | None:
    """The rows of a section worked once, on its edge stitches and so many repeats; None where
    the section is no stitch pattern whose rows all come out. Shaping by size, markers, short
    rows and the like make it none."""
    rows = rows_of(pattern.sections[section])
    works = counted.sections[section].works
    if not rows or works is None or not all(is_simple(row) for row in rows):
        return None
    number = works.least + max(0, times - 1) * works.multiple
    if works.multiple == 1:
        number = max(number, 12 + works.least)
    try:
        cast_on, planned = plans(pattern, section, cast_on=number)
    except TooManyStitches:
        return None
    planned = planned[: len(rows)]
    if [plan.span for plan in planned] != [row.body for row in rows] or any(
        plan.shift or plan.skip or plan.turned for plan in planned
    ):
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
    if "yo2" in pattern.used_terms:
        for first, then in (("k", "p"), ("p", "k")):
            names.setdefault(f"({first}1, {then}1) in 2 sts", f"({first}1, {then}1) in double yo")
    return names


def renamed(stitch: Stitch, names: dict[str, str]) -> Stitch:
    """The stitch under the name the text gives it."""
    name = names.get(stitch.key)
    if name is None or name.lower() in (stitch.us.lower(), stitch.uk.lower()):
        return stitch
    return replace(stitch, us=name, uk=name, counted="")


def told_anew(
    source: Source, pattern: Pattern, counted: Counted, section: int, style: HouseStyle
) -> list[Edit]:
    """The rows of a stitch pattern with the shortest repeat that is the same on all of them."""
    found = stitch_pattern(pattern, counted, section)
    if found is None:
        return []
    cast_on, planned = found
    names = own_names(pattern)
    lines = [
        replace(line, stitches=tuple(renamed(s, names) for s in line.stitches))
        for line in lines_of(planned, cast_on)
    ]
    rows = rows_of(pattern.sections[section])
    written = [
        replace(row, note=_stated(source, origin))
        for row, origin in zip(written_rows(lines, split_lines(lines)), rows, strict=True)
    ]
    edits: list[Edit] = []
    for region, places in _regions(source, rows):
        group = [written[i] for i in places]
        text, readable = _both(style, lambda s, g=group: "\n".join(worded(g, s)))  # type: ignore[misc]
        edits.append(Edit(region, text, readable, section, rewritten=True))
    return edits


def _both(style: HouseStyle, words) -> tuple[str, str]:  # type: ignore[no-untyped-def]
    text = words(style)
    if style.words != "spoken":
        return text, text
    return text, words(replace(style, words="spelled"))


def _stated(source: Source, row: Row) -> str:
    """The counts the text states after a row, with their brackets, as written."""
    if not row.stated:
        return ""
    last = max((step.span.end for step in row.steps if _inside(step.span, row.body)),
               default=row.body.start)  # fmt: skip
    text = source.at(Span(last, row.body.end)).strip().lstrip(".,;").strip()
    return " ".join(text.split())


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
        if any(a.end > b.start for a, b in zip(ends, ends[1:], strict=False)):
            continue
        text, readable = _both(style, lambda s, row=it: _restepped(source, row, s))  # type: ignore[misc]
        yield Edit(Span(ends[0].start, ends[-1].end), text, readable, index)


def _restepped(source: Source, row: Row, style: HouseStyle) -> str:
    text = ""
    starred = False
    steps = _merged(row.steps, source)
    for i, step in enumerate(steps):
        if i:
            gap = source.at(Span(steps[i - 1].span.end, step.span.start))
            text += ", " if _BETWEEN.fullmatch(gap) else gap
        try:
            if isinstance(step, Work) and _BARE.fullmatch(source.at(step.span)):
                raise NotWorded  # "Knit, increasing 4 sts evenly": the count lies elsewhere
            words = step_words(step, style, row.in_round, not starred)
            if len(steps) > 1 and words in ("knit", "purl"):
                words = f"{words[0] if style.words == 'short' else words} to end"
        except NotWorded:
            words = source.at(step.span)
        starred = starred or "*" in source.at(step.span)
        text += words
    if style.capital and text[:1].islower():
        text = text[0].upper() + text[1:]
    if style.capital and re.match(r"[*(\[]\s*[a-z]", text):
        at = next(i for i, c in enumerate(text) if c.isalpha())
        text = text[:at] + text[at].upper() + text[at + 1 :]
    return text


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
            self._same_section(i, other, counted, i in anew)
            for i in range(len(self.pattern.sections))
        )

    def _same_section(self, i: int, other: Pattern, counted: Counted, anew: bool) -> bool:
        mine, its = self.pattern.sections[i], other.sections[i]
        if not anew:
            return normal_flow(mine.flow) == normal_flow(its.flow)
        if [type(it) for it in mine.flow] != [type(it) for it in its.flow]:
            return False
        works = self.counted.sections[i].works
        also = counted.sections[i].works
        if works is None or also is None:
            return False
        return all(
            _worked(self.pattern, i, n) == _worked(other, i, n)
            for n in {works.least, works.least + works.multiple, works.least + 3 * works.multiple}
        )


def _worked(pattern: Pattern, section: int, number: int) -> object:
    try:
        cast_on, planned = plans(pattern, section, cast_on=number)
    except TooManyStitches:
        return None
    return cast_on, [
        (p.number, p.side, p.in_round, tuple(d.stitch.key for d in p.stitches)) for p in planned
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
    found: list[list[object]] = []
    for step in steps:
        if isinstance(step, Work):
            if found and found[-1][0] == "work" and found[-1][1] == step.stitch.key \
                    and not step.times.sized and len(found[-1][2]) == 1:  # type: ignore[arg-type]
                found[-1][2] = (found[-1][2][0] + step.times.values[0],)  # type: ignore[index]
            else:
                found.append(["work", step.stitch.key, step.times.values])
        elif isinstance(step, Repeat):
            found.append([
                "repeat", normal_steps(step.body), step.times and step.times.values,
                step.target and (step.target.reach, step.target.n.values, step.target.name),
                None if step.last is None else normal_steps(step.last), step.least, step.cut,
            ])  # fmt: skip
        elif isinstance(step, Fill):
            found.append([
                "fill", step.stitch and step.stitch.key,
                step.target.reach, step.target.n.values, step.target.name,
            ])  # fmt: skip
        else:
            found.append([repr(_placeless(step))])
    return tuple(tuple(item) for item in found)


def _placeless(step: Step) -> Step:
    from dataclasses import fields

    changes: dict[str, object] = {}
    for field in fields(step):
        value = getattr(step, field.name)
        if isinstance(value, Span):
            changes[field.name] = NOWHERE
        elif isinstance(value, Num) or (hasattr(value, "reach") and hasattr(value, "span")):
            inner = {"span": NOWHERE}
            if hasattr(value, "n"):
                inner["n"] = replace(value.n, span=NOWHERE)
            changes[field.name] = replace(value, **inner)
    return replace(step, **changes)
