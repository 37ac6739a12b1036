"""Gauge as printed: stitches and rows over a distance, in a stitch pattern."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from fractions import Fraction

from chartc.facts.needles import NeedleFact, parse_needles
from chartc.facts.words import (
    LONGEST,
    UNIT,
    WORDS,
    Measure,
    plain_text,
    shape_of,
    unit_of,
    whole_brackets,
)
from chartc.measures import NUMBER, LengthUnit, read_number, to_mm
from chartc.source import Span


@dataclass(frozen=True, slots=True)
class GaugeFact:
    """A gauge as printed.

    stitches   over `over`; `stitches_to` is the upper end of a range ("22-24 sts"), else None
    rows       over the same distance, or None
    over       the distance first printed; `also` the same distance in another unit
    pattern    the stitch pattern named ("St st"), or ""
    blocked    True / False when the text says so, else None
    in_round   the text counts rounds, or says "in the round"
    needle     the needle named with it, or None
    """

    stitches: Fraction | None
    rows: Fraction | None
    over: Measure | None
    span: Span
    stitches_to: Fraction | None = None
    rows_to: Fraction | None = None
    also: tuple[Measure, ...] = ()
    pattern: str = ""
    blocked: bool | None = None
    in_round: bool = False
    needle: NeedleFact | None = None

    @property
    def missing(self) -> tuple[str, ...]:
        """What a complete statement of gauge would say besides (edieeckman.com, 2023)."""
        parts = {
            "stitches": self.stitches is not None,
            "rows": self.rows is not None,
            "distance": self.over is not None,
            "stitch pattern": bool(self.pattern),
        }
        return tuple(name for name, there in parts.items() if not there)

    def over_in(self, unit: LengthUnit) -> Measure | None:
        """The distance to reckon with for measures in `unit`: the one printed in that unit
        when both are (10 cm / 4 in), else the first."""
        every = () if self.over is None else (self.over, *self.also)
        return next((one for one in every if one.unit == unit), self.over)


def _ranged(name: str) -> str:
    """A count or a range of counts ("22", "22-24"), as groups `name` and `name`_to."""
    return (
        rf"(?P<{name}>{NUMBER}|\b(?:{WORDS})\b)"
        rf"(?:\s*(?:-|to|/)\s*(?P<{name}_to>{NUMBER}))?"
    )


_GAUGE = shape_of(
    rf"(?:{_ranged('st')}\s*(?:k\s+|knit\s+)?(?:sts?\b\.?|stitch(?:es)?\b))"
    rf"|(?:{_ranged('row')}\s*(?P<kind>rows?\b|rnds?\b\.?|rounds?\b|r\b))"
    rf"|(?:(?P<far>{NUMBER}|\b(?:{WORDS})\b)\s*-?\s*(?:(?:x|by)\s*{NUMBER}\s*)?{UNIT})"
    r"|(?:(?:\bper|\bto\s+(?:the|an|one|each)|\bto\s+a|\ban|\bthe|\bevery|/)\s*(?:single\s+)?"
    r"(?P<one>inch\b|in\b|cm\b|centimet(?:re|er)\b))"
)
# "16/22 to 10 cm", "16 x 22 = 4 in": the words are left out.
_GAUGE_BARE = shape_of(
    rf"(?P<st>{NUMBER})\s*(?:/|x|by|and|&|,)\s*(?P<row>{NUMBER})"
    rf"(?=\s*(?:=|to|per|over|in)\s*(?:the\s+)?{NUMBER}?\s*(?:cm|in|\"))"
)
_PATTERN = shape_of(
    r"\b(?:measured\s+over|worked\s+in|over|in|using)\s+(?:the\s+)?"
    r"(?P<words>(?:k\d+(?:\s*tbl)?\s*[,/x]?\s*p\d+(?:\s*tbl)?|\d+\s*[x/]\s*\d+)\s*-?\s*[a-z]+"
    r"|(?!the\b|round\b|rounds\b|rnds?\b|an?\b|(?:a|the)\s+\d)[a-z][a-z'/\- ]*"
    r"(?:\d[a-z0-9/'\- ]*?(?:rib|st|stitch|patt(?:ern)?|cable|chart)\b)?)"
)
_PATTERN_ENDS = shape_of(
    r"\s*\b(?:on|with|using|after|before|when|worked|or|unblocked|blocked|washed|and|over"
    r"|in\s+the\s+round|square|for|is|gives?|equals?)\b.*$"
)
_NOT_A_PATTERN = shape_of(r"(?:square|size|total|all|cm|mm|inch(?:es)?|ins?)\b")
_BLOCKED = shape_of(
    r"\b(?:(?P<no>un-?blocked|before\s+blocking)|blocked|after\s+(?:an?\s+)?(?:[a-z]+\s+)?blocking)\b"
)
_ROUND = shape_of(r"\bin\s+(?:the\s+)?rounds?\b|\bin\s+(?:the\s+)?rnds?\b|\bcircularly\b")


@dataclass
class _Gathering:
    """A gauge being put together from the pieces found, left to right."""

    stitches: tuple[Fraction, Fraction | None] | None = None
    rows: tuple[Fraction, Fraction | None] | None = None
    over: list[Measure] = field(default_factory=list)
    in_round: bool = False
    start: int = 0
    end: int = 0
    closed: bool = False  # a distance has been given after its counts

    @property
    def counts(self) -> bool:
        return self.stitches is not None or self.rows is not None


def parse_gauges(text: str) -> tuple[GaugeFact, ...]:
    """Every gauge in a value, in order: patterns often give one for each stitch pattern."""
    plain = plain_text(text[:LONGEST])
    pieces = list(_GAUGE.finditer(plain))
    if not any(piece["st"] or piece["row"] for piece in pieces):
        pieces = sorted([*_GAUGE_BARE.finditer(plain), *pieces], key=lambda one: one.start())
    gathered = _gather(plain, pieces)
    merged = _merge(gathered)
    facts = []
    for at, found in enumerate(merged):
        stop = merged[at + 1].start if at + 1 < len(merged) else len(plain)
        facts.append(_gauge_fact(plain, found, pieces, stop))
    return tuple(facts)


def parse_gauge(text: str) -> GaugeFact | None:
    """The gauge of a value: '16 sts and 22 rows = 10 cm in St st, blocked', '22 sts & 30 rows
    to 4"/10cm', '5.5 sts per inch'. None when no stitches or rows are given."""
    return next(iter(parse_gauges(text)), None)


