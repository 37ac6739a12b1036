"""What a designer may choose about a chart; every choice has a default fit to print."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

View = Literal["right side", "as worked"]
Usage = Literal["us", "uk"]


@dataclass(frozen=True, slots=True)
class Theme:
    """Ink, paper and one accent (for findings and overlays only); any CSS colour."""

    ink: str = "#1a1a1a"
    paper: str = "#ffffff"
    accent: str = "#a8321e"
    grid: str = "#8c8c8c"  # ink let down for the fine lines and the hatching
    tint: str = "#ececec"  # ink let down for a highlighted repeat


@dataclass(frozen=True, slots=True)
class ChartOptions:
    """How a chart is laid out and drawn.

    view          "right side" (every stitch as it looks from the right side) or "as worked"
    pattern_rows  leave out plain rows that come every other row; the chart says so in words
    left_handed   the mirror image, for knitting from left to right
    sections      names of the sections to show, () for all
    background    key of the stitch left blank, "" to draw every stitch
    usage         "us" or "uk" abbreviations
    cell          width of a cell in mm
    proportion    height of a cell for a width of 1: stitches over rows in the same measure of
                  gauge; 1 for square cells
    every         a heavier grid line every so many stitches and rows, 0 for none
    numbers       number the stitches along the bottom edge
    frame         draw the frame round the repeat
    highlight     tint the cells inside the repeat
    large_print   cells, lines and letters half as large again
    legend        "auto" (beside a narrow chart, below a wide one), "beside", "below", "none"
    drift         overlay that shows where the repeat starts on every row and how far the
                  stitches lean from the loops they were drawn through
    hatch_outside hatch missing stitches beyond the edges too; None: in the round only
    """

    view: View = "right side"
    pattern_rows: bool = False
    left_handed: bool = False
    sections: tuple[str, ...] = ()
    background: str = "k"
    usage: Usage = "us"
    cell: float = 5.0
    proportion: float = 1.0
    every: int = 0
    numbers: bool = False
    frame: bool = True
    highlight: bool = False
    large_print: bool = False
    legend: Literal["auto", "beside", "below", "none"] = "auto"
    drift: bool = False
    hatch_outside: bool | None = None
    theme: Theme = Theme()
    prefix: str = "chart"
