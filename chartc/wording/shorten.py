"""A run of single stitches told as shortly as possible: runs merged, inner repeats found."""

from __future__ import annotations

from collections.abc import Sequence

from chartc.pattern import NOWHERE, Num, Repeat, Step, Work
from chartc.stitch import Stitch

LONGEST_GROUP = 12  # stitches in an inner repeat
GROUP_COST = 1.5  # brackets and "n times", against 1 for a stitch with its number


def _num(n: int) -> Num:
    return Num((n,))


def runs(stitches: Sequence[Stitch]) -> tuple[Step, ...]:
    """Equal neighbours told together: k, k, k becomes one step."""
    steps: list[Step] = []
    at = 0
    while at < len(stitches):
        end = at + 1
        while end < len(stitches) and stitches[end] == stitches[at]:
            end += 1
        steps.append(Work(stitches[at], _num(end - at), NOWHERE))
        at = end
    return tuple(steps)


def run_count(keys: Sequence[int]) -> int:
    """How many steps `runs` makes of stitches given by number."""
    return sum(1 for i, key in enumerate(keys) if i == 0 or keys[i - 1] != key)


def shorten(stitches: Sequence[Stitch]) -> tuple[Step, ...]:
    """The shortest telling of the stitches in the order worked, with inner repeats.

    Shortest: fewest steps, an inner repeat counted GROUP_COST beside the steps inside it; of
    equally short ones the one without brackets. Inner repeats are not nested.
    """
    number: dict[Stitch, int] = {}
    keys = [number.setdefault(stitch, len(number)) for stitch in stitches]
    total = len(keys)
    best: list[tuple[float, int, int]] = [(0.0, 0, 0)] * (total + 1)  # cost, end, period
    same = [1] * (total + 1)  # length of the run that begins here
    for at in range(total - 2, -1, -1):
        same[at] = same[at + 1] + 1 if keys[at] == keys[at + 1] else 1
    for at in range(total - 1, -1, -1):
        choice = min(
            ((1 + best[at + n][0], at + n, 0) for n in range(same[at], 0, -1)),
            key=lambda option: option[0],
        )
        for period in range(2, min(LONGEST_GROUP, (total - at) // 2) + 1):
            end = at + period
            body = keys[at:end]
            inside = run_count(body)
            if inside < 2:
                continue
            while keys[end : end + period] == body:
                end += period
                cost = GROUP_COST + inside + best[end][0]
                if cost < choice[0] - 1e-9:
                    choice = (cost, end, period)
        best[at] = choice
    steps: list[Step] = []
    at = 0
    while at < total:
        _, end, period = best[at]
        if period:
            times = (end - at) // period
            steps.append(Repeat(runs(stitches[at : at + period]), _num(times), None, NOWHERE))
        else:
            steps.append(Work(stitches[at], _num(end - at), NOWHERE))
        at = end
    return tuple(steps)


def cost(steps: Sequence[Step]) -> float:
    """The length of a telling, as `shorten` measures it."""
    return sum(
        GROUP_COST + cost(step.body) if isinstance(step, Repeat) else 1.0 for step in steps
    )
