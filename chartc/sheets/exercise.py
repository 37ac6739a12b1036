"""The exercise sheet: a sound pattern with slips put in on purpose, and the answers.

Every slip is a change of the text such as happens in writing and setting; the changed text is
proved, and only a slip that the proof finds, in the very row or where it comes to light, is
used. The choice depends on the seed alone: the same seed gives the same sheet.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from chartc.findings import Finding, Severity
from chartc.pattern import Mark, Repeat, Row, Step, Work, walk
from chartc.proof import Proof, prove
from chartc.sheets.classsheet import caution_box, owner_box, version_words
from chartc.sheets.document import (
    Bit,
    Blank,
    Block,
    Box,
    Document,
    Group,
    Heading,
    Items,
    Line,
    Pairs,
    Para,
    Table,
    cell,
    line,
    strong,
)
from chartc.sheets.front import abbreviations_used
from chartc.sheets.gather import squeezed
from chartc.sheets.options import SheetOptions, SheetProblem
from chartc.sheets.wordbook import foot, in_terms, listed, usage_of
from chartc.source import Source, Span
from chartc.vocabulary import load_vocabulary

KINDS: dict[str, str] = {
    "left-out": "a stitch left out",
    "twice": "a stitch set twice",
    "wrong-stitch": "one stitch in place of another",
    "wrong-number": "a wrong number in a row",
    "stated-count": "a stated count that does not agree",
    "repeat-end": "a repeat that ends in the wrong place",
    "row-number": "a row with the wrong number",
    "bracket": "a bracket or star that is missing",
}
LEVELS: dict[int, tuple[tuple[str, ...], int, str]] = {
    1: (("left-out", "twice", "stated-count", "row-number"), 1,
        "One slip. It shows in the count, or in the numbers of the rows."),
    2: (("left-out", "twice", "wrong-stitch", "wrong-number", "repeat-end", "stated-count"), 2,
        "Two slips, in different rows."),
    3: (tuple(KINDS), 3, "Three slips of any kind, in different rows."),
}  # fmt: skip


MOST_BEGINNINGS = 5
MOST_TRIED = 16  # slips tried from one beginning


@dataclass(frozen=True, slots=True)
class Planted:
    """A slip put into the text.

    kind     key of KINDS
    span     passage of the sound text that was changed; `old` and `new` its words
    row      label of the row it stands in
    finding  what the proof says of the changed text
    why      what it does, in a sentence
    """

    kind: str
    span: Span
    old: str
    new: str
    row: str
    row_span: Span
    finding: Finding
    why: str


def exercise_sheet(
    proof: Proof,
    options: SheetOptions | None = None,
    *,
    seed: int = 1,
    kinds: Sequence[str] = (),
    level: int = 1,
) -> tuple[Document, Document]:
    """The exercise and its answers.

    seed    another number, another choice of slips
    kinds   keys of KINDS to choose from; () those of the level
    level   1 to 3: how many slips, and how well hidden
    Raises SheetProblem when the pattern is not sound, or no slip of the kinds wanted can be
    put in so that the proof finds it.
    """
    options = options or SheetOptions()
    proof = in_terms(proof, options)
    usual, many, said = _level(level, kinds)
    if not proof.sound:
        raise SheetProblem(
            f"{proof.source.name}: something is wrong with this pattern already; an exercise "
            "needs a sound one (chartc proof tells what is wrong)"
        )
    planted = plant(proof, seed, kinds or usual, many)
    if not planted:
        wanted = listed([KINDS[kind] for kind in (kinds or usual)], "or")
        raise SheetProblem(f"{proof.source.name}: there is no place here for {wanted}")
    text = changed(proof.source.text, planted)
    again = prove(Source(proof.source.name, text))
    if len(planted) != many:
        said = f"{'One slip' if len(planted) == 1 else f'{len(planted)} slips'} in this text."
    return (
        _exercise(proof, again, options, planted, said, level, seed),
        _answers(proof, again, options, planted, level, seed),
    )


def _level(level: int, kinds: Sequence[str]) -> tuple[tuple[str, ...], int, str]:
    if level not in LEVELS:
        raise SheetProblem(f"the level is 1, 2 or 3, not {level}")
    unknown = [kind for kind in kinds if kind not in KINDS]
    if unknown:
        raise SheetProblem(
            f"there is no kind of slip {unknown[0]}; there are: {listed(list(KINDS))}"
        )
    return LEVELS[level]


# ------------------------------------------------------------------ planting


def plant(proof: Proof, seed: int, kinds: Sequence[str], many: int) -> tuple[Planted, ...]:
    """Up to `many` slips of these kinds, each in a row of its own, in the order of the text."""
    candidates = [one for one in _candidates(proof) if one[0] in kinds]
    # the order is that of a sum over seed and place: the same everywhere and always
    candidates.sort(key=lambda one: _sum(seed, one[0], one[1]))
    best: list[Planted] = []
    missed: set[tuple[str, Span]] = set()  # not found even when nothing else is wrong
    # a first slip may leave no room for others: a few beginnings are tried
    for first in range(min(MOST_BEGINNINGS, len(candidates)) if many > 1 else 1):
        found = _planted(proof, candidates[first:], many, missed)
        if len(found) > len(best):
            best = found
        if len(best) == many:
            break
    return tuple(sorted(best, key=lambda slip: slip.span))


def _planted(
    proof: Proof, candidates: Sequence[_Candidate], many: int, missed: set[tuple[str, Span]]
) -> list[Planted]:
    """Slips one after the other, as long as the proof still finds all of them."""
    chosen: list[_Candidate] = []
    found: list[Planted] = []
    used: set[str] = set()
    tried = 0
    for spread in (True, False):  # different kinds first, then any
        for one in candidates:
            if len(chosen) == many or tried >= MOST_TRIED:
                break
            if any(one[4] == other[4] for other in chosen) or (spread and one[0] in used):
                continue
            if one[:2] in missed:
                continue
            tried += 1
            trial = [*chosen, one]
            told = _all_found(proof, trial)
            if told is not None:
                chosen, found = trial, told
                used.add(one[0])
            elif not chosen:
                missed.add(one[:2])
    return found


_Candidate = tuple[str, Span, str, Row, Span]  # kind, span, new words, row, statement


def _sum(seed: int, kind: str, span: Span) -> bytes:
    return hashlib.sha256(f"{seed}/{kind}/{span.start}/{span.end}".encode()).digest()


def changed(text: str, slips: Sequence[Planted | _Candidate]) -> str:
    """The text with the slips in it."""
    edits = [
        (slip.span, slip.new) if isinstance(slip, Planted) else (slip[1], slip[2]) for slip in slips
    ]
    for span, new in sorted(edits, reverse=True):
        text = text[: span.start] + new + text[span.end :]
    return text


def _all_found(proof: Proof, slips: Sequence[_Candidate]) -> list[Planted] | None:
    """The slips with what the proof says of each; None when it misses one of them."""
    text = proof.source.text
    again = prove(Source(proof.source.name, changed(text, slips)))
    before = {(f.check, squeezed(proof.source.at(f.span))) for f in proof.findings}
    new = [
        f for f in again.findings
        if (f.check, squeezed(again.source.at(f.span))) not in before
        and f.severity is not Severity.REMARK
    ]  # fmt: skip
    starts = sorted(row.span.start for row in _rows(proof))
    told = []
    taken: set[int] = set()
    for kind, span, new_words, row, statement in sorted(slips, key=lambda one: one[1]):
        shift = sum(len(s[2]) - (s[1].end - s[1].start) for s in slips if s[1] < span)
        grown = len(new_words) - (span.end - span.start)
        low = statement.start + shift
        high = statement.end + shift + grown
        # it may come to light in the next row, and nowhere later
        later = [start for start in starts if start >= statement.end]
        limit = (later[1] if len(later) > 1 else len(text)) + shift + grown
        here = [i for i, f in enumerate(new) if i not in taken and low <= f.span.start < high]
        after = [i for i, f in enumerate(new) if i not in taken and high <= f.span.start < limit]
        if not here and (not after or len(slips) > 1):
            return None
        first = (here or after)[0]
        taken.update(here)
        told.append(Planted(
            kind, span, text[span.start : span.end], new_words,
            squeezed(row.label), statement, new[first],
            _why(kind, squeezed(text[span.start : span.end]), squeezed(new_words)),
        ))  # fmt: skip
    return told


def _rows(proof: Proof) -> list[Row]:
    seen: set[Span] = set()
    rows = []
    for section in proof.pattern.sections:
        for it in section.flow:
            if isinstance(it, Row) and it.readable and it.span not in seen:
                seen.add(it.span)
                rows.append(it)
    return rows


def _candidates(proof: Proof) -> Iterator[_Candidate]:
    """Every slip that could be put in."""
    text = proof.source.text
    for row in _rows(proof):
        inside = [
            step for step in walk(row.steps)
            if row.body.start <= step.span.start < step.span.end <= row.body.end
        ]  # fmt: skip
        for kind, span, new in _in_row(text, row, inside):
            if text[span.start : span.end] != new:
                yield kind, span, new, row, row.span


def _in_row(text: str, row: Row, steps: Sequence[Step]) -> Iterator[tuple[str, Span, str]]:
    vocabulary = load_vocabulary()
    for step in steps:
        words = text[step.span.start : step.span.end]
        if isinstance(step, Work):
            single = step.stitch
            if single.net != 0 and not step.times.sized and step.times.values[0] == 1:
                yield "left-out", *_without(text, step.span, row)
                yield "twice", step.span, f"{words}, {words[:1].lower()}{words[1:]}"
                if single.kind == "decrease" and single.uses == 3:
                    lesser = vocabulary.get("p2tog" if "p" in (single.heads or ("",)) else "k2tog")
                    yield "wrong-stitch", step.span, lesser.us
                elif single.kind == "decrease" and single.uses == 2:
                    yield "wrong-stitch", step.span, "p2" if single.heads[:1] == ("p",) else "k2"
            number = re.search(r"\d+", words)
            if number and not step.times.sized and step.stitch.key in ("k", "p"):
                value = int(number[0])
                for other in (value + 1, value - 1) if value > 1 else (value + 1,):
                    new = words[: number.start()] + str(other) + words[number.end() :]
                    yield "wrong-number", step.span, new
        elif isinstance(step, Repeat):
            opening = words[:1]
            if opening in "([*":
                yield "bracket", Span(step.span.start, step.span.start + 1), ""
            last = re.search(r"last (\d+) st", words)
            if last:
                span = Span(step.span.start + last.start(1), step.span.start + last.end(1))
                yield "repeat-end", span, str(int(last[1]) + 1)
                if int(last[1]) > 1:
                    yield "repeat-end", span, str(int(last[1]) - 1)
        elif isinstance(step, Mark):
            continue
    for stated in row.stated:
        if stated.kind in ("total", "repeat") and row.body.start <= stated.span.start:
            words = text[stated.span.start : stated.span.end]
            number = re.search(r"\d+", words)
            if number:
                span = Span(stated.span.start + number.start(), stated.span.start + number.end())
                yield "stated-count", span, str(int(number[0]) + 1)
                yield "stated-count", span, str(max(1, int(number[0]) - 2))
    head = text[row.head.start : row.head.end]
    number = re.search(r"\d+", head)
    if number and row.number is not None and not re.search(r"\d\D+\d", head):
        span = Span(row.head.start + number.start(), row.head.start + number.end())
        yield "row-number", span, str(int(number[0]) + 1)


def _without(text: str, span: Span, row: Row) -> tuple[Span, str]:
    """The passage of a stitch with the comma beside it."""
    after = re.match(r"\s*,\s*", text[span.end : row.body.end])
    if after:
        kept = text[span.start].isupper()
        rest = text[span.end + after.end() : span.end + after.end() + 1]
        if kept and rest.islower():
            return Span(span.start, span.end + after.end() + 1), rest.upper()
        return Span(span.start, span.end + after.end()), ""
    before = re.search(r",\s*$", text[row.body.start : span.start])
    if before:
        return Span(row.body.start + before.start(), span.end), ""
    return span, ""


def _why(kind: str, old: str, new: str) -> str:
    old, new = old.strip(" ,;"), new.strip(" ,;")
    return {
        "left-out": f"“{old}” was left out.",
        "twice": f"“{old}” stands twice.",
        "wrong-stitch": f"“{new}” stands for “{old}”: they do not use the same number of stitches.",
        "wrong-number": f"“{new}” stands for “{old}”.",
        "stated-count": f"The count given is {new}; worked as written it is {old}.",
        "repeat-end": f"The repeat should stop at the last {old}, not at the last {new}.",
        "row-number": f"The row is numbered {new} and should be {old}.",
        "bracket": f"“{old}” is missing: nobody can tell where the repeat begins.",
    }[kind]


# ------------------------------------------------------------------ the sheets


def _subtitle(options: SheetOptions, level: int, seed: int) -> str:
    return "; ".join([f"Level {level}, sheet {seed}", *version_words(options)])


def _numbered(proof: Proof, marks: Sequence[Span] = ()) -> list[Block]:
    """The text of the pattern with its lines numbered."""
    source = proof.source
    rows = []
    first = proof.pattern.sections[0].span.start if proof.pattern.sections else 0
    for number in range(source.locate(first)[0], source.line_count + 1):
        span = source.line_span(number)
        text = source.at(span).strip()
        if not text:
            continue
        bits: list[Bit] = []
        at = span.start + len(source.at(span)) - len(source.at(span).lstrip())
        for mark in sorted(marks):
            low, high = max(at, mark.start), min(span.end, mark.end)
            if low < high:
                bits.append(Bit(source.text[at:low]))
                bits.append(Bit(source.text[low:high], "own"))
                at = high
        bits.append(Bit(source.text[at : span.end].rstrip()))
        rows.append(
            (cell(Bit(str(number), "soft"), right=True), cell(tuple(b for b in bits if b.text)))
        )
    return [Table(("line", "as written"), tuple(rows), (9.0, 160.0), label="The pattern",
                  rights=(0,))]  # fmt: skip


def _exercise(
    proof: Proof, again: Proof, options: SheetOptions, planted: Sequence[Planted], said: str,
    level: int, seed: int,
) -> Document:  # fmt: skip
    blocks: list[Block] = [
        Para(line("Somewhere in this pattern something is wrong. ", said), "lead"),
        Heading(2, "How to look"),
        Items((
            (line("Begin at the cast on and count every row: what it uses must be what there is."),),
            (line("For each repeat add up what one time through takes and what it makes."),),
            (line("Compare your count with every number the pattern states."),),
            (line("Where the count is off, look at that row first and then at the one before."),),
        ), ordered=True),
        Heading(2, "The pattern"),
        *_numbered(again),
    ]  # fmt: skip
    if level == 1:
        kinds = listed([KINDS[kind] for kind in dict.fromkeys(p.kind for p in planted)])
        blocks.insert(1, Para(line("A hint: look for ", kinds, ".")))
    text = "\n".join(again.source.at(row.span) for row in _rows(again))
    used = abbreviations_used(text)
    stitches = []
    usage = usage_of(again, options)
    for key in again.pattern.used_terms:
        stitch = load_vocabulary().find(key)
        if stitch is not None and stitch.title:
            name = (stitch.uk if usage == "uk" else stitch.us) or stitch.key
            title = stitch.title[:1].upper() + stitch.title[1:]
            stitches.append((name, f"{title}: takes {stitch.uses}, leaves {stitch.makes}."))
    pairs = sorted([*stitches, *used], key=lambda pair: pair[0].lower())
    if pairs:
        listed_pairs = Pairs(tuple((name, line(what)) for name, what in pairs), 2)
        blocks.append(Group((Heading(2, "Stitches and abbreviations"), listed_pairs)))
    answers: list[Block] = [
        Blank(("Line:", "What is wrong:", "What it should be:", "The count it gives, and the right one:"))
    ] * len(planted)  # fmt: skip
    blocks.append(Heading(2, "Your answer" if len(planted) == 1 else "Your answers"))
    blocks += [Group((one,)) for one in answers]
    blocks += caution_box(proof, "exercise", usage)
    blocks.append(owner_box(options))
    return Document(
        again.pattern.title or "Pattern", "Find the slip" if len(planted) == 1 else "Find the slips",
        _subtitle(options, level, seed), foot(proof, options) + f", exercise {level}-{seed}",
        tuple(blocks), options,
    )  # fmt: skip


def _answers(
    proof: Proof, again: Proof, options: SheetOptions, planted: Sequence[Planted], level: int,
    seed: int,
) -> Document:  # fmt: skip
    blocks: list[Block] = [
        Para(line("For the teacher. Each slip was put in on purpose, and each is found by the "
                  "proof of the text as printed."), "lead")
    ]  # fmt: skip
    for number, slip in enumerate(planted, 1):
        where, _ = again.source.locate(_moved(slip, planted))
        row = squeezed(proof.source.at(slip.row_span))
        wrong = squeezed(changed(proof.source.text, planted)[
            _new_start(slip.row_span.start, planted) : _new_start(slip.row_span.end, planted)
        ])  # fmt: skip
        counts = _count_lines(proof, slip)
        blocks.append(Group((
            Heading(2, f"{number}. Line {where}: {KINDS[slip.kind]}"),
            Table(("", "the row"), (
                (cell("as printed", head=True), cell(wrong)),
                (cell("as it should be", head=True), cell(row)),
            ), (28.0, 140.0), label="The row wrong and right"),
            Para(line(strong("What happened: "), slip.why)),
            *(Para(one) for one in counts),
            Para(line(strong("What the proof says: "), _sentence(slip.finding.message))),
        )))  # fmt: skip
    others = _others(again, planted)
    if others:
        blocks.append(Heading(2, "What follows from it"))
        blocks.append(Items(tuple(
            (line(f"Line {again.source.locate(f.span.start)[0]}: ", _sentence(f.message)),)
            for f in others
        )))  # fmt: skip
    blocks.append(Heading(2, "The text as printed, the slips marked"))
    spans = []
    for slip in planted:
        start = _moved(slip, planted)
        spans.append(Span(max(0, start - (not slip.new)), start + max(1, len(slip.new))))
    blocks += _numbered(again, spans)
    blocks.append(Box("For the record", (
        Para(line(f"Level {level}, sheet {seed}. The same pattern, level and number give the same "
                  "slips again.")),
    ), "note"))  # fmt: skip
    return Document(
        proof.pattern.title or "Pattern", "Answers", _subtitle(options, level, seed),
        foot(proof, options) + f", answers {level}-{seed}", tuple(blocks), options,
    )  # fmt: skip


def _sentence(message: str) -> str:
    return message[:1].upper() + message[1:] + "."


def _new_start(at: int, planted: Sequence[Planted]) -> int:
    """Where a place of the sound text stands in the changed one."""
    grown = 0
    for slip in planted:
        if slip.span.end <= at:
            grown += len(slip.new) - (slip.span.end - slip.span.start)
    return at + grown


def _moved(slip: Planted, planted: Sequence[Planted]) -> int:
    return _new_start(slip.span.start, [one for one in planted if one is not slip])


def _others(again: Proof, planted: Sequence[Planted]) -> list[Finding]:
    said = {(slip.finding.check, slip.finding.span) for slip in planted}
    return [
        f for f in again.findings
        if (f.check, f.span) not in said and f.severity is not Severity.REMARK
    ]  # fmt: skip


def _count_lines(proof: Proof, slip: Planted) -> list[Line]:
    """The count of the row right and wrong, in the first size."""
    for section, counted in enumerate(proof.counted.sections):
        for place, entry in enumerate(counted.entries):
            if entry.row is None or entry.row.span != slip.row_span or not entry.sizes:
                continue
            one = entry.sizes[0]
            if one.before is None or one.after is None:
                return []
            key = f"{section}.{place}.{one.size_index}"
            size = proof.pattern.sizes[one.size_index]
            of = f" (size {size})" if size else ""
            return [line(
                strong("The right count: "), "before the row ",
                Bit(str(one.before), "", f"{key}.before"), ", after it ",
                Bit(str(one.after), "strong", f"{key}.after"), f"{of}.",
            )]  # fmt: skip
    return []
