"""Measures of the counting: `python tests/bench/bench_counting.py`.

Each line: what is counted, and the best of several runs in milliseconds.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from counting_kit import again, cast_on, free, num, piece, row, steps

from chartc.counting import count
from chartc.pattern import Instruction, Pattern, Row, Work

SIZES = ("S", "M", "L", "XL", "XXL")


def best(make: Callable[[], object], runs: int = 7) -> float:
    """The shortest of several runs, in milliseconds."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        make()
        times.append(time.perf_counter() - start)
    return min(times) * 1000


def lace(rows: int) -> list[Row]:
    """Lace over 10 + 1, every second row plain."""
    out = []
    for i in range(rows // 2):
        text = "k1 * yo k3 sk2p k3 yo k1 *" if i % 2 else "k1 * k1 yo k2 sk2p k2 yo k2 *"
        out.append(row(text, label=f"Row {2 * i + 1}"))
        out.append(row("p>", label=f"Row {2 * i + 2}"))
    return out


def sized_edges(rows: int) -> list[Row]:
    """Rows whose edges differ from size to size."""
    out = []
    for i in range(rows):
        edge = Work(steps("k")[0].stitch, num(1, 2, 3, 4, 5), num(1).span)  # type: ignore[union-attr]
        out.append(row((edge, *steps("k1 * k2tog yo *"), edge), label=f"Row {i + 1}"))
    return out


def raglan(rounds: int) -> list[Instruction]:
    setup = row("k10 pm k20 pm k10 pm k20 pm k>", in_round=True)
    shape = row("[ k>1m kfb sm kfb ]x4 k>", in_round=True)
    return [setup, again([shape, row("k>", in_round=True)], rounds)]


def main() -> None:
    plain = piece(cast_on(81, 91, 101, 111, 121), *lace(60), sizes=SIZES)
    sized = piece(cast_on(81, 91, 101, 111, 121), *sized_edges(60), sizes=SIZES)
    cases: list[tuple[str, Pattern]] = [
        ("60 rows x 5 sizes", plain),
        ("60 rows x 5 sizes, sized edges", sized),
        ("stitch pattern of 24 rows", free(*lace(24))),
        ("24 rows a million times", piece(cast_on(81), *lace(24), again(lace(24), 1_000_000))),
        ("raglan, 30 double rounds x 5", piece(cast_on(84, 94, 104, 114, 124), *raglan(30),
                                              sizes=SIZES, in_round=True)),
        ("10,000 rows", piece(cast_on(81), *lace(10_000))),
        ("100,000 rows", piece(cast_on(81), *lace(100_000))),
    ]  # fmt: skip
    for name, pattern in cases:
        runs = 7 if not name.endswith("0 rows") else 1
        print(f"{name:36} {best(lambda p=pattern: count(p), runs):10.2f} ms")  # type: ignore[misc]


if __name__ == "__main__":
    main()
