"""Large charts on paper: cut at repeat borders, nothing lost, everything on the page."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from chartc.charting import ChartOptions, TooWide, lay_out, make_chart, read_back
from chartc.charting.grid import Grid
from chartc.charting.pages import OVERLAP, PAPERS, divided

from .fabrics import flat

SVG = "{http://www.w3.org/2000/svg}"
LONG = [
    "p:2 [ p:6 ] p" if n % 2 else "k [ yo ssk k:2 k2tog yo ] k:2" if n % 4 else "k:63"
    for n in range(70)
]
WIDE = make_chart(flat(63, LONG, times=10), title="Long lace")


def own_cells(grid: Grid, most_columns: int, most_rows: int) -> list[tuple[int, int]]:
    """(row, column) of the stitches of the parts' own, as parts of the whole."""
    cells = []
    for part in divided(grid, most_columns, most_rows).parts:
        for place, row in enumerate(part.grid.rows):
            for cell in row.cells:
                column, index = cell.column + part.first_column, place + part.first_row
                if part.right <= column < part.left and part.bottom <= index < part.top:
                    cells.append((index, column))
    return cells


def test_every_stitch_is_on_one_page_as_its_own() -> None:
    grid = lay_out(flat(24, ["p c4f p:2 c4b p k:2 2/1lpc p k2tog yo k:4", "k:24"] * 9))
    whole = [(n, cell.column) for n, row in enumerate(grid.rows) for cell in row.cells]
    for columns, rows in ((24, 18), (14, 8), (11, 30), (9, 5)):
        assert sorted(own_cells(grid, columns, rows)) == sorted(whole)


def test_cuts_are_at_repeat_borders() -> None:
    columns = divided(WIDE.grid, 34, 40).columns
    assert len(columns) > 2
    assert all(column % 6 == 1 for column in columns[1:-1])


def test_no_part_is_wider_than_asked_and_they_overlap() -> None:
    division = divided(WIDE.grid, 30, 25)
    for part in division.parts:
        assert part.grid.width <= 30 and len(part.grid.rows) <= 25
        if part.right:
            assert part.right - part.first_column >= OVERLAP


def test_a_stitch_across_the_cut_is_shown_whole_on_both_parts() -> None:
    grid = lay_out(flat(16, ["c8f c8b", "p:16"]))
    for part in divided(grid, 9, 2).parts:
        assert all(
            cell.column >= 0 and cell.column + cell.width <= part.grid.width
            for row in part.grid.rows
            for cell in row.cells
        )


@pytest.mark.parametrize("paper", PAPERS)
def test_pages_have_the_size_of_the_paper_and_hold_all_they_draw(paper: str) -> None:
    pages = WIDE.pages(paper)
    assert len(pages) > 1
    sheet = PAPERS[paper]
    for page in pages:
        root = ElementTree.fromstring(page)
        width, height = (float(root.get(k, "0")[:-2]) for k in ("width", "height"))
        assert {width, height} == {sheet.width, sheet.height}
        for element in root.iter(f"{SVG}text"):
            assert 0 < float(element.get("x", "0")) < width
            assert 0 < float(element.get("y", "0")) < height - 8
        outline = root.find(f".//{SVG}g[@id='chart-grid']")
        for x, y in re.findall(r"[ML]([\d.-]+) ([\d.-]+)", outline[-1].get("d", "") if outline
                               is not None and len(outline) else ""):  # fmt: skip
            assert 8 <= float(x) <= width - 8 and 8 <= float(y) <= height - 8


def test_pages_name_their_neighbours_and_the_last_holds_the_key() -> None:
    pages = WIDE.pages("a4")
    texts = [
        [" ".join(t.itertext()) for t in ElementTree.fromstring(page).iter(f"{SVG}text")]
        for page in pages
    ]
    assert "joins page 2" in texts[0]
    assert any(text.startswith(f"Page 1 of {len(pages)}: rows 1 to ") for text in texts[0])
    assert "Key" in texts[-1] and all("Key" not in text for text in texts[:-1])


def test_a_small_chart_has_one_page_with_its_key() -> None:
    (page,) = make_chart(flat(8, ["k k2tog yo k:2 yo ssk k", "p:8"]), title="Small").pages()
    assert read_back(page).width == 8
    assert ">Key<" in page and "Page 1 of" not in page


def test_a_long_key_gets_pages_of_its_own() -> None:
    row = "ktbl ptbl sl slf k2tog p2tog ssk ssp k3tog p3tog s2kp yo kfb m1l m1r mb co bo"
    keys = row.split()
    used = {"k2tog": 2, "p2tog": 2, "ssk": 2, "ssp": 2, "k3tog": 3, "p3tog": 3, "s2kp": 3}
    count = sum(used.get(key, 0 if key in ("yo", "m1l", "m1r", "co") else 1) for key in keys)
    chart = make_chart(flat(count, [row]), title="Many", options=ChartOptions(large_print=True))
    pages = chart.pages("a4")
    assert len(pages) > 1
    names = "".join(pages)
    assert all(f">{entry.meanings[0].name}<" in names for entry in chart.legend.entries)


def test_the_paper_must_take_a_cell() -> None:
    chart = make_chart(flat(8, ["k:8"]), options=ChartOptions(cell=400))
    with pytest.raises(TooWide, match="A4"):
        chart.pages("a4")
    with pytest.raises(KeyError):
        chart.pages("napkin")


def test_stitch_numbers_and_counting_lines_go_on_from_page_to_page() -> None:
    chart = make_chart(
        flat(63, LONG, times=10), options=ChartOptions(numbers=True, every=10, legend="none")
    )
    seen: set[int] = set()
    for page in chart.pages("a4"):
        root = ElementTree.fromstring(page)
        foot = max(
            float(t.get("y", "0"))
            for t in root.iter(f"{SVG}text")
            if t.get("text-anchor") == "middle" and (t.text or "").isdigit()
        )
        seen |= {
            int(t.text or "0")
            for t in root.iter(f"{SVG}text")
            if t.get("y") and float(t.get("y", "0")) == foot
        }
    assert seen == set(range(1, 64))
