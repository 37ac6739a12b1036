"""Places in a text as the page counts them.

The page counts in UTF-16 units, chartc in code points; they differ after a character beyond
U+FFFF (an emoji, say).
"""

from __future__ import annotations

from bisect import bisect_left

from chartc.source import Span


class Offsets:
    """Code points of one text to UTF-16 units."""

    def __init__(self, text: str) -> None:
        self._wide = (
            [] if text.isascii() else [i for i, sign in enumerate(text) if ord(sign) > 0xFFFF]
        )

    def __call__(self, place: int) -> int:
        return place + bisect_left(self._wide, place) if self._wide else place

    def span(self, span: Span) -> list[int]:
        """[start, end] of a passage."""
        return [self(span.start), self(span.end)]
