"""The symbols: distinct at print size, mirror partners exact mirrors, every stitch drawn."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chartc.charting.legend import abbreviation
from chartc.charting.specimen import table
from chartc.charting.strokes import Lettering, Mark, Ring, Stroke, mirrored
from chartc.charting.symbols import columns_of, lettered, seen_from_behind, symbol
from chartc.resources import grammar_folder
from chartc.stitch import Stitch
from chartc.vocabulary import load_vocabulary

from .pixels import Picture, closest, pictures

BY_RULE = (
    "k4tog k5tog p4tog p5tog k4togtbl yo2 yo3 c4f c4b c6f c6b 1/1lc 1/1rc 2/1lc 2/1rc "
    "1/2lc 1/2rc 1/1lpc 1/1rpc 2/1lpc 2/1rpc 2/2lpc 2/2rpc 3/1lc 3/1rc"
)

# How much of a cell's area must be ink in one symbol and paper in the other, at the least.
# Measured smallest values stand in grammar/SYMBOLS.md; these floors lie a little under them.
FLOORS = {
    ("5 mm", "grey"): 0.057,
    ("5 mm", "one bit"): 0.058,
    ("5 mm", "blurred"): 0.038,
    ("half size", "grey"): 0.048,
    ("half size", "one bit"): 0.045,
    ("half size", "blurred"): 0.022,
}
FLOOR_LETTERED = 0.01


def all_stitches() -> list[Stitch]:
    vocabulary = load_vocabulary()
    made = [vocabulary.find(key) for key in BY_RULE.split()]
    return list(dict.fromkeys([*vocabulary.stitches.values(), *(s for s in made if s)]))


@cache
def shown(cell: float, pixels: int) -> tuple[list[str], list[Picture], set[str]]:
    stitches = all_stitches()
    letters = lettered([(s, False) for s in stitches], abbreviation)
    drawn = [symbol(s, cell, cell, letters=letters.get((s.key, False), "")) for s in stitches]
    return (
        [s.key for s in stitches],
        pictures(drawn, cell, pixels),
        {key for key, _ in letters},
    )


@pytest.mark.parametrize(("size", "rendering"), list(FLOORS))
def test_no_two_symbols_look_alike(size: str, rendering: str) -> None:
    # 5 mm at 150 dpi is 29.5 pixels.
    names, seen, with_letters = shown(5.0, 30) if size == "5 mm" else shown(2.5, 15)
    change = {
        "grey": lambda p: p,
        "one bit": Picture.one_bit,
        "blurred": Picture.blurred,
    }[rendering]
    found = closest(names, [change(picture) for picture in seen], most=60)
    plain = [pair for pair in found if not {pair[1], pair[2]} & with_letters]
    assert plain[0][0] >= FLOORS[(size, rendering)], plain[:5]
    assert found[0][0] >= FLOOR_LETTERED, found[:5]


def numbers(mark: Mark) -> tuple[tuple[Any, ...], list[list[float]]]:
    """What kind of mark it is, and its numbers: for a path, along it and backwards."""
    if isinstance(mark, Stroke):
        kind = ("path", mark.weight, mark.filled, tuple(len(piece) for piece in mark.path))
        there = [value for piece in mark.path for point in piece for value in point]
        back = [
            value for piece in reversed(mark.path) for point in reversed(piece) for value in point
        ]
        return kind, [there, back]
    assert isinstance(mark, Ring)
    return ("ring", mark.weight, mark.filled), [[*mark.centre, mark.radius]]


def same_drawing(one: tuple[Mark, ...], other: tuple[Mark, ...]) -> bool:
    """Whether two drawings are the same to a thousandth of a mm, whatever the order of the
    marks and the way along each path."""
    left = list(other)
    for mark in one:
        kind, ways = numbers(mark)
        for candidate in left:
            its_kind, its_ways = numbers(candidate)
            sizes = sorted(kind[-1]) if kind[0] == "path" else None
            its_sizes = sorted(its_kind[-1]) if its_kind[0] == "path" else None
            if kind[:3] != its_kind[:3] or sizes != its_sizes:
                continue
            if any(
                all(abs(a - b) < 1e-3 for a, b in zip(way, its_ways[0], strict=True))
                for way in ways
            ):
                left.remove(candidate)
                break
        else:
            return False
    return not left


@pytest.mark.parametrize("stitch", all_stitches(), ids=lambda s: s.key)
def test_partners_are_exact_mirrors(stitch: Stitch) -> None:
    partner = load_vocabulary().mirror(stitch)
    if partner is None:
        pytest.skip("no mirror image in the vocabulary")
    if partner.heads != stitch.heads[::-1]:
        pytest.skip("the mirror image is worked another way (k2tog tbl turns into k2tog, kfb "
                    "stays kfb: common practice, no source)")  # fmt: skip
    for width, height in ((5, 5), (5, 3.5), (4, 6)):
        one = symbol(stitch, width, height)
        other = symbol(partner, width, height)
        assert same_drawing(mirrored(one.marks, one.width), other.marks)


@pytest.mark.parametrize("stitch", all_stitches(), ids=lambda s: s.key)
@pytest.mark.parametrize(("width", "height"), [(5.0, 5.0), (5.0, 3.4), (3.0, 4.5)])
def test_symbols_stay_in_their_cells(stitch: Stitch, width: float, height: float) -> None:
    drawn = symbol(stitch, width, height)
    assert drawn.marks
    slack = 0.35 * min(width, height) / 5
    for mark in drawn.marks:
        points = []
        if isinstance(mark, Stroke):
            points = [point for piece in mark.path for point in (piece[0], piece[-1])]
        elif isinstance(mark, Ring):
            (x, y), r = mark.centre, mark.radius
            points = [(x - r, y - r), (x + r, y + r)]
        for x, y in points:
            assert -slack <= x <= drawn.width + slack
            assert -slack <= y <= drawn.height + slack


def test_the_floors_stand_in_the_page_on_symbols() -> None:
    page = (grammar_folder() / "SYMBOLS.md").read_text(encoding="utf-8")
    for (size, rendering), floor in FLOORS.items():
        line = next(
            line for line in page.splitlines() if line.startswith(f"| {size}, {rendering} |")
        )
        assert line.endswith(f"| {floor * 100:.1f} % |")


def test_the_drawn_table_is_up_to_date() -> None:
    kept = (grammar_folder() / "symbols.svg").read_text(encoding="utf-8")
    assert kept == table(), "run: python -m chartc.charting.specimen grammar/symbols.svg"


def test_the_background_is_blank() -> None:
    knit = load_vocabulary().get("k")
    assert symbol(knit, background="k").marks == ()
    assert symbol(knit).marks


def test_the_other_face_of_a_stitch() -> None:
    """Turned over, a decrease keeps its lean and shows the other face (published/07)."""
    vocabulary = load_vocabulary()
    for one, other in (("k2tog", "p2tog"), ("ssk", "ssp"), ("k3tog", "p3tog"), ("k", "p")):
        turned = symbol(seen_from_behind(vocabulary.get(one)))
        assert same_drawing(turned.marks, symbol(vocabulary.get(other)).marks)
    assert seen_from_behind(seen_from_behind(vocabulary.get("2/1lpc"))) == vocabulary.get("2/1lpc")


def test_letters_only_where_symbols_are_the_same() -> None:
    vocabulary = load_vocabulary()
    pair = [(vocabulary.get("ssk"), False), (vocabulary.get("skp"), False)]
    assert list(lettered(pair, abbreviation).values()) == ["skp"]
    assert lettered([(vocabulary.get("k2tog"), False), *pair[:1]], abbreviation) == {}
    long = Stitch("slk", 1, 1, heads=("sl",), us="slip it as if to knit")
    longer = Stitch("slipknitwise", 1, 1, heads=("sl",), us="slip it as if to knit again")
    three = [(vocabulary.get("sl"), False), (long, False), (longer, False)]
    assert list(lettered(three, abbreviation).values()) == ["slk", "A"]


HEADS = st.sampled_from(["k", "p", "ktbl", "ptbl", "yo", "sl", "slf", "m", "mp"])


@st.composite
def own_stitches(draw: st.DrawFn) -> Stitch:
    uses, makes = draw(st.integers(0, 7)), draw(st.integers(0, 7))
    heads = tuple(draw(HEADS) for _ in range(makes))
    front = tuple(draw(st.permutations(range(uses))))
    strands = ()
    if uses == makes > 1 and draw(st.booleans()):
        strands = tuple(draw(st.permutations(range(uses))))
    return Stitch(
        "own", uses, makes, draw(st.sampled_from(["own", "bobble", "brioche", "drop"])),
        heads=heads, front=front, strands=strands,
        over=frozenset(draw(st.sets(st.integers(0, max(0, uses - 1))))) if strands else frozenset(),
        lean=draw(st.sampled_from([None, "left", "right", "centre"])),
        wraps=draw(st.integers(0, 5)),
        extra=tuple(draw(st.sets(st.sampled_from(["bobble", "below", "pass", "wrap", "drop"])))),
    )  # fmt: skip


@settings(max_examples=200, deadline=None)
@given(own_stitches(), st.floats(1.5, 20), st.floats(1.5, 20), st.booleans())
def test_any_stitch_has_a_symbol(stitch: Stitch, width: float, height: float, behind: bool) -> None:
    drawn = symbol(stitch, width, height, wrong_side=behind, letters="own")
    assert any(not isinstance(mark, Lettering) for mark in drawn.marks)
    assert drawn.width == max(1, columns_of(stitch)) * width
