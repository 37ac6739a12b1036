"""What stands where in a chart."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest

from chartc.charting import ChartOptions, Grid, lay_out
from chartc.charting.gridjson import NoGrid, from_json, to_json
from chartc.fabric import knit
from chartc.stitch import Stitch
from chartc.vocabulary import load_vocabulary

from .fabrics import flat, plan, rounds


def picture(grid: Grid) -> list[str]:
    """The chart in letters, top row first: "." nothing there, "#" no stitch, "-" not worked."""
    lines = []
    for row in reversed(grid.rows):
        line = ["."] * grid.width
        for cell in row.cells:
            for column in range(cell.column, cell.column + cell.width):
                letter = {"none": "#", "rest": "-"}.get(cell.kind)
                if cell.stitch is not None:
                    letter = {"k2tog": "/", "ssk": "\\", "s2kp": "^", "yo": "o", "p": "-"}.get(
                        cell.stitch.key, cell.stitch.key[0]
                    )
                line[grid.width - 1 - column] = "." if cell.outside else letter or "?"
        lines.append("".join(line))
    return lines


def test_lace_of_one_count_is_a_plain_rectangle() -> None:
    grid = lay_out(flat(9, ["k k2tog yo k yo ssk k:3", "p:9", "k:4 yo s2kp yo k:2", "p:9"]))
    assert picture(grid) == ["kkkkkkkkk", "kko^okkkk", "kkkkkkkkk", "kkk\\oko/k"]
    assert not any(cell.kind == "none" for row in grid.rows for cell in row.cells)


def test_wrong_side_rows_show_what_the_right_side_shows() -> None:
    """p2tog on WS looks like k2tog on RS, ssp like ssk (published/07, common practice)."""
    grid = lay_out(flat(8, ["k:8", "p2tog p:2 k:2 ssp"]))
    row = grid.rows[1]
    assert [cell.stitch.key for cell in row.cells if cell.stitch] == [
        "ssk", "p", "p", "k", "k", "k2tog",
    ]  # fmt: skip
    assert [cell.worked.key for cell in row.working() if cell.worked] == [
        "p2tog", "p", "p", "k", "k", "ssp",
    ]  # fmt: skip
    assert row.from_left and not grid.rows[0].from_left


def test_as_worked_shows_the_stitches_of_the_text() -> None:
    grid = lay_out(flat(3, ["k:3", "p:3"]), options=ChartOptions(view="as worked"))
    assert {cell.stitch.key for cell in grid.rows[1].cells if cell.stitch} == {"p"}


def test_a_stitch_without_partner_is_marked() -> None:
    own = Stitch("own", 1, 1, "own", heads=("k",), us="own")
    fabric = knit(2, [plan("own k", 1, "WS", own={"own": own})])
    cells = lay_out(fabric).rows[0].cells
    assert [(cell.stitch.key, cell.wrong_side) for cell in cells if cell.stitch] == [
        ("p", False), ("own", True),
    ]  # fmt: skip


def test_a_partner_with_other_counts_is_not_used() -> None:
    knit_two = load_vocabulary().get("kfb")
    grid = lay_out(flat(2, ["p:2"], first="WS"), twin=lambda stitch: knit_two)
    assert all(cell.wrong_side for cell in grid.rows[0].cells)


def test_missing_stitches_stand_where_they_are_missing() -> None:
    """Made in row 1, gone in row 3: the stitches between stay over their own loops."""
    grid = lay_out(
        flat(17, ["k:8 yo k yo k:8", "p:19", "k:7 ssk k k2tog k:7", "p:17", "k:8 yo k yo k:8"])
    )
    assert picture(grid)[2] == "kkkkkkk/#k#\\kkkkkkk"
    assert picture(grid)[4] == "kkkkkkkkokokkkkkkkk"


def test_an_outline_steps_with_the_shaping() -> None:
    rows, count = [], 3
    for n in range(10):
        rows.append(f"k yo {f'k:{count - 2}'} yo k" if n % 2 == 0 else f"p:{count}")
        count += 2 if n % 2 == 0 else 0
    lines = picture(lay_out(flat(3, rows)))
    assert [line.strip(".") for line in lines] == [line.replace(".", "") for line in lines]
    assert not any("#" in line for line in lines)
    assert all(line == line[::-1] for line in lines)


def test_decreases_stand_over_the_loop_in_front() -> None:
    grid = lay_out(flat(7, ["k:7", "p:7", "k2tog k:3 ssk", "p:5"]))
    assert picture(grid)[1] == "\\kkk/".center(7, ".") or picture(grid)[1] == "#\\kkk/#"
    for cell in grid.rows[2].cells:
        if cell.stitch and cell.stitch.uses == 2:
            assert len(cell.over) == 2


def test_each_cell_is_one_loop_wide_and_a_bound_off_stitch_has_a_cell() -> None:
    grid = lay_out(flat(8, ["k:8", "bo:3 p:5", "k c4f", "p:5"]))
    counts = [sum(cell.width for cell in row.cells if cell.kind == "stitch") for row in grid.rows]
    assert counts == [8, 8, 5, 5]
    assert picture(grid) == ["...kkkkk", "...cccck", "bbbkkkkk", "kkkkkkkk"]


def test_a_double_yarn_over_takes_two_columns() -> None:
    grid = lay_out(flat(6, ["k k2tog yo2 ssk k", "p:6"]))
    wide = [cell for cell in grid.rows[0].cells if cell.stitch and cell.stitch.key == "yo2"]
    assert [(cell.column, cell.width) for cell in wide] == [(2, 2)]


def test_stitches_left_waiting_keep_their_columns() -> None:
    fabric = knit(6, [plan("k:4", 1, turned=True), plan("p:2", 2, "WS", skip=2), plan("k:6", 3)])
    assert picture(lay_out(fabric)) == ["kkkkkk", "--kk--", "--kkkk"]


def test_rows_of_chosen_sections_only() -> None:
    fabric = knit(
        4,
        [plan("k:4", 1, section="Hem"), plan("p:4", 2, "WS", section="Hem"),
         plan("k2tog yo k:2", 3, section="Lace")],
    )  # fmt: skip
    grid = lay_out(fabric, options=ChartOptions(sections=("Lace",)))
    assert [row.number for row in grid.rows] == [3]


def test_plain_rows_are_left_out_and_said() -> None:
    grid = lay_out(
        flat(4, ["k2tog yo k:2", "p:4", "k:2 yo ssk", "p:4"]),
        options=ChartOptions(pattern_rows=True),
    )
    assert [row.number for row in grid.rows] == [1, 3]
    (left,) = grid.left_out
    assert (left.numbers, left.side, left.worked.key) == ((2, 4), "WS", "p")


def test_a_patterned_wrong_side_row_keeps_all_rows() -> None:
    grid = lay_out(
        flat(4, ["k2tog yo k:2", "p:4", "k:2 yo ssk", "p2tog yo p:2"]),
        options=ChartOptions(pattern_rows=True),
    )
    assert len(grid.rows) == 4 and not grid.left_out


def mirror_half(words: list[str]) -> list[str]:
    find = load_vocabulary().get
    return [find(word).mirror for word in reversed(words)]


@pytest.mark.parametrize("seed", range(60))
def test_symmetrical_patterns_get_symmetrical_charts(seed: int) -> None:
    random = Random(seed)
    half, rows = random.randint(2, 6), []
    counts = []
    for n in range(random.randint(2, 6)):
        counts.append(2 * half + 1)
        left, words = half, []
        while left:
            key = random.choice([k for k in ("k", "k", "k2tog", "ssk", "k3tog", "yo")
                                 if {"yo": 0, "k": 1, "k3tog": 3}.get(k, 2) <= left])  # fmt: skip
            left -= {"yo": 0, "k": 1, "k3tog": 3}.get(key, 2)
            words.append(key)
        middle = random.choice(["k", "k", "yo k yo"])
        if n % 2:
            words = ["p"] * half
            middle = "p"
        rows.append(" ".join([*words, middle, *mirror_half(words)]))
        half = sum(0 if w == "yo" else 1 for w in words) + words.count("yo")
        half += middle.startswith("yo")
    grid = lay_out(flat(counts[0], rows))
    # Every row has an odd number of stitches, so a middle column is always there.
    for row in grid.rows:
        taken = sorted(
            column
            for cell in row.cells
            if cell.kind != "none"
            for column in range(cell.column, cell.column + cell.width)
        )
        assert [grid.width - 1 - column for column in reversed(taken)] == taken


def test_every_repeat_is_laid_out_alike() -> None:
    grid = lay_out(rounds(18, ["[ k:2 yo k yo k:3 ]", "[ k:8 ]", "[ k ssk k:2 k2tog k ]"], times=3))
    for row in grid.rows:
        shapes = [
            (cell.column % 8, cell.kind, cell.stitch.key if cell.stitch else "")
            for cell in row.cells
        ]
        third = len(shapes) // 3
        assert shapes[:third] == shapes[third : 2 * third] == shapes[2 * third :]


def test_json_and_back() -> None:
    grid = lay_out(
        rounds(12, ["[ k:2 yo k yo k:3 ]", "[ k:8 ]", "[ k ssk k:2 k2tog k ]"], times=2),
    )
    assert from_json(to_json(grid)) == grid
    with_left = replace(grid, left_handed=True, as_worked=True)
    assert from_json(to_json(with_left)) == with_left


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"version": 99}', '{"version": 1}'])
def test_json_that_is_no_grid(text: str) -> None:
    with pytest.raises(NoGrid):
        from_json(text)
