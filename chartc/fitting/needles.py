"""Needle sizes between their labels, and which circular needle suits so many stitches.

Millimetres are the authority; US and old UK numbers are labels.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from chartc.facts import plain_label
from chartc.fitting.gauge import Gauge
from chartc.fitting.numbers import MOST_STITCHES, positive, whole
from chartc.handbook import NeedleSize, circular_lengths, needle_sizes
from chartc.measures import Number, exact, from_mm, show_decimal, show_number


def needle_of(mm: Number) -> NeedleSize | None:
    """The needle of that diameter in mm, or None when no such size is made."""
    size = exact(mm)
    return next((needle for needle in needle_sizes() if needle.mm == size), None)


def needles_us(label: str) -> tuple[NeedleSize, ...]:
    """The needles sold under a US number; two for 17 and 19, whose charts differ."""
    wanted = plain_label(label)
    return tuple(n for n in needle_sizes() if wanted in (*n.us, *n.us_rare))


def needles_uk(label: str) -> tuple[NeedleSize, ...]:
    """The needle of an old UK (or Canadian) number; there is at most one."""
    wanted = plain_label(label)
    return tuple(n for n in needle_sizes() if wanted in n.uk)


def show_needle(mm: Number) -> str:
    """A needle with the labels it has: "4 mm (US 6, old UK 8)"."""
    size = exact(mm)
    found = needle_of(size)
    shown = f"{show_decimal(size, 2)} mm"
    if found is None:
        return shown
    labels = [f"US {label}" for label in found.us] + [f"old UK {label}" for label in found.uk]
    return f"{shown} ({', '.join(labels)})" if labels else shown


@dataclass(frozen=True, slots=True)
class CircularFit:
    """One circular needle against a round of stitches.

    length_mm     tip to tip, as sold
    fits          shorter than the circumference (the rule), and not overfull
    too_long      not shorter than the circumference
    too_full      more than twice its length of knitting (the most in the published table)
    """

    length_mm: Fraction
    too_long: bool
    too_full: bool

    @property
    def fits(self) -> bool:
        return not self.too_long and not self.too_full


@dataclass(frozen=True, slots=True)
class CircularAdvice:
    """Which circular needles suit so many stitches worked in the round.

    `best_mm` is the longest that fits, None when only double-pointed needles (or one long
    needle with its cable drawn out in loops) will do.
    """

    stitches: int
    circumference_mm: Fraction
    tried: tuple[CircularFit, ...]

    @property
    def fitting_mm(self) -> tuple[Fraction, ...]:
        return tuple(one.length_mm for one in self.tried if one.fits)

    @property
    def best_mm(self) -> Fraction | None:
        return max(self.fitting_mm, default=None)

    @property
    def double_pointed(self) -> bool:
        """The round is too small for any circular needle."""
        return all(one.too_long for one in self.tried)

    def __str__(self) -> str:
        if self.double_pointed:
            return "double-pointed needles, or one long circular needle looped"
        best = self.best_mm
        if best is None:
            return "two circular needles, or work back and forth"
        return f"{show_circular(best)} circular"


def show_circular(mm: Fraction) -> str:
    """A circular needle's length by both labels: "60 cm / 24 in"."""
    for metric, inch in circular_lengths().same:
        if mm in (metric, inch):
            return (
                f"{show_number(from_mm(metric, 'cm'))} cm / {show_number(from_mm(inch, 'in'))} in"
            )
    return f"{show_number(from_mm(mm, 'cm'))} cm"


def circular_fit(stitches: Number, gauge: Gauge, length_mm: Number) -> CircularFit:
    """A circular needle of `length_mm` (tip to tip) against a round of `stitches`.

    The rule: the needle must be shorter than the circumference. It is overfull beyond twice
    its length of knitting (the most the published table gives, 160 sts at 5 to the inch on a
    16 in needle). Raises FittingProblem on silly numbers.
    """
    around = gauge.width_mm(whole(stitches, "the number of stitches", most=MOST_STITCHES))
    length = positive(length_mm, "the needle length")
    return CircularFit(length, length >= around, around > 2 * length)


def circular_for(
    stitches: Number, gauge: Gauge, offered_mm: tuple[Fraction, ...] | None = None
) -> CircularAdvice:
    """Which circular needles suit a round of `stitches`: the metric lengths as sold, or
    `offered_mm`. Raises FittingProblem on silly numbers."""
    count = whole(stitches, "the number of stitches", most=MOST_STITCHES)
    lengths = circular_lengths().metric if offered_mm is None else offered_mm
    tried = tuple(circular_fit(count, gauge, length) for length in sorted(lengths))
    return CircularAdvice(count, gauge.width_mm(count), tried)


def capacity(length_mm: Number, gauge: Gauge) -> tuple[int, int]:
    """Fewest and most stitches for a circular needle: its length and twice its length of
    knitting, in whole stitches. Checked against the published table."""
    length = positive(length_mm, "the needle length")
    fewest = gauge.stitches_in(length)
    return int(fewest), int(2 * fewest)
