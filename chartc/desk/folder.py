"""The opened folder: what is in it, reading and writing its files, and nothing outside it."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from chartc.desk.limits import MOST_DEEP, MOST_FILE, MOST_LISTED
from chartc.source import CannotRead, decode
from chartc.writing import CannotWrite, write

WORDS = (".knit", ".txt", ".md")
CHARTS = (".csv", ".tsv", ".svg")


class Refused(Exception):
    """Not done; the message says why in plain words."""


class ChangedOnDisk(Exception):
    """The file is not the one that was opened; `now` is what it holds, None when it has gone."""

    def __init__(self, now: Document | None) -> None:
        super().__init__("changed on disk")
        self.now = now


@dataclass(frozen=True)
class Document:
    """A file as the page has it: line ends are "\\n"; `mark` identifies its bytes."""

    path: str
    text: str
    mark: str
    encoding: str = "utf-8"
    bom: bytes = b""
    line_end: str = "\n"

    def bytes_of(self, text: str) -> bytes:
        """A text the way this file is written: its encoding, byte order mark and line ends."""
        return self.bom + text.replace("\n", self.line_end).encode(self.encoding, "strict")


def mark_of(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def plain_line_ends(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n")


def document(path: str, data: bytes) -> Document:
    """The bytes of a file as a document. Raises CannotRead."""
    text = decode(data, PurePosixPath(path).name)
    bom, encoding = b"", "utf-8"
    for sign, name in (
        (b"\xef\xbb\xbf", "utf-8"),
        (b"\xff\xfe", "utf-16-le"),
        (b"\xfe\xff", "utf-16-be"),
    ):
        if data.startswith(sign):
            bom, encoding = sign, name
    windows = text.count("\r\n")
    line_end = "\r\n" if windows and windows * 2 >= text.count("\n") else "\n"
    return Document(path, plain_line_ends(text), mark_of(data), encoding, bom, line_end)


class Folder:
    """A folder; paths into it are relative, with "/" between their parts."""

    def __init__(self, root: Path) -> None:
        self.root = root.resolve(strict=True)

    @property
    def name(self) -> str:
        return self.root.name or str(self.root)

    def inside(self, path: str, *, new: bool = False) -> Path:
        """The file meant, all links followed. Raises Refused for anything outside."""
        parts = PurePosixPath(path).parts
        odd = (
            not path
            or len(path) > 1000
            or "\\" in path
            or any(ord(sign) < 32 for sign in path)
            or path.startswith("/")
            or any(part in ("..", "/") or part.startswith(".") or ":" in part for part in parts)
        )
        if odd or not parts:
            raise Refused(f"“{path[:80]}” is not a name of a file in this folder")
        try:
            found = self.root.joinpath(*parts).resolve(strict=not new)
        except (OSError, RuntimeError):
            raise Refused(f"{path}: there is no such file") from None
        if not found.is_relative_to(self.root):
            raise Refused(f"{path}: this leads out of the opened folder")
        if new and not found.parent.is_dir():
            raise Refused(f"{path}: there is no such folder")
        if found.exists() and not found.is_file():
            raise Refused(f"{path}: this is not a file")
        return found

    def files(self) -> list[dict[str, str]]:
        """Patterns and charts in the folder, sorted by path: {path, kind}."""
        found: list[dict[str, str]] = []
        for folder, names, files in os.walk(self.root):
            deep = len(Path(folder).relative_to(self.root).parts)
            names[:] = sorted(
                n for n in names if not n.startswith((".", "__")) and deep < MOST_DEEP
            )
            for name in sorted(files):
                ending = Path(name).suffix.lower()
                if name.startswith(".") or ending not in WORDS + CHARTS:
                    continue
                path = Path(folder, name).relative_to(self.root).as_posix()
                found.append({"path": path, "kind": "words" if ending in WORDS else "chart"})
                if len(found) >= MOST_LISTED:
                    return found
        return sorted(found, key=lambda one: (one["path"].count("/"), one["path"].lower()))

    def open(self, path: str) -> Document:
        """A file of the folder. Raises Refused."""
        found = self.inside(path)
        if found.suffix.lower() not in WORDS + CHARTS:
            raise Refused(f"{path}: only patterns ({', '.join(WORDS)}) and charts are opened here")
        return self._read(path, found)

    def _read(self, path: str, found: Path) -> Document:
        try:
            with found.open("rb") as file:
                data = file.read(MOST_FILE + 1)
        except OSError as error:
            why = "may not be read by you" if isinstance(error, PermissionError) else "is not there"
            raise Refused(f"{path}: this file {why}") from None
        if len(data) > MOST_FILE:
            raise Refused(f"{path}: this file is too large for the desk")
        try:
            return document(path, data)
        except CannotRead as error:
            raise Refused(str(error)) from None

    def mark(self, path: str) -> str | None:
        """The mark of the file as it is on disk now; None when it has gone."""
        try:
            return self.open(path).mark
        except Refused:
            return None

    def save(self, path: str, text: str, base: str | None) -> Document:
        """Write a text aside and rename it into place.

        base    mark of the file the text was made from; None for a file that is new

        Raises ChangedOnDisk when the file on disk is another one, and Refused.
        """
        if not PurePosixPath(path).suffix:
            path += ".knit"
        if PurePosixPath(path).suffix.lower() not in WORDS:
            raise Refused(f"{path}: a pattern is saved as {', '.join(WORDS[:-1])} or {WORDS[-1]}")
        if "\0" in text:
            raise Refused("the text holds a character that no text file may hold")
        found = self.inside(path, new=True)
        there = self._read(path, found) if found.exists() else None
        if (there.mark if there else None) != base:
            raise ChangedOnDisk(there)
        like = there or Document(path, "", "")
        try:
            data = like.bytes_of(plain_line_ends(text))
        except UnicodeEncodeError:
            raise Refused("the text holds a damaged character that cannot be saved") from None
        try:
            write(found, data)
        except CannotWrite as error:
            raise Refused(str(error).replace(str(found), path)) from None
        return document(path, data)