def _gather(plain: str, pieces: list[re.Match[str]]) -> list[_Gathering]:
    gathered: list[_Gathering] = []
    now = _Gathering()
    last_end = 0
    for piece in pieces:
        groups = piece.groupdict()
        kind = _piece_kind(plain, piece)
        if kind == "":
            continue
        near = re.fullmatch(r"[\s/(\[=,]*(?:or|\(|/)?[\s(\[]*", plain[last_end : piece.start()])
        if kind == "over":
            if now.counts and now.over and not near:
                gathered.append(now)  # a second distance with no count: it begins another
                now = _Gathering(start=piece.start())
            elif now.over and not now.counts and not near:
                now = _Gathering(start=piece.start())
            now.over.append(_distance(piece))
            now.closed = now.closed or now.counts
        elif "st" in groups and groups.get("st") and groups.get("row"):
            if now.counts:
                gathered.append(now)
                now = _Gathering()
            now = _begin_at(now, piece.start())
            now.stitches = (read_number(groups["st"]), None)
            now.rows = (read_number(groups["row"]), None)
        else:
            value = _range(piece, "st" if kind == "st" else "row")
            slot = now.stitches if kind == "st" else now.rows
            if slot is not None or now.closed:
                gathered.append(now)
                now = _Gathering()
            now = _begin_at(now, piece.start())
            if kind == "st":
                now.stitches = value
            else:
                now.rows = value
                now.in_round |= (groups.get("kind") or "").lower().startswith(("rnd", "round"))
        now.end = last_end = piece.end()
    gathered.append(now)
    return [one for one in gathered if one.counts]


