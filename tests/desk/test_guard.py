"""What the desk refuses, and what it tells browsers not to do.

Content Security Policy: W3C, Content Security Policy Level 3; Host and Origin: RFC 9110 and
RFC 6454, named from memory.
"""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

import pytest

pytest.importorskip("starlette", reason="the extra desk is not installed")
pytest.importorskip("httpx", reason="httpx is not installed")

import httpx

from chartc.desk.app import STATIC, Desk, make_app
from chartc.desk.folder import Folder
from chartc.desk.keeping import Keeper
from chartc.desk.limits import MOST_BODY, MOST_TEXT

PORT = 4711
BASE = f"http://127.0.0.1:{PORT}"


@pytest.fixture
def desk(folder: Path, state: Path) -> Desk:
    (folder / "cowl.knit").write_text("Cowl\n\nCast on 6 sts.\nRow 1: Knit.\n")
    return Desk(Folder(folder), "", Keeper(str(folder), state))


class Client:
    """Requests put straight to the application, one after the other."""

    def __init__(self, app: Any) -> None:
        self.app = app

    def request(self, method: str, path: str, **more: Any) -> httpx.Response:
        async def send() -> httpx.Response:
            transport = httpx.ASGITransport(self.app)
            async with httpx.AsyncClient(transport=transport, base_url=BASE) as client:
                return await client.request(method, path, **more)

        return asyncio.run(send())

    def get(self, path: str, **more: Any) -> httpx.Response:
        return self.request("GET", path, **more)

    def post(self, path: str, **more: Any) -> httpx.Response:
        return self.request("POST", path, **more)


@pytest.fixture
def client(desk: Desk) -> Client:
    return Client(make_app(desk, PORT, warm=False))


def ask(client: Client, desk: Desk, name: str, given: Any = None, **headers: str) -> Any:
    return client.post(
        f"/api/{name}", json=given if given is not None else {},
        headers={"x-desk-key": desk.key, **headers},
    )  # fmt: skip


@pytest.mark.parametrize(
    "host",
    ["evil.example", f"evil.example:{PORT}", "127.0.0.1", "127.0.0.1:80", f"127.0.0.2:{PORT}",
     f"localhost.evil.example:{PORT}", f"0.0.0.0:{PORT}", ""],
)  # fmt: skip
def test_another_host_is_refused(client: Client, desk: Desk, host: str) -> None:
    assert client.get("/", headers={"host": host}).status_code == 421
    assert ask(client, desk, "about", host=host).status_code == 421


def test_this_machine_by_name_is_answered(client: Client, desk: Desk) -> None:
    assert client.get("/", headers={"host": f"localhost:{PORT}"}).status_code == 200
    assert ask(client, desk, "about", origin=BASE).status_code == 200


@pytest.mark.parametrize(
    "origin",
    ["http://evil.example", "null", f"https://127.0.0.1:{PORT}", "http://127.0.0.1:4712",
     f"http://localhost:{PORT}"],
)  # fmt: skip
def test_another_origin_is_refused(client: Client, desk: Desk, origin: str) -> None:
    assert ask(client, desk, "about", origin=origin).status_code == 403


def test_a_request_from_another_site_is_refused(client: Client, desk: Desk) -> None:
    for site in ("cross-site", "same-site"):
        assert ask(client, desk, "about", **{"sec-fetch-site": site}).status_code == 403


def test_nothing_without_the_key(client: Client, desk: Desk) -> None:
    for name in ("about", "open", "save", "proof", "chart", "export", "keep", "watch", "nothing"):
        for key in ("", "x", desk.key + "x", desk.key[:-1], "\u00e9"):
            answer = client.post(
                f"/api/{name}", json={}, headers={"x-desk-key": key.encode("utf-8")}
            )
            assert answer.status_code == 401, name
        assert client.get(f"/api/{name}?key={desk.key}").status_code == 405


def test_forms_of_other_pages_do_not_get_in(client: Client, desk: Desk) -> None:
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data"):
        answer = client.post(
            "/api/about", content=b"{}", headers={"x-desk-key": desk.key, "content-type": kind}
        )
        assert answer.status_code == 415


