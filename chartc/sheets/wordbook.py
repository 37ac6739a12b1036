"""The fixed words of the handouts: US or UK terms, lists, cautions, and the class's own size
set off in the lists of a pattern."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from chartc.proof import Proof, prove
from chartc.resources import grammar_folder
from chartc.sheets.document import Bit, Line
from chartc.sheets.options import SheetOptions, SheetProblem
from chartc.source import Source


@cache
def _data(name: str) -> dict[str, Any]:
    with (grammar_folder() / name).open("rb") as file:
        return tomllib.load(file)


def listed(items: Sequence[str], word: str = "and") -> str:
    """ "2", "2 and 4", "2, 4 and 6"."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {word} {items[-1]}"


def sts(count: int) -> str:
    return f"{count} st" if count == 1 else f"{count} sts"


def with_a(name: str) -> str:
    """The name of a stitch with "a" or "an", as it is spoken: "an ssk", "a yo"."""
    first = name[:1].lower()
    lone = re.match(r"[a-z]+", name.lower())
    spelled = lone is not None and not re.search(r"[aeiouy]", lone[0])
    vowel = first in "aeiou" or (spelled and first in "fhlmnrsx")
    return f"{'an' if vowel else 'a'} {name}"


# ------------------------------------------------------------------ US and UK


def in_usage(text: str, usage: str) -> str:
    """The text with the trade words of one usage; as it is for ""."""
    if not usage:
        return text
    pairs: dict[str, str] = _data("sheets/usage.toml")["pairs"]
    table: dict[str, str] = {}
    for us, uk in pairs.items():
        if usage == "uk":
            table.setdefault(us, uk)
        elif uk != "cast off" or us == "bind off":
            table.setdefault(uk, us)
    words = sorted(table, key=len, reverse=True)
    pattern = r"\b(" + "|".join(re.escape(word) for word in words) + r")\b"

    def swap(found: re.Match[str]) -> str:
        new = table[found[0].lower()]
        if found[0].isupper():
            return new.upper()
        return new[:1].upper() + new[1:] if found[0][:1].isupper() else new

    return re.sub(pattern, swap, text, flags=re.IGNORECASE)


def usage_of(proof: Proof, options: SheetOptions) -> str:
    """The usage asked for, or the one the text is written in."""
    if options.usage:
        return options.usage
    text = proof.source.plain.lower()
    uk = len(
        re.findall(r"\b(?:cast(?:ing)? off|tension|yfwd|yrn|yon|skpo|sk2po|stocking st)", text)
    )
    us = len(re.findall(r"\b(?:b(?:ind|ound) off|bo|gauge|skp|sk2p|stockinette)\b", text))
    return "uk" if uk > us else "us"


def in_terms(proof: Proof, options: SheetOptions) -> Proof:
    """The pattern with its rows in the usage asked for, proved anew; as it is when none is."""
    if not options.usage:
        return proof
    from chartc.wording.style import load_style
    from chartc.wording.tidy import tidy

    text = tidy(proof.source, load_style(options.usage), proof.pattern).text
    again = prove(Source(proof.source.name, text))
    if len(again.wrong) > len(proof.wrong):
        raise SheetProblem("this pattern cannot be put into the other terms without a slip")
    return again


# ------------------------------------------------------------------ sizes in lists


_LIST = re.compile(r"(\d+(?:[.]\d+)?)(\s*[(\[]\s*)([^()\[\]\n]*)([)\]])")


def marked(text: str, sizes: int, own: int | None) -> Line:
    """The text with the number of the class's own size set off in every list of all sizes."""
    if own is None or sizes < 2:
        return (Bit(text),)
    bits: list[Bit] = []
    at = 0
    for found in _LIST.finditer(text):
        pieces = re.split(r"(\s*[,:;]\s*)", found[3])
        values = pieces[::2]
        if len(values) != sizes - 1 or not all(re.fullmatch(r"[\d.]+", v.strip()) for v in values):
            continue
        bits.append(Bit(text[at : found.start()]))
        bits.append(Bit(found[1], "own" if own == 0 else ""))
        bits.append(Bit(found[2]))
        for i, piece in enumerate(pieces):
            is_own = i % 2 == 0 and own == i // 2 + 1
            bits.append(Bit(piece, "own" if is_own else ""))
        bits.append(Bit(found[4]))
        at = found.end()
    bits.append(Bit(text[at:]))
    return _joined(bits)


