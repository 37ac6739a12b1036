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
    item    which measure of the line it is, from 0; the same in another unit has the same item
    to_fit  the measure is of the body ("to fit a head of 54 cm")
    """

    unit: str
    values: tuple[LengthValue, ...]
    label: str
    axis: int
    span: Span
    item: int = 0
    to_fit: bool = False

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
    """The measures of a value. `to_fit`: the first is of the body, not of the garment."""

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
                alike = (inches.item, inches.axis) == (metric.item, metric.axis)
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
    "approx approximately about ca circa c and or to is each all sizes size garment measures "
    "measure measured measuring measurement measurements finished total actual respectively"
)
_NOISE = frozenset(_NOISE_WORDS.split())
# Words that end a list all the same: "84 (90) cm, with 6 cm of ease" is two measures.
_BREAKS = frozenset(("with", "of", "for", "at", "a", "the", "plus", "including", "without"))
# Words that name the measure they stand behind.
_BEHIND_WORDS = (
    "wingspan wide width long length deep depth high height tall around circumference across "
    "diameter round square bust chest head waist hip hips foot"
)
_BEHIND = frozenset(_BEHIND_WORDS.split())


@dataclass
class _List:
    label: str
    axis: int
    unit: str
    item: int
    to_fit: bool
    values: list[LengthValue]
    complete: bool = False  # its unit stood once, behind several values


class _Gathering:
    """Puts the measures of a line together, left to right."""

    def __init__(self) -> None:
        self.lists: list[_List] = []
        self.pending: list[tuple[LengthValue, int]] = []
        self.words: list[str] = []  # since the last measure
        self.broken = False  # the next number begins another measure
        self.label, self.axis, self.item, self.to_fit = "", 0, 0, False
        self.fit_next = False
        self.dashed = False
        self.parted = False  # a comma or full stop since the last measure
        self.started = False

    def number(self, value: LengthValue) -> None:
        if self.dashed and self.pending and self.pending[-1][0].to is None and not self.words:
            low, axis = self.pending[-1]
            span = low.span.join(value.span)
            self.pending[-1] = (LengthValue(low.value, span, value.value), axis)
        else:
            if self.words or self.broken or self.fit_next:
                self.begin()
            self.pending.append((value, self.axis))
        self.dashed = self.parted = False
        self.started = True

    def begin(self) -> None:
        """Another measure, named by the words before it."""
        self.settle("")
        if self.started:
            self.item += 1
            self.axis = 0
        self.label, self.to_fit = " ".join(self.words), self.fit_next
        self.words, self.broken, self.fit_next = [], False, False

    def settle(self, unit: str) -> None:
        several = len(self.pending) > 1
        for value, axis in self.pending:
            self.place(unit, axis).values.append(value)
        if several and unit:
            for one in self.lists:
                one.complete = one.complete or (one.item == self.item and one.unit == unit)
        self.pending.clear()

    def place(self, unit: str, axis: int) -> _List:
        for one in self.lists:
            if (one.item, one.axis, one.unit) == (self.item, axis, unit):
                if not one.complete:
                    return one
                self.item += 1
                self.label = ""
        self.lists.append(_List(self.label, axis, unit, self.item, self.to_fit, []))
        return self.lists[-1]

    def word(self, word: str) -> None:
        if word in ("fit", "fits"):
            self.fit_next = True
        elif word == "ease" and self.started:
            self.settle("")
            for one in self.lists:
                if one.item == self.item:
                    one.label = "ease"
            self.words, self.broken = [], True
        elif word in _BEHIND and self.started and not self.words and not self.parted:
            self.settle("")
            for one in self.lists:
                one.label = one.label or word
            self.broken = True
        elif word in _BREAKS:
            self.broken = self.broken or self.started
        elif word not in _NOISE:
            self.words.append(word)

    def comma(self) -> None:
        if self.started and self.words and not self.parted and not self.pending:
            # "105 cm across the top, 52 cm deep": the words told of the measure before them
            self.words, self.broken = [], True
        self.parted = True


def parse_lengths(text: str) -> LengthsFact | None:
    """Measures per size and unit: 'Finished bust: 84 (90, 96) cm / 33 (35½, 37¾) in',
    '33" (35½", 37¾")', '30 cm (12 in)', '150 x 40 cm'. None when there is no number."""
    plain = plain_text(text[:LONGEST])
    found = _Gathering()
    for token in _LENGTH_TOKEN.finditer(plain):
        kind = token.lastgroup if token.lastgroup not in ("cm", "mm", "inch") else "unit"
        if kind == "number":
            found.number(LengthValue(read_number(token[0]), Span(*token.span())))
        elif kind == "unit" and found.pending:
            found.settle(unit_of(token))
        elif kind == "times" and found.started:
            found.axis += 1
        elif kind == "dash" and found.pending:
            found.dashed = True
        elif kind == "slash":
            found.axis = 0
        elif kind == "comma":
            found.comma()
        elif kind == "word":
            found.word(token[0].casefold().rstrip("."))
            if token[0].endswith("."):
                found.comma()
    found.settle("")
    if not found.lists:
        return None
    lists = _join_unitless(
        tuple(
            LengthList(
                one.unit,
                tuple(one.values),
                one.label,
                one.axis,
                Span(one.values[0].span.start, one.values[-1].span.end),
                one.item,
                one.to_fit,
            )
            for one in found.lists
        )
    )
    span = Span(min(o.span.start for o in lists), max(o.span.end for o in lists))
    return LengthsFact(lists, span, lists[0].to_fit)


def _join_unitless(lists: tuple[LengthList, ...]) -> tuple[LengthList, ...]:
    """Values without a unit that follow a list of the same measure are more of that list."""
    done: list[LengthList] = []
    for one in lists:
        before = done[-1] if done else None
        if (
            before is not None
            and one.unit == ""
            and before.unit
            and (one.item, one.axis) == (before.item, before.axis)
            and len(done) == 1
        ):
            done[-1] = replace(
                before, values=before.values + one.values, span=before.span.join(one.span)
            )
            continue
        done.append(one)
    return tuple(done)
