"""The words: terms explained and used, both ways."""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Iterable, Iterator

from chartc.checks.case import Case
from chartc.findings import Finding, Severity, check, found
from chartc.source import Span
from chartc.vocabulary import load_vocabulary

DOUBTFUL = Severity.DOUBTFUL
REMARK = Severity.REMARK

# terms every knitter has; no list need explain them (decision of the project)
BASICS = frozenset(
    ["k", "p", "yo", "sl", "k2tog", "p2tog", "st", "sts", "stitch", "stitches", "rep", "rnd", "rnds", "row", "rows", "rs", "ws", "co", "bo", "inc", "dec", "beg", "rem", "cont", "foll", "alt", "patt", "tog", "tbl", "cm", "in", "ins", "mm", "g", "no", "approx", "pm", "sm"]
)
BASIC_STITCHES = frozenset({"k", "p", "yo", "yo2", "sl", "k2tog", "p2tog", "bo", "co"})
_ENTRY_START = r"(?:^|[;\n\u2022])[ \t]*"
_ENTRY_END = r"(?:\(s\))?[ \t]*(?:=|:|\u2013|\u2014|[ \t]-[ \t])"


def has_list(case: Case) -> bool:
    """Whether the text has a list of abbreviations (and not only of special stitches)."""
    return case.pattern.fact("abbreviations") is not None and len(case.pattern.explained) >= 3


def list_lines(case: Case) -> set[int]:
    """The lines in which terms are explained, with those they run on over."""
    source = case.source
    spans = sorted(case.pattern.explained.values())
    if not spans:
        return set()
    lines = {source.locate(span.start)[0] for span in spans}
    low, high = min(lines), max(lines)
    fact = case.pattern.fact("abbreviations")
    if fact is not None:
        lines.add(source.locate(fact.span.start)[0])
    # a list stands in one block: lines between two entries belong to it
    ordered = sorted(lines)
    for one, two in itertools.pairwise(ordered):
        if two - one <= 4:
            lines.update(range(one, two))
    after = high + 1
    while after <= source.line_count and source.at(source.line_span(after)).strip():
        text = source.at(source.line_span(after)).strip()
        if re.match(r"(?:row|rnd|round|cast on|co\b|\d+(?:st|nd|rd|th)\b|with\b|next\b)", text, re.I):
            break
        if not text[:1].islower():
            break
        lines.add(after)
        after += 1
    del low
    return lines


@check(
    "term-not-explained",
    DOUBTFUL,
    "an abbreviation is used but not explained",
    family="words",
    why="Where a text lists its abbreviations, a knitter looks there for every one of them. The "
    "basics (k, p, yo, k2tog, st, rep ...) need no explanation.",
    wrong="Moorings\nAbbreviations: k = knit; p = purl; st(s) = stitch(es); yo = yarn over\n\n"
    "Cast on 12 sts.\nRow 1 (RS): K3, yo, sk2p, yo, k6.\nRow 2: P12.\n",
    right="Moorings\nAbbreviations: k = knit; p = purl; st(s) = stitch(es); yo = yarn over; "
    "sk2p = slip 1, k2tog, pass slipped st over\n\n"
    "Cast on 12 sts.\nRow 1 (RS): K3, yo, sk2p, yo, k6.\nRow 2: P12.\n",
)
def term_not_explained(case: Case) -> Iterable[Finding]:
    if not has_list(case):
        return
    explained = case.pattern.explained
    known = set(explained)
    vocabulary = load_vocabulary()
    for name in explained:
        stitch = vocabulary.named(name)
        if stitch is not None:
            known.add(stitch.key)
    known |= {own.stitch.key for own in case.pattern.own if own.stitch is not None}
    told: set[str] = set()
    for key, span in sorted(case.pattern.used_terms.items(), key=lambda one: one[1]):
        text = case.at(span)
        name = _abbreviation(text)
        if not name or key in BASIC_STITCHES or name in BASICS or key in known or name in known:
            continue
        if name in told or any(part in known for part in re.split(r"[\s-]+", name) if len(part) > 2):
            continue
        if _letters(name) in {_letters(one) for one in known}:
            continue
        told.add(name)
        yield found(
            "term-not-explained", span, f"“{text}” is used but not among the abbreviations",
            hint="explain it where the other abbreviations are explained",
        )  # fmt: skip


@check(
    "stitch-left-open",
    DOUBTFUL,
    "a stitch that every pattern works in its own way is not explained",
    family="words",
    why="There are many bobbles and many nupps: how many loops, how many rows, how they are taken "
    "together. The count can only be trusted when the pattern says so.",
    wrong="Moorings\n\nCast on 12 sts.\nRow 1 (RS): K5, MB, k6.\nRow 2: P12.\n",
    right="Moorings\nMB: (K1, yo, k1) in next st, turn, p3, turn, sk2p.\n\n"
    "Cast on 12 sts.\nRow 1 (RS): K5, MB, k6.\nRow 2: P12.\n",
)
def stitch_left_open(case: Case) -> Iterable[Finding]:
    vocabulary = load_vocabulary()
    for key, span in sorted(case.pattern.used_terms.items(), key=lambda one: one[1]):
        stitch = vocabulary.find(key)
        if stitch is None or stitch.kind != "bobble" or not stitch.asks:
            continue
        own = [*case.pattern.explained, *(one.name for one in case.pattern.own)]
        if {key, case.at(span).lower()} & {name.lower() for name in own}:
            continue
        yield found(
            "stitch-left-open", span, f"the text does not say {stitch.asks}",
            hint="explain it where the other stitches are explained",
        )  # fmt: skip


def _letters(name: str) -> str:
    return re.sub(r"[^a-z]+", "", name)


