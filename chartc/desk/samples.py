"""The samples that come with chartc, to begin a text of one's own from."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from chartc.source import CannotRead, load


@cache
def _folder() -> Path | None:
    """Beside the package in a checkout, inside it in an installed wheel."""
    package = Path(__file__).resolve().parent.parent
    for place in (package / "samples", package.parent / "samples"):
        if place.is_dir():
            return place
    return None


@cache
def _texts() -> dict[str, str]:
    folder = _folder()
    found: dict[str, str] = {}
    for file in sorted(folder.glob("*.knit")) if folder else ():
        try:
            found[file.stem] = load(file).text.replace("\r\n", "\n")
        except CannotRead:
            continue
    return found


def samples() -> list[dict[str, str]]:
    """The samples by name and title; `slip` marks those with a deliberate slip."""
    return [
        {
            "name": name,
            "title": next((line.strip() for line in text.splitlines() if line.strip()), name),
            "kind": "slip" if name.endswith("-slip") else "sound",
        }
        for name, text in _texts().items()
    ]


def sample_text(name: str) -> str | None:
    return _texts().get(name)
