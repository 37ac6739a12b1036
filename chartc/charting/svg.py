"""The chart as SVG. The only module that uses svgwrite.

The same grid and options give the same bytes. Lengths are in mm: the viewBox is in mm too, so
every number in the file is one.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Any
from xml.etree import ElementTree

import svgwrite

from chartc.charting.frames import Edge
from chartc.charting.grid import Cell, Grid, GridRow
from chartc.charting.gridjson import NoGrid, from_json, to_json
from chartc.charting.legend import Entry, Legend, abbreviation, make_legend
from chartc.charting.lettering import FONT_STACK, wrapped, xml_safe
from chartc.charting.options import ChartOptions
from chartc.charting.overlay import (
    Flag,
    FlaggedRun,
    column_leans,
    furthest,
    leans,
    repeat_starts,
)
from chartc.charting.rowwords import describe, row_title, short_label
from chartc.charting.sheet import (
    ENTRY_ROOM,
    FRAME,
    HEAVY,
    KEY,
    LINE,
    MARGIN,
    NOTE,
    NUMBER,
    OUTLINE,
    TEXT,
    THIN,
    TITLE,
    KeyBox,
    Line,
    Page,
    Sheet,
    lean_words,
    measure,
    measure_page,
    shrink,
)
from chartc.charting.strokes import Lettering, Path, Point, Ring, Stroke
from chartc.charting.symbols import PEN, Symbol, columns_of, lettered, symbol
from chartc.stitch import Stitch

_SVG = "{http://www.w3.org/2000/svg}"


def number(value: float) -> str:
    """A length as written in the file: the only place where numbers are rounded."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def path_data(path: Path) -> str:
    parts = [f"M{_pair(path[0][0])}"]
    here = path[0][0]
    for piece in path:
        if piece[0] != here:
            parts.append(f"M{_pair(piece[0])}")
        if len(piece) == 2:
            parts.append(f"L{_pair(piece[1])}")
        else:
            parts.append(f"C{' '.join(_pair(point) for point in piece[1:])}")
        here = piece[-1]
    return "".join(parts)


def _pair(point: Point) -> str:
    return f"{number(point[0])} {number(point[1])}"


