"""A fabric as a table for a spreadsheet, laid out as its chart is."""

from __future__ import annotations

from collections.abc import Sequence

from chartc.charting.grid import Cell, Grid, lay_out
from chartc.fabric import Fabric
from chartc.pattern import Own
from chartc.stitch import Stitch
from chartc.tables.cells import named
from chartc.vocabulary import Vocabulary, load_vocabulary

_NONE = "x"


class CannotTabulate(Exception):
    """The fabric has something that a table of one cell per stitch does not hold; says what."""


def write_table(
    fabric: Fabric,
    *,
    title: str = "",
    own: Sequence[Own] = (),
    cast_on: int | None = None,
    separator: str = ",",
    repeat: Sequence[tuple[int, int]] = (),
) -> str:
    """The rows of a fabric as a table that `read_table` reads back as the same fabric.

    own       the text's own stitches, explained in the key
    cast_on   printed when the number of stitches is the piece's own
    repeat    for each row the stitches of the repeat (first, and last exclusive), counted from
              the right edge; the table is then marked to be repeated there

    Raises CannotTabulate, in plain words.
    """
    grid = lay_out(fabric)
    _refuse(grid)
    vocabulary = load_vocabulary().with_own(
        [(o.name, o.stitch) for o in own if o.stitch is not None]
    )
    names = _Names(vocabulary)
    flat = not grid.in_round
    rows = [_line(grid, i, names) for i in range(len(grid.rows))]
    headings = [f"Title: {title}"] if title else []
    headings.append(f"Worked: {'flat' if flat else 'in the round'}")
    if cast_on is not None:
        headings.append(f"Cast on: {cast_on} sts")
    headings += ["Background: knit", f"Columns: {grid.width}"]
    if any(cell.kind == "none" for row in grid.rows for cell in row.cells):
        headings.append(f"No stitch: {_NONE}")
    lines = [[heading] for heading in headings]
    lines += [[f"{o.name} = {o.words}"] for o in own if o.stitch is not None and o.words]
    lines.append([])
    marks = _marks(grid, repeat) if repeat else {}
    for i in reversed(range(len(grid.rows))):
        name, at_left = str(_number(grid, i)), grid.rows[i].from_left
        lines.append([name if at_left else "", *rows[i], "" if at_left else name])
        if i in marks:
            lines.append(["", *marks[i], ""])
    return "".join(separator.join(_quoted(f, separator) for f in line) + "\n" for line in lines)


def _refuse(grid: Grid) -> None:
    numbers = [row.number for row in grid.rows if row.number is not None]
    if len(set(numbers)) != len(numbers):
        raise CannotTabulate("two rows have the same number; a table needs one number for each")
    if None in (_number(grid, i) for i in range(len(grid.rows))):
        raise CannotTabulate("right and wrong sides do not alternate, and some rows have no number")
    flat = [not row.in_round for row in grid.rows]
    if any(flat) and not all(flat):
        raise CannotTabulate("rows and rounds are mixed; make a table of each part")
    for row in grid.rows:
        name = row.label or f"row {row.index + 1}"
        if row.shift:
            raise CannotTabulate(f"{name}: the start of the round moves; a table cannot say so")
        for cell in row.cells:
            if cell.kind == "rest":
                raise CannotTabulate(f"{name}: some stitches are not worked; a table holds whole "
                                     "rows only")  # fmt: skip
            if cell.kind == "stitch" and cell.width == 0:
                raise CannotTabulate(f"{name}: “{_shown(cell)}” has no cell of its own")


def _has_set_up(grid: Grid) -> bool:
    """A first row without a number, before row 1: it is numbered 0."""
    numbers = [row.number for row in grid.rows]
    return numbers[0] is None and None not in numbers[1:] and numbers[1:2] == [1]


def _number(grid: Grid, index: int) -> int | None:
    """The number to print: the row's own where all have one, else counted from the first row so
    that right-side rows are odd; None where that cannot be."""
    row = grid.rows[index]
    if all(other.number is not None for other in grid.rows):
        return row.number
    if _has_set_up(grid):
        return row.number or 0
    first = 1 if grid.rows[0].side == "WS" else 0
    if any(
        other.side and (other.side == "RS") != ((i + first) % 2 == 0)
        for i, other in enumerate(grid.rows)
    ):
        return None
    return index + 1 + first


def _shown(cell: Cell) -> str:
    return cell.stitch.us if cell.stitch else ""


class _Names:
    """The text of a cell for each stitch."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self.vocabulary = vocabulary

    def __call__(self, cell: Cell) -> str:
        shown, worked = cell.stitch, cell.worked
        text = self._of(shown) if shown is not None and not cell.wrong_side else ""
        if not text and worked is not None and (cell.wrong_side or shown != worked):
            name = self._of(worked)
            text = f"WS {name}" if name else ""
        if not text:
            raise CannotTabulate(f"“{_shown(cell)}” has no name that can be read back")
        return text

    def _of(self, stitch: Stitch) -> str:
        for text in (stitch.us, stitch.title, stitch.key):
            found = named(text, self.vocabulary) if text else None
            if found is not None and found[0].key == stitch.key and found[1] == 1:
                return text
        return ""


def _line(grid: Grid, index: int, names: _Names) -> list[str]:
    """The cells of a row from left to right."""
    columns = [""] * grid.width
    for cell in grid.rows[index].cells:
        place = grid.width - cell.column - cell.width  # its left-most column on the page
        if cell.kind == "none":
            columns[place] = _NONE
        elif cell.stitch is not None:
            plain = cell.stitch.key == "k" and not cell.wrong_side
            columns[place] = "" if plain else names(cell)
            for more in range(1, cell.width):
                columns[place + more] = "<"
    return columns


def _marks(grid: Grid, repeat: Sequence[tuple[int, int]]) -> dict[int, list[str]]:
    """The lines of repeat marks, each by the lowest row it is for.

    One line where the repeat stands over the same columns on every row; else one for every
    stretch of rows on which it does.
    """
    bounds: list[tuple[int, int, int, int]] = []
    for row, (start, stop) in zip(grid.rows, repeat, strict=True):
        cells = row.working()[::-1] if row.from_left else row.working()
        inner = [(cell.column, cell.column + cell.width) for cell in cells[start:stop]]
        low = max([0, *(cell.column + cell.width for cell in cells[:start])])
        high = min([grid.width, *(cell.column for cell in cells[stop:])])
        bounds.append((low, min(i[0] for i in inner), max(i[1] for i in inner), high))
    marks: dict[int, list[str]] = {}
    at = 0
    while at < len(bounds):
        low, first, last, high = bounds[at]
        if not low <= first < last <= high:
            raise CannotTabulate("the repeat is not a stretch of columns on every row")
        end = at + 1
        while end < len(bounds):
            a, b, c, d = bounds[end]
            if not max(low, a) <= min(first, b) or not max(last, c) <= min(high, d):
                break
            low, first, last, high = max(low, a), min(first, b), max(last, c), min(high, d)
            end += 1
        marks[at] = _mark_line(grid.width, low, high)
        at = end
    return marks


def _mark_line(width: int, low: int, high: int) -> list[str]:
    marks = [""] * width
    first, last = width - high, width - low - 1
    if first == last:
        marks[first] = "[]"
    else:
        marks[first], marks[last] = "[", "]"
    return marks


def _quoted(text: str, separator: str) -> str:
    if any(mark in text for mark in (separator, '"', "\n", "\r")) or (text[:1] in "=+@" and text):
        return '"' + text.replace('"', '""') + '"'
    return text
