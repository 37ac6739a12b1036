"""Unsaved texts, kept aside so that a crash or a closed page loses nothing.

They lie in the user's own folder for such things, not beside the patterns, one small file each,
readable by the user alone.
"""

from __future__ import annotations

import json
import os
import re
import sys
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from chartc.desk.limits import MOST_FILE, MOST_KEPT, MOST_TEXT
from chartc.writing import CannotWrite, write

_NAME = re.compile(r"[a-z0-9-]{6,60}")


@dataclass(frozen=True)
class Kept:
    """An unsaved text.

    name    of the page's document, made up by the page
    place   the opened folder and the path in it; path "" for a text never saved
    base    mark of the file the text was made from, "" for none
    page    the page that keeps it
    when    seconds since 1970
    """

    name: str
    folder: str
    path: str
    text: str
    base: str
    page: str
    when: float
    title: str = ""


def state_folder() -> Path:
    """Where programs keep such things for this user."""
    home = Path.home()
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA", home / "AppData" / "Local")) / "chartc" / "desk"
    if sys.platform == "darwin":
        return home / "Library" / "Application Support" / "chartc" / "desk"
    given = os.environ.get("XDG_STATE_HOME", "")
    base = Path(given) if given.startswith("/") else home / ".local" / "state"
    return base / "chartc" / "desk"


class Keeper:
    """The unsaved texts of one opened folder."""

    def __init__(self, opened: str, place: Path | None = None) -> None:
        self.opened = opened
        self.place = place or state_folder()

    def _file(self, name: str) -> Path:
        if not _NAME.fullmatch(name):
            raise CannotWrite("this page has no proper name for its text")
        return self.place / f"{name}.json"

    def keep(self, one: Kept) -> None:
        """Keep a text, in place of the one kept under its name. Raises CannotWrite."""
        file = self._file(one.name)
        if len(one.text) > MOST_TEXT:
            raise CannotWrite("this text is too long to be kept aside")
        try:
            self.place.mkdir(parents=True, exist_ok=True)
            self.place.chmod(0o700)
        except OSError as error:
            raise CannotWrite(f"{self.place}: cannot be made ({error.strerror})") from None
        if not file.exists():
            self._thin_out()
        write(file, json.dumps(asdict(one)))
        file.chmod(0o600)

    def forget(self, name: str) -> None:
        """The text is saved, or not wanted any more."""
        self._file(name).unlink(missing_ok=True)

    def all(self) -> list[Kept]:
        """What is kept for this folder, the newest first."""
        found = []
        for file in self._files():
            one = self._load(file)
            if one is not None and one.folder == self.opened:
                found.append(one)
        return sorted(found, key=lambda one: -one.when)

    def _files(self) -> list[Path]:
        try:
            return sorted(self.place.glob("*.json"))
        except OSError:
            return []

    def _load(self, file: Path) -> Kept | None:
        """A kept text; None for a file that is damaged or not one of ours."""
        try:
            if file.stat().st_size > 4 * MOST_FILE:
                return None
            data: dict[str, Any] = json.loads(file.read_text("utf-8"))
            return Kept(**data)
        except (OSError, ValueError, TypeError):
            return None

    def _thin_out(self) -> None:
        """Keep the newest only, of all folders."""
        files = self._files()
        if len(files) < MOST_KEPT:
            return
        files.sort(key=lambda file: file.stat().st_mtime)
        for file in files[: len(files) - MOST_KEPT + 1]:
            file.unlink(missing_ok=True)
