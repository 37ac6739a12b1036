"""Numbers as knitting prints them, and lengths without rounding.

A number is a `Fraction` from the moment it is read until it is printed, so that 37¾ in is
37¾ in and a gauge of 5.5 stitches to the inch loses nothing on the way. Lengths are
millimetres inside chartc; centimetres and inches belong to the printed page.
"""

from __future__ import annotations

import math
import re
from decimal import Decimal
from fractions import Fraction
from typing import Literal

Number = int | Fraction | float | Decimal | str
LengthUnit = Literal["mm", "cm", "in", "m", "yd"]

# By definition since the international yard agreement of 1959: 1 in = 25.4 mm, 1 yd = 0.9144 m.
MM_PER_INCH = Fraction(127, 5)
METRES_PER_YARD = Fraction(1143, 1250)
# International avoirdupois ounce, by definition.
GRAMS_PER_OUNCE = Fraction(45359237, 1600000)

_MM_PER: dict[str, Fraction] = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "in": MM_PER_INCH,
    "m": Fraction(1000),
    "yd": METRES_PER_YARD * 1000,
}

VULGAR: dict[str, Fraction] = {
    "½": Fraction(1, 2), "⅓": Fraction(1, 3), "⅔": Fraction(2, 3), "¼": Fraction(1, 4),
    "¾": Fraction(3, 4), "⅕": Fraction(1, 5), "⅖": Fraction(2, 5), "⅗": Fraction(3, 5),
    "⅘": Fraction(4, 5), "⅙": Fraction(1, 6), "⅚": Fraction(5, 6), "⅛": Fraction(1, 8),
    "⅜": Fraction(3, 8), "⅝": Fraction(5, 8), "⅞": Fraction(7, 8),
}  # fmt: skip
_SIGN = {value: sign for sign, value in VULGAR.items()}
_SIGNS = "".join(VULGAR)

# "17", "17.5", "17½", "17 ½", "17 1/2", "17-1/2", "½", "1/2", ".5". Never more than nine
# digits: a longer run is no count and no measure. Only the fractions found on a ruler, so
# that "22/30" stays two numbers.
_SLASHED = r"(?:1/2|[12]/3|[13]/4|[1357]/8|[1-9]/16|1[135]/16)(?![0-9/])"
NUMBER = (
    rf"(?<![0-9.])(?:[0-9]{{1,9}}(?![0-9])(?:\.[0-9]{{1,6}}(?![0-9])|[ \-]?[{_SIGNS}]"
    rf"|[ \-]{_SLASHED})?|[{_SIGNS}]|\.[0-9]{{1,6}}(?![0-9]))"
)
_FRACTION_ALONE = rf"(?<![0-9./]){_SLASHED}"
NUMBER = rf"(?:{_FRACTION_ALONE}|{NUMBER})"

_WORDS = (
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen "
    "fifteen sixteen seventeen eighteen nineteen twenty"
)
NUMBER_WORDS: dict[str, int] = {word: value for value, word in enumerate(_WORDS.split())}

_READ = re.compile(
    rf"\s*(?P<whole>[0-9]{{0,9}}(?:\.[0-9]{{1,6}})?)[ \-]?"
    rf"(?:(?P<sign>[{_SIGNS}])|(?P<top>[0-9]{{1,2}})/(?P<bottom>[0-9]{{1,2}}))?\s*"
)


def read_number(text: str) -> Fraction:
    """The value of one printed number: "17½", "17 1/2", "17.5", "three".

    Exact. Raises ValueError when the text is not one number.
    """
    spelled = NUMBER_WORDS.get(text.strip().casefold())
    if spelled is not None:
        return Fraction(spelled)
    alone = re.fullmatch(r"\s*([0-9]{1,2})/([0-9]{1,2})\s*", text)
    if alone is not None and int(alone[2]):
        return Fraction(int(alone[1]), int(alone[2]))
    found = _READ.fullmatch(text.replace("⁄", "/"))
    if found is None or not (found["whole"] or found["sign"]):
        raise ValueError(f"not a number: {text!r}")
    value = Fraction(found["whole"]) if found["whole"] else Fraction(0)
    if found["sign"]:
        value += VULGAR[found["sign"]]
    elif found["top"]:
        if not int(found["bottom"]):
            raise ValueError(f"not a number: {text!r}")
        value += Fraction(int(found["top"]), int(found["bottom"]))
    return value


def exact(value: Number) -> Fraction:
    """Any number as a fraction. A float counts as the decimal it prints as (0.1 is 1/10).

    Raises ValueError for a text that is no number, and for infinities.
    """
    if isinstance(value, Fraction):
        return value
    if isinstance(value, str):
        return read_number(value)
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ValueError("not a number one can measure")
        return Fraction(repr(value))
    if isinstance(value, Decimal) and not value.is_finite():
        raise ValueError("not a number one can measure")
    return Fraction(value)


def to_mm(value: Number, unit: LengthUnit) -> Fraction:
    """A length in `unit` (mm, cm, in, m, yd) as millimetres, exactly."""
    return exact(value) * _MM_PER[unit]


def from_mm(mm: Number, unit: LengthUnit) -> Fraction:
    """Millimetres as a number of `unit` (mm, cm, in, m, yd), exactly."""
    return exact(mm) / _MM_PER[unit]


def round_to(value: Number, step: Number = 1) -> Fraction:
    """The nearest whole multiple of `step`; a half goes up. `step` is greater than 0."""
    size = exact(step)
    return math.floor(exact(value) / size + Fraction(1, 2)) * size


def show_number(value: Number, places: int = 2) -> str:
    """A number as knitting prints it: 37¾, 12, 5½; otherwise decimals, at most `places`."""
    amount = exact(value)
    sign, amount = ("-", -amount) if amount < 0 else ("", amount)
    whole = math.floor(amount)
    rest = amount - whole
    if not rest:
        return f"{sign}{whole}"
    if rest in _SIGN and rest.denominator in (2, 3, 4, 8):
        return f"{sign}{whole or ''}{_SIGN[rest]}"
    return sign + show_decimal(amount, places)


def show_decimal(value: Number, places: int = 1) -> str:
    """A number with at most `places` decimals, none that say nothing: 84.5, 84."""
    amount = round_to(value, Fraction(1, 10**places))
    sign, amount = ("-", -amount) if amount < 0 else ("", amount)
    whole = math.floor(amount)
    digits = f"{int((amount - whole) * 10**places):0{places}d}".rstrip("0") if places else ""
    return f"{sign}{whole}.{digits}" if digits else f"{sign}{whole}"


def show_cm(mm: Number) -> str:
    """A length in millimetres, printed to the nearest half centimetre: "84.5 cm"."""
    return f"{show_decimal(round_to(from_mm(mm, 'cm'), Fraction(1, 2)))} cm"


def show_in(mm: Number) -> str:
    """A length in millimetres, printed to the nearest quarter inch: "33¼ in"."""
    return f"{show_number(round_to(from_mm(mm, 'in'), Fraction(1, 4)))} in"


def show_length(mm: Number) -> str:
    """Both at once: "84.5 cm (33¼ in)"."""
    return f"{show_cm(mm)} ({show_in(mm)})"
