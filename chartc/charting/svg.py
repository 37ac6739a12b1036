"""The chart as SVG. The only module that uses svgwrite.

The same grid and options give the same bytes. Lengths are in mm: the viewBox is in mm too, so
every number in the file is one.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any
from xml.etree import ElementTree

import svgwrite

from chartc.charting.grid import Cell, Grid, GridRow
from chartc.charting.gridjson import NoGrid, from_json, to_json
from chartc.charting.legend import Entry, Legend, make_legend
from chartc.charting.lettering import FONT_STACK, balanced, text_width, wrapped, xml_safe
from chartc.charting.options import ChartOptions
from chartc.charting.overlay import (
    Flag,
    FlaggedRun,
    column_leans,
    flagged_runs,
    furthest,
    leans,
    repeat_starts,
)
from chartc.charting.rowwords import (
    describe,
    left_out_line,
    reading_line,
    row_title,
    short_label,
)
from chartc.charting.strokes import Lettering, Path, Point, Ring, Stroke
from chartc.charting.symbols import PEN, Symbol, symbol

_SVG = "{http://www.w3.org/2000/svg}"

# Sizes in mm, before large print.
_MARGIN = 8.0
_TITLE, _NOTE, _NUMBER, _KEY, _TEXT = 4.8, 2.7, 2.5, 3.4, 2.7
_LINE = 1.36  # line height for a letter size of 1
_THIN, _OUTLINE, _HEAVY, _FRAME = 0.18, 0.3, 0.4, 0.75
_BESIDE_ROOM = 190.0  # a legend stands beside the chart when both fit this width
_ENTRY_ROOM = 78.0  # width of a column of the legend


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


@dataclass(slots=True)
class _Line:
    """One line of text: pieces of plain and bold letters."""

    pieces: list[tuple[str, bool]]


@dataclass(slots=True)
class _KeyBox:
    """A legend entry measured: its sign, text lines and height."""

    sign: str
    columns: int
    lines: list[_Line]
    height: float = 0.0
    entry: Entry | None = None


@dataclass(slots=True)
class _Sheet:
    """Where everything stands on the drawing, in mm."""

    grid: Grid
    legend: Legend
    options: ChartOptions
    title: str
    notes: tuple[str, ...]
    flags: tuple[Flag, ...] = ()
    runs: list[FlaggedRun] = field(default_factory=list)
    scale: float = 1.0
    cell_width: float = 5.0
    cell_height: float = 5.0
    title_lines: list[str] = field(default_factory=list)
    note_lines: list[str] = field(default_factory=list)
    left: float = 0.0
    top: float = 0.0
    right_gutter: float = 0.0
    left_gutter: float = 0.0
    width: float = 0.0
    height: float = 0.0
    boxes: list[_KeyBox] = field(default_factory=list)
    sign_room: float = 0.0
    key_left: float = 0.0
    key_top: float = 0.0
    key_columns: list[list[_KeyBox]] = field(default_factory=list)

    @property
    def grid_width(self) -> float:
        return self.grid.width * self.cell_width

    @property
    def grid_height(self) -> float:
        return len(self.grid.rows) * self.cell_height

    @property
    def bottom(self) -> float:
        return self.top + self.grid_height

    def x(self, column: float) -> float:
        """The line to the right of a column: column 0 has the chart's right edge. In a
        left-handed chart, the line to its left."""
        if self.grid.left_handed:
            return self.left + column * self.cell_width
        return self.left + self.grid_width - column * self.cell_width

    def cell_x(self, column: int, width: int) -> float:
        """The left edge of a cell."""
        return min(self.x(column), self.x(column + width))

    def y(self, row: float) -> float:
        """The line below a row: row 0 has the chart's bottom edge."""
        return self.bottom - row * self.cell_height


