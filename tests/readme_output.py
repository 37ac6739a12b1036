"""What the commands shown in the README print: `python tests/readme_output.py` writes it anew.

In a block marked `console` a line `$ chartc ...` is followed by what it prints. A line of dots
stands for lines left out: as many lines as stand before and after it are kept.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import tempfile
from collections.abc import Iterator
from pathlib import Path

from chartc import cli

ROOT = Path(__file__).resolve().parents[1]
README = ROOT / "README.md"
_BLOCK = re.compile(r"(?<=^```console\n)(?P<body>.*?)(?=^```$)", re.MULTILINE | re.DOTALL)
_COMMAND = re.compile(r"^\$ (?P<command>.*)\n(?P<output>(?:(?!\$ ).*\n)*)", re.MULTILINE)
_DOTS = re.compile(r"^ *\.\.\.\n", re.MULTILINE)


def shown() -> Iterator[tuple[str, str]]:
    """Each command of the README and what the README says that it prints."""
    for block in _BLOCK.finditer(README.read_text(encoding="utf-8")):
        for one in _COMMAND.finditer(block["body"]):
            yield one["command"], one["output"]


def printed(command: str) -> str:
    """What a command prints. What it writes to a file lands in a folder that goes away."""
    words = command.split()
    assert words[0] == "chartc", command
    here = Path.cwd()
    out = io.StringIO()
    with tempfile.TemporaryDirectory() as folder:
        if "-o" in words:
            place = words.index("-o") + 1
            words[place] = str(Path(folder) / words[place])
        os.chdir(ROOT)
        try:
            with contextlib.redirect_stdout(out):
                code = cli.main(words[1:])
        finally:
            os.chdir(here)
    assert code in (0, 1), f"{command}: exit code {code}"
    return out.getvalue()


def cut(output: str, like: str) -> str:
    """An output with as much left out as in `like`."""
    dots = _DOTS.search(like)
    if dots is None:
        return output
    lines = output.splitlines(keepends=True)
    first = like[: dots.start()].count("\n")
    last = like[dots.end() :].count("\n")
    if first + last >= len(lines):
        return output
    return "".join([*lines[:first], dots.group(), *lines[len(lines) - last :]])


def filled(text: str) -> str:
    """The README with every output as it is printed now."""

    def command(one: re.Match[str]) -> str:
        return f"$ {one['command']}\n{cut(printed(one['command']), one['output'])}"

    return _BLOCK.sub(lambda block: _COMMAND.sub(command, block["body"]), text)


if __name__ == "__main__":
    README.write_text(filled(README.read_text(encoding="utf-8")), encoding="utf-8")
