"""What a teacher may choose about a handout; every choice has a default fit to hand out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Paper = Literal["a4", "letter"]
Usage = Literal["", "us", "uk"]

PAPERS: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}


class SheetProblem(Exception):
    """A sheet cannot be made as asked; the message is in plain words."""


@dataclass(frozen=True, slots=True)
class SheetOptions:
    """How a handout is made.

    sizes         names of the sizes shown, in any order; () for all
    own           the size of the class, set off on every line and drawn in the charts; "" for
                  none (the first size shown is then drawn)
    large         large print
    contrast      black on white only, no tints, heavier lines
    left_handed   charts mirrored, for knitting from left to right
    words_only    no charts and no tables: every row a sentence, in the order of the work
    symbols_only  charts in place of words
    usage         "us" or "uk" terms; "" as the pattern is written
    paper         "a4" or "letter"
    two_up        two pages side by side on one sheet of paper
    owner         who owns the pattern, "" leaves a line to write on
    licence       under what terms it is handed out, "" leaves a line to write on
    version       version of the pattern for the foot of the page; "" takes the text's own
    """

    sizes: tuple[str, ...] = ()
    own: str = ""
    large: bool = False
    contrast: bool = False
    left_handed: bool = False
    words_only: bool = False
    symbols_only: bool = False
    usage: Usage = ""
    paper: Paper = "a4"
    two_up: bool = False
    owner: str = ""
    licence: str = ""
    version: str = ""

    def __post_init__(self) -> None:
        if self.words_only and self.symbols_only:
            raise SheetProblem("a sheet cannot be words only and symbols only at once")
        if self.large and self.two_up:
            raise SheetProblem("large print does not go two to a page; choose one of them")
        if self.paper not in PAPERS:
            raise SheetProblem(f"the paper is a4 or letter, not {self.paper}")
        if self.usage not in ("", "us", "uk"):
            raise SheetProblem(f"the terms are us or uk, not {self.usage}")

    @property
    def page_mm(self) -> tuple[float, float]:
        """Width and height of the sheet of paper in mm."""
        width, height = PAPERS[self.paper]
        return (height, width) if self.two_up else (width, height)

    @property
    def margin_mm(self) -> float:
        """Blank edge on every side, in mm."""
        return 13.0 if self.two_up else 17.0

    @property
    def gutter_mm(self) -> float:
        """Between the two pages of a sheet that holds two, in mm."""
        return 18.0

    @property
    def text_mm(self) -> tuple[float, float]:
        """Width and height in mm of the room for text on one page."""
        width, height = self.page_mm
        width -= 2 * self.margin_mm
        if self.two_up:
            width = (width - self.gutter_mm) / 2
        return width, height - 2 * self.margin_mm - 8

    @property
    def letters_pt(self) -> float:
        """Size of the running text in points. Large print is 18 pt: common practice, no
        source."""
        return 18.0 if self.large else 9.0 if self.two_up else 10.5
