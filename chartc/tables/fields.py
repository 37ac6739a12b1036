"""Separated values with their places in the text."""

from __future__ import annotations

from dataclasses import dataclass

from chartc.source import Source, Span

SEPARATORS = ("\t", ";", ",")


@dataclass(frozen=True, slots=True)
class Field:
    """One field: its text, quotes and outer blanks taken off, and where it stands (the text
    alone, or the empty place between two separators)."""

    text: str
    span: Span


@dataclass(frozen=True, slots=True)
class Line:
    """The fields of one line; `number` is its line in the file, from 1."""

    fields: tuple[Field, ...]
    number: int
    span: Span

    @property
    def empty(self) -> bool:
        return not any(field.text for field in self.fields)


def separator_of(text: str) -> str:
    """The separator used: of tab, semicolon and comma the one found most often outside quotes;
    lines of one cell with a colon or an equals sign (headers) tell nothing."""
    counts = dict.fromkeys(SEPARATORS, 0)
    quoted = False
    for line in text.split("\n"):
        for mark in line:
            if mark == '"':
                quoted = not quoted
            elif not quoted and mark in counts:
                counts[mark] += 1
    # a comma inside a header sentence must not outweigh the tabs of a short chart
    best = max(SEPARATORS, key=lambda s: (counts[s], -SEPARATORS.index(s)))
    for rarer in SEPARATORS[: SEPARATORS.index(best)]:
        if counts[rarer] * 2 >= counts[best] and counts[rarer]:
            return rarer
    return best


def split_lines(source: Source) -> list[Line]:
    """The lines of a table. Quoted fields may hold separators, doubled quotes and line ends."""
    text = source.text
    separator = separator_of(text)
    lines: list[Line] = []
    at, total, number = 0, len(text), 1
    while at < total:
        begun, first = at, number
        fields: list[Field] = []
        while True:
            field, at, number = _field(text, at, number, separator)
            fields.append(field)
            if at < total and text[at] == separator:
                at += 1
                continue
            break
        lines.append(Line(tuple(fields), first, Span(begun, at)))
        if at < total:  # the line end
            at += 2 if text[at : at + 2] == "\r\n" else 1
            number += 1
    return lines


def _field(text: str, at: int, number: int, separator: str) -> tuple[Field, int, int]:
    """The field that begins at `at`, where it ends, and the line number there."""
    total, begun = len(text), at
    while at < total and text[at] in " \u00a0\ufeff":
        at += 1
    if at < total and text[at] == '"':
        inner, start = at + 1, at
        parts = ""
        at = inner
        while at < total:
            if text[at] == '"':
                if text[at + 1 : at + 2] == '"':
                    parts += '"'
                    at += 2
                    continue
                break
            number += text[at] == "\n"
            parts += text[at]
            at += 1
        span = Span(start, min(at + 1, total))
        at = min(at + 1, total)
        while at < total and text[at] not in (separator, "\n", "\r"):
            parts += text[at]
            at += 1
        return Field(" ".join(parts.split()), span), at, number
    end = at
    while end < total and text[end] not in (separator, "\n", "\r"):
        end += 1
    raw = text[at:end].strip().strip("\u00a0\ufeff")
    start = at if raw else begun
    return Field(raw, Span(start, start + len(raw)) if raw else Span(begun, end)), end, number
