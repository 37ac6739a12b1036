"""Small helpers that make resolved patterns from a terse notation, for the counting tests.

k3 p2 yo k2tog ssk sk2p kfb m1      stitches and how often
[ ... ]x3                           bracket three times
* ... *    * ... *<4    * ... *>m   starred repeat to end / to last 4 / to marker
* ... *>2m                          ... to 2 before marker
k> k>4 k>m k>2m k>c k>2c k>g k>1g   knit to end / last 4 / marker / 2 before / centre / gap
pm sm rm  turn wt  bo5 co5  hold5 take5 take  inc4 dec4 ends2
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import count

from chartc.pattern import (
    Again,
    CastOn,
    Change,
    Fill,
    Hold,
    Instruction,
    Mark,
    Num,
    Off,
    On,
    Pattern,
    Reach,
    Repeat,
    Row,
    Section,
    Stated,
    Step,
    Take,
    Target,
    Turn,
    Work,
)
from chartc.source import Span
from chartc.vocabulary import Stitch

_PLACES = count(1)


def here() -> Span:
    """A passage of its own for each step, so that findings can be told apart."""
    n = next(_PLACES)
    return Span(n * 10, n * 10 + 5)


STITCHES = {
    name: Stitch(name, uses, makes)
    for name, uses, makes in [
        ("k", 1, 1), ("p", 1, 1), ("yo", 0, 1), ("k2tog", 2, 1), ("ssk", 2, 1), ("p2tog", 2, 1),
        ("sk2p", 3, 1), ("kfb", 1, 2), ("m1", 0, 1), ("kyok", 1, 3), ("c4f", 4, 4),
        ("yo2", 0, 2), ("k3to3", 3, 3), ("drop", 1, 0),
    ]
}  # fmt: skip

_TOKEN = re.compile(r"\[|\]x\d+|\*(?:[<>][\w]*)?|[^\s\[\]*]+")


def num(*values: int) -> Num:
    return Num(tuple(values), here())


def target(text: str) -> Target:
    """ ">": end, ">4": last 4, ">m": marker, ">2m": 2 before, ">2c", ">1g", ">8u", ">6o"."""
    body = text[1:]
    digits = re.match(r"\d*", body)
    assert digits is not None
    n = int(digits[0] or 0)
    kind = body[digits.end() :]
    if text[0] == "<" or kind == "":
        reach = Reach.LAST if n else Reach.END
    else:
        reach = {
            "m": Reach.BEFORE_MARKER if n else Reach.MARKER,
            "c": Reach.BEFORE_CENTRE if n else Reach.CENTRE,
            "g": Reach.BEFORE_GAP if n else Reach.GAP,
            "pg": Reach.PAST_GAP,
            "pm": Reach.PAST_MARKER,
            "u": Reach.UNTIL,
            "o": Reach.OVER,
        }[kind]
    return Target(reach, num(n), "", here())


def steps(text: str) -> tuple[Step, ...]:
    """Read the terse notation."""
    ident = count()
    stack: list[tuple[list[Step], int]] = [([], -1)]
    star: list[int] = []
    for token in _TOKEN.findall(text):
        out = stack[-1][0]
        if token == "[":
            stack.append(([], next(ident)))
        elif token.startswith("]x"):
            body, number = stack.pop()
            stack[-1][0].append(
                Repeat(tuple(body), num(int(token[2:])), None, here(), ident=number)
            )
        elif token.startswith("*"):
            if star and star[-1] == len(stack):
                star.pop()
                body, number = stack.pop()
                goal = target(token[1:] or ">")
                stack[-1][0].append(Repeat(tuple(body), None, goal, here(), ident=number))
            else:
                stack.append(([], next(ident)))
                star.append(len(stack))
        else:
            out.append(_step(token))
    assert len(stack) == 1, text
    return tuple(stack[0][0])


def _step(token: str) -> Step:
    span = here()
    if token in ("pm", "sm", "rm"):
        op = {"pm": "place", "sm": "slip", "rm": "remove"}[token]
        return Mark(op, "", span)
    if token == "turn":
        return Turn("plain", span)
    if token == "wt":
        return Turn("wrap", span)
    if token == "take":
        return Take("", None, span)
    for word, kind in (("bo", Off), ("co", On), ("hold", Hold), ("take", Take)):
        found = re.fullmatch(word + r"(\d*)", token)
        if found:
            n = num(int(found[1])) if found[1] else None
            if kind is Off:
                return Off(n, span)
            if kind is On:
                assert n is not None
                return On(n, "cast on", span)
            if kind is Hold:
                return Hold(n, None, "", span)
            return Take("", n, span)
    found = re.fullmatch(r"(inc|dec|ends)(-?\d+)", token)
    if found:
        by = int(found[2]) * (-1 if found[1] == "dec" else 1)
        return Change(num(by), span, each_end=found[1] == "ends", spread=found[1] != "ends")
    found = re.fullmatch(r"(\w+?)(>\w*)", token)
    if found:
        stitch = None if found[1] == "set" else STITCHES[found[1]]
        return Fill(stitch, target(found[2]), span)
    if token in STITCHES:
        return Work(STITCHES[token], Num((1,), span), span)
    found = re.fullmatch(r"(\D+?)(\d+)", token)
    assert found is not None, token
    return Work(STITCHES[found[1]], Num((int(found[2]),), span), span)


def row(
    text: str | tuple[Step, ...],
    *,
    label: str = "",
    number: int | None = None,
    in_round: bool = False,
    side: str = "",
    total: int | Sequence[int] | None = None,
) -> Row:
    """A row from the terse notation, with a stated total after it if given."""
    made = steps(text) if isinstance(text, str) else text
    stated: tuple[Stated, ...] = ()
    if total is not None:
        values = (total,) if isinstance(total, int) else tuple(total)
        stated = (Stated("total", num(*values), here()),)
    span = here()
    return Row(label, number, side, in_round, made, stated, span, span, span)


def rows(*texts: str, in_round: bool = False) -> tuple[Row, ...]:
    return tuple(
        row(text, label=f"Row {i}", number=i, in_round=in_round) for i, text in enumerate(texts, 1)
    )


def again(block: Sequence[Instruction], times: int, more: bool = True) -> Again:
    return Again(tuple(block), num(times), None, here(), more=more)


def free(*flow: Instruction, in_round: bool = False, name: str = "Lace") -> Pattern:
    """A stitch pattern of its own."""
    section = Section(name, here(), tuple(flow), "free", in_round)
    return Pattern("", ("",), "round" if in_round else "flat", (section,))


def cast_on(*counts: int, join: bool = False) -> CastOn:
    return CastOn(num(*counts), "cast on", here(), join)


def piece(*flow: Instruction, sizes: Sequence[str] = ("",), in_round: bool = False) -> Pattern:
    """A piece that begins with its own stitches."""
    section = Section("Body", here(), tuple(flow), "cast on", in_round)
    return Pattern("", tuple(sizes), "round" if in_round else "flat", (section,))
