"""The row cases of tests/cases/rows.toml as small texts the reader takes in."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

CASES = Path(__file__).parent / "cases"
Case = dict[str, Any]


@cache
def rows() -> tuple[Case, ...]:
    with (CASES / "rows.toml").open("rb") as file:
        return tuple(tomllib.load(file)["row"])


def _lines(value: str | list[str]) -> str:
    return value if isinstance(value, str) else "\n".join(value)


def text_of(case: Case, trial: int) -> str:
    """A pattern with the row of a case, cast on so that it is worked on the trial's count."""
    sized = bool(case.get("sizes"))
    before = list(case["before"]) if sized else [case["before"][trial]]
    out = ["Trial", ""]
    if case.get("in_round"):
        out.append("Worked: in the round")
    if sized:
        names = case["sizes"]
        if not isinstance(names, list):
            names = [f"s{i + 1}" for i in range(len(before))]
        out += ["Sizes: " + ", ".join(names), ""]
    if case.get("glossary"):
        out += ["Abbreviations:", _lines(case["glossary"]), ""]
    first, more = before[0], before[1:]
    out.append(f"Cast on {first}" + (f" ({', '.join(map(str, more))})" if more else "") + " sts.")
    if case.get("sections"):
        parts = case["sections"][trial]
        round_ = case.get("in_round") or case["text"].lower().startswith("rnd")
        word = "rnd" if round_ else "row"
        worked = parts if round_ else parts[::-1]
        out.append(f"Set-up {word}: " + ", pm, ".join(f"k{n}" for n in worked) + ".")
    if case.get("context"):
        out.append(_lines(case["context"]))
    out.append(case["text"])
    return "\n".join(out) + "\n"


def trials(case: Case) -> list[tuple[int, list[int]]]:
    """(trial, counts after in each size; -1 where the row does not come out)."""
    if "before" not in case or "after" not in case:
        return []
    if case.get("sizes"):
        return [(0, list(case["after"]))]
    return [(i, [after]) for i, after in enumerate(case["after"])]