def _measure(
    grid: Grid,
    legend: Legend,
    options: ChartOptions,
    title: str,
    notes: Sequence[str],
    flags: Sequence[Flag],
) -> _Sheet:
    sheet = _Sheet(grid, legend, options, title, tuple(notes), tuple(flags))
    sheet.runs = flagged_runs(grid, flags)
    scale = sheet.scale = 1.5 if options.large_print else 1.0
    sheet.cell_width = options.cell * scale
    sheet.cell_height = sheet.cell_width * options.proportion
    size = _NUMBER * scale
    labels = {True: [""], False: [""]}
    for row in grid.rows:
        labels[row.from_left].append(short_label(row))
    if options.drift:
        for row, most in zip(grid.rows, furthest(grid), strict=True):
            labels[not row.from_left].append(_lean_words(*most, grid.left_handed))
    gutter = {
        side: max(text_width(label, size) for label in texts) for side, texts in labels.items()
    }
    pad = 1.6 * scale
    from_left = gutter[True] + pad if gutter[True] else 0.0
    from_right = gutter[False] + pad if gutter[False] else 0.0
    if grid.left_handed:
        from_left, from_right = from_right, from_left
    sheet.left_gutter, sheet.right_gutter = from_left, from_right
    margin = _MARGIN * scale
    chart_width = from_left + sheet.grid_width + from_right
    _key_boxes(sheet)
    gap = 10 * scale
    room = _ENTRY_ROOM * scale
    place = options.legend if sheet.boxes else "none"
    columns = 1
    if place in ("auto", "below"):
        wide = max(chart_width, room)
        columns = max(1, min(len(sheet.boxes), int((wide + gap) // (room + gap))))
    if place == "auto":
        # The smaller paper wins, as long as the width of a page is not passed.
        beside = chart_width + gap + room
        key = _column_height(sheet.boxes, scale)
        below = sheet.grid_height + 7 * scale + key / columns
        area = max(sheet.grid_height, key) * beside
        fits = beside <= _BESIDE_ROOM * scale
        place = "beside" if fits and area <= 1.15 * below * max(chart_width, room) else "below"
    wide = chart_width
    if place == "beside":
        wide = chart_width + gap + room
    elif place == "below":
        wide = max(chart_width, room)
    wide = max(wide, 60 * scale)
    sheet.title_lines = wrapped(title, _TITLE * scale, wide, bold=True)
    texts = [*([reading_line(grid)] if grid.rows else []), *map(left_out_line, grid.left_out)]
    texts += list(notes)
    sheet.note_lines = [
        line for text in texts for line in balanced(text, _NOTE * scale, wide)
    ]
    y = margin
    y += len(sheet.title_lines) * _TITLE * scale * 1.25
    if sheet.title_lines:
        y += 1.2 * scale
    y += len(sheet.note_lines) * _NOTE * scale * _LINE
    y += (5.0 if y > margin else 0.0) * scale
    if options.drift:
        y += (_NUMBER + 1.2) * scale
    sheet.left, sheet.top = margin + from_left, y
    foot = sheet.bottom
    if options.numbers:
        foot += (_NUMBER + 1.4) * scale
    if place == "beside":
        sheet.key_left = margin + chart_width + gap
        sheet.key_top = sheet.top
        sheet.key_columns = [sheet.boxes]
        foot = max(foot, sheet.key_top + _column_height(sheet.boxes, scale))
    elif place == "below":
        sheet.key_left = margin
        sheet.key_top = foot + 7 * scale
        sheet.key_columns = _columns(sheet.boxes, columns, scale)
        foot = sheet.key_top + max(_column_height(c, scale) for c in sheet.key_columns)
    sheet.width = wide + 2 * margin
    sheet.height = foot + margin
    return sheet


def _column_height(boxes: Sequence[_KeyBox], scale: float) -> float:
    return (_KEY * 1.9 + sum(box.height for box in boxes) / scale) * scale


def _columns(boxes: list[_KeyBox], count: int, scale: float) -> list[list[_KeyBox]]:
    """The boxes in so many columns, in order, the tallest as low as can be."""
    if count <= 1:
        return [boxes]
    low = max(box.height for box in boxes)
    high = sum(box.height for box in boxes)

    def filled(limit: float) -> list[list[_KeyBox]]:
        columns: list[list[_KeyBox]] = [[]]
        used = 0.0
        for box in boxes:
            if used + box.height > limit + 1e-6 and columns[-1]:
                columns.append([])
                used = 0.0
            columns[-1].append(box)
            used += box.height
        return columns

    for _ in range(40):
        middle = (low + high) / 2
        if len(filled(middle)) <= count:
            high = middle
        else:
            low = middle
    return filled(high)


def _key_boxes(sheet: _Sheet) -> None:
    """The legend entries with their text broken into lines."""
    scale = sheet.scale
    # A sign wider than two cells stands above its text, so that the others keep close to theirs.
    widest = 1
    for entry in sheet.legend.entries:
        columns = entry.stitch.makes or entry.stitch.uses
        widest = max(widest, columns if columns <= 2 else 1)
    sheet.sign_room = widest * sheet.cell_width + 3.2 * scale
    room = _ENTRY_ROOM * scale - sheet.sign_room
    size = _TEXT * scale
    boxes: list[_KeyBox] = []
    for place, entry in enumerate(sheet.legend.entries):
        lines: list[_Line] = []
        for meaning in entry.meanings:
            lead = f"{meaning.side}: " if meaning.side else ""
            lines += _told(lead, meaning.name, meaning.title, size, room)
            if not _says_no_more(meaning.how, meaning.title):
                lines += [_Line([(line, False)]) for line in wrapped(meaning.how, size, room)]
        if entry.behind:
            text = "Worked on the wrong side (the corner mark); drawn as seen from the right side."
            lines += [_Line([(line, False)]) for line in wrapped(text, size, room)]
        columns = max(1, entry.stitch.makes or entry.stitch.uses)
        boxes.append(_KeyBox(f"s{place}", columns, lines, entry=entry))
    if sheet.legend.no_stitch:
        text = "There is no stitch here: pass over this box."
        lines = _told("", "no stitch", "", size, room)
        lines += [_Line([(line, False)]) for line in wrapped(text, size, room)]
        boxes.append(_KeyBox("none", 1, lines))
    if sheet.legend.resting:
        lines = _told("", "not worked", "", size, room)
        text = "The stitch waits on the needle while this row is worked."
        lines += [_Line([(line, False)]) for line in wrapped(text, size, room)]
        boxes.append(_KeyBox("rest", 1, lines))
    if sheet.legend.frame and sheet.options.frame:
        lines = _told("", "repeat", "", size, room)
        text = "Work the stitches inside the frame again and again."
        lines += [_Line([(line, False)]) for line in wrapped(text, size, room)]
        boxes.append(_KeyBox("frame", 1, lines))
    if sheet.options.drift and any(repeat_starts(row) for row in sheet.grid.rows):
        text = "A repeat begins here on this row, in the direction it is worked."
        lines = _told("", "repeat begins", "", size, room)
        lines += [_Line([(line, False)]) for line in wrapped(text, size, room)]
        boxes.append(_KeyBox("start", 1, lines))
    if sheet.options.drift:
        text = (
            "The stitch does not stand over the loop it was drawn through: the line runs from "
            "that loop. 2L beside a row: its stitches lean two columns to the left at most. "
            "Above the chart: how far each column has come over from its foot."
        )
        lines = _told("", "lean", "", size, room)
        lines += [_Line([(line, False)]) for line in wrapped(text, size, room)]
        boxes.append(_KeyBox("lean", 1, lines))
    for number in sorted({run.flag for run in sheet.runs}):
        message = sheet.flags[number].text
        text = message[:1].upper() + message[1:]
        text += "" if text.endswith((".", "?", "!")) else "."
        lines = [_Line([(line, False)]) for line in wrapped(text, size, room)]
        boxes.append(_KeyBox(f"flag {number + 1}", 1, lines))
    for box in boxes:
        text_height = len(box.lines) * size * _LINE
        box.height = max(text_height, sheet.cell_height) + 2.6 * scale
        if box.columns > 2:
            box.height = text_height + sheet.cell_height * _shrink(sheet, box) + 4.2 * scale
    sheet.boxes = boxes


def _lean_words(left: int, right: int, mirror: bool) -> str:
    """ "2L 1R": columns leant to the left and to the right, as drawn."""
    if mirror:
        left, right = right, left
    return " ".join(
        f"{count}{side}" for count, side in ((left, "L"), (right, "R")) if count
    )


def _shrink(sheet: _Sheet, box: _KeyBox) -> float:
    """How much smaller a sign is drawn in the key so that it fits the column."""
    return min(1.0, _ENTRY_ROOM * sheet.scale / (box.columns * sheet.cell_width))


def _says_no_more(how: str, title: str) -> bool:
    """Whether "Knit the stitch." stands beside "knit"."""
    return len(how.split()) <= 3 and how.lower().startswith(title.lower())


def _told(lead: str, name: str, title: str, size: float, room: float) -> list[_Line]:
    """The name in bold and the title after it, running on where they do not fit one line."""
    used = text_width(lead, size) + text_width(name, size, bold=True)
    if used > room:
        lines = [_Line([(line, True)]) for line in wrapped(lead + name, size, room, True)]
        if title and title != name:
            lines += [_Line([(line, False)]) for line in wrapped(title, size, room)]
        return lines
    first = _Line([(lead, False), (name, True)])
    if not title or title == name:
        return [first]
    words = title.split()
    fit = 0
    while fit < len(words) and (
        used + text_width("  " + " ".join(words[: fit + 1]), size) <= room
    ):
        fit += 1
    if fit:
        first.pieces.append(("  " + " ".join(words[:fit]), False))
    rest = wrapped(" ".join(words[fit:]), size, room)
    return [first, *(_Line([(line, False)]) for line in rest)]


class _Pen:
    """Draws a sheet with svgwrite."""

    def __init__(self, sheet: _Sheet, prefix: str) -> None:
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

    def words(
        self, parent: Any, text: str, x: float, y: float, size: float, **extra: Any
    ) -> None:
        parent.add(
            self.drawing.text(
                xml_safe(text), x=[number(x)], y=[number(y)], font_size=number(size), **extra
            )
        )

    def line_of_text(self, parent: Any, line: _Line, x: float, y: float, size: float) -> None:
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
            drawing.rect(
                (0, 0), (number(sheet.width), number(sheet.height)), fill=self.theme.paper
            )
        )
        self.heading()
        self.tint()
        self.missing()
        self.lines()
        self.rows()
        self.frames()
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
            cell.kind == "none" for row in sheet.grid.rows for cell in row.cells
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
                f"M{number(ax * wide)} {number(ay * high)}"
                f"L{number(bx * wide)} {number(by * high)}"
            )
        holder = self.drawing.symbol(id=ident)
        holder["overflow"] = "visible"
        holder.add(
            self.drawing.path(
                d="".join(parts), fill="none", stroke=self.theme.grid,
                stroke_width=number(_THIN * self.sheet.scale),
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
        scale, x = sheet.scale, _MARGIN * sheet.scale
        y = x
        for line in sheet.title_lines:
            y += _TITLE * scale * 1.25
            self.words(group, line, x, y - _TITLE * scale * 0.35, _TITLE * scale,
                       font_weight="bold")  # fmt: skip
        if sheet.title_lines:
            y += 1.2 * scale
        for line in sheet.note_lines:
            y += _NOTE * scale * _LINE
            self.words(group, line, x, y - _NOTE * scale * 0.38, _NOTE * scale)

    def tint(self) -> None:
        if not self.sheet.options.highlight:
            return
        group = self.group("highlight", fill=self.theme.tint, stroke="none")
        for frame in self.sheet.grid.frames:
            self.path(group, self._frame_path(frame.edges))

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
        parent.add(
            self.drawing.use(f"#{ident}", insert=(number(x), number(sheet.y(row + 1))))
        )

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
                if kind == 1 and every and column % every == 0:
                    target = heavy
                target.append((x, sheet.y(start), x, sheet.y(end)))
        empty = [False] * width
        for level in range(height + 1):
            below = filled[level - 1] if level else empty
            above = filled[level] if level < height else empty
            kinds = [
                2 if a != b else (1 if a else 0) for a, b in zip(below, above, strict=True)
            ]
            y = sheet.y(level)
            for kind, start, end in _runs(kinds):
                target = outline if kind == 2 else thin
                if kind == 1 and every and level % every == 0:
                    target = heavy
                target.append((sheet.x(start), y, sheet.x(end), y))
        group = self.group("grid", fill="none", stroke=self.theme.grid)
        scale = sheet.scale
        self.path(group, _segments(thin), stroke_width=number(_THIN * scale))
        self.path(group, _segments(heavy), stroke_width=number(_HEAVY * scale))
        self.path(group, _segments(outline), stroke=self.theme.ink,
                  stroke_width=number(_OUTLINE * scale), stroke_linecap="square")  # fmt: skip

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
                if cell.kind != "stitch" or cell.stitch is None:
                    continue
                ident = self.ids[(cell.stitch.key, cell.wrong_side)]
                if ident:
                    self.place(held, ident, cell, place)

    def _frame_path(self, edges: Sequence[Any]) -> str:
        sheet = self.sheet
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

    def frames(self) -> None:
        sheet = self.sheet
        if not sheet.options.frame or not sheet.grid.frames:
            return
        group = self.group(
            "repeat", fill="none", stroke=self.theme.ink, stroke_linejoin="miter",
            stroke_width=number(_FRAME * sheet.scale),
        )  # fmt: skip
        for frame in sheet.grid.frames:
            self.path(group, self._frame_path(frame.edges))

    def numbers(self) -> None:
        sheet = self.sheet
        size = _NUMBER * sheet.scale
        group = self.group("numbers", font_family=FONT_STACK, fill=self.theme.ink)
        pad = 1.6 * sheet.scale
        for place, row in enumerate(sheet.grid.rows):
            y = sheet.y(place + 0.5) + size * 0.36
            on_left = row.from_left != sheet.grid.left_handed
            if on_left:
                self.words(group, short_label(row), sheet.left - pad, y, size, text_anchor="end")
            else:
                self.words(group, short_label(row), sheet.left + sheet.grid_width + pad, y, size)
        if sheet.options.numbers:
            y = sheet.bottom + size + 1.0 * sheet.scale
            step = 1 if sheet.grid.width <= 30 else 5
            for column in range(sheet.grid.width):
                if step == 1 or column == 0 or (column + 1) % step == 0:
                    x = sheet.cell_x(column, 1) + sheet.cell_width / 2
                    self.words(group, str(column + 1), x, y, size * 0.86, text_anchor="middle")

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
        letter = _NUMBER * scale
        pad = 1.6 * scale
        mirror = sheet.grid.left_handed
        for place, most in enumerate(furthest(sheet.grid)):
            row = sheet.grid.rows[place]
            text = _lean_words(*most, mirror)
            y = sheet.y(place + 0.5) + letter * 0.36
            if not text:
                continue
            if row.from_left != sheet.grid.left_handed:
                self.words(words, text, sheet.left + sheet.grid_width + pad, y, letter)
            else:
                self.words(words, text, sheet.left - pad, y, letter, text_anchor="end")
        for column, by in column_leans(sheet.grid):
            text = _lean_words(max(by, 0), max(-by, 0), mirror) or "0"
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
                reach = sheet.left_gutter if on_left else sheet.right_gutter
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
        size = _TEXT * scale
        y0 = sheet.key_top + _KEY * scale * 0.8
        self.words(group, "Key", sheet.key_left, y0, _KEY * scale, font_weight="bold")
        for place, boxes in enumerate(sheet.key_columns):
            x = sheet.key_left + place * (_ENTRY_ROOM + 10) * scale
            y = sheet.key_top + _KEY * 1.9 * scale
            for box in boxes:
                self.sign(group, box, x, y)
                text_y = y
                if box.columns > 2:
                    text_y += sheet.cell_height * _shrink(sheet, box) + 1.2 * scale
                elif len(box.lines) * size * _LINE < sheet.cell_height:
                    text_y += (sheet.cell_height - len(box.lines) * size * _LINE) / 2
                for line in box.lines:
                    text_y += size * _LINE
                    self.line_of_text(
                        group, line, x + sheet.sign_room, text_y - size * 0.38, size
                    )
                y += box.height

    def sign(self, group: Any, box: _KeyBox, x: float, y: float) -> None:
        """The symbol in its own cell, to the left of what it means."""
        sheet = self.sheet
        wide = box.columns * sheet.cell_width
        shrink = _shrink(sheet, box)
        high = sheet.cell_height * shrink
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
            if shrink < 1:
                move += f" scale({number(shrink)})"
            use["transform"] = move
            group.add(use)
        if box.sign.startswith("flag"):
            down = max(sheet.cell_height, _TEXT * sheet.scale * _LINE) / 2
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
                (number(x), number(y)), (number(wide * shrink), number(high)), fill="none",
                stroke=self.theme.ink if frame else self.theme.grid,
                stroke_width=number((_FRAME if frame else _THIN) * sheet.scale),
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
    for place, (name, text) in enumerate((("title", title), ("desc", desc), ("metadata", grid))):
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
        hatched = options.hatch_outside
        if hatched is None:
            hatched = any(row.in_round for row in grid.rows)
        legend = make_legend(grid, options.usage, hatched=hatched)
    prefix = re.sub(r"[^A-Za-z0-9_-]+", "-", options.prefix)
    if not prefix or not prefix[0].isalpha():
        prefix = f"chart{prefix}"
    return _Pen(_measure(grid, legend, options, title, notes, flags), prefix).draw()


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
