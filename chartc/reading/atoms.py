"""From characters to atoms: words, numbers and signs, each with its place in the text.

`k2tog`, `K 2 tog` and `knit two together` give the same atoms, so that the vocabulary holds
one form of each phrase. Letters and digits that stand together are separate atoms.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from chartc.source import Span

_RAW = re.compile(
    r"""(?P<dots>(?:[A-Za-z]\.){2,}(?:[A-Za-z](?![A-Za-z]))?)   # y.o.  p.s.s.o.
      | (?P<word>[A-Za-z\u00c0-\u024f]+(?:'[A-Za-z]+)?)
      | (?P<num>\d+(?:\.\d+)?(?:\s?[\u00bc-\u00be\u2150-\u215e])?|[\u00bc-\u00be\u2150-\u215e])
      | (?P<stars>\*+|\u2020+|\u2021+|\u00a7+|\#+|\++|\^+)
      | (?P<sign>[^\s\w])""",
    re.VERBOSE,
)

ONES = {
    "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8,
    "nine": 9, "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14,
    "fifteen": 15, "sixteen": 16, "seventeen": 17, "eighteen": 18, "nineteen": 19,
}  # fmt: skip
TENS = {
    "twenty": 20, "thirty": 30, "forty": 40, "fourty": 40, "fifty": 50, "sixty": 60,
    "seventy": 70, "eighty": 80, "ninety": 90,
}  # fmt: skip
ORDINALS = {
    "first": 1, "second": 2, "third": 3, "fourth": 4, "fifth": 5, "sixth": 6, "seventh": 7,
    "eighth": 8, "ninth": 9, "tenth": 10, "eleventh": 11, "twelfth": 12, "thirteenth": 13,
    "fourteenth": 14, "fifteenth": 15, "sixteenth": 16, "seventeenth": 17, "eighteenth": 18,
    "nineteenth": 19, "twentieth": 20, "thirtieth": 30, "fortieth": 40, "fiftieth": 50,
}  # fmt: skip

# Longer numbers are cut off here: no row has more stitches, and they must not fill memory.
MOST_DIGITS = 15
TOO_BIG = 10**MOST_DIGITS


@dataclass(frozen=True, slots=True)
class Atom:
    """kind: "word" (lower case in `text`), "num" (`value`), "stars", "sign".

    `glued` is True when no space parts it from the atom before. `values` holds a size list
    once lists are gathered; `raw` the text as typed (for capitals)."""

    kind: str
    text: str
    start: int
    end: int
    glued: bool = False
    value: int = 0
    values: tuple[int, ...] = ()
    raw: str = ""
    counted: bool = False  # "twice", "3 times" inside a size list: the number of times

    @property
    def span(self) -> Span:
        return Span(self.start, self.end)


def span_of(atoms: Sequence[Atom]) -> Span:
    return Span(atoms[0].start, atoms[-1].end)


def whole(digits: str) -> int:
    """A printed number; one with too many digits becomes TOO_BIG."""
    digits = digits.lstrip("0") or "0"
    return int(digits) if len(digits) <= MOST_DIGITS else TOO_BIG


@cache
def _spelled(word: str) -> int | None:
    if word in ONES:
        return ONES[word]
    return TENS.get(word)


def atomise(plain: str, start: int, end: int) -> list[Atom]:
    """The atoms of a passage of plain text (see Source.plain)."""
    found: list[Atom] = []
    last_end = -1
    for match in _RAW.finditer(plain, start, end):
        kind = match.lastgroup or "sign"
        raw = match.group()
        at, to = match.start(), match.end()
        glued = at == last_end
        last_end = to
        if kind == "dots":
            word = raw.replace(".", "").lower()
            found.append(Atom("word", word, at, to, glued, raw=raw))
            continue
        if kind == "num":
            digits = re.match(r"\d+", raw)
            value = whole(digits.group()) if digits else 0
            exact = bool(digits) and digits is not None and digits.group() == raw
            found.append(
                Atom("num" if exact else "measure", raw, at, to, glued, value, (value,), raw)
            )
            continue
        if kind == "word":
            text = raw.lower()
            number = _spelled(text)
            if number is not None:
                previous = found[-1] if found else None
                joined = (
                    number < 10
                    and previous is not None
                    and previous.kind == "num"
                    and previous.text in TENS
                )
                before = found[-2] if len(found) > 1 else None
                if joined and previous is not None:
                    both = previous.value + number
                    found[-1] = Atom(
                        "num", text, previous.start, to, previous.glued, both, (both,), raw
                    )
                elif (
                    previous is not None
                    and previous.text == "-"
                    and before is not None
                    and before.text in TENS
                    and number < 10
                ):
                    both = before.value + number
                    del found[-1]
                    found[-1] = Atom(
                        "num", text, before.start, to, before.glued, both, (both,), raw
                    )
                else:
                    found.append(Atom("num", text, at, to, glued, number, (number,), raw))
                continue
            found.append(Atom("word", text, at, to, glued, raw=raw))
            continue
        if kind == "stars" and raw[0] in "+#^" and len(raw) == 1 and raw != "*":
            found.append(Atom("sign", raw, at, to, glued, raw=raw))
            continue
        found.append(Atom("stars" if kind == "stars" else "sign", raw, at, to, glued, raw=raw))
    return found


_OPEN = {"(": ")", "[": "]", "{": "}"}
_BETWEEN = {",", ":", ";", "/", "|", "-", "\u2014", "&"}


def gather_sizes(atoms: list[Atom], sizes: int) -> list[Atom]:
    """Fold size lists ("84 (96, 108)", "3 [5: 7]", "2 (3) (4)", "once (twice, 3 times)")
    into one number atom with a value per size. A dash in a list stands for 0. With one size
    there are no lists; `sizes` 0 gathers whatever looks like one."""
    if sizes == 1:
        return atoms
    out: list[Atom] = []
    at = 0
    total = len(atoms)
    while at < total:
        atom = atoms[at]
        if atom.kind == "num":
            run = _glued_list(atoms, at, sizes)
            if run is not None:
                last = atoms[run[1] - 1]
                out.append(
                    Atom("num", "#", atom.start, last.end, atom.glued, run[0][0], run[0], atom.raw)
                )
                at = run[1]
                continue
        if atom.kind != "num" and not (
            atom.text in ("-", "once", "twice") and at + 1 < total and atoms[at + 1].text in _OPEN
        ):
            out.append(atom)
            at += 1
            continue
        first, after_first, counted = _list_value(atoms, at)
        values: list[int] = [first]
        stop = after_first
        while stop < total and atoms[stop].text in _OPEN:
            inner = _inner_list(atoms, stop, sizes)
            if inner is None:
                break
            more, stop, inner_counted = inner
            values += more
            counted = counted or inner_counted
        if len(values) > 1 and (atom.kind == "num" or counted or atom.text == "-"):
            text = "#"
            out.append(
                Atom("num", text, atom.start, atoms[stop - 1].end, atom.glued, values[0],
                     tuple(values), atom.raw, counted)
            )  # fmt: skip
            at = stop
        else:
            out.append(atom)
            at += 1
    return out


def _glued_list(atoms: list[Atom], at: int, sizes: int) -> tuple[tuple[int, ...], int] | None:
    """ "12/14/16" or "12-14-16" with just as many values as there are sizes."""
    values = [atoms[at].value]
    stop = at + 1
    if stop >= len(atoms) or atoms[stop].text not in ("/", "-") or not atoms[at].value:
        return None
    sign = atoms[stop].text
    if sizes and sign == "-" and sizes < 3:
        return None
    while (
        stop + 1 < len(atoms)
        and atoms[stop].text == sign
        and atoms[stop + 1].kind == "num"
    ):
        values.append(atoms[stop + 1].value)
        stop += 2
    if len(values) != sizes and (sizes or len(values) < (3 if sign == "-" else 2)):
        return None
    following = atoms[stop] if stop < len(atoms) else None
    if sign == "/" and following is not None and following.text in ("lc", "rc", "lpc", "rpc", "lt", "rt"):
        return None
    return tuple(values), stop


def _list_value(atoms: list[Atom], at: int) -> tuple[int, int, bool]:
    """(value, next index, whether it was told as times) of one entry of a size list."""
    atom = atoms[at]
    if atom.text == "once":
        return 1, at + 1, True
    if atom.text == "twice":
        return 2, at + 1, True
    if atom.text == "-":
        return 0, at + 1, False
    if at + 2 < len(atoms) and atoms[at + 1].text in ("times", "time") and atoms[
        at + 2
    ].text in _OPEN:
        return atom.value, at + 2, True
    return atom.value, at + 1, False


def _inner_list(atoms: list[Atom], at: int, sizes: int) -> tuple[list[int], int, bool] | None:
    """The numbers of a bracket that holds numbers only, and the index after it."""
    close = _OPEN[atoms[at].text]
    values: list[int] = []
    counted = False
    position = at + 1
    want_value = True
    while position < len(atoms):
        atom = atoms[position]
        if atom.text == close:
            if not values:
                return None
            return values, position + 1, counted
        if atom.kind == "num":
            values.append(atom.value)
            want_value = False
        elif atom.text in ("once", "twice", "thrice"):
            values.append({"once": 1, "twice": 2, "thrice": 3}[atom.text])
            counted = True
            want_value = False
        elif atom.text in ("times", "time") and not want_value:
            counted = True
        elif want_value and atom.text in ("-", "\u2014"):
            values.append(0)
            want_value = False
        elif atom.text in _BETWEEN:
            want_value = True
        elif atom.text in _OPEN:
            inner = _inner_list(atoms, position, sizes)
            if inner is None:
                return None
            values += inner[0]
            position = inner[1]
            want_value = False
            continue
        else:
            return None
        position += 1
    return None
