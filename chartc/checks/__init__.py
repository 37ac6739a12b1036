"""The checks of the proof: one function for each, a module for each family.

`run_checks` runs them all; `REGISTRY` (in `chartc.findings`) holds their names, titles,
reasons and examples.
"""

from __future__ import annotations

from fractions import Fraction

from chartc.checks import alignment, counts, materials, order, reading, repeats, sizes, words
from chartc.checks.case import Case
from chartc.checks.diagnosis import diagnose
from chartc.counting import Counted
from chartc.findings import REGISTRY, Finding
from chartc.pattern import Pattern
from chartc.source import Source

__all__ = ["REGISTRY", "Case", "run_checks"]

FAMILIES = (counts, repeats, order, words, sizes, materials, alignment, reading)


def run_checks(
    source: Source, pattern: Pattern, counted: Counted, row_gauge: Fraction | None = None
) -> tuple[Finding, ...]:
    """All findings of a text, in the order of the text.

    row_gauge   rows per 100 mm the counting was made with, or None
    """
    case = Case(source, pattern, counted, diagnose(source, pattern, counted, row_gauge))
    found: list[Finding] = []
    for check in REGISTRY.values():
        if check.run is not None:
            found.extend(check.run(case))
    return tuple(sorted(set(found), key=lambda f: (f.span.start, f.span.end, f.check, f.message)))
