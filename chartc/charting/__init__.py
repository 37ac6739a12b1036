"""Charts: a fabric laid out as a grid, drawn as SVG, printed as PNG and PDF.

    chart = make_chart(fabric, title="Saltmarsh shawl", options=ChartOptions(every=5))
    chart.svg                       the whole chart, true to size; a notebook shows it
    chart.pages("a4")               the same on sheets of paper, cut at repeat borders
    to_png(chart.svg, dpi=300)      a picture            (extra `print`)
    to_pdf(chart, "letter")         vector, tagged       (extra `print`)
    read_back(chart.svg)            the grid again

Step by step: `lay_out(fabric, options=...)` gives a `Grid` (columns, cells, frames; whole
numbers only), `make_legend(grid)` the key, `draw(grid, legend, title=...)` the SVG text.
`ChartOptions` holds every choice; `Flag` marks a passage of the text on the cells it concerns.

Errors: `NoGrid` (read_back: the text carries no grid), `TooWide` (pages: a column does not fit
the paper), `CannotPrint` (the extra is missing, or the picture would be too large).
"""

from typing import TYPE_CHECKING

from chartc.charting.grid import Cell, Grid, GridRow, LeftOut, lay_out
from chartc.charting.gridjson import NoGrid
from chartc.charting.legend import Legend, make_legend
from chartc.charting.options import ChartOptions, Theme
from chartc.charting.overlay import Flag, flags_from

if TYPE_CHECKING:
    from chartc.charting.chart import Chart, TooWide, make_chart
    from chartc.charting.printing import CannotPrint, to_pdf, to_png
    from chartc.charting.svg import draw, read_back

__all__ = [
    "CannotPrint",
    "Cell",
    "Chart",
    "ChartOptions",
    "Flag",
    "Grid",
    "GridRow",
    "LeftOut",
    "Legend",
    "NoGrid",
    "Theme",
    "TooWide",
    "draw",
    "flags_from",
    "lay_out",
    "make_chart",
    "make_legend",
    "read_back",
    "to_pdf",
    "to_png",
]

# What loads svgwrite, and what loads the print extra, is loaded when it is first asked for.
_LATER = {
    "Chart": "chart",
    "TooWide": "chart",
    "make_chart": "chart",
    "draw": "svg",
    "read_back": "svg",
    "CannotPrint": "printing",
    "to_pdf": "printing",
    "to_png": "printing",
}


def __getattr__(name: str) -> object:
    if name in _LATER:
        from importlib import import_module

        return getattr(import_module(f"chartc.charting.{_LATER[name]}"), name)
    raise AttributeError(f"module 'chartc.charting' has no attribute {name!r}")
