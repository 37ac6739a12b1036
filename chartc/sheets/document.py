"""A handout as plain blocks, before it is set as a web page or on paper.

Nothing here knows of HTML or of typesetting; `html` and `typeset` set the same blocks.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, TypeAlias

from chartc.sheets.options import SheetOptions

Style = Literal["", "strong", "em", "soft", "own", "row"]


@dataclass(frozen=True, slots=True)
class Bit:
    """A stretch of text in one style.

    style  "own": the number of the class's own size; "row": instructions of a row; "soft":
           of less weight
    count  for a number out of the ledger: where it stands there, "section.entry.size.part"
    """

    text: str
    style: Style = ""
    count: str = ""


Line: TypeAlias = tuple[Bit, ...]


def line(*parts: str | Bit | Line) -> Line:
    """A line put together from strings, bits and lines."""
    bits: list[Bit] = []
    for part in parts:
        if isinstance(part, str):
            if part:
                bits.append(Bit(part))
        elif isinstance(part, Bit):
            bits.append(part)
        else:
            bits.extend(part)
    return tuple(bits)


def strong(text: str) -> Bit:
    return Bit(text, "strong")


def plain(given: Line) -> str:
    """The line as bare text."""
    return "".join(bit.text for bit in given)


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing in SVG. width_mm x height_mm is the size it is set at; `alt` what it shows, in
    words ("" when the words stand beside it)."""

    svg: str
    width_mm: float
    height_mm: float
    alt: str


@dataclass(frozen=True, slots=True)
class Ticks:
    """So many boxes to tick. `label` says for what, to those who cannot see them."""

    count: int
    label: str


Part: TypeAlias = Line | Picture | Ticks


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell of a table: its parts one below the other, or `across` side by side. `head` marks
    the one that names its row."""

    parts: tuple[Part, ...]
    right: bool = False
    head: bool = False
    across: bool = False


def cell(
    *parts: str | Bit | Part, right: bool = False, head: bool = False, across: bool = False
) -> Cell:
    made: list[Part] = []
    for part in parts:
        if isinstance(part, str | Bit):
            made.append(line(part))
        else:
            made.append(part)
    return Cell(tuple(made), right, head, across)


@dataclass(frozen=True, slots=True)
class Heading:
    level: int  # 2 or 3; the title of the document is the only one of level 1
    text: str


@dataclass(frozen=True, slots=True)
class Para:
    """kind: "" running text, "lead" the opening words, "small", "lines" keeps what follows on
    the same page, "code" a passage of the pattern as typed."""

    text: Line
    kind: Literal["", "lead", "small", "lines", "code"] = ""


@dataclass(frozen=True, slots=True)
class Items:
    """A list, numbered or not; `ticks` puts a box to tick before each. Each item is a line
    with further paragraphs below it."""

    items: tuple[tuple[Line, ...], ...]
    ordered: bool = False
    ticks: bool = False


@dataclass(frozen=True, slots=True)
class Pairs:
    """Names with what they mean; in two columns where they fit."""

    pairs: tuple[tuple[str, Line], ...]
    columns: int = 1


@dataclass(frozen=True, slots=True)
class Table:
    """widths   parts of the width for each column; 0: as wide as what stands in it
    caption  what the table shows, read out and printed above it; may be "" under a heading
    marked   index of the column of the class's own size, or -1
    """

    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    widths: tuple[float, ...]
    caption: str = ""
    label: str = ""
    marked: int = -1
    rights: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Figure:
    picture: Picture
    caption: Line = ()


@dataclass(frozen=True, slots=True)
class Box:
    """A framed passage: "note", "caution" or "form"."""

    title: str
    blocks: tuple[Block, ...]
    kind: Literal["note", "caution", "form"] = "note"


@dataclass(frozen=True, slots=True)
class Group:
    """Blocks that a page must not part."""

    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Blank:
    """Lines to write on, each with a label ("" for none)."""

    labels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Tally:
    """A row of boxes to tick under a label."""

    label: Line
    ticks: Ticks


@dataclass(frozen=True, slots=True)
class Break:
    """What follows begins on a new page."""


Block: TypeAlias = (
    Heading | Para | Items | Pairs | Table | Figure | Box | Group | Blank | Tally | Break
)


@dataclass(frozen=True)
class Document:
    """A whole handout.

    title     the pattern; `kind` what the sheet is ("Class sheet"); `subtitle` one line more
    foot      file name and version, for the foot of every page
    """

    title: str
    kind: str
    subtitle: str
    foot: str
    blocks: tuple[Block, ...]
    options: SheetOptions

    def html(self) -> str:
        """The handout as one web page that needs nothing besides itself."""
        from chartc.sheets.html import as_html

        return as_html(self)

    def pdf(self, paper: str = "") -> bytes:
        """The handout as a PDF with its fonts, tagged for assistive technology (PDF/UA-1).

        paper   "a4" or "letter"; "" as the options say
        Raises SheetProblem, in plain words, when the typesetter is not installed.
        """
        from chartc.sheets.typeset import as_pdf

        return as_pdf(self, paper)


def walk(blocks: tuple[Block, ...]) -> Iterator[Block]:
    """Every block, boxes and groups before what they hold."""
    for block in blocks:
        yield block
        if isinstance(block, Box | Group):
            yield from walk(block.blocks)
