"""A text of its own for rows told anew: title, facts, own stitches, heading, rows."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from chartc.fabric import Done, Plan
from chartc.pattern import CastOn, Fill, Pattern, Repeat, Step, Work
from chartc.stitch import Stitch
from chartc.wording.rows import (
    LineOfStitches,
    WrittenRow,
    lines_of,
    with_counts,
    worded,
    written_rows,
)
from chartc.wording.splitting import Split
from chartc.wording.style import HouseStyle
from chartc.wording.tidy import own_names, parts_of, renamed, rows_of, stitch_pattern

_KEPT = ("gauge", "tension", "needles", "needle", "yarn", "notions")


def fresh_text(
    pattern: Pattern,
    section: int,
    lines: Sequence[LineOfStitches],
    parts: Split,
    style: HouseStyle,
    cast_on: int | None = None,
) -> str:
    """The rows of a stitch pattern as a whole text that can be read again."""
    names = own_names(pattern)
    stitches = [stitch for line in lines for stitch in line.stitches]
    doubled = any(stitch.key == "yo2" for stitch in stitches)

    def named(row: tuple[Stitch, ...]) -> tuple[Stitch, ...]:
        return tuple(renamed(stitch, names, doubled) for stitch in row)

    shown = replace(
        parts,
        rows=tuple(
            replace(r, right=named(r.right), body=named(r.body), left=named(r.left))
            for r in parts.rows
        ),
    )
    told = [replace(line, stitches=named(line.stitches)) for line in lines]
    in_round = bool(lines) and lines[0].in_round
    rows = written_rows(told, shown)
    if style.counts != "none":
        counts = None
        if (cast_on is not None and lines and lines[0].before == cast_on) or not parts.width:
            counts = [line.before for line in lines[:1]] + [line.after for line in lines]
        rows = with_counts(rows, parts, counts)
    return _text(pattern, section, in_round, parts, rows, style, cast_on)


def words_of(pattern: Pattern, style: HouseStyle, section: int = 0) -> str:
    """A whole text for a pattern that has none, such as one read from a chart.

    Rows that come out are told with the shortest repeat that is the same on all of them; rows
    that do not are told as they stand, so that the proof can say where.
    """
    cast_on = next(
        (it.count.values[0] for it in pattern.sections[section].flow if isinstance(it, CastOn)),
        None,
    )
    found = stitch_pattern(pattern, section)
    if found is not None:
        lines = lines_of(found[1], found[0])
        parts = parts_of(pattern, section, found, allow=0.2, fills=True)
        return fresh_text(pattern, section, lines, parts, style, cast_on)
    rows = rows_of(pattern.sections[section])
    written = [
        WrittenRow(row.label, row.number, row.side, row.in_round, _told(row.steps), 0, 0)
        for row in rows
    ]
    in_round = pattern.sections[section].in_round
    return _text(pattern, section, in_round, Split((), 0, 0), written, style, cast_on)


def _told(steps: Sequence[Step]) -> tuple[Step, ...]:
    """Single stitches of a chart with equal neighbours told together."""
    found: list[Step] = []
    for step in steps:
        last = found[-1] if found else None
        if isinstance(step, Repeat):
            found.append(replace(step, body=_told(step.body)))
        elif isinstance(step, Work) and isinstance(last, Work) and last.stitch == step.stitch:
            times = last.times.values[0] + step.times.values[0]
            found[-1] = replace(last, times=replace(last.times, values=(times,)))
        elif isinstance(step, (Work, Fill)):
            found.append(step)
    return tuple(found)


def _text(
    pattern: Pattern,
    section: int,
    in_round: bool,
    parts: Split,
    rows: Sequence[WrittenRow],
    style: HouseStyle,
    cast_on: int | None,
) -> str:
    text = [pattern.title or "Stitch pattern", ""]
    text.append(f"Worked: {'in the round' if in_round else 'flat'}")
    if parts.width:
        text.append(f"Multiple: {multiple_words(parts)}")
    facts = {fact.key: fact.value for fact in reversed(pattern.facts) if fact.key in _KEPT}
    text += [f"{key.capitalize()}: {' '.join(facts[key].split())}" for key in _KEPT if key in facts]
    used = _keys(rows)
    own = [o for o in pattern.own if o.stitch is not None and o.stitch.key in used]
    if own:
        text += ["", "Special stitches:"]
        text += [f"{o.name} = {_definition(o.name, o.words)}" for o in own]
    text += ["", _heading(pattern.sections[section].name), ""]
    if cast_on is not None:
        join = ", place marker and join in the round" if in_round else ""
        text += [f"Cast on {cast_on} sts{join}."]
    text += worded(rows, style)
    return "\n".join(text) + "\n"


def _keys(rows: Sequence[WrittenRow]) -> set[str]:
    found: set[str] = set()
    waiting: list[Step] = [step for row in rows for step in row.steps]
    while waiting:
        step = waiting.pop()
        if isinstance(step, Repeat):
            waiting += step.body
        elif isinstance(step, (Work, Fill)) and step.stitch is not None:
            found.add(step.stitch.key)
    return found


def _heading(name: str) -> str:
    plain = re.sub(r"\s*[(\[]\s*(?:mult|worked).*?[)\]]", "", name).strip().rstrip(":")
    return plain or "Pattern"


def _definition(name: str, words: str) -> str:
    """The explanation without the name it may begin with."""
    text = " ".join(words.split())
    for mark in (f"{name} =", f"{name}:", f"{name} -"):
        if text.lower().startswith(mark.lower()):
            return text[len(mark) :].strip()
    return text


def multiple_words(parts: Split) -> str:
    """ "8 sts + 1"."""
    plus = parts.edge % parts.width
    return f"{parts.width} sts" + (f" + {plus}" if plus else "")


def plans_of(lines: Sequence[LineOfStitches]) -> list[Plan]:
    """Rows as plans, to be knitted."""
    return [
        Plan(line.label, line.number, line.side, line.in_round,
             tuple(Done(stitch, line.span) for stitch in line.stitches), line.span)
        for line in lines
    ]  # fmt: skip
