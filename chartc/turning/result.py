"""The swatch a transformation works on, and the pattern it gives."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from chartc.counting import count
from chartc.fabric import Plan
from chartc.pattern import NOWHERE, Pattern
from chartc.reading import read
from chartc.source import Source
from chartc.stitch import Stitch
from chartc.wording.fresh import fresh_text
from chartc.wording.rows import LineOfStitches, lines_of
from chartc.wording.splitting import Split
from chartc.wording.style import HouseStyle
from chartc.wording.tidy import alone, parts_of, stitch_pattern

TIMES = 3  # repeats a stitch pattern is worked on


class CannotTurn(Exception):
    """It cannot be done; the message says why in plain words."""


@dataclass(frozen=True, slots=True)
class Turned:
    """A transformed pattern: its text, what the text reads as, and what was done besides."""

    text: str
    pattern: Pattern
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Swatch:
    """The rows of a stitch pattern worked on its edges and some repeats.

    lines   every row, as worked
    split   edges and repeat of every row, from the right edge; the author's own repeat where it
            is the same columns on all rows
    """

    pattern: Pattern
    section: int
    lines: tuple[LineOfStitches, ...]
    split: Split
    planned: tuple[Plan, ...]

    @property
    def in_round(self) -> bool:
        return self.lines[0].in_round

    @property
    def cast_on(self) -> int:
        return self.lines[0].before

    def name_of(self, index: int) -> str:
        line = self.lines[index]
        word = "rnd" if line.in_round else "row"
        return f"{word} {line.number}" if line.number is not None else line.label.lower() or word


def swatch_of(pattern: Pattern, section: int | None = None, times: int = TIMES) -> Swatch:
    """The stitch pattern of a section (the first that is one). Raises CannotTurn."""
    wanted = range(len(pattern.sections)) if section is None else [section]
    for i in wanted:
        found = stitch_pattern(pattern, i, times)
        if found is None or not found[1]:
            continue
        cast_on, planned = found
        lines = lines_of(planned, cast_on)
        if len({line.in_round for line in lines}) != 1:
            raise CannotTurn("rows and rounds are mixed")
        parts = parts_of(pattern, i, found, allow=1.0, fills=False)
        return Swatch(pattern, i, tuple(lines), parts, tuple(planned))
    raise CannotTurn(_why_none(pattern, wanted))


def _why_none(pattern: Pattern, wanted: Sequence[int]) -> str:
    """Why none of the sections can be turned."""
    only = [alone(pattern, i) for i in wanted]
    for one in only:
        if one is not None and count(one).sections[0].works is None:
            return "its rows do not come out on any number of stitches; proof-read it first"
    return (
        "only a stitch pattern can be turned: whole rows on any number that fits, without "
        "markers, shaping by size, short rows, stitches put aside or bound off"
    )


def renumbered(lines: Sequence[LineOfStitches]) -> list[LineOfStitches]:
    """Numbers 1, 2, 3 ... for rows that are told anew."""
    return [replace(line, number=i + 1, label="") for i, line in enumerate(lines)]


def as_turned(
    swatch: Swatch,
    lines: Sequence[LineOfStitches],
    parts: Split,
    style: HouseStyle,
    notes: Sequence[str] = (),
) -> Turned:
    """A text of its own for the new rows, read back."""
    text = fresh_text(swatch.pattern, swatch.section, lines, parts, style)
    plain = readable(style)
    again = text if plain == style else fresh_text(
        swatch.pattern, swatch.section, lines, parts, plain
    )  # fmt: skip
    return Turned(text, read(Source("", again)), tuple(notes))


def readable(style: HouseStyle) -> HouseStyle:
    """The style, or for one meant for the ear the nearest that can be read back."""
    return replace(style, words="spelled") if style.words == "spoken" else style


def line_like(line: LineOfStitches, stitches: Sequence[Stitch], before: int) -> LineOfStitches:
    """A row with other stitches."""
    worked = tuple(stitches)
    return replace(
        line, stitches=worked, before=before, after=before + sum(s.net for s in worked),
        span=NOWHERE,
    )  # fmt: skip


def chained(lines: Sequence[LineOfStitches], before: int) -> list[LineOfStitches]:
    """The rows with their counts worked out anew from the first."""
    found: list[LineOfStitches] = []
    for line in lines:
        found.append(line_like(line, line.stitches, before))
        before = found[-1].after
    return found