class _Pen:
    """Draws a sheet with svgwrite."""

    def __init__(self, sheet: Sheet, prefix: str) -> None:
        self.sheet = sheet
        self.theme = sheet.options.theme
        self.prefix = prefix
        self.drawing = svgwrite.Drawing(
            size=(f"{number(sheet.width)}mm", f"{number(sheet.height)}mm"),
            viewBox=f"0 0 {number(sheet.width)} {number(sheet.height)}",
            debug=False,
        )
        self.ids: dict[tuple[str, bool], str] = {}

    def group(self, name: str, parent: Any = None, **extra: Any) -> Any:
        group = self.drawing.g(id=f"{self.prefix}-{name}", **extra)
        (parent or self.drawing).add(group)
        return group

    def path(self, parent: Any, data: str, **extra: Any) -> None:
        if data:
            parent.add(self.drawing.path(d=data, **extra))

    def words(self, parent: Any, text: str, x: float, y: float, size: float, **extra: Any) -> None:
        parent.add(
            self.drawing.text(
                xml_safe(text), x=[number(x)], y=[number(y)], font_size=number(size), **extra
            )
        )

    def line_of_text(self, parent: Any, line: Line, x: float, y: float, size: float) -> None:
        pieces = [(text, bold) for text, bold in line.pieces if text]
        element = self.drawing.text("", x=[number(x)], y=[number(y)], font_size=number(size))
        element["xml:space"] = "preserve"
        for text, bold in pieces:
            span = self.drawing.tspan(xml_safe(text))
            if bold:
                span["font-weight"] = "bold"
            element.add(span)
        parent.add(element)

    # -- the parts, in the order they lie on the paper

    def draw(self) -> str:
        sheet = self.sheet
        drawing = self.drawing
        title = sheet.title or "Knitting chart"
        drawing.attribs["role"] = "graphics-document document"
        drawing.attribs["aria-labelledby"] = f"{self.prefix}-title"
        drawing.attribs["aria-describedby"] = f"{self.prefix}-desc"
        drawing.attribs["xml:lang"] = "en"
        self.symbols()
        paper = self.group("paper")
        paper.add(
            drawing.rect((0, 0), (number(sheet.width), number(sheet.height)), fill=self.theme.paper)
        )
        self.heading()
        self.tint()
        self.overlap()
        self.missing()
        self.lines()
        self.rows()
        self.frames()
        self.joins()
        self.page_map()
        self.drift()
        self.flagged()
        self.numbers()
        self.key()
        root = drawing.get_xml()
        return _written(
            root,
            self.prefix,
            xml_safe(title),
            xml_safe(describe(sheet.grid, sheet.title)),
            to_json(sheet.grid),
        )

    def symbols(self) -> None:
        sheet = self.sheet
        taken: set[str] = set()
        for entry in sheet.legend.entries:
            name = re.sub(r"[^a-z0-9]+", "-", entry.stitch.key.lower()).strip("-") or "own"
            if entry.behind:
                name += "-ws"
            ident = f"{self.prefix}-st-{name}"
            while ident in taken:
                ident += "x"
            taken.add(ident)
            drawn = symbol(
                entry.stitch, sheet.cell_width, sheet.cell_height,
                background=sheet.grid.background, letters=entry.letters,
                wrong_side=entry.behind, left_handed=sheet.grid.left_handed,
            )  # fmt: skip
            self.ids[(entry.stitch.key, entry.behind)] = ident if drawn.marks else ""
            if drawn.marks:
                self.symbol(ident, drawn)
        if sheet.legend.no_stitch or any(
            cell.kind == "none" and self._drawn(cell, row)
            for row in sheet.grid.rows
            for cell in row.cells
        ):
            self.hatch(f"{self.prefix}-no-stitch")
        if sheet.legend.resting:
            self.rest(f"{self.prefix}-not-worked")

    def symbol(self, ident: str, drawn: Symbol) -> None:
        holder = self.drawing.symbol(id=ident)
        holder["overflow"] = "visible"
        holder["fill"] = "none"
        holder["stroke"] = self.theme.ink
        holder["stroke-linecap"] = "round"
        holder["stroke-linejoin"] = "round"
        pen = min(self.sheet.cell_width, self.sheet.cell_height) / 5.0
        drawing = self.drawing
        for mark in drawn.marks:
            if isinstance(mark, Stroke):
                shape = drawing.path(d=path_data(mark.path))
            elif isinstance(mark, Ring):
                shape = drawing.circle(
                    (number(mark.centre[0]), number(mark.centre[1])), number(mark.radius)
                )
            else:
                holder.add(self._letters(mark))
                continue
            if mark.filled:
                shape["fill"] = self.theme.ink
                shape["stroke"] = "none"
            else:
                shape["stroke-width"] = number(PEN[mark.weight] * pen)
            holder.add(shape)
        drawing.defs.add(holder)

    def _letters(self, mark: Lettering) -> Any:
        return self.drawing.text(
            xml_safe(mark.text), x=[number(mark.middle[0])], y=[number(mark.middle[1])],
            font_size=number(mark.size), font_family=FONT_STACK, text_anchor="middle",
            font_weight="bold", fill=self.theme.ink, stroke="none",
        )  # fmt: skip

    def hatch(self, ident: str) -> None:
        """Slanted lines that run on from cell to cell."""
        wide, high = self.sheet.cell_width, self.sheet.cell_height
        parts = []
        count = 4
        for place in range(1, 2 * count):
            # from the left or bottom edge up to the top or right one, in parts of the cell
            t = place / count
            ax, ay = (0.0, t) if t <= 1 else (t - 1, 1.0)
            bx, by = (t, 0.0) if t <= 1 else (1.0, t - 1)
            parts.append(
                f"M{number(ax * wide)} {number(ay * high)}L{number(bx * wide)} {number(by * high)}"
            )
        holder = self.drawing.symbol(id=ident)
        holder["overflow"] = "visible"
        holder.add(
            self.drawing.path(
                d="".join(parts), fill="none", stroke=self.theme.grid,
                stroke_width=number(THIN * self.sheet.scale),
            )
        )  # fmt: skip
        self.drawing.defs.add(holder)

    def rest(self, ident: str) -> None:
        wide, high = self.sheet.cell_width, self.sheet.cell_height
        holder = self.drawing.symbol(id=ident)
        holder["overflow"] = "visible"
        holder.add(
            self.drawing.circle(
                (number(wide / 2), number(high / 2)), number(min(wide, high) * 0.07),
                fill=self.theme.grid,
            )
        )  # fmt: skip
        self.drawing.defs.add(holder)

    def heading(self) -> None:
        sheet = self.sheet
        group = self.group("heading", font_family=FONT_STACK, fill=self.theme.ink)
        scale, x = sheet.scale, sheet.margin
        y = x
        for line in sheet.title_lines:
            y += TITLE * scale * 1.25
            self.words(group, line, x, y - TITLE * scale * 0.35, TITLE * scale,
                       font_weight="bold")  # fmt: skip
        if sheet.title_lines:
            y += 1.2 * scale
        for line in sheet.note_lines:
            y += NOTE * scale * LINE
            self.words(group, line, x, y - NOTE * scale * 0.38, NOTE * scale)

    def tint(self) -> None:
        if not self.sheet.options.highlight:
            return
        group = self.group("highlight", fill=self.theme.tint, stroke="none")
        for frame in self.sheet.grid.frames:
            for edge in self._inside(frame.edges):
                points = [
                    (self.sheet.x(column), self.sheet.y(row))
                    for column, row in (
                        (edge.right, edge.row), (edge.left, edge.row),
                        (edge.left, edge.row + 1), (edge.right, edge.row + 1),
                    )
                ]  # fmt: skip
                self.path(group, "M" + "L".join(_pair(point) for point in points) + "Z")

    def _inside(self, edges: Sequence[Edge]) -> list[Edge]:
        """The edges of a frame as far as they lie on the sheet."""
        grid = self.sheet.grid
        clipped = [
            Edge(edge.row, max(edge.right, 0), min(edge.left, grid.width))
            for edge in edges
            if 0 <= edge.row < len(grid.rows)
        ]
        return [edge for edge in clipped if edge.right < edge.left]

    def overlap(self) -> None:
        """Tint under the cells that belong to the pages beside this one."""
        sheet = self.sheet
        part = sheet.page.shown if sheet.page is not None else None
        if part is None or sheet.page is None or len(sheet.page.division.parts) < 2:
            return
        group = self.group("overlap", fill=self.theme.tint, stroke="none")
        for place, row in enumerate(sheet.grid.rows):
            own_row = part.bottom <= place + part.first_row < part.top
            for cell in row.cells:
                if not cell.width or not self._drawn(cell, row):
                    continue
                column = cell.column + part.first_column
                if own_row and part.right <= column < part.left:
                    continue
                x, y = sheet.cell_x(cell.column, cell.width), sheet.y(place + 1)
                wide = cell.width * sheet.cell_width
                data = f"M{number(x)} {number(y)}h{number(wide)}v{number(sheet.cell_height)}"
                self.path(group, f"{data}h{number(-wide)}Z")

    def joins(self) -> None:
        """Broken lines where the parts meet, and the pages they meet on."""
        sheet = self.sheet
        page = sheet.page
        part = page.shown if page is not None else None
        if part is None or page is None or len(page.division.parts) < 2:
            return
        across = len(page.division.columns) - 1
        place = page.division.parts.index(part)
        group = self.group("joins", fill="none", stroke=self.theme.ink)
        pens = {
            "stroke_width": number(0.35 * sheet.scale),
            "stroke_dasharray": f"{number(1.6)} {number(1.2)}",
        }
        words = self.group("join-notes", font_family=FONT_STACK, fill=self.theme.ink)
        size = 2.4 * sheet.scale
        top, bottom = sheet.top, sheet.bottom
        over = top - 3.0 - ((NUMBER + 1.2) * sheet.scale if sheet.options.drift else 0.0)
        under = bottom + 4.6 + ((NUMBER + 1.4) * sheet.scale if sheet.options.numbers else 0.0)
        low, high = sheet.left, sheet.left + sheet.grid_width
        mirror = sheet.grid.left_handed
        for border, other, on_left in (
            (part.left, place + 1, not mirror), (part.right, place - 1, mirror),
        ):  # fmt: skip
            if border in (0, page.division.columns[-1]):
                continue
            x = sheet.x(border - part.first_column)
            self.path(group, f"M{number(x)} {number(top - 2)}V{number(bottom + 2)}", **pens)
            self.words(
                words, f"joins page {other + 1}", low if on_left else high, over, size,
                text_anchor="start" if on_left else "end",
            )  # fmt: skip
        for border, other, y_words in (
            (part.top, place + across, over), (part.bottom, place - across, under),
        ):  # fmt: skip
            if border in (0, page.division.rows[-1]):
                continue
            y = sheet.y(border - part.first_row)
            self.path(group, f"M{number(low - 2)} {number(y)}H{number(high + 2)}", **pens)
            self.words(words, f"joins page {other + 1}", (low + high) / 2, y_words, size,
                       text_anchor="middle")  # fmt: skip

    def page_map(self) -> None:
        """A small map of the parts with their page numbers, this one filled."""
        sheet = self.sheet
        page = sheet.page
        if page is None or not sheet.map_room or page.part is None:
            return
        columns, rows = page.division.columns, page.division.rows
        wide = columns[-1] * sheet.cell_width
        high = rows[-1] * sheet.cell_height
        unit = min(sheet.map_room / wide, sheet.map_room * 0.72 / high)
        right = sheet.width - sheet.margin
        foot = sheet.margin + high * unit
        group = self.group("page-map", fill="none", stroke=self.theme.ink)
        group["stroke-width"] = number(0.25)
        for place, part in enumerate(page.division.parts):
            x0, x1 = part.right * sheet.cell_width * unit, part.left * sheet.cell_width * unit
            x = right - x1
            if sheet.grid.left_handed:
                x = right - wide * unit + x0
            y = foot - part.top * sheet.cell_height * unit
            tall = (part.top - part.bottom) * sheet.cell_height * unit
            here = place == page.part
            group.add(
                self.drawing.rect(
                    (number(x), number(y)), (number(x1 - x0), number(tall)),
                    fill=self.theme.ink if here else self.theme.paper,
                )
            )  # fmt: skip
            size = min(2.6, tall * 0.7, (x1 - x0) * 0.6)
            self.words(
                group, str(place + 1), x + (x1 - x0) / 2, y + tall / 2 + size * 0.36, size,
                text_anchor="middle", stroke="none", font_family=FONT_STACK,
                fill=self.theme.paper if here else self.theme.ink,
            )  # fmt: skip

    def _drawn(self, cell: Cell, row: GridRow) -> bool:
        if cell.kind == "none" and cell.outside:
            hatch = self.sheet.options.hatch_outside
            return row.in_round if hatch is None else hatch
        return cell.kind != "rest"

    def missing(self) -> None:
        sheet = self.sheet
        group = None
        for place, row in enumerate(sheet.grid.rows):
            for cell in row.cells:
                if cell.kind == "stitch" or (cell.kind == "none" and not self._drawn(cell, row)):
                    continue
                if group is None:
                    group = self.group("no-stitches")
                name = "no-stitch" if cell.kind == "none" else "not-worked"
                self.place(group, f"{self.prefix}-{name}", cell, place)

    def place(self, parent: Any, ident: str, cell: Cell, row: int) -> None:
        sheet = self.sheet
        width = cell.width
        column: float = cell.column
        if not width:  # a sign on the line between two cells
            x = sheet.x(column) - sheet.cell_width / 2
        else:
            x = sheet.cell_x(cell.column, width)
        parent.add(self.drawing.use(f"#{ident}", insert=(number(x), number(sheet.y(row + 1)))))

    def lines(self) -> None:
        """The lines between cells, the outline, and the heavier lines for counting."""
        sheet = self.sheet
        rows, width = sheet.grid.rows, sheet.grid.width
        height = len(rows)
        filled = [[False] * width for _ in rows]
        seams: list[set[int]] = []
        for place, row in enumerate(rows):
            here: set[int] = set()
            line = filled[place]
            for cell in row.cells:
                if cell.width and self._drawn(cell, row):
                    here.add(cell.column)
                    here.add(cell.column + cell.width)
                    for column in range(cell.column, cell.column + cell.width):
                        line[column] = True
            seams.append(here)
        thin: list[tuple[float, float, float, float]] = []
        outline: list[tuple[float, float, float, float]] = []
        heavy: list[tuple[float, float, float, float]] = []
        every = sheet.options.every
        for column in range(width + 1):
            kinds = []
            for place in range(height):
                right = column > 0 and filled[place][column - 1]
                left = column < width and filled[place][column]
                if right != left:
                    kinds.append(2)
                else:
                    kinds.append(1 if right and column in seams[place] else 0)
            x = sheet.x(column)
            for kind, start, end in _runs(kinds):
                target = outline if kind == 2 else thin
                if kind == 1 and every and (column + sheet.first_column) % every == 0:
                    target = heavy
                target.append((x, sheet.y(start), x, sheet.y(end)))
        empty = [False] * width
        for level in range(height + 1):
            below = filled[level - 1] if level else empty
            above = filled[level] if level < height else empty
            kinds = [2 if a != b else (1 if a else 0) for a, b in zip(below, above, strict=True)]
            y = sheet.y(level)
            for kind, start, end in _runs(kinds):
                target = outline if kind == 2 else thin
                if kind == 1 and every and (level + sheet.first_row) % every == 0:
                    target = heavy
                target.append((sheet.x(start), y, sheet.x(end), y))
        group = self.group("grid", fill="none", stroke=self.theme.grid)
        scale = sheet.scale
        self.path(group, _segments(thin), stroke_width=number(THIN * scale))
        self.path(group, _segments(heavy), stroke_width=number(HEAVY * scale))
        self.path(group, _segments(outline), stroke=self.theme.ink,
                  stroke_width=number(OUTLINE * scale), stroke_linecap="square")  # fmt: skip

    def rows(self) -> None:
        """The stitches, a titled group for each row, in the order they are worked."""
        sheet = self.sheet
        group = self.group("stitches", role="list")
        group["aria-label"] = "Rows in the order they are worked"
        for place, row in enumerate(sheet.grid.rows):
            name = f"row-{place + 1}"
            held = self.group(name, group, role="listitem")
            held.set_desc(title=xml_safe(row_title(row)))
            held["aria-label"] = xml_safe(row_title(row))
            for cell in row.cells:
                if cell.stitch is None:
                    continue
                ident = self.ids[(cell.stitch.key, cell.wrong_side)]
                if ident:
                    self.place(held, ident, cell, place)

    def _frame_path(self, edges: Sequence[Edge]) -> str:
        """The outline of a frame; open where the frame goes on beyond the sheet."""
        sheet = self.sheet
        width, height = sheet.grid.width, len(sheet.grid.rows)
        if any(edge.right < 0 or edge.left > width or not 0 <= edge.row < height for edge in edges):
            return self._open_frame_path(edges)
        points: list[Point] = []
        for edge in edges:
            points.append((sheet.x(edge.right), sheet.y(edge.row)))
            points.append((sheet.x(edge.right), sheet.y(edge.row + 1)))
        for edge in reversed(edges):
            points.append((sheet.x(edge.left), sheet.y(edge.row + 1)))
            points.append((sheet.x(edge.left), sheet.y(edge.row)))
        kept: list[Point] = []
        for point in points:  # leave out points on a straight stretch
            while len(kept) > 1 and (
                (kept[-2][0] == kept[-1][0] == point[0]) or (kept[-2][1] == kept[-1][1] == point[1])
            ):
                kept.pop()
            if not kept or kept[-1] != point:
                kept.append(point)
        return "M" + "L".join(_pair(point) for point in kept) + "Z" if kept else ""

    def _open_frame_path(self, edges: Sequence[Edge]) -> str:
        sheet = self.sheet
        width, height = sheet.grid.width, len(sheet.grid.rows)
        by_row = {edge.row: edge for edge in edges}
        lines: list[tuple[float, float, float, float]] = []
        for edge in edges:
            if 0 <= edge.row < height:
                for column in (edge.right, edge.left):
                    if 0 <= column <= width:
                        x = sheet.x(column)
                        lines.append((x, sheet.y(edge.row), x, sheet.y(edge.row + 1)))
        for level in range(height + 1):
            below, above = by_row.get(level - 1), by_row.get(level)
            if below is None and above is None:
                continue
            if below is None or above is None:
                spans = [(edge.right, edge.left) for edge in (below, above) if edge is not None]
            else:
                spans = [(below.right, above.right), (below.left, above.left)]
            for a, b in spans:
                low, high = max(0, min(a, b)), min(width, max(a, b))
                if low < high:
                    lines.append((sheet.x(low), sheet.y(level), sheet.x(high), sheet.y(level)))
        return _segments(lines)

    def frames(self) -> None:
        sheet = self.sheet
        if not sheet.options.frame or not sheet.grid.frames:
            return
        group = self.group(
            "repeat", fill="none", stroke=self.theme.ink, stroke_linejoin="miter",
            stroke_linecap="square",
            stroke_width=number(FRAME * sheet.scale),
        )  # fmt: skip
        for frame in sheet.grid.frames:
            pen = {"stroke_width": number(HEAVY * sheet.scale)} if frame.inner else {}
            self.path(group, self._frame_path(frame.edges), **pen)

    def numbers(self) -> None:
        sheet = self.sheet
        size = NUMBER * sheet.scale
        group = self.group("numbers", font_family=FONT_STACK, fill=self.theme.ink)
        group["aria-hidden"] = "true"  # the rows' own titles say their numbers
        pad = 1.6 * sheet.scale
        for place, row in enumerate(sheet.grid.rows):
            y = sheet.y(place + 0.5) + size * 0.36
            on_left = row.from_left != sheet.grid.left_handed
            if on_left:
                self.words(group, short_label(row), sheet.left - pad, y, size, text_anchor="end")
            else:
                self.words(group, short_label(row), sheet.left + sheet.grid_width + pad, y, size)
        for band in sheet.sections:
            if not band.lines:
                continue
            x = sheet.left + sheet.grid_width + sheet.right_gutter - sheet.section_room
            x += 2.0 * sheet.scale
            top, foot = sheet.y(band.end) + 0.6, sheet.y(band.first) - 0.6
            self.path(group, f"M{number(x)} {number(top)}V{number(foot)}", fill="none",
                      stroke=self.theme.ink, stroke_width=number(0.25 * sheet.scale))  # fmt: skip
            y = (top + foot) / 2 - (len(band.lines) / 2 - 0.5) * size * LINE + size * 0.36
            for line in band.lines:
                self.words(group, line, x + 1.4 * sheet.scale, y, size)
                y += size * LINE
        if sheet.options.numbers:
            y = sheet.bottom + size + 1.0 * sheet.scale
            step = 1 if sheet.grid.width <= 30 else 5
            for column in range(sheet.grid.width):
                told = column + sheet.first_column + 1
                if step == 1 or told == 1 or told % step == 0:
                    x = sheet.cell_x(column, 1) + sheet.cell_width / 2
                    self.words(group, str(told), x, y, size * 0.86, text_anchor="middle")

    def drift(self) -> None:
        """Where repeats begin on every row, and lines from the loops to stitches that lean."""
        sheet = self.sheet
        if not sheet.options.drift:
            return
        accent, scale = self.theme.accent, sheet.scale
        group = self.group("drift", fill="none", stroke=accent, stroke_linecap="round")
        for lean in leans(sheet.grid):
            start = (sheet.x(lean.below), sheet.y(lean.row - 0.5))
            end = (sheet.x(lean.middle), sheet.y(lean.row + 0.5))
            self.path(group, f"M{_pair(start)}L{_pair(end)}", stroke_width=number(0.35 * scale))
            group.add(
                self.drawing.circle(
                    (number(end[0]), number(end[1])), number(0.55 * scale), fill=accent,
                    stroke="none",
                )
            )  # fmt: skip
        size = min(sheet.cell_width, sheet.cell_height) * 0.26
        for place, row in enumerate(sheet.grid.rows):
            for column in repeat_starts(row):
                self.path(
                    group, self._start_sign(sheet.x(column), sheet.y(place), size, row.from_left),
                    fill=accent, stroke="none",
                )  # fmt: skip
        words = self.group("lean-numbers", font_family=FONT_STACK, fill=accent)
        letter = NUMBER * scale
        pad = 1.6 * scale
        mirror = sheet.grid.left_handed
        for place, most in enumerate(furthest(sheet.grid)):
            row = sheet.grid.rows[place]
            text = lean_words(*most, mirror)
            y = sheet.y(place + 0.5) + letter * 0.36
            if not text:
                continue
            if row.from_left != sheet.grid.left_handed:
                self.words(words, text, sheet.left + sheet.grid_width + pad, y, letter)
            else:
                self.words(words, text, sheet.left - pad, y, letter, text_anchor="end")
        for column, by in column_leans(sheet.grid):
            text = lean_words(max(by, 0), max(-by, 0), mirror) or "0"
            x = sheet.cell_x(column, 1) + sheet.cell_width / 2
            self.words(words, text, x, sheet.top - 1.0 * scale, letter * 0.86,
                       text_anchor="middle")  # fmt: skip

    def _start_sign(self, x: float, y: float, size: float, from_left: bool) -> str:
        """A small flag at the foot of the line where a repeat begins, pointing the way on."""
        toward = 1 if from_left != self.sheet.grid.left_handed else -1
        points = [(x, y), (x, y - 2 * size), (x + toward * size * 1.3, y - size)]
        return "M" + "L".join(_pair(point) for point in points) + "Z"

    def flagged(self) -> None:
        """The cells that findings are about: a broken outline and the finding's number."""
        sheet = self.sheet
        if not sheet.runs:
            return
        scale, accent = sheet.scale, self.theme.accent
        group = self.group("findings", fill="none", stroke=accent)
        places: dict[tuple[int, int], list[FlaggedRun]] = {}
        for run in sheet.runs:
            places.setdefault((run.row, run.left if run.left > run.right else -1), []).append(run)
        for runs in places.values():
            for right in sorted({run.right for run in runs if run.left > run.right}):
                x = min(sheet.x(right), sheet.x(runs[0].left))
                wide = (runs[0].left - right) * sheet.cell_width
                group.add(
                    self.drawing.rect(
                        (number(x), number(sheet.y(runs[0].row + 1))),
                        (number(wide), number(sheet.cell_height)),
                        stroke_width=number(0.6 * scale), stroke_dasharray=number(1.2 * scale),
                    )
                )  # fmt: skip
        for (place, left), runs in places.items():
            if left >= 0:
                x = min(sheet.x(runs[0].right), sheet.x(left))
                y, toward = sheet.y(place + 1), 1
            else:  # beside the number of a row as a whole
                row = sheet.grid.rows[place]
                on_left = row.from_left != sheet.grid.left_handed
                reach = sheet.left_gutter
                if not on_left:
                    reach = sheet.right_gutter - sheet.section_room
                toward = -1 if on_left else 1
                edge = sheet.left if on_left else sheet.left + sheet.grid_width
                x = edge + toward * (reach + 1.8 * scale)
                y = sheet.y(place + 0.5)
            for step, run in enumerate(runs):
                self.tag(group, (x + toward * step * 3.3 * scale, y), run.flag + 1)

    def tag(self, group: Any, middle: Point, value: int) -> None:
        """A number in a filled disc."""
        scale = self.sheet.scale
        group.add(
            self.drawing.circle(
                (number(middle[0]), number(middle[1])), number(1.5 * scale),
                fill=self.theme.accent, stroke=self.theme.paper, stroke_width=number(0.25 * scale),
            )
        )  # fmt: skip
        size = (2.1 if value < 10 else 1.6) * scale
        self.words(
            group, str(value), middle[0], middle[1] + size * 0.36, size, text_anchor="middle",
            fill=self.theme.paper, stroke="none", font_weight="bold", font_family=FONT_STACK,
        )  # fmt: skip

    def key(self) -> None:
        sheet = self.sheet
        if not sheet.key_columns:
            return
        scale = sheet.scale
        group = self.group("key", font_family=FONT_STACK, fill=self.theme.ink)
        size = TEXT * scale
        y0 = sheet.key_top + KEY * scale * 0.8
        self.words(group, "Key", sheet.key_left, y0, KEY * scale, font_weight="bold")
        for place, boxes in enumerate(sheet.key_columns):
            x = sheet.key_left + place * (ENTRY_ROOM + 10) * scale
            y = sheet.key_top + KEY * 1.9 * scale
            for box in boxes:
                self.sign(group, box, x, y)
                text_y = y
                if box.columns > 2:
                    text_y += sheet.cell_height * shrink(sheet, box) + 1.2 * scale
                elif len(box.lines) * size * LINE < sheet.cell_height:
                    text_y += (sheet.cell_height - len(box.lines) * size * LINE) / 2
                for line in box.lines:
                    text_y += size * LINE
                    self.line_of_text(group, line, x + sheet.sign_room, text_y - size * 0.38, size)
                y += box.height

    def sign(self, group: Any, box: KeyBox, x: float, y: float) -> None:
        """The symbol in its own cell, to the left of what it means."""
        sheet = self.sheet
        wide = box.columns * sheet.cell_width
        small = shrink(sheet, box)
        high = sheet.cell_height * small
        ident = ""
        if box.entry is not None:
            ident = self.ids[(box.entry.stitch.key, box.entry.behind)]
        elif box.sign == "none":
            ident = f"{self.prefix}-no-stitch"
        elif box.sign == "rest":
            ident = f"{self.prefix}-not-worked"
        if ident:
            use = self.drawing.use(f"#{ident}")
            move = f"translate({number(x)} {number(y)})"
            if small < 1:
                move += f" scale({number(small)})"
            use["transform"] = move
            group.add(use)
        if box.sign.startswith("flag"):
            down = max(sheet.cell_height, TEXT * sheet.scale * LINE) / 2
            middle = (x + sheet.cell_width / 2, y + (down if len(box.lines) < 2 else 1.8))
            self.tag(group, middle, int(box.sign[5:]))
            return
        if box.sign == "start":
            size = min(sheet.cell_width, high) * 0.26
            data = self._start_sign(x + wide / 2, y + high, size, False)
            self.path(group, data, fill=self.theme.accent)
        if box.sign == "lean":
            ends = ((x + wide * 0.75, y + high * 0.85), (x + wide * 0.25, y + high * 0.2))
            self.path(group, f"M{_pair(ends[0])}L{_pair(ends[1])}", fill="none",
                      stroke=self.theme.accent, stroke_width=number(0.35 * sheet.scale),
                      stroke_linecap="round")  # fmt: skip
            group.add(
                self.drawing.circle(
                    (number(ends[1][0]), number(ends[1][1])), number(0.55 * sheet.scale),
                    fill=self.theme.accent,
                )
            )  # fmt: skip
        frame = box.sign == "frame"
        group.add(
            self.drawing.rect(
                (number(x), number(y)), (number(wide * small), number(high)), fill="none",
                stroke=self.theme.ink if frame else self.theme.grid,
                stroke_width=number((FRAME if frame else THIN) * sheet.scale),
            )
        )  # fmt: skip


