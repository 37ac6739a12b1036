"""Charts as PNG and PDF. Needs the extra `print`; loaded only when something is printed."""

from __future__ import annotations

import struct
import tempfile
import zlib
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

from chartc.charting.chart import Chart

_MM_PER_INCH = 25.4
_MOST_PIXELS = 400_000_000


class CannotPrint(RuntimeError):
    """The chart cannot be printed here; the message says in plain words what is missing."""


def to_png(svg: str, dpi: float = 300) -> bytes:
    """A chart's SVG as a PNG picture of that many dots per inch, which the file states.

    Raises CannotPrint when the extra `print` is not installed, when the picture would be too
    large, or when this machine has no typeface for the lettering.
    """
    if not 10 <= dpi <= 4800:
        raise CannotPrint("the resolution must lie between 10 and 4800 dots per inch")
    width, height = _size_mm(svg)
    pixels = (width / _MM_PER_INCH * dpi) * (height / _MM_PER_INCH * dpi)
    if pixels > _MOST_PIXELS:
        raise CannotPrint(
            f"at {dpi:g} dots per inch this chart would be a picture of "
            f"{pixels / 1e6:.0f} million dots; ask for fewer dots, or for pages"
        )
    if not _has_typeface():
        raise CannotPrint(
            "this machine has no typeface to letter the picture with; install one "
            "(any plain sans-serif) and try again"
        )
    return _with_dpi(_render(svg, dpi), dpi)


def _render(svg: str, dpi: float) -> bytes:
    try:
        import resvg_py
    except ImportError:
        raise CannotPrint(_missing("PNG pictures")) from None
    return bytes(resvg_py.svg_to_bytes(svg_string=svg, dpi=dpi, background="#ffffff"))


def _missing(what: str) -> str:
    return f'{what} need the print extra: install it with  pip install "chartc[print]"'


@cache
def _has_typeface() -> bool:
    """Whether a letter leaves any ink."""
    pictures = [
        _render(
            '<svg xmlns="http://www.w3.org/2000/svg" width="20" height="20">'
            f'<text x="2" y="16" font-size="16" font-family="sans-serif">{letter}</text></svg>',
            96,
        )
        for letter in ("M", "")
    ]
    return pictures[0] != pictures[1]


def _size_mm(svg: str) -> tuple[float, float]:
    root = ElementTree.fromstring(svg)
    return tuple(float(root.get(name, "0mm").removesuffix("mm")) for name in ("width", "height"))  # type: ignore[return-value]


def _with_dpi(png: bytes, dpi: float) -> bytes:
    """The picture with a pHYs chunk, so that it opens at its true size (PNG specification,
    W3C Recommendation, third edition, section 11.3.4.3: pixels per metre)."""
    per_metre = round(dpi / _MM_PER_INCH * 1000)
    body = struct.pack(">IIB", per_metre, per_metre, 1)
    crc = struct.pack(">I", zlib.crc32(b"pHYs" + body))
    chunk = struct.pack(">I", len(body)) + b"pHYs" + body + crc
    header = 8 + 4 + 4 + 13 + 4  # the signature and the IHDR chunk
    return png[:header] + chunk + png[header:]


def to_pdf(chart: Chart, paper: str = "a4") -> bytes:
    """A chart as a PDF on A4 ("a4") or Letter ("letter"): vector drawing at its true size,
    fonts embedded, tagged for assistive technology (PDF/UA-1), each page with alternative
    text; the rows in words stand in the alternative text of the page that shows them.

    Raises CannotPrint when the extra `print` is not installed or the paper is not known, and
    TooWide when a cell does not fit the paper.
    """
    try:
        pages = chart.pages(paper)
    except KeyError:
        raise CannotPrint(f'no paper called "{paper}"; choose a4 or letter') from None
    return pages_to_pdf(pages, chart.title or "Knitting chart")


def pages_to_pdf(pages: Sequence[str], title: str) -> bytes:
    """Page-sized SVG files as one PDF. The alternative text of each is taken from its title,
    description and titled rows."""
    try:
        import typst
    except ImportError:
        raise CannotPrint(_missing("PDF files")) from None
    with tempfile.TemporaryDirectory(prefix="chartc-") as name:
        folder = Path(name)
        source = [
            f"#set document(title: {_quoted(title)}, date: none)",
            '#set text(lang: "en")',
        ]
        for place, page in enumerate(pages):
            file = f"page-{place + 1}.svg"
            (folder / file).write_text(page, encoding="utf-8")
            width, height = _size_mm(page)
            source.append(
                f"#page(width: {width}mm, height: {height}mm, margin: 0mm, "
                f"image({_quoted(file)}, width: {width}mm, height: {height}mm, "
                f"alt: {_quoted(_alternative(page))}))"
            )
        main = folder / "main.typ"
        main.write_text("\n".join(source), encoding="utf-8")
        made = typst.compile(str(main), root=str(folder), format="pdf", pdf_standards=["ua-1"])
    if not isinstance(made, bytes):
        raise CannotPrint("the PDF could not be made")
    return made


def _quoted(text: str) -> str:
    """A string literal of the typesetter."""
    safe = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ")
    return f'"{safe}"'


def _alternative(page: str) -> str:
    """The description of a page and its rows in words, in the order they are worked."""
    root = ElementTree.fromstring(page)
    space = "{http://www.w3.org/2000/svg}"
    desc = root.findtext(f"{space}desc", "")
    rows = [
        title.text or ""
        for group in root.iter(f"{space}g")
        if "-row-" in group.get("id", "")
        for title in group.findall(f"{space}title")
    ]
    return " ".join([desc, *rows]).strip()
