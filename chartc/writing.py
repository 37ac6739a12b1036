"""Files written whole or not at all: aside first, then renamed into place."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


class CannotWrite(Exception):
    """A file cannot be written; the message is in plain words."""


def write(path: str | Path, data: str | bytes) -> None:
    """Write text (UTF-8) or bytes to a file, so that a reader never sees half of it.

    Raises CannotWrite. A file that was there stays as it was until the new one is complete.
    """
    target = Path(path)
    name = str(path)
    content = data.encode("utf-8") if isinstance(data, str) else data
    if target.is_dir():
        raise CannotWrite(f"{name}: this is a folder; give the name of a file to write")
    target = target.resolve() if target.is_symlink() else target
    if target.exists() and not target.is_file():
        _straight(target, name, content)
        return
    mode = target.stat().st_mode & 0o777 if target.exists() else None
    if mode is not None and not os.access(target, os.W_OK):
        raise CannotWrite(f"{name}: this file may not be written by you")
    aside = ""
    try:
        number, aside = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name[:40]}.")
        with os.fdopen(number, "wb") as file:
            file.write(content)
        Path(aside).chmod(_usual_mode() if mode is None else mode)
        Path(aside).replace(target)
    except OSError as error:
        if aside:
            Path(aside).unlink(missing_ok=True)
        raise CannotWrite(f"{name}: cannot be written ({_reason(error)})") from None


def _straight(target: Path, name: str, content: bytes) -> None:
    """To a pipe or a device there is no writing aside."""
    try:
        with target.open("wb") as file:
            file.write(content)
    except OSError as error:
        raise CannotWrite(f"{name}: cannot be written ({_reason(error)})") from None


def _usual_mode() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _reason(error: OSError) -> str:
    if isinstance(error, FileNotFoundError | NotADirectoryError):
        return "there is no such folder"
    if isinstance(error, PermissionError):
        return "you may not write there"
    return (error.strerror or "unknown reason").lower()
