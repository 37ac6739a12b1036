"""Whole texts: the counts of their key rows, no alarm on the sound ones, every slip at its line.

Sources: the pieces and samples are our own, their numbers worked out by hand apart from the
reader (see tests/cases/README.md); the stitch patterns and printed slips under tests/published/
are those of the sources named there.
"""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from chartc.fabric import knit
from chartc.findings import Severity
from chartc.knitting import plans
from chartc.proof import Proof, prove
from chartc.source import load

HERE = Path(__file__).parent
FOLDERS = (HERE / "cases" / "pieces", HERE.parent / "samples", HERE / "published" / "patterns")


def expected(path: Path) -> dict[str, Any]:
    """What is known of a text: beside it, or under tests/expected by its name."""
    for beside in (path.with_suffix(".json"), HERE / "expected" / f"{path.stem}.json"):
        if beside.is_file():
            found: dict[str, Any] = json.loads(beside.read_text(encoding="utf-8"))
            return found
    return {}


TEXTS = [(path, expected(path)) for folder in FOLDERS for path in sorted(folder.glob("*.knit"))]


def slips_of(known: dict[str, Any]) -> list[dict[str, Any]]:
    return known.get("slips") or ([known["slip"]] if known.get("slip") else [])


def rows_of(known: dict[str, Any]) -> list[dict[str, Any]]:
    if "counts" in known:  # a stitch pattern: counts by number of repeats, tested on their own
        return []
    return known.get("rows") or [row for part in known.get("sections", []) for row in part["rows"]]


def named(path: Path) -> str:
    return path.stem


@cache
def proved(path: Path) -> Proof:
    return prove(load(path))


def told(proof: Proof) -> list[tuple[int, str, str]]:
    """What the proof calls wrong or doubtful: line, check, message."""
    return [
        (proof.source.locate(one.span.start)[0], one.check, one.message)
        for one in proof.findings
        if one.severity is not Severity.REMARK
    ]


def test_the_texts_are_there() -> None:
    assert len(TEXTS) > 100
    assert sum(bool(slips_of(known)) for _, known in TEXTS) > 40


@pytest.mark.parametrize(
    "path", [p for p, known in TEXTS if not slips_of(known) and not known.get("doubtful")], ids=named
)
def test_a_sound_text_raises_no_alarm(path: Path) -> None:
    assert told(proved(path)) == []


@pytest.mark.parametrize(("path", "known"), [t for t in TEXTS if slips_of(t[1])],
                         ids=lambda it: named(it) if isinstance(it, Path) else "")  # fmt: skip
def test_a_slip_is_found_where_it_is(path: Path, known: dict[str, Any]) -> None:
    found = told(proved(path))
    for slip in slips_of(known):
        lines = {slip["line"], *slip.get("also_lines", [])}
        assert lines & {line for line, _, _ in found}, (slip, found)


# What the ledger does not tell yet: counts in the middle of a paragraph that tells several steps,
# and stitches between "wrap and turn" and the next row.
NOT_YET = {
    "anchor-cowl", "creek-raglan", "dune-yoke", "halfpi", "heron-shawl", "pebble-socks",
    "groyne-edging", "wrack-waistcoat",
}  # fmt: skip


@pytest.mark.parametrize(
    ("path", "known"),
    [
        pytest.param(
            path, known, id=path.stem,
            marks=[pytest.mark.xfail(strict=True)] if path.stem in NOT_YET else [],
        )
        for path, known in TEXTS
        if rows_of(known)
    ],
)  # fmt: skip
def test_the_counts_are_those_worked_out_by_hand(path: Path, known: dict[str, Any]) -> None:
    """Each count stands in the ledger: at its own line, or, where the line only sends the
    knitter back ("repeat until ..."), at the row that is repeated."""
    proof = proved(path)
    sizes = range(len(proof.pattern.sizes))
    at_line: dict[tuple[int, int], list[int | None]] = {}
    anywhere: dict[int, set[int | None]] = {size: set() for size in sizes}
    for section in proof.counted.sections:
        for entry in section.entries:
            line = proof.source.locate(entry.span.start)[0]
            for one in entry.sizes:
                at_line.setdefault((line, one.size_index), []).append(one.after)
                anywhere[one.size_index].add(one.after)
    wrong = []
    for row in rows_of(known):
        for size in sizes:
            number = row["counts_after"][size]
            here = at_line.get((row.get("line"), size), [])
            ends = {"last": here[-1:], 1: here[:1]}.get(row.get("pass"), here)
            held = set(ends) if here and "rep" not in row["label"].lower() else anywhere[size]
            if number is not None and number not in held:
                wrong.append((row.get("line"), row["label"], proof.pattern.sizes[size], number))
    assert wrong == []


@pytest.mark.parametrize(
    ("path", "known"),
    [
        pytest.param(path, known, id=path.stem)
        for path, known in TEXTS
        if known.get("counts") and not slips_of(known)
    ],
)
def test_a_published_stitch_pattern_comes_out(path: Path, known: dict[str, Any]) -> None:
    """On one, two and three repeats, row by row in the stitch graph (sources: tests/published)."""
    pattern = proved(path).pattern
    for repeats, counts in known["counts"].items():
        cast_on = int(repeats) * known["multiple"] + known["plus"]
        if counts is None:  # too few stitches for its rows
            works = proved(path).counted.sections[0].works
            assert works is not None and not works.holds(cast_on)
            continue
        started, planned = plans(pattern, 0, 0, cast_on=cast_on)
        fabric = knit(started, planned)
        made = [sum(len(one.left) for one in row.stitches) for row in fabric.rows]
        assert started == counts[0]
        assert made[: len(counts) - 1] == counts[1:], repeats
