"""Published figures of the trade: bodies, ease, yarn weights, needles, notions.

The figures are data (grammar/*.toml); each table keeps its source and how far it is to be
trusted: "seen" (read in the source named), "from memory", or "common practice".
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import Any, Literal

from chartc.measures import LengthUnit, exact, to_mm
from chartc.resources import grammar_folder

Trust = Literal["seen", "from memory", "common practice"]


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a figure comes from, and how far to trust it."""

    source: str
    trust: Trust
    note: str = ""

    def __str__(self) -> str:
        if self.source.startswith(self.trust):
            return self.source
        return f"{self.source} ({self.trust})"


@dataclass(frozen=True, slots=True)
class BodySize:
    """One line of a body table: the range printed for a size, in millimetres."""

    size: str
    low_mm: Fraction
    high_mm: Fraction
    origin: Origin
    also: tuple[str, ...] = ()

    @property
    def middle_mm(self) -> Fraction:
        """The middle of the range, in millimetres."""
        return (self.low_mm + self.high_mm) / 2


@dataclass(frozen=True, slots=True)
class BodyTable:
    """Body measures by size, smallest first. `unit` is the one the source prints."""

    key: str
    group: str
    measure: str
    unit: LengthUnit
    rows: tuple[BodySize, ...]
    origin: Origin

    def row(self, size: str) -> BodySize | None:
        """The line of a size, by its name or another name of it, capitals or not."""
        wanted = size.strip().casefold()
        for row in self.rows:
            if wanted in (name.casefold() for name in (row.size, *row.also)):
                return row
        return None


@dataclass(frozen=True, slots=True)
class EaseClass:
    """A word for a fit and its ease (garment minus body) in mm; None where it is open."""

    word: str
    low_mm: Fraction | None
    high_mm: Fraction | None
    edition: str
    origin: Origin
    also: tuple[str, ...] = ()

    @property
    def middle_mm(self) -> Fraction:
        """The ease to take when only the word is given: the middle, or the closed end."""
        if self.low_mm is None:
            return self.high_mm if self.high_mm is not None else Fraction(0)
        return self.low_mm if self.high_mm is None else (self.low_mm + self.high_mm) / 2

    def holds(self, ease_mm: Fraction) -> bool:
        """Whether an ease in millimetres lies in the class, ends included."""
        above = self.low_mm is None or ease_mm >= self.low_mm
        return above and (self.high_mm is None or ease_mm <= self.high_mm)


@dataclass(frozen=True, slots=True)
class YarnWeight:
    """One number of the yarn weight system.

    low, high        stitches in stockinette over 4 in (10 cm); low None for "or fewer"
    mm_low, mm_high  usual needles in mm; mm_high None for "and up"
    """

    number: int
    name: str
    types: tuple[str, ...]
    low: int | None
    high: int
    mm_low: Fraction
    mm_high: Fraction | None
    us: str
    origin: Origin

    @property
    def label(self) -> str:
        """As printed on a ball band: "3 Light (DK, light worsted)"."""
        types = [name for name in self.types if name.casefold() != self.name.casefold()]
        return f"{self.number} {self.name}" + (f" ({', '.join(types)})" if types else "")


@dataclass(frozen=True, slots=True)
class NeedleSize:
    """A diameter in mm and the labels printed for it. `us_rare`: in some lists only."""

    mm: Fraction
    us: tuple[str, ...]
    uk: tuple[str, ...]
    us_rare: tuple[str, ...]
    origin: Origin


@dataclass(frozen=True, slots=True)
class Holds:
    """Stitches a circular needle holds at a gauge: a line of the published table."""

    per_inch: Fraction
    length_in: Fraction
    fewest: int
    most: int
    origin: Origin


@dataclass(frozen=True, slots=True)
class CircularLengths:
    """Circular needles as sold, in mm: `metric` by the centimetre, `inch` by the inch label;
    `same` pairs the two labels of one needle (metric mm, inch mm)."""

    metric: tuple[Fraction, ...]
    inch: tuple[Fraction, ...]
    same: tuple[tuple[Fraction, Fraction], ...]
    holds: tuple[Holds, ...]
    rule: str
    origin: Origin
    rule_origin: Origin


@dataclass(frozen=True, slots=True)
class TailRule:
    """A published rule for the tail of a long-tail cast-on.

    kind "per stitch": low_mm to high_mm for each stitch; "wraps": once round the needle for
    each stitch; "width": `times` the finished width. `extra_mm` is added once.
    """

    key: str
    kind: Literal["per stitch", "wraps", "width"]
    text: str
    low_mm: Fraction
    high_mm: Fraction
    times: Fraction
    extra_mm: Fraction
    fine_only: bool
    origin: Origin


@dataclass(frozen=True, slots=True)
class YarnRules:
    """The safety margin as a share (1/10), and area of body with sleeves over body alone."""

    margin: Fraction
    margin_origin: Origin
    with_sleeves: Fraction
    with_sleeves_origin: Origin
    tails: tuple[TailRule, ...]


@dataclass(frozen=True, slots=True)
class Notion:
    """A thing listed among the materials and the words of instructions that call for it."""

    key: str
    names: tuple[str, ...]
    called: tuple[str, ...]
    instead: tuple[str, ...]


@cache
def _table(name: str) -> dict[str, Any]:
    with (grammar_folder() / name).open("rb") as file:
        return tomllib.load(file)


