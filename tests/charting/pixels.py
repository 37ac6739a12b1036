"""PNG pixels without a picture library, and how different two drawings look."""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from chartc.charting.strokes import Lettering, Ring, Stroke
from chartc.charting.svg import number, path_data
from chartc.charting.symbols import PEN, Symbol


@dataclass(frozen=True)
class Picture:
    width: int
    height: int
    grey: bytes  # 0 black .. 255 white, row by row

    def part(self, x: int, y: int, width: int, height: int) -> Picture:
        rows = [
            self.grey[(y + r) * self.width + x : (y + r) * self.width + x + width]
            for r in range(height)
        ]
        return Picture(width, height, b"".join(rows))

    def one_bit(self) -> Picture:
        return Picture(self.width, self.height, bytes(255 * (v > 127) for v in self.grey))

    def blurred(self, reach: int = 1) -> Picture:
        """A box blur, `reach` pixels to each side."""
        width, height = self.width, self.height
        out = bytearray()
        for y in range(height):
            for x in range(width):
                total = count = 0
                for yy in range(max(0, y - reach), min(height, y + reach + 1)):
                    row = self.grey[yy * width + max(0, x - reach) : yy * width + x + reach + 1]
                    row = row[: min(width, x + reach + 1) - max(0, x - reach)]
                    total += sum(row)
                    count += len(row)
                out.append(total // count)
        return Picture(width, height, bytes(out))


def decode_png(data: bytes) -> Picture:
    """8-bit RGBA or RGB pictures, not interlaced."""
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    at, packed, width, height, channels = 8, b"", 0, 0, 0
    while at < len(data):
        length = int.from_bytes(data[at : at + 4], "big")
        kind, body = data[at + 4 : at + 8], data[at + 8 : at + 8 + length]
        if kind == b"IHDR":
            width, height = int.from_bytes(body[:4], "big"), int.from_bytes(body[4:8], "big")
            assert body[8] == 8 and body[12] == 0
            channels = {0: 1, 2: 3, 4: 2, 6: 4}[body[9]]
        elif kind == b"IDAT":
            packed += body
        at += 12 + length
    raw = zlib.decompress(packed)
    stride = width * channels
    before = bytes(stride)
    grey = bytearray()
    for y in range(height):
        start = y * (stride + 1)
        way, line = raw[start], bytearray(raw[start + 1 : start + 1 + stride])
        for i in range(stride):
            a = line[i - channels] if i >= channels else 0
            b = before[i]
            c = before[i - channels] if i >= channels else 0
            if way == 1:
                line[i] = (line[i] + a) & 255
            elif way == 2:
                line[i] = (line[i] + b) & 255
            elif way == 3:
                line[i] = (line[i] + (a + b) // 2) & 255
            elif way == 4:
                p = a + b - c
                pa, pb, pc = abs(p - a), abs(p - b), abs(p - c)
                line[i] = (line[i] + (a if pa <= pb and pa <= pc else b if pb <= pc else c)) & 255
        before = bytes(line)
        grey += before[::channels]  # ink is black on white: one channel tells all
    return Picture(width, height, bytes(grey))


def symbols_svg(drawn: Sequence[Symbol], cell: float, pixels: int) -> str:
    """The symbols one below the other, each in the top left of a strip as wide as the widest."""
    wide = max(symbol.width for symbol in drawn)
    pen = cell / 5
    parts = []
    for place, symbol in enumerate(drawn):
        y = number(place * symbol.height)
        parts.append(f'<g transform="translate(0 {y})" fill="none" stroke="#000"')
        parts.append(' stroke-linecap="round" stroke-linejoin="round">')
        for mark in symbol.marks:
            if isinstance(mark, Lettering):
                x, y0 = number(mark.middle[0]), number(mark.middle[1])
                parts.append(
                    f'<text x="{x}" y="{y0}" font-size="{number(mark.size)}" fill="#000" '
                    f'stroke="none" text-anchor="middle" font-weight="bold" '
                    f'font-family="sans-serif">'
                    f"{mark.text}</text>"
                )
                continue
            pens = f'stroke-width="{number(PEN[mark.weight] * pen)}"'
            if mark.filled:
                pens = 'fill="#000" stroke="none"'
            if isinstance(mark, Stroke):
                parts.append(f'<path d="{path_data(mark.path)}" {pens}/>')
            elif isinstance(mark, Ring):
                x, y0 = number(mark.centre[0]), number(mark.centre[1])
                parts.append(f'<circle cx="{x}" cy="{y0}" r="{number(mark.radius)}" {pens}/>')
        parts.append("</g>")
    high = sum(symbol.height for symbol in drawn)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{round(wide / cell) * pixels}" '
        f'height="{len(drawn) * pixels}" viewBox="0 0 {number(wide)} {number(high)}">'
        f'<rect width="100%" height="100%" fill="#fff"/>{"".join(parts)}</svg>'
    )


def pictures(drawn: Sequence[Symbol], cell: float, pixels: int) -> list[Picture]:
    """Each symbol as pixels, `pixels` to a cell (30 for 5 mm at 150 dpi: 29.5 rounded up)."""
    import resvg_py

    data = resvg_py.svg_to_bytes(svg_string=symbols_svg(drawn, cell, pixels), dpi=96)
    sheet = decode_png(bytes(data))
    return [
        sheet.part(0, place * pixels, round(symbol.width / cell) * pixels, pixels)
        for place, symbol in enumerate(drawn)
    ]


def difference(a: Picture, b: Picture) -> float:
    """How much of one cell's area is ink in one and paper in the other, 0 to 1 and more."""
    if a.width != b.width:
        return float("inf")
    return sum(abs(x - y) for x, y in zip(a.grey, b.grey, strict=True)) / 255 / a.height**2


def closest(
    names: Sequence[str], shown: Sequence[Picture], most: int = 5
) -> list[tuple[float, str, str]]:
    """The pairs that look most alike, the closest first."""
    pairs = [
        (difference(a, b), one, other)
        for (one, a), (other, b) in combinations(zip(names, shown, strict=True), 2)
        if a.width == b.width
    ]
    return sorted(pairs)[:most]
