"""The mirror image: for the other front, the other mitt, or knitting from left to right.

Every row is worked from its other end and every stitch by the one that leans the other way, so
that the fabric comes out as seen in a mirror. (A left-handed knitter who mirrors every movement
gets that from the unchanged text; this is for working the mirror image in the usual direction.)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from chartc.pattern import (
    Again,
    Change,
    Ease,
    Fill,
    Hold,
    Instruction,
    Mark,
    Num,
    Off,
    On,
    Pattern,
    Plain,
    Reach,
    Repeat,
    Row,
    Section,
    Step,
    Target,
    Work,
)
from chartc.reading import read
from chartc.source import Source, Span
from chartc.stitch import Stitch
from chartc.turning.result import CannotTurn, Turned, readable
from chartc.vocabulary import load_vocabulary
from chartc.wording.sentences import NotWorded, row_sentence
from chartc.wording.style import HouseStyle
from chartc.wording.tidy import with_brackets

_NONE = Num((0,))


def mirror_pattern(pattern: Pattern) -> Pattern:
    """The pattern with every row mirrored; each step keeps its place in the text.

    Raises CannotTurn, naming the row, where a row has no mirror image: stitches without one,
    short rows, stitches bound off within it, two stretches of unknown width side by side.
    """
    return replace(
        pattern, sections=tuple(_section(section) for section in pattern.sections)
    )


def mirror(
    source: Source, pattern: Pattern | None = None, style: HouseStyle | None = None
) -> Turned:
    """The text with its rows mirrored, everything else as it stands. Raises CannotTurn."""
    pattern = pattern or read(source)
    style = style or HouseStyle()
    other = mirror_pattern(pattern)
    text = _told(source, pattern, other, style)
    plain = readable(style)
    again = text if plain == style else _told(source, pattern, other, plain)
    note = "told for working in the usual direction; the fabric comes out as seen in a mirror"
    return Turned(text, read(Source(source.name, again)), (note,))


def _told(source: Source, pattern: Pattern, other: Pattern, style: HouseStyle) -> str:
    """The text with the rows of the mirrored pattern in the place of its own."""
    changes: dict[Span, str] = {}
    for before, after in zip(pattern.sections, other.sections, strict=True):
        for was, now in zip(before.flow, after.flow, strict=True):
            if isinstance(was, Row) and isinstance(now, Row) and was.steps != now.steps:
                _change(source, was, now, style, changes)
    text = source.text
    for span in sorted(changes, reverse=True):
        text = text[: span.start] + changes[span] + text[span.end :]
    return text


def _change(
    source: Source, was: Row, now: Row, style: HouseStyle, changes: dict[Span, str]
) -> None:
    inside = [s.span for s in was.steps
              if was.body.start <= s.span.start and s.span.end <= was.body.end]  # fmt: skip
    if len(inside) == len(was.steps):
        span = Span(min(s.start for s in inside), max(s.end for s in inside))
        span = with_brackets(source, span, was.body)
    else:  # "as row 2": told anew
        stated = min((s.span.start for s in was.stated), default=was.body.end)
        end = stated
        while end > was.body.start and source.text[end - 1] in " ([.\n":
            end -= 1
        span = Span(was.body.start, end)
    own = _own_words(source, was)
    if any(c.isalpha() for c in source.text[was.body.start : span.start]):
        style = replace(style, capital=False)  # "With A, k1"
    try:
        changes[span] = row_sentence(
            now.steps, style, now.in_round, lambda step: own.get(step.span, source.at(step.span))
        )
    except NotWorded:
        raise CannotTurn(f"{_name(was)}: it cannot be put into words mirrored") from None


def _own_words(source: Source, row: Row) -> dict[Span, str]:
    """The author's words of each step, with what is said after it ("for thumb")."""
    found: dict[Span, str] = {}
    for step, after in pairwise(row.steps):
        gap = source.at(Span(step.span.end, after.span.start)).strip(" ,;()[]\n")
        if gap and gap.lower() not in ("and", "then"):
            found[step.span] = f"{source.at(step.span)} {gap}"
    return found


def _name(row: Row) -> str:
    return row.label.strip().rstrip(":") or "a row"


def _section(section: Section) -> Section:
    flow = tuple(_instruction(it) for it in section.flow)
    return replace(section, flow=flow, written=tuple(_row(row) for row in section.written))


def _instruction(it: Instruction) -> Instruction:
    if isinstance(it, Row):
        return _row(it)
    if isinstance(it, Again):
        return replace(it, rows=tuple(_instruction(row) for row in it.rows))
    if isinstance(it, Ease) and it.shaping is not None:
        return replace(it, shaping=_row(it.shaping))
    if isinstance(it, Plain) and it.steps:
        return replace(it, steps=_mirrored(it.steps, it.words or "rows told together"))
    return it


