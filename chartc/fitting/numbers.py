"""Which stitch counts work, and the nearest one to a wish.

The counting stage proves the exact set of cast-on numbers for which a text comes out; here
that set is only asked: progressions (multiple, plus, least) and single numbers beside them.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor
from typing import Literal

from chartc.measures import Number, exact

Towards = Literal["nearest", "above", "below"]

# Beyond these nobody knits; they keep a slip of the pen from becoming a long wait.
MOST_STITCHES = 100_000
MOST_ROWS = 100_000
MOST_SIZES = 200
MOST_MM = Fraction(100_000)  # 100 m


class FittingProblem(ValueError):
    """The numbers asked for cannot be worked; the message is in plain words, lower case."""


def positive(value: Number, what: str, most: Number | None = None) -> Fraction:
    """`value` as an exact number above 0 (and not above `most`). Raises FittingProblem."""
    amount = number(value, what)
    if amount <= 0:
        raise FittingProblem(f"{what} must be more than 0")
    if most is not None and amount > exact(most):
        raise FittingProblem(f"{what} is too large to knit; check the number")
    return amount


def number(value: Number, what: str) -> Fraction:
    """`value` as an exact number. Raises FittingProblem, naming `what`, when it is none."""
    try:
        return exact(value)
    except (ValueError, ZeroDivisionError, OverflowError):
        shown = str(value)
        shown = shown if len(shown) <= 30 else shown[:27] + "..."
        raise FittingProblem(f"{what} must be a number; it is given as {shown}") from None


def whole(value: Number, what: str, *, least: int = 1, most: int = MOST_STITCHES) -> int:
    """`value` as a whole number from `least` to `most`. Raises FittingProblem."""
    amount = number(value, what)
    if amount.denominator != 1:
        raise FittingProblem(f"{what} must be a whole number")
    if amount < least:
        raise FittingProblem(f"{what} must be at least {least}")
    if amount > most:
        raise FittingProblem(f"{what} is too large to knit; the most taken is {most}")
    return int(amount)


def nearest_whole(value: Fraction) -> int:
    """The nearest whole number; a half goes up."""
    return floor(value + Fraction(1, 2))


@dataclass(frozen=True, slots=True)
class Progression:
    """The numbers first, first + step, first + 2 step ...; up to `last` when it is given."""

    first: int
    step: int
    last: int | None = None

    def __contains__(self, count: int) -> bool:
        if count < self.first or (self.last is not None and count > self.last):
            return False
        return (count - self.first) % self.step == 0

    def below(self, count: Fraction) -> int | None:
        """The largest member that is not above `count`."""
        top = count if self.last is None else min(count, Fraction(self.last))
        if top < self.first:
            return None
        return self.first + floor((top - self.first) / self.step) * self.step

    def above(self, count: Fraction) -> int | None:
        """The smallest member that is not below `count`."""
        steps = max(0, ceil((count - self.first) / self.step))
        found = self.first + steps * self.step
        return found if self.last is None or found <= self.last else None

    def __str__(self) -> str:
        if self.last is not None:
            return f"every {self.step} sts from {self.first} to {self.last}"
        rest = self.first % self.step
        plus = f" plus {rest}" if rest else ""
        if self.step == 1:
            return f"any number from {self.first}"
        return f"every multiple of {self.step}{plus} from {self.first}"


@dataclass(frozen=True, slots=True)
class Working:
    """An exact set of stitch counts that work: progressions, and single numbers beside them."""

    progressions: tuple[Progression, ...] = ()
    singles: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        for part in self.progressions:
            if part.step < 1 or part.first < 0:
                raise FittingProblem("a multiple must be at least 1 and a count not below 0")

    @classmethod
    def of(
        cls, multiple: int, plus: int = 0, least: int | None = None, extra: tuple[int, ...] = ()
    ) -> Working:
        """Multiples of `multiple` plus `plus`, none below `least`, and the numbers `extra`.

        Without `least` at least one repeat is worked: the first number is multiple + plus.
        """
        step = whole(multiple, "the multiple")
        lowest = whole(plus + multiple if least is None else least, "the smallest count", least=0)
        first = lowest + (plus - lowest) % step
        return cls((Progression(first, step),), tuple(sorted(set(extra))))

    def __contains__(self, count: int) -> bool:
        return count in self.singles or any(count in part for part in self.progressions)

    def below(self, count: Number) -> int | None:
        """The largest count that works and is not above `count`; None when there is none."""
        wish = exact(count)
        found = [part.below(wish) for part in self.progressions]
        found += [single for single in self.singles if single <= wish]
        return max((one for one in found if one is not None), default=None)

    def above(self, count: Number) -> int | None:
        """The smallest count that works and is not below `count`; None when there is none."""
        wish = exact(count)
        found = [part.above(wish) for part in self.progressions]
        found += [single for single in self.singles if single >= wish]
        return min((one for one in found if one is not None), default=None)

    def nearest(self, count: Number) -> int | None:
        """The count that works nearest to `count`; of two as near, the larger."""
        wish = exact(count)
        below, above = self.below(wish), self.above(wish)
        if below is None or above is None:
            return above if below is None else below
        return below if wish - below < above - wish else above

    def towards(self, count: Number, way: Towards) -> int:
        """The count that works nearest to, not below, or not above `count`.

        Raises FittingProblem when no count that way works.
        """
        found = {"nearest": self.nearest, "above": self.above, "below": self.below}[way](count)
        if found is not None and found < 1 and way != "below":
            found = self.above(1)  # nothing is cast on with no stitch at all
        if found is None or found < 1:
            other = self.above(max(exact(count), Fraction(1)))
            hint = f"; the nearest that does is {other}" if other is not None else ""
            side = {"nearest": "", "above": " from there up", "below": " from there down"}[way]
            raise FittingProblem(
                f"no count near {nearest_whole(exact(count))} sts works{side}{hint}"
            )
        return found

    def __str__(self) -> str:
        """In trade words: "every multiple of 12 from 36, and 8"."""
        parts = [str(part) for part in self.progressions]
        if self.singles:
            parts.append(", ".join(str(single) for single in self.singles))
        return "; ".join(parts) if parts else "no count"


ANY_COUNT = Working((Progression(1, 1),))


def working_number(
    wish: Number,
    multiple: int,
    plus: int = 0,
    least: int | None = None,
    extra: tuple[int, ...] = (),
    way: Towards = "nearest",
) -> int:
    """The count that works nearest to `wish` stitches (or not below / not above it).

    The counts that work are the multiples of `multiple` plus `plus` from `least` up, and the
    numbers in `extra`. Of two as near, the larger. Raises FittingProblem when there is none.
    """
    count = number(wish, "the number of stitches")
    if count > MOST_STITCHES:
        raise FittingProblem(
            f"{floor(count)} sts is more than anyone knits; check the gauge and the measure"
        )
    return Working.of(multiple, plus, least, extra).towards(count, way)
