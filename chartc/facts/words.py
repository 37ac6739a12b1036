"""What all fact lines share: plain characters, units, a length as printed."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from chartc.measures import NUMBER_WORDS, LengthUnit, show_decimal, show_number, to_mm
from chartc.source import Source, Span

# No fact line is longer; past this it is prose or not a pattern at all.
LONGEST = 4_000

PRIMES = str.maketrans({"″": '"', "′": "'", "⁄": "/", "²": " ", "＂": '"'})


def plain_text(text: str) -> str:
    """The text character for character with plain quotes, dashes and spaces."""
    return Source("", text).plain.translate(PRIMES).replace("\u2014", "-").replace("\n", " ")


# "8 in" is inches, "8 sts in garter" is not: the short form counts only after a number or a
# closing bracket, which every use of this below sees to.
UNIT = (
    r"(?:(?P<cm>cms?\b\.?|centim(?:et(?:er|re)s?)\b)|(?P<mm>mm\b|millimet(?:er|re)s?\b)"
    r"|(?P<inch>in(?:ch(?:es)?|s)?\b\.?|\"|''))"
)
WORDS = "|".join(sorted(NUMBER_WORDS, key=len, reverse=True))


def shape_of(pattern: str) -> re.Pattern[str]:
    return re.compile(pattern, re.IGNORECASE)


def unit_of(found: re.Match[str]) -> LengthUnit:
    if found["cm"]:
        return "cm"
    return "mm" if found["mm"] else "in"


def whole_brackets(plain: str, start: int, end: int) -> Span:
    """The passage with the bracket that closes right behind it, when it opened inside."""
    while end < len(plain) and plain[end] in ")]":
        opener = "(" if plain[end] == ")" else "["
        inside = plain[start:end]
        if inside.count(opener) <= inside.count(plain[end]):
            break
        end += 1
    return Span(start, end)


@dataclass(frozen=True, slots=True)
class Measure:
    """A length as printed: `value` in `unit`, and where it stands."""

    value: Fraction
    unit: LengthUnit
    span: Span

    @property
    def mm(self) -> Fraction:
        """The length in millimetres, exactly."""
        return to_mm(self.value, self.unit)

    def __str__(self) -> str:
        if self.unit == "in":
            return f"{show_number(self.value)} in"
        return f"{show_decimal(self.value, 2)} {self.unit}"


def plain_lines(text: str) -> str:
    return Source("", text[:LONGEST]).plain.translate(PRIMES).replace("\u2014", "-")
