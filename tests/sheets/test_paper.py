"""On paper: the PDF read back, and the page as a real browser prints it.

What is asked of the PDF: PDF/UA-1 (ISO 14289-1) wants a tagged file that says so, a title shown
in place of the file name, a language, and other text for every figure (from memory); that all
fonts are embedded is asked by every printer.
"""

from __future__ import annotations

import io
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from chartc.sheets import (
    Document,
    SheetOptions,
    SheetProblem,
    class_sheet,
    cue_card,
    exercise_sheet,
    report,
)
from chartc.sheets.gather import parts_of
from tests.sheets.kit import chromium, sample, squeezed

pypdf = pytest.importorskip("pypdf")

SHEETS = {
    "class": lambda: class_sheet(sample("lanternhead-hat"), SheetOptions(own="Adult Small")),
    "letter": lambda: class_sheet(sample("mooring-rope"), SheetOptions(paper="letter")),
    "large": lambda: class_sheet(sample("cockle-fan"), SheetOptions(large=True, contrast=True)),
    "words": lambda: class_sheet(sample("pea-nupps"), SheetOptions(words_only=True)),
    "two": lambda: class_sheet(sample("lanternhead-hat"), SheetOptions(two_up=True)),
    "cue": lambda: cue_card(sample("lanternhead-hat")),
    "exercise": lambda: exercise_sheet(sample("pea-nupps"), level=2)[0],
    "answers": lambda: exercise_sheet(sample("pea-nupps"), level=2)[1],
    "report": lambda: report(sample("jetty-jumper-slip")),
}


def tags(element: Any) -> Iterator[tuple[str, Any]]:
    """The structure of a tagged PDF, in reading order."""
    element = element.get_object()
    if not isinstance(element, dict):
        return
    if "/S" in element:
        yield str(element["/S"]), element
    children = element.get("/K", [])
    for child in children if isinstance(children, list) else [children]:
        yield from tags(child)


def fonts(reader: Any) -> Iterator[Any]:
    for page in reader.pages:
        resources = page["/Resources"]
        for font in resources.get("/Font", {}).values():
            yield font.get_object()


def footers(pages: list[str]) -> list[tuple[int, int]]:
    """What each page says of itself: "Page 2 of 5"."""
    found = []
    for text in pages:
        said = re.findall(r"Page(\d+)of(\d+)", squeezed(text))
        assert len(said) == 1, "not one page number on a page"
        found.append((int(said[0][0]), int(said[0][1])))
    return found


def rows_whole(document: Document, pages: list[str]) -> int:
    """No row of the row-by-row tables is parted by a page: its words stand on one page."""
    from chartc.sheets.document import Cell, Table, plain, walk

    squeezed_pages = [squeezed(text) for text in pages]
    rows = 0
    for block in walk(document.blocks):
        if not isinstance(block, Table):
            continue
        for row in block.rows:
            for cell in row:
                assert isinstance(cell, Cell)
                told = "".join(squeezed(plain(p)) for p in cell.parts if isinstance(p, tuple))
                if len(told) > 24:
                    assert any(told in text for text in squeezed_pages), told
                    rows += 1
    return rows


@pytest.fixture(scope="module")
def made() -> dict[str, tuple[Document, bytes]]:
    pytest.importorskip("typst")
    documents = {name: make() for name, make in SHEETS.items()}
    return {name: (document, document.pdf()) for name, document in documents.items()}


@pytest.mark.parametrize("name", SHEETS)
def test_tagged_titled_embedded(name: str, made: dict[str, tuple[Document, bytes]]) -> None:
    document, data = made[name]
    reader = pypdf.PdfReader(io.BytesIO(data))
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] is True or root["/MarkInfo"]["/Marked"] == True  # noqa: E712
    assert str(root["/Lang"]).startswith("en")
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert document.title in str(reader.metadata.title)
    xmp = root["/Metadata"].get_object().get_data().decode("utf-8")
    assert re.search(r"pdfuaid:part(?:>|=\")1", xmp)
    kinds = [kind for kind, _ in tags(root["/StructTreeRoot"])]
    assert "/H1" in kinds and "/P" in kinds
    for kind, element in tags(root["/StructTreeRoot"]):
        if kind == "/Figure":
            assert str(element["/Alt"]).strip()
    seen = list(fonts(reader))
    assert seen
    for font in seen:
        for below in font.get("/DescendantFonts", [font]):
            descriptor = below.get_object()["/FontDescriptor"].get_object()
            assert any(f"/FontFile{n}" in descriptor for n in ("", "2", "3")), "a font left out"


