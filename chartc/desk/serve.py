"""Opening the desk: a socket on this machine, the server, and the browser."""

from __future__ import annotations

import contextlib
import socket
import sys
import threading
import webbrowser
from pathlib import Path

import uvicorn

from chartc.desk.app import Desk, make_app
from chartc.desk.folder import Folder, Refused
from chartc.desk.keeping import Keeper


class CannotOpen(Exception):
    """The desk cannot be opened; the message says why."""


def desk_for(path: str | None, keeper_place: Path | None = None) -> Desk:
    """The desk on a file or folder. Raises CannotOpen."""
    place = Path(path) if path is not None else Path.cwd()
    first = ""
    if not place.exists():
        # A name that is not there yet is a pattern to be begun.
        if path is not None and place.suffix and place.parent.is_dir():
            first, place = place.name, place.parent
        else:
            raise CannotOpen(f"{path}: there is no such file or folder")
    elif not place.is_dir():
        first, place = place.resolve().name, place.resolve().parent
    try:
        folder = Folder(place)
    except OSError as error:
        raise CannotOpen(f"{path}: cannot be opened ({error.strerror})") from None
    if first and (folder.root / first).exists():
        try:
            folder.open(first)
        except Refused as refused:
            raise CannotOpen(str(refused)) from None
    return Desk(folder, first, Keeper(str(folder.root), keeper_place))


def listening(port: int) -> socket.socket:
    """A socket on the loopback address only. Raises CannotOpen."""
    if not 0 <= port <= 65535:
        raise CannotOpen(f"{port} is not a port; give a number up to 65535, or 0 for any")
    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if sys.platform != "win32":
            made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        made.bind(("127.0.0.1", port))
    except OSError as error:
        made.close()
        raise CannotOpen(
            f"port {port} cannot be used ({(error.strerror or 'unknown reason').lower()}); "
            "leave the port out and any free one is taken"
        ) from None
    return made


class _Server(uvicorn.Server):
    """A server that tells its address, and opens the browser, once it answers."""

    def __init__(self, config: uvicorn.Config, desk: Desk, base: str, open_browser: bool) -> None:
        super().__init__(config)
        self.desk = desk
        self.base = base
        self.open_browser = open_browser

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if not self.started:
            return
        # The key stands after "#", which a browser never sends; what the browser is started
        # with can be seen by others on the machine, so that is a word that works only once.
        print(f"The desk is open at {self.base}#key={self.desk.key}")
        print("Ctrl-C closes it.", flush=True)
        if self.open_browser:
            address = f"{self.base}#ticket={self.desk.ticket()}"
            threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()


    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        # What is still being worked out is let go first, so that closing takes no time.
        await self.desk.close()
        await super().shutdown(sockets)


def serve(path: str | None, *, port: int = 0, open_browser: bool = True) -> int:
    """Run the desk until it is told to stop. Raises CannotOpen."""
    desk = desk_for(path)
    with listening(port) as made:
        number = made.getsockname()[1]
        base = f"http://127.0.0.1:{number}/"
        config = uvicorn.Config(
            make_app(desk, number), log_level="error", access_log=False, ws="none",
            server_header=False, date_header=False, timeout_graceful_shutdown=2,
            limit_concurrency=200,
        )  # fmt: skip
        server = _Server(config, desk, base, open_browser)
        with contextlib.suppress(KeyboardInterrupt):
            server.run(sockets=[made])
    return 0
