"""The text as typed: where each character stands, and how a passage is shown again.

Positions inside chartc are offsets in code points into `Source.text`; they become
1-based lines and columns only on the way out.
"""

from __future__ import annotations

import sys
from bisect import bisect_right
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

# Every replacement is one character for one character, so that offsets stay true.
_PLAIN = str.maketrans(
    {
        "\u00a0": " ", "\u2007": " ", "\u2009": " ", "\u202f": " ", "\u200a": " ", "\u2002": " ",
        "\u2003": " ", "\u200b": " ", "\ufeff": " ", "_": " ", "\r": " ", "\x0c": "\n",
        "\u2018": "'", "\u2019": "'", "\u201c": '"', "\u201d": '"', "\u00ab": '"', "\u00bb": '"',
        "\u2010": "-", "\u2011": "-", "\u2012": "-", "\u2013": "-", "\u2212": "-", "\u00ad": "-",
        "\u2014": "\u2014", "\u00d7": "x", "\u2715": "x", "\u2217": "*", "\u2731": "*",
        "\uff0a": "*", "\u00b7": "\u2022",
    }
)  # fmt: skip


class CannotRead(Exception):
    """The file or text cannot be taken in at all; the message is in plain words."""


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """A passage of the text: offsets in code points, `end` exclusive."""

    start: int
    end: int

    def join(self, other: Span) -> Span:
        """The smallest passage that holds both."""
        return Span(min(self.start, other.start), max(self.end, other.end))


@dataclass(frozen=True)
class Source:
    """A text and its name. `plain` is the same text, character for character, with
    typographic dashes, quotes and spaces made plain."""

    name: str
    text: str

    @cached_property
    def plain(self) -> str:
        return self.text.translate(_PLAIN)

    @cached_property
    def _line_starts(self) -> tuple[int, ...]:
        starts = [0]
        find = self.text.find
        at = find("\n")
        while at >= 0:
            starts.append(at + 1)
            at = find("\n", at + 1)
        return tuple(starts)

    @property
    def line_count(self) -> int:
        return len(self._line_starts)

    def locate(self, offset: int) -> tuple[int, int]:
        """The 1-based line and column of an offset, in code points."""
        offset = max(0, min(offset, len(self.text)))
        line = bisect_right(self._line_starts, offset) - 1
        return line + 1, offset - self._line_starts[line] + 1

    def line_span(self, line: int) -> Span:
        """The passage of a 1-based line, without its line break."""
        start = self._line_starts[line - 1]
        end = self._line_starts[line] - 1 if line < len(self._line_starts) else len(self.text)
        return Span(start, max(start, end))

    def at(self, span: Span) -> str:
        return self.text[span.start : span.end]


def decode(data: bytes, name: str) -> str:
    """Bytes to text: UTF-8 (with or without a byte-order mark), UTF-16 with one.

    Raises CannotRead, with the place of the first byte that is not text.
    """
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            return data.decode("utf-16")
        except UnicodeDecodeError:
            raise CannotRead(f"{name}: this looks like UTF-16 text but is damaged") from None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise CannotRead(
            f"{name}: line {line} holds a character that is not UTF-8; "
            "save the file as plain text, encoding UTF-8, and try again"
        ) from None
    if "\0" in text:
        raise CannotRead(f"{name}: this is not a text file; save the pattern as plain text first")
    return text


def load(path: str | Path) -> Source:
    """Read a pattern file, or standard input for `-`. Raises CannotRead."""
    if str(path) == "-":
        return Source("-", decode(sys.stdin.buffer.read(), "standard input"))
    name = str(path)
    try:
        data = Path(path).read_bytes()
    except FileNotFoundError:
        raise CannotRead(f"{name}: there is no such file") from None
    except IsADirectoryError:
        raise CannotRead(f"{name}: this is a folder, not a file") from None
    except PermissionError:
        raise CannotRead(f"{name}: this file may not be read by you") from None
    except OSError as error:
        raise CannotRead(f"{name}: cannot be read ({error.strerror})") from None
    return Source(name, decode(data, name))
