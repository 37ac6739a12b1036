"""Numbers and lists in trade words."""

from __future__ import annotations

from collections.abc import Sequence


def listed(values: Sequence[int]) -> str:
    """One number, or a list as patterns print it: 84 (96, 108)."""
    if len(set(values)) == 1:
        return str(values[0])
    return f"{values[0]} ({', '.join(str(v) for v in values[1:])})"


def plural(values: Sequence[int], one: str = "st", many: str = "sts") -> str:
    """The number or numbers with their noun: 1 st, 84 (96, 108) sts."""
    return f"{listed(values)} {one if all(v == 1 for v in values) else many}"


def sts(n: int) -> str:
    return "1 st" if n == 1 else f"{n} sts"


def times(n: int) -> str:
    return {1: "once", 2: "twice"}.get(n, f"{n} times")


def ordinal(n: int) -> str:
    """1st, 2nd, 3rd, 4th ..."""
    if n % 100 in (11, 12, 13):
        return f"{n}th"
    return str(n) + {1: "st", 2: "nd", 3: "rd"}.get(n % 10, "th")


def and_list(parts: Sequence[str], word: str = "and") -> str:
    """a, b and c"""
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} {word} {parts[-1]}"