@pytest.mark.parametrize("name", SHEETS)
def test_pages_number_themselves_and_cut_no_row(
    name: str, made: dict[str, tuple[Document, bytes]]
) -> None:
    document, data = made[name]
    reader = pypdf.PdfReader(io.BytesIO(data))
    pages = [page.extract_text() for page in reader.pages]
    assert footers(pages) == [(n + 1, len(pages)) for n in range(len(pages))]
    for text in pages:
        assert squeezed(document.foot) in squeezed(text)
    width, height = document.options.page_mm
    for page in reader.pages:
        assert float(page.mediabox.width) == pytest.approx(width * 72 / 25.4, abs=0.1)
        assert float(page.mediabox.height) == pytest.approx(height * 72 / 25.4, abs=0.1)
    if name not in ("two", "report"):
        rows_whole(document, pages)


def test_charts_and_tables_are_told(made: dict[str, tuple[Document, bytes]]) -> None:
    _, data = made["class"]
    root = pypdf.PdfReader(io.BytesIO(data)).trailer["/Root"]
    found = list(tags(root["/StructTreeRoot"]))
    told = [str(element["/Alt"]) for kind, element in found if kind == "/Figure"]
    assert sum(text.startswith("Knitting chart for") for text in told) == 2  # lace and crown
    assert any(text == "the symbol for k2tog" for text in told)
    kinds = [kind for kind, _ in found]
    assert kinds.count("/Table") >= 4 and "/TH" in kinds and "/LI" in kinds


def test_words_only_has_no_figure_on_paper(made: dict[str, tuple[Document, bytes]]) -> None:
    _, data = made["words"]
    root = pypdf.PdfReader(io.BytesIO(data)).trailer["/Root"]
    kinds = {kind for kind, _ in tags(root["/StructTreeRoot"])}
    assert "/Figure" not in kinds and "/Table" not in kinds


def test_every_count_is_on_paper(made: dict[str, tuple[Document, bytes]]) -> None:
    _, data = made["class"]
    reader = pypdf.PdfReader(io.BytesIO(data))
    text = squeezed(" ".join(page.extract_text() for page in reader.pages))
    for part in parts_of(sample("lanternhead-hat")):
        for one in part.lines():
            a, b, c = (one.after[i][0].value for i in range(3))
            assert f"{a}({b},{c})" in text


def test_same_bytes_again() -> None:
    pytest.importorskip("typst")
    document = class_sheet(sample("cockle-fan"))
    assert document.pdf() == document.pdf()
    assert document.pdf("letter") != document.pdf()


def test_without_the_typesetter_it_is_said_plainly(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "typst", None)
    with pytest.raises(SheetProblem, match="print extra"):
        class_sheet(sample("cockle-fan")).pdf()


# ------------------------------------------------------------------ a real browser


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    found = chromium()
    if found is None:
        pytest.skip("no Chromium on this machine")
    api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    with api.sync_playwright() as play:
        try:
            opened = play.chromium.launch(
                executable_path=found, args=["--no-sandbox", "--disable-gpu"]
            )
        except api.Error as error:
            pytest.skip(f"Chromium does not start here: {str(error).splitlines()[0]}")
        yield opened
        opened.close()


@pytest.mark.parametrize("name", ["class", "large", "words", "two", "cue", "answers", "report"])
def test_printed_by_a_browser(name: str, browser: Any, tmp_path: Path) -> None:
    document = SHEETS[name]()
    path = tmp_path / "sheet.html"
    path.write_text(document.html(), encoding="utf-8")
    tab = browser.new_page()
    said: list[str] = []
    asked: list[str] = []
    tab.on("console", lambda message: said.append(message.text))
    tab.on("pageerror", lambda error: said.append(str(error)))
    tab.on("request", lambda request: asked.append(request.url))
    tab.goto(path.as_uri())
    # nothing runs off the side of the paper or out of its cell
    wide = tab.evaluate(
        "() => [...document.querySelectorAll('td > svg, figure > svg, td, th')].filter(e => "
        "e.scrollWidth > e.clientWidth + 2 && e.tagName !== 'svg' || "
        "e.getBoundingClientRect().right > document.body.getBoundingClientRect().right + 3)"
        ".map(e => e.outerHTML.slice(0, 200))"
    )
    data = tab.pdf(prefer_css_page_size=True, print_background=True, tagged=True)
    tab.close()
    assert not said, said
    assert asked == [path.as_uri()], "the page fetched something"
    assert not wide, wide
    reader = pypdf.PdfReader(io.BytesIO(data))
    pages = [page.extract_text() for page in reader.pages]
    assert footers(pages) == [(n + 1, len(pages)) for n in range(len(pages))]
    for text in pages:
        assert squeezed(document.foot) in squeezed(text)
    width, height = document.options.page_mm
    assert float(reader.pages[0].mediabox.width) == pytest.approx(width * 72 / 25.4, abs=1)
    assert float(reader.pages[0].mediabox.height) == pytest.approx(height * 72 / 25.4, abs=1)
    if name not in ("two", "report"):
        rows_whole(document, pages)
