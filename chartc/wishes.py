"""What a proved text says for a fitting: gauge, sizes, the counts that work, lengths, ribs.

`fit_request` reads it off the text; what the text does not say, the caller does.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction

from chartc.counting import Works
from chartc.counting.records import rows_in
from chartc.facts import parse_gauges, parse_lengths, parse_needles, parse_sizes, parse_yarns
from chartc.fitting import (
    ANY_COUNT,
    Ball,
    Ease,
    FitRequest,
    FittingProblem,
    Gauge,
    LengthWish,
    SizeWish,
    Swatch,
    Working,
    gauge_from,
    show_ease,
    wishes_from_table,
)
from chartc.fitting.numbers import Progression
from chartc.measures import LengthUnit, read_number, show_cm, to_mm
from chartc.pattern import Again, Instruction, Pattern, Plain, Reach, Repeat, Row, UntilKind, Work
from chartc.proof import Proof

_EASE = re.compile(
    r"(?P<n>\d+(?:[.,]\d+)?(?:\s*\d/\d|[½¼¾])?)\s*(?P<unit>cm|in(?:ch(?:es)?)?|\")?\s+(?:of\s+)?"
    r"(?P<way>positive|negative)\s+ease",
    re.IGNORECASE,
)
_AROUND = re.compile(
    r"\b(bust|chest|head|foot|hand|waist|hips?|circumference|width|wide|around)\b", re.IGNORECASE
)
_LENGTH = re.compile(
    r"\b(?:length|long|seam|deep|depth|high|height|upper arm|sleeve)\b", re.IGNORECASE
)


def fit_request(
    proof: Proof,
    *,
    gauge: str = "",
    body: str = "",
    ease: str = "",
    table: str = "",
    swatch: str = "",
) -> FitRequest:
    """The fitting a text asks for.

    gauge    "20 sts and 28 rows = 10 cm"; "" as the text has it
    body     body measures, "81 (89, 97) cm"; "" as the text has them: the sizes to fit, else
             the finished measures
    ease     "5 cm", "-2.5 cm", or a word ("classic"); "" as the text has it, else none
    table    a published body table ("women bust"): its sizes in place of those of the text
    swatch   "15 x 15 cm, 9 g": measured and weighed, for the yarn

    Raises FittingProblem, in plain words, when something needed is neither in the text nor
    given.
    """
    pattern = proof.pattern
    unit: LengthUnit = "in" if re.search(r"\d\s*(?:in\b|inch|\")", body) else "cm"
    found = _gauge(pattern, gauge, unit)
    wishes, measure, in_text = _sizes(pattern, body, _ease(ease), table)
    if len(pattern.sizes) > 1 and len(wishes) not in (1, len(pattern.sizes)) and not table:
        raise FittingProblem(
            f"{len(wishes)} measures are given for {len(pattern.sizes)} sizes "
            f"({', '.join(pattern.sizes)})"
        )
    at, share = _where(proof, found, wishes, measure) if in_text else (0, Fraction(1))
    sets = _working(proof, at)
    if len(sets) != 1 and len(sets) != len(wishes):
        sets = sets[:1]
    needle_mm, lengths_mm = _needles(pattern)
    return FitRequest(
        gauge=found,
        sizes=wishes,
        working=sets or (ANY_COUNT,),
        measure=measure,
        title=pattern.title,
        share=share,
        in_round=pattern.construction != "flat" and share == 1,
        lengths=tuple(_lengths(pattern, len(wishes))),
        ribs=tuple(_ribs(pattern)),
        needle_mm=needle_mm,
        needle_lengths_mm=lengths_mm or None,
        swatch=_swatch(swatch),
        ball=_ball(pattern),
    )


# ------------------------------------------------------------------ gauge


def _gauge(pattern: Pattern, given: str, unit: LengthUnit) -> Gauge:
    texts = [given] if given else [f.value for f in pattern.facts if f.key == "gauge"]
    for text in texts:
        for fact in parse_gauges(text) or ():
            found = gauge_from(fact, unit)
            if found is not None:
                return found
    if given:
        raise FittingProblem(
            f"“{given}” is no gauge; give one like “20 sts and 28 rows = 10 cm”"
        )
    raise FittingProblem(
        "the text gives no gauge; give one with --gauge “20 sts and 28 rows = 10 cm”"
    )


# ------------------------------------------------------------------ sizes


def _ease(text: str) -> Ease | None:
    if not text:
        return None
    number = re.fullmatch(r"\s*([+\-−]?)\s*(\d[\d.,/ ½¼¾]*)\s*(cm|in(?:ch(?:es)?)?|\")?\s*", text)
    if number is None:
        return Ease.named(text)
    value = read_number(number[2].strip().replace(",", "."))
    sign = -1 if number[1] in ("-", "−") else 1
    return Ease.of(sign * value, "in" if (number[3] or "cm")[0] in 'i"' else "cm")


def _sizes(
    pattern: Pattern, body: str, ease: Ease | None, table: str
) -> tuple[tuple[SizeWish, ...], str, bool]:
    """The sizes wanted, what is measured, and whether the text tells them."""
    none = Ease.of(0)
    if table:
        return wishes_from_table(table, ease or none), table.split()[-1], False
    if body:
        lengths = parse_lengths(body if re.search(r"cm|in|mm|\"", body) else f"{body} cm")
        if lengths is None or not lengths.lists:
            raise FittingProblem(f"“{body}” is no measure; give it like “81 (89, 97) cm”")
        one = lengths.lists[0]
        values = [one.mm(i) for i in range(len(one.values))]
        return _wishes(pattern, values, ease or none), "measure", False
    for fact in pattern.facts:
        if fact.key != "sizes":
            continue
        sizes = parse_sizes(pattern_text(fact.key, fact.value))
        fits = parse_lengths(fact.value)
        if fits is None or not fits.lists or fits.lists[0].unit not in ("cm", "in", "mm"):
            continue
        if sizes is not None and len(fits.lists[0].values) not in (1, max(1, len(pattern.sizes))):
            continue
        values = [fits.lists[0].mm(i) for i in range(len(fits.lists[0].values))]
        told = _EASE.search(fact.value)
        if ease is None and told is not None:
            sign = "-" if told["way"].lower() == "negative" else ""
            ease = _ease(f"{sign}{told['n']} {told['unit'] or 'cm'}")
        return _wishes(pattern, values, ease or none), "body", True
    for fact in pattern.facts:
        if fact.key != "finished":
            continue
        if _LENGTH.search(fact.value) and not _AROUND.search(fact.value):
            continue
        lengths = parse_lengths(fact.value)
        if lengths is None or not lengths.lists or lengths.lists[0].unit not in ("cm", "in", "mm"):
            continue
        one = lengths.lists[0]
        values = [one.mm(i) for i in range(len(one.values))]
        return _wishes(pattern, values, ease or none), "finished measure", True
    raise FittingProblem(
        "the text gives no measure to fit; give one with --body “81 (89, 97) cm” or --table"
    )


def pattern_text(key: str, value: str) -> str:
    """A fact as it is printed, for the parsers that look at its head too."""
    return value if key == "sizes" else f"{key}: {value}"


def _wishes(
    pattern: Pattern, values: Sequence[Fraction | None], ease: Ease
) -> tuple[SizeWish, ...]:
    names = [name or "the piece" for name in pattern.sizes]
    if len(values) == 1 and len(names) > 1:
        values = [values[0]] * len(names)
    if len(values) != len(names):
        names = [str(i + 1) for i in range(len(values))]
    out = []
    for name, value in zip(names, values, strict=True):
        if value is None or value <= 0:
            raise FittingProblem(f"the measure of {name} is not above 0")
        out.append(SizeWish(name, value, ease))
    return tuple(out)


# ------------------------------------------------------------------ what works


def _working(proof: Proof, at: int) -> tuple[Working, ...]:
    """The counts that work from a cast-on, for each size, or of the stitch pattern."""
    texts = proof.counted.whole
    if texts:
        spans = list(dict.fromkeys(one.span for one in texts))
        sets = [one.works for one in texts if one.span == spans[at]]
    else:
        section = next((s for s in proof.counted.sections if s.works is not None), None)
        sets = [] if section is None or section.works is None else [(section.works, *section.more)]
    return tuple(_as_working(works) for works in sets if works)


def _as_working(works: Sequence[Works]) -> Working:
    progressions = []
    singles = []
    for one in works:
        if one.multiple == 0:
            singles.append(one.plus)
        elif one.most is not None and (one.most - one.least) // one.multiple < 5000:
            singles.extend(range(one.least, one.most + 1, one.multiple))
        else:
            progressions.append(Progression(one.least, one.multiple))
    return Working(tuple(progressions), tuple(sorted(set(singles))))


def _where(
    proof: Proof, gauge: Gauge, wishes: Sequence[SizeWish], measure: str
) -> tuple[int, Fraction]:
    """The cast-on (by number) the measure is taken at, and what share of the measure its
    stitches are: all of it, or half for a front or back.

    Raises FittingProblem when the measure is plainly taken elsewhere.
    """
    texts = proof.counted.whole
    spans = list(dict.fromkeys(one.span for one in texts))
    best: tuple[Fraction, int, Fraction] | None = None
    for at, span in enumerate(spans):
        here = [one for one in texts if one.span == span]
        if len(here) != len(wishes):
            continue
        in_round = proof.pattern.sections[here[0].section].in_round
        for share in (Fraction(1),) if in_round else (Fraction(1), Fraction(1, 2)):
            off = max(
                abs(gauge.width_mm(one.printed) / (wish.wanted_mm * share) - 1)
                for one, wish in zip(here, wishes, strict=True)
            )
            if off < Fraction(1, 4) and (best is None or off < best[0]):
                best = (off, at, share)
    if best is not None:
        return best[1], best[2]
    for entry in proof.counted.entries if texts else ():
        counts = {one.size_index: one.after for one in entry.sizes}
        known = [(counts.get(i) or 0, wish) for i, wish in enumerate(wishes)]
        if all(n and abs(gauge.width_mm(n) - wish.wanted_mm) < 20 for n, wish in known):
            line = proof.source.locate(entry.span.start)[0]
            place = f"{proof.pattern.sections[entry.section].name or 'the rows'}, line {line}"
            told = "; ".join(
                f"{wish.name}: {n} sts, {show_cm(gauge.width_mm(n))}, "
                f"ease {show_ease(gauge.width_mm(n) - wish.body_mm)}"
                for n, wish in known
            )
            raise FittingProblem(
                f"the {measure} is not measured at a cast-on of this text but at {place}, where "
                f"the counts are fixed ({told})"
            )
    if spans:
        raise FittingProblem(
            f"no cast-on of this text is near the {measure}; say what its stitches are to measure "
            "with --body"
        )
    return 0, Fraction(1)


# ------------------------------------------------------------------ lengths, ribs, needles, yarn


def _lengths(pattern: Pattern, sizes: int) -> Iterator[LengthWish]:
    """Every "until it measures" of the text."""
    for section in pattern.sections:
        for it in section.flow:
            until = it.until if isinstance(it, Again | Plain) else None
            if until is None or until.kind is not UntilKind.LENGTH or not until.tenths_mm:
                continue
            if not until.from_here and section is not pattern.sections[0]:
                continue
            mm = tuple(Fraction(tenths, 10) for tenths in until.tenths_mm)
            if len(mm) not in (1, sizes) or any(one <= 0 for one in mm):
                continue
            repeat = max(1, rows_in(it.rows, 0)) if isinstance(it, Again) else 1
            yield LengthWish(section.name or "Length", mm, repeat)


def _ribs(pattern: Pattern) -> Iterator[tuple[int, int]]:
    seen: set[tuple[int, int]] = set()
    stack: list[Instruction] = [it for s in pattern.sections for it in s.flow]
    for it in stack:
        if not isinstance(it, Row) or len(it.steps) != 1:
            continue
        step = it.steps[0]
        if not isinstance(step, Repeat) or step.target is None or step.target.reach is not Reach.END:
            continue
        body = step.body
        if len(body) == 2 and all(isinstance(s, Work) and not s.times.sized for s in body):
            keys = [s.stitch.key for s in body if isinstance(s, Work)]
            widths = [s.times.values[0] for s in body if isinstance(s, Work)]
            if keys == ["k", "p"] and (widths[0], widths[1]) not in seen:
                seen.add((widths[0], widths[1]))
                yield widths[0], widths[1]


def _needles(pattern: Pattern) -> tuple[Fraction | None, tuple[Fraction, ...]]:
    sizes: list[Fraction] = []
    lengths: list[Fraction] = []
    for fact in pattern.facts:
        listed = parse_needles(fact.value) if fact.key in ("needles", "materials") else None
        for one in listed.needles if listed is not None else ():
            if one.mm is not None:
                sizes.append(one.mm)
            lengths.extend(length.mm for length in one.lengths)
    return (max(sizes) if sizes else None), tuple(dict.fromkeys(sorted(lengths)))


def _ball(pattern: Pattern) -> Ball | None:
    for fact in pattern.facts:
        for yarn in (parse_yarns(fact.value) or ()) if fact.key in ("yarn", "materials") else ():
            if yarn.grams:
                return Ball.of(yarn.grams, yarn.metres)
    return None


def _swatch(text: str) -> Swatch | None:
    if not text:
        return None
    shape = re.fullmatch(
        r"\s*(\d+(?:[.,]\d+)?)\s*(?:x|×|by)\s*(\d+(?:[.,]\d+)?)\s*(cm|mm|in(?:ch(?:es)?)?|\")\s*[,;]?"
        r"\s*(\d+(?:[.,]\d+)?)\s*(?:g|grams?)\s*",
        text,
        re.IGNORECASE,
    )
    if shape is None:
        raise FittingProblem(f"“{text}” is no swatch; give it like “15 x 15 cm, 9 g”")
    unit: LengthUnit = {"c": "cm", "m": "mm"}.get(shape[3][0].lower(), "in")  # type: ignore[assignment]
    width, length, grams = (Fraction(shape[k].replace(",", ".")) for k in (1, 2, 4))
    return Swatch.of(to_mm(width, unit), to_mm(length, unit), grams)
