"""Gauge arithmetic, exact: stitches and rows to lengths and back, rib, whole repeats.

Lengths are millimetres, as fractions. Source of the rule: stitches = width x gauge, and the
circumference is the cast-on over the stitches per inch (204 sts at 18 sts to 4 in are 45⅓ in:
woolpackyarn.com).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from chartc.fitting.numbers import (
    MOST_MM,
    MOST_ROWS,
    MOST_STITCHES,
    FittingProblem,
    Towards,
    Working,
    nearest_whole,
    number,
    positive,
    whole,
)
from chartc.measures import LengthUnit, Number, show_cm, show_number, to_mm


@dataclass(frozen=True, slots=True)
class Gauge:
    """So many stitches (and rows) over a distance.

    stitches  over `over_mm`, above 0, fractions allowed
    rows      over `over_mm`, or None when the pattern gives none
    over_mm   the distance in millimetres
    unit      the unit it is printed in ("cm" or "in")
    """

    stitches: Fraction
    rows: Fraction | None
    over_mm: Fraction
    unit: LengthUnit = "cm"

    @classmethod
    def of(
        cls,
        stitches: Number,
        rows: Number | None = None,
        over: Number = 10,
        unit: LengthUnit = "cm",
    ) -> Gauge:
        """A gauge as printed, 10 cm unless said otherwise. Raises FittingProblem when a number
        is not above 0 or is past all knitting (1000 stitches or rows to the centimetre)."""
        over_mm = to_mm(positive(over, "the distance of the gauge"), unit)
        if over_mm > MOST_MM:
            raise FittingProblem("the distance of the gauge is too large; check the number")
        most = over_mm * 100
        return cls(
            positive(stitches, "the stitches of the gauge", most),
            None if rows is None else positive(rows, "the rows of the gauge", most),
            over_mm,
            unit,
        )

    @property
    def stitch_mm(self) -> Fraction:
        """Width of one stitch in mm."""
        return self.over_mm / self.stitches

    @property
    def row_mm(self) -> Fraction:
        """Height of one row in mm. Raises FittingProblem when the gauge gives no rows."""
        if self.rows is None:
            raise FittingProblem("the gauge gives no rows; lengths need the rows as well")
        return self.over_mm / self.rows

    def stitches_in(self, mm: Number) -> Fraction:
        """Stitches in a width of `mm` millimetres, not rounded."""
        return number(mm, "the width") / self.stitch_mm

    def rows_in(self, mm: Number) -> Fraction:
        """Rows in a length of `mm` millimetres, not rounded."""
        return number(mm, "the length") / self.row_mm

    def width_mm(self, stitches: Number) -> Fraction:
        """Width in mm of so many stitches."""
        return number(stitches, "the number of stitches") * self.stitch_mm

    def length_mm(self, rows: Number) -> Fraction:
        """Length in mm of so many rows."""
        return number(rows, "the number of rows") * self.row_mm

    @property
    def per_10_cm(self) -> Fraction:
        """Stitches over 10 cm (100 mm)."""
        return self.stitches * 100 / self.over_mm

    @property
    def per_inch(self) -> Fraction:
        """Stitches to one inch (25.4 mm)."""
        return self.stitches * to_mm(1, "in") / self.over_mm

    def __str__(self) -> str:
        distance = (
            f"{show_number(self.over_mm / to_mm(1, 'in'))} in"
            if self.unit == "in"
            else show_cm(self.over_mm)
        )
        rows = "" if self.rows is None else f" and {show_number(self.rows)} rows"
        return f"{show_number(self.stitches)} sts{rows} = {distance}"


def stitches_for(
    width_mm: Number, gauge: Gauge, working: Working | None = None, way: Towards = "nearest"
) -> int:
    """The stitches for a width in mm: the nearest whole number, or with `working` the nearest
    (or next above / below) count that truly works. Raises FittingProblem when none does."""
    wish = gauge.stitches_in(positive(width_mm, "the width", MOST_MM))
    if wish > MOST_STITCHES:
        raise FittingProblem(
            f"{floor(wish)} sts is more than anyone knits; check the gauge and the measure"
        )
    if working is not None:
        return working.towards(wish, way)
    if way == "nearest":
        return max(1, nearest_whole(wish))
    return max(1, ceil(wish) if way == "above" else floor(wish))


@dataclass(frozen=True, slots=True)
class RowsFor:
    """Rows for a length. `repeats` whole repeats of the row repeat, `extra` rows beside them."""

    rows: int
    repeats: int
    extra: int
    length_mm: Fraction
    wish_mm: Fraction

    @property
    def off_mm(self) -> Fraction:
        """What is got, less what was wanted, in mm."""
        return self.length_mm - self.wish_mm


def rows_for(
    length_mm: Number,
    gauge: Gauge,
    repeat: int = 1,
    extra: int = 0,
    way: Towards = "nearest",
) -> RowsFor:
    """The rows for a length in mm, in whole repeats of `repeat` rows plus `extra` rows once.

    Of two as near, the longer. At least one repeat is worked. Raises FittingProblem when the
    gauge gives no rows, or a number is past all knitting.
    """
    wish = positive(length_mm, "the length", MOST_MM)
    step = whole(repeat, "the row repeat", most=MOST_ROWS)
    more = whole(extra, "the extra rows", least=0, most=MOST_ROWS)
    needed = gauge.rows_in(wish)
    if needed > MOST_ROWS:
        raise FittingProblem(
            f"{floor(needed)} rows is more than anyone knits; check the gauge and the length"
        )
    rows = Working.of(step, more, step + more).towards(
        needed if way != "below" else max(needed, Fraction(step + more)), way
    )
    return RowsFor(rows, (rows - more) // step, more, gauge.length_mm(rows), wish)


@dataclass(frozen=True, slots=True)
class RibFit:
    """Whether a rib of `knit` and `purl` stitches comes out over `stitches`.

    `fewer` and `more` are the nearest counts that close (equal to `stitches` when it does).
    """

    stitches: int
    knit: int
    purl: int
    in_round: bool
    fits: bool
    fewer: int | None
    more: int

    @property
    def label(self) -> str:
        return f"k{self.knit}, p{self.purl} rib"

    def __str__(self) -> str:
        place = "closes in the round" if self.in_round else "begins and ends alike"
        if self.fits:
            return f"{self.label} {place} over {self.stitches} sts"
        near = f"{self.fewer} or {self.more}" if self.fewer else f"{self.more}"
        not_so = "does not close in the round" if self.in_round else "does not end as it begins"
        return f"{self.label} {not_so} over {self.stitches} sts; {near} sts would"


def rib(stitches: int, knit: int = 1, purl: int = 1, *, in_round: bool = True) -> RibFit:
    """Whether a rib closes: in the round on a multiple of knit + purl; flat, for edges that
    match, on that plus `knit` (common practice). Raises FittingProblem on silly numbers."""
    count = whole(stitches, "the number of stitches")
    k = whole(knit, "the knit stitches of the rib")
    p = whole(purl, "the purl stitches of the rib")
    plus = 0 if in_round else k
    working = Working.of(k + p, plus, k + p + plus)
    more = working.above(count)
    assert more is not None  # the progression has no end
    return RibFit(count, k, p, in_round, count in working, working.below(count), more)


# The ribs one meets (common practice): knit and purl stitches.
COMMON_RIBS: tuple[tuple[int, int], ...] = ((1, 1), (2, 2), (2, 1), (3, 1), (3, 2), (3, 3), (4, 2))


def ribs_that_close(stitches: int, *, in_round: bool = True) -> tuple[RibFit, ...]:
    """Of the common ribs, those that come out over `stitches`."""
    tried = (rib(stitches, k, p, in_round=in_round) for k, p in COMMON_RIBS)
    return tuple(found for found in tried if found.fits)
