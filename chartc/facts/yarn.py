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
_YARN_UNIT = (
    rf"(?P<ball>(?:{_BALLS})\b)|(?P<g>g\b|gm?s?\b|grams?\b|grammes?\b)|(?P<oz>oz\b\.?|ounces?\b)"
    r"|(?P<yd>yds?\b\.?|yards?\b)|(?P<m>m\b|mtrs?\b|met(?:re|er)s?\b)"
)
_YARN_LIST = shape_of(
    rf"(?P<list>{_COUNT}(?:\s*[(\[,:;]\s*{_COUNT}(?![a-z])|\s*[)\]])*)\s*-?\s*(?:{_YARN_UNIT})"
)
_YARN_BARE = shape_of(rf"(?P<list>{_COUNT}(?:\s*[(\[,:;]\s*{_COUNT}|\s*[)\]])*)\s*[.,]?\s*$")
_BALL_WORD = shape_of(rf"\s*(?:{_BALLS}|put-?up)\b")
_LIST_BEFORE = shape_of(rf"({_COUNT}(?:\s*[(\[,:;]\s*{_COUNT}|\s*[)\]])*)\s*x?\s*$")
_X_BEFORE = shape_of(rf"({_COUNT}(?:\s*[(\[,:;]\s*{_COUNT}|\s*[)\]])*)\s*x\s*$")


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
    lists = list(_YARN_LIST.finditer(part))
    put_up: list[Amount] = []
    amounts: list[Amount] = []
    units = [_yarn_unit(found) for found in lists]
    for at, found in enumerate(lists):
        unit = units[at]
        values = tuple(read_number(v) for v in _each_count(found["list"]))
        span = Span(start + found.start(), start + found.end())
        amount = Amount(values, unit, span)
        times = None
        if unit in ("g", "oz"):
            balls = _BALL_WORD.match(part, found.end())
            near = max(0, found.start() - 80)
            times = (_LIST_BEFORE if balls else _X_BEFORE).search(part, near, found.start())
        if times is not None:
            counted = tuple(read_number(v) for v in _each_count(times[1]))
            amounts.append(
                Amount(counted, "ball", Span(start + times.start(1), start + times.end(1)))
            )
            put_up.append(amount)
        elif unit == "ball" or len(values) > 1:
            amounts.append(amount)
        elif _is_put_up(part, lists, units, at):
            put_up.append(amount)
        else:
            amounts.append(amount)
    bare = _YARN_BARE.search(part)
    if bare is not None and put_up and not amounts and bare.start() >= lists[-1].end():
        values = tuple(read_number(v) for v in _each_count(bare["list"]))
        span = Span(start + bare.start("list"), start + bare.end("list"))
        amounts.append(Amount(values, "ball", span))
    if not (weight or put_up or amounts):
        return None
    spans = [one.span for one in (*put_up, *amounts)]
    if where is not None:
        spans.append(Span(start + where.start, start + where.end))
    whole = whole_brackets(plain, min(s.start for s in spans), max(s.end for s in spans))
    name = part[where.start : where.end] if where is not None else ""
    return YarnFact(whole, name, yarn_names().get(weight, ()), tuple(put_up), tuple(amounts))


def _each_count(text: str) -> list[str]:
    return re.findall(_COUNT, text, re.IGNORECASE)


def _yarn_unit(found: re.Match[str]) -> str:
    return next(name for name in ("ball", "g", "oz", "yd", "m") if found[name])


_SIDE_BY_SIDE = shape_of(
    r"(?:[\s=/,()\[\]]|per\b|to\b|in\b|each\b|approx\b\.?|about\b|or\b|ca\b\.?|an?\b)*"
)


def _is_put_up(part: str, lists: list[re.Match[str]], units: list[str], at: int) -> bool:
    """A single weight or length is the put-up when "balls" follow it, when "per" stands
    before it, or when a weight and a length stand side by side."""
    found = lists[at]
    if _BALL_WORD.match(part, found.end()) or re.search(
        r"\b(?:per|each)\s*$", part[max(0, found.start() - 12) : found.start()], re.I
    ):
        return True
    if re.match(
        r"\s*(?:per|each|/)\s*(?:ball|skein|hank)", part[found.end() : found.end() + 24], re.I
    ):
        return True
    weights = {"g", "oz"}
    chain = {at}
    for step in (-1, 1):
        one = at
        # a put-up is two or three measures side by side; no need to look further
        while 0 <= one + step < len(lists) and abs(one - at) < 4 and units[one + step] != "ball":
            left, right = sorted((one, one + step))
            between = part[lists[left].end() : lists[right].start()]
            if not _SIDE_BY_SIDE.fullmatch(between):
                break
            one += step
            chain.add(one)
    kinds = {units[one] for one in chain if not re.search(r"[(\[,]", lists[one]["list"])}
    return bool(kinds & weights) and bool(kinds - weights)


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
