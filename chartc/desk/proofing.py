"""The proof of a text as the page shows it: plain data, every place a line or an offset.

It comes in two parts. Counting is done at once, as one types; what is wrong and how it may be
mended takes longer, and is told when it is known.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from typing import Any

from chartc.checks import run_checks
from chartc.counting import LedgerEntry, count
from chartc.desk.offsets import Offsets
from chartc.findings import REGISTRY, Finding, Repair
from chartc.pattern import CastOn, Instruction
from chartc.proof import Proof, entry_line, row_gauge
from chartc.reading import read
from chartc.showing import mend, statements, summary
from chartc.source import Source

MOST_TIMES = 12  # times through a row that are told one by one


@lru_cache(maxsize=4)
def counted_of(text: str, terms: str = "") -> Proof:
    """A text read and counted, without findings; kept for the chart of the same text."""
    source = Source("", text)
    pattern = read(source, terms)
    return Proof(source, pattern, count(pattern, row_gauge(pattern)), ())


@lru_cache(maxsize=4)
def proof_of(text: str, terms: str = "") -> Proof:
    """The whole proof of a text."""
    done = counted_of(text, terms)
    gauge = row_gauge(done.pattern)
    return replace(done, findings=run_checks(done.source, done.pattern, done.counted, gauge))


def finding_data(text: str, terms: str = "") -> dict[str, Any]:
    """The findings of a text in its order, with `start` and `end` as offsets and `line`."""
    proof = proof_of(text, terms)
    at = Offsets(text)
    return {
        "summary": summary(proof.findings),
        "sound": proof.sound,
        "findings": [_finding(proof.source, one, at) for one in proof.findings],
    }


def count_data(text: str, terms: str = "") -> dict[str, Any]:
    """Counts by line and the sections of a text.

    `lines`: for each line with rows, `rows` with the counts of every size for each time
    through, once where all are alike.
    """
    proof = counted_of(text, terms)
    at = Offsets(text)
    begins = [section.span.start for section in proof.pattern.sections]
    return {
        "title": proof.pattern.title,
        "sizes": list(proof.pattern.sizes),
        "lines": _lines(proof),
        "sections": [
            {
                "name": section.name or ("Rows" if len(proof.pattern.sections) == 1 else "Before"),
                "start": at(section.span.start),
                # what stands between two headings belongs to the upper one
                "end": at(begins[index + 1] - 1 if index + 1 < len(begins) else len(text)),
                "line": proof.source.locate(section.span.start)[0],
                "says": list(statements(proof, index)),
                "rows": bool(proof.counted.sections[index].entries),
            }
            for index, section in enumerate(proof.pattern.sections)
        ],
    }


def _finding(source: Source, one: Finding, at: Offsets) -> dict[str, Any]:
    declared = REGISTRY.get(one.check)
    return {
        "check": one.check,
        "title": declared.title if declared else "",
        "why": declared.why if declared else "",
        "severity": one.severity.value,
        "message": one.message,
        "hint": one.hint,
        "sizes": list(one.sizes),
        "start": at(one.span.start),
        "end": at(one.span.end),
        "line": source.locate(one.span.start)[0],
        "repairs": [
            {
                "start": at(repair.span.start),
                "end": at(repair.span.end),
                "text": repair.text,
                "says": _mend(source, repair),
            }
            for repair in one.repairs
        ],
    }


def _mend(source: Source, repair: Repair) -> str:
    """A repair in words; for words put in, after what."""
    says = mend(source, repair)
    if repair.span.start != repair.span.end:
        return says
    line = source.locate(repair.span.start)[0]
    before = source.text[source.line_span(line).start : repair.span.start].rstrip(" ,;")
    word = before.split()[-1] if before.split() else ""
    return f"{says.removesuffix(' here')} after “{word}”" if word else says


def _lines(proof: Proof) -> list[dict[str, Any]]:
    found: dict[int, list[LedgerEntry]] = {}
    for entry in proof.counted.entries:
        found.setdefault(entry_line(proof.source, entry), []).append(entry)
    begun = dict(_cast_ons(proof))
    lines = []
    for line in sorted(found.keys() | begun.keys()):
        entries = found.get(line, [])
        one: dict[str, Any] = {"line": line, "rows": _rows(proof, entries)}
        if line in begun and not entries:
            one["begun"] = begun[line]
        lines.append(one)
    return lines


def _cast_ons(proof: Proof) -> Iterator[tuple[int, list[int]]]:
    """Lines on which stitches are cast on, with their number in each size."""

    def walk(flow: tuple[Instruction, ...]) -> Iterator[tuple[int, list[int]]]:
        for it in flow:
            if isinstance(it, CastOn) and it.kind == "cast on":
                line = proof.source.locate(it.span.start)[0]
                yield line, [it.count.at(i) for i in range(proof.pattern.size_count)]

    for section in proof.pattern.sections:
        yield from walk(section.flow)


def _rows(proof: Proof, entries: list[LedgerEntry]) -> list[dict[str, Any]]:
    """The rows told on one line; all times through of a row together."""
    groups: dict[tuple[str, int, int, str], list[LedgerEntry]] = {}
    for entry in entries:
        key = (entry.label, entry.span.start, entry.span.end, entry.side)
        groups.setdefault(key, []).append(entry)
    return [_row(proof, group) for group in groups.values()]


def _row(proof: Proof, entries: list[LedgerEntry]) -> dict[str, Any]:
    first = entries[0]
    label = first.label or " ".join(proof.source.at(first.span).split())[:60]
    times = [_counts(entry) for entry in entries]
    alike = all(one == times[0] for one in times)
    cut = times[:1] if alike else times
    left_out = 0
    if len(cut) > MOST_TIMES:
        left_out = len(cut) - MOST_TIMES
        cut = [*cut[: MOST_TIMES - 1], cut[-1]]
    row: dict[str, Any] = {
        "label": label,
        "side": first.side,
        "times": len(entries) + sum(entry.folded for entry in entries),
        "counts": cut,
    }
    if left_out:
        row["leftOut"] = left_out
    repeats = [
        {
            "times": list(one.times),
            "uses": one.uses,
            "makes": one.makes,
            "plus": one.increases,
            "minus": one.decreases,
        }
        for one in first.repeats
    ]
    if repeats:
        row["repeats"] = repeats
    return row


def _counts(entry: LedgerEntry) -> list[list[int | None]]:
    """[size, before, used, made, after] for each size that works the row."""
    return [[one.size_index, one.before, one.used, one.made, one.after] for one in entry.sizes]
