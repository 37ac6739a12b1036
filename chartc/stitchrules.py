"""Stitches given by rule rather than by list: n together, repeated yarn overs, cables.

`KEY_RULES` says how a key is read ("k5tog"), `PHRASE_RULES` how it is phrased in print.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from chartc.stitch import HeadForm, Stitch

MOST_TOGETHER = 20
MOST_YARN_OVERS = 12

_NAMES = "nought one two three four five six seven eight nine ten eleven twelve thirteen".split()
_NAMES += "fourteen fifteen sixteen seventeen eighteen nineteen twenty".split()


def number_word(number: int) -> str:
    """The number in words up to twenty, in digits beyond."""
    return _NAMES[number] if 0 <= number < len(_NAMES) else str(number)


def together(number: int, purl: bool = False, tbl: bool = False) -> Stitch | None:
    """So many stitches knitted (purled) together as one, through the back loops or not."""
    if not 2 <= number <= MOST_TOGETHER:
        return None
    letter, verb = ("p", "purl") if purl else ("k", "knit")
    other = "k" if purl else "p"
    forward = tuple(range(number))
    head: HeadForm
    if tbl:
        head = "ptbl" if purl else "ktbl"
    else:
        head = "p" if purl else "k"
    through = " through the back loops" if tbl else ""
    plain = f"{letter}{number}tog"
    return Stitch(
        key=plain + ("tbl" if tbl else ""),
        uses=number,
        makes=1,
        kind="decrease",
        heads=(head,),
        front=forward if tbl else forward[::-1],
        lean="left" if tbl else "right",
        title=f"{verb} {number_word(number)} together{through}",
        us=plain + (" tbl" if tbl else ""),
        uk=plain + (" tbl" if tbl else ""),
        how=f"{verb.capitalize()} the next {number_word(number)} stitches together{through} as one.",
        twin=f"{other}{number}tog" + ("tbl" if tbl else ""),
        mirror=plain + ("" if tbl else "tbl"),
        source="common practice, no source",
    )


def yarn_overs(number: int) -> Stitch | None:
    """So many yarn overs side by side, worked as one wrap of the needle after another."""
    if not 1 <= number <= MOST_YARN_OVERS:
        return None
    key = "yo" if number == 1 else f"yo{number}"
    title = {1: "yarn over", 2: "double yarn over"}.get(number, f"{number_word(number)} yarn overs")
    return Stitch(
        key=key,
        uses=0,
        makes=number,
        kind="yarn over",
        heads=("yo",) * number,
        title=title,
        us=key if number == 1 else f"yo {number} times" if number > 2 else "yo twice",
        uk=key if number == 1 else f"yo {number} times" if number > 2 else "yo twice",
        how=f"Wrap the yarn {number_word(number)} times round the right needle,"
        f" which leaves {number_word(number)} loops.",
        twin=key,
        mirror=key,
        source="common practice, no source",
    )


def _psso_over(numbers: tuple[int, ...]) -> Stitch | None:
    """Slip one, knit some, pass the slipped stitch over them all."""
    (number,) = numbers
    if not 1 <= number <= MOST_TOGETHER:
        return None
    return Stitch(
        key=f"sk{number}over" if number > 1 else "skp",
        uses=number + 1,
        makes=number,
        kind="decrease",
        heads=("k",) * number,
        front=tuple(range(number + 1)),
        lean="left",
        extra=("pass",),
        title=f"slip one, knit {number_word(number)}, pass the slipped stitch over",
        us=f"sl 1, k{number}, psso",
        uk=f"sl 1, k{number}, psso",
        how=f"Slip one stitch, knit the next {number_word(number)},"
        " and lift the slipped stitch over all of them.",
        source="common practice, no source",
    )


Build = Callable[[tuple[int, ...]], Stitch | None]

PHRASE_RULES: tuple[tuple[str, int | None, Build], ...] = (
    ("k # tog", None, lambda n: together(n[0])),
    ("p # tog", None, lambda n: together(n[0], purl=True)),
    ("k # tog tbl", None, lambda n: together(n[0], tbl=True)),
    ("p # tog tbl", None, lambda n: together(n[0], purl=True, tbl=True)),
    ("k tog #", None, lambda n: together(n[0])),
    ("p tog #", None, lambda n: together(n[0], purl=True)),
    ("k tbl # tog", None, lambda n: together(n[0], tbl=True)),
    ("p tbl # tog", None, lambda n: together(n[0], purl=True, tbl=True)),
    ("yo #", None, lambda n: yarn_overs(n[0])),
    ("yo # times", None, lambda n: yarn_overs(n[0])),
    ("yo x #", None, lambda n: yarn_overs(n[0])),
    ("yo twice", None, lambda n: yarn_overs(2)),
    ("double yo", None, lambda n: yarn_overs(2)),
    ("dyo", None, lambda n: yarn_overs(2)),
    ("# yo", None, lambda n: yarn_overs(n[0])),
    ("sl 1 kwise? , k # , psso", None, _psso_over),
)

KEY_RULES: tuple[tuple[re.Pattern[str], Callable[..., Stitch | None]], ...] = (
    (
        re.compile(r"([kp])(\d{1,2})tog(tbl)?"),
        lambda letter, number, tbl: together(int(number), letter == "p", bool(tbl)),
    ),
    (re.compile(r"yo(\d{1,2})?"), lambda number: yarn_overs(int(number or 1))),
)
