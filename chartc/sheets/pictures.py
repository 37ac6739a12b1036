"""Charts, single rows and single symbols as drawings cut to size for a handout.

All of them come from `charting.draw`; here only the layers wanted are kept and the paper is
cut down to them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from xml.etree import ElementTree

from chartc.charting import Cell, ChartOptions, Grid, GridRow, Theme, draw
from chartc.charting.frames import Edge, Frame
from chartc.charting.lettering import text_width
from chartc.charting.rowwords import describe, row_title, short_label
from chartc.sheets.document import Picture
from chartc.stitch import Stitch

_SVG = "http://www.w3.org/2000/svg"
_LINK = "{http://www.w3.org/1999/xlink}href"
_PAIR = re.compile(r"(-?\d+(?:\.\d+)?) (-?\d+(?:\.\d+)?)")
_NUMBER = 2.5  # letter size in mm of the row numbers in a drawn chart
_BLACK = Theme(ink="#000000", grid="#000000", accent="#000000", tint="#ffffff")

ElementTree.register_namespace("", _SVG)


def chart_options(
    *, prefix: str, cell: float, contrast: bool, left_handed: bool, usage: str, large: bool
) -> ChartOptions:
    """The options of every drawing of a sheet; `cell` in mm as drawn, also in large print."""
    return ChartOptions(
        prefix=prefix, cell=cell / 1.5 if large else cell, large_print=large, left_handed=left_handed, legend="none",
        usage="uk" if usage == "uk" else "us",
        theme=_BLACK if contrast else Theme(),
    )  # fmt: skip


def _cut(svg: str, keep: Iterable[str], prefix: str, left: float, right: float, pad: float,
         named: bool) -> tuple[str, float, float]:  # fmt: skip
    """The drawing with only the layers `keep`, cut down to its grid and `left` and `right` mm
    beside it. Returns it with its width and height in mm."""
    root = ElementTree.fromstring(svg)
    grid = root.find(f".//{{{_SVG}}}g[@id='{prefix}-grid']")
    points = [
        (float(x), float(y))
        for path in (grid.iter(f"{{{_SVG}}}path") if grid is not None else ())
        for x, y in _PAIR.findall(path.get("d", ""))
    ]
    if not points:
        raise ValueError("a drawing without a grid")
    wanted = {f"{prefix}-{name}" for name in keep}
    for child in list(root):
        if child.tag != f"{{{_SVG}}}defs" and child.get("id") not in wanted:
            root.remove(child)
    if not named:
        for group in root.iter(f"{{{_SVG}}}g"):
            for told in group.findall(f"{{{_SVG}}}title"):
                group.remove(told)
            for name in ("role", "aria-label"):
                group.attrib.pop(name, None)
    x0 = min(x for x, _ in points) - left - pad
    x1 = max(x for x, _ in points) + right + pad
    y0 = min(y for _, y in points) - pad
    y1 = max(y for _, y in points) + pad
    width, height = round(x1 - x0, 3), round(y1 - y0, 3)
    for use in root.iter(f"{{{_SVG}}}use"):
        link = use.attrib.pop(_LINK, None)
        if link is not None:
            use.set("href", link)
    for name in list(root.attrib):
        if name not in ("viewBox",):
            del root.attrib[name]
    root.set("viewBox", f"{x0:.3f} {y0:.3f} {width:g} {height:g}")
    root.set("width", f"{width:g}mm")
    root.set("height", f"{height:g}mm")
    return ElementTree.tostring(root, encoding="unicode"), width, height


def chart(grid: Grid, options: ChartOptions, title: str) -> Picture:
    """A whole chart with its row numbers and the frame of its repeat, without a key."""
    svg = draw(grid, options=replace(options, legend="none"))
    gutter = [0.0, 0.0]
    scale = 1.5 if options.large_print else 1.0
    for row in grid.rows:
        side = 0 if row.from_left != grid.left_handed else 1
        wide = text_width(short_label(row), _NUMBER * scale) + 1.6 * scale
        gutter[side] = max(gutter[side], wide)
    layers = ("highlight", "no-stitches", "grid", "stitches", "repeat", "numbers")
    cut, width, height = _cut(svg, layers, options.prefix, gutter[0], gutter[1], 0.6, True)
    return Picture(cut, width, height, describe(grid, title))


def strip(grid: Grid, place: int, options: ChartOptions, alt: bool) -> Picture:
    """One row of a chart. `alt`: it stands in place of the words, and is told."""
    row = grid.rows[place]
    frames: list[Frame] = []
    for frame in grid.frames:
        edges = [edge for edge in frame.edges if edge.row == place]
        frames.extend(Frame((Edge(0, edge.right, edge.left),)) for edge in edges)
    one = replace(grid, rows=(row,), frames=tuple(frames), left_out=())
    svg = draw(one, options=replace(options, legend="none"))
    layers = ("no-stitches", "grid", "stitches", "repeat")
    cut, width, height = _cut(svg, layers, options.prefix, 0, 0, 0.5, False)
    return Picture(cut, width, height, row_title(row) if alt else "")


def sign(stitch: Stitch, behind: bool, grid: Grid, options: ChartOptions, name: str) -> Picture:
    """A symbol in a cell of its own."""
    wide = max(1, stitch.makes or stitch.uses)
    held = Cell(0, wide, "stitch", stitch, stitch, behind, order=0)
    row = GridRow(0, "", None, "", False, False, (held,))
    one = Grid((row,), wide, False, left_handed=grid.left_handed, background=grid.background)
    svg = draw(one, options=replace(options, legend="none", frame=False))
    cut, width, height = _cut(svg, ("grid", "stitches"), options.prefix, 0, 0, 0.3, False)
    return Picture(cut, width, height, f"the symbol for {name}")


def no_stitch(options: ChartOptions) -> Picture:
    """The hatched cell."""
    held = Cell(0, 1, "none")
    row = GridRow(0, "", None, "", True, False, (held,))
    one = Grid((row,), 1, True)
    svg = draw(one, options=replace(options, legend="none", hatch_outside=True))
    cut, width, height = _cut(svg, ("no-stitches", "grid"), options.prefix, 0, 0, 0.3, False)
    return Picture(cut, width, height, "the sign for no stitch")


def scaled(picture: Picture, widest: float, highest: float) -> Picture:
    """The picture made smaller where it is wider or higher than that, in mm."""
    by = min(1.0, widest / picture.width_mm, highest / picture.height_mm)
    return replace(
        picture, width_mm=round(picture.width_mm * by, 3),
        height_mm=round(picture.height_mm * by, 3),
    )  # fmt: skip
