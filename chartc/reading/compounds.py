"""Stitches made of stitches, as the reader meets them in rows and abbreviations.

The working out is composing's; where the loops cannot be followed the counts alone are kept.
"""

from __future__ import annotations

from collections.abc import Sequence

from chartc import composing
from chartc.composing import ComposingError
from chartc.stitch import Stitch

Part = tuple[Stitch, int]


def _counts(parts: Sequence[Part]) -> tuple[int, int]:
    return sum(s.uses * n for s, n in parts), sum(s.makes * n for s, n in parts)


def into_one(parts: Sequence[Part], into: int = 1) -> Stitch:
    """Several stitches worked into the same `into` stitches: uses `into`, makes what they make."""
    try:
        return composing.into_one(list(parts), into)
    except ComposingError:
        _, makes = _counts(parts)
        words = ", ".join(f"{s.us} x {n}" if n > 1 else s.us for s, n in parts)
        return composing.stated(f"({words}) in {into} st", into, min(makes, composing.MOST_LOOPS))


def sequence(parts: Sequence[Part], pass_over: int = 0) -> Stitch:
    """A run taken as one stitch; `pass_over` slipped stitches are lifted over the rest."""
    try:
        return composing.sequence(list(parts), pass_over)
    except ComposingError:
        uses, makes = _counts(parts)
        words = ", ".join(f"{s.us} x {n}" if n > 1 else s.us for s, n in parts)
        return composing.stated(
            f"{words}, psso", min(uses, composing.MOST_LOOPS), max(1, min(makes, composing.MOST_LOOPS) - pass_over)
        )


def defined(name: str, steps: Sequence[composing.Step], words: str) -> Stitch | None:
    """A designer's own stitch; None where its steps cannot be worked."""
    try:
        return composing.define(name, list(steps), words)
    except ComposingError:
        return None
