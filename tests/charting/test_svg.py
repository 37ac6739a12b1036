"""The drawing: the same bytes for the same chart, safe text, true size, readable by ear."""

from __future__ import annotations

import hashlib
import os
import re
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chartc.charting import ChartOptions, NoGrid, draw, lay_out, make_chart, read_back
from chartc.charting.svg import number
from chartc.fabric import knit

from .fabrics import flat, plan
from .test_golden import CHARTS

SVG = "{http://www.w3.org/2000/svg}"
LACE = flat(15, ["k [ yo ssk k:2 k2tog yo ] k:2", "p:15"], times=2)


def tree(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)


def test_same_bytes_whatever_the_hash_seed_and_locale() -> None:
    script = (
        "import hashlib\n"
        "from tests_charting.test_golden import CHARTS\n"
        "print(*[hashlib.sha256(make().svg.encode()).hexdigest() for make in CHARTS.values()])\n"
    )
    here = Path(__file__).resolve().parent
    start = (
        "import sys, types, importlib.util\n"
        f"p = types.ModuleType('tests_charting'); p.__path__ = [{str(here)!r}]\n"
        "sys.modules['tests_charting'] = p\n"
    )
    found = set()
    for seed, zone, language in (("0", "UTC", "C"), ("4711", "Asia/Tokyo", "C.UTF-8")):
        env = {**os.environ, "PYTHONHASHSEED": seed, "TZ": zone, "LC_ALL": language}
        env["PYTHONPATH"] = os.pathsep.join(p for p in sys.path if p)
        out = subprocess.run(
            [sys.executable, "-c", start + script], env=env, capture_output=True, text=True,
            check=True,
        )  # fmt: skip
        found.add(out.stdout)
    assert len(found) == 1
    here_too = [hashlib.sha256(make().svg.encode()).hexdigest() for make in CHARTS.values()]
    assert found.pop().split() == here_too


