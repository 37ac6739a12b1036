"""A printed multiple of stitches."""

from __future__ import annotations

from dataclasses import dataclass

from chartc.facts.words import LONGEST, WORDS, plain_text, shape_of
from chartc.measures import read_number
from chartc.source import Span


@dataclass(frozen=True, slots=True)
class MultipleFact:
    """A printed multiple: of `multiple` stitches plus `plus`, `plus` as printed (it may be
    more than a repeat, or negative). `parts` are the amounts added, in order; `rows` the row
    repeat when one is printed."""

    multiple: int
    plus: int
    span: Span
    parts: tuple[int, ...] = ()
    rows: int | None = None

    @property
    def rest(self) -> int:
        """What is over when the stitches are counted off in repeats."""
        return self.plus % self.multiple

    @property
    def least(self) -> int:
        """The fewest stitches: one repeat and what is added."""
        return self.multiple + self.plus


_SMALL = rf"(?:[0-9]{{1,6}}(?![0-9])|(?:{WORDS})\b)"
_STS = r"(?:\s*-?\s*(?:sts?\b\.?|stitch(?:es)?\b))"
_ADDED = shape_of(
    rf"\s*[,(]?\s*(?P<sign>\+|plus\b|and\b|-|minus\b|less\b)\s*(?:an?\s+(?:extra|additional)\s+)?"
    rf"(?P<n>{_SMALL}){_STS}?(?!\s*(?:rows?|rnds?|rounds?)\b)"
    r"(?:\s*(?:(?:extra|edge|selvedge|selvage|balancing|more|over)\b\s*(?:sts?\b\.?|stitch(?:es)?\b)?"
    r"|(?:for|at)\s+[a-z ]{1,40}?(?=[,+;.()\-]|\bplus\b|$)))?\)?"
)
_EACH_SIDE = shape_of(r"\s*(?:sts?|stitch(?:es)?)?\s*(?:at|on|for)\s+each\s+(?:side|edge|end)\b")
_MULTIPLE = (
    shape_of(
        rf"\b(?:mult(?:iple)?s?\.?\s*(?:of)?|divisible\s+by|repeats?\s+of|rep\.?\s+of)\s*:?\s*"
        rf"(?P<m>{_SMALL}){_STS}?"
    ),
    shape_of(rf"(?P<m>{_SMALL}){_STS}?\s*-?\s*(?:rep(?:eat)?s?\b\.?)"),
    shape_of(rf"^\s*(?P<m>{_SMALL}){_STS}(?=\s*(?:[,+;.\-(]|plus|minus|$))"),
    shape_of(rf"^\s*(?P<m>{_SMALL})\s*(?:[nx](?=\s*[+\-]|\s*$)|(?=\+|\s+\+|\s*plus\b))"),
    shape_of(rf"^\s*(?P<m>{_SMALL})\s*$"),
)
_PARITY = shape_of(r"\b(?:(?P<odd>odd)|even)\s+(?:number|no\.?)\b|\b(?:(?P<odd2>odd)|even)\s*$")
_ANY = shape_of(r"\bany\s+(?:number|no\.?|multiple)\b")
_ROW_REPEAT = shape_of(rf"(?P<rows>{_SMALL})\s*-?\s*(?:rows?|rnds?|rounds?)\b")


def parse_multiple(text: str) -> MultipleFact | None:
    """A printed multiple: '6 sts + 3', 'multiple of 8 plus 5', '12+1', 'multiple of 6 sts, plus
    3, plus 2 for edge sts', 'a number of stitches divisible by 20', 'an odd number'. None when
    there is none."""
    plain = plain_text(text[:LONGEST])
    counted = _ROW_REPEAT.search(plain)
    rows = int(read_number(counted["rows"])) if counted is not None else None
    for shape in _MULTIPLE:
        found = shape.search(plain)
        if found is None:
            continue
        multiple = int(read_number(found["m"]))
        if multiple < 1:
            return None
        parts: list[int] = []
        at = found.end()
        while (more := _ADDED.match(plain, at)) is not None:
            amount = int(read_number(more["n"]))
            if _EACH_SIDE.match(plain, more.end("n")):
                amount *= 2
            parts.append(-amount if more["sign"].casefold() in ("-", "minus", "less") else amount)
            at = more.end()
        if multiple + sum(parts) < 1:
            return None
        span = Span(found.start("m"), _trimmed(plain, found.start("m"), at))
        return MultipleFact(multiple, sum(parts), span, tuple(parts), rows)
    parity = _PARITY.search(plain)
    if parity is not None:
        odd = bool(parity["odd"] or parity["odd2"])
        return MultipleFact(2, int(odd), Span(*parity.span()), (1,) if odd else (), rows)
    anything = _ANY.search(plain)
    if anything is not None:
        return MultipleFact(1, 0, Span(*anything.span()), (), rows)
    return None


def _trimmed(plain: str, start: int, stop: int) -> int:
    while stop > start and plain[stop - 1] in " \t,":
        stop -= 1
    return stop
