"""Charts as they are drawn, kept as text with their grids beside them.

Each was looked at as a picture at print size before it was kept.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from chartc.charting import Chart, ChartOptions, Flag, make_chart, read_back
from chartc.charting.gridjson import to_json
from chartc.fabric import knit
from chartc.source import Span
from chartc.stitch import Stitch

from .conftest import GOLDEN
from .fabrics import flat, plan, rounds


def eyelets() -> Chart:
    """Flat lace, edges and a repeat, plain rows left out and said."""
    fabric = flat(15, ["k [ yo ssk k:2 k2tog yo ] k:2", "p:15", "k [ k:3 yo s2kp yo ] k:2",
                       "p:15"], times=2)  # fmt: skip
    return make_chart(
        fabric, title="Saltmarsh eyelets",
        options=ChartOptions(pattern_rows=True, every=5, numbers=True),
    )  # fmt: skip


def half_drop() -> Chart:
    """The repeat moves by half: a stepping frame, tinted."""
    fabric = knit(
        15,
        [plan("k:2 [ yo ssk k:2 k2tog yo ] k", 1, times=2), plan("p:15", 2, "WS"),
         plan("k:5 [ yo ssk k:2 k2tog yo ] k:4", 3), plan("p:15", 4, "WS")],
    )  # fmt: skip
    return make_chart(fabric, title="Half-drop", options=ChartOptions(highlight=True))


def shells() -> Chart:
    """Counts that change in the round: missing stitches inside the repeat."""
    fabric = rounds(18, ["[ k:2 yo k yo k:3 ]", "[ k:8 ]", "[ k ssk k:2 k2tog k ]"], times=3)
    return make_chart(fabric, title="Cockle shells")


def swirl_left_handed() -> Chart:
    """The start of the round moves; mirrored, in large print, UK terms, true proportion."""
    fabric = rounds(18, ["[ k2tog yo k:5 yo ssk ]", "[ k:9 ]"] * 2, times=2, shifts=[0, 0, 1, 0])
    return make_chart(
        fabric, title="Withy swirl",
        options=ChartOptions(left_handed=True, large_print=True, usage="uk", proportion=0.75),
    )  # fmt: skip


def ropes() -> Chart:
    """Cables, bobbles, purl ground, both sides."""
    fabric = flat(14, ["p c4f p:2 2/1lpc k p mb p", "k p:3 k p:2 k:2 p:4 k",
                       "p k:4 p:2 2/1rpc k p:3"])  # fmt: skip
    return make_chart(fabric, title="Mooring ropes")


def edging() -> Chart:
    """A shaped edge with stitches bound off, in two sections."""
    fabric = knit(
        6,
        [plan("sl k:3 yo k:2", 1, section="Point"), plan("k:7", 2, "WS", section="Point"),
         plan("sl k:4 yo k:2", 3, section="Point"), plan("k:8", 4, "WS", section="Point"),
         plan("k:8", 5, section="Finish"), plan("bo:2 k:6", 6, "WS", section="Finish")],
    )  # fmt: skip
    return make_chart(fabric, title="Groyne points")


def own_stitches() -> Chart:
    """A designer's own stitches, one of them worked on the wrong side, two drawn alike."""
    own = {
        "gather": Stitch("gather", 3, 3, "own", ("k", "p", "k"), (0, 1, 2), title="gather three",
                         us="gather", how="Knit three together, purl into them, knit again."),
        "shell": Stitch("shell", 1, 1, "own", ("k",), (0,), extra=("bobble",), title="shell <&>",
                        us="shell", how='Work a "shell" & close it.'),
    }  # fmt: skip
    fabric = knit(
        7,
        [plan("k gather k ssk yo", 1, own=own), plan("p:2 shell p skp yo p".replace("skp", "ssp"),
         2, "WS", own=own), plan("k:2 mb k skp yo", 3, own=own)],
    )  # fmt: skip
    return make_chart(fabric, title='Own stitches <script>&"')


def short_rows() -> Chart:
    """Rows turned before their end: stitches wait on the needle."""
    fabric = knit(
        8,
        [plan("k:6", 1, turned=True), plan("p:4", 2, "WS", skip=2, turned=True), plan("k:4", 3,
         skip=2, turned=True), plan("p:8", None, "WS", label="Next row (WS):")],
    )  # fmt: skip
    return make_chart(fabric, title="Short rows")


def findings() -> Chart:
    """Findings and lean laid over the chart."""
    fabric = knit(
        15,
        [plan("k:2 [ yo ssk k:2 k2tog yo ] k", 1, times=2), plan("p:15", 2, "WS", start=100),
         plan("k:5 [ yo ssk k:2 k2tog yo ] k:4", 3, start=200)],
    )  # fmt: skip
    flags = (
        Flag(Span(7, 9), "this yo is worked into by the decrease of the next repeat"),
        Flag(Span(204, 206), "the repeat starts three stitches later"),
        Flag(Span(900, 901), "somewhere else"),
    )
    return make_chart(fabric, title="Why it leans", options=ChartOptions(drift=True), flags=flags)


CHARTS = {
    make.__name__.replace("_", "-"): make
    for make in (
        eyelets, half_drop, shells, swirl_left_handed, ropes, edging, own_stitches, short_rows,
        findings,
    )
}  # fmt: skip


@pytest.mark.parametrize("name", CHARTS)
def test_golden(name: str, golden: Callable[[str, str, str], None]) -> None:
    chart = CHARTS[name]()
    assert read_back(chart.svg) == chart.grid
    golden(name, chart.svg, to_json(chart.grid))


def test_golden_page(golden: Callable[[str, str, str], None]) -> None:
    """The second of the pages of a chart too large for one."""
    rows = ["p:2 [ p:6 ] p" if n % 2 else "k [ yo ssk k:2 k2tog yo ] k:2" for n in range(70)]
    chart = make_chart(flat(63, rows, times=10), title="Long lace")
    pages = chart.pages("a4")
    golden("page", pages[1], to_json(read_back(pages[1])))


def test_no_golden_is_left_over() -> None:
    kept = {path.name for path in GOLDEN.iterdir() if path.suffix in (".svg", ".json")}
    wanted = {f"{name}.{kind}" for name in [*CHARTS, "page"] for kind in ("svg", "json")}
    assert kept == wanted
