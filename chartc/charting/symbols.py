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
PEN: dict[Weight, float] = {"fine": 0.3, "front": 0.56, "bar": 0.7}
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


def _bump(box: _Box, x: float, y: float, half: float = 0.25) -> Stroke:
    """The bump bar of a purl face: a low arch."""
    rise = 0.11
    return Stroke(
        box.curve((x - half, y - rise / 2), (x - half / 2, y + rise), (x + half / 2, y + rise),
                  (x + half, y - rise / 2)),
        "bar",
    )  # fmt: skip


def _twist(
    box: _Box, x: float, low: float, high: float, half: float, lean: float = 0.0
) -> list[tuple[float, float]]:
    """The points of a loop that crosses itself at (x, low) and reaches up to `high`,
    without the first point: in from the left foot, out towards the right one."""
    top = x + lean
    body = (high - low) * 0.55
    return [
        (x + half * 0.9, low + body * 0.45),
        (top + half * 1.15, high),
        (top, high),
        (top - half * 1.15, high),
        (x - half * 0.9, low + body * 0.45),
        (x, low),
    ]


def _small_twist(box: _Box, x: float, y: float, weight: Weight) -> Stroke:
    """A head that crosses itself: a small loop whose strands cross at (x, y)."""
    tail = 0.13
    points = [(x - tail, y - 0.08), (x - tail / 2, y - 0.06), (x - 0.02, y - 0.03), (x, y)]
    points += _twist(box, x, y, min(0.97, y + 0.26), 0.17)
    points += [(x + 0.02, y - 0.03), (x + tail / 2, y - 0.06), (x + tail, y - 0.08)]
    return Stroke(box.curve(*points), weight)


def _foot_places(uses: int, columns: int) -> list[float]:
    """Where the legs stand, from the right: index 0 is the loop worked first."""
    if uses == columns and columns > 1:
        return [columns - 0.5 - index for index in range(uses)]
    reach = {1: 0.0, 2: 0.31, 3: 0.36}.get(uses, 0.39)
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
    marks: list[Mark] = [] if stitch.key == background and not wrong_side else _marks(drawn, box)
    if left_handed:
        marks = list(mirrored(marks, columns * cell_width))
    if letters:
        marks.append(_lettering(box, letters))
    if wrong_side:
        marks.append(_wrong_side_tick(box))
    return Symbol(columns * cell_width, cell_height, tuple(marks))


def _lettering(box: _Box, letters: str) -> Lettering:
    room = box.columns * box.cell_width * 0.88
    size = min(box.unit * 0.3, room / (0.58 * max(1, len(letters))))
    return Lettering(box.point(box.columns / 2, 0.06), letters, size)


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
        if head == "yo":
            marks.append(Ring(box.point(place, 0.5), radius * box.unit))
        elif head in ("m", "mp"):
            marks.extend(_lifted(stitch, box, place, head == "mp"))
        else:
            marks.append(
                Stroke(
                    box.curve((place - 0.27, 0.8), (place - 0.27, 0.1), (place + 0.27, 0.1),
                              (place + 0.27, 0.8)),
                    "front",
                )
            )  # fmt: skip
            if head in ("p", "ptbl"):
                marks.append(_bump(box, place, 0.74, 0.2))
    if stitch.makes > 1 and set(stitch.heads) == {"yo"}:
        # One yarn wound on: the rings hang together.
        gap = radius * box.unit / box.cell_width
        marks.extend(
            Stroke(box.line((place - 1 + gap, 0.5), (place - gap, 0.5)), "fine")
            for place in places[:-1]
        )
    return marks


