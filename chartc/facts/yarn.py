"""The yarns of a materials line: weight, put-up and amounts."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from chartc.facts.words import WORDS, plain_lines, shape_of, whole_brackets
from chartc.handbook import yarn_names
from chartc.measures import GRAMS_PER_OUNCE, METRES_PER_YARD, NUMBER, read_number
from chartc.source import Span


@dataclass(frozen=True, slots=True)
class Amount:
    """So much yarn, one value per size (or one for all). unit: "ball", "g", "m", "yd", "oz"."""

    values: tuple[Fraction, ...]
    unit: str
    span: Span


@dataclass(frozen=True, slots=True)
class YarnFact:
    """A yarn of a materials line.

    weight      the trade name of its weight as printed ("DK"), or ""
    categories  the numbers of the yarn weight system it may be
    put_up      what one ball (or the weight named) is: grams, ounces, metres, yards
    amounts     how much is needed
    """

    span: Span
    weight: str = ""
    categories: tuple[int, ...] = ()
    put_up: tuple[Amount, ...] = ()
    amounts: tuple[Amount, ...] = ()

    def put_up_in(self, unit: str) -> Fraction | None:
        """The put-up in "g", "m", "yd" or "oz" as printed; None when it is not printed."""
        return next((one.values[0] for one in self.put_up if one.unit == unit), None)

    @property
    def grams(self) -> Fraction | None:
        """Grams of the put-up, from ounces when no grams are printed."""
        printed, ounces = self.put_up_in("g"), self.put_up_in("oz")
        return printed if printed is not None or ounces is None else ounces * GRAMS_PER_OUNCE

    @property
    def metres(self) -> Fraction | None:
        """Metres of the put-up, from yards when no metres are printed."""
        printed, yards = self.put_up_in("m"), self.put_up_in("yd")
        return printed if printed is not None or yards is None else yards * METRES_PER_YARD

    @property
    def balls(self) -> tuple[Fraction, ...]:
        """Balls by size, () when the line does not count balls."""
        return next((one.values for one in self.amounts if one.unit == "ball"), ())


_COUNT = rf"(?:{NUMBER}|\b(?:{WORDS})\b)"
_BALLS = r"balls?|skeins?|hanks?|cones?|cakes?|spools?"
_COUNT_UNIT = shape_of(
    rf"\s*-?\s*(?:(?P<ball>(?:{_BALLS})\b)|(?P<g>g\b|gm?s?\b|grams?\b|grammes?\b)"
    r"|(?P<oz>ozs?\b\.?|ounces?\b)|(?P<yd>yds?\b\.?|yards?\b)"
    r"|(?P<m>m\b|mtrs?\b|met(?:re|er)s?\b))"
)
_COUNTS = shape_of(rf"{_COUNT}(?:\s*[(\[,:;]\s*{_COUNT}(?![a-z])|\s*[)\]])*")
_BALL_WORD = shape_of(rf"\s*(?:{_BALLS}|put-?up)\b")


@dataclass(frozen=True, slots=True)
class _Quantity:
    """Numbers of a list and the unit behind them ("" for none), as offsets into the part."""

    values: tuple[Fraction, ...]
    unit: str
    start: int
    end: int


def parse_yarns(text: str) -> tuple[YarnFact, ...]:
    """Every yarn of a line; several are set apart by a semicolon or a new line."""
    plain = plain_lines(text)
    found: list[YarnFact] = []
    for start, stop in _parts(plain):
        fact = _yarn(plain, start, stop)
        if fact is None:
            continue
        before = found[-1] if found else None
        if before is not None and not before.amounts and not fact.weight:
            found[-1] = replace(
                before,
                span=before.span.join(fact.span),
                put_up=before.put_up + fact.put_up,
                amounts=fact.amounts,
            )
        else:
            found.append(fact)
    return tuple(found)


def parse_yarn(text: str) -> YarnFact | None:
    """The yarn of a value: 'DK, 100 g = 225 m: 3 (3, 4) balls'. None when no weight, put-up
    or amount is given. A line with several yarns gives the first; see parse_yarns."""
    return next(iter(parse_yarns(text)), None)


def _parts(plain: str) -> Iterator[tuple[int, int]]:
    depth, start = 0, 0
    for at, char in enumerate(plain):
        if char in "([":
            depth += 1
        elif char in ")]":
            depth = max(0, depth - 1)
        elif char == "\n" or (char == ";" and depth == 0):
            yield start, at
            start = at + 1
            depth = 0 if char == "\n" else depth
    yield start, len(plain)


def _yarn(plain: str, start: int, stop: int) -> YarnFact | None:
    part = plain[start:stop]
    weight, where = _yarn_weight(part)
    every = _quantities(part)
    lists = [one for one in every if one.unit]
    put_up: list[Amount] = []
    amounts: list[Amount] = []

    def placed(one: _Quantity, unit: str) -> Amount:
        return Amount(one.values, unit, Span(start + one.start, start + one.end))

    for at, found in enumerate(lists):
        counted = _counted_before(part, every, found)
        if counted is not None:
            amounts.append(placed(counted, "ball"))
            put_up.append(placed(found, found.unit))
        elif found.unit == "ball" or len(found.values) > 1 or not _is_put_up(part, lists, at):
            amounts.append(placed(found, found.unit))
        else:
            put_up.append(placed(found, found.unit))
    # "50 g balls: 8 (9, 10)": a list without a unit at the end counts the balls
    last = every[-1] if every else None
    ends_so = last is not None and not last.unit and not part[last.end :].strip(" \t.,")
    if last is not None and ends_so and put_up and not amounts:
        amounts.append(placed(last, "ball"))
    if not (weight or put_up or amounts):
        return None
    spans = [one.span for one in (*put_up, *amounts)]
    if where is not None:
        spans.append(Span(start + where.start, start + where.end))
    whole = whole_brackets(plain, min(s.start for s in spans), max(s.end for s in spans))
    name = part[where.start : where.end] if where is not None else ""
    return YarnFact(whole, name, yarn_names().get(weight, ()), tuple(put_up), tuple(amounts))


def _quantities(part: str) -> list[_Quantity]:
    found = []
    for counts in _COUNTS.finditer(part):
        values = tuple(read_number(one) for one in re.findall(_COUNT, counts[0], re.IGNORECASE))
        unit = _COUNT_UNIT.match(part, counts.end())
        if unit is None:
            found.append(_Quantity(values, "", *counts.span()))
            continue
        name = next(name for name in ("ball", "g", "oz", "yd", "m") if unit[name])
        found.append(_Quantity(values, name, counts.start(), unit.end()))
    return found


def _counted_before(part: str, every: list[_Quantity], found: _Quantity) -> _Quantity | None:
    """'3 x 50 g', '5 (6, 7) 50 g balls': the numbers before the weight count the balls."""
    at = every.index(found)
    if found.unit not in ("g", "oz") or not at or every[at - 1].unit:
        return None
    between = part[every[at - 1].end : found.start].strip().casefold()
    if between == "x" or (not between and _BALL_WORD.match(part, found.end)):
        return every[at - 1]
    return None


_SIDE_BY_SIDE = shape_of(
    r"(?:[\s=/,()\[\]]|per\b|to\b|in\b|each\b|approx\b\.?|about\b|or\b|ca\b\.?|an?\b)*"
)


def _is_put_up(part: str, lists: list[_Quantity], at: int) -> bool:
    """A single weight or length is the put-up when "balls" follow it, when "per" stands
    before it, or when a weight and a length stand side by side."""
    found = lists[at]
    before = part[max(0, found.start - 12) : found.start]
    behind = part[found.end : found.end + 24]
    if _BALL_WORD.match(behind) or re.search(r"\b(?:per|each)\s*$", before, re.I):
        return True
    if re.match(r"\s*(?:per|each|/)\s*(?:ball|skein|hank)", behind, re.I):
        return True
    chain = {at}
    for step in (-1, 1):
        one = at
        # a put-up is two or three measures side by side; no need to look further
        while 0 <= one + step < len(lists) and abs(one - at) < 4:
            left, right = sorted((one, one + step))
            between = part[lists[left].end : lists[right].start]
            if lists[one + step].unit == "ball" or not _SIDE_BY_SIDE.fullmatch(between):
                break
            one += step
            chain.add(one)
    units = {lists[one].unit for one in chain if len(lists[one].values) == 1}
    weights = {"g", "oz"}
    return bool(units & weights) and bool(units - weights)


def _yarn_weight(part: str) -> tuple[str, Span | None]:
    """The trade name of a weight in the text, the longest first; "" when there is none."""
    best: tuple[str, Span | None] = ("", None)
    for name in sorted(yarn_names(), key=lambda one: (-len(one), one)):
        shape = re.escape(name).replace(r"\ ", r"[\s\-]*")
        # "fine", "light", "sock", "baby", "craft" are weights only before "weight" or "yarn"
        weak = name in ("fine", "light", "medium", "sock", "baby", "craft", "rug", "afghan")
        tail = r"(?=[\s\-]*(?:weight|yarn|wool)\b|\s*[,(]|\s*$)" if weak else r"(?![a-z])"
        found = re.search(rf"(?<![a-z0-9]){shape}{tail}", part, re.I)
        if found is not None:
            return name, Span(*found.span())
    return best