def _abbreviation(text: str) -> str:
    """The text of a stitch as an abbreviation, lower case; "" when it is told in words."""
    name = re.sub(r"\s*(?:\d+\s*times|twice|once)$", "", text.lower())
    words = re.findall(r"[a-z]+", name)
    if any(len(word) > 4 for word in words) or "," in name or len(words) > 3:
        return ""
    if len(words) > 1 and all(len(word) > 2 for word in words):
        return ""
    return re.sub(r"(?<=[kp])\s*\d+$", "", name) if re.fullmatch(r"[kp]\s*\d+", name) else name


@check(
    "term-not-used",
    REMARK,
    "an abbreviation is explained but not used",
    family="words",
    why="A list that explains what the pattern does not use has been carried over from another.",
    wrong="Moorings\nAbbreviations: k = knit; p = purl; st(s) = stitch(es); "
    "sk2p = slip 1, k2tog, pass slipped st over\n\nCast on 12 sts.\nRow 1 (RS): K12.\n"
    "Row 2: P12.\n",
    right="Moorings\nAbbreviations: k = knit; p = purl; st(s) = stitch(es)\n\n"
    "Cast on 12 sts.\nRow 1 (RS): K12.\nRow 2: P12.\n",
)
def term_not_used(case: Case) -> Iterable[Finding]:
    explained = case.pattern.explained
    if not explained:
        return
    lines = list_lines(case)
    body = [
        case.source.plain[span.start : span.end]
        for line in range(1, case.source.line_count + 1)
        if line not in lines
        for span in (case.source.line_span(line),)
    ]
    text = "\n".join(body).lower()
    vocabulary = load_vocabulary()
    used = set(case.pattern.used_terms)
    listed = _list_words(case, lines)
    for name, span in sorted(explained.items(), key=lambda one: one[1]):
        plain = re.sub(r"\(.*?\)", "", name).strip()
        if not re.search(r"[a-z]", plain) or plain in used:
            continue
        stitch = vocabulary.named(plain)
        if stitch is not None and stitch.key in used:
            continue
        if _stands_in(plain, text) or listed[plain] > 1:
            continue
        yield found("term-not-used", span, f"“{case.at(span)}” is explained but not used")


def _stands_in(name: str, text: str) -> bool:
    shape = r"\s*".join(re.escape(part) for part in re.split(r"\s+", name))
    shape = re.sub(r"\\?#|\bn\b|\bx\b", r"\\d+", shape)
    shape = re.sub(r"\d+", lambda m: m[0] if name[:1].isdigit() or len(name) < 7 else r"\d+", shape)
    if re.search(rf"(?<![a-z]){shape}(?:s|es|\(s\)|'d|d|ed)?(?![a-z])", text):
        return True
    # "Cn" explained for "C4F", "M1L" for "m1l"
    loose = re.sub(r"\d+", r"\\d+", re.escape(name))
    return bool(re.search(rf"(?<![a-z]){loose}s?(?![a-z])", text))


def _list_words(case: Case, lines: set[int]) -> Counter[str]:
    """How often each explained term stands in the list itself: it may be used to explain
    another (which counts as use)."""
    text = "\n".join(
        case.source.plain[span.start : span.end].lower()
        for line in sorted(lines)
        for span in (case.source.line_span(line),)
    )
    counts: Counter[str] = Counter()
    for name in case.pattern.explained:
        plain = re.sub(r"\(.*?\)", "", name).strip()
        if plain:
            shape = re.escape(plain)
            counts[plain] = len(re.findall(rf"(?<![a-z0-9]){shape}(?:s|\(s\))?(?![a-z])", text))
    return counts


@check(
    "term-explained-twice",
    DOUBTFUL,
    "an abbreviation is explained twice",
    family="words",
    why="Two explanations of one term, and the knitter cannot tell which holds.",
    wrong="Moorings\nAbbreviations: k = knit; p = purl; sk2p = slip 1, k2tog, pass slipped st over; "
    "st = stitch; sk2p = slip 2, knit 1, pass both over\n\nCast on 12 sts.\n"
    "Row 1 (RS): K5, sk2p, k4.\nRow 2: P10.\n",
    right="Moorings\nAbbreviations: k = knit; p = purl; sk2p = slip 1, k2tog, pass slipped st over; "
    "st = stitch\n\nCast on 12 sts.\nRow 1 (RS): K5, sk2p, k4.\nRow 2: P10.\n",
)
def term_explained_twice(case: Case) -> Iterable[Finding]:
    lines = list_lines(case)
    if not lines:
        return
    for block in _blocks(case, lines):
        text = case.source.plain[block.start : block.end]
        text = re.sub(r"^(\s*(?:special\s+)?(?:abbreviations|stitches|terms)[^:\n]{0,30}:)",
                      lambda m: " " * (len(m[0]) - 1) + ";", text, flags=re.I)  # fmt: skip
        for name, span in case.pattern.explained.items():
            if not block.start <= span.start < block.end:
                continue
            shape = re.compile(rf"{_ENTRY_START}({re.escape(name)}){_ENTRY_END}", re.I)
            places = [m.start(1) for m in shape.finditer(text)]
            if len(places) > 1:
                at = block.start + places[1]
                line = case.source.locate(block.start + places[0])[0]
                yield found(
                    "term-explained-twice", Span(at, at + len(name)),
                    f"“{case.at(Span(at, at + len(name)))}” is explained twice, first in line {line}",
                )  # fmt: skip


def _blocks(case: Case, lines: set[int]) -> Iterator[Span]:
    ordered = sorted(lines)
    start = 0
    for k in range(1, len(ordered) + 1):
        if k == len(ordered) or ordered[k] != ordered[k - 1] + 1:
            first, last = case.source.line_span(ordered[start]), case.source.line_span(ordered[k - 1])
            yield first.join(last)
            start = k
