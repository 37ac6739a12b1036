"""Charts: a fabric laid out as a grid and drawn as SVG.

    grid = lay_out(fabric, options=ChartOptions())
    text = draw(grid, title="Saltmarsh shawl")
    assert read_back(text) == grid
"""

from chartc.charting.grid import Cell, Grid, GridRow, LeftOut, lay_out
from chartc.charting.gridjson import NoGrid
from chartc.charting.legend import Legend, make_legend
from chartc.charting.options import ChartOptions, Theme

__all__ = [
    "Cell",
    "ChartOptions",
    "Grid",
    "GridRow",
    "LeftOut",
    "Legend",
    "NoGrid",
    "Theme",
    "draw",
    "lay_out",
    "make_legend",
    "read_back",
]


def __getattr__(name: str) -> object:
    # svgwrite is loaded only when something is drawn.
    if name in ("draw", "read_back"):
        from chartc.charting import svg

        return getattr(svg, name)
    raise AttributeError(name)
