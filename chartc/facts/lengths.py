"""Measures by size and unit, with the pairs of centimetres and inches to compare."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from chartc.facts.words import LONGEST, UNIT, Measure, plain_text, shape_of, unit_of
from chartc.measures import NUMBER, LengthUnit, read_number, to_mm
from chartc.source import Span


@dataclass(frozen=True, slots=True)
class LengthValue:
    """One measure of a list: `value` (and `to`, the upper end of a range) in the list's unit."""

    value: Fraction
    span: Span
    to: Fraction | None = None


@dataclass(frozen=True, slots=True)
class LengthList:
    """The values of one measure in one unit, one for each size (or one for all).

    unit    "cm", "in", "mm", or "" when none is printed
    label   the words beside it ("length"), or ""
    axis    0, or which side of a "30 x 40 cm" it is
    """

    unit: str
    values: tuple[LengthValue, ...]
    label: str
    axis: int
    span: Span

    def mm(self, size: int) -> Fraction | None:
        """The length in millimetres for a size (0-based); None without a unit or a value. A
        single value is for all sizes."""
        if self.unit not in ("cm", "in", "mm", "m", "yd"):
            return None
        if len(self.values) == 1:
            size = 0
        if size >= len(self.values):
            return None
        unit: LengthUnit = self.unit  # type: ignore[assignment]
        return to_mm(self.values[size].value, unit)


@dataclass(frozen=True, slots=True)
class LengthPair:
    """One size's measure in centimetres (or mm) and in inches, to be checked against each
    other. `size` is 0-based."""

    size: int
    label: str
    metric: Measure
    inches: Measure


@dataclass(frozen=True, slots=True)
class LengthsFact:
    """The measures of a value. `to_fit`: they are of the body, not of the garment."""

    lists: tuple[LengthList, ...]
    span: Span
    to_fit: bool = False

    def in_unit(self, unit: str) -> LengthList | None:
        """The first list in that unit."""
        return next((one for one in self.lists if one.unit == unit), None)

    def pairs(self) -> tuple[LengthPair, ...]:
        """Every measure printed both in metric and in inches, size by size."""
        found = []
        for metric in self.lists:
            if metric.unit not in ("cm", "mm"):
                continue
            for inches in self.lists:
                alike = (inches.label, inches.axis) == (metric.label, metric.axis)
                if inches.unit != "in" or not alike:
                    continue
                for size, (one, other) in enumerate(
                    zip(metric.values, inches.values, strict=False)
                ):
                    unit: LengthUnit = "cm" if metric.unit == "cm" else "mm"
                    found.append(
                        LengthPair(
                            size,
                            metric.label,
                            Measure(one.value, unit, one.span),
                            Measure(other.value, "in", other.span),
                        )
                    )
        return tuple(found)


_LENGTH_TOKEN = shape_of(
    rf"(?P<number>{NUMBER})|(?P<unit>{UNIT})|(?P<open>[(\[{{])|(?P<close>[)\]}}])"
    r"|(?P<times>(?<![a-z])x(?![a-z])|\bby\b)|(?P<dash>-|\bto\b(?=\s*\.?\d))|(?P<slash>/)"
    r"|(?P<comma>[,;:|\t])|(?P<word>[a-z][a-z'\-]*\.?)"
)
# Words that say nothing about which measure it is.
_NOISE_WORDS = (
    "fit fits approx approximately about ca circa c and or to of is a the at with each all sizes "
    "size measures measure measured measuring finished total actual respectively"
)
_NOISE = frozenset(_NOISE_WORDS.split())
_BEHIND_WORDS = (
    "wingspan wide width long length deep depth high height tall around circumference across "
    "diameter round square"
)
_BEHIND = frozenset(_BEHIND_WORDS.split())


@dataclass
class _List:
    label: str
    axis: int
    unit: str
    values: list[LengthValue]


def parse_lengths(text: str) -> LengthsFact | None:
    """Measures per size and unit: 'Finished bust: 84 (90, 96) cm / 33 (35½, 37¾) in',
    '33" (35½", 37¾")', '30 cm (12 in)', '150 x 40 cm'. None when there is no number."""
    plain = plain_text(text[:LONGEST])
    groups: list[_List] = []
    pending: list[tuple[LengthValue, int]] = []
    label: list[str] = []
    named, axis, fresh = "", 0, True
    seen_number = False
    dash_after: int | None = None
    parted = False  # a comma or full stop since the last measure

    def group(unit: str, which: int) -> _List:
        for one in groups:
            if (one.label, one.axis, one.unit) == (named, which, unit):
                return one
        groups.append(_List(named, which, unit, []))
        return groups[-1]

    def settle(unit: str) -> None:
        for value, which in pending:
            group(unit, which).values.append(value)
        pending.clear()

    for token in _LENGTH_TOKEN.finditer(plain):
        kind = token.lastgroup if token.lastgroup not in ("cm", "mm", "inch") else "unit"
        if kind == "number":
            if label and (fresh or seen_number):
                if seen_number:
                    settle("")
                named, axis = " ".join(label), 0
            label, fresh = [], False
            value = LengthValue(read_number(token[0]), Span(*token.span()))
            if dash_after is not None and pending and pending[-1][0].to is None:
                low, which = pending[-1]
                pending[-1] = (
                    LengthValue(low.value, Span(low.span.start, value.span.end), value.value),
                    which,
                )
            else:
                pending.append((value, axis))
            dash_after, seen_number, parted = None, True, False
        elif kind == "unit" and pending:
            settle(unit_of(token))
        elif kind == "times" and seen_number:
            axis += 1
        elif kind == "dash" and pending:
            dash_after = token.end()
        elif kind == "slash":
            axis = 0
        elif kind == "comma":
            parted = True
        elif kind in ("word", "unit"):
            word = token[0].casefold().rstrip(".")
            if word in _BEHIND and seen_number and not label and not parted:
                settle("")
                _name_behind(groups, named, word)
                named = ""
                axis = 0
                label = []
                fresh = True
            elif word not in _NOISE and kind == "word":
                label.append(word)
    settle("")
    if not groups:
        return None
    lists = tuple(
        LengthList(
            one.unit,
            tuple(one.values),
            one.label,
            one.axis,
            Span(one.values[0].span.start, one.values[-1].span.end),
        )
        for one in groups
    )
    lists = _join_unitless(lists)
    span = Span(min(o.span.start for o in lists), max(o.span.end for o in lists))
    return LengthsFact(lists, span, shape_of(r"\bto\s+fit\b").search(plain) is not None)


def _name_behind(groups: list[_List], named: str, word: str) -> None:
    """'84 cm wide': the word behind the measure is its label when it has none."""
    if named:
        return
    for one in groups:
        if not one.label:
            one.label = word


def _join_unitless(lists: tuple[LengthList, ...]) -> tuple[LengthList, ...]:
    """Values without a unit that follow a list of the same measure are more of that list."""
    done: list[LengthList] = []
    for one in lists:
        before = done[-1] if done else None
        if (
            before is not None
            and one.unit == ""
            and before.unit
            and (one.label, one.axis) == (before.label, before.axis)
            and len(done) == 1
        ):
            done[-1] = replace(
                before, values=before.values + one.values, span=before.span.join(one.span)
            )
            continue
        done.append(one)
    return tuple(done)
