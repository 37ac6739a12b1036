"""Two patterns side by side: rows knitted otherwise, and lines worded otherwise."""

from __future__ import annotations

from difflib import SequenceMatcher
from typing import Any

from chartc.desk.proofing import proof_of
from chartc.desk.taking import CannotTake, chart_pattern, is_chart
from chartc.matching import CannotMatch, match, row_text
from chartc.pattern import NOWHERE
from chartc.reading import read
from chartc.source import Source

MOST_LINES = 20_000


def compare(text: str, other: dict[str, str], terms: str = "") -> dict[str, Any]:
    """The text on the desk against another text or a chart.

    `rows`: rows knitted otherwise, each {line, says}; `same`: the knitting is the same.
    `lines`: for two texts, groups of lines {line, mine, its} that are worded otherwise.
    `cannot`: why there is nothing to compare, else missing.
    """
    name = other["name"]
    mine = proof_of(text, terms)
    charted = is_chart(name)
    try:
        if charted:
            its_pattern, its_source = chart_pattern(other["text"], name)
        else:
            its_source = Source(name, other["text"])
            its_pattern = read(its_source, terms)
        found = match(mine.pattern, its_pattern)
    except (CannotTake, CannotMatch) as reason:
        return {"cannot": str(reason), "rows": [], "lines": [], "same": False}
    rows: list[dict[str, Any]] = []
    for section in found.sections:
        part = section.name or section.other_name
        if section.remark:
            says = f"{part}: {section.remark}" if part else section.remark
            rows.append({"line": None, "says": says})
        for row in section.rows:
            if row.status == "same":
                continue
            says = row_text(row, mine.source, its_source)
            says = says.replace(" in the first", " here").replace(" in the second", " there")
            span = row.one.span if row.one is not None else row.first.span if row.first else NOWHERE
            line = mine.source.locate(span.start)[0] if span != NOWHERE else None
            rows.append({"line": line, "says": f"{part}: {says}" if part else says})
    return {
        "rows": rows,
        "same": found.same,
        "lines": [] if charted else _lines(text, other["text"]),
    }


def _lines(mine: str, its: str) -> list[dict[str, Any]]:
    """Groups of lines that differ in more than their blanks."""
    a, b = mine.split("\n"), its.split("\n")
    if len(a) + len(b) > MOST_LINES:
        return []
    matcher = SequenceMatcher(
        None, [" ".join(line.split()) for line in a], [" ".join(line.split()) for line in b],
        autojunk=False,
    )  # fmt: skip
    return [
        {"line": i1 + 1, "mine": a[i1:i2], "its": b[j1:j2]}
        for tag, i1, i2, j1, j2 in matcher.get_opcodes()
        if tag != "equal"
    ]
