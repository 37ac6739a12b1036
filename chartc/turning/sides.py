"""Flat into the round and back: wrong-side rows worked from the other side.

Each stitch of a wrong-side row becomes the one that looks the same worked on the right side,
and the row is read in the other direction. Edge stitches are left out in the round, where they
would stand as a seam, and may be added flat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

from chartc.pattern import Pattern
from chartc.stitch import Stitch
from chartc.turning.result import CannotTurn, Swatch, Turned, as_turned, chained, swatch_of
from chartc.vocabulary import load_vocabulary
from chartc.wording.rows import LineOfStitches
from chartc.wording.splitting import RowParts, Split
from chartc.wording.style import HouseStyle

MOST_EDGE = 20


def turn(
    pattern: Pattern,
    to: Literal["round", "flat"],
    *,
    section: int | None = None,
    edge: int | None = None,
    style: HouseStyle | None = None,
) -> Turned:
    """A stitch pattern worked flat told for the round, or the other way.

    section  the section to turn; the first stitch pattern when None
    edge     to flat: plain stitches added at each side; when None, one where the pattern begins
             or ends with a yarn over and none otherwise

    Raises CannotTurn, in plain words.
    """
    swatch = swatch_of(pattern, section)
    if swatch.in_round == (to == "round"):
        raise CannotTurn(
            "this is worked in the round already" if to == "round" else "this is flat already"
        )
    style = style or HouseStyle()
    return _to_round(swatch, style) if to == "round" else _to_flat(swatch, style, edge)


def _right_side(swatch: Swatch, index: int, stitches: Sequence[Stitch]) -> tuple[Stitch, ...]:
    """Stitches of a row, from the right edge, as they are worked on the right side to look the
    same."""
    if not swatch.lines[index].rightward:
        return tuple(stitches)
    return tuple(other_side(stitch, swatch.name_of(index)) for stitch in stitches)


def other_side(stitch: Stitch, where: str) -> Stitch:
    """What looks the same worked on the other side. Raises CannotTurn when nothing does."""
    twin = load_vocabulary().twin(stitch)
    if twin is None or (twin.uses, twin.makes) != (stitch.uses, stitch.makes):
        raise CannotTurn(
            f"{where}: nothing worked on the other side looks like {stitch.us or stitch.key}"
        )
    return twin


def _to_round(swatch: Swatch, style: HouseStyle) -> Turned:
    split = swatch.split
    if not split.width:
        raise CannotTurn(
            "no stretch of stitches repeats on every row, so there is nothing to go around"
        )
    if split.stepping:
        raise CannotTurn(_why_stepping(swatch))
    lines: list[LineOfStitches] = []
    rows: list[RowParts] = []
    times = split.rows[0].times
    for i, (line, parts) in enumerate(zip(swatch.lines, split.rows, strict=True)):
        body = _right_side(swatch, i, parts.body)
        rows.append(RowParts((), body, times))
        lines.append(
            replace(line, side="", in_round=True, stitches=body * times, number=i + 1, label="")
        )
    notes = []
    if split.edge:
        notes.append(f"{_edge_words(split)} left out; cast on a multiple of {split.width} sts")
    if len(lines) % 2:
        notes.append(
            "the rows are an odd number: worked flat, each second time through they change sides, "
            "in the round they do not"
        )
    turned = replace(split, rows=tuple(rows), edge=0)
    return as_turned(swatch, chained(lines, split.width * times), turned, style, notes)


def _edge_words(split: Split) -> str:
    first = split.rows[0]
    right = sum(stitch.uses for stitch in first.right)
    left = split.edge - right
    parts = [f"{n} edge stitch{'es' if n != 1 else ''} at the {side}"
             for n, side in ((right, "right"), (left, "left")) if n]  # fmt: skip
    return " and ".join(parts)


def _why_stepping(swatch: Swatch) -> str:
    """Which rows move the repeat, so that no start of the round leaves every stitch whole."""
    starts: dict[int, list[str]] = {}
    for i, parts in enumerate(swatch.split.rows):
        kinds = {stitch.key for stitch in (*parts.right, *parts.body, *parts.left)}
        if len(kinds) > 1:
            starts.setdefault(sum(s.uses for s in parts.right), []).append(swatch.name_of(i))
    if len(starts) > 1:
        usual = max(starts, key=lambda start: len(starts[start]))
        moved = [name for start, names in starts.items() if start != usual for name in names]
        where = ", ".join(moved)
        return (
            f"{where}: the repeat begins elsewhere than on the other rows, and a decrease would "
            "reach across the start of the round wherever it is put"
        )
    return "a decrease would reach across the start of the round wherever it is put"


def _to_flat(swatch: Swatch, style: HouseStyle, edge: int | None) -> Turned:
    if edge is not None and not 0 <= edge <= MOST_EDGE:
        raise CannotTurn(f"{edge} edge stitches at each side are not possible")
    split = swatch.split
    doubled = len(swatch.lines) % 2 == 1
    order = list(range(len(swatch.lines))) * (2 if doubled else 1)
    if doubled and swatch.lines[-1].after != swatch.lines[0].before:
        raise CannotTurn(
            "an odd number of rounds that do not come back to the same number of stitches cannot "
            "be told as right-side and wrong-side rows that repeat"
        )
    knit, purl = load_vocabulary().get("k"), load_vocabulary().get("p")
    added = _edge_wanted(swatch) if edge is None else edge
    lines: list[LineOfStitches] = []
    rows: list[RowParts] = []
    for place, i in enumerate(order):
        wrong = place % 2 == 1
        parts = split.rows[i]
        border = (purl if wrong else knit,) * added

        def facing(
            stitches: Sequence[Stitch], wrong: bool = wrong, name: str = swatch.name_of(i)
        ) -> tuple[Stitch, ...]:
            return tuple(other_side(s, name) if wrong else s for s in stitches)

        told = RowParts(
            border + facing(parts.right), facing(parts.body), parts.times,
            facing(parts.left) + border,
        )  # fmt: skip
        if not parts.times:
            told = RowParts(border + facing(parts.right) + border)
        rows.append(told)
        along = told.right + told.body * told.times + told.left
        lines.append(
            replace(
                swatch.lines[i],
                side="WS" if wrong else "RS",
                in_round=False,
                label="",
                number=place + 1,
                stitches=along[::-1] if wrong else along,
            )
        )
    notes = []
    if added:
        notes.append(f"{added} edge stitch{'es' if added != 1 else ''} added at each side")
    if doubled:
        notes.append("the rounds are an odd number, so they are told twice")
    turned = Split(tuple(rows), split.width, split.edge + 2 * added, split.stepping)
    return as_turned(swatch, chained(lines, swatch.cast_on + 2 * added), turned, style, notes)


def _edge_wanted(swatch: Swatch) -> int:
    """One edge stitch where a row would begin or end with a yarn over, else none."""
    ends = {stitch.kind for line in swatch.lines for stitch in
            (line.stitches[0], line.stitches[-1]) if line.stitches}  # fmt: skip
    return 1 if "yarn over" in ends else 0
