"""How many sizes a text has, and their names."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence

from chartc.facts import parse_sizes
from chartc.pattern import Fact
from chartc.reading.atoms import atomise, gather_sizes
from chartc.reading.statements import Statement
from chartc.source import Span

_LINE = re.compile(r"^\s*(?:to fit|sizes?\b)[^\n]*", re.I | re.M)
_ONLY = re.compile(r"\bonly\b|\ball sizes\b|\bother sizes\b", re.I)


def list_lengths(plain: str, start: int, end: int) -> list[int]:
    """How many values each list of numbers in a passage has."""
    found: list[int] = []
    for atom in gather_sizes(atomise(plain, start, end), 0):
        if len(atom.values) < 2:
            continue
        printed = plain[atom.start : atom.end]
        rest = plain[atom.end : end].strip()
        if len(atom.values) == 2 and printed.endswith((")", "]")) and (not rest or rest[0] == "."):
            continue  # "x 8 (24)": a count stated after the row
        if "/" in printed and "(" not in printed and not re.match(r"sts?\b|stitches|cm|in\b", rest):
            continue  # "2/2 LC"
        if re.fullmatch(r"\d+(?:-\d+)+", printed) and not re.match(r"sts?\b|stitches|times", rest):
            continue
        found.append(len(atom.values))
    return found


def find_sizes(
    plain: str, statements: Sequence[Statement], facts: Sequence[Fact]
) -> tuple[tuple[str, ...], Span | None]:
    """The size names, ("",) for a one-size text, and where the text tells them.

    Told by a sizes line; else the lists of the text agree on a number of values, and the
    sizes are named 1, 2, 3 ...
    """
    in_rows: Counter[int] = Counter()
    for st in statements:
        if st.kind in ("row", "sentence"):
            in_rows.update(list_lengths(plain, st.start, st.end))
    usual = in_rows.most_common(1)[0] if in_rows else (1, 0)
    candidates: list[tuple[str, Span]] = [
        (fact.value, fact.value_span) for fact in facts if fact.key in ("sizes", "finished")
    ]
    first_row = next((st.start for st in statements if st.kind == "row"), len(plain))
    for match in _LINE.finditer(plain, 0, first_row):
        candidates.append((match.group(), Span(match.start(), match.end())))
    best: tuple[tuple[str, ...], Span] | None = None
    told = {fact.value_span for fact in facts if fact.key == "sizes"}
    for value, span in candidates:
        if re.match(r"\s*(?:one|single|1)\s+size\b|\s*one\b", value, re.I):
            return ("",), None
        if _ONLY.search(value):
            continue
        fact = parse_sizes(value)
        if fact is None or len(fact.sizes) < 2:
            continue
        names = tuple(" ".join(size.name.split()) for size in fact.sizes)
        if len(names) == usual[0]:
            return _distinct(names), span
        if best is None and (span in told or in_rows[len(names)]):
            best = names, span
    if best is not None and (in_rows[len(best[0])] or usual[1] < 3):
        return _distinct(best[0]), best[1]
    if usual[1] >= 2 or (usual[1] == 1 and _cast_on_list(plain, statements)):
        return tuple(str(i + 1) for i in range(usual[0])), None
    if best is not None:
        return _distinct(best[0]), best[1]
    return ("",), None


def _cast_on_list(plain: str, statements: Sequence[Statement]) -> bool:
    return any(
        re.match(r"(?:cast on|co)\b", plain[st.start : st.end], re.I)
        and list_lengths(plain, st.start, st.end)
        for st in statements
        if st.kind == "sentence"
    )


def _distinct(names: tuple[str, ...]) -> tuple[str, ...]:
    if len(set(names)) == len(names):
        return names
    return tuple(str(i + 1) for i in range(len(names)))
