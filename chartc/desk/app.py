"""The desk's answers to its page: an ASGI application.

Everything the page asks is a POST of JSON under /api/; all else is the page's own files.
A refusal is JSON as well, `says` holding the reason in plain words.
"""

from __future__ import annotations

import asyncio
import base64
import contextlib
import hmac
import secrets
import time
from collections.abc import AsyncIterator, Awaitable, Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp

from chartc.desk.folder import ChangedOnDisk, Document, Folder, Refused
from chartc.desk.guard import Guard, TooLarge
from chartc.desk.keeping import Keeper, Kept
from chartc.desk.limits import MOST_TEXT
from chartc.desk.samples import sample_text, samples
from chartc.desk.work import Bench, Stopped, Superseded, TooBusy, TookTooLong
from chartc.writing import CannotWrite

STATIC = Path(__file__).parent / "static"
TYPES = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
}
TICKET_TIME = 120.0  # seconds in which the browser must take up the ticket it was opened with
SEEN = 8.0  # seconds after which a page not heard of is taken to be closed


class Problem(Exception):
    """A refusal for the page: HTTP status, words, and anything it should know beside."""

    def __init__(self, status: int, says: str, **more: Any) -> None:
        super().__init__(says)
        self.status, self.says, self.more = status, says, more


@dataclass
class Desk:
    """What one run of the desk knows.

    first   path of the file to open at once, "" for none
    live, deep, slow   workers: for counts and charts, for findings, for files and comparisons
    tickets one-use words with which a page gets the key, and until when they hold
    seen    page -> (path it has open, when it was last heard of)
    """

    folder: Folder
    first: str
    keeper: Keeper
    key: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    tickets: dict[str, float] = field(default_factory=dict)
    seen: dict[str, tuple[str, float]] = field(default_factory=dict)
    live: Bench = field(default_factory=Bench)
    deep: Bench = field(default_factory=Bench)
    slow: Bench = field(default_factory=Bench)

    def ticket(self) -> str:
        made = secrets.token_urlsafe(18)
        self.tickets[made] = time.monotonic() + TICKET_TIME
        return made

    def others(self, page: str, path: str) -> int:
        """How many other pages have a file open."""
        now = time.monotonic()
        self.seen = {p: s for p, s in self.seen.items() if now - s[1] < SEEN}
        return sum(p != page and s[0] == path for p, s in self.seen.items()) if path else 0

    def is_open(self, page: str) -> bool:
        """Whether a page was heard of lately."""
        return page in self.seen and time.monotonic() - self.seen[page][1] < SEEN

    async def close(self) -> None:
        """Let go of all work and end the workers."""
        for bench in (self.live, self.deep, self.slow):
            await bench.close()

    # ---------------------------------------------------------- answers

    async def enter(self, given: dict[str, Any]) -> Any:
        ticket = _text(given, "ticket", 200)
        now = time.monotonic()
        for one, until in list(self.tickets.items()):
            if until < now:
                del self.tickets[one]
        held = next((t for t in self.tickets if hmac.compare_digest(t, ticket)), None)
        if held is None:
            raise Problem(401, "this address has been used up; take the one the terminal shows")
        del self.tickets[held]
        return {"key": self.key}

    async def about(self, given: dict[str, Any]) -> Any:
        from chartc import __version__
        from chartc.desk.exports import kinds
        from chartc.findings import REGISTRY

        page = _text(given, "page", 60)
        files = await run_in_threadpool(self.folder.files)
        kept = await run_in_threadpool(self.keeper.all)
        return {
            "version": __version__,
            "folder": self.folder.name,
            "first": self.first,
            "files": files,
            "samples": samples(),
            "exports": kinds(),
            "checks": len(REGISTRY),
            "mostText": MOST_TEXT,
            "kept": [
                _told(one) for one in kept if one.page != page and not self.is_open(one.page)
            ],
        }

    async def open(self, given: dict[str, Any]) -> Any:
        path, page = _text(given, "path", 1000), _text(given, "page", 60)
        found = await run_in_threadpool(self.folder.open, path)
        if not path.lower().endswith((".csv", ".tsv", ".svg")):
            self.seen[page] = (path, time.monotonic())
        kept = [
            one
            for one in await run_in_threadpool(self.keeper.all)
            if one.path == path and one.page != page and not self.is_open(one.page)
            and one.text != found.text
        ]  # fmt: skip
        return {
            **_document(found),
            "kept": [{**_told(one), "text": one.text} for one in kept[:1]],
            "others": self.others(page, path),
        }

    async def sample(self, given: dict[str, Any]) -> Any:
        text = sample_text(_text(given, "name", 200))
        if text is None:
            raise Problem(404, "there is no such sample")
        return {"text": text}

    async def save(self, given: dict[str, Any]) -> Any:
        path, text = _text(given, "path", 1000), _text(given, "text", MOST_TEXT)
        base = given.get("base")
        if base is not None and not isinstance(base, str):
            raise Problem(400, "the page asked for something that makes no sense")
        try:
            saved = await run_in_threadpool(self.folder.save, path, text, base)
        except ChangedOnDisk as changed:
            there = None if changed.now is None else _document(changed.now)
            raise Problem(409, "the file on disk is not the one that was opened",
                          disk=there) from None  # fmt: skip
        page, name = _text(given, "page", 60), _text(given, "name", 60)
        if name:
            await run_in_threadpool(self.keeper.forget, name)
        self.seen[page] = (saved.path, time.monotonic())
        return {"path": saved.path, "mark": saved.mark}

    async def keep(self, given: dict[str, Any]) -> Any:
        one = Kept(
            _text(given, "name", 60), self.keeper.opened, _text(given, "path", 1000),
            _text(given, "text", MOST_TEXT), _text(given, "base", 100), _text(given, "page", 60),
            time.time(), _text(given, "title", 200),
        )  # fmt: skip
        await run_in_threadpool(self.keeper.keep, one)
        return {}

    async def forget(self, given: dict[str, Any]) -> Any:
        await run_in_threadpool(self.keeper.forget, _text(given, "name", 60))
        return {}

    async def kept(self, given: dict[str, Any]) -> Any:
        name = _text(given, "name", 60)
        for one in await run_in_threadpool(self.keeper.all):
            if one.name == name:
                return {**_told(one), "text": one.text}
        raise Problem(404, "this text is no longer kept")

    async def watch(self, given: dict[str, Any]) -> Any:
        """How a file is now: its mark on disk (None: gone), other pages that have it open."""
        page, path = _text(given, "page", 60), _text(given, "path", 1000)
        if given.get("leaving") is True:
            self.seen.pop(page, None)
            return {}
        self.seen[page] = (path, time.monotonic())
        mark = await run_in_threadpool(self.folder.mark, path) if path else None
        return {"mark": mark, "others": self.others(page, path)}

    async def count(self, given: dict[str, Any]) -> Any:
        return await self._do(self.live, "count", given, {"text": _pattern(given)})

    async def proof(self, given: dict[str, Any]) -> Any:
        return await self._do(self.deep, "proof", given, {"text": _pattern(given)})

    async def chart(self, given: dict[str, Any]) -> Any:
        wish = given.get("wish")
        return await self._do(
            self.live, "chart", given,
            {"text": _pattern(given), "wish": wish if isinstance(wish, dict) else {}},
        )  # fmt: skip

    async def take(self, given: dict[str, Any]) -> Any:
        return await self._do(
            self.slow, "take", given,
            {"text": _pattern(given), "name": _text(given, "name", 300)},
        )  # fmt: skip

    async def compare(self, given: dict[str, Any]) -> Any:
        path = _text(given, "path", 1000)
        other = await run_in_threadpool(self.folder.open, path)
        return await self._do(
            self.slow, "compare", given,
            {"text": _pattern(given), "other": {"name": path, "text": other.text}},
        )  # fmt: skip

    async def export(self, given: dict[str, Any]) -> Any:
        wish = given.get("wish")
        return await self._do(
            self.slow, "export", given,
            {
                "text": _pattern(given), "kind": _text(given, "kind", 40),
                "wish": wish if isinstance(wish, dict) else {},
                "name": _text(given, "name", 300),
            },
        )  # fmt: skip

    async def _do(
        self, bench: Bench, kind: str, given: dict[str, Any], job: dict[str, Any]
    ) -> Any:
        page = _text(given, "page", 60)
        job["terms"] = "old" if given.get("terms") == "old" else ""
        try:
            reply = await bench.do(page, kind, job)
        except Superseded:
            raise Problem(409, "a newer text has come", newer=True) from None
        except TookTooLong:
            raise Problem(422, "this takes too long to work out", slow=True) from None
        except TooBusy:
            raise Problem(503, "the desk has too much to do; wait a moment") from None
        except Stopped:
            raise Problem(503, "the proof stopped halfway; it is tried again") from None
        if "refused" in reply:
            raise Problem(422, str(reply["refused"]))
        if "failed" in reply:
            raise Problem(
                500,
                "chartc itself has failed on this text; the words are safe, and the terminal "
                "shows what happened",
            )
        return reply["done"]


