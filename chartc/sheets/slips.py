"""Single slips of the knitter, tried one by one: which slip leaves which number of stitches.

A slip replaces one worked stitch of a planned row by what a hand does by mistake; the row is
then counted again, stitch by stitch. Only slips after which the row still comes out are kept:
the others are noticed at once, for the stitches do not last.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from chartc.fabric import Done, Plan
from chartc.stitch import Stitch
from chartc.vocabulary import load_vocabulary


@dataclass(frozen=True, slots=True)
class Slip:
    """A slip and the count it leaves.

    kind    key of grammar/sheets/slips.toml
    stitch  the stitch concerned, None for a slip that can happen anywhere
    after   stitches after the row with this slip made once
    places  how many places of the row it can happen in
    often   stitches after the row when it is made in every time through the repeat, or None
    """

    kind: str
    stitch: Stitch | None
    after: int
    places: int
    often: int | None = None


def counted(plan: Sequence[Done], before: int) -> int | None:
    """Stitches after a row: None when it does not take exactly the stitches there are, apart
    from those it leaves waiting."""
    used = sum(done.stitch.uses for done in plan)
    if used > before:
        return None
    return before - used + sum(done.stitch.makes for done in plan)


def _plain(times: int, purl: bool) -> tuple[Stitch, ...]:
    stitch = load_vocabulary().get("p" if purl else "k")
    return (stitch,) * times


def _instead(stitch: Stitch) -> Iterator[tuple[str, tuple[Stitch, ...]]]:
    """What a hand does instead of a stitch, with the name of the slip."""
    purl = bool(stitch.heads) and stitch.heads[0] in ("p", "ptbl", "mp")
    if stitch.kind == "yarn over":
        yield "left-out", ()
        if stitch.makes > 1:
            single = load_vocabulary().get("yo")
            yield "one-wrap", (single,) * (stitch.makes - 1)
        yield "twice", (stitch, stitch)
    elif stitch.kind == "increase":
        if stitch.uses == 0:
            yield "left-out", ()
        else:
            yield "worked-plain", _plain(stitch.uses, purl)
    elif stitch.kind == "decrease" and stitch.makes < stitch.uses:
        yield "worked-plain", _plain(stitch.uses, purl)
        if stitch.net < -1:
            lesser = load_vocabulary().find("p2tog" if purl else "k2tog")
            if lesser is not None:
                rest = _plain(stitch.uses - 2, purl)
                yield "half-done", (lesser, *rest)


def slips_of(plan: Plan, before: int) -> tuple[Slip, ...]:
    """Every single slip of a row that leaves a wrong count, the likeliest kinds first."""
    right = counted(plan.stitches, before)
    if right is None:
        return ()
    found: list[Slip] = []
    seen: dict[str, list[int]] = {}
    for place, done in enumerate(plan.stitches):
        seen.setdefault(done.stitch.key, []).append(place)
    for places in seen.values():
        stitch = plan.stitches[places[0]].stitch
        for kind, instead in _instead(stitch):
            once = _with(plan.stitches, places[:1], instead, before)
            if once is None or once == right:
                continue
            every = None
            repeated = _one_each(plan.stitches, places)
            if len(repeated) > 1:
                every = _with(plan.stitches, repeated, instead, before)
            found.append(Slip(kind, stitch, once, len(places), every))
    if plan.stitches:
        found.append(Slip("dropped", None, right - 1, len(plan.stitches)))
        found.append(Slip("strand", None, right + 1, len(plan.stitches)))
    return tuple(found)


def _with(
    stitches: Sequence[Done], places: Sequence[int], instead: tuple[Stitch, ...], before: int
) -> int | None:
    wrong: list[Done] = []
    at = set(places)
    for place, done in enumerate(stitches):
        if place in at:
            wrong.extend(Done(one, done.span, done.passes) for one in instead)
        else:
            wrong.append(done)
    return counted(wrong, before)


def _one_each(stitches: Sequence[Done], places: Sequence[int]) -> list[int]:
    """The same stitch of the text in every time through: the places that share the passage of
    the first one."""
    first = stitches[places[0]]
    if not first.passes:
        return []
    return [
        place
        for place in places
        if stitches[place].span == first.span
        and [one.number for one in stitches[place].passes[1:]]
        == [one.number for one in first.passes[1:]]
    ]
