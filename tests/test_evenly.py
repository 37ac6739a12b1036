"""Shaping to be spread evenly, spelled out: the words are read again and counted."""

from __future__ import annotations

import re

import pytest

from chartc.evenly import spelled_out
from chartc.proof import prove
from chartc.source import Source


@pytest.mark.parametrize("where", ["in the round", "flat"])
@pytest.mark.parametrize(
    ("before", "change"), [(80, 4), (88, 8), (100, 8), (97, 5), (96, -6), (31, -7), (12, 11)]
)
def test_the_words_do_what_is_asked(where: str, before: int, change: int) -> None:
    verb = "increasing" if change > 0 else "decreasing"
    text = f"Trial\n\nWorked: {where}\nCast on {before} sts.\nNext row: Knit, {verb} {abs(change)} sts evenly.\n"
    (line,) = spelled_out(prove(Source("trial", text)), 0)
    words = re.sub(r"^.*?\): ", "", line)
    again = prove(
        Source("again", f"Trial\n\nWorked: {where}\nCast on {before} sts.\nRow 1: {words}.\n")
    )
    assert again.sound, (line, again.findings)
    assert again.counted.sections[0].entries[-1].sizes[0].after == before + change


def test_sizes_that_work_alike_are_told_together() -> None:
    text = (
        "Trial\n\nSizes: S (M, L)\n\nCast on 80 (80, 90) sts.\n"
        "Row 1: Knit, increasing 8 (8, 9) sts evenly.\n"
    )
    lines = list(spelled_out(prove(Source("trial", text)), 0))
    assert [line[: line.index(":")] for line in lines] == [
        "Row 1 (line 6, S, M)", "Row 1 (line 6, L)",
    ]  # fmt: skip
