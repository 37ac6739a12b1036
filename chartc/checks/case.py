"""What the checks look at: one text, read and counted, with its troubles."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from chartc.checks.troubles import Group, Trouble, grouped
from chartc.checks.words_of import and_list
from chartc.counting import Counted
from chartc.findings import Finding, Repair, found
from chartc.pattern import Again, Ease, Instruction, Pattern, Remark, Row
from chartc.source import Source, Span


@dataclass(frozen=True)
class Case:
    """A text under proof."""

    source: Source
    pattern: Pattern
    counted: Counted
    troubles: tuple[Trouble, ...]

    # -------------------------------------------------------------- sizes

    @cached_property
    def sized(self) -> bool:
        return len(self.pattern.sizes) > 1

    def names(self, sizes: Sequence[int]) -> tuple[str, ...]:
        """Names of sizes by index; () when there is one size only, or all are meant."""
        wanted = sorted(set(sizes))
        if not self.sized or len(wanted) in (0, len(self.pattern.sizes)):
            return ()
        return tuple(self.pattern.sizes[i] for i in wanted if i < len(self.pattern.sizes))

    def in_sizes(self, sizes: Sequence[int]) -> str:
        """ "in size 96: ", or "" when all sizes are meant."""
        names = self.names(sizes)
        if not names:
            return ""
        return f"in size{'s' if len(names) > 1 else ''} {and_list(names)}: "

    # -------------------------------------------------------------- what was noticed

    def remarks(self, check: str) -> tuple[Remark, ...]:
        """What the reader noticed of that name, in the order of the text."""
        return tuple(r for r in self.pattern.remarks if r.check == check)

    def told(self, check: str, remark: Remark) -> Finding:
        """A finding made of what the reader noticed."""
        return found(
            check,
            remark.span,
            remark.message,
            sizes=self.names(remark.sizes),
            repairs=tuple(Repair(span, text) for span, text in remark.repair),
        )

    @cached_property
    def groups(self) -> tuple[Group, ...]:
        """Everything the counting tells, put together over the sizes."""
        return grouped(self.counted.events)

    def groups_of(self, *kinds: str) -> Iterator[Group]:
        return (group for group in self.groups if group.kind in kinds)

    def trouble(self, check: str, trouble: Trouble, message: str, hint: str = "") -> Finding:
        """The finding of a trouble: at the stitch to be mended when that is known, else where
        the row goes wrong."""
        group = trouble.group
        best = trouble.best
        span = group.span if best is None else best.place
        if best is not None:
            hint = f"{best.words} {'everything' if best.full else 'it'} comes out"
            row = group.row
            elsewhere = row is not None and not inside(best.place, row.span)
            if row is not None and elsewhere and not trouble.words and best.kind != "stated":
                message = f"{self.row_name(row)} does not come out after this: {message}"
        return found(
            check,
            span,
            self.in_sizes(group.sizes) + message,
            hint=hint,
            sizes=self.names(group.sizes),
            repairs=tuple(m.repair for m in trouble.mends),
        )

    # -------------------------------------------------------------- the text

    def at(self, span: Span) -> str:
        """The text at a passage, in one line."""
        return " ".join(self.source.at(span).split())

    def row_name(self, row: Row) -> str:
        """A row by name, with its line where the name is not unique: "row 5"."""
        return row_name(row) or f"the row in line {self.source.locate(row.span.start)[0]}"

    @cached_property
    def rows(self) -> tuple[Row, ...]:
        """Every row of the pattern as worked, each statement once, in the order of the text."""
        seen: dict[tuple[Span, int | None], Row] = {}
        for section in self.pattern.sections:
            for row in rows_of(section.flow):
                seen.setdefault((row.span, row.number), row)
        return tuple(sorted(seen.values(), key=lambda r: (r.span.start, r.number or 0)))


def inside(inner: Span, outer: Span) -> bool:
    return outer.start <= inner.start and inner.end <= outer.end


def row_name(row: Row) -> str:
    """ "row 5", "rnd 12"; "" when the row has no number."""
    if row.number is not None:
        return f"{'rnd' if row.in_round else 'row'} {row.number}"
    return ""


def rows_of(flow: Sequence[Instruction]) -> Iterator[Row]:
    """Every row of a flow, those within repetitions too."""
    stack: list[Instruction] = list(reversed(flow))
    while stack:
        it = stack.pop()
        if isinstance(it, Row):
            yield it
        elif isinstance(it, Again):
            stack.extend(reversed(it.rows))
        elif isinstance(it, Ease) and it.shaping is not None:
            yield it.shaping


__all__ = ["Case", "Group", "Trouble", "inside", "row_name", "rows_of"]
