"""Laws that hold for any knitting, tried on generated stitch patterns.

A generated pattern has a repeat of some stitches that may swell and shrink from row to row, edge
stitches that may be none, is flat or in the round, and is worked on three repeats.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from chartc.charting import draw, lay_out, read_back
from chartc.fabric import knit
from chartc.matching import knot, match, match_fabrics, seen_rows
from chartc.pattern import Pattern
from chartc.reading import read
from chartc.source import Source
from chartc.stitch import Stitch
from chartc.tables import read_table
from chartc.tables.making import table_of
from chartc.turning import CannotTurn, mirror, rebase, turn
from chartc.vocabulary import load_vocabulary
from chartc.wording.fresh import fresh_text, plans_of, words_of
from chartc.wording.rows import LineOfStitches, split_lines
from chartc.wording.splitting import split
from chartc.wording.style import HouseStyle, load_style
from chartc.wording.tidy import alone, tidy, worked_on

STYLES = [load_style(name) for name in ("us", "uk", "spelled")]
KEYS = ["k", "k", "k", "k", "p", "p", "yo", "k2tog", "ssk", "sk2p", "s2kp", "k3tog", "p2tog", "ssp", "ktbl", "ptbl", "sl", "slf", "c4f", "c4b", "2/1lpc", "2/1rpc", "kfb", "m1l", "m1r", "yo2"]
BY_USES: dict[int, list[Stitch]] = {}
for _key in KEYS:
    _stitch = load_vocabulary().get(_key)
    BY_USES.setdefault(_stitch.uses, []).append(_stitch)
TURNABLE = ("kfb", "m1l", "m1r")

# generated texts take a while to be counted; the machine is shared
laws = settings(
    max_examples=25, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck)
)


@dataclass(frozen=True)
class Made:
    """A generated pattern: its rows as worked, and its text."""

    lines: tuple[LineOfStitches, ...]
    text: str
    pattern: Pattern
    width: int

    def _repr_pretty_(self, printer, cycle: bool) -> None:
        printer.text(f"on {self.cast_on} sts:\n{self.text}")

    @property
    def cast_on(self) -> int:
        return self.lines[0].before


@st.composite
def stretches(draw: st.DrawFn, uses: int, allowed: frozenset[str] | None) -> tuple[Stitch, ...]:
    """Stitches that use so many loops."""
    found: list[Stitch] = []
    left = uses
    while left:
        choices = [
            stitch
            for n, stitches in BY_USES.items()
            if n <= left
            for stitch in stitches
            if (allowed is None or stitch.key in allowed)
            and (n or not found or found[-1].kind != "yarn over")
        ]
        stitch = draw(st.sampled_from(choices))
        if sum(s.makes for s in found) + stitch.makes > uses + 6:
            stitch = BY_USES[1][0]
        found.append(stitch)
        left -= stitch.uses
    return tuple(found)


@st.composite
def patterns(
    draw: st.DrawFn, in_round: bool | None = None, edges: bool = True, turnable: bool = False
) -> Made:
    round_ = draw(st.booleans()) if in_round is None else in_round
    allowed = frozenset(KEYS) - frozenset(TURNABLE) if turnable else None
    width = draw(st.integers(2, 8))
    right, left = (draw(st.integers(0, 3)) if edges else 0 for _ in range(2))
    parts = [right, width, left]
    lines: list[LineOfStitches] = []
    before = right + 3 * width + left
    start = before
    for i in range(draw(st.integers(1, 5))):
        a, body, c = (draw(stretches(n, allowed)) for n in parts)
        facing = a + body * 3 + c
        side = "" if round_ else ("RS", "WS")[i % 2]
        worked = facing[::-1] if side == "WS" else facing
        after = sum(s.makes for s in facing)
        lines.append(LineOfStitches("", i + 1, side, round_, worked, before, after))
        parts = [sum(s.makes for s in part) for part in (a, body, c)]
        before = after
        if parts[1] > 14 or parts[1] < 1:
            break
    style = draw(st.sampled_from(STYLES))
    shell = replace(read(Source("", "Driftline\n\nDrift\n\nRow 1: Knit.\n")), facts=())
    text = fresh_text(shell, 0, lines, split_lines(lines, fills=True), style)
    pattern = read(Source("", text))
    assert not pattern.remarks, (text, [r.message for r in pattern.remarks])
    return Made(tuple(lines), text, pattern, start)


def on(pattern: Pattern, number: int) -> list:
    """Rows seen from the right side, on a number of stitches."""
    only = alone(pattern, 0)
    assert only is not None
    found = worked_on(only, number)
    assert found is not None
    return [row.shown for row in seen_rows(found[1])]


def as_made(made: Made) -> list:
    return [row.shown for row in seen_rows(plans_of(made.lines))]


@laws
@given(patterns())
def test_fabric_to_words_to_fabric(made: Made) -> None:
    assert on(made.pattern, made.cast_on) == as_made(made)


@laws
@given(patterns())
def test_words_to_words(made: Made) -> None:
    """Told again, the words are the same fabric; told a third time, the same words."""
    again = words_of(made.pattern, HouseStyle())
    assert on(read(Source("", again)), made.cast_on) == as_made(made)
    assert words_of(read(Source("", again)), HouseStyle()) == again


@laws
@given(patterns(), st.sampled_from(STYLES))
def test_tidy_is_the_same_fabric(made: Made, style: HouseStyle) -> None:
    tidied = read(Source("", tidy(Source("", made.text), style).text))
    assert on(tidied, made.cast_on) == as_made(made)


@laws
@given(patterns())
def test_words_to_chart_to_words(made: Made) -> None:
    table = table_of(made.pattern)
    chart = read_table(Source("chart.csv", table))
    assert not chart.remarks
    words = read(Source("", words_of(chart, HouseStyle())))
    assert match(made.pattern, chart).same
    assert match(chart, words).same
    if split([line.facing() for line in made.lines]).width:
        assert on(words, made.cast_on) == as_made(made)


@laws
@given(patterns(edges=False, turnable=True))
def test_turned_there_and_back(made: Made) -> None:
    """Flat and round, or round and flat: the right side is the same again, and so is every
    turned row. (Nothing is dropped: there are no edges.)"""
    there = "flat" if made.lines[0].in_round else "round"
    assume(made.pattern.sections[0].flow)
    try:
        turned = turn(made.pattern, there, **({"edge": 0} if there == "flat" else {}))
        back = turn(turned.pattern, "round" if there == "flat" else "flat", **(
            {} if there == "flat" else {"edge": 0}))  # fmt: skip
    except CannotTurn:
        assume(False)
        return
    rows, there_rows = as_made(made), on(turned.pattern, made.cast_on)
    assert there_rows[: len(rows)] == rows
    assert on(back.pattern, made.cast_on)[: len(rows)] == rows


@laws
@given(patterns())
def test_mirrored_twice(made: Made) -> None:
    try:
        once = mirror(Source("", made.text))
    except CannotTurn:
        assume(False)
        return
    twice = mirror(Source("", once.text))
    assert on(twice.pattern, made.cast_on) == as_made(made)
    vocabulary = load_vocabulary()
    wanted = [
        [knot(vocabulary.mirror(stitch) or stitch) for stitch in reversed(line.stitches)]
        for line in made.lines
    ]
    only = alone(once.pattern, 0)
    assert only is not None
    found = worked_on(only, made.cast_on)
    assert found is not None
    assert [[knot(done.stitch) for done in plan.stitches] for plan in found[1]] == wanted


@settings(laws, max_examples=12)
@given(patterns(in_round=True, edges=False), st.integers(0, 7), st.integers(0, 7))
def test_rebase_composes(made: Made, first: int, second: int) -> None:
    """Moved by a and then by b is moved by a + b, as long as both starts are possible."""
    width = made.cast_on // 3
    assume(first + second < width)
    try:
        together = rebase(made.pattern, first + second).pattern
        one = rebase(made.pattern, first).pattern
        both = rebase(one, second).pattern
    except CannotTurn:
        assume(False)
        return
    assert on(both, made.cast_on) == on(together, made.cast_on)
    assert on(rebase(made.pattern, 0).pattern, made.cast_on) == as_made(made)


@laws
@given(patterns())
def test_drawing_reads_back(made: Made) -> None:
    """The chart's own data, read from the drawing, is the grid that was drawn; and the grid
    holds the stitches that were worked."""
    grid = lay_out(knit(made.cast_on, plans_of(made.lines)))
    assert read_back(draw(grid)) == grid
    worked = [[cell.worked for cell in row.working()] for row in grid.rows]
    assert worked == [list(line.stitches) for line in made.lines]


@laws
@given(patterns(), patterns(), patterns())
def test_match_is_an_equivalence(a: Made, b: Made, c: Made) -> None:
    fabrics = [knit(m.cast_on, plans_of(m.lines)) for m in (a, b, c)]

    def same(i: int, j: int) -> bool:
        return match_fabrics(fabrics[i], fabrics[j]).same

    assert all(same(i, i) for i in range(3))
    assert all(same(i, j) == same(j, i) for i in range(3) for j in range(3))
    assert not (same(0, 1) and same(1, 2)) or same(0, 2)


@laws
@given(patterns())
def test_match_sees_one_stitch(made: Made) -> None:
    """A fabric is the same as itself told by its words, and not with one stitch changed."""
    assert match(made.pattern, made.pattern).same
    fabric = knit(made.cast_on, plans_of(made.lines))
    for i, line in enumerate(made.lines):
        for place, stitch in enumerate(line.stitches):
            if stitch.key in ("k", "p"):
                other = load_vocabulary().get("p" if stitch.key == "k" else "k")
                changed = [*line.stitches[:place], other, *line.stitches[place + 1 :]]
                rows = list(made.lines)
                rows[i] = replace(line, stitches=tuple(changed))
                found = match_fabrics(fabric, knit(made.cast_on, plans_of(rows)))
                wrong = [row for row in found.rows if row.status != "same"]
                assert len(wrong) == 1 and (wrong[0].place == place + 1 or wrong[0].shift)
                return
    assume(False)


@pytest.mark.parametrize("width", range(1, 9))
def test_split_finds_the_repeat(width: int) -> None:
    """A row of plain columns with one eyelet in each repeat: the repeat found is as wide."""
    get = load_vocabulary().get
    body = (get("p"), *[get("k")] * (width - 1))
    found = split([body * 4, body * 4])
    assert found.width == width and found.edge == 0
