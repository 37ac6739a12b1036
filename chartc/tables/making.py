"""From a pattern to a table: the edges and one repeat, marked, where rows repeat."""

from __future__ import annotations

from dataclasses import replace

from chartc.fabric import Done, Plan, knit
from chartc.knitting import plans
from chartc.pattern import NOWHERE, CastOn, Pattern
from chartc.tables.writing import CannotTabulate, write_table
from chartc.wording.splitting import RowParts
from chartc.wording.tidy import parts_of, stitch_pattern


def table_of(pattern: Pattern, section: int = 0, size: int = 0, *, separator: str = ",") -> str:
    """A section of a pattern as a table, rows as written once.

    A stitch pattern is told as its edges and one repeat, marked; anything else stitch by stitch
    as it is worked in that size. Raises CannotTabulate, and fabric.DoesNotFit for rows that do
    not come out.
    """
    found = stitch_pattern(pattern, section)
    if found is not None:
        table = _one_repeat(pattern, section, *found, separator)
        if table is not None:
            return table
    cast_on, planned = plans(pattern, section, size)
    planned = _once(planned)
    if not planned:
        raise CannotTabulate("there are no rows here to make a table of")
    return write_table(
        knit(cast_on, planned), title=pattern.title, own=pattern.own,
        cast_on=cast_on if pattern.sections[section].starts == "cast on" else None,
        separator=separator,
    )  # fmt: skip


def _once(planned: list[Plan]) -> list[Plan]:
    """The rows up to the first that has a number already used: what follows is worked again."""
    seen: set[int] = set()
    for i, plan in enumerate(planned):
        if plan.number is not None:
            if plan.number in seen:
                return planned[:i]
            seen.add(plan.number)
    return planned


def _one_repeat(
    pattern: Pattern, section: int, cast_on: int, planned: list[Plan], separator: str
) -> str | None:
    """The edges and one repeat; None where that makes no table."""
    split = parts_of(pattern, section, (cast_on, planned), allow=0.2, fills=False)
    if not split.width:
        return None
    # A row may work the repeat once more than another: what is over stands as edge.
    least = min(parts.times for parts in split.rows)
    rows = [
        replace(parts, right=parts.right + parts.body * (parts.times - least), times=1)
        for parts in split.rows
    ]
    try:
        return write_table(
            knit(cast_on - (least - 1) * split.width, _single(planned, rows)),
            title=pattern.title, own=pattern.own, cast_on=_printed(pattern, section),
            separator=separator,
            repeat=[(len(p.right), len(p.right) + len(p.body)) for p in rows],
        )  # fmt: skip
    except CannotTabulate:
        return None


def _single(planned: list[Plan], split: list[RowParts]) -> list[Plan]:
    """The rows with their repeat worked once."""
    rows: list[Plan] = []
    for plan, parts in zip(planned, split, strict=True):
        facing = (*parts.right, *parts.body, *parts.left)
        rightward = plan.side == "WS" and not plan.in_round
        worked = facing[::-1] if rightward else facing
        rows.append(
            Plan(plan.label, plan.number, plan.side, plan.in_round,
                 tuple(Done(stitch, NOWHERE) for stitch in worked), plan.span,
                 section=plan.section)
        )  # fmt: skip
    return rows


def _printed(pattern: Pattern, section: int) -> int | None:
    """The number cast on in the text, when there is one for all sizes."""
    flow = pattern.sections[section].flow
    first = next((it for it in flow if isinstance(it, CastOn)), None)
    return first.count.values[0] if first is not None and not first.count.sized else None
