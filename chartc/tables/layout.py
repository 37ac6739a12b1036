"""What each line of a table is: a heading, the key, a row of the chart, or marks."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from chartc.source import Span
from chartc.tables.fields import Field, Line

HEADINGS = {
    "title": "title", "worked": "worked", "knit": "worked", "background": "background",
    "empty cells": "background", "no stitch": "no stitch", "no st": "no stitch", "read": "read",
    "cells": "cells", "first row": "first row", "other rows": "other rows",
    "other rnds": "other rows", "other rounds": "other rows", "columns": "columns",
    "stitches": "columns", "cast on": "cast on",
}  # fmt: skip
_HEADING = re.compile(r"(?P<name>[A-Za-z][A-Za-z /-]{0,39}?)\s*:\s*(?P<value>.*)", re.DOTALL)
_KEY = re.compile(r"(?P<mark>\S.{0,24}?)\s*=\s*(?P<words>\S.*)", re.DOTALL)
_NUMBER = re.compile(
    r"(?:(?P<word>rows?|rnds?|rounds?|r)\b\.?\s*)?(?P<number>\d{1,4})?(?:st|nd|rd|th)?\.?\s*"
    r"\(?(?P<side>rs|ws)?\)?",
    re.IGNORECASE,
)
_MARKS = frozenset({"[", "]", "[]", "|", "*", "rep", "repeat", "[ ]"})
_NO_MARK = frozenset({"rep", "repeat"})


@dataclass(frozen=True, slots=True)
class Heading:
    """A `Name: value` line. `name` as in HEADINGS, or as printed for any other."""

    name: str
    value: str
    span: Span
    value_span: Span
    known: bool


@dataclass(frozen=True, slots=True)
class KeyLine:
    """A `mark = meaning` line."""

    mark: str
    words: str
    span: Span
    words_span: Span


@dataclass(frozen=True, slots=True)
class RowLabel:
    """What a number column says of a row; `at_right`: it stands in the last column."""

    number: int | None
    side: str
    in_round: bool
    at_right: bool
    field: Field


@dataclass(frozen=True, slots=True)
class ChartLine:
    """A row of the chart as it stands: its cells from left to right."""

    line: Line
    cells: tuple[Field, ...]
    label: RowLabel | None
    repeat: tuple[int, int] | None  # columns of the repeat, the last exclusive


@dataclass(frozen=True, slots=True)
class Layout:
    """The whole table, sorted out. `rows` from the top of the page to the bottom; `dropped`
    counts empty columns at the left and right that were taken for none, `dropped_rows` empty
    lines above and below."""

    headings: tuple[Heading, ...]
    key: tuple[KeyLine, ...]
    rows: tuple[ChartLine, ...]
    dropped: tuple[int, int] = (0, 0)
    dropped_rows: int = 0
    troubles: tuple[tuple[Span, str], ...] = field(default=())

    def heading(self, name: str) -> Heading | None:
        return next((h for h in self.headings if h.known and h.name == name), None)


def lay_out_lines(lines: Sequence[Line]) -> Layout:
    """Sort the lines of a table."""
    headings: list[Heading] = []
    key: list[KeyLine] = []
    body: list[Line] = []
    for line in lines:
        filled = [f for f in line.fields if f.text]
        heading = _heading(filled) if filled else None
        entry = _key_line(filled) if heading is None and filled else None
        if heading is not None:
            headings.append(heading)
        elif entry is not None:
            key.append(entry)
        elif not (len(filled) == 1 and filled[0].text.lower().rstrip(":") == "key"):
            body.append(line)
    return _chart(headings, key, body)


def _heading(filled: Sequence[Field]) -> Heading | None:
    first = filled[0]
    match = _HEADING.fullmatch(first.text)
    if match is None or " = " in match["name"]:
        return None
    value, place = match["value"].strip(), first.span
    if not value:
        if len(filled) > 2:
            return None
        if len(filled) == 2:
            value, place = filled[1].text, filled[1].span
    elif len(filled) > 1:  # a sentence with the separator in it
        value, place = _joined(value, filled), first.span.join(filled[-1].span)
    name = " ".join(match["name"].lower().split())
    known = HEADINGS.get(name)
    if known is None and not value:
        return None
    return Heading(known or name, value, first.span, place, known is not None)


def _key_line(filled: Sequence[Field]) -> KeyLine | None:
    if len(filled) == 3 and filled[1].text == "=":
        return KeyLine(filled[0].text, filled[2].text,
                       filled[0].span.join(filled[2].span), filled[2].span)  # fmt: skip
    match = _KEY.fullmatch(filled[0].text)
    if match is None:
        return None
    whole = filled[0].span.join(filled[-1].span)
    start = filled[0].span.start + filled[0].text.index(match["words"], match.end("mark"))
    return KeyLine(match["mark"], _joined(match["words"], filled), whole, Span(start, whole.end))


def _joined(first: str, fields: Sequence[Field]) -> str:
    """Words that the separator has parted, put together again."""
    return ", ".join([first, *(field.text for field in fields[1:])])


def _is_marks(line: Line) -> bool:
    texts = [f.text.lower() for f in line.fields if f.text]
    return bool(texts) and set(texts) <= _MARKS and bool(set(texts) - _NO_MARK)


def _label(text: str) -> re.Match[str] | None:
    match = _NUMBER.fullmatch(text.strip())
    return match if match and (match["number"] or match["side"]) else None


def _chart(headings: list[Heading], key: list[KeyLine], body: list[Line]) -> Layout:
    troubles: list[tuple[Span, str]] = []
    while body and len(body[-1].fields) == 1 and body[-1].empty:
        body.pop()
    body = [line for line in body if not (line.empty and len(line.fields) == 1)]
    marks = [line for line in body if _is_marks(line)]
    rows = [line for line in body if line not in marks]
    width = max((len(line.fields) for line in body), default=0)
    filled = [
        c for c in range(width)
        if any(c < len(line.fields) and line.fields[c].text for line in rows)
    ]  # fmt: skip
    left = right = -1
    if filled:
        left = filled[0] if _numbers(rows, filled[0]) else -1
        right = filled[-1] if filled[-1] != filled[0] and _numbers(rows, filled[-1]) else -1
        if len(filled) == 1 and left > 0:  # nothing but background, and the numbers
            left, right = -1, left
    dropped_rows = 0
    numbered = left >= 0 or right >= 0
    if numbered:
        kept = [line for line in rows if not line.empty]
    else:
        kept = list(rows)
        while kept and kept[0].empty:
            kept.pop(0)
        while kept and kept[-1].empty:
            kept.pop()
        dropped_rows = len(rows) - len(kept)
    first = left + 1 if left >= 0 else 0
    last = right if right >= 0 else width
    stated = next((h for h in headings if h.known and h.name == "columns"), None)
    count = int(m[0]) if stated and (m := re.search(r"\d+", stated.value)) else None
    dropped = [0, 0]
    inside = [c for c in filled if c not in (left, right)]
    if count is not None:
        if right >= 0 and left < 0:
            first = max(0, last - count)
        last = max(first + count, inside[-1] + 1 if inside and right < 0 else 0)
        if right >= 0 and last > right:
            troubles.append(
                (stated.span if stated else Span(0, 0),
                 f"{count} columns are said to be chart, but there are {right - first}")
            )  # fmt: skip
            last = right
    elif inside:
        if left < 0 and right >= 0:
            dropped[0] = inside[0] - first
            first = inside[0]
        if right < 0:
            dropped[1] = last - inside[-1] - 1
            last = inside[-1] + 1
            if left < 0:
                dropped[0] = inside[0] - first
                first = inside[0]
    chart = [
        ChartLine(line, _cells(line, first, last), _row_label(line, left, right),
                  _repeat(line, rows, marks, first, last))
        for line in kept
    ]  # fmt: skip
    return Layout(tuple(headings), tuple(key), tuple(chart), (dropped[0], dropped[1]),
                  dropped_rows, tuple(troubles))  # fmt: skip


def _numbers(rows: Sequence[Line], column: int) -> bool:
    """Whether a column holds row numbers and nothing else."""
    texts = [
        line.fields[column].text for line in rows
        if column < len(line.fields) and line.fields[column].text
    ]  # fmt: skip
    return bool(texts) and all(_label(text) for text in texts)


def _row_label(line: Line, left: int, right: int) -> RowLabel | None:
    for column, at_right in ((right, True), (left, False)):
        if 0 <= column < len(line.fields) and (text := line.fields[column].text):
            match = _label(text)
            if match:
                word = (match["word"] or "").lower()
                return RowLabel(
                    int(match["number"]) if match["number"] else None,
                    (match["side"] or "").upper(), word.startswith(("rn", "rou")),
                    at_right, line.fields[column],
                )  # fmt: skip
    return None


def _cells(line: Line, first: int, last: int) -> tuple[Field, ...]:
    """The cells of a row; those a short line lacks are empty and stand at its end."""
    end = Span(line.span.end, line.span.end)
    return tuple(
        line.fields[c] if c < len(line.fields) else Field("", end) for c in range(first, last)
    )


def _repeat(
    line: Line, rows: Sequence[Line], marks: Sequence[Line], first: int, last: int
) -> tuple[int, int] | None:
    """The columns of the repeat for a row, counted from the first column of the chart."""
    if not marks:
        return None
    mine = marks[0]
    if len(marks) > 1:
        below = [m for m in marks if m.number > line.number]
        if not below:
            return None
        mine = below[0]
    places = [c for c, f in enumerate(mine.fields) if f.text and f.text.lower() not in _NO_MARK]
    start, end = max(places[0], first), min(places[-1] + 1, last)
    return (start - first, end - first) if start < end else None
