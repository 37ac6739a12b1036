"""Stitches made of stitches: several worked into one loop, or a slipped stitch passed over a
run, held strands, a bobble worked back and forth."""

from __future__ import annotations

from collections.abc import Sequence

from chartc.stitch import HeadForm, Stitch

Part = tuple[Stitch, int]
_MOST = 200


def describe(parts: Sequence[Part]) -> str:
    """A run in abbreviations: "k1, yo, k1"."""
    words = []
    for stitch, times in parts:
        base = stitch.us or stitch.key
        if stitch.counted:
            words.append(stitch.counted.replace("#", str(times)))
        else:
            words.append(base if times == 1 else f"{base} x {times}")
    return ", ".join(words)


def _heads(parts: Sequence[Part]) -> tuple[HeadForm, ...]:
    heads: list[HeadForm] = []
    for stitch, times in parts:
        for _ in range(min(times, _MOST)):
            heads.extend(stitch.heads[: stitch.makes] or ("k",) * stitch.makes)
    return tuple(heads[:_MOST])


def into_one(parts: Sequence[Part], into: int = 1) -> Stitch:
    """Several stitches worked into `into` loops taken together: uses `into`, makes what they
    make."""
    parts = [(s, min(n, _MOST)) for s, n in parts]
    heads = _heads(parts)
    text = f"({describe(parts)}) in 1 st" if into == 1 else f"({describe(parts)}) in {into} sts"
    kind = "increase" if len(heads) > into else "decrease" if len(heads) < into else "own"
    return Stitch(
        key=text,
        uses=into,
        makes=len(heads),
        kind=kind,
        heads=heads,
        front=tuple(range(into)),
        title=text,
        us=text,
        uk=text,
        how=f"Work {describe(parts)}, all into {'the next stitch' if into == 1 else f'the next {into} loops'}.",
        source="worked out from the text",
    )


def sequence(parts: Sequence[Part], pass_over: int = 0, name: str = "") -> Stitch:
    """A run worked one after the other; `pass_over` stitches slipped at its start are then
    lifted over the rest."""
    parts = [(s, min(n, _MOST)) for s, n in parts]
    uses = sum(s.uses * n for s, n in parts)
    heads = _heads(parts)[pass_over:]
    text = name or describe(parts) + (", psso" if pass_over == 1 else f", p{pass_over}sso" if pass_over else "")
    net = len(heads) - uses
    return Stitch(
        key=text,
        uses=uses,
        makes=len(heads),
        kind="decrease" if net < 0 else "increase" if net > 0 else "own",
        heads=heads,
        front=tuple(range(uses)),
        lean="left" if pass_over and net < 0 else None,
        title=text,
        us=text,
        uk=text,
        how=f"Work {describe(parts)}" + (", then lift the slipped stitch over them." if pass_over else "."),
        source="worked out from the text",
    )


def crossed(first: Sequence[Part], second: Sequence[Part], front: bool, name: str) -> Stitch:
    """A cable: the loops of `second` are held in front or behind while `first` is worked."""
    held = sum(s.uses * n for s, n in second)
    worked = sum(s.uses * n for s, n in first)
    heads = _heads(first) + _heads(second)
    uses = held + worked
    strands = (*range(held, uses), *range(held)) if len(heads) == uses else ()
    over = frozenset(range(held)) if front else frozenset(range(held, uses))
    order = (*range(held), *range(held, uses)) if front else (*range(held, uses), *range(held))
    return Stitch(
        key=name,
        uses=uses,
        makes=len(heads),
        kind="cable",
        heads=heads,
        front=order,
        strands=strands,
        over=over,
        lean="left" if front else "right",
        title=name,
        us=name,
        uk=name,
        how=f"Hold the next {held} stitches {'in front' if front else 'behind'}, work {describe(first)}, then {describe(second)} from the cable needle.",
        source="worked out from the text",
    )
