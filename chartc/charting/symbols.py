"""Chart symbols drawn by rule from the stitch record, like a knot diagram.

A leg from the cell's bottom edge for each loop used, a head at the top for each loop made,
strokes joining them. The loop in front is unbroken and heavy; those behind stop short of it.
grammar/SYMBOLS.md shows the rules with a drawn table.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from chartc.charting.strokes import (
    Lettering,
    Mark,
    Path,
    Point,
    Ring,
    Stroke,
    Weight,
    cut,
    mirrored,
)
from chartc.stitch import HeadForm, Stitch

# Pen widths in mm for a 5 mm cell; all scale with the cell.
PEN: dict[Weight, float] = {"fine": 0.3, "front": 0.52, "bar": 0.62}
BASE_CELL = 5.0

_TOP, _FOOT = 0.88, 0.1  # where heads end and legs begin, in parts of the cell's height


@dataclass(frozen=True, slots=True)
class Symbol:
    """A drawn stitch: its box in mm and the marks in it, drawn in order."""

    width: float
    height: float
    marks: tuple[Mark, ...]


def columns_of(stitch: Stitch) -> int:
    """How many columns of the chart a stitch takes: one for each loop it makes, one for a
    stitch that only ends loops for each loop ended, none for a stitch that does neither."""
    return stitch.makes or stitch.uses


@dataclass(frozen=True, slots=True)
class _Box:
    """Turns parts of a cell (x in columns from the left, y from the bottom) into mm."""

    columns: int
    cell_width: float
    cell_height: float

    @property
    def unit(self) -> float:
        return min(self.cell_width, self.cell_height)

    @property
    def pen(self) -> float:
        return self.unit / BASE_CELL

    def point(self, x: float, y: float) -> Point:
        return (x * self.cell_width, (1 - y) * self.cell_height)

    def line(self, *points: tuple[float, float]) -> Path:
        turned = [self.point(*point) for point in points]
        return tuple(pairwise(turned))

    def curve(self, *points: tuple[float, float]) -> Path:
        """Cubic pieces: a point, then three more for each piece."""
        turned = [self.point(*point) for point in points]
        return tuple(tuple(turned[i : i + 4]) for i in range(0, len(turned) - 1, 3))

    def gap(self, under: Weight = "fine", over: Weight = "front") -> float:
        """How far the middle of a broken stroke stays from the middle of the one over it."""
        return self.pen * (PEN[over] / 2 + PEN[under] / 2 + 0.26)


def _bump(box: _Box, x: float, y: float, half: float = 0.27) -> Stroke:
    """The bump bar of a purl face: a low arch."""
    rise = 0.11
    return Stroke(
        box.curve((x - half, y - rise / 2), (x - half / 2, y + rise), (x + half / 2, y + rise),
                  (x + half, y - rise / 2)),
        "bar",
    )  # fmt: skip


def _ribbon(box: _Box, leg: Point, cross: Point, tip: Point, half: float, tail: Point) -> Path:
    """A stroke that comes from `leg`, crosses itself at `cross`, runs round a loop that
    reaches `tip` and ends at `tail`; `half` is half the width of the loop."""
    ax, ay = tip[0] - cross[0], tip[1] - cross[1]
    length = (ax * ax + ay * ay) ** 0.5
    nx, ny = ay / length * half, -ax / length * half  # to the right of the way up
    cx, cy = cross
    swell = 1.3
    return box.curve(
        leg,
        (leg[0] + (cx - leg[0]) * 0.5, leg[1] + (cy - leg[1]) * 0.5),
        (cx - (ax * 0.3 + nx) * 0.5, cy - (ay * 0.3 + ny) * 0.5),
        cross,
        (cx + ax * 0.4 + nx * swell, cy + ay * 0.4 + ny * swell),
        (tip[0] + nx * swell, tip[1] + ny * swell),
        tip,
        (tip[0] - nx * swell, tip[1] - ny * swell),
        (cx + ax * 0.4 - nx * swell, cy + ay * 0.4 - ny * swell),
        cross,
        (cx - (ax * 0.3 - nx) * 0.5, cy - (ay * 0.3 - ny) * 0.5),
        (tail[0] + (cx - tail[0]) * 0.5, tail[1] + (cy - tail[1]) * 0.5),
        tail,
    )


def _foot_places(uses: int, columns: int) -> list[float]:
    """Where the legs stand, from the right: index 0 is the loop worked first."""
    if uses == columns and columns > 1:
        return [columns - 0.5 - index for index in range(uses)]
    reach = {1: 0.0, 2: 0.31, 3: 0.38}.get(uses, 0.4)
    spread = reach + (columns - 1) / 2 * 0.8
    if uses == 1:
        return [columns / 2]
    return [columns / 2 + spread - 2 * spread * index / (uses - 1) for index in range(uses)]


def _heads(stitch: Stitch) -> tuple[HeadForm, ...]:
    plain: HeadForm = "k"
    return stitch.heads or (plain,) * stitch.makes


def _head_places(makes: int) -> list[float]:
    return [makes - 0.5 - index for index in range(makes)]


def symbol(
    stitch: Stitch,
    cell_width: float = BASE_CELL,
    cell_height: float = BASE_CELL,
    *,
    background: str = "",
    letters: str = "",
    wrong_side: bool = False,
    left_handed: bool = False,
) -> Symbol:
    """The symbol of a stitch for cells of that size in mm.

    background   key of the stitch that is left blank
    letters      its abbreviation, set in the cell where the rules alone cannot tell two
                 stitches apart
    wrong_side   worked on the wrong side and without a partner there: drawn as it looks from
                 the right side, with a tick in the lower right corner
    left_handed  the mirror image
    """
    columns = max(1, columns_of(stitch))
    box = _Box(columns, cell_width, cell_height)
    drawn = seen_from_behind(stitch) if wrong_side else stitch
    # With letters below it the sign keeps to the upper part of the cell.
    part = _Box(columns, cell_width, cell_height * (0.6 if letters else 1.0))
    marks: list[Mark] = [] if stitch.key == background and not wrong_side else _marks(drawn, part)
    if left_handed:
        marks = list(mirrored(marks, columns * cell_width))
    if letters:
        marks.append(_lettering(box, letters))
    if wrong_side:
        marks.append(_wrong_side_tick(box))
    return Symbol(columns * cell_width, cell_height, tuple(marks))


def _lettering(box: _Box, letters: str) -> Lettering:
    room = box.columns * box.cell_width * 0.88
    size = min(box.unit * 0.32, room / (0.6 * max(1, len(letters))))
    return Lettering(box.point(box.columns / 2, 0.1), letters, size)


def _wrong_side_tick(box: _Box) -> Stroke:
    right = float(box.columns)
    return Stroke(
        box.line((right - 0.27, 0.03), (right - 0.03, 0.03), (right - 0.03, 0.27),
                 (right - 0.27, 0.03)),
        filled=True,
    )  # fmt: skip


_OTHER_FACE: dict[HeadForm, HeadForm] = {
    "k": "p", "p": "k", "ktbl": "ptbl", "ptbl": "ktbl", "yo": "yo", "sl": "slf", "slf": "sl",
    "m": "mp", "mp": "m",
}  # fmt: skip


def seen_from_behind(stitch: Stitch) -> Stitch:
    """The stitch as it looks from the other side of the fabric: left and right change
    places, front and back do, and knit faces show as purl ones."""
    last = stitch.uses - 1
    made = stitch.makes - 1
    return replace(
        stitch,
        heads=tuple(_OTHER_FACE[head] for head in reversed(stitch.heads)),
        front=tuple(last - index for index in reversed(stitch.front or range(stitch.uses))),
        strands=tuple(last - stitch.strands[made - i] for i in range(len(stitch.strands))),
        over=frozenset(
            last - index for index in range(stitch.uses) if index not in stitch.over
        ) if stitch.strands else stitch.over,
    )  # fmt: skip


def _marks(stitch: Stitch, box: _Box) -> list[Mark]:
    if stitch.uses == 0:
        return _begun(stitch, box)
    if stitch.makes == 0:
        return _ended(stitch, box)
    if stitch.strands:
        return _crossed(stitch, box)
    if stitch.uses == 1 and stitch.makes == 1:
        return _single(stitch, box)
    if "pass" in stitch.extra and stitch.makes > 1 and stitch.uses == stitch.makes + 1:
        return _passed_over(stitch, box)
    return _joined(stitch, box)


def _begun(stitch: Stitch, box: _Box) -> list[Mark]:
    """No leg: rings for yarn overs, a lifted strand, or the cup of a loop cast on."""
    marks: list[Mark] = []
    radius = 0.27
    places = _head_places(stitch.makes)
    if not places:  # neither uses nor makes a loop: a lozenge on the line before the next cell
        return [
            Stroke(box.line((0.5, 0.3), (0.7, 0.5), (0.5, 0.7), (0.3, 0.5), (0.5, 0.3)), "fine")
        ]
    for place, head in zip(places, _heads(stitch), strict=False):
        purl = head in ("p", "ptbl", "mp")
        high = 0.68 if purl else 0.9
        if head == "yo":
            marks.append(Ring(box.point(place, 0.5), radius * box.unit))
        elif head in ("m", "mp"):
            marks.extend(_lifted(stitch, box, place, high))
        elif stitch.kind == "increase" and stitch.lean in ("left", "right"):
            # Drawn up out of the loop below the next one or the last.
            turn = 1 if stitch.lean == "right" else -1
            marks.append(
                Stroke(
                    box.curve(
                        (place - turn * 0.3, 0.34), (place - turn * 0.34, 0.02),
                        (place - turn * 0.04, 0.0), (place, 0.32),
                        (place + turn * 0.04, 0.55), (place + turn * 0.1, high - 0.15),
                        (place + turn * 0.22, high),
                    ),
                    "front",
                )
            )  # fmt: skip
        else:
            rim = high - 0.1
            marks.append(
                Stroke(
                    box.curve((place - 0.27, rim), (place - 0.27, rim - 0.7),
                              (place + 0.27, rim - 0.7), (place + 0.27, rim)),
                    "front",
                )
            )  # fmt: skip
        if purl:
            marks.append(_bump(box, place, 0.88, 0.21))
    if stitch.makes > 1 and set(stitch.heads) == {"yo"}:
        # One yarn wound on: the rings hang together.
        gap = radius * box.unit / box.cell_width
        marks.extend(
            Stroke(box.line((place - 1 + gap, 0.5), (place - gap, 0.5)), "fine")
            for place in places[:-1]
        )
    return marks


def _lifted(stitch: Stitch, box: _Box, x: float, high: float) -> list[Mark]:
    """A strand lifted from between two stitches and twisted shut."""
    tilt = {"left": -0.17, "right": 0.17}.get(stitch.lean or "", 0.0)
    cross, half = 0.34, 0.24
    swell = half * 1.15
    body = (high - cross) * 0.25
    start = [(x - 0.45, 0.14), (x - 0.26, 0.1), (x - 0.1, 0.22), (x, cross)]
    up = [(x + half * 0.9, cross + body), (x + tilt + swell, high), (x + tilt, high)]
    down = [(x + tilt - swell, high), (x - half * 0.9, cross + body), (x, cross)]
    end = [(x + 0.1, 0.22), (x + 0.26, 0.1), (x + 0.45, 0.14)]
    rising = box.curve(*start, *up)
    falling = box.curve(up[-1], *down, *end)
    if tilt < 0:  # the strand from the right runs on up to the left, in front
        return [Stroke(rising, "fine"), Stroke(falling, "front")]
    if tilt > 0:
        return [Stroke(falling, "fine"), Stroke(rising, "front")]
    return [Stroke((*rising, *falling), "fine")]


def _ended(stitch: Stitch, box: _Box) -> list[Mark]:
    """No head: a flat cap where a loop is ended, a ladder where one is dropped."""
    marks: list[Mark] = []
    for place in [stitch.uses - 0.5 - index for index in range(stitch.uses)]:
        if "drop" in stitch.extra or stitch.kind == "drop":
            marks.append(Stroke(box.line((place, 0.0), (place, 0.16)), "fine"))
            marks.extend(
                Stroke(box.line((place - 0.2, y), (place + 0.2, y)), "fine")
                for y in (0.28, 0.46, 0.64, 0.82)
            )
        else:
            marks.append(Stroke(box.line((place, _FOOT), (place, 0.46)), "fine"))
            marks.append(Stroke(box.line((place - 0.34, 0.5), (place + 0.34, 0.5)), "bar"))
    return marks


def _head(
    box: _Box, head: HeadForm, foot: Point, x: float, weight: Weight, curved: bool = False
) -> tuple[Path, list[Mark]]:
    """The stroke from `foot` to a head over x, and what the head ends in. A curved stroke
    leaves its foot sideways and comes up to the head from below."""

    def stroke(top: float) -> Path:
        if not curved or abs(x - foot[0]) < 0.01:
            return box.line(foot, (x, top))
        rise = top - foot[1]
        return box.curve(
            foot, (foot[0] + (x - foot[0]) * 0.62, foot[1] + rise * 0.06),
            (x, foot[1] + rise * 0.2), (x, top),
        )  # fmt: skip

    if head == "p":
        return stroke(0.83), [_bump(box, x, 0.83, 0.21)]
    if head == "yo":
        radius = 0.15
        top = 0.96 - 2 * radius * box.unit / box.cell_height
        centre = box.point(x, top)
        ring = Ring((centre[0], centre[1] - radius * box.unit), radius * box.unit, "fine")
        return stroke(top), [ring]
    if head in ("ktbl", "ptbl", "m", "mp"):
        purl = head in ("ptbl", "mp")
        high = 0.74 if purl else 0.93
        ends: list[Mark] = [_bump(box, x, 0.9, 0.21)] if purl else []
        cross = high - 0.4
        if curved:
            at = (x, cross)
            path = stroke(cross)
            loop = _ribbon(box, at, at, (x, high), 0.15, at)
            return path, [Stroke(loop[1:3], weight), *ends]
        t = (cross - foot[1]) / (high - foot[1])
        at = (foot[0] + (x - foot[0]) * t, cross)
        side = -1 if x < foot[0] - 0.01 else 1
        loop = _ribbon(box, foot, at, (x, high), 0.17 * side, at)
        return box.line(foot, at), [Stroke(loop[1:3], weight), *ends]
    if head == "sl":
        return stroke(1.0), []
    if head == "slf":
        return stroke(1.0), [Stroke(box.line((x - 0.5, 0.8), (x + 0.5, 0.8)), "fine")]
    return stroke(_TOP), []


def _single(stitch: Stitch, box: _Box) -> list[Mark]:
    """One loop drawn through one loop."""
    head: HeadForm = stitch.heads[0] if stitch.heads else "k"
    extra = stitch.extra
    marks: list[Mark] = []
    if "bobble" in extra or stitch.kind == "bobble":
        bumped = head in ("p", "ptbl", "mp")
        height, radius = (0.4, 0.24) if bumped else (0.54, 0.27)
        marks = [
            Stroke(box.line((0.5, 0.02), (0.5, height)), "fine"),
            Ring(box.point(0.5, height), radius * box.unit, "front", filled=True),
        ]
        return [*marks, _bump(box, 0.5, 0.86, 0.2)] if bumped else marks
    foot = 0.2
    purl = head in ("p", "ptbl", "mp")
    high = 0.7 if purl else 0.92
    cap: list[Mark] = [_bump(box, 0.5, 0.86, 0.23)] if purl else []
    if "below" in extra:
        # The new loop straddles the stitch: its leg parts round it.
        foot = 0.3
        marks.append(Stroke(box.line((0.2, 0.04), (0.5, foot), (0.8, 0.04)), "front"))
    if head in ("sl", "slf"):
        if stitch.kind == "brioche":
            # The slipped loop, and the yarn over that lies over it.
            return [
                Stroke(_arch(box, 0.5, 0.13, 0.0, 0.7), "fine"),
                Stroke(_arch(box, 0.5, 0.36, 0.12, 0.93), "front"),
            ]
        tall = _arch(box, 0.5, 0.19, 0.0, 0.94)
        over: list[Stroke] = []
        if head == "slf":
            over.append(Stroke(box.line((0.05, 0.42), (0.95, 0.42)), "front"))
        if "wrap" in extra:
            over.append(Stroke(_collar(box, 0.5), "front"))
        weight: Weight = "fine" if over else "front"
        parts = cut(tall, [stroke.path for stroke in over], box.gap())
        return [*marks, *(Stroke(path, weight) for path in parts), *over]
    if stitch.kind == "brioche":
        # The stitch and the yarn lying over it, worked as one.
        return [
            Stroke(box.line((0.5, _FOOT), (0.5, high - 0.08)), "front"),
            Stroke(_arch(box, 0.5, 0.34, 0.12, 0.62), "fine"),
            *cap,
        ]
    if stitch.wraps:
        marks.append(Stroke(box.line((0.5, 0.06), (0.5, high)), "fine"))
        count = min(stitch.wraps, 4)
        for index in range(count):
            y = (0.42 if purl else 0.5) + (index - (count - 1) / 2) * 0.19
            marks.append(Stroke(box.line((0.25, y - 0.09), (0.75, y + 0.09)), "front"))
        return [*marks, *cap]
    if "wrap" in extra:
        marks.append(Stroke(_collar(box, 0.5), "front"))
        foot = 0.34
    if head in ("ktbl", "ptbl", "m", "mp"):
        low = 0.3 if extra else 0.07
        path = _ribbon(
            box, (0.26, low), (0.5, low + (high - low) * 0.36), (0.5, high), 0.24, (0.74, low)
        )
        return [*marks, Stroke(path, "front"), *cap]
    if head == "yo":  # a strand laid over a loop that stays
        path, end = _head(box, head, (0.5, foot), 0.5, "front")
        return [*marks, Stroke(path, "fine"), *end]
    if head == "p" and not extra:
        return [_bump(box, 0.5, 0.5)]
    marks.append(Stroke(box.line((0.5, foot), (0.5, high - 0.1)), "front"))
    return [*marks, *cap]


def _arch(box: _Box, x: float, half: float, low: float, high: float) -> Path:
    """A loop open at the bottom."""
    shoulder = high - min(0.3, (high - low) * 0.5)
    round_ = 0.56
    return box.curve(
        (x - half, low), (x - half, low + (shoulder - low) * 0.4),
        (x - half, low + (shoulder - low) * 0.7), (x - half, shoulder),
        (x - half, shoulder + (high - shoulder) * round_), (x - half * round_, high), (x, high),
        (x + half * round_, high), (x + half, shoulder + (high - shoulder) * round_),
        (x + half, shoulder),
        (x + half, low + (shoulder - low) * 0.7), (x + half, low + (shoulder - low) * 0.4),
        (x + half, low),
    )  # fmt: skip


def _collar(box: _Box, x: float) -> Path:
    """A wrap round the foot of a stitch."""
    return box.curve((x - 0.36, 0.4), (x - 0.36, 0.14), (x + 0.36, 0.14), (x + 0.36, 0.4))


def _joined(stitch: Stitch, box: _Box) -> list[Mark]:
    """Several loops as one, one as several, or several as several: legs, knot, heads."""
    columns = box.columns
    feet = _foot_places(stitch.uses, columns)
    heads = _heads(stitch)
    middle = columns / 2
    front = stitch.front or tuple(range(stitch.uses))
    bobble = "bobble" in stitch.extra or stitch.kind == "bobble"
    marks: list[Mark] = []
    if stitch.makes == 1:
        twisted = heads[0] in ("ktbl", "ptbl")
        tilt = 0.24 if heads[0] == "k" else 0.19
        tilt *= {"left": -1, "right": 1}.get(stitch.lean or "", 0)
        leaders = _leaders(stitch, front)
        fronts: list[Path] = []
        if len(leaders) == 1:
            lead = meet = (feet[leaders[0]], _FOOT)
            path, end = _head(box, heads[0], lead, middle + tilt, "front")
            fronts.append(path)
        else:
            lead, meet = (middle, 0.46), (middle, 0.46)
            fronts += [box.line((feet[index], _FOOT), meet) for index in leaders]
            path, end = _head(box, heads[0], meet, middle + tilt, "front")
            fronts.append(path)
        over = fronts + [mark.path for mark in end if isinstance(mark, Stroke)]
        behind = [index for index in range(stitch.uses) if index not in leaders]
        apart = [abs(feet[index] - lead[0]) for index in behind]
        for index, distance in zip(behind, apart, strict=True):
            if len(leaders) == 1:
                # It runs up to the front stroke; the further off its foot, the higher.
                low, high = (0.4, 0.5) if twisted else (0.5, 0.7)
                height = (low + high) / 2
                if max(apart) - min(apart) > 0.01:
                    height = low + (high - low) * (distance - min(apart)) / (
                        max(apart) - min(apart)
                    )
                reach = (height - _FOOT) / (_TOP - _FOOT)
                meet = (lead[0] + (middle + tilt - lead[0]) * reach, height)
            leg = box.line((feet[index], _FOOT), meet)
            parts = cut(leg, over, box.gap(), 0.7 * box.pen)
            marks += [Stroke(piece, "fine") for piece in parts]
        marks += [Stroke(path, "front") for path in fronts]
        marks += end
        if bobble:
            marks.append(Ring(box.point(middle, 0.56), 0.2 * box.unit, "front", filled=True))
        return marks
    knot = (middle, 0.4 if stitch.uses > 1 else 0.26)
    if stitch.kind == "brioche":
        marks.append(Stroke(_arch(box, middle, 0.4, 0.06, 0.6), "fine"))
    if "below" in stitch.extra:
        marks.append(
            Stroke(box.line((middle - 0.3, 0.02), (middle, 0.2), (middle + 0.3, 0.02)), "front")
        )
    for index in range(stitch.uses):
        weight: Weight = "front" if index == front[0] else "fine"
        marks.append(Stroke(box.line((feet[index], 0.04), knot), weight))
    for place, head in zip(_head_places(stitch.makes), heads, strict=False):
        path, end = _head(box, head, knot, place, "fine", curved=True)
        marks.append(Stroke(path, "fine"))
        marks += end
    if stitch.uses > 1 or bobble:
        radius = 0.24 if bobble else 0.1
        marks.append(Ring(box.point(*knot), radius * box.unit, "front", filled=True))
    return marks


def _leaders(stitch: Stitch, front: Sequence[int]) -> list[int]:
    """The legs that lie in front. A centred decrease has one in the middle, or the outer
    ones when the middle loop lies behind."""
    if stitch.lean == "centre" and stitch.uses > 2 and front[0] * 2 != stitch.uses - 1:
        return [index for index in range(stitch.uses) if index * 2 != stitch.uses - 1]
    return [front[0]]


def _passed_over(stitch: Stitch, box: _Box) -> list[Mark]:
    """A loop lifted over several that stay: they stand upright, it lies across them."""
    columns = box.columns
    from_right = stitch.front[0] == 0 if stitch.front else True
    near, far = (columns - 0.08, 0.12) if from_right else (0.08, columns - 0.12)
    toward = -1 if from_right else 1
    across = box.curve(
        (near, 0.06), (near + toward * 0.1, 0.62), (far - toward * 0.7, 0.5), (far, 0.42)
    )
    marks: list[Mark] = []
    for place, head in zip(_head_places(stitch.makes), _heads(stitch), strict=False):
        stem, end = _head(box, head, (place, _FOOT), place, "fine")
        marks.extend(Stroke(piece, "fine") for piece in cut(stem, [across], box.gap()))
        marks.extend(end)
    marks.append(Stroke(across, "front"))
    return marks


def _crossed(stitch: Stitch, box: _Box) -> list[Mark]:
    """A cable: each strand runs from its foot to its head, those in front unbroken."""
    feet = _foot_places(stitch.uses, box.columns)
    over: list[Path] = []
    under: list[Path] = []
    ends: list[Mark] = []
    for place, source, head in zip(
        _head_places(stitch.makes), stitch.strands, _heads(stitch), strict=False
    ):
        in_front = source in stitch.over
        weight: Weight = "front" if in_front else "fine"
        path, end = _head(box, head, (feet[source], 0.06), place, weight)
        (over if in_front else under).append(path)
        ends.extend(end)
    marks: list[Mark] = []
    for path in under:
        marks.extend(Stroke(piece, "fine") for piece in cut(path, over, box.gap(), least=box.pen))
    marks.extend(Stroke(path, "front") for path in over)
    marks.extend(ends)
    return marks


def _rounded(marks: Iterable[Mark]) -> tuple[object, ...]:
    """The marks as numbers that compare equal when the drawing is the same."""
    seen: list[object] = []
    for mark in marks:
        if isinstance(mark, Stroke):
            path = tuple(tuple((round(x, 3), round(y, 3)) for x, y in p) for p in mark.path)
            seen.append((path, mark.weight, mark.filled))
        elif isinstance(mark, Ring):
            centre = (round(mark.centre[0], 3), round(mark.centre[1], 3))
            seen.append((centre, round(mark.radius, 3), mark.weight, mark.filled))
    return tuple(seen)


_LONGEST = 5  # letters that fit a cell


def lettered(
    stitches: Iterable[tuple[Stitch, bool]], name: Callable[[Stitch], str]
) -> dict[tuple[str, bool], str]:
    """Which stitches of a chart need letters in the cell: all but the first of those the
    rules draw alike. They get their abbreviation where it is short enough, else A, B, C ...
    Keys are (stitch key, whether it is drawn as seen from behind)."""
    first: dict[tuple[object, ...], tuple[str, bool]] = {}
    letters: dict[tuple[str, bool], str] = {}
    ordered = sorted(dict.fromkeys(stitches), key=lambda pair: (pair[1], bool(pair[0].like)))
    for stitch, behind in ordered:
        drawn = (columns_of(stitch), *_rounded(symbol(stitch, wrong_side=behind).marks))
        if first.setdefault(drawn, (stitch.key, behind)) == (stitch.key, behind):
            continue
        short = [text for text in (name(stitch), stitch.key) if len(text) <= _LONGEST]
        short = [text for text in short if text not in letters.values()]
        if not short:
            taken = set(letters.values())
            short = [f"{chr(65 + n % 26)}{n // 26 or ''}" for n in range(len(taken) + 1)]
            short = [text for text in short if text not in taken]
        letters[(stitch.key, behind)] = short[0]
    return letters
