"""Where increases or decreases told to be spread evenly fall, row by row and size by size."""

from __future__ import annotations

from collections.abc import Iterator

from chartc.counting import LedgerEntry
from chartc.fitting import FittingProblem, spread_evenly
from chartc.pattern import Change
from chartc.proof import Proof

MOST_LINES = 400


def spelled_out(proof: Proof, section: int) -> Iterator[str]:
    """A line for each row of a section that spreads its shaping, and for each size of it; sizes
    that work alike are told together."""
    for number, entry in enumerate(_rows(proof, section)):
        if number == MOST_LINES:
            return
        if entry.row is None:
            continue
        change = next(s for s in entry.row.steps if isinstance(s, Change) and s.spread)
        told: dict[str, list[str]] = {}
        for one in entry.sizes:
            by = change.by.at(one.size_index)
            if one.before is None or not by:
                continue
            try:
                found = spread_evenly(one.before, by, in_round=entry.row.in_round)
                words = found.words
            except FittingProblem as problem:
                words = str(problem)
            told.setdefault(words, []).append(proof.pattern.sizes[one.size_index])
        label = entry.label.strip().rstrip(":") or "this row"
        line = proof.source.locate(entry.span.start)[0]
        for words, sizes in told.items():
            whom = f", {', '.join(sizes)}" if sizes != [""] else ""
            yield f"{label} (line {line}{whom}): {words}"


def _rows(proof: Proof, section: int) -> Iterator[LedgerEntry]:
    seen: set[object] = set()
    for entry in proof.counted.sections[section].entries:
        if entry.row is None or entry.span in seen:
            continue
        if any(isinstance(step, Change) and step.spread for step in entry.row.steps):
            seen.add(entry.span)
            yield entry
