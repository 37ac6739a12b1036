"""Small fabrics for the chart tests, knitted from a shorthand of their own.

A row is stitch keys with a colon and a count where worked more than once ("k:3 yo k2tog");
square brackets hold the repeat that is worked to the end.
"""

from __future__ import annotations

from collections.abc import Sequence

from chartc.fabric import Done, Fabric, Pass, Plan, knit
from chartc.source import Span
from chartc.stitch import Stitch
from chartc.vocabulary import load_vocabulary


def plan(
    text: str,
    number: int | None,
    side: str = "RS",
    *,
    times: int = 1,
    shift: int = 0,
    section: str = "",
    label: str = "",
    own: dict[str, Stitch] | None = None,
    start: int = 0,
    turned: bool = False,
    skip: int = 0,
) -> Plan:
    """A row; side "" is a round. `times` is how often the bracketed repeat is worked."""
    find = load_vocabulary().get
    before: list[Done] = []
    inside: list[Done] = []
    after: list[Done] = []
    now = before
    at = start
    for word in text.split():
        if word == "[":
            now = inside
        elif word == "]":
            now = after
        else:
            key, _, count = word.partition(":")
            stitch = (own or {}).get(key) or find(key)
            now.extend([Done(stitch, Span(at, at + len(word)))] * int(count or 1))
        at += len(word) + 1
    done = list(before)
    for n in range(1, times + 1):
        mark = Pass(0, n, last=n == times, open=True)
        done += [Done(stitch.stitch, stitch.span, (mark,)) for stitch in inside]
    done += after
    in_round = side == ""
    name = label or f"{'Rnd' if in_round else 'Row'} {number}"
    return Plan(
        name, number, side, in_round, tuple(done), Span(start, at), turned, section, shift, skip
    )


def flat(cast_on: int, rows: Sequence[str], *, times: int = 1, first: str = "RS") -> Fabric:
    """Rows worked flat, right side and wrong side by turns."""
    sides = ("RS", "WS") if first == "RS" else ("WS", "RS")
    return knit(
        cast_on,
        [plan(text, n + 1, sides[n % 2], times=times) for n, text in enumerate(rows)],
    )


def rounds(
    cast_on: int, rows: Sequence[str], *, times: int = 1, shifts: Sequence[int] = ()
) -> Fabric:
    """Rounds; `shifts` moves the start of each."""
    return knit(
        cast_on,
        [
            plan(text, n + 1, "", times=times, shift=shifts[n] if n < len(shifts) else 0)
            for n, text in enumerate(rows)
        ],
    )