def _runs(kinds: Sequence[int]) -> Iterable[tuple[int, int, int]]:
    """Stretches of equal marks other than 0: (mark, start, end)."""
    start = 0
    for place in range(1, len(kinds) + 1):
        if place == len(kinds) or kinds[place] != kinds[start]:
            if kinds[start]:
                yield kinds[start], start, place
            start = place


def _segments(lines: Sequence[tuple[float, float, float, float]]) -> str:
    return "".join(
        f"M{number(ax)} {number(ay)}L{number(bx)} {number(by)}" for ax, ay, bx, by in lines
    )


_INLINE = {"text", "tspan", "title", "desc", "metadata"}


def _written(root: Any, prefix: str, title: str, desc: str, grid: str) -> str:
    """The tree as text, one element to a line, with title, description and grid in front."""
    parts = [("title", title), ("desc", desc), *([("metadata", grid)] if grid else [])]
    for place, (name, text) in enumerate(parts):
        element = ElementTree.Element(name)
        element.set("id", f"{prefix}-{'grid-data' if name == 'metadata' else name}")
        element.text = text
        root.insert(place, element)
    _spread(root)
    text = ElementTree.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="utf-8"?>\n{text}\n'


def _spread(element: Any) -> None:
    if element.tag in _INLINE:
        return
    for child in element:
        child.tail = "\n"
        _spread(child)
    if len(element):
        element.text = "\n"


