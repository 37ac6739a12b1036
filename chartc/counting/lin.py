"""Numbers that depend on the number of stitches a piece is begun with.

A count is either a plain whole number or a `Lin`: (p + q * n) / d, where n is the starting
number. `Range` is the set of starting numbers under discussion: rho + mu * j between two
bounds. On that set every `Lin` in use is whole, and since it rises or falls steadily, every
question about its sign is answered exactly at the two ends.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import gcd
from typing import TypeAlias


class Lin:
    """(p + q * n) / d in lowest terms, q not 0 and d > 0. Use `lin` to make one."""

    __slots__ = ("d", "p", "q")

    def __init__(self, p: int, q: int, d: int) -> None:
        self.p = p
        self.q = q
        self.d = d

    def __add__(self, other: Number) -> Number:
        if isinstance(other, int):
            return Lin(self.p + other * self.d, self.q, self.d) if other else self
        if self.d == other.d:
            return lin(self.p + other.p, self.q + other.q, self.d)
        return lin(
            self.p * other.d + other.p * self.d,
            self.q * other.d + other.q * self.d,
            self.d * other.d,
        )

    __radd__ = __add__

    def __neg__(self) -> Lin:
        return Lin(-self.p, -self.q, self.d)

    def __sub__(self, other: Number) -> Number:
        return self + (-other)

    def __rsub__(self, other: int) -> Number:
        return (-self) + other

    def __mul__(self, other: int) -> Number:
        if other == 1:
            return self
        return lin(self.p * other, self.q * other, self.d)

    __rmul__ = __mul__

    def over(self, by: int) -> Number:
        """Divided by a whole number; the caller has made sure that it comes out."""
        return lin(self.p, self.q, self.d * by)

    def at(self, n: int) -> int:
        """The value for a starting number; whole by construction."""
        return (self.p + self.q * n) // self.d

    def __eq__(self, other: object) -> bool:
        return (
            isinstance(other, Lin) and self.p == other.p and self.q == other.q and self.d == other.d
        )

    def __hash__(self) -> int:
        return hash((self.p, self.q, self.d))

    def __repr__(self) -> str:
        return f"({self.p}{self.q:+}n)/{self.d}"


Number: TypeAlias = int | Lin

START = Lin(0, 1, 1)  # the starting number itself


def lin(p: int, q: int, d: int) -> Number:
    """(p + q * n) / d in lowest terms; a plain number when it does not depend on n."""
    if q == 0:
        return p // d
    g = gcd(gcd(p, q), d)
    if d < 0:
        g = -g
    if g != 1:
        return Lin(p // g, q // g, d // g)
    return Lin(p, q, d)


def value(x: Number, n: int) -> int:
    return x if isinstance(x, int) else x.at(n)


@dataclass(frozen=True, slots=True)
class Range:
    """Starting numbers rho + mu * j (0 <= rho < mu) from `lo` up to `hi` (None: no end).

    `lo` and, when there is one, `hi` always belong to the set; `tidy` sees to it.
    """

    rho: int
    mu: int
    lo: int
    hi: int | None

    @property
    def single(self) -> bool:
        return self.hi == self.lo

    def holds(self, n: int) -> bool:
        return n >= self.lo and (self.hi is None or n <= self.hi) and (n - self.rho) % self.mu == 0

    def ends(self, x: Number) -> tuple[int | None, int | None]:
        """The smallest and largest value of `x` on the set; None where there is no limit."""
        if isinstance(x, int):
            return x, x
        first = x.at(self.lo)
        last = None if self.hi is None else x.at(self.hi)
        return (first, last) if x.q > 0 else (last, first)

    def where_at_least(self, x: Number, least: int = 0) -> Range | None:
        """The part of the set on which x >= least."""
        if isinstance(x, int):
            return self if x >= least else None
        low, _ = self.ends(x)
        if low is not None and low >= least:
            return self
        need = least * x.d - x.p
        if x.q > 0:
            return tidy(self.rho, self.mu, max(self.lo, -((-need) // x.q)), self.hi)
        top = (-need) // (-x.q)
        return tidy(self.rho, self.mu, self.lo, top if self.hi is None else min(self.hi, top))

    def where_divides(self, x: Number, by: int) -> Range | None:
        """The part of the set on which x is a multiple of `by`."""
        if by == 1:
            return self
        if isinstance(x, int):
            return self if x % by == 0 else None
        whole = x.d * by
        base = x.p + x.q * self.rho
        slope = x.q * self.mu
        if base % whole == 0 and slope % whole == 0:
            return self
        g = gcd(slope, whole)
        if base % g:
            return None
        period = whole // g
        j = (-base // g) * pow(slope // g, -1, period) % period if period > 1 else 0
        mu = self.mu * period
        return tidy((self.rho + self.mu * j) % mu, mu, self.lo, self.hi)


def tidy(rho: int, mu: int, lo: int, hi: int | None) -> Range | None:
    """A range with both ends in the set, or None when it is empty."""
    lo = lo + (rho - lo) % mu
    if hi is not None:
        hi = hi - (hi - rho) % mu
        if hi < lo:
            return None
    return Range(rho, mu, lo, hi)


def unite(ranges: list[Range]) -> list[Range]:
    """The same numbers as few ranges, in the order of their first number."""
    work = sorted(set(ranges), key=lambda r: (r.mu, r.rho, r.lo))
    again = True
    while again and len(work) > 1:
        again = False
        for i, one in enumerate(work):
            for j in range(len(work)):
                if i != j:
                    both = merged(one, work[j])
                    if both is not None:
                        work = [r for k, r in enumerate(work) if k not in (i, j)]
                        work.append(both)
                        again = True
                        break
            if again:
                break
    return sorted(work, key=lambda r: (r.lo, r.mu))


def merged(one: Range, two: Range) -> Range | None:
    """The union of two ranges when it is a single range, else None."""
    if one.single and two.single:
        return one if one.lo == two.lo else None
    if one.single or (not two.single and two.mu < one.mu):
        one, two = two, one
    if (two.lo - one.rho) % one.mu == 0 and (two.single or two.mu % one.mu == 0):
        inside = one.lo <= two.lo and (one.hi is None or (two.hi is not None and two.hi <= one.hi))
        if inside:
            return one
        if two.single or two.mu == one.mu:
            low, high = (one, two) if one.lo <= two.lo else (two, one)
            if low.hi is None or high.lo <= low.hi + one.mu:
                hi = None if low.hi is None or high.hi is None else max(low.hi, high.hi)
                return tidy(one.rho, one.mu, low.lo, hi)
    if one.mu == two.mu and one.mu % 2 == 0 and not two.single:
        half = one.mu // 2  # two progressions half a step apart make one with half the step
        if (one.rho - two.rho) % one.mu == half and abs(one.lo - two.lo) == half:
            if one.hi is None and two.hi is None:
                return tidy(one.rho % half, half, min(one.lo, two.lo), None)
            if one.hi is not None and two.hi is not None and abs(one.hi - two.hi) == half:
                return tidy(one.rho % half, half, min(one.lo, two.lo), max(one.hi, two.hi))
    return None