def _lifted(stitch: Stitch, box: _Box, x: float, purl: bool) -> list[Mark]:
    """A strand lifted from between two stitches and twisted shut."""
    tilt = {"left": -0.17, "right": 0.17}.get(stitch.lean or "", 0.0)
    cross = 0.36
    start = [(x - 0.44, 0.16), (x - 0.26, 0.12), (x - 0.1, 0.24), (x, cross)]
    loop = _twist(box, x, cross, 0.92, 0.22, tilt)
    end = [(x + 0.1, 0.24), (x + 0.26, 0.12), (x + 0.44, 0.16)]
    marks: list[Mark] = []
    if tilt < 0:  # the strand from the right runs on up to the left, in front
        marks = [
            Stroke(box.curve(*start, *loop[:3]), "fine"),
            Stroke(box.curve(loop[2], *loop[3:], *end), "front"),
        ]
    elif tilt > 0:
        marks = [
            Stroke(box.curve(*start, *loop[:3]), "front"),
            Stroke(box.curve(loop[2], *loop[3:], *end), "fine"),
        ]
    else:
        marks = [Stroke(box.curve(*start, *loop, *end), "fine")]
    if purl:
        marks.append(_bump(box, x, 0.1, 0.2))
    return marks


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


def _end_head(box: _Box, head: HeadForm, x: float, weight: Weight) -> tuple[float, list[Mark]]:
    """How high the stroke of a head goes, and what it ends in."""
    if head == "p":
        return 0.8, [_bump(box, x, 0.8, 0.23)]
    if head == "yo":
        radius = 0.15
        height = 0.97 - 2 * radius * box.unit / box.cell_height
        centre = box.point(x, height)
        return height, [Ring((centre[0], centre[1] - radius * box.unit), radius * box.unit, "fine")]
    if head in ("ktbl", "m"):
        return 0.66, [_small_twist(box, x, 0.69, weight)]
    if head in ("ptbl", "mp"):
        return 0.62, [_small_twist(box, x, 0.69, weight), _bump(box, x, 0.5, 0.2)]
    if head == "sl":
        return 1.0, []
    if head == "slf":
        return 1.0, [Stroke(box.line((x - 0.5, 0.8), (x + 0.5, 0.8)), "fine")]
    return _TOP, []


def _single(stitch: Stitch, box: _Box) -> list[Mark]:
    """One loop drawn through one loop."""
    head: HeadForm = stitch.heads[0] if stitch.heads else "k"
    extra = stitch.extra
    marks: list[Mark] = []
    if "bobble" in extra or stitch.kind == "bobble":
        marks = [
            Stroke(box.line((0.5, _FOOT), (0.5, 0.5)), "fine"),
            Ring(box.point(0.5, 0.54), 0.27 * box.unit, "front", filled=True),
        ]
        if head in ("p", "ptbl"):
            marks.append(_bump(box, 0.5, 0.93, 0.2))
        return marks
    foot = 0.2
    if "below" in extra:
        # The new loop straddles the stitch: its leg parts round it.
        foot = 0.3
        marks.append(Stroke(box.line((0.22, 0.02), (0.5, foot), (0.78, 0.02)), "front"))
    brioche = stitch.kind == "brioche"
    if head in ("sl", "slf"):
        tall = box.curve(
            (0.34, 0.0), (0.34, 0.5), (0.3, 0.95), (0.5, 0.95), (0.7, 0.95), (0.66, 0.5),
            (0.66, 0.0),
        )  # fmt: skip
        over: list[Path] = []
        if head == "slf":
            over.append(box.line((0.02, 0.42), (0.98, 0.42)))
        if "wrap" in extra:
            over.append(
                box.curve((0.12, 0.3), (0.12, 0.14), (0.88, 0.14), (0.88, 0.3))
            )
        if brioche:
            # The yarn over lies across the slipped loop and down either side.
            over.append(
                box.curve((0.06, 0.3), (0.1, 0.92), (0.9, 0.92), (0.94, 0.3))
            )
        marks.extend(Stroke(path, "fine") for path in cut(tall, over, box.gap("fine", "fine")))
        marks.extend(Stroke(path, "front" if brioche else "fine") for path in over)
        return marks
    if brioche:
        # The stitch and the yarn lying over it, worked as one.
        marks += [
            Stroke(box.line((0.5, _FOOT), (0.5, 0.8)), "front"),
            Stroke(box.curve((0.14, 0.16), (0.2, 0.75), (0.8, 0.75), (0.86, 0.16)), "fine"),
        ]
        if head in ("p", "ptbl"):
            marks.append(_bump(box, 0.5, 0.86, 0.22))
        return marks
    if stitch.wraps:
        marks.append(Stroke(box.line((0.5, _FOOT), (0.5, 0.92)), "fine"))
        count = min(stitch.wraps, 4)
        for index in range(count):
            y = 0.5 + (index - (count - 1) / 2) * 0.2
            marks.append(Stroke(box.line((0.24, y - 0.09), (0.76, y + 0.09)), "front"))
        if head in ("p", "ptbl"):
            marks.append(_bump(box, 0.5, 0.92, 0.22))
        return marks
    if "wrap" in extra:
        marks.append(
            Stroke(box.curve((0.12, 0.4), (0.12, 0.18), (0.88, 0.18), (0.88, 0.4)), "front")
        )
    if head in ("ktbl", "ptbl", "m", "mp"):
        points = [(0.26, 0.07), (0.36, 0.2), (0.44, 0.26), (0.5, 0.36)]
        points += _twist(box, 0.5, 0.36, 0.93, 0.22)
        points += [(0.56, 0.26), (0.64, 0.2), (0.74, 0.07)]
        marks.append(Stroke(box.curve(*points), "front" if not extra else "fine"))
        if head in ("ptbl", "mp"):
            marks.append(_bump(box, 0.5, 0.08, 0.14))
        return marks
    if head == "yo":  # a strand laid over a loop that stays
        top, end = _end_head(box, head, 0.5, "front")
        return [*marks, Stroke(box.line((0.5, foot), (0.5, top)), "fine"), *end]
    if head == "p":
        if extra:
            marks.append(Stroke(box.line((0.5, foot), (0.5, 0.66)), "fine"))
            marks.append(_bump(box, 0.5, 0.72))
        else:
            marks.append(_bump(box, 0.5, 0.5))
        return marks
    marks.append(Stroke(box.line((0.5, foot), (0.5, 0.8)), "front"))
    return marks


