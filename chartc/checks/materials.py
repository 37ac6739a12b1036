"""The materials: what is used and listed, needles, gauge and measures."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from fractions import Fraction
from typing import TYPE_CHECKING, TypeVar

from chartc.checks.case import Case
from chartc.checks.words import list_lines
from chartc.counting import LedgerEntry
from chartc.findings import Finding, Severity, check, found
from chartc.pattern import CastOn, Fact, Join, Work, walk
from chartc.source import Span
from chartc.stitch import Stitch

if TYPE_CHECKING:
    from chartc.facts import GaugeFact, LengthList, NeedleFact
    from chartc.fitting import Disagreement
    from chartc.measures import LengthUnit

DOUBTFUL = Severity.DOUBTFUL
REMARK = Severity.REMARK

LISTS = ("notions", "materials", "needles", "yarn")
# things a knitter has at hand, or that the finishing alone asks for
AT_HAND = frozenset({"tapestry needle", "buttons", "crochet hook", "pins", "ruler", "scissors"})
_AROUND = re.compile(
    r"\b(?:bust|chest|circumference|around|hips?|waist|head|hem|girth|hand|foot)\b", re.I
)
_WIDE = re.compile(r"\b(?:wide|width|across)\b", re.I)
_LONG = re.compile(r"\b(?:length|long|deep|depth|tall|high|height|seam|sleeve|inside)\b", re.I)


T = TypeVar("T")


def told_or_none(call: Callable[..., T | None], *given: object, **more: object) -> T | None:
    """What a comparison of figures says; None where a figure is too silly to be compared (a
    count of nought, a needle of 50 digits): that is told elsewhere."""
    from chartc.fitting import FittingProblem

    try:
        return call(*given, **more)
    except FittingProblem:
        return None


def facts(case: Case, *keys: str) -> Iterator[Fact]:
    return (fact for fact in case.pattern.facts if fact.key in keys)


def moved(span: Span, by: int) -> Span:
    return Span(span.start + by, span.end + by)


def body(case: Case) -> Iterator[tuple[int, str]]:
    """The lines of the instructions: where each begins and its text in lower case."""
    skip = list_lines(case)
    for fact in case.pattern.facts:
        first = case.source.locate(fact.span.start)[0]
        last = case.source.locate(max(fact.span.start, fact.span.end - 1))[0]
        skip.update(range(first, last + 1))
    starts = [
        min([s.span.start, *(it.span.start for it in s.flow[:1])]) for s in case.pattern.sections
    ]
    begin = case.source.locate(min(starts))[0] if starts else 1
    for line in range(begin, case.source.line_count + 1):
        if line not in skip:
            span = case.source.line_span(line)
            yield span.start, case.source.plain[span.start : span.end].lower()


@check(
    "not-in-materials",
    DOUBTFUL,
    "something is used that is not in the materials",
    family="materials",
    why="Where a text lists its notions, the knitter lays out what is listed and begins.",
    wrong="Moorings\nNotions: darning needle\nCast on 12 sts.\nRow 1 (RS): K6, pm, k6.\n"
    "Row 2: P12.\n",
    right="Moorings\nNotions: stitch marker, darning needle\nCast on 12 sts.\n"
    "Row 1 (RS): K6, pm, k6.\nRow 2: P12.\n",
)
def not_in_materials(case: Case) -> Iterable[Finding]:
    if not any(fact.value.strip() for fact in facts(case, "notions", "materials")):
        return
    from chartc.facts import parse_notions
    from chartc.handbook import notions

    listed = {
        one.key
        for fact in facts(case, *LISTS)
        for one in parse_notions(fact.value) or ()
        if one.key
    }
    all_lists = " ".join(fact.value.lower() for fact in facts(case, *LISTS))
    # a list of yarn and needles only leaves the notions to the knitter
    milder = {} if listed or any(facts(case, "notions")) else {"severity": REMARK}
    for notion in notions():
        if not notion.called or notion.key in AT_HAND or notion.key in listed:
            continue
        if any(o in listed for o in notion.instead):
            continue
        if any(re.search(rf"\b{re.escape(name)}s?\b", all_lists) for name in notion.names):
            continue
        shape = re.compile(
            r"(?<![a-z])(?:" + "|".join(re.escape(one) for one in notion.called) + r")(?![a-z])"
        )
        for start, text in body(case):
            hit = shape.search(text)
            if hit is not None:
                yield found(
                    "not-in-materials", Span(start + hit.start(), start + hit.end()),
                    f"this calls for a {notion.key}, and none is in the materials", **milder,
                )  # fmt: skip
                break


@check(
    "not-called-for",
    REMARK,
    "something is listed that is never used",
    family="materials",
    why="A list carried over from another pattern sends the knitter shopping for nothing.",
    wrong="Moorings\nNotions: cable needle, darning needle\nCast on 12 sts.\n"
    "Row 1 (RS): K12.\nRow 2: P12.\nWeave in ends.\n",
    right="Moorings\nNotions: darning needle\nCast on 12 sts.\nRow 1 (RS): K12.\nRow 2: P12.\n"
    "Weave in ends.\n",
)
def not_called_for(case: Case) -> Iterable[Finding]:
    if not any(facts(case, "notions")):
        return
    from chartc.facts import parse_notions
    from chartc.handbook import notions

    called = {one.key: one for one in notions()}
    lines = [text for _, text in body(case)]
    plain = "\n".join([*lines, case.source.plain.lower()]) if not lines else "\n".join(lines)
    cables = any(own.stitch is not None and own.stitch.kind == "cable" for own in case.pattern.own)
    used = {row_stitch.kind for row_stitch in _stitches(case)}
    for fact in facts(case, "notions"):
        for one in parse_notions(fact.value) or ():
            notion = called.get(one.key)
            if notion is None or one.key in AT_HAND or one.key == "spare needle":
                continue
            if one.key == "cable needle" and (cables or "cable" in used):
                continue
            words = (*notion.called, *notion.names)
            if one.key in ("stitch holder", "scrap yarn"):
                words = (*words, "hold", "held", "holder", "waste", "scrap", "provisional", "spare")
            if any(re.search(rf"(?<![a-z]){re.escape(w)}s?(?![a-z])", plain) for w in words):
                continue
            span = moved(one.span, fact.value_span.start)
            yield found("not-called-for", span, f"the {one.key} is listed but nothing calls for it")


def _stitches(case: Case) -> Iterator[Stitch]:
    for row in case.rows:
        for step in walk(row.steps):
            if isinstance(step, Work):
                yield step.stitch


# ------------------------------------------------------------------ needles


def needles(case: Case) -> list[tuple[NeedleFact, int]]:
    """The needles listed, with where the text they were read from begins."""
    out: list[tuple[NeedleFact, int]] = []
    for fact in facts(case, "needles", "materials"):
        from chartc.facts import parse_needles

        listed = parse_needles(fact.value)
        if listed is not None:
            out.extend((one, fact.value_span.start) for one in listed.needles)
    return out


@check(
    "needle-labels-differ",
    DOUBTFUL,
    "two labels of one needle do not agree",
    family="materials",
    why="Millimetres and the US or old UK number printed for a needle should name the same one.",
    wrong="Moorings\nNeedles: 5 mm (US 6)\nCast on 12 sts.\nRow 1 (RS): K12.\n",
    right="Moorings\nNeedles: 4 mm (US 6)\nCast on 12 sts.\nRow 1 (RS): K12.\n",
)
def needle_labels_differ(case: Case) -> Iterable[Finding]:
    for one, start in needles(case):
        from chartc.fitting.agreement import needle_labels

        trouble = told_or_none(needle_labels, one.mm, one.us, one.uk)
        if trouble is not None:
            yield found(
                "needle-labels-differ", moved(one.span, start), trouble.message, hint=trouble.hint
            )


_MM = re.compile(r"(?<![\d.])(\d{1,2}(?:[.,]\d{1,2})?)\s*-?\s*mm\b")


@check(
    "needle-not-listed",
    DOUBTFUL,
    "a needle is used that is not listed",
    family="materials",
    why="The needles named in the instructions should be those of the list.",
    wrong="Moorings\nNeedles: 4 mm\n\nWith 3.5 mm needles, cast on 12 sts.\nRow 1 (RS): K12.\n",
    right="Moorings\nNeedles: 4 mm and 3.5 mm\n\nWith 3.5 mm needles, cast on 12 sts.\n"
    "Row 1 (RS): K12.\n",
)
def needle_not_listed(case: Case) -> Iterable[Finding]:
    listed = {one.mm for one, _ in needles(case) if one.mm is not None}
    if not listed:
        return
    told: set[Fraction] = set()
    for start, text in body(case):
        for hit in _MM.finditer(text):
            size = Fraction(hit[1].replace(",", "."))
            if size in listed or size in told or not 1 <= size <= 25:
                continue
            if not re.match(r"[^.;]{0,30}\b(?:needles?|circular|dpns?|hook)", text[hit.end() :]):
                continue
            told.add(size)
            yield found(
                "needle-not-listed", Span(start + hit.start(), start + hit.end()),
                f"a {hit[1]} mm needle is used here and not listed",
            )  # fmt: skip


@check(
    "needle-too-long",
    DOUBTFUL,
    "the circular needle is longer than the round",
    family="materials",
    why="A circular needle must be shorter than the knitting is around, or the stitches do not "
    "reach.",
    wrong="Cuff\nNeedles: 4 mm circular, 80 cm long\nGauge: 20 sts and 28 rnds = 10 cm\n"
    "Worked: in the round\nCast on 40 sts and join in the round.\nRnd 1: Knit.\n",
    right="Cuff\nNeedles: set of 4 mm double-pointed needles\nGauge: 20 sts and 28 rnds = 10 cm\n"
    "Worked: in the round\nCast on 40 sts and join in the round.\nRnd 1: Knit.\n",
)
def needle_too_long(case: Case) -> Iterable[Finding]:
    listed = [one for one, _ in needles(case)]
    lengths = [length for one in listed for length in one.lengths]
    if not lengths or any("double-pointed" in one.kinds for one in listed):
        return
    if re.search(r"magic loop|two circular|dpns?\b|double[- ]point|travelling loop", case.source.plain, re.I):
        return
    gauges = list(read_gauges(case))
    if len(gauges) != 1:
        return
    from chartc.fitting.agreement import gauge_from, needle_against_stitches

    shortest = min(lengths, key=lambda one: one.mm)
    gauge = gauge_from(gauges[0], "cm" if shortest.unit != "in" else "in")
    if gauge is None:
        return

    def fits(count: int) -> Disagreement | None:
        return told_or_none(needle_against_stitches, count, gauge, shortest)

    for section in case.pattern.sections:
        for at, it in enumerate(section.flow):
            joined = isinstance(it, CastOn) and (
                it.join or any(isinstance(n, Join) and n.in_round for n in section.flow[at + 1 : at + 2])
            )
            if not joined:
                continue
            assert isinstance(it, CastOn)
            bad = [
                size
                for size in range(len(case.pattern.sizes))
                if (trouble := fits(it.count.at(size))) is not None
                and trouble.kind == "needle too long"
                and gauge.width_mm(it.count.at(size)) < shortest.mm
            ]
            if bad:
                trouble = fits(it.count.at(bad[0]))
                assert trouble is not None
                yield found(
                    "needle-too-long", it.count.span, case.in_sizes(bad) + trouble.message,
                    hint=trouble.hint, sizes=case.names(bad),
                )  # fmt: skip


# ------------------------------------------------------------------ figures


@check(
    "units-differ",
    DOUBTFUL,
    "a measure in centimetres and in inches is not the same",
    family="materials",
    why="The two printings of one measure agree within one percent or to the nearest eighth of an "
    "inch.",
    wrong="Moorings\nFinished width: 84 cm (34 in)\nCast on 12 sts.\nRow 1 (RS): K12.\n",
    right="Moorings\nFinished width: 84 cm (33 in)\nCast on 12 sts.\nRow 1 (RS): K12.\n",
)
def units_differ(case: Case) -> Iterable[Finding]:
    if not any(facts(case, "finished", "sizes", "to fit", "yarn", "materials")):
        return
    from chartc.facts import parse_lengths, parse_yarns
    from chartc.fitting.agreement import cm_against_inches, yards_against_metres

    for fact in facts(case, "finished", "sizes", "to fit"):
        lengths = parse_lengths(fact.value)
        for pair in lengths.pairs() if lengths is not None else ():
            trouble = told_or_none(cm_against_inches, pair.metric, pair.inches)
            if trouble is not None and pair.inches.span is not None:
                yield found(
                    "units-differ", moved(pair.inches.span, fact.value_span.start),
                    trouble.message, hint=trouble.hint,
                )  # fmt: skip
    for fact in facts(case, "yarn", "materials"):
        for yarn in parse_yarns(fact.value) or ():
            yards = next((one for one in yarn.put_up if one.unit == "yd"), None)
            metres = next((one for one in yarn.put_up if one.unit == "m"), None)
            if yards is not None and metres is not None:
                trouble = told_or_none(yards_against_metres, yards.values[0], metres.values[0])
                if trouble is not None:
                    yield found(
                        "units-differ", moved(yards.span, fact.value_span.start),
                        trouble.message, hint=trouble.hint,
                    )  # fmt: skip


def read_gauges(case: Case) -> Iterator[GaugeFact]:
    for fact in facts(case, "gauge"):
        from chartc.facts import parse_gauges

        yield from (one for one in parse_gauges(fact.value) or () if one.stitches)


@check(
    "measure-does-not-agree",
    DOUBTFUL,
    "gauge and stitches do not give the measure stated",
    family="materials",
    why="Stitches divided by gauge give the width. Where the other sizes agree and one does not, "
    "the measure or the count is a slip.",
    wrong="Hatband\nSizes: S (M, L)\nFinished circumference: 40 (47, 50) cm\n"
    "Gauge: 20 sts and 28 rnds = 10 cm\nWorked: in the round\n"
    "Cast on 80 (90, 100) sts and join in the round.\nRnd 1: Knit.\n",
    right="Hatband\nSizes: S (M, L)\nFinished circumference: 40 (45, 50) cm\n"
    "Gauge: 20 sts and 28 rnds = 10 cm\nWorked: in the round\n"
    "Cast on 80 (90, 100) sts and join in the round.\nRnd 1: Knit.\n",
)
def measure_does_not_agree(case: Case) -> Iterable[Finding]:
    if not any(facts(case, "finished")):
        return
    from chartc.facts import parse_lengths

    gauges = list(read_gauges(case))
    if len(gauges) != 1:
        return
    for fact in facts(case, "finished"):
        words = case.at(Span(fact.span.start, fact.value_span.end))
        if not (_AROUND.search(words) or _WIDE.search(words)):
            continue
        lengths = parse_lengths(fact.value)
        if lengths is None or lengths.to_fit:
            continue
        for one in lengths.lists[:1]:
            if one.to_fit or one.unit not in ("cm", "in") or len(lengths.lists) > 2:
                continue
            yield from _measure(case, fact, one, gauges[0])


def _measure(case: Case, fact: Fact, one: LengthList, stated: GaugeFact) -> Iterator[Finding]:
    from chartc.fitting.agreement import gauge_from, size_against_gauge

    unit: LengthUnit = "in" if one.unit == "in" else "cm"
    gauge = gauge_from(stated, unit)
    sizes = len(case.pattern.sizes)
    if gauge is None or len(one.values) not in (1, sizes) or any(v.to is not None for v in one.values):
        return
    values = [one.values[0 if len(one.values) == 1 else s].value for s in range(sizes)]

    def bad(counts: dict[int, int], pieces: int) -> list[int]:
        return [
            s for s in range(sizes)
            if s not in counts
            or told_or_none(size_against_gauge, counts[s], gauge, values[s], unit, pieces=pieces)
            is not None
        ]  # fmt: skip

    best: tuple[int, list[int], dict[int, int], int] | None = None
    for counts in _counts(case.counted.entries):
        for pieces in (1, 2):
            wrong = bad(counts, pieces)
            if not wrong:
                return
            if best is None or len(wrong) < best[0]:
                best = (len(wrong), wrong, counts, pieces)
    if best is None or sizes < 3 or best[0] * 3 > sizes:
        return
    _, wrong, counts, pieces = best
    for s in wrong:
        if s in counts:
            trouble = told_or_none(size_against_gauge, counts[s], gauge, values[s], unit, pieces=pieces)
            if trouble is None:
                continue
            yield found(
                "measure-does-not-agree",
                moved(one.values[s if len(one.values) > 1 else 0].span, fact.value_span.start),
                case.in_sizes([s]) + trouble.message, hint=trouble.hint, sizes=case.names([s]),
            )  # fmt: skip


def _counts(entries: Iterable[LedgerEntry]) -> Iterator[dict[int, int]]:
    seen: set[tuple[tuple[int, int], ...]] = set()
    for entry in entries:
        counts = {s.size_index: s.after for s in entry.sizes if s.after}
        key = tuple(sorted(counts.items()))
        if key not in seen:
            seen.add(key)
            yield counts

