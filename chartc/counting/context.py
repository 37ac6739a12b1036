"""Deciding questions about numbers, and what is said when they have no good answer."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import lcm

from chartc.counting.lin import Lin, Number, Range
from chartc.pattern import NOWHERE
from chartc.source import Span


class GiveUp(Exception):
    """The count cannot be told exactly from here on; `why` is an event kind."""

    def __init__(self, why: str, span: Span = NOWHERE) -> None:
        super().__init__(why)
        self.why = why
        self.span = span


@dataclass(slots=True)
class Failure:
    """Why a row does not come out. `where` is the step at which the stitches ran out."""

    kind: str
    where: Span
    data: dict[str, int] = field(default_factory=dict)
    ident: int = -1
    name: str = ""


class Misfit(Exception):
    """Raised instead of going on, when no number of the set lets the row come out."""

    def __init__(self, failure: Failure) -> None:
        super().__init__(failure.kind)
        self.failure = failure


@dataclass(slots=True)
class Note:
    """Something worth saying about a row that comes out."""

    kind: str
    where: Span
    data: dict[str, int] = field(default_factory=dict)
    name: str = ""


class Ctx:
    """Decides questions about numbers. With `domain` None all numbers are plain.

    path    the decisions taken, in order: equal paths mean that the same straight-line map
            was followed
    few     the starting numbers for which the stitches ran out on the way
    rough   the least common multiple of what was divided by with something left over; the
            map is the same again only when the numbers move by multiples of it
    """

    __slots__ = ("domain", "few", "open_ways", "path", "rough", "script", "step")

    def __init__(self, domain: Range | None = None, script: tuple[int, ...] = ()) -> None:
        self.domain = domain
        self.script = script
        self.step = 0
        self.open_ways: list[int] = []
        self.path: list[int] = []
        self.rough = 1
        self.few: list[Range] = []

    def choose(self, ways: int) -> int:
        """One of so many ways; the others are tried by running again with another script."""
        pick = self.script[self.step] if self.step < len(self.script) else 0
        self.step += 1
        self.open_ways.append(ways)
        return pick

    def other_scripts(self) -> list[tuple[int, ...]]:
        """The scripts that take the ways left open by this one."""
        out: list[tuple[int, ...]] = []
        script = self.script
        for i in range(len(self.open_ways) - 1, len(script) - 1, -1):
            taken = (*script, *(0,) * (i - len(script)))
            out.extend((*taken, k) for k in range(1, self.open_ways[i]))
        return out

    def at_least(self, x: Number, least: int = 0) -> bool:
        yes = x >= least if isinstance(x, int) else self._at_least(x, least)
        self.path.append(yes)
        return yes

    def _at_least(self, x: Lin, least: int) -> bool:
        assert self.domain is not None
        no = self.domain.where_at_least(-x, 1 - least)
        if no is None:
            return True
        yes = self.domain.where_at_least(x, least)
        if yes is None:
            return False
        if self.choose(2) == 0:
            self.domain = yes
            return True
        self.domain = no
        return False

    def equals(self, x: Number, number: int) -> bool:
        return self.at_least(x, number) and not self.at_least(x, number + 1)

    def need(self, x: Number) -> bool:
        """Demand x >= 0. False when that cannot be."""
        if isinstance(x, int):
            return x >= 0
        assert self.domain is not None
        yes = self.domain.where_at_least(x)
        if yes is None:
            return False
        self.domain = yes
        return True

    def has(self, x: Number) -> bool:
        """Demand x >= 0, where x < 0 means that the stitches run out."""
        if isinstance(x, int):
            return x >= 0
        assert self.domain is not None
        no = self.domain.where_at_least(-x, 1)
        if no is not None:
            self.few.append(no)
        return self.need(x)

    def need_zero(self, x: Number) -> bool:
        if isinstance(x, int):
            return x == 0
        return self.need(x) and self.need(-x)

    def divide(self, x: Number, by: int) -> Number | None:
        """x / by, demanding that it comes out; None when it never does."""
        if isinstance(x, int):
            return None if x % by else x // by
        assert self.domain is not None
        yes = self.domain.where_divides(x, by)
        if yes is None:
            return None
        self.domain = yes
        return x.over(by)

    def floor(self, x: Number, by: int) -> tuple[Number, int]:
        """x / by rounded down, and what is left."""
        if by == 1:
            return x, 0
        self.rough = lcm(self.rough, by)
        if isinstance(x, int):
            self.path.append(x % by)
            return x // by, x % by
        assert self.domain is not None
        if by > 200:
            raise GiveUp("undecided")
        ways: list[tuple[Range, Number, int]] = []
        for left in range(by):
            less = x - left
            if isinstance(less, int):
                continue
            where = self.domain.where_divides(less, by)
            if where is not None:
                ways.append((where, less.over(by), left))
        pick = ways[self.choose(len(ways)) if len(ways) > 1 else 0]
        self.domain = pick[0]
        self.path.append(pick[2])
        return pick[1], pick[2]
