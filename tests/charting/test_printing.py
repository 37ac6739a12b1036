"""PNG at a stated resolution, PDF true to size with fonts embedded and tags."""

from __future__ import annotations

import builtins
import io
import struct
from typing import Any

import pytest
from pypdf import PdfReader

from chartc.charting import CannotPrint, make_chart, to_pdf, to_png
from chartc.charting import printing as printing

from .fabrics import flat
from .pixels import decode_png
from .test_pages import WIDE

CHART = make_chart(flat(8, ["k k2tog yo k:2 yo ssk k", "p:8"]), title='Small "lace" #1')


@pytest.mark.parametrize("dpi", [72, 150, 300])
def test_a_picture_has_the_dots_asked_for(dpi: int) -> None:
    png = to_png(CHART.svg, dpi)
    width = float(CHART.svg.split('width="')[1].split("mm")[0])
    picture = decode_png(png)
    assert picture.width == pytest.approx(width / 25.4 * dpi, abs=1.01)
    at = png.index(b"pHYs")
    across, down, unit = struct.unpack(">IIB", png[at + 4 : at + 13])
    assert across == down == round(dpi / 0.0254) and unit == 1  # PNG specification, pHYs
    assert min(picture.grey) < 60 and max(picture.grey) == 255


def test_too_many_dots_and_too_few() -> None:
    with pytest.raises(CannotPrint, match="million dots"):
        to_png(WIDE.svg, 4800)
    with pytest.raises(CannotPrint, match="between"):
        to_png(CHART.svg, 1)


@pytest.mark.parametrize(("paper", "width", "height"), [("a4", 210, 297), ("letter", 215.9, 279.4)])
def test_a_pdf_is_true_to_size_tagged_and_has_its_fonts(
    paper: str, width: float, height: float
) -> None:
    reader = PdfReader(io.BytesIO(to_pdf(CHART, paper)))
    (page,) = reader.pages
    box = [float(value) / 72 * 25.4 for value in page.mediabox]
    assert sorted(box[2:]) == pytest.approx(sorted((width, height)), abs=0.01)
    root: Any = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] is True or root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    fonts = page["/Resources"]["/Font"]
    assert fonts
    for font in fonts.values():
        inner = font.get_object()["/DescendantFonts"][0].get_object()
        descriptor = inner["/FontDescriptor"].get_object()
        assert any(f"/FontFile{n}" in descriptor for n in ("", "2", "3"))
    assert 'Small "lace" #1' in page.extract_text()
    assert "/XObject" not in page["/Resources"] or not any(
        item.get_object().get("/Subtype") == "/Image"
        for item in page["/Resources"]["/XObject"].values()
    )  # drawn, not a picture


def alternatives(reader: PdfReader) -> list[str]:
    """The alternative texts in the structure tree, in reading order."""
    found: list[str] = []

    def walk(node: Any) -> None:
        node = node.get_object() if hasattr(node, "get_object") else node
        if isinstance(node, list):
            for child in node:
                walk(child)
        elif isinstance(node, dict):
            if "/Alt" in node:
                found.append(str(node["/Alt"]))
            if "/K" in node:
                walk(node["/K"])

    walk(reader.trailer["/Root"]["/StructTreeRoot"])  # type: ignore[index]
    return found


def test_a_pdf_can_be_heard() -> None:
    (text,) = alternatives(PdfReader(io.BytesIO(to_pdf(CHART))))
    assert text.startswith('Knitting chart for Small "lace" #1: 2 rows, 8 stitches wide.')
    assert "Row 1 (RS): knit 1; knit two together; yarn over; knit 2;" in text
    assert text.index("Row 1") < text.index("Row 2 (WS): purl 8.")


def test_a_large_chart_has_a_page_for_each_part() -> None:
    reader = PdfReader(io.BytesIO(to_pdf(WIDE)))
    assert len(reader.pages) == len(WIDE.pages("a4"))
    assert len(alternatives(reader)) == len(reader.pages)


def test_the_same_chart_gives_the_same_pdf() -> None:
    assert to_pdf(CHART) == to_pdf(CHART)
    assert to_png(CHART.svg) == to_png(CHART.svg)


def test_unknown_paper() -> None:
    with pytest.raises(CannotPrint, match="a4 or letter"):
        to_pdf(CHART, "napkin")


def test_without_the_extra_the_message_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    real = builtins.__import__

    def without(name: str, *rest: Any) -> Any:
        if name in ("resvg_py", "typst"):
            raise ImportError(name)
        return real(name, *rest)

    printing._has_typeface.cache_clear()
    monkeypatch.setattr(builtins, "__import__", without)
    for work in (lambda: to_png(CHART.svg), lambda: to_pdf(CHART)):
        with pytest.raises(CannotPrint, match=r"chartc\[print\]"):
            work()


def test_a_machine_without_typefaces_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(printing, "_has_typeface", lambda: False)
    with pytest.raises(CannotPrint, match="typeface"):
        to_png(CHART.svg)
