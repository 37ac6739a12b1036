"""Loops used and made by steps, as far as the steps alone tell."""

from __future__ import annotations

from collections.abc import Sequence

from chartc.pattern import Off, On, Repeat, Step, Work


def sums(steps: Sequence[Step], size: int) -> tuple[int, int]:
    """Loops used and made by steps, as far as they tell."""
    uses = makes = 0
    for step in steps:
        if isinstance(step, Work):
            n = max(0, step.times.at(size))
            uses += n * step.stitch.uses
            makes += n * step.stitch.makes
        elif isinstance(step, Repeat) and step.times is not None:
            u, m = sums(step.body, size)
            n = max(0, step.times.at(size))
            uses, makes = uses + n * u, makes + n * m
        elif isinstance(step, On):
            makes += step.count.at(size)
        elif isinstance(step, Off) and step.count is not None:
            uses += step.count.at(size)
    return uses, makes
