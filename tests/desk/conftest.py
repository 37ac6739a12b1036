"""A desk of its own for each test, and a browser for all of them."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]
CHROMIUM = Path("/usr/bin/chromium")
ARGUMENTS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip


@dataclass
class RunningDesk:
    """A desk in a process of its own."""

    process: subprocess.Popen[str]
    address: str
    folder: Path
    state: Path

    def open(self, name: str) -> str:
        """The address that opens a file of the folder."""
        return f"{self.address}&open={name}"

    @property
    def base(self) -> str:
        return self.address.split("#")[0]

    @property
    def key(self) -> str:
        return self.address.split("#key=")[1]

    def stop(self) -> None:
        if self.process.poll() is None:
            self.process.terminate()
            try:
                self.process.wait(10)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait()
        if self.process.stdout is not None:
            self.process.stdout.close()


def start_desk(path: Path, state: Path, port: int = 0) -> RunningDesk:
    environment = dict(os.environ, XDG_STATE_HOME=str(state), PYTHONPATH=str(ROOT))
    process = subprocess.Popen(
        [
            sys.executable, "-c",
            "import sys; from chartc.desk import main; "
            "sys.exit(main(sys.argv[1], port=int(sys.argv[2]), open_browser=False))",
            str(path), str(port),
        ],
        stdout=subprocess.PIPE, text=True, env=environment,
        cwd=state,
    )  # fmt: skip
    assert process.stdout is not None
    found = re.search(r"http://\S+", process.stdout.readline())
    assert found, "the desk did not print its address"
    folder = path if path.is_dir() else path.parent
    return RunningDesk(process, found[0], folder, state)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "saltmarsh"
    made.mkdir()
    return made


@pytest.fixture
def state(tmp_path: Path) -> Path:
    made = tmp_path / "state"
    made.mkdir()
    return made


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    if not CHROMIUM.exists():
        pytest.skip(f"no browser: {CHROMIUM} is not installed")
    playwright = pytest.importorskip(
        "playwright.sync_api", reason="playwright is not installed, so no browser can be driven"
    )
    with playwright.sync_playwright() as running, tempfile.TemporaryDirectory():
        opened = running.chromium.launch(
            executable_path=str(CHROMIUM), args=ARGUMENTS, chromium_sandbox=False
        )
        yield opened
        opened.close()
