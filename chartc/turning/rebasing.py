"""The start of the round, or of the repeat, moved sideways."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from chartc.pattern import Pattern
from chartc.stitch import Stitch
from chartc.turning.result import CannotTurn, Swatch, Turned, as_turned, chained, swatch_of
from chartc.wording.rows import LineOfStitches, split_lines
from chartc.wording.splitting import RowParts, Split, split_at
from chartc.wording.style import HouseStyle


def rebase(
    pattern: Pattern, by: int, *, section: int | None = None, style: HouseStyle | None = None
) -> Turned:
    """The round (or, flat, the repeat) begun `by` stitches further to the left on the first
    row; negative: to the right. Every row above begins over the same stitch.

    In a round a yarn over made just where the new start falls is worked after it. Raises
    CannotTurn where a stitch would reach across the new start.
    """
    swatch = swatch_of(pattern, section)
    style = style or HouseStyle()
    return _round(swatch, by, style) if swatch.in_round else _flat(swatch, by, style)


def best_start(pattern: Pattern, *, section: int | None = None) -> int | None:
    """The nearest start of the round (in stitches from where it is, within one repeat) that no
    decrease reaches across and at which no yarn over stands, or failing that one that only no
    decrease reaches across; None where there is none.

    A start with neither gives 0; of two equally near the one further to the left wins.
    """
    swatch = swatch_of(pattern, section)
    width = swatch.split.width or swatch.cast_on
    offsets = sorted(range(-(width - 1) // 2, width // 2 + 1), key=lambda n: (abs(n), n < 0))
    possible: list[int] = []
    for by in offsets:
        try:
            rows = _turned_rows(swatch, by) if swatch.in_round else _flat_rows(swatch, by)
        except CannotTurn:
            continue
        possible.append(by)
        ends = {row[0].kind for row in rows if row} | {row[-1].kind for row in rows if row}
        if "yarn over" not in ends:
            return by
    return possible[0] if possible else None


def _cut(stitches: Sequence[Stitch], at: int) -> int | None:
    """The place after `at` loops used, before any yarn over there; None inside a stitch."""
    used = 0
    for place, stitch in enumerate(stitches):
        if used == at:
            return place
        used += stitch.uses
        if used > at:
            return None
    return len(stitches) if used == at else None


def _turned_rows(swatch: Swatch, by: int) -> list[tuple[Stitch, ...]]:
    """Every round begun elsewhere."""
    at = by % swatch.cast_on if swatch.cast_on else 0
    rows: list[tuple[Stitch, ...]] = []
    for i, line in enumerate(swatch.lines):
        place = 0 if at == 0 else _cut(line.stitches, at)
        if place is None:
            raise CannotTurn(f"{swatch.name_of(i)}: {_across(line, at)} would reach across the "
                             "new start of the round")  # fmt: skip
        rows.append(line.stitches[place:] + line.stitches[:place])
        at = sum(stitch.makes for stitch in line.stitches[:place]) % max(1, line.after)
    return rows


def _across(line: LineOfStitches, at: int) -> str:
    used = 0
    for stitch in line.stitches:
        used += stitch.uses
        if used > at:
            return stitch.us or stitch.key
    return "a stitch"


def _round(swatch: Swatch, by: int, style: HouseStyle) -> Turned:
    rows = _turned_rows(swatch, by)
    lines = chained(
        [replace(line, stitches=row) for line, row in zip(swatch.lines, rows, strict=True)],
        swatch.cast_on,
    )
    split = swatch.split
    parts: Split | None = None
    if split.width and not split.edge:
        parts = _whole_repeats(rows, swatch.cast_on // split.width, split.width)
    parts = parts or split_lines(lines)
    return as_turned(swatch, lines, parts, style)


def _whole_repeats(rows: Sequence[tuple[Stitch, ...]], times: int, width: int) -> Split | None:
    """Rounds that are nothing but the repeat, `times` through."""
    parts: list[RowParts] = []
    for row in rows:
        period, rest = divmod(len(row), times)
        if rest or row != row[:period] * times:
            return None
        parts.append(RowParts((), row[:period], times))
    return Split(tuple(parts), width, 0)


def _flat_rows(swatch: Swatch, by: int) -> list[tuple[Stitch, ...]]:
    return [parts.body for parts in _flat_split(swatch, by).rows]


def _flat_split(swatch: Swatch, by: int) -> Split:
    split = swatch.split
    if not split.width:
        raise CannotTurn("no stretch of stitches repeats on every row")
    right = sum(stitch.uses for stitch in split.rows[0].right) + by
    facing = [line.facing() for line in swatch.lines]
    found = split_at(facing, right % split.width if right < 0 else right, split.width)
    if found is None:
        for i, parts in enumerate(split.rows):
            if _cut(parts.body, by % split.width) is None:
                raise CannotTurn(f"{swatch.name_of(i)}: a stitch would reach across the new start "
                                 "of the repeat")  # fmt: skip
        raise CannotTurn("a stitch would reach across the new start of the repeat on some row")
    return found


def _flat(swatch: Swatch, by: int, style: HouseStyle) -> Turned:
    parts = _flat_split(swatch, by)
    return as_turned(swatch, swatch.lines, parts, style)
