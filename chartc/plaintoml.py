"""Reads the package's own data files, fast.

They are TOML of the plainest kind: one key a line, its value a literal string, a whole number
or a list of whole numbers. Such a file is read here some ten times faster than by tomllib;
any other is handed to tomllib.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

_LINE = re.compile(
    r"\[(?P<table>\w+)(?:\.(?P<inner>\w+))?\]"
    r"|(?P<key>\w+|'[^'\n]*') = (?:'(?P<text>[^'\n]*)'|(?P<number>\d+)|\[(?P<list>[\d, ]*)\])"
)


def read_toml(path: Path) -> dict[str, Any]:
    """The tables of a TOML file.

    Raises FileNotFoundError, or tomllib.TOMLDecodeError where the file is no TOML.
    """
    text = path.read_text(encoding="utf-8")
    found = _plain(text)
    if found is None:
        import tomllib

        return tomllib.loads(text)
    return found


def _plain(text: str) -> dict[str, Any] | None:
    """The tables of a file of the plainest kind; None when it holds anything else."""
    tables: dict[str, Any] = {}
    current = tables
    for line in text.split("\n"):
        if not line or line[0] == "#":
            continue
        parts = _LINE.fullmatch(line)
        if parts is None:
            return None
        table, inner, key, literal, number, numbers = parts.groups()
        if table is not None:
            parent = tables
            if inner is not None:
                parent = tables.setdefault(table, {})
            name = inner or table
            if not isinstance(parent, dict) or name in parent:
                return None
            current = parent[name] = {}
            continue
        if key[0] == "'":
            key = key[1:-1]
        if key in current:
            return None
        if literal is not None:
            current[key] = literal
        elif number is not None:
            current[key] = int(number)
        else:
            current[key] = [int(part) for part in numbers.split(",")]
    return tables