def _joined(stitch: Stitch, box: _Box) -> list[Mark]:
    """Several loops as one, one as several, or several as several: legs, knot, heads."""
    columns = box.columns
    feet = _foot_places(stitch.uses, columns)
    heads = _heads(stitch)
    middle = columns / 2
    knot = (middle, 0.5 if stitch.uses > 1 else 0.4)
    front = stitch.front or tuple(range(stitch.uses))
    marks: list[Mark] = []
    fronts: list[Path] = []
    weight: Weight = "front"
    if stitch.makes == 1:
        head = heads[0]
        tilt = 0.0
        if stitch.lean in ("left", "right") and stitch.uses > 1:
            tilt = -0.24 if stitch.lean == "left" else 0.24
        top, end = _end_head(box, head, middle + tilt, weight)
        tip = (middle + tilt, top)
        leaders = _leaders(stitch, front)
        for index in leaders:
            foot = (feet[index], _FOOT)
            if len(leaders) == 1:
                path = box.line(foot, tip)
            else:
                path = box.line(foot, knot)
            fronts.append(path)
        if len(leaders) > 1:
            fronts.append(box.line(knot, tip))
        # Legs behind run to where the front stroke passes the middle of the cell's height.
        if len(leaders) == 1:
            lead = feet[leaders[0]]
            reach = 0.56
            meet = (lead + (tip[0] - lead) * (reach - _FOOT) / (tip[1] - _FOOT), reach)
        else:
            meet = knot
        behind = [index for index in range(stitch.uses) if index not in leaders]
        for index in behind:
            path = box.line((feet[index], _FOOT), meet)
            marks.extend(Stroke(piece, "fine") for piece in cut(path, fronts, box.gap()))
        marks.extend(Stroke(path, "front") for path in fronts)
        marks.extend(end)
        if "bobble" in stitch.extra:
            marks.append(Ring(box.point(*meet), 0.2 * box.unit, "front", filled=True))
        return marks
    # One head for each loop made.
    lead = front[0] if front else 0
    for index in range(stitch.uses):
        marks.append(
            Stroke(box.line((feet[index], _FOOT), knot),
                   "front" if index == lead else "fine")
        )  # fmt: skip
    for place, head in zip(_head_places(stitch.makes), heads, strict=False):
        top, end = _end_head(box, head, place, "fine")
        marks.append(Stroke(box.line(knot, (place, top)), "fine"))
        marks.extend(end)
    if stitch.uses > 1 or "bobble" in stitch.extra:
        radius = 0.2 if "bobble" in stitch.extra else 0.1
        marks.append(Ring(box.point(*knot), radius * box.unit, "front", filled=True))
    if "below" in stitch.extra:
        marks.append(
            Stroke(box.line((middle - 0.28, 0.02), (middle, 0.24), (middle + 0.28, 0.02)), "front")
        )
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
    heads = _heads(stitch)
    from_right = stitch.front[0] == 0 if stitch.front else True
    near, far = (columns - 0.06, 0.12) if from_right else (0.06, columns - 0.12)
    toward = -1 if from_right else 1
    across = box.curve(
        (near, 0.06), (near + toward * 0.1, 0.62), (far - toward * 0.7, 0.5), (far, 0.42)
    )
    marks: list[Mark] = []
    for place, head in zip(_head_places(stitch.makes), heads, strict=False):
        top, end = _end_head(box, head, place, "fine")
        stem = box.line((place, _FOOT), (place, top))
        marks.extend(Stroke(piece, "fine") for piece in cut(stem, [across], box.gap()))
        marks.extend(end)
    marks.append(Stroke(across, "front"))
    return marks


