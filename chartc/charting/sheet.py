"""Where everything stands on the drawing of a chart, in mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from chartc.charting.grid import Grid
from chartc.charting.legend import Entry, Legend
from chartc.charting.lettering import balanced, text_width, wrapped
from chartc.charting.options import ChartOptions
from chartc.charting.overlay import Flag, FlaggedRun, flagged_runs, furthest, repeat_starts
from chartc.charting.pages import Division, Paper, Part
from chartc.charting.rowwords import left_out_line, reading_line, short_label

# Sizes in mm, before large print.
MARGIN = 8.0
TITLE, NOTE, NUMBER, KEY, TEXT = 4.8, 2.7, 2.5, 3.4, 2.7
LINE = 1.36  # line height for a letter size of 1
THIN, OUTLINE, HEAVY, FRAME = 0.18, 0.3, 0.4, 0.75
BESIDE_ROOM = 190.0  # a legend stands beside the chart when both fit this width
ENTRY_ROOM = 78.0  # width of a column of the legend


@dataclass(slots=True)
class Line:
    """One line of text: pieces of plain and bold letters."""

    pieces: list[tuple[str, bool]]


@dataclass(slots=True)
class KeyBox:
    """A legend entry measured: its sign, text lines and height."""

    sign: str
    columns: int
    lines: list[Line]
    height: float = 0.0
    entry: Entry | None = None


@dataclass(frozen=True, slots=True)
class Page:
    """A printed page with a part of the chart, some of the key, or both.

    number, count   of the pages
    part            which part of the division it shows, None for none
    boxes           which entries of the key it shows (first, end), None for none
    """

    paper: Paper
    number: int
    count: int
    division: Division
    part: int | None
    boxes: tuple[int, int] | None = None

    @property
    def shown(self) -> Part | None:
        return None if self.part is None else self.division.parts[self.part]


@dataclass(frozen=True, slots=True)
class Band:
    """Rows that belong to one section, and its name broken into lines."""

    first: int
    end: int
    lines: tuple[str, ...]


@dataclass(slots=True)
class Sheet:
    """Where everything stands on the drawing, in mm."""

    grid: Grid
    legend: Legend
    options: ChartOptions
    title: str
    notes: tuple[str, ...]
    flags: tuple[Flag, ...] = ()
    page: Page | None = None
    sections: list[Band] = field(default_factory=list)
    section_room: float = 0.0
    margin: float = 0.0
    map_room: float = 0.0
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
    foot: float = 0.0  # the lowest thing on a page
    boxes: list[KeyBox] = field(default_factory=list)
    sign_room: float = 0.0
    key_left: float = 0.0
    key_top: float = 0.0
    key_columns: list[list[KeyBox]] = field(default_factory=list)

    @property
    def first_column(self) -> int:
        """The column of the whole chart that the sheet's column 0 is."""
        part = self.page.shown if self.page is not None else None
        return part.first_column if part is not None else 0

    @property
    def first_row(self) -> int:
        """The row of the whole chart that the sheet's row 0 is."""
        part = self.page.shown if self.page is not None else None
        return part.first_row if part is not None else 0

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


