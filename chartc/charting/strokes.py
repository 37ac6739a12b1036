"""Lines and curves in millimetres: cutting one where it passes under another.

A path is a chain of pieces, each a straight line (two points) or a cubic curve (four).
The y axis points down, as in SVG.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot
from typing import Literal, TypeAlias

Point: TypeAlias = tuple[float, float]
Piece: TypeAlias = tuple[Point, ...]
Path: TypeAlias = tuple[Piece, ...]

# How heavy a stroke is drawn; `svg` turns it into millimetres.
Weight = Literal["fine", "front", "bar"]

_STEPS = 40  # points at which a curve is sampled


@dataclass(frozen=True, slots=True)
class Stroke:
    """A path drawn with the pen, or filled when `filled`."""

    path: Path
    weight: Weight = "fine"
    filled: bool = False


@dataclass(frozen=True, slots=True)
class Ring:
    """A circle: centre, radius (mm); a ball when `filled`."""

    centre: Point
    radius: float
    weight: Weight = "front"
    filled: bool = False


@dataclass(frozen=True, slots=True)
class Lettering:
    """A word set at `middle`, its letters `size` mm high."""

    middle: Point
    text: str
    size: float


Mark: TypeAlias = Stroke | Ring | Lettering


def at(piece: Piece, t: float) -> Point:
    """The point of a piece at t in 0..1."""
    if len(piece) == 2:
        (ax, ay), (bx, by) = piece
        return (ax + (bx - ax) * t, ay + (by - ay) * t)
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = piece
    u = 1 - t
    p, q, r, s = u * u * u, 3 * u * u * t, 3 * u * t * t, t * t * t
    return (p * ax + q * bx + r * cx + s * dx, p * ay + q * by + r * cy + s * dy)


def _split(piece: Piece, t: float) -> tuple[Piece, Piece]:
    """The piece in two at t (de Casteljau)."""
    levels = [list(piece)]
    while len(levels[-1]) > 1:
        row = levels[-1]
        levels.append(
            [(a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t) for a, b in pairwise(row)]
        )
    return tuple(row[0] for row in levels), tuple(row[-1] for row in reversed(levels))


def part(piece: Piece, start: float, end: float) -> Piece:
    """The part of a piece between two parameters."""
    if end < 1:
        piece = _split(piece, end)[0]
    if start > 0:
        piece = _split(piece, start / end)[1]
    return piece


def flat(path: Path) -> list[Point]:
    """The path as a chain of points."""
    points = [path[0][0]]
    for piece in path:
        if len(piece) == 2:
            points.append(piece[1])
        else:
            points.extend(at(piece, i / _STEPS) for i in range(1, _STEPS + 1))
    return points


def _distance(point: Point, chain: Sequence[Point]) -> float:
    """From a point to the nearest place on a chain of points."""
    px, py = point
    best = float("inf")
    for (ax, ay), (bx, by) in pairwise(chain):
        dx, dy = bx - ax, by - ay
        length = dx * dx + dy * dy
        t = 0.0 if length == 0 else max(0.0, min(1.0, ((px - ax) * dx + (py - ay) * dy) / length))
        best = min(best, hypot(px - ax - t * dx, py - ay - t * dy))
    return best


def cut(path: Path, overs: Iterable[Path], gap: float, least: float = 0.2) -> list[Path]:
    """What is left of a path where others pass over it, `gap` mm clear of their middle.
    Pieces shorter than `least` mm are dropped."""
    chains = [flat(over) for over in overs]

    def clear(point: Point) -> bool:
        return all(_distance(point, chain) >= gap for chain in chains)

    left: list[Path] = []
    run: list[Piece] = []

    def close() -> None:
        if run:
            left.append(tuple(run))
            run.clear()

    for piece in path:
        knots = [i / _STEPS for i in range(_STEPS + 1)]
        seen = [clear(at(piece, t)) for t in knots]
        start: float | None = 0.0 if seen[0] else None
        if start is None:
            close()
        for (t0, c0), (t1, c1) in pairwise(zip(knots, seen, strict=True)):
            if c0 == c1:
                continue
            low, high = t0, t1
            for _ in range(24):
                middle = (low + high) / 2
                if clear(at(piece, middle)) == c0:
                    low = middle
                else:
                    high = middle
            if c0:
                if start is not None and low > start:
                    run.append(part(piece, start, low))
                start = None
                close()
            else:
                start = high
        if start is not None:
            run.append(part(piece, start, 1.0))
    close()
    return [piece for piece in left if _length(piece) > least]


def _length(path: Path) -> float:
    points = flat(path)
    return sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(points))


def mirrored(marks: Iterable[Mark], width: float) -> tuple[Mark, ...]:
    """The marks as in a mirror, in a box of that width; lettering stays readable."""

    def turn(point: Point) -> Point:
        return (width - point[0], point[1])

    turned: list[Mark] = []
    for mark in marks:
        if isinstance(mark, Stroke):
            path = tuple(tuple(turn(point) for point in piece) for piece in mark.path)
            turned.append(Stroke(path, mark.weight, mark.filled))
        elif isinstance(mark, Ring):
            turned.append(Ring(turn(mark.centre), mark.radius, mark.weight, mark.filled))
        else:
            turned.append(Lettering(turn(mark.middle), mark.text, mark.size))
    return tuple(turned)
