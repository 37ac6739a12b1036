"""The proof of a text: read, counted, checked, and told as plain data.

`prove` is the one way in.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from typing import Any

from chartc.checks import run_checks
from chartc.counting import (
    Counted,
    LedgerEntry,
    Net,
    RepeatBalance,
    SectionCount,
    WholeText,
    Works,
    count,
)
from chartc.findings import Finding, Repair, Severity
from chartc.pattern import Pattern, Repeat, Row, Section
from chartc.reading import read
from chartc.source import Source, Span

VERSION = 1
MOST_SIZES = 40


@dataclass(frozen=True)
class Proof:
    """A text proved.

    findings   in the order of the text
    """

    source: Source
    pattern: Pattern
    counted: Counted
    findings: tuple[Finding, ...]

    @property
    def wrong(self) -> tuple[Finding, ...]:
        """The findings that say something is wrong; none when the text comes out."""
        return tuple(f for f in self.findings if f.severity is Severity.WRONG)

    @property
    def sound(self) -> bool:
        """Nothing is wrong with the text (doubts and remarks there may be)."""
        return not self.wrong

    @cached_property
    def working(self) -> tuple[tuple[Works, ...], ...]:
        """For each section the starting numbers with which its rows work: one progression or
        several, () where there is none or it cannot be told. A section that goes on from the
        one before is taken by itself."""
        return tuple(
            (found.works, *found.more)
            if found.works is not None
            else _alone(self.pattern, found.section)
            for found in self.counted.sections
        )

    def to_data(self) -> dict[str, Any]:
        """The proof as plain data: the entry of `files` in the document of `to_json`."""
        return _file(self)

    def to_json(self) -> str:
        """The proof as a JSON document of its own, indented, ending in a line break."""
        return document([self])


def prove(source: Source, terms: str = "") -> Proof:
    """Read, count and check a text, or a chart kept in a spreadsheet (by the ending of its name).

    terms   a named set of terms from grammar/terms/ ("older"), or "" for today's usage

    Never raises for what the text says: all that is wrong with it is a finding.
    """
    pattern = read_any(source, terms)
    gauge = row_gauge(pattern)
    counted = count(pattern, gauge)
    return Proof(source, pattern, counted, run_checks(source, pattern, counted, gauge))


def read_any(source: Source, terms: str = "") -> Pattern:
    """A pattern from words or, by the ending of its name, from a chart in a spreadsheet."""
    from chartc.tables import looks_like_table, read_table

    return read_table(source) if looks_like_table(source.name) else read(source, terms)


def row_gauge(pattern: Pattern) -> Fraction | None:
    """Rows to 100 mm as the text gives them, or None."""
    fact = pattern.fact("gauge")
    if fact is None:
        return None
    from chartc.facts import parse_gauge
    from chartc.fitting.agreement import gauge_from

    found = parse_gauge(fact.value)
    gauge = None if found is None else gauge_from(found)
    if gauge is None or gauge.rows is None:
        return None
    return Fraction(100) / gauge.row_mm


def _alone(pattern: Pattern, index: int) -> tuple[Works, ...]:
    """The numbers a section works for that goes on from another, taken by itself."""
    section = pattern.sections[index]
    rows = [it for it in section.flow if isinstance(it, Row)]
    open_ended = any(isinstance(s, Repeat) and s.target is not None for r in rows for s in r.steps)
    if section.starts != "goes on" or not open_ended or len(pattern.sizes) > MOST_SIZES:
        return ()
    # counts stated are those of the whole piece: they do not hold for other numbers
    flow = tuple(replace(it, stated=()) if isinstance(it, Row) else it for it in section.flow)
    own = replace(section, starts="free", flow=flow)
    found = count(replace(pattern, sections=(own,)), row_gauge(pattern)).sections[0]
    return () if found.works is None else (found.works, *found.more)


def document(proofs: Iterable[Proof]) -> str:
    """One JSON document for several files, in the order given."""
    data = {"version": VERSION, "files": [p.to_data() for p in proofs]}
    return json.dumps(data, ensure_ascii=False, indent=1) + "\n"


# ------------------------------------------------------------------ plain data


def _file(proof: Proof) -> dict[str, Any]:
    pattern, source = proof.pattern, proof.source
    return {
        "path": source.name,
        "title": pattern.title,
        "construction": pattern.construction,
        "sizes": list(pattern.sizes),
        "sections": [
            _section(source, *one)
            for one in zip(
                pattern.sections, proof.counted.sections, proof.working, strict=True
            )
        ],
        "whole": [_whole(proof, one) for one in proof.counted.whole],
        "findings": [_finding(source, one) for one in proof.findings],
        "ledger": [_entry(proof, one) for one in proof.counted.entries],
    }


def _place(source: Source, offset: int) -> dict[str, int]:
    line, column = source.locate(offset)
    return {"line": line, "column": column}


def _works(works: Works | None) -> dict[str, int] | None:
    if works is None:
        return None
    found = {"multiple": works.multiple, "plus": works.plus, "least": works.least}
    if works.most is not None and works.multiple:
        found["most"] = works.most
    return found


def _net(net: Net | None) -> dict[str, int] | None:
    return None if net is None else {"per_repeat": net.per_repeat, "fixed": net.fixed}


def _section(
    source: Source, section: Section, counted: SectionCount, works: Sequence[Works]
) -> dict[str, Any]:
    return {
        "name": section.name,
        "line": source.locate(section.span.start)[0],
        "works_for": _works(works[0]) if works else None,
        "also_works_for": [_works(one) for one in works[1:]],
        "net": _net(counted.net),
    }


def _whole(proof: Proof, one: WholeText) -> dict[str, Any]:
    return {
        "section": proof.pattern.sections[one.section].name,
        "line": proof.source.locate(one.span.start)[0],
        "size": proof.pattern.sizes[one.size_index],
        "printed": one.printed,
        "fits": one.fits,
        "works_for": [_works(works) for works in one.works],
        "below": one.below,
        "above": one.above,
    }


def _finding(source: Source, one: Finding) -> dict[str, Any]:
    return {
        "check": one.check,
        "severity": one.severity.value,
        "message": one.message,
        "hint": one.hint,
        "sizes": list(one.sizes),
        "start": _place(source, one.span.start),
        "end": _place(source, one.span.end),
        "repairs": [_repair(source, repair) for repair in one.repairs],
    }


def _repair(source: Source, repair: Repair) -> dict[str, Any]:
    return {
        "start": _place(source, repair.span.start),
        "end": _place(source, repair.span.end),
        "text": repair.text,
    }


def entry_line(source: Source, entry: LedgerEntry) -> int:
    """The line where the row's label stands."""
    span: Span = entry.row.head if entry.row is not None else entry.span
    return source.locate(span.start)[0]


def _entry(proof: Proof, entry: LedgerEntry) -> dict[str, Any]:
    pattern = proof.pattern
    found: dict[str, Any] = {
        "section": pattern.sections[entry.section].name,
        "label": entry.label,
        "line": entry_line(proof.source, entry),
        "side": entry.side,
        "pass": entry.pass_number,
        "sizes": [
            {
                "size": pattern.sizes[one.size_index],
                "before": one.before,
                "used": one.used,
                "made": one.made,
                "after": one.after,
            }
            for one in entry.sizes
        ],
    }
    if entry.repeats:
        found["repeats"] = [_balance(proof.source, one) for one in entry.repeats]
    if entry.folded:
        found["folded"] = entry.folded
    return found


def _balance(source: Source, one: RepeatBalance) -> dict[str, Any]:
    return {
        "start": _place(source, one.span.start),
        "times": list(one.times),
        "uses": one.uses,
        "makes": one.makes,
        "increases": one.increases,
        "decreases": one.decreases,
        "balance": one.makes - one.uses,
    }