def _text(given: dict[str, Any], name: str, most: int) -> str:
    value = given.get(name, "")
    if not isinstance(value, str) or len(value) > most:
        raise Problem(413 if isinstance(value, str) else 400, f"{name}: too long or not words")
    return value


def _pattern(given: dict[str, Any]) -> str:
    """The text sent, damaged characters made visible."""
    text = _text(given, "text", MOST_TEXT)
    return text if text.isascii() else "".join(
        "\ufffd" if "\ud800" <= sign <= "\udfff" else sign for sign in text
    )  # fmt: skip


def _document(found: Document) -> dict[str, Any]:
    return {"path": found.path, "text": found.text, "mark": found.mark}


def _told(one: Kept) -> dict[str, Any]:
    return {"name": one.name, "path": one.path, "when": one.when, "title": one.title,
            "base": one.base}  # fmt: skip


def make_app(desk: Desk, port: int, *, warm: bool = True) -> ASGIApp:
    """The application for one desk that answers on a port."""
    answers: dict[str, Callable[[dict[str, Any]], Awaitable[Any]]] = {
        "enter": desk.enter, "about": desk.about, "open": desk.open, "sample": desk.sample,
        "save": desk.save, "keep": desk.keep, "forget": desk.forget, "kept": desk.kept,
        "watch": desk.watch, "count": desk.count, "proof": desk.proof, "chart": desk.chart, "take": desk.take,
        "compare": desk.compare, "export": desk.export,
    }  # fmt: skip

    async def api(request: Request) -> Response:
        work = answers.get(request.path_params["name"])
        try:
            if work is None:
                raise Problem(404, "the desk knows no such thing")
            try:
                given = await request.json()
            except TooLarge:
                raise Problem(413, "this is too large for the desk") from None
            except (ValueError, RecursionError):
                given = None
            if not isinstance(given, dict):
                raise Problem(400, "the page asked for something that makes no sense")
            done = await work(given)
        except Problem as problem:
            return JSONResponse({"says": problem.says, **problem.more}, problem.status)
        except (Refused, CannotWrite) as refused:
            return JSONResponse({"says": str(refused)}, 422)
        if isinstance(done, dict) and set(done) == {"name", "type", "data"}:
            return Response(
                base64.b64decode(done["data"]), media_type=done["type"],
                headers={"x-file-name": done["name"].encode("ascii", "replace").decode()},
            )  # fmt: skip
        return JSONResponse(done)

    async def page(request: Request) -> Response:
        name = request.path_params.get("name") or "index.html"
        file = STATIC / name
        if file.name != name or file.suffix not in TYPES or not file.is_file():
            return JSONResponse({"says": "there is no such page"}, 404)
        return FileResponse(file, headers={"content-type": TYPES[file.suffix]})

    @contextlib.asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        warming = asyncio.create_task(_warm(desk)) if warm else None
        try:
            yield
        finally:
            if warming is not None:
                warming.cancel()
                await asyncio.gather(warming, return_exceptions=True)
            await desk.close()

    inner = Starlette(
        routes=[
            Route("/api/{name}", api, methods=["POST"]),
            Route("/", page, methods=["GET"]),
            Route("/{name}", page, methods=["GET"]),
        ],
        lifespan=lifespan,
    )
    inner.router.redirect_slashes = False
    return Guard(inner, port, desk.key)


async def _warm(desk: Desk) -> None:
    # A worker that cannot be started is told of when the first text comes.
    with contextlib.suppress(Stopped, Superseded, TookTooLong, OSError):
        await asyncio.gather(desk.live.warm("count", "chart"), desk.deep.warm("proof"))
