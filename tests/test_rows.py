"""Rows as people write them: each case of tests/cases/rows.toml read and counted.

The cases were written and worked out apart from the reader; see the head of that file.
"""

from __future__ import annotations

import pytest
from reading_cases import Case, rows, text_of, trials

from chartc.counting import count
from chartc.findings import Severity
from chartc.proof import prove
from chartc.reading import read
from chartc.source import Source

TROUBLE = frozenset(
    ["too-few", "too-many", "repeat-does-not-fit", "repeat-uses-nothing", "past-target", "unread", "no-marker", "marker-left-over", "marker-passed", "no-stitches", "no-gap", "no-centre", "left-differs", "stated-differs"]
)


def _cases() -> list[tuple[int, Case]]:
    return [
        (number, case)
        for number, case in enumerate(rows())
        if case.get("terms") != "old" and trials(case)
    ]


@pytest.mark.parametrize(("number", "case"), _cases(), ids=lambda v: str(v) if isinstance(v, int) else "")
def test_row_is_read_and_counted(number: int, case: Case) -> None:
    for trial, after in trials(case):
        text = text_of(case, trial)
        pattern = read(Source("case", text))
        counted = count(pattern)
        entries = [e for s in counted.sections for e in s.entries if e.row is not None]
        troubles = [e.kind for e in counted.events if e.kind in TROUBLE]
        asks = [r.check for r in pattern.remarks if r.check not in ("term-with-two-meanings", "not-followed")]
        if -1 in after:
            assert troubles or asks, text
            continue
        told = troubles or asks
        if case.get("wrong") and not case.get("fits"):
            last = [s.after for s in entries[-1].sizes] if entries else None
            assert told or last != after, text
            continue
        if not entries:  # told in prose: bind off, plain rows
            entries = [e for s in counted.sections for e in s.entries]
        assert [s.after for s in entries[-1].sizes] == after, (text, pattern.remarks)
        if not case.get("doubtful"):
            assert not troubles, (text, troubles)


@pytest.mark.parametrize(
    "text", [case["text"] for case in rows() if case.get("wrong") and not trials(case)]
)
def test_row_that_cannot_be_worked_is_told(text: str) -> None:
    case = next(c for c in rows() if c["text"] == text)
    lines = text_of({**case, "before": case.get("before", [20])}, 0)
    found = prove(Source("case", lines)).findings
    assert any(f.severity is not Severity.REMARK for f in found), lines
