"""A stitch, worked a number of times, in the words of a house style.

Every name given here is one that the reader reads back as the same stitch.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache

from chartc.pattern import Row, Work
from chartc.reading import read
from chartc.source import Source
from chartc.stitch import Stitch
from chartc.vocabulary import load_vocabulary
from chartc.wording.style import HouseStyle

_SMALL = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)  # fmt: skip
_TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")


def in_words(number: int) -> str:
    """A number under a thousand in words; a larger one in figures."""
    if number < 20:
        return _SMALL[number]
    if number < 100:
        tens, ones = divmod(number, 10)
        return _TENS[tens - 2] + (f"-{_SMALL[ones]}" if ones else "")
    if number < 1000:
        hundreds, rest = divmod(number, 100)
        return f"{_SMALL[hundreds]} hundred" + (f" and {in_words(rest)}" if rest else "")
    return str(number)


def figure(number: int, style: HouseStyle) -> str:
    """A number as the style writes it."""
    return in_words(number) if style.words == "spoken" else str(number)


def times_words(times: int, style: HouseStyle) -> str:
    """ "once", "twice", "3 times"."""
    if times < 3:
        return ("no times", "once", "twice")[times]
    return f"{figure(times, style)} times"


def stitches_word(count: int, style: HouseStyle) -> str:
    """ "st", "3 sts"; "the last" and the like are the caller's."""
    word = "st" if style.words == "short" else "stitch"
    plural = "" if count == 1 else "s" if style.words == "short" else "es"
    return f"{figure(count, style)} {word}{plural}"


@lru_cache(maxsize=4096)
def _reads_as(text: str, key: str, times: int) -> bool:
    vocabulary = load_vocabulary()
    atoms = vocabulary.atoms(text)
    match = vocabulary.match(atoms)
    return (
        match is not None
        and match.end == len(atoms)
        and match.stitch is not None
        and match.stitch.key == key
        and match.times == times
    )


def abbreviation(stitch: Stitch, style: HouseStyle) -> str:
    """The abbreviation alone, in the usage of the style."""
    return (stitch.uk if style.usage == "uk" else stitch.us) or stitch.us or stitch.key


def sized_words(stitch: Stitch, times: Sequence[int], style: HouseStyle) -> str:
    """The stitch worked as often as each size says: "k20 (22, 24)"; "" where the style has no
    way to write that."""
    if style.words == "spoken":
        return ""
    first, *others = (str(n) for n in times)
    numbers = f"{first} ({', '.join(others)})"
    if style.words == "spelled" and stitch.key in ("k", "p"):
        return f"{stitch.title} {numbers}"
    if stitch.counted and not (style.usage == "uk" and stitch.uk != stitch.us):
        return stitch.counted.replace("#", numbers)
    if stitch.kind == "yarn over" or stitch.counted:
        return ""
    return f"{abbreviation(stitch, style)} {numbers} times"


def _counted(stitch: Stitch, times: int, style: HouseStyle) -> str:
    """With the number inside ("k3 tbl"), or "" where the stitch is not written so."""
    if not stitch.counted:
        return ""
    if style.usage == "uk" and stitch.uk != stitch.us:
        return re.sub(r"\b1\b", str(times), stitch.uk)
    return stitch.counted.replace("#", str(times))


def _in_figures(title: str) -> str:
    """The numbers of a title in figures: "knit two together" is printed "knit 2 together"."""
    return re.sub(
        r"\b(" + "|".join(_SMALL[1:13]) + r")\b", lambda m: str(_SMALL.index(m[0])), title
    )


def _spelled(stitch: Stitch, times: int, style: HouseStyle) -> list[str]:
    if stitch.key in ("k", "p"):
        return [f"{stitch.title} {figure(times, style)}"]
    title = stitch.title if style.words == "spoken" else _in_figures(stitch.title)
    if style.words == "spelled" and re.search(r"\b(in|into)\b", title):
        return []  # "knit 1, purl 1 in the row below" would be read as one stitch
    if all(" " not in part for part in title.split(", ")):
        title = title.replace(",", "")  # "slip, slip, knit" among commas would be three steps
    first, _, rest = title.partition(" ")
    tries = [title]
    if stitch.counted:
        tries.insert(0, f"{first} {figure(times, style)} {rest}".strip())
    for text in tries:
        counted = text != title
        if _reads_as(text, stitch.key, times if counted else 1):
            return [text] if counted else _several(text, stitch, times, style)
    return []


def _several(name: str, stitch: Stitch, times: int, style: HouseStyle) -> list[str]:
    """A name and how often: "k2tog twice", "(sk2p) twice" where that would not be read."""
    if times == 1:
        return [name]
    if stitch.kind == "yarn over":
        return [name] * times  # "yo twice" is a double yarn over
    if style.words == "spoken":
        return [f"{name} {times_words(times, style)}"]
    text = f"{name} {'twice' if times == 2 else '3 times'}"
    if _row_reads_as(text, stitch.key, 2 if times == 2 else 3):
        return [f"{name} {times_words(times, style)}"]
    left, right = "()" if style.brackets == "round" else "[]"
    return [f"{left}{name}{right} {times_words(times, style)}"]


@lru_cache(maxsize=4096)
def _row_reads_as(text: str, key: str, times: int) -> bool:
    """Whether a row reads words as one stitch so many times. Names a text explains itself are
    not known here; they count as read."""
    name = text.rsplit(" ", 1)[0].removesuffix(" 3")
    if not _reads_as(name, key, 1):
        return True
    pattern = read(Source("", f"Row\n\nRow 1: {text}, p9.\n"))
    row = pattern.sections[0].flow[0] if pattern.sections and pattern.sections[0].flow else None
    steps = row.steps[:-1] if isinstance(row, Row) else ()
    done = [step.stitch.key for step in steps if isinstance(step, Work)]
    total = sum(step.times.values[0] for step in steps if isinstance(step, Work))
    return len(done) == len(steps) and set(done) == {key} and total == times


def stitch_words(stitch: Stitch, times: int, style: HouseStyle) -> list[str]:
    """The stitch worked `times` times, as the parts of a row between commas."""
    if style.words != "short":
        parts = _spelled(stitch, times, style)
        if parts:
            return parts
    text = _counted(stitch, times, style)
    if text:
        return [text]
    return _several(abbreviation(stitch, style), stitch, times, style)
