"""Where everything stands on the drawing of a chart, in mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

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
    """A printed page: a part of a chart, or (with `part` None) the key alone.

    number, count   of the pages
    division        how the chart is cut
    pages           the page number of every part, in the order of the division
    key             draw the key below the part
    """

    paper: Paper
    number: int
    count: int
    division: Division
    part: Part | None
    key: bool = False


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
    boxes: list[KeyBox] = field(default_factory=list)
    sign_room: float = 0.0
    key_left: float = 0.0
    key_top: float = 0.0
    key_columns: list[list[KeyBox]] = field(default_factory=list)

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
    margin = MARGIN * scale
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
    sheet.note_lines = [
        line for text in texts for line in balanced(text, NOTE * scale, wide)
    ]
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


def key_boxes(sheet: Sheet) -> None:
    """The legend entries with their text broken into lines."""
    scale = sheet.scale
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
    if sheet.options.drift and any(repeat_starts(row) for row in sheet.grid.rows):
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
    return " ".join(
        f"{count}{side}" for count, side in ((left, "L"), (right, "R")) if count
    )


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
    while fit < len(words) and (
        used + text_width("  " + " ".join(words[: fit + 1]), size) <= room
    ):
        fit += 1
    if fit:
        first.pieces.append(("  " + " ".join(words[:fit]), False))
    rest = wrapped(" ".join(words[fit:]), size, room)
    return [first, *(Line([(line, False)]) for line in rest)]
