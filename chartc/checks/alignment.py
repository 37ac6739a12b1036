"""Slips that leave every count as it is: seen only because the rows about them are regular.

All of these are doubts, never faults: a designer may mean it so.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from chartc.checks.case import Case
from chartc.checks.words_of import sts
from chartc.counting import Works
from chartc.findings import Finding, Repair, Severity, check, found
from chartc.pattern import Fill, Repeat, Row, Section, Work
from chartc.source import Span
from chartc.vocabulary import load_vocabulary

DOUBTFUL = Severity.DOUBTFUL

MOST_ROWS = 120
MOST_CELLS = 160


@dataclass(frozen=True)
class Cell:
    """One stitch of a row: its key, the key of its mirror image, and where it stands."""

    key: str
    mirror: str
    span: Span


@dataclass(frozen=True)
class Line:
    """A row statement with its stitches one by one, the open repeat once."""

    row: Row
    cells: tuple[Cell, ...]

    @property
    def keys(self) -> tuple[str, ...]:
        return tuple(cell.key for cell in self.cells)

    @property
    def plain(self) -> bool:
        return len(set(self.keys)) <= 1

    def odd(self) -> list[int]:
        """Places (of the right half of the row) that differ from the mirror image."""
        n = len(self.cells)
        return [i for i in range((n + 1) // 2) if self.cells[i].key != self.cells[n - 1 - i].mirror]


def lines_of(section: Section) -> list[Line]:
    """The numbered rows of a section in working order, each as worked once."""
    out: list[Line] = []
    seen: set[tuple[Span, int | None]] = set()
    for it in section.flow:
        if not isinstance(it, Row) or it.number is None or (it.span, it.number) in seen:
            continue
        seen.add((it.span, it.number))
        cells = tuple(cells_of(it.steps))
        if cells and len(cells) <= MOST_CELLS:
            out.append(Line(it, cells))
        if len(out) >= MOST_ROWS:
            break
    return out


def cells_of(steps: Sequence[object]) -> Iterator[Cell]:
    for step in steps:
        if isinstance(step, Work):
            stitch = step.stitch
            for _ in range(min(80, step.times.values[0])):
                yield Cell(stitch.key, stitch.mirror or stitch.key, step.span)
        elif isinstance(step, Repeat):
            times = 1 if step.times is None else min(12, step.times.values[0])
            for _ in range(times):
                yield from cells_of(step.body)
        elif isinstance(step, Fill):
            key = step.stitch.key if step.stitch is not None else "set"
            yield Cell(f"{key}...", f"{key}...", step.span)
        else:
            span: Span = step.span  # type: ignore[attr-defined]
            yield Cell(type(step).__name__, type(step).__name__, span)


@check(
    "edges-differ",
    DOUBTFUL,
    "one end of a row is not the mirror image of the other",
    family="alignment",
    why="All rows about it begin and end alike; in this one a single stitch at one end is another "
    "than at the other. The count is right, so only the look of the rows tells.",
    wrong="Basket\nMultiple: 8 sts + 5\nRow 1 (RS): P1, *k3, p5; rep from * to last 4 sts, k3, p1.\n"
    "Row 2: K1, *p3, k5; rep from * to last 4 sts, p3, k1.\n"
    "Row 3: P1, *k3, p5; rep from * to last 4 sts, k3, k1.\n"
    "Row 4: K1, *p3, k5; rep from * to last 4 sts, p3, k1.\n",
    right="Basket\nMultiple: 8 sts + 5\nRow 1 (RS): P1, *k3, p5; rep from * to last 4 sts, k3, p1.\n"
    "Row 2: K1, *p3, k5; rep from * to last 4 sts, p3, k1.\n"
    "Row 3: P1, *k3, p5; rep from * to last 4 sts, k3, p1.\n"
    "Row 4: K1, *p3, k5; rep from * to last 4 sts, p3, k1.\n",
)
def edges_differ(case: Case) -> Iterable[Finding]:
    for section in case.pattern.sections:
        lines = [line for line in lines_of(section) if not line.plain]
        if len(lines) < 4:
            continue
        odd = [line for line in lines if skew(line)]
        if len(odd) != 1 or len(skew(odd[0])) != 1:
            continue
        line = odd[0]
        place = skew(line)[0]
        ends = whole_row(line)
        first, last = ends[place], ends[len(ends) - 1 - place]
        if place > 2 or {first.key, last.key} > {"k", "p"} or not {first.key, last.key} <= {"k", "p"}:
            continue
        number = line.row.number
        yield found(
            "edges-differ", last.span,
            f"row {number} begins with {_worked(first)} and ends with {_worked(last)}; every "
            "other row here begins and ends alike",
        )  # fmt: skip


def whole_row(line: Line) -> tuple[Cell, ...]:
    """The row with its repeat worked often enough to be looked at from both ends: the head and
    the first repeat, the last repeat and the tail."""
    steps = line.row.steps
    opens = [k for k, s in enumerate(steps) if isinstance(s, Repeat) and s.target is not None]
    if len(opens) != 1:
        return line.cells
    k = opens[0]
    body = tuple(cells_of(steps[k : k + 1]))
    return (*cells_of(steps[:k]), *body, *body, *cells_of(steps[k + 1 :]))


def skew(line: Line) -> list[int]:
    return Line(line.row, whole_row(line)).odd()


def _worked(cell: Cell) -> str:
    return {"k": "a knit st", "p": "a purl st"}.get(cell.key, f"“{cell.key}”")


@check(
    "decreases-swapped",
    DOUBTFUL,
    "two mirror-image decreases seem to have changed places",
    family="alignment",
    why="In the rows about it the left-leaning decrease comes first; here the right-leaning one. "
    "The count is the same either way.",
    wrong="Crown\nWorked: in the round\nCast on 60 sts and join in the round.\n"
    "Rnd 1: *K1, ssk, k7, k2tog; rep from * around. (50 sts)\n"
    "Rnd 2: *K1, ssk, k5, k2tog; rep from * around. (40 sts)\n"
    "Rnd 3: *K1, k2tog, k3, ssk; rep from * around. (30 sts)\n"
    "Rnd 4: *K1, ssk, k1, k2tog; rep from * around. (20 sts)\n",
    right="Crown\nWorked: in the round\nCast on 60 sts and join in the round.\n"
    "Rnd 1: *K1, ssk, k7, k2tog; rep from * around. (50 sts)\n"
    "Rnd 2: *K1, ssk, k5, k2tog; rep from * around. (40 sts)\n"
    "Rnd 3: *K1, ssk, k3, k2tog; rep from * around. (30 sts)\n"
    "Rnd 4: *K1, ssk, k1, k2tog; rep from * around. (20 sts)\n",
)
def decreases_swapped(case: Case) -> Iterable[Finding]:
    vocabulary = load_vocabulary()
    for section in case.pattern.sections:
        shapes: dict[tuple[str, ...], list[Line]] = {}
        for line in lines_of(section):
            shapes.setdefault(_shape(line), []).append(line)
        for shape, here in shapes.items():
            leaning = [key for key in shape if key not in ("k", "p")]
            turned = tuple(_turned(key, vocabulary) for key in shape)
            if len(leaning) != 2 or leaning[0] == leaning[1] or turned == shape:
                continue
            if _turned(leaning[0], vocabulary) != leaning[1]:
                continue
            others = shapes.get(turned, [])
            if len(here) == 1 and len(others) >= 3:
                line = here[0]
                cells = [c for c in line.cells if c.key in leaning]
                span = cells[0].span.join(cells[-1].span)
                first, last = case.at(cells[0].span), case.at(cells[-1].span)
                between = case.source.at(Span(cells[0].span.end, cells[-1].span.start))
                yield found(
                    "decreases-swapped", span,
                    f"here “{first}” comes before “{last}”; in {len(others)} other rows it is the "
                    "other way round",
                    repairs=(Repair(span, f"{last}{between}{first}"),),
                )  # fmt: skip


def _shape(line: Line) -> tuple[str, ...]:
    """The stitches of a row in order, runs of one kind told once."""
    out: list[str] = []
    for cell in line.cells:
        if not out or out[-1] != cell.key:
            out.append(cell.key)
    return tuple(out)


def _turned(key: str, vocabulary: object) -> str:
    stitch = load_vocabulary().find(key)
    if stitch is None or stitch.kind != "decrease":
        return key
    return stitch.mirror or key


@check(
    "mirror-row-differs",
    DOUBTFUL,
    "a row differs from the one it mirrors",
    family="alignment",
    why="From the middle on the rows repeat those before it in reverse order, all but one. The "
    "counts agree, so only the order of the rows tells.",
    wrong="Diamonds\nMultiple: 8 sts\nRow 1 (RS): *K6, p1, k1; rep from * to end.\n"
    "Row 2: *K1, p1, k1, p5; rep from * to end.\nRow 3: *P1, k3; rep from * to end.\n"
    "Row 4: *P4, k1, p1, k1, p1; rep from * to end.\nRow 5: *K2, p1, k5; rep from * to end.\n"
    "Row 6: *P4, k1, p1, k1, p1; rep from * to end.\nRow 7: *P1, k3; rep from * to end.\n"
    "Row 8: *K1, p1, k5, p1; rep from * to end.\n",
    right="Diamonds\nMultiple: 8 sts\nRow 1 (RS): *K6, p1, k1; rep from * to end.\n"
    "Row 2: *K1, p1, k1, p5; rep from * to end.\nRow 3: *P1, k3; rep from * to end.\n"
    "Row 4: *P4, k1, p1, k1, p1; rep from * to end.\nRow 5: *K2, p1, k5; rep from * to end.\n"
    "Row 6: *P4, k1, p1, k1, p1; rep from * to end.\nRow 7: *P1, k3; rep from * to end.\n"
    "Row 8: *K1, p1, k1, p5; rep from * to end.\n",
)
def mirror_row_differs(case: Case) -> Iterable[Finding]:
    told: set[Span] = set()
    for section in case.pattern.sections:
        lines = lines_of(section)
        if len(lines) < 6:
            continue
        for middle in range(2, len(lines) - 2):
            reach = min(middle, len(lines) - 1 - middle)
            if reach < 3 or reach * 2 + 1 < len(lines) - 2:
                continue
            pairs = [(lines[middle - k], lines[middle + k]) for k in range(1, reach + 1)]
            looked = [(a, b) for a, b in pairs if not (a.plain and b.plain)]
            unequal = [(a, b) for a, b in looked if a.keys != b.keys]
            equal = [(a, b) for a, b in looked if a.keys == b.keys and a.row.span != b.row.span]
            if len(unequal) != 1 or len(equal) < 2:
                continue
            a, b = unequal[0]
            different = sum(x != y for x, y in zip(a.keys, b.keys, strict=False))
            if a.plain or b.plain or len(a.keys) != len(b.keys) or different * 2 > len(a.keys):
                continue
            odd = {k for x, y in zip(a.keys, b.keys, strict=False) if x != y for k in (x, y)}
            if b.row.span in told or not odd <= {"k", "p"}:
                continue
            told.add(b.row.span)
            yield found(
                "mirror-row-differs", _first_different(a, b),
                f"row {b.row.number} differs from row {a.row.number}, which the rows about it "
                "repeat in reverse order",
            )  # fmt: skip


def _first_different(a: Line, b: Line) -> Span:
    places = [i for i, (x, y) in enumerate(zip(a.keys, b.keys, strict=True)) if x != y]
    return b.cells[places[0]].span.join(b.cells[places[-1]].span)


@check(
    "panel-not-of-multiple",
    DOUBTFUL,
    "the rows are a panel of another number than the multiple stated",
    family="alignment",
    why="The rows fit one number of stitches only, and it is not of the multiple the text states.",
    wrong="Fern\nMultiple: 9 sts\nCast on 10 sts.\nRow 1 (RS): K2, yo, k1, sk2p, k1, yo, k3.\n"
    "Row 2: P10.\n",
    right="Fern\nMultiple: 10 sts\nCast on 10 sts.\nRow 1 (RS): K2, yo, k1, sk2p, k1, yo, k3.\n"
    "Row 2: P10.\n",
)
def panel_not_of_multiple(case: Case) -> Iterable[Finding]:
    for section, counted in zip(case.pattern.sections, case.counted.sections, strict=True):
        multiple = section.multiple
        works: Works | None = counted.works
        if multiple is None or multiple.of < 2 or works is None or works.multiple or counted.more:
            continue
        if (works.plus - multiple.plus) % multiple.of:
            said = f"{multiple.of}" + (f" plus {multiple.plus}" if multiple.plus else "")
            yield found(
                "panel-not-of-multiple", multiple.span,
                f"the rows take exactly {sts(works.plus)}, which is not a multiple of {said}",
            )  # fmt: skip