def _joined(bits: Sequence[Bit]) -> Line:
    out: list[Bit] = []
    for bit in bits:
        if not bit.text:
            continue
        if out and out[-1].style == bit.style == "" and not out[-1].count and not bit.count:
            out[-1] = replace(out[-1], text=out[-1].text + bit.text)
        else:
            out.append(bit)
    return tuple(out)


def own_only(text: str, sizes: int, own: int) -> str:
    """The text with every list of all sizes cut down to the one size."""

    def one(found: re.Match[str]) -> str:
        values = [found[1], *(v.strip() for v in re.split(r"[,:;]", found[3]))]
        fits = len(values) == sizes and all(re.fullmatch(r"[\d.]+", v) for v in values)
        return values[own] if fits else found[0]

    return _LIST.sub(one, text) if sizes > 1 else text


def aloud(text: str) -> str:
    """A passage between rows with its abbreviations spelled out for the ear."""
    words: dict[str, str] = _data("sheets/spoken.toml")["words"]
    names = sorted(words, key=len, reverse=True)
    pattern = r"(?<![\w-])(" + "|".join(re.escape(name) for name in names) + r")(?=\d|(?![\w-]))"

    def said(found: re.Match[str]) -> str:
        word = words[found[0].lower()]
        after = text[found.end() : found.end() + 1]
        word += " " if after.isdigit() else ""
        begins = re.search(r"(?:^|[.!?:]\s*)$", text[: found.start()]) is not None
        return word[:1].upper() + word[1:] if begins and found[0][:1].isupper() else word

    return re.sub(pattern, said, text, flags=re.IGNORECASE)


# ------------------------------------------------------------------ cautions


@dataclass(frozen=True, slots=True)
class Caution:
    key: str
    title: str
    text: str


def cautions(proof: Proof, kind: str, usage: str) -> tuple[Caution, ...]:
    """The cautions that belong on a sheet of this kind for this pattern."""
    data = _data("cautions.toml")
    text = " ".join([proof.source.plain, *proof.pattern.sizes]).lower()
    holds = {"always": True}
    for name, words in data["words"].items():
        pattern = r"(?<![\w-])(?:" + "|".join(re.escape(word) for word in words) + r")(?![\w-])"
        holds[name] = re.search(pattern, text) is not None
    gauge = "tension" if usage == "uk" else "gauge"
    return tuple(
        Caution(one["key"], one["title"], one["text"].replace("{gauge}", gauge))
        for one in data["caution"]
        if kind in one["sheets"] and all(holds[part] for part in one["when"].split("+"))
    )


def slip_words(kind: str) -> tuple[str, str]:
    """What a knitter's slip is called, and how it is put right."""
    entry = _data("sheets/slips.toml")[kind]
    return entry["said"], entry["mend"]


# ------------------------------------------------------------------ the foot of the page


def foot(proof: Proof, options: SheetOptions) -> str:
    """File name and version."""
    import hashlib

    from chartc import __version__

    name = re.split(r"[\\/]", proof.source.name)[-1]
    if name in ("-", ""):
        name = proof.pattern.title or "pattern"
    fact = proof.pattern.fact("version")
    version = options.version or (fact.value.strip() if fact is not None else "")
    # without a version of its own a text is known by a short sum of its letters
    mark = hashlib.sha256(proof.source.text.encode("utf-8")).hexdigest()[:6]
    told = f"version {version}" if version else f"text {mark}"
    return f"{name}, {told}, chartc {__version__}"
