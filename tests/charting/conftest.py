"""Golden charts: `pytest tests/charting --update-golden` writes them anew."""

from __future__ import annotations

import html
import json
import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

GOLDEN = Path(__file__).resolve().parent.parent / "golden"
FAILURES = Path(__file__).resolve().parent.parent / ".failures"


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--update-golden", action="store_true", help="write the golden charts anew")


def pytest_configure(config: pytest.Config) -> None:
    if config.getoption("--update-golden", default=False) and os.environ.get("CI"):
        raise pytest.UsageError("--update-golden is refused where CI is set")


def spread(grid_json: str) -> str:
    """The grid's JSON with a line for each row, so that a difference shows where it is."""
    data = json.loads(grid_json)
    rows = ",\n".join(json.dumps(row, separators=(",", ":")) for row in data.pop("rows"))
    stitches = ",\n".join(
        json.dumps(stitch, separators=(",", ":")) for stitch in data.pop("stitches")
    )
    rest = json.dumps(data, separators=(",", ":"))[1:-1]
    return f'{{{rest},\n"stitches":[\n{stitches}\n],\n"rows":[\n{rows}\n]}}\n'


@pytest.fixture
def golden(request: pytest.FixtureRequest) -> Iterator[Callable[[str, str, str], None]]:
    """Compares a chart and its grid with the golden files of that name."""
    update = request.config.getoption("--update-golden", default=False)

    def compare(name: str, svg: str, grid_json: str) -> None:
        for kind, text in (("json", spread(grid_json)), ("svg", svg)):
            path = GOLDEN / f"{name}.{kind}"
            if update:
                path.parent.mkdir(exist_ok=True)
                fresh = path.with_suffix(f".{kind}.new")
                fresh.write_text(text, encoding="utf-8")
                fresh.replace(path)
                continue
            assert path.exists(), f"no golden file {path.name}: run with --update-golden"
            old = path.read_text(encoding="utf-8")
            if old != text:
                page = side_by_side(name, kind, old, text)
                pytest.fail(f"{path.name} differs; old and new side by side: {page}")

    yield compare


def side_by_side(name: str, kind: str, old: str, new: str) -> Path:
    """A page with the old and the new chart, or their grids, in a folder git ignores."""
    FAILURES.mkdir(exist_ok=True)
    for which, text in (("old", old), ("new", new)):
        (FAILURES / f"{name}-{which}.{kind}").write_text(text, encoding="utf-8")
    if kind == "svg":
        sides = [f'<img src="{name}-{which}.svg">' for which in ("old", "new")]
    else:
        sides = [f"<pre>{html.escape(text)}</pre>" for text in (old, new)]
    cells = "".join(f"<td valign=top>{side}</td>" for side in sides)
    page = FAILURES / f"{name}-{kind}.html"
    page.write_text(f"<!doctype html><meta charset=utf-8><table><tr>{cells}</tr></table>")
    return page
