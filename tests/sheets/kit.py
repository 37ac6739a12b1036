"""What the tests of the handouts share: proofs of the samples, pages read back, a browser."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

from chartc.proof import Proof, prove
from chartc.source import Source, load

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "samples"
EXPECTED = ROOT / "tests" / "expected"

# HTML living standard, 13.1.2 Elements: void elements (from memory)
VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source",
        "track", "wbr"}  # fmt: skip


@cache
def sample(name: str) -> Proof:
    """The proof of a sample, under the name a person would give."""
    return prove(Source(f"{name}.knit", load(SAMPLES / f"{name}.knit").text))


@cache
def sample_names() -> tuple[str, ...]:
    return tuple(sorted(path.stem for path in SAMPLES.glob("*.knit")))


@cache
def sound_samples() -> tuple[str, ...]:
    """Samples meant to be sound that the proof finds sound."""
    return tuple(
        name for name in sample_names() if not name.endswith("-slip") and sample(name).sound
    )


def of(text: str, name: str = "own.knit") -> Proof:
    return prove(Source(name, text))


def expected(name: str) -> dict[str, Any]:
    """The counts of a sample as worked out by hand beside it."""
    data: dict[str, Any] = json.loads((EXPECTED / f"{name}.json").read_text(encoding="utf-8"))
    return data


@dataclass
class Node:
    """An element of a page."""

    tag: str
    attrs: dict[str, str]
    children: list[Node | str] = field(default_factory=list)

    def walk(self) -> Iterator[Node]:
        yield self
        for child in self.children:
            if isinstance(child, Node):
                yield from child.walk()

    def all(self, tag: str) -> list[Node]:
        return [node for node in self.walk() if node.tag == tag]

    @property
    def text(self) -> str:
        return "".join(c if isinstance(c, str) else c.text for c in self.children)


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root = Node("", {})
        self.open = [self.root]
        self.troubles: list[str] = []
        self.doctype = ""

    def handle_decl(self, decl: str) -> None:
        self.doctype = decl

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        if len(names) != len(set(names)):
            self.troubles.append(f"<{tag}> has an attribute twice")
        node = Node(tag, {name: value or "" for name, value in attrs})
        self.open[-1].children.append(node)
        if tag not in VOID:
            self.open.append(node)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.open[-1].children.append(Node(tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        if self.open[-1].tag != tag:
            self.troubles.append(f"</{tag}> closes <{self.open[-1].tag}>")
            return
        self.open.pop()

    def handle_data(self, data: str) -> None:
        self.open[-1].children.append(data)


def page(html: str) -> Node:
    """The page as a tree. Fails on a tag that is not closed where it was opened."""
    reader = _Reader()
    reader.feed(html)
    reader.close()
    assert not reader.troubles, reader.troubles
    assert len(reader.open) == 1, f"not closed: {[node.tag for node in reader.open[1:]]}"
    assert reader.doctype.lower() == "doctype html"
    return reader.root


def squeezed(text: str) -> str:
    """Without any space: how text is compared across lines and pages."""
    return re.sub(r"\s+", "", text)


def chromium() -> str | None:
    return next((p for p in map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))
                 if p), None)  # fmt: skip
