"""The names of the sizes, in every printed form of list."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction

from chartc.facts.words import LONGEST, plain_text, shape_of
from chartc.measures import NUMBER, read_number
from chartc.source import Span


@dataclass(frozen=True, slots=True)
class SizeName:
    """The name of a size as printed. `low` and `high` are its numbers when it is one or a
    range ("6-12" months), `unit` what they count: cm, in, mm, months, years, or ""."""

    name: str
    span: Span
    low: Fraction | None = None
    high: Fraction | None = None
    unit: str = ""

    @property
    def label(self) -> str:
        """The name with its unit, once."""
        if (
            not self.unit
            or self.low is None
            or not re.fullmatch(r"[\d.\-/ \u00bc-\u215e]+", self.name)
        ):
            return self.name
        return f"{self.name} {self.unit}"


@dataclass(frozen=True, slots=True)
class SizesFact:
    """The sizes of a pattern in printed order, smallest first as a rule.

    to_fit   the names are body measures ("To fit bust 81 (86, 91) cm"); `what` says of what
    also     the same sizes told again in another way (inches beside centimetres)
    """

    sizes: tuple[SizeName, ...]
    span: Span
    to_fit: bool = False
    what: str = ""
    also: tuple[tuple[SizeName, ...], ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(size.name for size in self.sizes)


_ONE_SIZE = shape_of(r"\bone[ -]size\b(?:\s+(?:fits\s+(?:all|most|many)|only))?|^\s*o/?s\s*$")
_SIZES_HEAD = shape_of(
    r"\s*(?:(?:finished|garment|actual|available|in|[0-9]{1,2})\s+)*sizes?(?:\s+available)?\s*[:\-=]?\s*"
)
_FIT_HEAD = shape_of(
    r"\s*(?:sizes?\s*[:\-]?\s*)?(?:to\s+|will\s+)?fits?\b\s*:?\s*(?P<what>(?:(?:a|an|actual|approx\.?"
    r"|approximately|about|of|or|and|/|,|up\s+to|woman's|women's|man's|men's|child's|children's"
    r"|baby's|adult|body|full|under)\b[\s/]*|(?:bust|chest|head|foot|feet|hand|waist|hips?|calf"
    r"|shoe|sock|neck|wrist|arm|ages?|aged|circumference|length|measurements?|measuring|sizes?"
    r"|children|child|baby|babies|ladies|women|men|wearers?)\b\s*/?\s*)*)[:\-]?\s*"
)
# "Sizes S and L only: k2tog": an instruction for some sizes, not their names
_FOR_SOME = shape_of(r"[^:.]{0,80}\bonly\s*:")
_BODY_WORDS = shape_of(
    r"\b(?:bust|chest|head|foot|feet|hand|waist|hips?|calf|shoe|sock|neck|wrist|arm|ages?|aged)\b"
)
# "XS S M L", with nothing but spaces between
_LETTERS_ONLY = shape_of(r"\s*(?:(?:X{0,4}S|M|X{0,4}L|[1-6]X)(?:\s+|\s*$)){2,}")
_TO_FIT = shape_of(r"\bto\s+fit\b" + _FIT_HEAD.pattern.split(r"fits?\b", 1)[1])
_AGE_UNIT = r"(?:months?|mths?|mos?|mnths?|years?|yrs?|yr|weeks?|wks?)"
_SIZE_UNIT = shape_of(
    rf"\s*(?P<unit>cms?\.?|centimet(?:re|er)s?|mm|in(?:ch(?:es)?|s)?\.?|\"|''|{_AGE_UNIT}\.?|m|y)"
    r"(?:\s+(?:old|of\s+age|bust|chest|head|foot|waist|hips?|around|circumference|wide|long))*\s*"
)
_SIZE_NUMBERS = shape_of(rf"(?P<low>{NUMBER})(?:\s*(?:-|to|/)\s*(?P<high>{NUMBER}))?")


def parse_sizes(text: str) -> SizesFact | None:
    """The names of the sizes: 'XS (S, M, L)', 'S (M: L: XL)', '6-12 months (1-2 years)',
    'Small, Medium, Large', 'To fit bust 81 (86, 91) cm', 'one size'. None when there are none.
    """
    plain = plain_text(text[:LONGEST]).rstrip()
    if _FOR_SOME.match(plain):
        return None
    single = _ONE_SIZE.search(plain)
    if single is not None:
        span = Span(*single.span())
        return SizesFact((SizeName(text[span.start : span.end].strip(), span),), span)
    at, to_fit, what = 0, False, ""
    head = _FIT_HEAD.match(plain)
    if head is not None:
        at, to_fit = head.end(), True
        what = " ".join(_BODY_WORDS.findall(head["what"])).casefold()
    else:
        head = _SIZES_HEAD.match(plain)
        if head is not None and head.end() < len(plain):
            at = head.end()
    lists = _size_lists(text, plain, at)
    if not lists:
        return None
    sizes = _with_units(lists[0], what)
    also = tuple(_with_units(more, "") for more in lists[1:])
    span = Span(min(s.span.start for s in sizes), max(s.span.end for s in sizes))
    return SizesFact(sizes, span, to_fit, what, also)


def _size_lists(text: str, plain: str, at: int) -> list[list[SizeName]]:
    own = _own_measures(text, plain, at)
    if own:
        return own
    if _LETTERS_ONLY.fullmatch(plain, at):
        spans = (Span(at + one.start(), at + one.end()) for one in re.finditer(r"\S+", plain[at:]))
        return [[SizeName(text[span.start : span.end], span) for span in spans]]
    body = plain[at:]
    listed = bool(re.search(r"[(\[,;|\t]", body))
    # "S - M - L" and "S / M / L", when nothing else sets the names apart
    spaced_out = ""
    if not listed:
        spaced_out = next((one for one in "-/" if re.search(rf"\s{one}\s", body)), "")
    lists: list[list[SizeName]] = [[]]
    depth, start, ended = 0, at, False
    position = at

    def close(stop: int) -> None:
        nonlocal ended
        name = _size_name(text, plain, start, stop)
        if name is not None:
            lists[-1].append(name)
            ended = False

    def again(where: int) -> None:
        nonlocal ended
        if lists[-1]:
            lists.append([])
        ended = False

    while position < len(plain):
        char = plain[position]
        step = 1
        if char in "([{":
            close(position)
            if re.match(r".\s*(?:to\s+fit|fits|bust|chest|see)\b", plain[position:], re.I):
                position = _closing(plain, position) + 1
                start = position
                continue
            if ended and depth == 0 and len(lists[-1]) > 1:
                again(position)
            depth += 1
        elif char in ")]}":
            close(position)
            depth = max(0, depth - 1)
            unit = _SIZE_UNIT.match(plain, position + 1)
            if unit is not None and _unit_name(unit["unit"]) and _at_a_stop(plain, unit.end()):
                if lists[-1]:
                    lists[-1][-1] = replace(lists[-1][-1], unit=_unit_name(unit["unit"]))
                step = unit.end() - position
                ended = True
        elif char in ",;|\t" or (char == ":" and (depth > 0 or _between_names(plain, position))):
            close(position)
        elif (
            char == "/" and depth == 0 and len(lists[-1]) > 1 and not plain[start:position].strip()
        ):
            again(position)
        elif char == spaced_out and _spaced(plain, position):
            close(position)
        elif (
            char in "tT"
            and depth == 0
            and (lists[-1] or plain[start:position].strip())
            and (head := _TO_FIT.match(plain, position))
        ):
            close(position)
            again(position)
            step = head.end() - position
        elif char in "aAoO&" and _joining(plain, position):
            close(position)
            step = len(_joining(plain, position))
        else:
            position += 1
            continue
        position += step
        start = position
    close(len(plain))
    return [one for one in lists if one]


def _own_measures(text: str, plain: str, at: int) -> list[list[SizeName]]:
    """'Small (32-34 in), Medium (36-38 in)': each size with its own measure in brackets."""
    names: list[SizeName] = []
    found = re.compile(r"\s*([^()\[\],;]{1,60}?)\s*[(\[]([^()\[\]]{1,80})[)\]]\s*(?:[,;.]|and\b|$)")
    position = at
    while position < len(plain):
        piece = found.match(plain, position)
        if piece is None:
            return []
        inside = piece[2]
        if "," in inside or not re.search(
            rf"\d\s*(?:cm|in\b|inch|\"|mm|{_AGE_UNIT}\b)|to fit", inside, re.I
        ):
            return []
        name = _size_name(text, plain, piece.start(1), piece.end(1))
        if name is None:
            return []
        names.append(name)
        position = piece.end()
    return [names] if len(names) > 1 else []


def _closing(plain: str, position: int) -> int:
    """Where the bracket opened at `position` closes (the end of the text if it does not)."""
    depth = 0
    for at in range(position, len(plain)):
        if plain[at] in "([{":
            depth += 1
        elif plain[at] in ")]}":
            depth -= 1
            if depth == 0:
                return at
    return len(plain)


def _at_a_stop(plain: str, position: int) -> bool:
    return position >= len(plain) or not plain[position].isalnum()


def _spaced(plain: str, position: int) -> bool:
    return plain[position - 1 : position].isspace() and plain[position + 1 : position + 2].isspace()


def _between_names(plain: str, position: int) -> bool:
    """A colon between two short names outside brackets: "S: M: L"."""
    return bool(re.match(r":\s*[A-Za-z0-9]{1,4}\s*(?::|$|\))", plain[position:]))


_JOINING = shape_of(r"(?:and|or|&)(?=\s)")


def _joining(plain: str, position: int) -> str:
    if position and not plain[position - 1].isspace() and plain[position - 1] not in ",)":
        return ""
    found = _JOINING.match(plain, position)
    return found[0] if found else ""


def _unit_name(word: str) -> str:
    lowered = word.casefold().rstrip(".")
    if lowered.startswith("c"):
        return "cm"
    if lowered == "mm":
        return "mm"
    if lowered.startswith("in") or lowered in ('"', "''"):
        return "in"
    if lowered.startswith("w"):
        return "weeks"
    if lowered.startswith("y"):
        return "years"
    return "months" if lowered.startswith("m") else ""


_NO_NAME = shape_of(
    r"see\b|as\s+(?:given|follows)|n/?a$|tbc$|various$"
    r"|.*\b(?:shown|sample|model(?:led)?|instructions|ease|worn|wears)\b"
)


def _size_name(text: str, plain: str, start: int, stop: int) -> SizeName | None:
    while start < stop and plain[start] in " \t.:-=":
        start += 1
    while stop > start and plain[stop - 1] in " \t.:-=":
        stop -= 1
    if (
        start >= stop
        or _NO_NAME.match(plain, start, stop)
        or not re.search(r"\w", plain[start:stop])
    ):
        return None
    if stop - start > 60:
        return None
    span = Span(start, stop)
    numbers = _SIZE_NUMBERS.search(plain, start, stop)
    aged = re.match(r"(?:ages?|aged)\s+", plain[start:stop], re.I)
    if numbers is None or (numbers.start() != start and aged is None):
        return SizeName(text[start:stop], span)
    low = read_number(numbers["low"])
    high = read_number(numbers["high"]) if numbers["high"] else low
    unit = _SIZE_UNIT.match(plain, numbers.end(), stop)
    name = _unit_name(unit["unit"]) if unit is not None and unit.end() == stop else ""
    if unit is None and numbers.end() != stop:  # "2X", "3 foot": no measure
        return SizeName(text[start:stop], span)
    if unit is not None and not name:
        return SizeName(text[start:stop], span)
    if aged is not None:
        name = name or "years"
    return SizeName(text[start:stop], span, low, high, name)


def _with_units(sizes: list[SizeName], what: str) -> tuple[SizeName, ...]:
    """A unit printed once at the end of a list is the unit of all before it that have none."""
    unit = "years" if re.search(r"\bage[sd]?\b", what) else ""
    done: list[SizeName] = []
    for size in reversed(sizes):
        unit = size.unit or unit
        done.append(replace(size, unit=unit) if size.low is not None else size)
    first_unit = next((size.unit for size in sizes if size.unit), "")
    return tuple(
        replace(size, unit=first_unit) if size.low is not None and not size.unit else size
        for size in reversed(done)
    )
