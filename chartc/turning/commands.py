"""The verbs of the command line on texts: plain arguments in, the text to print out."""

from __future__ import annotations

import difflib
from dataclasses import replace
from typing import Literal

from chartc.pattern import Pattern
from chartc.proof import read_any
from chartc.reading import read
from chartc.source import CannotRead, Source
from chartc.tables import looks_like_table, read_table
from chartc.tables.making import table_of
from chartc.turning.mirroring import mirror
from chartc.turning.rebasing import best_start, rebase
from chartc.turning.result import CannotTurn, Turned, readable
from chartc.turning.sides import turn
from chartc.wording.fresh import words_of
from chartc.wording.style import HouseStyle, load_style
from chartc.wording.tidy import tidy

Counts = Literal["none", "changed", "all"]


def style_named(name: str, counts: Counts | None = None) -> HouseStyle:
    """A house style by name or file, with running counts when they are asked for. Raises
    CannotRead."""
    style = load_style(name)
    return style if counts is None else replace(style, counts=counts)


def words_text(
    source: Source, style: str = "us", *, counts: Counts | None = None, diff: bool = False
) -> str:
    """`chartc words FILE`: the tidy copy of a text, or the rows of a chart in words.

    diff: only what changes, as a unified diff. Raises CannotRead for an unknown style.
    """
    house = style_named(style, counts)
    if looks_like_table(source.name):
        pattern = read_table(source)
        if not any(section.flow for section in pattern.sections):
            raise CannotRead(f"{source.name}: there is no chart in this table")
        return words_of(pattern, house)
    tidied = tidy(source, house).text
    if not diff:
        return tidied
    return "".join(
        line if line.endswith("\n") else f"{line}\n"
        for line in difflib.unified_diff(
            source.text.splitlines(keepends=True),
            tidied.splitlines(keepends=True),
            source.name,
            f"{source.name} (tidy)",
            n=1,
        )
    )


def chart_text(source: Source, *, section: str = "", separator: str = ",") -> str:
    """A section of a text as a table for a spreadsheet. Raises CannotTabulate, CannotTurn for a
    section that is not there, and fabric.DoesNotFit."""
    pattern = read_any(source)
    return table_of(pattern, _section(pattern, section) or 0, separator=separator)


def turn_text(
    source: Source,
    *,
    to: Literal["round", "flat", ""] = "",
    mirrored: bool = False,
    by: int | None = None,
    best: bool = False,
    edge: int | None = None,
    section: str = "",
    style: str = "us",
) -> Turned:
    """`chartc turn FILE`: into the round or flat, mirrored, the start moved `by` stitches to the
    left or to the `best` place; one after the other when several are asked for.

    Raises CannotTurn with the reason, and CannotRead for an unknown style.
    """
    house = load_style(style)
    pattern = read_any(source)
    notes: list[str] = []
    result: Turned | None = None
    index = _section(pattern, section)
    if looks_like_table(source.name) and mirrored:
        source = Source(source.name, words_of(pattern, readable(house)))
        pattern = read(source)
    if mirrored:
        result = mirror(source, pattern, house)
        notes += result.notes
    if best or by is not None:
        now = result.pattern if result else pattern
        if best:
            found = best_start(now, section=index)
            if found is None:
                raise CannotTurn("a decrease reaches across the start wherever it is put")
            by = found
            notes.append(_moved(by))
        result = rebase(now, by or 0, section=index, style=house)
        index = None
    if to:
        result = turn(result.pattern if result else pattern, to, section=index, edge=edge,
                      style=house)  # fmt: skip
        notes += result.notes
    if result is None:
        raise CannotTurn("say what to do: into the round, flat, mirrored, or the start moved")
    return replace(result, notes=tuple(notes))


def _moved(by: int) -> str:
    if not by:
        return "the start is good as it is"
    count = f"{abs(by)} stitch{'es' if abs(by) != 1 else ''}"
    return f"the start moved {count} to the {'left' if by > 0 else 'right'}"


def _section(pattern: Pattern, name: str) -> int | None:
    """The section whose name begins so. Raises CannotTurn when there is none."""
    if not name:
        return None
    for i, section in enumerate(pattern.sections):
        if section.name.lower().startswith(name.lower()):
            return i
    known = ", ".join(s.name for s in pattern.sections if s.name) or "none has a name"
    raise CannotTurn(f"there is no section “{name}”; the sections are: {known}")