def _row(row: Row) -> Row:
    if row.as_set or not row.readable or any(isinstance(step, Change) for step in row.steps):
        return row  # shaping spread evenly, or the same at both ends, is its own mirror image
    return replace(row, steps=_mirrored(row.steps, _name(row)))


def _mirrored(steps: Sequence[Step], where: str) -> tuple[Step, ...]:
    """Steps from the other end. Markers part a row into stretches, each with one open step."""
    stretches: list[list[Step]] = [[]]
    marks: list[Mark] = []
    for step in steps:
        if isinstance(step, Mark) and step.op != "place":
            marks.append(step)
            stretches.append([])
        else:
            stretches[-1].append(step)
    found: list[Step] = []
    for i in range(len(stretches) - 1, -1, -1):
        # what the stretch ends at in the new direction: the marker it began at, or the row's end
        found += _stretch(stretches[i], marks[i - 1] if i else None, where)
        if i:
            found.append(marks[i - 1])
    return tuple(found)


def _stretch(steps: Sequence[Step], until: Mark | None, where: str) -> list[Step]:
    found: list[Step] = []
    after: Num | None = _NONE  # loops used by what follows in the new direction
    opened = False
    for step in steps:  # the old first step comes last: each is put before the others
        if isinstance(step, (Fill, Repeat)) and step.target is not None:
            if opened or after is None:
                raise CannotTurn(
                    f"{where}: two stretches to be worked “to” somewhere in one; their widths "
                    "are not known"
                )
            opened = True
            target = _target(step.target, after, until)
            if isinstance(step, Repeat):
                step = _repeat(step, where)
            found.insert(0, replace(step, target=target))
            continue
        new = _single(step, where)
        found.insert(0, new)
        after = _sum(after, _used(new))
    return found


def _target(old: Target, after: Num, until: Mark | None) -> Target:
    if old.reach not in (Reach.END, Reach.LAST, Reach.MARKER, Reach.BEFORE_MARKER):
        raise CannotTurn("a step that goes to a gap, a centre stitch or past a marker has no "
                         "simple mirror image")  # fmt: skip
    some = any(after.values)
    if until is None:
        return Target(Reach.LAST if some else Reach.END, after, span=old.span)
    reach = Reach.BEFORE_MARKER if some else Reach.MARKER
    return Target(reach, after, until.name, old.span)


def _single(step: Step, where: str) -> Step:
    if isinstance(step, Work):
        return replace(step, stitch=mirrored_stitch(step.stitch, where))
    if isinstance(step, Repeat):
        return _repeat(step, where)
    if isinstance(step, Off) and step.count is None and step.target is None:
        return step
    if isinstance(step, Hold) and step.count is not None:
        return step
    if isinstance(step, (On, Mark)):
        return step
    raise CannotTurn(
        f"{where}: short rows, and stitches bound off or taken back within a row, have no mirror "
        "image that is one row; write the other side out"
    )


def _repeat(step: Repeat, where: str) -> Repeat:
    if step.last is not None or step.cut:
        raise CannotTurn(f"{where}: the last repeat ends otherwise than the others; write the row "
                         "with “to last n sts” first (chartc words does)")  # fmt: skip
    body = _mirrored(step.body, where)
    return replace(step, body=body)


def mirrored_stitch(stitch: Stitch, where: str) -> Stitch:
    """The mirror image of a stitch. Raises CannotTurn when it has none."""
    other = load_vocabulary().mirror(stitch)
    if other is None or (other.uses, other.makes) != (stitch.uses, stitch.makes):
        raise CannotTurn(f"{where}: {stitch.us or stitch.key} has no mirror image")
    return other


def _used(step: Step) -> Num | None:
    """Loops a step uses, by size; None when that is not known."""
    if isinstance(step, Work):
        return Num(tuple(step.stitch.uses * n for n in step.times.values))
    if isinstance(step, Hold):
        return step.count
    if isinstance(step, (On, Mark)):
        return _NONE
    if isinstance(step, Repeat) and step.times is not None:
        inside: Num | None = _NONE
        for inner in step.body:
            inside = _sum(inside, _used(inner))
        if inside is None:
            return None
        sizes = max(len(inside.values), len(step.times.values))
        return Num(tuple(inside.at(i) * step.times.at(i) for i in range(sizes)))
    return None


def _sum(a: Num | None, b: Num | None) -> Num | None:
    if a is None or b is None:
        return None
    sizes = max(len(a.values), len(b.values))
    values = tuple(a.at(i) + b.at(i) for i in range(sizes))
    return Num(values if len(set(values)) > 1 else values[:1])