def draw(
    grid: Grid,
    legend: Legend | None = None,
    *,
    title: str = "",
    notes: Sequence[str] = (),
    flags: Sequence[Flag] = (),
    options: ChartOptions | None = None,
) -> str:
    """The chart as an SVG file's text.

    `legend` is made from the grid when left out; `notes` are further lines under the title;
    `flags` are remarks on passages of the text, marked on the cells they concern.
    """
    options = options or ChartOptions()
    if legend is None:
        legend = legend_for(grid, options)
    sheet = measure(grid, legend, options, title, notes, flags)
    return _Pen(sheet, _prefix(options)).draw()


def draw_page(
    page: Page,
    whole: Grid,
    legend: Legend,
    *,
    title: str = "",
    notes: Sequence[str] = (),
    flags: Sequence[Flag] = (),
    options: ChartOptions | None = None,
) -> str:
    """One printed page of a chart as an SVG file's text, the size of the paper."""
    options = options or ChartOptions()
    sheet = measure_page(page, whole, legend, options, title, notes, flags)
    return _Pen(sheet, _prefix(options)).draw()


def legend_for(grid: Grid, options: ChartOptions) -> Legend:
    """The key of a grid as it is drawn with these options."""
    hatched = options.hatch_outside
    if hatched is None:
        hatched = any(row.in_round for row in grid.rows)
    return make_legend(grid, options.usage, hatched=hatched)


