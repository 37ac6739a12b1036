"""Reading: from a text to the resolved pattern."""

from chartc.pattern import Pattern
from chartc.reading.resolve import resolve
from chartc.source import Source

__all__ = ["read"]


def read(source: Source, terms: str = "") -> Pattern:
    """Read a pattern text.

    terms   a named set of terms from grammar/terms/ ("older"), or "" for today's usage

    Never raises for what the text says: what cannot be read is a remark of the pattern.
    """
    return resolve(source, terms)
