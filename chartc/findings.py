"""What a check finds: declared once, shown with the text.

A check is one function registered with `check(...)`, its title, reason and examples beside
it. The same words serve the proof, `chartc explain`, the page and the reference.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from enum import Enum
from typing import Any, TypeVar

from chartc.source import Span


class Severity(Enum):
    WRONG = "wrong"
    DOUBTFUL = "doubtful"
    REMARK = "remark"


@dataclass(frozen=True, slots=True)
class Repair:
    """The smallest change of the text that mends it: replace `span` by `text`."""

    span: Span
    text: str


@dataclass(frozen=True, slots=True)
class Finding:
    """One problem. `message` is lower case without a full stop; `hint` says the remedy in
    words; `sizes` are the names of the sizes concerned, empty for all."""

    check: str
    severity: Severity
    span: Span
    message: str
    hint: str = ""
    sizes: tuple[str, ...] = ()
    repairs: tuple[Repair, ...] = ()


@dataclass(frozen=True, slots=True)
class Check:
    """A kind of finding: its name says the bad thing.

    why        why it matters, in a sentence or two
    wrong      a small text that gives exactly this finding
    right      its mended twin, which gives none
    family     "counts", "repeats", "order", "words", "sizes", "materials" or "alignment"
    run        the function that looks for it; None when another stage raises it
    """

    name: str
    severity: Severity
    title: str
    why: str
    wrong: str
    right: str
    family: str
    run: Callable[..., Iterable[Finding]] | None = None


REGISTRY: dict[str, Check] = {}

Run = TypeVar("Run", bound=Callable[..., Iterable[Finding]])


def declare(
    name: str, severity: Severity, title: str, *, family: str, why: str, wrong: str, right: str
) -> Check:
    """Register a check that another stage raises (the reader, the counting)."""
    if name in REGISTRY:
        raise ValueError(f"two checks named {name}")
    found = Check(name, severity, title, why, wrong, right, family)
    REGISTRY[name] = found
    return found


def check(
    name: str, severity: Severity, title: str, *, family: str, why: str, wrong: str, right: str
) -> Callable[[Run], Run]:
    """Register the function below it as the check of that name."""
    declared = declare(name, severity, title, family=family, why=why, wrong=wrong, right=right)

    def register(run: Run) -> Run:
        REGISTRY[name] = replace(declared, run=run)
        return run

    return register


def found(name: str, span: Span, message: str, **more: Any) -> Finding:
    """A finding of a declared check, with the severity it is declared with.

    `more`: any further field of `Finding`; `severity` makes this one milder or graver.
    """
    more.setdefault("severity", REGISTRY[name].severity)
    return Finding(check=name, span=span, message=message, **more)