def _prefix(options: ChartOptions) -> str:
    """The options' prefix made fit to begin an XML name."""
    prefix = re.sub(r"[^A-Za-z0-9_-]+", "-", options.prefix)
    return prefix if prefix and prefix[0].isalpha() else f"chart{prefix}"


class _TablePen(_Pen):
    """Draws a table of symbols with their abbreviations."""

    def table(self, groups: Sequence[tuple[str, Sequence[Stitch]]]) -> str:
        sheet = self.sheet
        sheet.margin, sheet.width = MARGIN, 190.0
        sheet.title_lines, sheet.note_lines = [sheet.title], []
        self.symbols()
        body = self.drawing.g(id=f"{self.prefix}-table", font_family=FONT_STACK)
        body["fill"] = self.theme.ink
        columns, wide = 8, (190.0 - 2 * MARGIN) / 8
        y = MARGIN + TITLE * 1.25 + 5
        for heading, stitches in groups:
            self.words(body, heading, MARGIN, y + KEY, KEY, font_weight="bold")
            y += KEY * 1.7
            at = 0
            for stitch in stitches:
                cells = max(1, columns_of(stitch))
                span = min(columns, int((cells * sheet.cell_width + 2) // wide) + 1)
                if at + span > columns:
                    at, y = 0, y + 14.0
                x = MARGIN + at * wide
                ident = self.ids[(stitch.key, False)]
                if ident:
                    body.add(self.drawing.use(f"#{ident}", insert=(number(x), number(y))))
                body.add(
                    self.drawing.rect(
                        (number(x), number(y)),
                        (number(cells * sheet.cell_width), number(sheet.cell_height)),
                        fill="none", stroke=self.theme.grid, stroke_width=number(THIN),
                    )
                )  # fmt: skip
                lines = wrapped(stitch.us or stitch.key, 2.3, span * wide - 2)[:2]
                for place, line in enumerate(lines):
                    self.words(body, line, x, y + sheet.cell_height + 3.1 + 2.8 * place, 2.3)
                at += span
            y += 15.0
        sheet.height = y + MARGIN
        self.drawing["width"], self.drawing["height"] = "190mm", f"{number(sheet.height)}mm"
        self.drawing["viewBox"] = f"0 0 190 {number(sheet.height)}"
        paper = self.group("paper")
        paper.add(self.drawing.rect((0, 0), (190, number(sheet.height)), fill=self.theme.paper))
        self.heading()
        self.drawing.add(body)
        root = self.drawing.get_xml()
        desc = "Every symbol with the abbreviation of its stitch, by family."
        return _written(root, self.prefix, xml_safe(sheet.title), desc, "")


def draw_table(title: str, groups: Sequence[tuple[str, Sequence[Stitch]]]) -> str:
    """A table of the symbols of stitches, in groups with headings, as an SVG file's text."""
    grid = Grid((), 0, False, background="")
    shown = [(stitch, False) for _, stitches in groups for stitch in stitches]
    letters = lettered(shown, abbreviation)
    entries = tuple(
        Entry(stitch, False, letters.get((stitch.key, False), ""), ()) for stitch, _ in shown
    )
    options = ChartOptions(prefix="table", background="")
    sheet = Sheet(grid, Legend(entries), options, title, ())
    return _TablePen(sheet, "table").table(groups)


def read_back(svg_text: str) -> Grid:
    """The grid a chart was drawn from. Raises NoGrid when the text carries none."""
    try:
        root = ElementTree.fromstring(svg_text)
    except ElementTree.ParseError:
        raise NoGrid("this is not an SVG drawing") from None
    for element in root.iter(f"{_SVG}metadata"):
        if element.text and element.get("id", "").endswith("-grid-data"):
            return from_json(element.text)
    raise NoGrid("this drawing carries no chart grid")
