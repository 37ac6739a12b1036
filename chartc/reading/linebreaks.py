"""Text as it comes out of a word processor or a PDF: words broken at line ends, page numbers
in the middle of a row. Every change keeps the length, so that places stay true."""

from __future__ import annotations

import re
from collections.abc import Collection

_BROKEN = re.compile(r"(?<![A-Za-z-])(?P<first>[A-Za-z]{2,})-\n(?P<gap>[ \t]*)(?P<rest>[a-z]{2,})(?![A-Za-z])")
_PAGE = re.compile(
    r"\n(?:[ \t]*\n)?[ \t]*(?:-[ \t]*\d{1,3}[ \t]*-|page[ \t]+\d{1,3}(?:[ \t]*(?:of|/)[ \t]*\d{1,3})?)[ \t]*(?:\n[ \t]*)?(?=\n)",
    re.IGNORECASE,
)


def mended(plain: str, known: Collection[str]) -> str:
    """The text with words that were broken at a line's end whole again ("slip-" "ped"), where
    `known` holds the whole word, and with page numbers inside a sentence left out."""

    def whole(match: re.Match[str]) -> str:
        word = match["first"] + match["rest"]
        if word.lower() not in known:
            return match.group()
        return f"{word}\n{match['gap']} "

    def page(match: re.Match[str]) -> str:
        before = plain[max(0, match.start() - 40) : match.start()].rstrip()
        if before[-1:] in ("", ".", ":", "!", "?", ")"):
            return match.group()
        return " " * len(match.group())

    return _BROKEN.sub(whole, _PAGE.sub(page, plain))
