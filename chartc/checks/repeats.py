"""Repeats against the rows below: markers, double yarn overs, edges."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from chartc.checks.case import Case, row_name
from chartc.counting import events as ev
from chartc.findings import Finding, Severity, check, found
from chartc.pattern import Row, Turn, Work, walk
from chartc.source import Span

if TYPE_CHECKING:
    from chartc.fabric import Fabric

DOUBTFUL = Severity.DOUBTFUL
REMARK = Severity.REMARK

MOST_STITCHES = 6000  # a window is knitted up to this size


@check(
    "across-marker",
    DOUBTFUL,
    "a stitch takes loops from both sides of a marker",
    family="repeats",
    why="To work a decrease across a marker, the marker has to be moved; the text should say so.",
    wrong="Wings\nCast on 12 sts.\nSet-up row: K6, pm, k6.\nRow 1 (RS): K5, k2tog, k5. (11 sts)\n",
    right="Wings\nCast on 12 sts.\nSet-up row: K6, pm, k6.\nRow 1 (RS): K4, k2tog, sm, k6. (11 sts)\n",
)
def across_marker(case: Case) -> Iterable[Finding]:
    for group in case.groups_of(ev.ACROSS_MARKER):
        if group.first.words.startswith("\0") or _joins(group.row, group.span):
            continue  # not a marker of the text, or a border joined to the edge
        yield found(
            "across-marker",
            group.span,
            f"“{case.at(group.span)}” takes sts from both sides of a marker",
            hint="say that the marker is moved, or work it on one side",
            sizes=case.names(group.sizes),
        )


def _joins(row: Row | None, span: Span) -> bool:
    """Whether the stitch is the last before a turn: the join of a border that is knitted on."""
    if row is None:
        return False
    for step, after in itertools.pairwise(row.steps):
        if step.span == span and isinstance(after, Turn):
            return True
    return False


@check(
    "double-yarn-over-as-one",
    DOUBTFUL,
    "a double yarn over is worked as one stitch",
    family="repeats",
    why="A double yarn over is two loops. If the next row works both together, one yarn over was "
    "meant, or the row that follows forgets one.",
    wrong="Mesh\nCast on 12 sts.\nRow 1 (RS): K3, k2tog, yo twice, ssk, k5.\n"
    "Row 2: K6, k2tog, k4. (11 sts)\n",
    right="Mesh\nCast on 12 sts.\nRow 1 (RS): K3, k2tog, yo twice, ssk, k5.\n"
    "Row 2: K6, p1, k5. (12 sts)\n",
)
def double_over(case: Case) -> Iterable[Finding]:
    from chartc.alignment import double_overs

    told: set[Span] = set()
    for i, section in enumerate(case.pattern.sections):
        if not any(_doubles(it) for it in section.flow if isinstance(it, Row)):
            continue
        if any(trouble.group.first.section == i for trouble in case.troubles):
            continue
        fabric = window(case, i)
        if fabric is None:
            continue
        for double in double_overs(fabric):
            worker = double.workers[0]
            if not double.as_one or double.span in told or worker is None:
                continue
            child = fabric.rows[worker[0]].stitches[worker[1]]
            if child.stitch.kind in ("drop", "own", "bobble") or child.stitch.makes != 1:
                continue
            told.add(double.span)
            line = case.source.locate(child.span.start)[0]
            yield found(
                "double-yarn-over-as-one",
                double.span,
                f"both loops are worked together as one st (“{case.at(child.span)}” in line {line})",
                hint="work the two loops apart, or make one yarn over",
            )


def _doubles(row: Row) -> bool:
    last = None
    for step in walk(row.steps):
        key = step.stitch.key if isinstance(step, Work) else ""
        over = isinstance(step, Work) and step.stitch.kind == "yarn over"
        if over and ((isinstance(step, Work) and step.stitch.makes > 1) or last == key):
            return True
        last = key
    return False


def window(case: Case, section: int) -> Fabric | None:
    """The rows of a section knitted once, when that is not too large."""
    from chartc.fabric import DoesNotFit, knit
    from chartc.knitting import TooManyStitches, plans

    try:
        cast_on, rows = plans(case.pattern, section, limit_stitches=MOST_STITCHES)
        return knit(cast_on, rows)
    except (DoesNotFit, TooManyStitches):
        return None


@check(
    "yarn-over-at-edge",
    REMARK,
    "a yarn over ends a row",
    family="repeats",
    why="A yarn over after the last stitch of a row has nothing beside it and easily slips off "
    "when the work is turned.",
    wrong="Mesh\nWorked: flat\nCast on 12 sts.\nRow 1 (RS): K10, k2tog, yo.\nRow 2: P12.\n",
    right="Mesh\nWorked: flat\nCast on 12 sts.\nRow 1 (RS): K9, k2tog, yo, k1.\nRow 2: P12.\n",
)
def yarn_over_at_edge(case: Case) -> Iterable[Finding]:
    for row in _statements(case):
        last = row.steps[-1] if row.steps else None
        if row.in_round or not isinstance(last, Work) or last.stitch.kind != "yarn over":
            continue
        yield found(
            "yarn-over-at-edge", last.span,
            f"{row_name(row) or 'this row'} ends with a yarn over, with no st after it to hold it",
        )  # fmt: skip


def _statements(case: Case) -> Iterator[Row]:
    seen: set[Span] = set()
    for row in case.rows:
        if row.span not in seen:
            seen.add(row.span)
            yield row