def _origin(entry: dict[str, Any], over: Origin | None = None) -> Origin:
    if over is None:
        return Origin(entry["source"], entry["trust"], entry.get("note", ""))
    return Origin(
        entry.get("source", over.source),
        entry.get("trust", over.trust),
        entry.get("note", over.note),
    )


@cache
def body_tables() -> tuple[BodyTable, ...]:
    """Every body table, in the order of the data file."""
    tables = []
    for entry in _table("bodies.toml")["body"]:
        origin = _origin(entry)
        unit: LengthUnit = entry["unit"]
        rows = tuple(
            BodySize(
                row["size"],
                to_mm(row["low"], unit),
                to_mm(row["high"], unit),
                _origin(row, origin),
                tuple(row.get("also", ())),
            )
            for row in entry["rows"]
        )
        tables.append(BodyTable(entry["key"], entry["group"], entry["measure"], unit, rows, origin))
    return tuple(tables)


def body_table(key: str) -> BodyTable:
    """The body table of that key ("women bust", "heads"). Raises KeyError naming the keys."""
    for table in body_tables():
        if table.key.casefold() == key.strip().casefold():
            return table
    known = ", ".join(table.key for table in body_tables())
    raise KeyError(f"there is no body table called {key}; the tables are: {known}")


@cache
def ease_classes() -> tuple[EaseClass, ...]:
    """The ease classes of every edition, closest fit first."""
    found = []
    for entry in _table("bodies.toml")["ease"]:
        origin = _origin(entry)
        for row in entry["classes"]:
            low, high = row.get("low"), row.get("high")
            found.append(
                EaseClass(
                    row["word"],
                    None if low is None else to_mm(low, "in"),
                    None if high is None else to_mm(high, "in"),
                    entry["edition"],
                    origin,
                    tuple(row.get("also", ())),
                )
            )
    return tuple(found)


@cache
def yarn_weights() -> tuple[YarnWeight, ...]:
    """The yarn weight system, finest (0) first."""
    entry = _table("yarns.toml")["weights"]
    origin = _origin(entry)
    return tuple(
        YarnWeight(
            row["number"],
            row["name"],
            tuple(row["types"]),
            row.get("low"),
            row["high"],
            exact(row["mm_low"]),
            exact(row["mm_high"]) if "mm_high" in row else None,
            row["us"],
            _origin(row, origin),
        )
        for row in entry["rows"]
    )


@cache
def yarn_names() -> dict[str, tuple[int, ...]]:
    """Trade names of yarn, lower case, with the weight numbers they belong to.

    A name may belong to two ("baby"); names by ply are common practice.
    """
    found: dict[str, list[int]] = {}
    for weight in yarn_weights():
        for name in (weight.name, *weight.types):
            numbers = found.setdefault(name.casefold(), [])
            if weight.number not in numbers:
                numbers.append(weight.number)
    for name, number in _table("yarns.toml")["weights"]["other_names"]["names"].items():
        found.setdefault(name.casefold(), [number])
    return {name: tuple(numbers) for name, numbers in found.items()}


@cache
def yarn_rules() -> YarnRules:
    """Margin, area and cast-on tail rules."""
    data = _table("yarns.toml")
    tails = tuple(
        TailRule(
            rule["key"],
            rule["kind"],
            rule["text"],
            to_mm(rule.get("low_in", 0), "in"),
            to_mm(rule.get("high_in", 0), "in"),
            exact(rule.get("times", 0)),
            to_mm(rule.get("extra_in", 0), "in"),
            rule.get("fine_only", False),
            _origin(rule),
        )
        for rule in data["tail"]
    )
    return YarnRules(
        Fraction(data["margin"]["percent"], 100),
        _origin(data["margin"]),
        exact(data["with_sleeves"]["times"]),
        _origin(data["with_sleeves"]),
        tails,
    )


@cache
def needle_sizes() -> tuple[NeedleSize, ...]:
    """Needle sizes, thinnest first."""
    entry = _table("needles.toml")["sizes"]
    origin = _origin(entry)
    return tuple(
        NeedleSize(
            exact(row["mm"]),
            tuple(row.get("us", ())),
            tuple(row.get("uk", ())),
            tuple(row.get("us_rare", ())),
            _origin(row, origin),
        )
        for row in entry["rows"]
    )


@cache
def circular_lengths() -> CircularLengths:
    """Lengths of circular needles as sold, what they hold, and the rule for choosing one."""
    entry = _table("needles.toml")["circular"]
    holds = entry["holds"]
    holds_origin = _origin(holds)
    return CircularLengths(
        tuple(to_mm(value, "cm") for value in entry["centimetres"]),
        tuple(to_mm(value, "in") for value in entry["inches"]),
        tuple((to_mm(cm, "cm"), to_mm(inch, "in")) for cm, inch in entry["same"]["pairs"]),
        tuple(
            Holds(
                exact(row["per_inch"]),
                exact(row["length_in"]),
                row["fewest"],
                row["most"],
                holds_origin,
            )
            for row in holds["rows"]
        ),
        entry["rule"]["text"],
        _origin(entry),
        _origin(entry["rule"]),
    )


@cache
def notions() -> tuple[Notion, ...]:
    """Things a pattern lists among its materials, besides yarn and needles."""
    return tuple(
        Notion(row["key"], tuple(row["names"]), tuple(row["called"]), tuple(row["or"]))
        for row in _table("materials.toml")["notion"]
    )
