"""The key: only what is used, both sides' meanings, US and UK terms."""

from __future__ import annotations

from chartc.charting import ChartOptions, lay_out, make_legend
from chartc.charting.lettering import balanced, text_width, wrapped
from chartc.fabric import knit
from chartc.stitch import Stitch

from .fabrics import flat, plan, rounds


def told(legend: object) -> list[list[tuple[str, str]]]:
    return [[(m.side, m.name) for m in entry.meanings] for entry in legend.entries]  # type: ignore[attr-defined]


def test_only_symbols_used_plain_ones_first() -> None:
    legend = make_legend(lay_out(rounds(4, ["yo ssk p k"])))
    assert [entry.stitch.key for entry in legend.entries] == ["p", "k", "yo", "ssk"]
    assert not (legend.no_stitch or legend.frame or legend.resting)


def test_both_meanings_where_both_sides_occur() -> None:
    legend = make_legend(lay_out(flat(4, ["k p k2tog yo", "p k p2tog yo"])))
    assert told(legend) == [
        [("RS", "k"), ("WS", "p")],
        [("RS", "p"), ("WS", "k")],
        [("RS", "k2tog"), ("WS", "p2tog")],
        [("", "yo")],
    ]


def test_one_meaning_alone_is_a_right_side_one() -> None:
    """A symbol given one definition is only worked on RS rows (published/02, source C3)."""
    legend = make_legend(lay_out(flat(4, ["k:2 ssk yo", "k p:3"])))
    assert told(legend) == [[("RS", "k"), ("WS", "p")], [("WS", "k")], [("", "ssk")], [("", "yo")]]


def test_british_terms() -> None:
    fabric = rounds(3, ["skp yo k", "bo:3"])
    names = [
        [m.name for entry in make_legend(lay_out(fabric), usage).entries for m in entry.meanings]
        for usage in ("us", "uk")
    ]
    assert "skp" in names[0] and "skpo" in names[1]
    assert names[0] != names[1]
    titles = [m.title for e in make_legend(lay_out(fabric), "uk").entries for m in e.meanings]
    assert "cast off" in titles and "bind off" not in titles


def test_other_signs_are_told_when_used() -> None:
    legend = make_legend(
        lay_out(rounds(9, ["[ k yo k yo k ]", "[ k k k k k ]", "[ k s2kp k ]"], times=3))
    )
    assert legend.no_stitch and legend.frame
    waiting = knit(6, [plan("k:4", 1, turned=True), plan("p:4", 2, "WS", skip=2)])
    assert make_legend(lay_out(waiting)).resting


def test_missing_stitches_outside_are_not_told_when_not_drawn() -> None:
    rows = ["k yo k:3 yo k", "p:7", "k yo k:5 yo k", "p:9", "k yo k:7 yo k", "p:11"]
    grid = lay_out(flat(5, rows))
    assert all(cell.outside for row in grid.rows for cell in row.cells if cell.kind == "none")
    assert not make_legend(grid, hatched=False).no_stitch
    assert make_legend(grid, hatched=True).no_stitch


def test_own_stitches_are_in_the_key() -> None:
    own = Stitch("tidewrap", 3, 3, "own", ("k",) * 3, (0, 1, 2), us="tw3", how="Wrap the three.")
    fabric = knit(4, [plan("tidewrap k", 1, own={"tidewrap": own})])
    entry = make_legend(lay_out(fabric, options=ChartOptions())).entries[-1]
    assert entry.meanings[0].name == "tw3" and entry.meanings[0].how == "Wrap the three."


def test_lines_fit_their_room() -> None:
    text = "Slip two stitches together as if to knit them together, knit the next one. " * 3
    for break_up in (wrapped, balanced):
        lines = break_up(text, 2.7, 60)
        assert " ".join(lines).split() == text.split()
        assert all(text_width(line, 2.7) <= 60 for line in lines)
    assert len(balanced(text, 2.7, 60)) == len(wrapped(text, 2.7, 60))
    assert "".join(line.rstrip("-") for line in wrapped("x" * 200, 2.7, 30)) == "x" * 200
