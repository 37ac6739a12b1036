"""Do the figures a pattern states agree with each other? Pure arithmetic for the checks.

Each function gives None when the figures agree, or a `Disagreement` with the message in trade
words, lower case, without a full stop. Nothing here knows where in a text the figures stand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from chartc.facts import GaugeFact, Measure, plain_label
from chartc.fitting.gauge import Gauge
from chartc.fitting.needles import circular_fit, needle_of, needles_uk, needles_us
from chartc.fitting.numbers import FittingProblem, positive, whole
from chartc.fitting.yarn import yarn_class
from chartc.handbook import YarnWeight
from chartc.measures import (
    METRES_PER_YARD,
    LengthUnit,
    Number,
    exact,
    from_mm,
    round_to,
    show_decimal,
    show_number,
    to_mm,
)

Kind = Literal[
    "gauge and size",
    "gauge and length",
    "centimetres and inches",
    "yards and metres",
    "needle too long",
    "needle overfull",
    "needle labels",
    "number of values",
    "gauge and yarn",
]

# Decision of the project: figures agree when they agree to the nearest centimetre or half inch.
NEAREST: dict[LengthUnit, Fraction] = {
    "cm": Fraction(10),
    "mm": Fraction(10),
    "in": to_mm("1/2", "in"),
}
# Published practice of technical editing: centimetres and inches within 1 percent.
ONE_PERCENT = Fraction(1, 100)


@dataclass(frozen=True, slots=True)
class Disagreement:
    """Two figures that do not agree.

    message   in trade words, lower case, no full stop
    hint      what would agree, or ""
    stated    the figure as stated and `found` the one reckoned, in the same unit
    """

    kind: Kind
    message: str
    hint: str = ""
    stated: Fraction | None = None
    found: Fraction | None = None


def gauge_from(fact: GaugeFact, unit: LengthUnit = "cm") -> Gauge | None:
    """The gauge of a fact line to reckon with for measures in `unit`.

    10 cm and 4 in are printed as one distance; centimetres are reckoned with the first, inches
    with the second. None when the line gives no stitches or no distance, or silly ones.
    """
    over = fact.over_in(unit)
    if over is None or fact.stitches is None:
        return None
    try:
        return Gauge.of(fact.stitches, fact.rows, over.value, over.unit)
    except FittingProblem:
        return None


def _readings(gauge: Gauge, unit: LengthUnit) -> tuple[Gauge, ...]:
    """The gauge, and the same over 4 in for 10 cm (or 10 cm for 4 in): one to the trade."""
    swap: dict[Fraction, tuple[Fraction, LengthUnit]] = {
        to_mm(10, "cm"): (to_mm(4, "in"), "in"),
        to_mm(4, "in"): (to_mm(10, "cm"), "cm"),
        to_mm(5, "cm"): (to_mm(2, "in"), "in"),
        to_mm(2, "in"): (to_mm(5, "cm"), "cm"),
    }
    other = swap.get(gauge.over_mm)
    if other is None:
        return (gauge,)
    twin = Gauge(gauge.stitches, gauge.rows, other[0], other[1])
    # the reading in the unit of the measure first: it is the one named in the message
    return (twin, gauge) if twin.unit == unit else (gauge, twin)


def _show(mm: Fraction, unit: LengthUnit) -> str:
    if unit == "in":
        return f"{show_number(round_to(from_mm(mm, 'in'), Fraction(1, 4)))} in"
    return f"{show_decimal(from_mm(mm, 'cm'), 1)} cm"


def size_against_gauge(
    stitches: Number,
    gauge: Gauge,
    stated: Number,
    unit: LengthUnit = "cm",
    *,
    to_fit: bool = False,
    seam_sts: int = 0,
    pieces: int = 1,
) -> Disagreement | None:
    """Does a stitch count at this gauge give the stated finished width or circumference?

    stated, unit   the printed measure
    to_fit         the measure is of the body: ease is unknown and nothing can be said
    seam_sts       stitches of one piece taken into seams; `pieces` of that count make it up
    They agree when they differ by less than the nearest centimetre (1 cm) or half inch: a
    designer may round either way. Raises FittingProblem on silly numbers.
    """
    if to_fit:
        return None
    count = whole(stitches, "the number of stitches")
    measured = whole(pieces, "the pieces") * (count - seam_sts)
    mark = NEAREST["in"] if unit == "in" else NEAREST["cm"]
    wanted = to_mm(positive(stated, "the stated measure"), unit)
    widths = [reading.width_mm(measured) for reading in _readings(gauge, unit)]
    if any(abs(width - wanted) < mark for width in widths):
        return None
    width = widths[0]
    fitting = round_to(wanted / _readings(gauge, unit)[0].stitch_mm)
    return Disagreement(
        "gauge and size",
        f"{measured} sts at {gauge} measure {_show(width, unit)}, not {_show(wanted, unit)}",
        f"{_show(wanted, unit)} takes {fitting} sts",
        from_mm(wanted, unit),
        from_mm(width, unit),
    )


def length_against_gauge(
    rows: Number, gauge: Gauge, stated: Number, unit: LengthUnit = "cm"
) -> Disagreement | None:
    """Does a number of rows at this gauge give the stated length?

    Agreement as for `size_against_gauge`. None as well when the gauge gives no rows. Raises
    FittingProblem on silly numbers.
    """
    if gauge.rows is None:
        return None
    count = whole(rows, "the number of rows", most=1_000_000)
    mark = NEAREST["in"] if unit == "in" else NEAREST["cm"]
    wanted = to_mm(positive(stated, "the stated length"), unit)
    lengths = [reading.length_mm(count) for reading in _readings(gauge, unit)]
    if any(abs(length - wanted) < mark for length in lengths):
        return None
    fitting = round_to(wanted / _readings(gauge, unit)[0].row_mm)
    return Disagreement(
        "gauge and length",
        f"{count} rows at {gauge} measure {_show(lengths[0], unit)}, not {_show(wanted, unit)}",
        f"{_show(wanted, unit)} takes {fitting} rows",
        from_mm(wanted, unit),
        from_mm(lengths[0], unit),
    )


def _step(value: Fraction) -> Fraction:
    """How finely a printed number is given: whole, halves, quarters, eighths, tenths."""
    for denominator in (1, 2, 4, 8, 10, 20, 100):
        if denominator % value.denominator == 0:
            return Fraction(1, denominator)
    return Fraction(1, value.denominator)


def cm_against_inches(
    metric: Measure, inches: Measure, tolerance: Number = ONE_PERCENT
) -> Disagreement | None:
    """Do the two printings of one measure agree?

    They do within 1 percent, or when one is the other rounded to how finely it is printed (at
    most half a centimetre or an eighth of an inch either way): 10 cm and 4 in agree, 84 cm and
    34 in do not.
    """
    gap = abs(metric.mm - inches.mm)
    larger = max(metric.mm, inches.mm)
    half_metric = to_mm(min(_step(metric.value) / 2, Fraction(1, 2)), metric.unit)
    half_inch = to_mm(min(_step(inches.value) / 2, Fraction(1, 8)), "in")
    if gap <= exact(tolerance) * larger or gap <= max(half_metric, half_inch):
        return None
    as_inches = round_to(from_mm(metric.mm, "in"), Fraction(1, 4))
    as_cm = round_to(from_mm(inches.mm, "cm"), Fraction(1, 2))
    return Disagreement(
        "centimetres and inches",
        f"{metric} and {inches} are not the same",
        f"{metric} is {show_number(as_inches)} in; {inches} is {show_decimal(as_cm)} cm",
        from_mm(metric.mm, "cm"),
        from_mm(inches.mm, "cm"),
    )


def yards_against_metres(
    yards: Number, metres: Number, tolerance: Number = ONE_PERCENT
) -> Disagreement | None:
    """Do yards and metres of one yarn agree (1 yd = 0.9144 m)?

    They do within 1 percent, or to the nearest yard. Raises FittingProblem on silly numbers.
    """
    in_yards = positive(yards, "the yards")
    in_metres = positive(metres, "the metres")
    reckoned = in_yards * METRES_PER_YARD
    gap = abs(reckoned - in_metres)
    if gap <= exact(tolerance) * max(reckoned, in_metres) or gap <= METRES_PER_YARD / 2:
        return None
    return Disagreement(
        "yards and metres",
        f"{show_number(in_yards)} yd and {show_number(in_metres)} m are not the same",
        f"{show_number(in_yards)} yd is {round_to(reckoned)} m; "
        f"{show_number(in_metres)} m is {round_to(in_metres / METRES_PER_YARD)} yd",
        in_metres,
        reckoned,
    )


def needle_against_stitches(stitches: Number, gauge: Gauge, length: Measure) -> Disagreement | None:
    """Can so many stitches be worked in the round on a circular needle of that length?

    The needle must be shorter than the circumference; and it does not hold more than twice its
    length of knitting. Raises FittingProblem on silly numbers.
    """
    found = circular_fit(stitches, gauge, length.mm)
    around = gauge.width_mm(stitches)
    if found.too_long:
        return Disagreement(
            "needle too long",
            f"{exact(stitches)} sts measure {_show(around, length.unit)} round; a {length} "
            "circular needle is too long for them",
            "use a shorter circular needle or double-pointed needles",
            length.value,
            from_mm(around, length.unit),
        )
    if found.too_full:
        return Disagreement(
            "needle overfull",
            f"{exact(stitches)} sts measure {_show(around, length.unit)} round; a {length} "
            "circular needle hardly holds them",
            "use a longer circular needle",
            length.value,
            from_mm(around, length.unit),
        )
    return None


def needle_labels(mm: Number | None, us: str = "", uk: str = "") -> Disagreement | None:
    """Do the labels printed for one needle name the same needle?

    Millimetres are the authority: "5 mm (US 6)" does not agree, US 6 is 4 mm. A label or a
    diameter that no chart lists is not judged.
    """
    labels = []
    if us:
        labels.append((f"US {plain_label(us)}", needles_us(us)))
    if uk:
        labels.append((f"old UK {plain_label(uk)}", needles_uk(uk)))
    known = [(shown, found) for shown, found in labels if found]
    if mm is not None:
        size = positive(mm, "the needle size")
        if needle_of(size) is None:
            return None
        for shown, found in known:
            if all(needle.mm != size for needle in found):
                right = needle_of(size)
                assert right is not None
                own = right.us if shown.startswith("US") else right.uk
                name = "US" if shown.startswith("US") else "old UK"
                sizes = " or ".join(f"{show_decimal(needle.mm, 2)} mm" for needle in found)
                hint = f"{shown} is {sizes}"
                if own:
                    hint += f"; {show_decimal(size, 2)} mm is {name} {own[0]}"
                return Disagreement(
                    "needle labels",
                    f"{show_decimal(size, 2)} mm and {shown} are not the same needle",
                    hint,
                    size,
                    found[0].mm,
                )
        return None
    if len(known) == 2 and not {n.mm for n in known[0][1]} & {n.mm for n in known[1][1]}:
        (one, first), (other, second) = known
        return Disagreement(
            "needle labels",
            f"{one} and {other} are not the same needle",
            f"{one} is {show_decimal(first[0].mm, 2)} mm; "
            f"{other} is {show_decimal(second[0].mm, 2)} mm",
            first[0].mm,
            second[0].mm,
        )
    return None


def number_of_values(values: int, sizes: Sequence[str] | int) -> Disagreement | None:
    """A list has one value for every size, or a single value for all.

    `sizes` are the names, or how many there are.
    """
    wanted = sizes if isinstance(sizes, int) else len(sizes)
    if values in (1, wanted):
        return None
    shown = "" if isinstance(sizes, int) or len(sizes) > 12 else f" ({', '.join(sizes)})"
    plural = "" if values == 1 else "s"
    of = "size" if wanted == 1 else "sizes"
    return Disagreement(
        "number of values",
        f"{values} value{plural} given for {wanted} {of}{shown}",
        "give one value for each size, or a single one for all",
        Fraction(values),
        Fraction(wanted),
    )


def gauge_against_yarn(
    gauge: Gauge, weights: Sequence[YarnWeight] | Sequence[int]
) -> Disagreement | None:
    """Is the gauge far from what the yarn named is usually knitted at?

    Only a gauge two weights away or more is named: lace is knitted loosely, socks tightly, and
    the table is a guide only.
    """
    numbers = [one if isinstance(one, int) else one.number for one in weights]
    found = yarn_class(gauge.per_10_cm)
    if not numbers or 0 in numbers:
        return None
    if min(abs(one - other) for one in numbers for other in found.numbers) < 2:
        return None
    return Disagreement(
        "gauge and yarn",
        f"{show_number(gauge.per_10_cm)} sts to 10 cm is the gauge of {found}",
        "a guide only; lace and felting are knitted looser",
        Fraction(numbers[0]),
        Fraction(found.numbers[0]),
    )