def test_a_ticket_works_once(client: Client, desk: Desk) -> None:
    ticket = desk.ticket()
    assert client.post("/api/enter", json={"ticket": "guess"}).status_code == 401
    first = client.post("/api/enter", json={"ticket": ticket})
    assert first.json() == {"key": desk.key}
    assert client.post("/api/enter", json={"ticket": ticket}).status_code == 401


def test_too_large(client: Client, desk: Desk) -> None:
    head = {"x-desk-key": desk.key, "content-type": "application/json"}
    assert client.post("/api/proof", content=b" " * (MOST_BODY + 1), headers=head).status_code == 413

    async def pieces() -> Any:
        for _ in range(MOST_BODY // 100_000 + 2):
            yield b" " * 100_000

    # without a length told beforehand
    assert client.post("/api/proof", content=pieces(), headers=head).status_code == 413
    assert ask(client, desk, "proof", {"text": "x" * (MOST_TEXT + 1)}).status_code == 413


@pytest.mark.parametrize("body", [b"", b"[]", b"3", b"{", b"null", b"[" * 100_000, b"\xff"])
def test_nonsense_gets_a_plain_answer(client: Client, desk: Desk, body: bytes) -> None:
    answer = client.post(
        "/api/open", content=body,
        headers={"x-desk-key": desk.key, "content-type": "application/json"},
    )  # fmt: skip
    assert answer.status_code == 400
    assert "says" in answer.json()


@pytest.mark.parametrize(
    ("name", "given"),
    [("open", {"path": 3}), ("open", {"path": ["a"]}), ("save", {"path": "x.knit", "base": 3}),
     ("proof", {"text": None}), ("keep", {"name": {}}), ("export", {"kind": 1}),
     ("watch", {"path": {}})],
)  # fmt: skip
def test_odd_values_are_refused(client: Client, desk: Desk, name: str, given: Any) -> None:
    assert ask(client, desk, name, given).status_code == 400


def test_headers_of_every_answer(client: Client, desk: Desk) -> None:
    answers = [
        client.get("/"), client.get("/main.js"), client.get("/none"), ask(client, desk, "about"),
        client.get("/", headers={"host": "evil.example"}), client.post("/api/about"),
    ]  # fmt: skip
    for answer in answers:
        policy = dict(
            part.split(" ", 1) for part in answer.headers["content-security-policy"].split("; ")
        )
        assert policy["default-src"] == "'none'"
        for name in ("script-src", "style-src", "connect-src", "img-src"):
            assert policy[name] == "'self'", name
        assert policy["frame-ancestors"] == policy["base-uri"] == "'none'"
        assert "unsafe" not in answer.headers["content-security-policy"]
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["referrer-policy"] == "no-referrer"
        assert answer.headers["cache-control"] == "no-store"
        assert "access-control-allow-origin" not in answer.headers


@pytest.mark.parametrize(
    "path", ["/../app.py", "/%2e%2e/app.py", "/static/main.js", "/app.py", "/.x", "/main.js/",
             "/..%2fapp.py", "/docs", "/openapi.json"]
)  # fmt: skip
def test_only_the_pages_own_files(client: Client, path: str) -> None:
    assert client.get(path).status_code == 404


def test_the_page_asks_nothing_of_any_other_machine() -> None:
    """No address but that of the SVG name space stands in any of the page's own files."""
    import re

    for file in STATIC.iterdir():
        text = file.read_text("utf-8")
        found = set(re.findall(r"(?:https?:)?//[a-z0-9.-]+\.[a-z]{2,}[^\s\"'<>]*", text))
        assert found <= {"http://www.w3.org/2000/svg"}, (file.name, found)
        if file.suffix == ".html":
            assert not re.search(r"\son[a-z]+=|\sstyle=|javascript:", text)
            assert re.findall(r"<script(?![^>]*\ssrc=)", text) == []


def test_no_script_is_made_from_text() -> None:
    """The modules never hand words to a parser, but for the drawing through its policy."""
    for file in STATIC.glob("*.js"):
        text = file.read_text("utf-8")
        for word in ("innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval(",
                     "new Function", "srcdoc"):  # fmt: skip
            assert word not in text, (file.name, word)
        assert text.count("parseFromString") == (1 if file.name == "chart.js" else 0)
