"""The sizes: lists with the wrong number of values."""

from __future__ import annotations

from collections.abc import Iterable

from chartc.checks.case import Case
from chartc.findings import Finding, Severity, check

WRONG = Severity.WRONG


@check(
    "size-list-length",
    WRONG,
    "a list has not one value for each size",
    family="sizes",
    why="Every bracket has a value for each size, in the same order, or a single number that "
    "holds for all.",
    wrong="Moorings\nSizes: S (M, L)\nCast on 12 (14, 16) sts.\nRow 1 (RS): K2, p to end.\n"
    "Row 2: K3 (4), p to end.\n",
    right="Moorings\nSizes: S (M, L)\nCast on 12 (14, 16) sts.\nRow 1 (RS): K2, p to end.\n"
    "Row 2: K3 (4, 5), p to end.\n",
)
def size_list_length(case: Case) -> Iterable[Finding]:
    for remark in case.remarks("size-list-length"):
        yield case.told("size-list-length", remark)
