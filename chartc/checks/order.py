"""The order of the rows: missing, twice, out of order, sides that do not alternate."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Iterator, Sequence

from chartc.checks.case import Case
from chartc.checks.words_of import and_list
from chartc.counting import events as ev
from chartc.findings import Finding, Repair, Severity, check, found
from chartc.pattern import Instruction, Row, Section, Turn
from chartc.source import Span

WRONG = Severity.WRONG
DOUBTFUL = Severity.DOUBTFUL
REMARK = Severity.REMARK

_ROW_WORD = re.compile(r"\brows?\b", re.IGNORECASE)
_ROUND_WORD = re.compile(r"\b(?:rnds?|rounds?)\b", re.IGNORECASE)
_SIDE = re.compile(r"\b(?:RS|WS|right[- ]side|wrong[- ]side|right side|wrong side)\b", re.IGNORECASE)


def runs(section: Section) -> Iterator[list[Row]]:
    """Rows that follow one another by number with nothing else between them."""
    run: list[Row] = []
    for it in section.flow:
        if isinstance(it, Row) and it.number is not None:
            if run and it.number <= (run[-1].number or 0):
                yield run
                run = []
            run.append(it)
        elif not _is_rest(it):
            if run:
                yield run
            run = []
    if run:
        yield run


def _is_rest(it: Instruction) -> bool:
    return isinstance(it, Row) and it.number is None and not it.steps


def word(row: Row) -> str:
    return "rnd" if row.in_round else "row"


@check(
    "row-missing",
    WRONG,
    "a row is missing",
    family="order",
    why="The numbers of the rows leave one out, and no line such as “all WS rows” fills the gap.",
    wrong="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit.\nRow 2: Purl.\nRow 4: K2, p8, k2.\n",
    right="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit.\nRow 2: Purl.\nRow 3: Knit.\n"
    "Row 4: K2, p8, k2.\n",
)
def row_missing(case: Case) -> Iterable[Finding]:
    told: set[Span] = set()
    for section in case.pattern.sections:
        for run in runs(section):
            if len({row.head for row in run}) < 2:
                continue  # a single line: the others are not given here at all
            for before, row in itertools.pairwise(run):
                assert before.number is not None and row.number is not None
                gap = range(before.number + 1, row.number)
                if not gap or row.head in told or len(gap) > 400:
                    continue
                if _worked_elsewhere(section, gap):
                    continue
                told.add(row.head)
                names = [str(n) for n in gap] if len(gap) <= 4 else [f"{gap[0]} to {gap[-1]}"]
                yield found(
                    "row-missing",
                    row.head,
                    f"{word(row)}{'s' if len(gap) > 1 else ''} {and_list(names)} "
                    f"{'are' if len(gap) > 1 else 'is'} missing between {word(row)} "
                    f"{before.number} and {word(row)} {row.number}",
                    hint="a row may have been left out, or the number may be a slip",
                )


def missing_numbers(section: Section) -> Iterator[int]:
    """The numbers of the rows that are missing within the runs of a section."""
    for run in runs(section):
        for before, row in itertools.pairwise(run):
            gap = range((before.number or 0) + 1, row.number or 0)
            if gap and len(gap) <= 400 and not _worked_elsewhere(section, gap):
                yield from gap


def _worked_elsewhere(section: Section, gap: range) -> bool:
    """Whether the missing numbers are printed in another statement of the section."""
    have = {row.number for row in section.written if row.number is not None}
    return any(n in have for n in gap)


@check(
    "row-twice",
    WRONG,
    "a row is given twice",
    family="order",
    why="Two rows bear the same number; the knitter cannot tell which one holds.",
    wrong="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit.\nRow 2: Purl.\nRow 2: K2, p8, k2.\n"
    "Row 3: Knit.\n",
    right="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit.\nRow 2: K2, p8, k2.\nRow 3: Knit.\n",
)
def row_twice(case: Case) -> Iterable[Finding]:
    for remark in case.remarks("row-twice"):
        yield case.told("row-twice", remark)


@check(
    "row-out-of-order",
    DOUBTFUL,
    "a row is written out of its order",
    family="order",
    why="The rows are worked by their numbers; a row printed later than its number says is easily "
    "missed, or its number is a slip.",
    wrong="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit.\nRow 3: K2, p8, k2.\nRow 2: Purl.\n",
    right="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit.\nRow 2: Purl.\nRow 3: K2, p8, k2.\n",
)
def row_out_of_order(case: Case) -> Iterable[Finding]:
    for section in case.pattern.sections:
        last: Row | None = None
        several: set[int] = set()
        for row in section.written:
            if row.number is None:
                continue
            if last is not None and row.head == last.head:
                several.add(row.head.start)
                continue
            if last is not None and last.number is not None:
                steps_back = 1 < row.number < last.number
                if steps_back and not ({row.head.start, last.head.start} & several):
                    if not _several(case, row) and not _several(case, last):
                        yield found(
                            "row-out-of-order",
                            row.head,
                            f"{word(row)} {row.number} is written after "
                            f"{word(last)} {last.number}",
                        )
            last = row


def _several(case: Case, row: Row) -> bool:
    """Whether a label names more than one row."""
    text = case.at(row.head)
    return len(re.findall(r"\d+", text)) > 1 or bool(
        re.search(r"\b(?:all|every|each|alt|even|odd|rem|foll)", text, re.IGNORECASE)
    )


@check(
    "sides-do-not-alternate",
    WRONG,
    "right-side and wrong-side rows do not alternate",
    family="order",
    why="Worked flat, every other row is a right-side row. A label that says otherwise sends the "
    "pattern to the wrong face of the fabric.",
    wrong="Moorings\nWorked: flat\nCast on 12 sts.\nRow 1 (RS): Knit.\nRow 2 (RS): Purl.\n"
    "Row 3 (RS): Knit.\n",
    right="Moorings\nWorked: flat\nCast on 12 sts.\nRow 1 (RS): Knit.\nRow 2 (WS): Purl.\n"
    "Row 3 (RS): Knit.\n",
)
def sides(case: Case) -> Iterable[Finding]:
    told: set[Span] = set()
    for section in case.pattern.sections:
        for run in runs(section):
            labelled = [
                row for row in run
                if row.side and not row.in_round and _SIDE.search(case.at(row.head))
            ]  # fmt: skip
            if any(_turns(row) for row in run) or len(labelled) < 2:
                continue
            votes = [(row.side == "RS") == (row.number or 0) % 2 for row in labelled]
            right = _most(votes)
            for row, vote in zip(labelled, votes, strict=True):
                if vote == right or row.head in told:
                    continue
                told.add(row.head)
                other = "WS" if row.side == "RS" else "RS"
                where = _SIDE.search(case.source.text, row.head.start, row.head.end)
                span = Span(*where.span()) if where is not None else row.head
                first = labelled[0] if labelled[0] is not row else labelled[1]
                yield found(
                    "sides-do-not-alternate",
                    span,
                    f"{word(row)} {row.number} is labelled {row.side}, but with {word(first)} "
                    f"{first.number} on the {first.side} it is a {other} row",
                    repairs=(Repair(span, other),) if case.at(span) in ("RS", "WS") else (),
                )


def _turns(row: Row) -> bool:
    return any(isinstance(step, Turn) for step in row.steps)


def _most(votes: Sequence[bool]) -> bool:
    """What most rows say; the first one decides when it is a draw."""
    yes = sum(votes)
    return votes[0] if yes * 2 == len(votes) else yes * 2 > len(votes)


@check(
    "round-called-row",
    DOUBTFUL,
    "rows and rounds are mixed up",
    family="order",
    why="A round is worked on without turning; a row is turned. Where one line of a run of rounds "
    "says “row”, the knitter may turn.",
    wrong="Moorings\nWorked: in the round\nCast on 12 sts.\nRnd 1: Knit.\nRow 2: Purl.\n"
    "Rnd 3: Knit.\n",
    right="Moorings\nWorked: in the round\nCast on 12 sts.\nRnd 1: Knit.\nRnd 2: Purl.\n"
    "Rnd 3: Knit.\n",
)
def round_called_row(case: Case) -> Iterable[Finding]:
    for section in case.pattern.sections:
        heads: dict[Span, bool] = {}
        for row in section.written:
            text = case.at(row.head)
            rows, rounds = bool(_ROW_WORD.search(text)), bool(_ROUND_WORD.search(text))
            if row.number is not None and rows != rounds and not _turns(row):
                heads[row.head] = rounds
        if len(set(heads.values())) < 2:
            continue
        rounds_many = sum(heads.values()) * 2 >= len(heads)
        odd = [head for head, rounds in heads.items() if rounds != rounds_many]
        if len(odd) * 3 > len(heads) or len(odd) > 2:
            continue  # a part worked back and forth, or joined on the way
        for head in odd:
            wanted, is_now = ("round", "row") if rounds_many else ("row", "round")
            where = (_ROW_WORD if rounds_many else _ROUND_WORD).search(
                case.source.text, head.start, head.end
            )
            span = Span(*where.span()) if where is not None else head
            yield found(
                "round-called-row", span, f"this is called a {is_now} among {wanted}s",
                hint=f"say {wanted}, or say where the work is joined or turned",
            )  # fmt: skip


@check(
    "row-not-there",
    WRONG,
    "rows are named that do not exist",
    family="order",
    why="“Rep rows 1-10” needs ten rows. The number is a slip, or rows are missing.",
    wrong="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit.\nRow 2: Purl.\n"
    "Rep rows 1-4 three more times.\n",
    right="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit.\nRow 2: Purl.\n"
    "Rep rows 1-2 three more times.\n",
)
def row_not_there(case: Case) -> Iterable[Finding]:
    remarks = case.remarks("row-not-there")
    if not remarks:
        return
    missing = {n for section in case.pattern.sections for n in missing_numbers(section)}
    for remark in remarks:
        named = re.match(r"this repeats rows? (\d+)(?: to (\d+))?,", remark.message)
        if named is not None:
            numbers = range(int(named[1]), int(named[2] or named[1]) + 1)
            if len(numbers) <= 40 and missing.issuperset(numbers):
                continue  # they are missing among the rows, and told so there
        yield case.told("row-not-there", remark)


@check(
    "row-range-backwards",
    WRONG,
    "a range of rows runs backwards",
    family="order",
    why="“Rows 8-1” is no run of rows.",
    wrong="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit.\nRow 2: Purl.\n"
    "Rep rows 2-1 three more times.\n",
    right="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit.\nRow 2: Purl.\n"
    "Rep rows 1-2 three more times.\n",
)
def row_range_backwards(case: Case) -> Iterable[Finding]:
    for remark in case.remarks("row-range-backwards"):
        yield case.told("row-range-backwards", remark)


@check(
    "ending-cannot-be",
    WRONG,
    "the repetition never ends on the side the text names",
    family="order",
    why="A block with an even number of rows that begins on the right side always ends on the "
    "wrong side.",
    wrong="Moorings\nWorked: flat\nGauge: 20 sts and 28 rows = 10 cm\nCast on 12 sts.\n"
    "Row 1 (RS): Knit.\nRow 2: Purl.\n"
    "Rep rows 1 and 2 until piece measures 10 cm, ending with a RS row.\n",
    right="Moorings\nWorked: flat\nGauge: 20 sts and 28 rows = 10 cm\nCast on 12 sts.\n"
    "Row 1 (RS): Knit.\nRow 2: Purl.\n"
    "Rep rows 1 and 2 until piece measures 10 cm, ending with a WS row.\n",
)
def ending_cannot_be(case: Case) -> Iterable[Finding]:
    for group in case.groups_of(ev.SIDE_CANNOT):
        yield found(
            "ending-cannot-be",
            group.span,
            f"these rows always end on the other side, never with a {group.first.words} row",
            sizes=case.names(group.sizes),
        )
