"""What every request has to pass before the desk looks at it.

Only this machine, only this page, only with the key of this run; nothing too large. The page
itself may load nothing but its own files and run nothing but its own modules.
"""

from __future__ import annotations

import hmac
import json
from dataclasses import dataclass

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from chartc.desk.limits import MOST_BODY

KEY_HEADER = "x-desk-key"

POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self'",
        "connect-src 'self'",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'none'",
        "require-trusted-types-for 'script'",
        "trusted-types desk-chart",
    )
)

HEADERS = (
    ("content-security-policy", POLICY),
    ("x-content-type-options", "nosniff"),
    ("x-frame-options", "DENY"),
    ("referrer-policy", "no-referrer"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    ("cross-origin-embedder-policy", "require-corp"),
    ("permissions-policy", "camera=(), microphone=(), geolocation=(), payment=(), usb=()"),
    ("cache-control", "no-store"),
)


class TooLarge(Exception):
    """More is being sent than the desk takes; raised while the request is read."""


@dataclass
class Guard:
    """An ASGI layer in front of the desk.

    port    the port the desk answers on
    key     the key of this run; every request under /api/ must bring it, but for /api/enter
    """

    app: ASGIApp
    port: int
    key: str

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return  # no web sockets here
        headers = {name.decode("latin-1").lower(): value.decode("latin-1")
                   for name, value in scope["headers"]}  # fmt: skip
        problem = self._problem(scope, headers)
        if problem is not None:
            await self._refuse(send, *problem)
            return
        async def dressed(message: Message) -> None:
            if message["type"] == "http.response.start":
                own = [(n, v) for n, v in message.get("headers", []) if n != b"server"]
                own += [(n.encode(), v.encode()) for n, v in HEADERS]
                message = {**message, "headers": own}
            await send(message)

        taken = 0

        async def measured() -> Message:
            nonlocal taken
            message = await receive()
            if message["type"] == "http.request":
                taken += len(message.get("body", b""))
                if taken > MOST_BODY:
                    raise TooLarge
            return message

        await self.app(scope, measured, dressed)

    def _problem(self, scope: Scope, headers: dict[str, str]) -> tuple[int, str] | None:
        hosts = {f"{name}:{self.port}" for name in ("127.0.0.1", "localhost")}
        if sum(name == b"host" for name, _ in scope["headers"]) != 1 or (
            headers.get("host", "").lower() not in hosts
        ):
            return 421, "the desk answers only to this machine"
        origin = headers.get("origin")
        if origin is not None and origin.lower() != f"http://{headers['host'].lower()}":
            return 403, "another page has no business here"
        if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return 403, "another page has no business here"
        method = scope["method"]
        api = scope["path"].startswith("/api/")
        if method not in (("POST",) if api else ("GET", "HEAD")):
            return 405, "this is not done here"
        if headers.get("content-length", "0").isdecimal() and (
            int(headers.get("content-length", "0")) > MOST_BODY
        ):
            return 413, "this is too large for the desk"
        if api:
            kind = headers.get("content-type", "").split(";")[0].strip().lower()
            if kind != "application/json":
                return 415, "the desk takes JSON"
            given = headers.get(KEY_HEADER, "").encode("latin-1", "replace")
            if scope["path"] != "/api/enter" and not hmac.compare_digest(given, self.key.encode()):
                return 401, "this page was opened without the key of this run"
        return None

    async def _refuse(self, send: Send, status: int, why: str) -> None:
        body = json.dumps({"says": why}).encode()
        own = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())]
        await send(
            {
                "type": "http.response.start",
                "status": status,
                "headers": own + [(n.encode(), v.encode()) for n, v in HEADERS],
            }
        )
        await send({"type": "http.response.body", "body": body})
