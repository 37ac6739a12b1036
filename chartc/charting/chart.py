"""A chart ready to show, save and print."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from chartc.charting.grid import Grid, Partner, lay_out
from chartc.charting.legend import Legend
from chartc.charting.options import ChartOptions
from chartc.charting.overlay import Flag
from chartc.charting.pages import PAPERS, Paper, divided
from chartc.charting.rowwords import describe, row_title
from chartc.charting.sheet import PAGE_MARGIN, Page, fits, measure_page
from chartc.charting.svg import draw, draw_page, legend_for
from chartc.fabric import Fabric


class TooWide(ValueError):
    """Not even one column of the chart fits the paper."""


@dataclass(frozen=True)
class Chart:
    """A laid-out chart and how it is to be drawn. Shows itself in a notebook.

    `flags` are remarks on passages of the text, marked on the cells they concern; `notes`
    further lines under the title.
    """

    grid: Grid
    title: str = ""
    options: ChartOptions = field(default_factory=ChartOptions)
    notes: tuple[str, ...] = ()
    flags: tuple[Flag, ...] = ()

    @cached_property
    def legend(self) -> Legend:
        return legend_for(self.grid, self.options)

    @cached_property
    def svg(self) -> str:
        """The whole chart as the text of an SVG file, true to size."""
        return draw(
            self.grid, self.legend, title=self.title, notes=self.notes, flags=self.flags,
            options=self.options,
        )  # fmt: skip

    @property
    def alt(self) -> str:
        """What the chart shows, in a few sentences."""
        return describe(self.grid, self.title)

    @property
    def rows_in_words(self) -> tuple[str, ...]:
        """Every row as it is worked, the first one first."""
        return tuple(row_title(row) for row in self.grid.rows)

    def _repr_svg_(self) -> str:
        return self.svg

    def pages(self, paper: str = "a4") -> tuple[str, ...]:
        """The chart on sheets of paper ("a4" or "letter"), each the text of an SVG file. Large
        charts are cut at the borders of their repeats; the sheets stand upright or on their
        side, whichever needs fewer.

        Raises KeyError for a paper not known and TooWide when a column does not fit it.
        """
        sheet = PAPERS[paper.lower()]
        choices = [self._paged(sheet), self._paged(sheet.turned())]
        found = [pages for pages in choices if pages]
        if not found:
            raise TooWide(f"the cells of this chart are too large for {sheet.name} paper")
        best = min(found, key=len)
        return tuple(
            draw_page(
                replace(page, count=len(best)), self.grid, self.legend, title=self.title,
                notes=self.notes, flags=self.flags, options=self.options,
            )
            for page in best
        )  # fmt: skip

    def _fits(self, page: Page) -> bool:
        return fits(
            measure_page(
                page, self.grid, self.legend, self.options, self.title, self.notes, self.flags
            )
        )

    def _paged(self, paper: Paper) -> list[Page]:
        """The pages on this paper; none when it cannot be done."""
        whole = divided(self.grid, max(1, self.grid.width), max(1, len(self.grid.rows)))
        boxes = len(
            measure_page(
                Page(paper, 1, 1, whole, 0), self.grid, self.legend, self.options, self.title,
                self.notes, self.flags,
            ).boxes
        )  # fmt: skip
        wants_key = self.options.legend != "none" and boxes > 0
        single = Page(paper, 1, 1, whole, 0, (0, boxes) if wants_key else None)
        if self._fits(single):
            return [single]
        division = whole
        if not self._fits(replace(single, boxes=None)):
            # As many cells to a page as there is room for under the tallest heading.
            trial = divided(self.grid, max(1, self.grid.width // 2), len(self.grid.rows))
            sheet = measure_page(
                Page(paper, 1, 99, trial, 0), self.grid, self.legend, self.options, self.title,
                self.notes, self.flags,
            )  # fmt: skip
            wide = paper.width - 2 * PAGE_MARGIN - 2 * max(sheet.left_gutter, sheet.right_gutter)
            high = paper.height - sheet.top - PAGE_MARGIN - (sheet.foot - sheet.bottom)
            columns, rows = int(wide // sheet.cell_width), int(high // sheet.cell_height)
            while True:
                if columns < 1 or rows < 1:
                    return []
                division = divided(self.grid, columns, rows)
                parts = [
                    Page(paper, n + 1, len(division.parts), division, n)
                    for n in range(len(division.parts))
                ]
                if all(self._fits(page) for page in parts):
                    break
                # A wide stitch on a border makes its page wider.
                columns, rows = columns - 1, rows - (columns < 4)
        pages = [
            Page(paper, n + 1, len(division.parts), division, n) for n in range(len(division.parts))
        ]
        if wants_key:
            with_key = replace(pages[-1], boxes=(0, boxes))
            if self._fits(with_key):
                pages[-1] = with_key
            else:
                pages += self._key_pages(paper, pages[-1], boxes)
        return pages

    def _key_pages(self, paper: Paper, last: Page, boxes: int) -> list[Page]:
        pages: list[Page] = []
        first = 0
        while first < boxes:
            end = boxes
            page = replace(last, number=last.number + 1 + len(pages), part=None)
            while end > first + 1 and not self._fits(replace(page, boxes=(first, end))):
                end -= 1
            pages.append(replace(page, boxes=(first, end)))
            first = end
        return pages


def make_chart(
    fabric: Fabric,
    *,
    title: str = "",
    options: ChartOptions | None = None,
    notes: Sequence[str] = (),
    flags: Sequence[Flag] = (),
    twin: Partner | None = None,
) -> Chart:
    """Lay a fabric out and make a chart of it."""
    options = options or ChartOptions()
    grid = lay_out(fabric, options=options, twin=twin)
    return Chart(grid, title, options, tuple(notes), tuple(flags))
