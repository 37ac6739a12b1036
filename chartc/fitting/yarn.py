"""Yarn: the weight a gauge belongs to, how much of it, and the tail of a cast-on.

All estimates: a swatch weighed and measured by the knitter is worth more than any table.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from chartc.fitting.gauge import Gauge
from chartc.fitting.numbers import MOST_MM, FittingProblem, number, positive, whole
from chartc.handbook import TailRule, YarnWeight, yarn_rules, yarn_weights
from chartc.measures import Number, show_cm, show_in, to_mm

# pi to ten places: a wrap of a needle needs no more, and a fraction keeps the sum exact.
_PI = Fraction(31415926536, 10**10)


@dataclass(frozen=True, slots=True)
class YarnClass:
    """The yarn weights a gauge belongs to: one, two where bands overlap (23 and 24 stitches),
    or the two neighbours (`between`) for a gauge that falls between two bands.

    `beyond`: finer than the finest band; `weights` then holds the finest.
    """

    per_10_cm: Fraction
    weights: tuple[YarnWeight, ...]
    between: bool = False
    beyond: bool = False

    @property
    def numbers(self) -> tuple[int, ...]:
        return tuple(weight.number for weight in self.weights)

    def __str__(self) -> str:
        names = [weight.label for weight in self.weights]
        if self.beyond:
            return f"finer than {names[0]}: follow the pattern's gauge"
        if self.between:
            return f"between {names[0]} and {names[1]}"
        return " or ".join(names)


def yarn_class(stitches: Number) -> YarnClass:
    """The yarn weight of so many stockinette stitches over 4 in (10 cm): a guide only.

    Whole stitches 23 and 24 give two weights; 15.5 lies between two; above 40 is finer than
    the table. Raises FittingProblem when the number is not above 0.
    """
    count = positive(stitches, "the stitches of the gauge")
    bands = yarn_weights()
    inside = tuple(b for b in bands if count <= b.high and (b.low is None or count >= b.low))
    if inside:
        return YarnClass(count, inside)
    finest = bands[0]
    if count > finest.high:
        return YarnClass(count, (finest,), beyond=True)
    coarser = max((b for b in bands if b.high < count), key=lambda b: b.high)
    finer = min((b for b in bands if b.low is not None and b.low > count), key=lambda b: b.low or 0)
    return YarnClass(count, (finer, coarser), between=True)


@dataclass(frozen=True, slots=True)
class Swatch:
    """A swatch the knitter has weighed (grams) and measured (mm x mm)."""

    width_mm: Fraction
    length_mm: Fraction
    grams: Fraction

    @classmethod
    def of(cls, width_mm: Number, length_mm: Number, grams: Number) -> Swatch:
        """Raises FittingProblem when a figure is not above 0."""
        return cls(
            positive(width_mm, "the swatch width", MOST_MM),
            positive(length_mm, "the swatch length", MOST_MM),
            positive(grams, "the swatch weight", 1_000_000),
        )

    @property
    def area_mm2(self) -> Fraction:
        """Area in square millimetres."""
        return self.width_mm * self.length_mm


@dataclass(frozen=True, slots=True)
class Ball:
    """A ball as sold: grams, and metres when the band gives them."""

    grams: Fraction
    metres: Fraction | None = None

    @classmethod
    def of(cls, grams: Number, metres: Number | None = None) -> Ball:
        """Raises FittingProblem when a figure is not above 0."""
        return cls(
            positive(grams, "the weight of a ball", 1_000_000),
            None if metres is None else positive(metres, "the length of a ball", 10_000_000),
        )


@dataclass(frozen=True, slots=True)
class YarnNeed:
    """Yarn for an area: weights in grams, lengths in metres, the margin included in `grams`,
    `metres` and `balls` (whole balls, rounded up)."""

    area_mm2: Fraction
    net_grams: Fraction
    margin: Fraction
    grams: Fraction
    metres: Fraction | None
    balls: int | None

    def __str__(self) -> str:
        parts = [f"{ceil(self.grams)} g"]
        if self.metres is not None:
            yards = ceil(self.metres * 1000 / to_mm(1, "yd"))
            parts.append(f"{ceil(self.metres)} m / {yards} yd")
        if self.balls is not None:
            parts.append(f"{self.balls} ball{'' if self.balls == 1 else 's'}")
        return ", ".join(parts)


def yarn_for(
    area_mm2: Number, swatch: Swatch, ball: Ball | None = None, margin: Number | None = None
) -> YarnNeed:
    """Yarn for an area in square mm: swatch weight / swatch area x area, and a margin over.

    margin   a share (0.1 is a tenth more); without it the trade's tenth (common practice)
    Source of the rule: kephrenknittingstudio.com (an 8 x 8 in swatch of 10 g is 6.4 sq in to
    the gram). Raises FittingProblem on silly numbers.
    """
    area = positive(area_mm2, "the area", MOST_MM * MOST_MM)
    share = yarn_rules().margin if margin is None else _share(margin)
    net = area * swatch.grams / swatch.area_mm2
    grams = net * (1 + share)
    metres = grams * ball.metres / ball.grams if ball and ball.metres is not None else None
    return YarnNeed(area, net, share, grams, metres, ceil(grams / ball.grams) if ball else None)


def _share(margin: Number) -> Fraction:
    share = number(margin, "the margin")
    if not 0 <= share <= 5:
        raise FittingProblem("the margin must be from 0 to 5 (0.1 is a tenth more)")
    return share


@dataclass(frozen=True, slots=True)
class TailGuess:
    """What one published rule gives for a cast-on tail, in mm."""

    rule: TailRule
    low_mm: Fraction
    high_mm: Fraction


@dataclass(frozen=True, slots=True)
class TailEstimate:
    """The tail of a long-tail cast-on: an estimate, from the least to the most any rule gives.

    `sample_mm` is the length scaled from the knitter's own unravelled stitches, when given:
    worth more than the rules.
    """

    stitches: int
    guesses: tuple[TailGuess, ...]
    sample_mm: Fraction | None = None

    @property
    def low_mm(self) -> Fraction:
        return min(guess.low_mm for guess in self.guesses)

    @property
    def high_mm(self) -> Fraction:
        return max(guess.high_mm for guess in self.guesses)

    def __str__(self) -> str:
        if self.sample_mm is not None:
            return f"about {show_cm(self.sample_mm)} ({show_in(self.sample_mm)}), by your sample"
        return (
            f"estimate: {show_cm(self.low_mm)} to {show_cm(self.high_mm)} "
            f"({show_in(self.low_mm)} to {show_in(self.high_mm)})"
        )


def cast_on_tail(
    stitches: Number,
    gauge: Gauge,
    needle_mm: Number | None = None,
    *,
    fine: bool = False,
    sample: tuple[Number, Number] | None = None,
) -> TailEstimate:
    """The tail for a long-tail cast-on by every published rule that applies. An estimate: the
    rules differ threefold and more.

    needle_mm  diameter, for the rule of one wrap to a stitch
    fine       also the old rule for fine thread (1 yd to 100 stitches)
    sample     (stitches, mm of yarn they took): cast on a few, unravel, measure
    Raises FittingProblem on silly numbers.
    """
    count = whole(stitches, "the number of stitches")
    guesses = []
    for rule in yarn_rules().tails:
        if rule.fine_only and not fine:
            continue
        if rule.kind == "per stitch":
            low, high = rule.low_mm * count, rule.high_mm * count
        elif rule.kind == "width":
            low = high = rule.times * gauge.width_mm(count) + rule.extra_mm
        elif needle_mm is None:
            continue
        else:
            round_mm = _PI * positive(needle_mm, "the needle size", 100)
            low = high = round_mm * count + rule.extra_mm
        guesses.append(TailGuess(rule, low, high))
    scaled = None
    if sample is not None:
        few, took = sample
        scaled = (
            positive(took, "the length of the sample", MOST_MM)
            / whole(few, "the stitches of the sample")
            * count
        )
    return TailEstimate(count, tuple(guesses), scaled)