def _crossed(stitch: Stitch, box: _Box) -> list[Mark]:
    """A cable: each strand runs from its foot to its head, those in front unbroken."""
    feet = _foot_places(stitch.uses, box.columns)
    places = _head_places(stitch.makes)
    heads = _heads(stitch)
    over: list[Path] = []
    under: list[Path] = []
    ends: list[Mark] = []
    for place, source, head in zip(places, stitch.strands, heads, strict=False):
        in_front = source in stitch.over
        weight: Weight = "front" if in_front else "fine"
        top, end = _end_head(box, head, place, weight)
        foot = feet[source]
        bottom = 0.05
        bend = (top - bottom) * 0.5
        path = box.curve(
            (foot, bottom), (foot, bottom + bend), (place, top - bend), (place, top)
        )
        (over if in_front else under).append(path)
        ends.extend(end)
    marks: list[Mark] = []
    for path in under:
        marks.extend(Stroke(piece, "fine") for piece in cut(path, over, box.gap()))
    marks.extend(Stroke(path, "front") for path in over)
    marks.extend(ends)
    return marks


def signature(stitch: Stitch) -> tuple[object, ...]:
    """What the rules draw a stitch from: stitches that agree in it look the same."""
    front: tuple[int, ...] = ()
    if stitch.uses > 1 and stitch.makes and not stitch.strands:
        front = tuple(_leaders(stitch, stitch.front or tuple(range(stitch.uses))))
    shown_extra = tuple(
        mark for mark in sorted(stitch.extra) if mark in ("bobble", "below", "wrap", "drop")
    )
    lean = stitch.lean if stitch.makes and not stitch.strands else None
    family = stitch.kind if stitch.kind in ("brioche", "bobble", "drop") else ""
    return (
        stitch.uses, stitch.makes, stitch.heads, front, stitch.strands, stitch.over, lean,
        min(stitch.wraps, 4), shown_extra, family,
        "pass" in stitch.extra and stitch.makes > 1,
    )  # fmt: skip


def lettered(
    stitches: Iterable[tuple[Stitch, bool]], name: Callable[[Stitch], str]
) -> dict[tuple[str, bool], str]:
    """Which stitches of a chart need their abbreviation in the cell: all but the first of
    those the rules draw alike. Keys are (stitch key, drawn as seen from behind)."""
    first: dict[tuple[object, ...], tuple[str, bool]] = {}
    letters: dict[tuple[str, bool], str] = {}
    ordered = sorted(set(stitches), key=lambda pair: (pair[1], bool(pair[0].like), pair[0].key))
    for stitch, behind in ordered:
        drawn = seen_from_behind(stitch) if behind else stitch
        mark = (*signature(drawn), behind)
        if first.setdefault(mark, (stitch.key, behind)) != (stitch.key, behind):
            letters[(stitch.key, behind)] = name(stitch)
    return letters
