"""Starting and closing the desk."""

from __future__ import annotations

import importlib.util
import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path
from typing import Any

import pytest

from chartc import desk as package
from tests.desk.conftest import ROOT, start_desk


def test_without_the_extra_it_says_what_to_do(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    assert package.main(None) == 2
    told = capsys.readouterr().err
    assert 'pip install "chartc[desk]"' in told and sys.executable in told
    assert "Traceback" not in told


def test_nothing_else_loads_the_desks_libraries() -> None:
    code = (
        "import sys, chartc.cli, chartc.desk, chartc.proof\n"
        "print([m for m in ('starlette', 'uvicorn', 'anyio') if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT,
    )  # fmt: skip
    assert done.stdout.strip() == "[]"


pytest.importorskip("starlette", reason="the extra desk is not installed")
pytest.importorskip("uvicorn", reason="the extra desk is not installed")


def test_what_cannot_be_opened(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "photo.jpg").write_bytes(b"\xff\xd8\xff")
    (folder / "odd.knit").write_bytes(b"\xff\0\xfe\0")
    for path, words in (("none", "no such"), ("photo.jpg", "only patterns"), ("odd.knit", "text")):
        assert package.main(str(folder / path), open_browser=False) == 2
        told = capsys.readouterr().err
        assert words in told and "Traceback" not in told
    assert package.main(str(folder), port=70_000, open_browser=False) == 2
    assert "port" in capsys.readouterr().err
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        assert package.main(str(folder), port=taken.getsockname()[1], open_browser=False) == 2
    assert "port" in capsys.readouterr().err


def call(base: str, name: str, given: Any, key: str = "") -> Any:
    asked = urllib.request.Request(
        f"{base}api/{name}", json.dumps(given).encode(),
        {"content-type": "application/json", "x-desk-key": key},
    )  # fmt: skip
    with urllib.request.urlopen(asked, timeout=30) as answer:
        return json.load(answer)


@pytest.mark.skipif(sys.platform == "win32", reason="the stand-in browser is a shell script")
def test_the_browser_is_started_with_a_word_that_works_once(
    folder: Path, state: Path, tmp_path: Path
) -> None:
    (folder / "cowl.knit").write_text("Cowl\n")
    seen = tmp_path / "seen"
    browser = tmp_path / "browser"
    browser.write_text(f'#!/bin/sh\necho "$1" > "{seen}.part" && mv "{seen}.part" "{seen}"\n')
    browser.chmod(0o755)
    process = subprocess.Popen(
        [sys.executable, "-c",
         f"import sys; from chartc.desk import main; sys.exit(main({str(folder)!r}))"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=state,
        env=dict(os.environ, BROWSER=f"{browser} %s", PYTHONPATH=str(ROOT),
                 XDG_STATE_HOME=str(state)),
    )  # fmt: skip
    try:
        until = time.monotonic() + 30
        while not seen.exists():
            assert time.monotonic() < until and process.poll() is None
            time.sleep(0.05)
        address = seen.read_text().strip()
        base, word = address.split("#ticket=")
        key = call(base, "enter", {"ticket": word})["key"]
        assert key not in address
        with pytest.raises(urllib.error.HTTPError):
            call(base, "enter", {"ticket": word})
        about = call(base, "about", {"page": "p-1"}, key)
        assert [one["path"] for one in about["files"]] == ["cowl.knit"]
        assert any(one["key"] == "svg" and not one["missing"] for one in about["exports"])

        # a proof is under way while it is closed: it closes at once, and says nothing
        process.send_signal(signal.SIGINT)
        assert process.wait(10) == 0
        assert process.stderr is not None and process.stderr.read() == ""
    finally:
        if process.poll() is None:
            process.kill()
        process.communicate()


def test_only_this_machine_is_answered(folder: Path, state: Path) -> None:
    desk = start_desk(folder, state)
    try:
        port = int(desk.base.rsplit(":", 1)[1].strip("/"))
        assert desk.base.startswith("http://127.0.0.1:")
        # the same port on this machine's other addresses is closed
        own = {one[4][0] for one in socket.getaddrinfo(socket.gethostname(), port, socket.AF_INET)}
        for address in own - {"127.0.0.1"}:
            with socket.socket() as probe:
                probe.settimeout(2)
                assert probe.connect_ex((address, port)) != 0
    finally:
        desk.stop()


def test_a_name_that_is_not_there_yet_is_begun(folder: Path, state: Path) -> None:
    desk = start_desk(folder / "new.knit", state)
    try:
        about = call(desk.base, "about", {"page": "p-1"}, desk.key)
        assert about["first"] == "new.knit" and about["files"] == []
        saved = call(
            desk.base, "save",
            {"page": "p-1", "path": "new.knit", "text": "Hat\n", "base": None}, desk.key,
        )  # fmt: skip
        assert (folder / saved["path"]).read_text() == "Hat\n"
    finally:
        desk.stop()