@pytest.mark.parametrize("name", CHARTS)
def test_the_geometry_satisfies_the_library_s_own_checks(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """svgwrite's validator knows SVG 1.1 but no ARIA: those attributes are passed over."""
    import svgwrite
    from svgwrite.validator2 import Full11Validator

    real, check = svgwrite.Drawing, Full11Validator.check_svg_attribute_value
    checked: list[str] = []

    def checks(self: Full11Validator, element: str, key: str, value: object) -> None:
        if key != "role" and not key.startswith("aria-"):
            checked.append(key)
            check(self, element, key, value)

    monkeypatch.setattr(Full11Validator, "check_svg_attribute_value", checks)
    monkeypatch.setattr(svgwrite, "Drawing", lambda **extra: real(**{**extra, "debug": True}))
    assert CHARTS[name]().svg
    assert len(checked) > 200


@pytest.mark.parametrize("name", CHARTS)
def test_every_reference_has_its_symbol_and_every_symbol_is_used(name: str) -> None:
    drawn = tree(CHARTS[name]().svg)
    ids = [element.get("id") for element in drawn.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    link = "{http://www.w3.org/1999/xlink}href"
    used = {element.get(link, "")[1:] for element in drawn.iter(f"{SVG}use")}
    defined = {element.get("id") for element in drawn.iter(f"{SVG}symbol")}
    assert used == defined


def test_size_is_in_mm_and_the_same_as_the_view() -> None:
    for cell in (3.0, 5.0, 7.5):
        drawn = tree(draw(lay_out(LACE), options=ChartOptions(cell=cell)))
        width, height = drawn.get("width", ""), drawn.get("height", "")
        assert width.endswith("mm") and height.endswith("mm")
        assert drawn.get("viewBox") == f"0 0 {width[:-2]} {height[:-2]}"
        outline = drawn.find(f".//{SVG}g[@id='chart-grid']")
        assert outline is not None
        points = re.findall(r"[ML]([\d.]+) ([\d.]+)", outline[-1].get("d", ""))
        xs = [float(x) for x, _ in points]
        assert max(xs) - min(xs) == pytest.approx(15 * cell)


def test_one_cell_one_use_and_blanks_none() -> None:
    drawn = tree(draw(lay_out(LACE), options=ChartOptions()))
    row = drawn.find(f".//{SVG}g[@id='chart-row-1']")
    assert row is not None
    assert len(row.findall(f"{SVG}use")) == 8
    everything = tree(draw(lay_out(LACE, options=ChartOptions(background=""))))
    row = everything.find(f".//{SVG}g[@id='chart-row-1']")
    assert row is not None
    assert len(row.findall(f"{SVG}use")) == 15


def test_layers_have_names() -> None:
    drawn = tree(draw(lay_out(LACE), title="Lace"))
    layers = [child.get("id") for child in drawn if child.tag == f"{SVG}g"]
    assert layers == [
        "chart-paper", "chart-heading", "chart-grid", "chart-stitches", "chart-repeat",
        "chart-numbers", "chart-key",
    ]  # fmt: skip


def test_no_web_fonts_no_foreign_parts() -> None:
    svg = draw(lay_out(LACE), title="Lace")
    assert "foreignObject" not in svg and "@font-face" not in svg and "%" not in svg
    fonts = {
        element.get("font-family") for element in tree(svg).iter() if element.get("font-family")
    }
    assert fonts and all(font.endswith("sans-serif") for font in fonts)


def test_by_ear() -> None:
    """The chart is named and described, and its rows are a list in the order they are worked
    (WAI-ARIA Graphics Module 1.0: graphics-document; from memory)."""
    drawn = tree(draw(lay_out(LACE), title="Lace"))
    assert drawn.get("role", "").startswith("graphics-document")
    named = drawn.find(f".//{SVG}title[@id='{drawn.get('aria-labelledby')}']")
    told = drawn.find(f".//{SVG}desc[@id='{drawn.get('aria-describedby')}']")
    assert named is not None and named.text == "Lace"
    assert told is not None and "2 rows, 15 stitches wide" in (told.text or "")
    rows = [g for g in drawn.iter(f"{SVG}g") if g.get("role") == "listitem"]
    assert [row.get("aria-label") for row in rows] == [
        "Row 1 (RS): knit 1; repeat 2 times: (yarn over; slip, slip, knit; knit 2; "
        "knit two together; yarn over); knit 2.",
        "Row 2 (WS): purl 15.",
    ]
    assert [row.findtext(f"{SVG}title") for row in rows] == [r.get("aria-label") for r in rows]


def test_nothing_is_told_by_colour_alone() -> None:
    """Ink, paper and their shades in a plain chart; the accent only in overlays."""
    svg = draw(lay_out(LACE), options=ChartOptions(highlight=True))
    colours = set(re.findall(r"#[0-9a-f]{6}", svg))
    for colour in colours:
        assert colour[1:3] == colour[3:5] == colour[5:7], colour
    marked = CHARTS["findings"]().svg
    assert "stroke-dasharray" in marked


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=40), st.text(max_size=20), st.text(max_size=12))
def test_any_text_is_safe(title: str, label: str, prefix: str) -> None:
    fabric = knit(3, [plan("k yo k2tog", None, label=label or "Row", section=title)])
    options = ChartOptions(prefix=prefix)
    grid = lay_out(fabric, options=options)
    svg = draw(grid, title=title, notes=(label,), options=options)
    drawn = tree(svg)
    assert drawn.tag == f"{SVG}svg"
    assert {element.tag.removeprefix(SVG) for element in drawn.iter()} <= {
        "svg", "title", "desc", "metadata", "defs", "symbol", "path", "circle", "rect", "g",
        "use", "text", "tspan",
    }  # fmt: skip
    assert read_back(svg) == grid


@pytest.mark.parametrize(
    "text", ["", "not xml", "<svg/>", "<svg xmlns='http://www.w3.org/2000/svg'/>"]
)
def test_a_drawing_without_a_grid(text: str) -> None:
    with pytest.raises(NoGrid):
        read_back(text)


def test_a_chart_shows_itself_in_a_notebook() -> None:
    chart = make_chart(LACE, title="Lace")
    assert chart._repr_svg_() == chart.svg
    assert chart.alt.startswith("Knitting chart for Lace: 2 rows")
    assert len(chart.rows_in_words) == 2


def test_row_numbers_stand_where_rows_begin() -> None:
    """RS at the right edge, WS at the left (knitpurlhunter.com, "Charts", in published/02)."""
    for left_handed in (False, True):
        options = ChartOptions(left_handed=left_handed)
        grid = lay_out(LACE, options=options)
        drawn = tree(draw(grid, options=options))
        numbers = drawn.find(f".//{SVG}g[@id='chart-numbers']")
        assert numbers is not None
        at = {text.text: float(text.get("x", "0")) for text in numbers}
        assert (at["1"] > at["2"]) != left_handed


def test_numbers_are_written_short() -> None:
    assert [number(v) for v in (1.0, 0.1 + 0.2, -0.0001, 12.3456, 1e-9)] == [
        "1", "0.3", "0", "12.346", "0",
    ]  # fmt: skip


def test_an_empty_chart_is_drawn_too() -> None:
    grid = lay_out(knit(3, []))
    svg = draw(grid, title="Nothing yet")
    assert read_back(svg) == grid