def _begin_at(now: _Gathering, start: int) -> _Gathering:
    """A gauge begins at its first piece, distance or count."""
    if not now.counts and not now.over:
        now.start = start
    return now


def _piece_kind(plain: str, piece: re.Match[str]) -> str:
    groups = piece.groupdict()
    if groups.get("st"):
        return "st"
    if groups.get("row"):
        return "row"
    if groups.get("one"):
        return "over"
    # a distance of a gauge is an inch or more; 4 mm is a needle, 60 cm circular is its length
    after = plain[piece.end() : piece.end() + 24]
    if re.match(
        r"\s*(?:\(.{0,12}?\)\s*)?(?:long\s+)?(?:circ|needle|dpn|double|straight)", after, re.I
    ):
        return ""
    measure = _distance(piece)
    return "over" if measure.mm >= 25 or (measure.unit == "cm" and measure.value >= 1) else ""


def _distance(piece: re.Match[str]) -> Measure:
    span = Span(*piece.span())
    if piece["one"]:
        return Measure(Fraction(1), "in" if piece["one"].lower().startswith("in") else "cm", span)
    return Measure(read_number(piece["far"]), unit_of(piece), span)


def _range(piece: re.Match[str], name: str) -> tuple[Fraction, Fraction | None]:
    low = read_number(piece[name])
    high = piece[f"{name}_to"]
    return (low, read_number(high)) if high else (low, None)


def _merge(gathered: list[_Gathering]) -> list[_Gathering]:
    """'5.5 sts per inch, 7 rows per inch' is one gauge, its rows put over the same distance."""
    merged: list[_Gathering] = []
    for found in gathered:
        before = merged[-1] if merged else None
        if (
            before is not None
            and found.stitches is None
            and before.rows is None
            and found.rows is not None
        ):
            scale = Fraction(1)
            if found.over and before.over and found.over[0].mm:
                scale = before.over[0].mm / found.over[0].mm
                if {found.over[0].mm, before.over[0].mm} == {Fraction(100), to_mm(4, "in")}:
                    scale = Fraction(1)  # 10 cm and 4 in are one distance to the trade
            low, high = found.rows
            before.rows = (low * scale, None if high is None else high * scale)
            before.in_round |= found.in_round
            before.over = before.over or found.over
            before.end = found.end
            continue
        merged.append(found)
    return merged


def _gauge_fact(plain: str, found: _Gathering, pieces: list[re.Match[str]], stop: int) -> GaugeFact:
    blank = list(plain[found.start : stop])
    for piece in pieces:
        if found.start <= piece.start() < stop and _piece_kind(plain, piece):
            for at in range(piece.start() - found.start, min(piece.end(), stop) - found.start):
                blank[at] = "="
    rest = "".join(blank)
    blocked = _BLOCKED.search(rest)
    needles = parse_needles(rest)
    stitches, stitches_to = found.stitches or (None, None)
    rows, rows_to = found.rows or (None, None)
    needle = None
    if needles is not None and needles.needles[0].sized:
        first = needles.needles[0]
        needle = replace(
            first, span=Span(first.span.start + found.start, first.span.end + found.start)
        )
    return GaugeFact(
        stitches,
        rows,
        found.over[0] if found.over else None,
        whole_brackets(plain, found.start, found.end),
        stitches_to,
        rows_to,
        tuple(found.over[1:]),
        _pattern_named(rest),
        None if blocked is None else blocked["no"] is None,
        found.in_round or _ROUND.search(plain[found.start : stop]) is not None,
        needle,
    )


def _pattern_named(rest: str) -> str:
    for found in _PATTERN.finditer(rest):
        words = _PATTERN_ENDS.sub("", " " + found["words"]).strip(" -/'")
        if words and not _NOT_A_PATTERN.match(words):
            return words
    return ""
