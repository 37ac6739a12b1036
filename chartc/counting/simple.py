"""Plain rows: one open repeat between two edges, or none. Their count is plain arithmetic."""

from __future__ import annotations

from chartc.counting import events as ev
from chartc.counting.context import Failure
from chartc.counting.ops import Block, FillOp, Item, RepOp, Simple, find_step
from chartc.pattern import NOWHERE
from chartc.source import Span


def fits(s: Simple, n: int) -> tuple[int, bool]:
    """How often the repeat of a plain row is worked over n stitches (whole times, cut short
    when it does not come out), and whether the row comes out."""
    if s.open is None:
        return 0, n == s.a + s.c
    avail = n - s.a - s.keep - s.last
    if s.b == 0:
        return s.least, avail == 0 and s.keep == s.c and s.least <= 1 and s.b2 == 0
    r, rest = divmod(avail, s.b)
    return r, rest == 0 and r >= s.least and s.keep == s.c


def simple_after(s: Simple, n: int, r: int) -> int:
    """The count after a plain row with its repeat worked r times, whatever is left over."""
    net = s.a2 - s.a + s.c2 - s.c + s.last2 - s.last
    return n + net + r * (s.b2 - s.b)


def simple_failure(s: Simple, n: int) -> Failure:
    """Why a plain row does not come out on n stitches."""
    fixed = s.a + s.c + s.last
    if s.open is None:
        takes = s.a + s.c
        data = {
            "before": n,
            "takes": takes,
            "a": s.a,
            "b": 0,
            "c": s.c,
            "last": 0,
            "below": takes,
            "above": takes,
        }
        if n < takes:
            span, where = find_step((*s.head.items, *s.tail.items), max(0, n))
            ident = where.pop("ident", -1)
            return Failure(ev.TOO_FEW, span, {**data, **where, "short": takes - n}, ident)
        items = (*s.head.items, *s.tail.items)
        return Failure(
            ev.TOO_MANY, items[-1].span if items else NOWHERE, {**data, "left": n - takes}
        )
    op = s.open
    data = {
        "before": n,
        "a": s.a,
        "b": s.b,
        "c": s.c,
        "last": s.last,
        "keep": s.keep,
        "least": s.least,
    }
    if s.b == 0:
        return Failure(ev.USES_NOTHING, op.span, {**data, "left": n - fixed}, s.ident)
    low = s.a + s.keep + s.last + s.least * s.b
    avail = n - s.a - s.keep - s.last
    if avail < s.least * s.b:
        data |= {"takes": low, "short": low - n, "above": low}
        body = Item(s.b, s.b2, max(1, s.least), op.span, None, _body(op), s.ident)
        span, where = find_step((*s.head.items, body, *s.tail.items), max(0, n))
        ident = where.pop("ident", -1)
        return Failure(ev.TOO_FEW, span, {**data, **where}, ident)
    r, rest = divmod(avail, s.b)
    if rest:
        data |= {
            "takes": n - rest,
            "remainder": rest,
            "left": rest,
            "short": s.b - rest,
            "above": n - rest + s.b,
            "pass": r + 1,
            "times": r,
        }
        if n - rest >= low:
            data["below"] = n - rest
        return Failure(ev.DOES_NOT_FIT, op.span, data, s.ident)
    tail_span = s.tail.items[-1].span if s.tail.items else op.span
    if s.keep < s.c:
        span, _ = find_step(s.tail.items, s.keep)
        return Failure(ev.TOO_FEW, span, {**data, "short": s.c - s.keep, "takes": n - s.keep + s.c})
    return Failure(
        ev.TOO_MANY, tail_span, {**data, "left": s.keep - s.c, "takes": n - s.keep + s.c}
    )


def _body(op: RepOp | FillOp) -> Block | None:
    return op.block if isinstance(op, RepOp) else None


def runs_out_at(s: Simple, rest: int) -> Span:
    """The step of a plain row's repeat at which the stitches run out, `rest` into it."""
    op = s.open
    if isinstance(op, RepOp) and op.block is not None:
        return find_step(op.block.items, rest)[0]
    return NOWHERE if op is None else op.span


def nearest_fit(s: Simple, n: int) -> int | None:
    """The count nearest to n on which a plain row comes out."""
    if s.keep != s.c:
        return None
    if s.open is None:
        return s.a + s.c
    low = s.a + s.c + s.last + s.least * s.b
    if s.b == 0:
        return low
    if n <= low:
        return low
    below = n - (n - low) % s.b
    return below if n - below <= below + s.b - n else below + s.b
