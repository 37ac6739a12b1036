"""A proved pattern and the choices for a sheet, with what all parts of it need."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from chartc.charting import ChartOptions, Grid, lay_out
from chartc.fabric import Plan
from chartc.proof import Proof
from chartc.sheets import pictures
from chartc.sheets.document import Line
from chartc.sheets.gather import (
    RowLine,
    SectionPart,
    Window,
    parts_of,
    planned_rows,
    size_indices,
    window,
    worth_a_chart,
)
from chartc.sheets.options import SheetOptions, SheetProblem
from chartc.sheets.rowtrack import Verbatim
from chartc.sheets.wordbook import in_terms, in_usage, marked, usage_of
from chartc.source import Span
from chartc.wording.style import HouseStyle


@dataclass(frozen=True)
class SheetMatter:
    """A proved pattern and the choices for a sheet, with what several parts of it need.

    shown   the sizes shown (0-based); own the class's own, None when there is none
    drawn   the size charts and slips are worked for
    """

    proof: Proof
    options: SheetOptions
    usage: str
    parts: tuple[SectionPart, ...]
    shown: tuple[int, ...]
    own: int | None
    drawn: int

    @cached_property
    def windows(self) -> dict[int, Window]:
        """For each section whose rows make a chart, the window it is drawn on."""
        found = {}
        for part in self.parts:
            one = window(self.proof.pattern, part, self.drawn)
            if one is not None and worth_a_chart(one):
                found[part.index] = one
        return found

    @cached_property
    def grids(self) -> dict[int, Grid]:
        return {
            index: lay_out(one.fabric, options=ChartOptions(left_handed=self.options.left_handed))
            for index, one in self.windows.items()
        }

    @cached_property
    def plans(self) -> dict[int, dict[tuple[Span, int | None], Plan]]:
        """For each section the stitches of its rows as really worked in the size drawn."""
        return {part.index: planned_rows(self.proof, part.index, self.drawn) for part in self.parts}

    @property
    def style(self) -> HouseStyle:
        return HouseStyle(usage="uk" if self.usage == "uk" else "us", capital=False)

    @property
    def text(self) -> Verbatim:
        return Verbatim(self.proof.source.text)

    def plan(self, part: SectionPart, one: RowLine) -> Plan | None:
        return self.plans[part.index].get((one.row.body, one.number))

    def told(self, text: str) -> Line:
        """The author's words, in the usage asked for, the own size set off."""
        words = in_usage(text, self.options.usage)
        return marked(words, len(self.proof.pattern.sizes), self.own)

    def chart_options(self, prefix: str, cell_mm: float) -> ChartOptions:
        return pictures.chart_options(
            prefix=prefix, cell=cell_mm, contrast=self.options.contrast,
            left_handed=self.options.left_handed, usage=self.usage, large=self.options.large,
        )  # fmt: skip


def matter(proof: Proof, options: SheetOptions) -> SheetMatter:
    """The proof made ready for a sheet. Raises SheetProblem for a size that is not there or a
    pattern without rows."""
    proof = in_terms(proof, options)
    sizes = proof.pattern.sizes
    if not any(section.flow for section in proof.pattern.sections):
        raise SheetProblem(f"{proof.source.name}: there are no rows here to make a sheet of")
    try:
        shown = size_indices(proof.pattern, options.sizes)
        own = size_indices(proof.pattern, (options.own,))[0] if options.own else None
    except KeyError as error:
        known = ", ".join(name for name in sizes if name) or "there is one size only"
        raise SheetProblem(f"there is no size {error.args[0]}; the sizes: {known}") from None
    if own is not None and own not in shown:
        shown = tuple(sorted({*shown, own}))
    return SheetMatter(
        proof, options, usage_of(proof, options), parts_of(proof), shown, own,
        own if own is not None else shown[0],
    )  # fmt: skip
