"""The other things of a materials list."""

from __future__ import annotations

import re
from dataclasses import dataclass

from chartc.facts.needles import parse_needles
from chartc.facts.words import WORDS, plain_lines, shape_of
from chartc.facts.yarn import parse_yarns
from chartc.handbook import notions
from chartc.measures import read_number
from chartc.source import Span


@dataclass(frozen=True, slots=True)
class NotionFact:
    """A thing of the materials list. `key` is its name in grammar/materials.toml, "" when it
    is none of those; `count` None when no number is printed."""

    name: str
    key: str
    count: int | None
    span: Span


_NOTION_COUNT = shape_of(
    rf"\s*(?:(?P<count>[0-9]{{1,4}}|(?:{WORDS})\b)\s*(?:x\s+)?|(?P<one>an?\b)\s*)?"
    r"(?P<some>(?:(?:large|small|optional|set|pair|some|several|few|approx\.?)\s+(?:of\s+)?)*)"
)


def parse_notions(text: str) -> tuple[NotionFact, ...] | None:
    """The things of a list: 'stitch markers, 4 stitch holders, cable needle'. None when the
    list is empty."""
    plain = plain_lines(text)
    pieces: list[tuple[int, int, bool]] = []
    depth, start, instead = 0, 0, False
    for found in re.finditer(r"[()\[\]]|[,;\n]|\s(?:and|&|or)\s|(?<!\bno)\.(?=\s|$)", plain, re.I):
        mark = found[0]
        if mark in "([":
            depth += 1
        elif mark in ")]":
            depth = max(0, depth - 1)
        elif depth == 0:
            pieces.append((start, found.start(), instead))
            start = found.end()
            instead = mark.strip().casefold() == "or"
    pieces.append((start, len(plain), instead))
    listed = []
    for begin, end, otherwise in pieces:
        fact = _notion(text, plain, begin, end)
        if fact is None:
            continue
        # "3 mm or smaller" is no thing; needles and yarn of a whole materials line stand elsewhere
        if fact.key or not (otherwise or _of_another_list(fact.name)):
            listed.append(fact)
    return tuple(listed) or None


def _of_another_list(name: str) -> bool:
    return parse_needles(name) is not None or bool(parse_yarns(name))


def _notion(text: str, plain: str, begin: int, end: int) -> NotionFact | None:
    while begin < end and plain[begin] in " \t.:-\u2022*":
        begin += 1
    while end > begin and plain[end - 1] in " \t.:-":
        end -= 1
    if begin >= end or not re.search(r"[a-z]", plain[begin:end], re.I):
        return None
    head = _NOTION_COUNT.match(plain, begin, end)
    count = None
    name_at = begin
    if head is not None:
        name_at = head.end()
        if head["count"]:
            count = int(read_number(head["count"]))
        elif head["one"] and not head["some"]:
            count = 1
    if re.fullmatch(r"(?:none|nil|n/?a|nothing)", plain[begin:end], re.I):
        return None
    name = re.sub(r"\s*[(\[].*$", "", plain[name_at:end]).strip()
    return NotionFact(text[begin:end], _notion_key(name), count, Span(begin, end))


def _notion_key(name: str) -> str:
    """The notion of that name, singular or plural: the longest printed name that ends the
    words or stands first in them ("stitch markers in two colours")."""
    words = re.sub(r"[\s\-]+", " ", name.casefold()).strip()
    best: tuple[int, str] = (0, "")
    for notion in notions():
        for printed in notion.names:
            shape = re.escape(re.sub(r"[\s\-]+", " ", printed))
            if re.search(rf"(?<![a-z]){shape}(?:s|es)?(?![a-z])", words) and len(printed) > best[0]:
                best = (len(printed), notion.key)
    return best[1]
