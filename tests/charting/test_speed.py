"""Drawing costs a small multiple of what svgwrite needs for as many elements."""

from __future__ import annotations

from time import process_time

import svgwrite

from chartc.charting import draw, lay_out

from .fabrics import flat


def test_a_large_chart_draws_in_a_small_multiple_of_the_library_s_time() -> None:
    side = 120
    rows = ["[ k2tog yo p yo ssk ]" if n % 2 == 0 else f"p:{side}" for n in range(side)]
    grid = lay_out(flat(side, rows, times=side // 5))
    assert len(grid.rows) == grid.width == side

    def ours() -> float:
        start = process_time()
        draw(grid)
        return process_time() - start

    def library() -> float:
        start = process_time()
        drawing = svgwrite.Drawing(debug=False)
        for n in range(side * side):
            drawing.add(drawing.use("#a", insert=(str(n), "1")))
        drawing.tostring()
        return process_time() - start

    assert min(ours() for _ in range(3)) < 3 * min(library() for _ in range(3))
