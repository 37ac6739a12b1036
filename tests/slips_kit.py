"""Single-token slips made in sound texts, and what the proof makes of them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from chartc.checks.edits import number_printed, number_text
from chartc.checks.trial import rows_within
from chartc.findings import Severity
from chartc.pattern import Fill, Reach, Repeat, Row, Step, Work
from chartc.proof import Proof, prove
from chartc.reading import read
from chartc.source import Source, Span

KINDS = ("more", "less", "drop yo", "k2tog for k1", "sk2p for k2tog", "to last", "drop")


@dataclass(frozen=True)
class Slip:
    """One token changed: `text` is the text with the slip, `at` where the changed token (or
    the place of the one left out) stands in it, `lines` the lines of its row."""

    kind: str
    text: str
    at: Span
    lines: tuple[int, int]
    what: str


def statements(source: Source) -> list[Row]:
    """The row statements of a text, each once."""
    pattern = read(source)
    rows: dict[int, Row] = {}
    for section in pattern.sections:
        for it in section.flow:
            for row in rows_within(it):
                if row.steps and row.readable:
                    inside = all(row.span.start <= s.span.start for s in row.steps)
                    if inside:
                        rows.setdefault(row.steps[0].span.start, row)
    return [rows[key] for key in sorted(rows)]


def slips(source: Source) -> Iterator[Slip]:
    """Every single-token slip of the rows of a text that changes a count."""
    for row in statements(source):
        for span, new, kind in _changes(source, row.steps):
            text = source.text[: span.start] + new + source.text[span.end :]
            end = span.start + len(new)
            mutated = Source(source.name, text)
            last = max(row.span.end + len(new) - (span.end - span.start), row.span.start)
            lines = (mutated.locate(row.span.start)[0], mutated.locate(last)[0])
            yield Slip(kind, text, Span(span.start, end), lines,
                       f"{source.at(span)!r} -> {new!r}")  # fmt: skip


def _changes(source: Source, steps: tuple[Step, ...]) -> Iterator[tuple[Span, str, str]]:
    for at, step in enumerate(steps):
        if isinstance(step, Repeat):
            if step.target is not None:
                yield from _target(source, step)
            yield from _changes(source, step.body)
        elif isinstance(step, Fill):
            yield from _target(source, step)
        elif isinstance(step, Work):
            yield from _work(source, steps, at, step)


def _target(source: Source, step: Fill | Repeat) -> Iterator[tuple[Span, str, str]]:
    target = step.target
    assert target is not None
    n = target.n
    if target.reach in (Reach.LAST, Reach.BEFORE_MARKER) and not n.sized and n.span.end:
        text = source.at(n.span)
        if number_printed(text) == n.values[0]:
            for d in (1, -1):
                if n.values[0] + d > 0:
                    yield n.span, number_text(text, n.values[0] + d), "to last"


def _work(
    source: Source, steps: tuple[Step, ...], at: int, step: Work
) -> Iterator[tuple[Span, str, str]]:
    times = step.times
    text = source.at(step.span)
    if not times.sized and times.span.end and step.stitch.uses:
        printed = source.at(times.span)
        if number_printed(printed) == times.values[0]:
            for d, kind in ((1, "more"), (-1, "less")):
                if times.values[0] + d > 0:
                    yield times.span, number_text(printed, times.values[0] + d), kind
    if times.values != (1,):
        return
    capital = text[:1].isupper()
    if text.lower() == "k2tog":
        yield step.span, "K1" if capital else "k1", "k2tog for k1"
    if text.lower() == "sk2p":
        yield step.span, "K2tog" if capital else "k2tog", "sk2p for k2tog"
    if len(steps) > 1 and step.stitch.uses + step.stitch.makes:
        gone = None
        if at + 1 < len(steps):
            between = source.plain[step.span.end : steps[at + 1].span.start]
            if re.fullmatch(r",?\s+", between):
                gone = Span(step.span.start, steps[at + 1].span.start)
        elif at:
            between = source.plain[steps[at - 1].span.end : step.span.start]
            if re.fullmatch(r",?\s+", between):
                gone = Span(steps[at - 1].span.end, step.span.end)
        if gone is not None:
            yield gone, "", "drop yo" if step.stitch.kind == "yarn over" else "drop"


@dataclass(frozen=True)
class Verdict:
    """found: a finding that something is wrong stands at the row; exact: at the very stitch;
    mended: the first repair of that finding gives the text back (it reads the same)."""

    found: bool
    exact: bool
    mended: bool
    proof: Proof


def judge(source: Source, slip: Slip) -> Verdict:
    proof = prove(Source(source.name, slip.text))
    mutated = proof.source
    wrong = [f for f in proof.findings if f.severity is Severity.WRONG]
    here = [
        f for f in wrong if slip.lines[0] <= mutated.locate(f.span.start)[0] <= slip.lines[1]
    ]
    low, high = slip.at.start, slip.at.end
    if low == high:  # a token left out: its neighbours are the place
        low, high = low - 3, high + 1
    exact = [
        f for f in here
        if f.span.start < high and f.span.end > low and f.span.end - f.span.start < 60
    ]  # fmt: skip
    mended = False
    for f in (exact or here)[:1]:
        if f.repairs:
            r = f.repairs[0]
            text = slip.text[: r.span.start] + r.text + slip.text[r.span.end :]
            mended = same(source.text, text)
    return Verdict(bool(here), bool(exact), mended, proof)


def same(one: str, two: str) -> bool:
    """Whether two texts are the same but for capitals, spaces and "1 sts" for "st"."""
    return _folded(one) == _folded(two)


def _folded(text: str) -> str:
    text = re.sub(r"\s+", " ", text.lower())
    return re.sub(r"\b(?:1 )?st(?:itch)?\b(?!-)|\b1 sts\b|\b1 stitches\b", "1 st", text)