def measure(
    grid: Grid,
    legend: Legend,
    options: ChartOptions,
    title: str,
    notes: Sequence[str],
    flags: Sequence[Flag],
) -> Sheet:
    sheet = Sheet(grid, legend, options, title, tuple(notes), tuple(flags))
    sheet.runs = flagged_runs(grid, flags)
    gutters(sheet)
    scale, from_left, from_right = sheet.scale, sheet.left_gutter, sheet.right_gutter
    margin = sheet.margin = MARGIN * scale
    chart_width = from_left + sheet.grid_width + from_right
    key_boxes(sheet)
    gap = 10 * scale
    room = ENTRY_ROOM * scale
    place = options.legend if sheet.boxes else "none"
    columns = 1
    if place in ("auto", "below"):
        wide = max(chart_width, room)
        columns = max(1, min(len(sheet.boxes), int((wide + gap) // (room + gap))))
    if place == "auto":
        # The smaller paper wins, as long as the width of a page is not passed.
        beside = chart_width + gap + room
        key = column_height(sheet.boxes, scale)
        below = sheet.grid_height + 7 * scale + key / columns
        area = max(sheet.grid_height, key) * beside
        fits = beside <= BESIDE_ROOM * scale
        place = "beside" if fits and area <= 1.15 * below * max(chart_width, room) else "below"
    wide = chart_width
    if place == "beside":
        wide = chart_width + gap + room
    elif place == "below":
        wide = max(chart_width, room)
    wide = max(wide, 60 * scale)
    sheet.title_lines = wrapped(title, TITLE * scale, wide, bold=True)
    texts = [*([reading_line(grid)] if grid.rows else []), *map(left_out_line, grid.left_out)]
    texts += list(notes)
    sheet.note_lines = [line for text in texts for line in balanced(text, NOTE * scale, wide)]
    y = margin
    y += len(sheet.title_lines) * TITLE * scale * 1.25
    if sheet.title_lines:
        y += 1.2 * scale
    y += len(sheet.note_lines) * NOTE * scale * LINE
    y += (5.0 if y > margin else 0.0) * scale
    if options.drift:
        y += (NUMBER + 1.2) * scale
    sheet.left, sheet.top = margin + from_left, y
    foot = sheet.bottom
    if options.numbers:
        foot += (NUMBER + 1.4) * scale
    if place == "beside":
        sheet.key_left = margin + chart_width + gap
        sheet.key_top = sheet.top
        sheet.key_columns = [sheet.boxes]
        foot = max(foot, sheet.key_top + column_height(sheet.boxes, scale))
    elif place == "below":
        sheet.key_left = margin
        sheet.key_top = foot + 7 * scale
        sheet.key_columns = spread(sheet.boxes, columns, scale)
        foot = sheet.key_top + max(column_height(c, scale) for c in sheet.key_columns)
    sheet.width = wide + 2 * margin
    sheet.height = foot + margin
    return sheet


PAGE_MARGIN = 12.0  # blank border of a printed page
_SECTION = 24.0  # room for the names of sections beside the rows
_MAP = 30.0  # room for the map of the pages
_FOOT = 6.0  # room for the notes on where pages join


def measure_page(
    page: Page,
    whole: Grid,
    legend: Legend,
    options: ChartOptions,
    title: str,
    notes: Sequence[str],
    flags: Sequence[Flag],
) -> Sheet:
    """A page of paper: the part stands under the heading, the key below or beside it."""
    part = page.shown
    grid = part.grid if part is not None else replace(whole, rows=(), frames=(), width=0)
    sheet = Sheet(grid, legend, options, title, tuple(notes), tuple(flags), page)
    sheet.runs = flagged_runs(whole, flags)
    key_boxes(sheet, whole)
    if part is not None:
        sheet.runs = flagged_runs(grid, flags)
    gutters(sheet)
    scale = sheet.scale
    sheet.margin = PAGE_MARGIN
    sheet.width, sheet.height = page.paper.width, page.paper.height
    room = sheet.width - 2 * PAGE_MARGIN
    many = len(page.division.parts) > 1
    if many and part is not None:
        sheet.map_room = _MAP
    heading_room = room - sheet.map_room - (4.0 if sheet.map_room else 0.0)
    if page.number > 1:
        title = f"{title}, continued" if title else ""
    sheet.title_lines = wrapped(title, TITLE * scale, heading_room, bold=True)
    texts = list(notes)
    if page.number == 1:
        texts = [
            *([reading_line(whole)] if whole.rows else []),
            *map(left_out_line, whole.left_out),
            *texts,
        ]
    if many and part is not None:
        texts = [*(texts if page.number == 1 else []), _part_line(page, whole)]
    elif page.number > 1:
        texts = []
    sheet.note_lines = [
        line for text in texts for line in balanced(text, NOTE * scale, heading_room)
    ]
    y = PAGE_MARGIN + len(sheet.title_lines) * TITLE * scale * 1.25
    y += (1.2 * scale if sheet.title_lines else 0.0) + len(sheet.note_lines) * NOTE * scale * LINE
    if sheet.map_room:
        y = max(y, PAGE_MARGIN + _MAP * 0.75)
    y += 5.0 * scale + (_FOOT if many else 0.0)
    if options.drift:
        y += (NUMBER + 1.2) * scale
    sheet.left, sheet.top = PAGE_MARGIN + sheet.left_gutter, y
    foot = sheet.bottom if part is not None else y - 5.0 * scale
    if options.numbers and part is not None:
        foot += (NUMBER + 1.4) * scale
    if many:
        foot += _FOOT
    if page.boxes is not None:
        gap = 10 * scale
        column = ENTRY_ROOM * scale
        boxes = sheet.boxes[page.boxes[0] : page.boxes[1]]
        chart = sheet.left_gutter + sheet.grid_width + sheet.right_gutter
        below = max(1, int((room + gap) // (column + gap)))
        beside = int((room - chart) // (column + gap))
        columns = spread(boxes, below, scale)
        low = foot + (7 * scale if part is not None else 0.0)
        height = max(column_height(c, scale) for c in columns)
        sheet.key_left, sheet.key_top, sheet.key_columns = PAGE_MARGIN, low, columns
        if low + height > sheet.height - PAGE_MARGIN and part is not None and beside:
            columns = spread(boxes, beside, scale)
            sheet.key_left, sheet.key_top = PAGE_MARGIN + chart + gap, sheet.top
            sheet.key_columns = columns
            low, height = sheet.top, max(column_height(c, scale) for c in columns)
        foot = max(foot, low + height)
    sheet.foot = foot
    return sheet


def _part_line(page: Page, whole: Grid) -> str:
    """ "Page 2 of 6: rows 1 to 40, stitches 31 to 60." """
    part = page.shown
    assert part is not None
    names = [short_label(row) for row in whole.rows[part.bottom : part.top]]
    names = [name for name in names if name]
    rows = "rounds" if all(row.in_round for row in whole.rows) else "rows"
    first, last = (names[0], names[-1]) if names else ("", "")
    which = f"{rows} {first} to {last}, " if names else ""
    return (
        f"Page {page.number} of {page.count}: {which}columns {part.right + 1} to {part.left} "
        f"from the {'left' if whole.left_handed else 'right'}. Tinted cells are on the page "
        "beside this one too."
    )


def fits(sheet: Sheet) -> bool:
    """Whether everything measured stays on the page."""
    page = sheet.page
    if page is None:
        return True
    wide = sheet.left + sheet.grid_width + sheet.right_gutter
    for place in range(len(sheet.key_columns)):
        wide = max(wide, sheet.key_left + (place * (ENTRY_ROOM + 10) + ENTRY_ROOM) * sheet.scale)
    slack = 0.01
    return (
        wide <= page.paper.width - PAGE_MARGIN + slack
        and sheet.foot <= page.paper.height - PAGE_MARGIN + slack
    )


def gutters(sheet: Sheet) -> None:
    """The sizes of cells and the room for the numbers on either side."""
    grid, options = sheet.grid, sheet.options
    scale = sheet.scale = 1.5 if options.large_print else 1.0
    sheet.cell_width = options.cell * scale
    sheet.cell_height = sheet.cell_width * options.proportion
    size = NUMBER * scale
    labels = {True: [""], False: [""]}
    for row in grid.rows:
        labels[row.from_left].append(short_label(row))
    if options.drift:
        for row, most in zip(grid.rows, furthest(grid), strict=True):
            labels[not row.from_left].append(lean_words(*most, grid.left_handed))
    gutter = {
        side: max(text_width(label, size) for label in texts) for side, texts in labels.items()
    }
    pad = 1.6 * scale
    from_left = gutter[True] + pad if gutter[True] else 0.0
    from_right = gutter[False] + pad if gutter[False] else 0.0
    if grid.left_handed:
        from_left, from_right = from_right, from_left
    sheet.left_gutter, sheet.right_gutter = from_left, from_right
    sheet.sections, sheet.section_room = [], 0.0
    if len({row.section for row in grid.rows}) > 1:
        first = 0
        for end in range(1, len(grid.rows) + 1):
            if end < len(grid.rows) and grid.rows[end].section == grid.rows[first].section:
                continue
            lines = wrapped(grid.rows[first].section, size, _SECTION * scale)
            sheet.sections.append(Band(first, end, tuple(lines)))
            first = end
        sheet.section_room = (_SECTION + 4.0) * scale
        sheet.right_gutter += sheet.section_room


def column_height(boxes: Sequence[KeyBox], scale: float) -> float:
    return (KEY * 1.9 + sum(box.height for box in boxes) / scale) * scale


def spread(boxes: list[KeyBox], count: int, scale: float) -> list[list[KeyBox]]:
    """The boxes in so many columns, in order, the tallest as low as can be."""
    if count <= 1:
        return [boxes]
    low = max(box.height for box in boxes)
    high = sum(box.height for box in boxes)

    def filled(limit: float) -> list[list[KeyBox]]:
        columns: list[list[KeyBox]] = [[]]
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


def key_boxes(sheet: Sheet, whole: Grid | None = None) -> None:
    """The legend entries with their text broken into lines; `whole` is the chart the sheet
    shows a part of."""
    gutters(sheet)
    scale = sheet.scale
    rows = (whole or sheet.grid).rows
    # A sign wider than two cells stands above its text, so that the others keep close to theirs.
    widest = 1
    for entry in sheet.legend.entries:
        columns = entry.stitch.makes or entry.stitch.uses
        widest = max(widest, columns if columns <= 2 else 1)
    sheet.sign_room = widest * sheet.cell_width + 3.2 * scale
    room = ENTRY_ROOM * scale - sheet.sign_room
    size = TEXT * scale
    boxes: list[KeyBox] = []
    for place, entry in enumerate(sheet.legend.entries):
        lines: list[Line] = []
        for meaning in entry.meanings:
            lead = f"{meaning.side}: " if meaning.side else ""
            lines += _told(lead, meaning.name, meaning.title, size, room)
            if not _says_no_more(meaning.how, meaning.title):
                lines += [Line([(line, False)]) for line in wrapped(meaning.how, size, room)]
        if entry.behind:
            text = "Worked on the wrong side (the corner mark); drawn as seen from the right side."
            lines += [Line([(line, False)]) for line in wrapped(text, size, room)]
        columns = max(1, entry.stitch.makes or entry.stitch.uses)
        boxes.append(KeyBox(f"s{place}", columns, lines, entry=entry))
    if sheet.legend.no_stitch:
        text = "There is no stitch here: pass over this box."
        lines = _told("", "no stitch", "", size, room)
        lines += [Line([(line, False)]) for line in wrapped(text, size, room)]
        boxes.append(KeyBox("none", 1, lines))
    if sheet.legend.resting:
        lines = _told("", "not worked", "", size, room)
        text = "The stitch waits on the needle while this row is worked."
        lines += [Line([(line, False)]) for line in wrapped(text, size, room)]
        boxes.append(KeyBox("rest", 1, lines))
    if sheet.legend.frame and sheet.options.frame:
        lines = _told("", "repeat", "", size, room)
        text = "Work the stitches inside the frame again and again."
        lines += [Line([(line, False)]) for line in wrapped(text, size, room)]
        boxes.append(KeyBox("frame", 1, lines))
    if sheet.options.drift and any(repeat_starts(row) for row in rows):
        text = "A repeat begins here on this row, in the direction it is worked."
        lines = _told("", "repeat begins", "", size, room)
        lines += [Line([(line, False)]) for line in wrapped(text, size, room)]
        boxes.append(KeyBox("start", 1, lines))
    if sheet.options.drift:
        text = (
            "The stitch does not stand over the loop it was drawn through: the line runs from "
            "that loop. 2L beside a row: its stitches lean two columns to the left at most. "
            "Above the chart: how far each column has come over from its foot."
        )
        lines = _told("", "lean", "", size, room)
        lines += [Line([(line, False)]) for line in wrapped(text, size, room)]
        boxes.append(KeyBox("lean", 1, lines))
    for number in sorted({run.flag for run in sheet.runs}):
        message = sheet.flags[number].text
        text = message[:1].upper() + message[1:]
        text += "" if text.endswith((".", "?", "!")) else "."
        lines = [Line([(line, False)]) for line in wrapped(text, size, room)]
        boxes.append(KeyBox(f"flag {number + 1}", 1, lines))
    for box in boxes:
        text_height = len(box.lines) * size * LINE
        box.height = max(text_height, sheet.cell_height) + 2.6 * scale
        if box.columns > 2:
            box.height = text_height + sheet.cell_height * shrink(sheet, box) + 4.2 * scale
    sheet.boxes = boxes


def lean_words(left: int, right: int, mirror: bool) -> str:
    """ "2L 1R": columns leant to the left and to the right, as drawn."""
    if mirror:
        left, right = right, left
    return " ".join(f"{count}{side}" for count, side in ((left, "L"), (right, "R")) if count)


def shrink(sheet: Sheet, box: KeyBox) -> float:
    """How much smaller a sign is drawn in the key so that it fits the column."""
    return min(1.0, ENTRY_ROOM * sheet.scale / (box.columns * sheet.cell_width))


def _says_no_more(how: str, title: str) -> bool:
    """Whether "Knit the stitch." stands beside "knit"."""
    return len(how.split()) <= 3 and how.lower().startswith(title.lower())


def _told(lead: str, name: str, title: str, size: float, room: float) -> list[Line]:
    """The name in bold and the title after it, running on where they do not fit one line."""
    used = text_width(lead, size) + text_width(name, size, bold=True)
    if used > room:
        lines = [Line([(line, True)]) for line in wrapped(lead + name, size, room, True)]
        if title and title != name:
            lines += [Line([(line, False)]) for line in wrapped(title, size, room)]
        return lines
    first = Line([(lead, False), (name, True)])
    if not title or title == name:
        return [first]
    words = title.split()
    fit = 0
    while fit < len(words) and (used + text_width("  " + " ".join(words[: fit + 1]), size) <= room):
        fit += 1
    if fit:
        first.pieces.append(("  " + " ".join(words[:fit]), False))
    rest = wrapped(" ".join(words[fit:]), size, room)
    return [first, *(Line([(line, False)]) for line in rest)]
