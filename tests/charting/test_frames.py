"""The repeat frame: round one repeat, stepping where the repeat moves."""

from __future__ import annotations

from chartc.charting import Grid, lay_out
from chartc.fabric import Done, Pass, Plan, knit
from chartc.source import Span
from chartc.vocabulary import load_vocabulary

from .fabrics import flat, plan, rounds


def edges(grid: Grid) -> list[list[tuple[int, int]]]:
    return [[(edge.right, edge.left) for edge in frame.edges] for frame in grid.frames]


def test_one_repeat_between_edges() -> None:
    grid = lay_out(flat(15, ["k [ yo ssk k:2 k2tog yo ] k:2", "p:15"], times=2))
    assert edges(grid) == [[(1, 7), (1, 7)]]
    assert not grid.frames[0].steps


def test_in_the_round_the_whole_round_may_be_the_repeat() -> None:
    grid = lay_out(rounds(6, ["[ yo ssk k:2 k2tog yo ]", "k:6"]))
    assert edges(grid) == [[(0, 6), (0, 6)]]


def test_the_frame_steps_with_the_start_of_the_round() -> None:
    grid = lay_out(rounds(12, ["[ k2tog yo k:4 ]", "k:12"] * 3, times=2, shifts=[0, 0, 1, 0, 1, 0]))
    assert edges(grid) == [[(0, 6), (0, 6), (1, 7), (1, 7), (2, 8), (2, 8)]]
    assert grid.frames[0].steps


def test_a_half_drop_steps_by_half_a_repeat() -> None:
    fabric = knit(
        15,
        [
            plan("k:2 [ yo ssk k:2 k2tog yo ] k", 1, times=2),
            plan("p:15", 2, "WS"),
            plan("k:5 [ yo ssk k:2 k2tog yo ] k:4", 3),
            plan("p:15", 4, "WS"),
        ],
    )
    rows = edges(lay_out(fabric))[0]
    assert [left - right for right, left in rows] == [6] * 4
    assert abs(rows[2][0] - rows[0][0]) == 3


def test_rows_with_shorter_repeats_fill_the_frame_with_several() -> None:
    """Row 1 repeats 2 stitches, row 3 six: the pattern repeats over six."""
    fabric = knit(
        14,
        [plan("k [ yo ssk ] k", 1, times=6), plan("p:14", 2, "WS"),
         plan("k [ yo ssk k:2 k2tog yo ] k", 3, times=2)],
    )  # fmt: skip
    assert edges(lay_out(fabric)) == [[(1, 7)] * 3]


def test_counts_that_change_keep_one_repeat_in_the_frame() -> None:
    grid = lay_out(rounds(18, ["[ k:2 yo k yo k:3 ]", "[ k:8 ]", "[ k ssk k:2 k2tog k ]"], times=3))
    assert edges(grid) == [[(0, 8)] * 3]


def test_a_wrong_side_row_that_begins_elsewhere_does_not_make_it_step() -> None:
    """k1, p1 by turns over an odd number: from the other end it begins with the other stitch."""
    fabric = knit(
        9, [plan("k [ p k ] p k", n, side, times=3) for n, side in ((1, "RS"), (2, "WS"))]
    )
    assert not lay_out(fabric).frames[0].steps


def test_garter_edges_beside_a_plain_row_do_not_break_the_frame() -> None:
    grid = lay_out(flat(16, ["k:2 [ yo ssk k:2 k2tog yo ] k:2", "k:2 p:12 k:2"] * 2, times=2))
    assert edges(grid) == [[(2, 8)] * 4]


def test_a_plain_section_beside_is_left_out() -> None:
    fabric = knit(
        8,
        [plan("k:8", 1, section="Hem"), plan("k:8", 2, "WS", section="Hem"),
         plan("[ yo ssk ]", 3, times=4, section="Eyelets")],
    )  # fmt: skip
    (frame,) = lay_out(fabric).frames
    assert [edge.row for edge in frame.edges] == [2]


def test_panels_side_by_side_have_a_frame_each() -> None:
    find = load_vocabulary().get
    words = [("k", None)] + [("yo", 0), ("ssk", 0)] * 2 + [("k", None)] + [("p", 1), ("k", 1)] * 2
    done = []
    for place, (key, repeat) in enumerate(words):
        passes = ()
        if repeat is not None:
            start = 1 if repeat == 0 else 6
            passes = (Pass(repeat, (place - start) // 2 + 1, open=True),)
        done.append(Done(find(key), Span(place, place + 1), passes))
    fabric = knit(10, [Plan("Rnd 1", 1, "", True, tuple(done), Span(0, 10))])
    assert edges(lay_out(fabric)) == [[(1, 3)], [(6, 8)]]


def test_no_repeat_no_frame() -> None:
    assert lay_out(flat(4, ["k2tog yo k:2"])).frames == ()


def test_a_repeat_inside_a_repeat_has_a_finer_frame_inside() -> None:
    """Twice: k1, then (yo, ssk) three times over what lies before the next k1."""
    find = load_vocabulary().get
    done = []
    for outer in (1, 2):
        done.append(Done(find("k"), Span(0, 1), (Pass(0, outer),)))
        for inner in (1, 2, 3):
            passes = (Pass(0, outer), Pass(1, inner, open=True))
            done += [Done(find(key), Span(2, 3), passes) for key in ("yo", "ssk")]
    fabric = knit(14, [Plan("Rnd 1", 1, "", True, tuple(done), Span(0, 10))])
    frames = lay_out(fabric).frames
    assert [(frame.inner, frame.edges[0].right, frame.edges[0].left) for frame in frames] == [
        (False, 0, 7),
        (True, 1, 3),
    ]
