"""The exact counting against the slow oracle, on patterns made at random."""

from __future__ import annotations

from collections.abc import Sequence

import oracle
import pytest
from counting_kit import again, cast_on, free, here, num, piece, row, steps
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from chartc.counting import Counted, count
from chartc.counting import events as ev
from chartc.pattern import Again, Instruction, Repeat, Row, Until, UntilKind

QUICK = settings(
    max_examples=120,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
FULL = settings(QUICK, max_examples=12)

TROUBLE = {
    ev.TOO_FEW, ev.TOO_MANY, ev.DOES_NOT_FIT, ev.USES_NOTHING, ev.NEVER_REPEATS, ev.OPEN_TWICE, ev.MARKER_LEFT_OVER,
    ev.MARKER_PASSED, ev.NO_MARKER, ev.NO_GAP, ev.NO_CENTRE, ev.PAST_TARGET, ev.LEFT_DIFFERS,
    ev.CANNOT_SPREAD, ev.HOLD_UNKNOWN, ev.HELD_TOO_FEW, ev.NEGATIVE, ev.STEPPED_OVER, ev.NEVER_ENDS,
}  # fmt: skip

STITCHES = ["k", "p", "yo", "k2tog", "ssk", "sk2p", "kfb", "kyok", "c4f"]


@st.composite
def plain_steps(draw: st.DrawFn, most: int = 4) -> str:
    """A few stitches, perhaps with a bracket."""
    out: list[str] = []
    for _ in range(draw(st.integers(0, most))):
        if draw(st.integers(0, 6)) == 0:
            inner = " ".join(draw(st.lists(st.sampled_from(STITCHES), min_size=1, max_size=3)))
            out.append(f"[ {inner} ]x{draw(st.integers(0, 3))}")
        else:
            stitch = draw(st.sampled_from(STITCHES))
            out.append(stitch + str(draw(st.integers(1, 4))) if stitch in "kp" else stitch)
    return " ".join(out)


@st.composite
def any_row(draw: st.DrawFn) -> str:
    """A row with at most one open end to the end, and any edges."""
    head, tail = draw(plain_steps()), draw(plain_steps(3))
    kind = draw(st.integers(0, 9))
    if kind == 8:
        return f"{head} * {draw(plain_steps(3))} k1 * {tail} k>"
    if kind == 9:
        return f"{head} * k2 p1 * {tail} * k1 yo *"
    if kind == 0:
        return f"{head} k1 {tail}"
    if kind == 1:
        return f"{head} k> {tail}"
    if kind == 2:
        uses = _uses(tail)
        return f"{head} k>{uses} {tail}" if uses else f"{head} k>"
    body = draw(plain_steps(3)) + " k1"
    if kind == 3:
        uses = _uses(tail)
        return f"{head} * {body} *<{uses} {tail}" if uses else f"{head} * {body} *"
    if kind == 4:
        return f"{head} k>6 * {body} *<3 k3"
    return f"{head} * {body} * {tail}"


def _uses(text: str) -> int:
    return oracle.literal(steps(text), 0)


@st.composite
def lace_rows(draw: st.DrawFn) -> list[str]:
    """Rows over one multiple: most of them come out on the same numbers."""
    multiple = draw(st.integers(2, 9))
    edge = draw(st.integers(0, 5))
    out: list[str] = []
    for _ in range(draw(st.integers(1, 5))):
        left = draw(st.integers(0, edge))
        body: list[str] = []
        used = 0
        while used < multiple:
            stitch = draw(st.sampled_from(STITCHES))
            uses = {"k2tog": 2, "ssk": 2, "sk2p": 3, "c4f": 4, "yo": 0}.get(stitch, 1)
            if used + uses <= multiple:
                body.append(stitch)
                used += uses
        head = f"k{left}" if left else ""
        tail = f"k{edge - left}" if edge - left else ""
        out.append(f"{head} * {' '.join(body)} * {tail}")
        if draw(st.booleans()):
            out.append("p>")
    return out


def holds(counted: Counted, n: int) -> bool:
    section = counted.sections[0]
    every = [w for w in (section.works, *section.more) if w is not None]
    return any(w.holds(n) for w in every)


def told(counted: Counted) -> bool:
    """Whether the set is exact (not given up)."""
    why = counted.sections[0].why_not
    return why is None or why.kind == ev.NOTHING_FITS


def same_set(flow: Sequence[Instruction], most: int) -> None:
    counted = count(free(*flow))
    assume(told(counted))
    for n in range(1, most + 1):
        opinion = oracle.opinion(flow, n)
        assert opinion is None or holds(counted, n) == opinion, n


def same_ledger(flow: Sequence[Instruction], n: int) -> None:
    """Row by row the same numbers, and trouble first found at the same row."""
    pattern = piece(cast_on(n), *flow)
    counted = count(pattern)
    judge = oracle.Oracle()
    trouble: int | None = None
    try:
        judge.run(flow, n)
    except oracle.DoesNotWork as no:
        trouble = no.row
    except oracle.TooLarge:
        assume(False)
    lines = judge.lines[: trouble if trouble is not None else None]
    entries = [e for e in counted.sections[0].entries if e.row is not None]
    if len(entries) < 600:
        for entry, line in zip(entries, lines, strict=False):
            got = entry.sizes[0]
            assert (got.before, got.used, got.made, got.after) == (
                line.before, line.used, line.made, line.after,
            )  # fmt: skip
        if trouble is None:
            assert len(entries) == len(lines)
    found = [e for e in counted.events if e.kind in TROUBLE]
    assert bool(found) == (trouble is not None)
    if counted.whole and counted.whole[0].fits is not None:
        assert counted.whole[0].fits == (trouble is None)


def as_rows(texts: Sequence[str], in_round: bool = False) -> list[Row]:
    return [row(text, label=f"Row {i}", in_round=in_round) for i, text in enumerate(texts, 1)]


@FULL
@given(lace_rows())
def test_sets_up_to_400(texts: list[str]) -> None:
    same_set(as_rows(texts), 400)


@QUICK
@given(st.lists(any_row(), min_size=1, max_size=4))
def test_sets_of_any_rows(texts: list[str]) -> None:
    same_set(as_rows(texts), 60)


@QUICK
@given(lace_rows(), st.integers(0, 6))
def test_sets_with_repeated_rows(texts: list[str], times: int) -> None:
    made = as_rows(texts)
    same_set([*made, again(made, times)], 50)


@QUICK
@given(lace_rows(), st.integers(1, 60), st.integers(0, 8))
def test_ledgers(texts: list[str], n: int, times: int) -> None:
    made = as_rows(texts)
    same_ledger([*made, again(made, times)], n)


@QUICK
@given(st.lists(any_row(), min_size=1, max_size=4), st.integers(1, 40))
def test_ledgers_of_any_rows(texts: list[str], n: int) -> None:
    same_ledger(as_rows(texts), n)


@st.composite
def last_repeat(draw: st.DrawFn) -> Row:
    """A starred repeat whose last time is worded otherwise."""
    body = steps(draw(plain_steps(3)) + " k2 p1")
    last = steps(draw(plain_steps(2)) + " k1")
    cut = draw(st.booleans())
    goal = steps("* k1 *")[0]
    assert isinstance(goal, Repeat)
    made = Repeat(body, None, goal.target, here(), last=last, cut=cut,
                  least=draw(st.integers(1, 2)))  # fmt: skip
    return row((*steps(draw(plain_steps(2))), made, *steps(draw(plain_steps(1)))))


@QUICK
@given(last_repeat())
def test_last_repeat(made: Row) -> None:
    same_set([made], 60)


@QUICK
@given(lace_rows(), st.integers(1, 20))
def test_last_rows_of_a_repetition(texts: list[str], last: int) -> None:
    made = as_rows(texts)
    last = min(last, len(made))
    block = Again(tuple(made), num(3), None, here(), last_rows=last)
    same_set([block], 40)


# ---------------------------------------------------------------- markers and short rows


@st.composite
def marked_piece(draw: st.DrawFn) -> tuple[list[str], bool]:
    """A set-up row that places markers, then rows that shape at them."""
    in_round = draw(st.booleans())
    marks = draw(st.integers(1, 4))
    parts = [draw(st.integers(0, 6)) for _ in range(marks)]
    setup = " ".join(f"k{n} pm" if n else "pm" for n in parts) + " k>"
    out = [setup]
    shapes = [
        "k>m yo sm yo", "k>2m k2tog sm ssk", "k>1m kfb sm kfb", "k>m sm", "k>3m k2tog k1 sm k1 ssk",
        "* k1 p1 *>m sm", "k>m", "k>m yo k1 yo", "* k2tog yo *>1m k1 sm",
    ]  # fmt: skip
    for _ in range(draw(st.integers(1, 4))):
        kind = draw(st.integers(0, 4))
        if kind == 0:
            text = "p>"
        elif kind == 1:
            text = "* k1 p1 * " + draw(st.sampled_from(["", "k1"]))
        elif kind == 2:
            text = f"k{draw(st.integers(1, 9))} k2tog yo k>"
        else:
            shape = draw(st.sampled_from(shapes))
            end = draw(st.sampled_from([" k>", " k>2 k2", ""]))
            if draw(st.booleans()):
                text = f"[ {shape} ]x{draw(st.integers(1, marks))}{end}"
            else:
                text = f"{shape}{end}"
        out.append(text)
    return out, in_round


@QUICK
@given(marked_piece())
def test_sets_with_markers(made: tuple[list[str], bool]) -> None:
    same_set(as_rows(*made), 45)


@QUICK
@given(marked_piece(), st.integers(1, 5))
def test_sets_with_markers_repeated(made: tuple[list[str], bool], times: int) -> None:
    rows = as_rows(*made)
    same_set([rows[0], again(rows[1:], times)], 40)


@QUICK
@given(marked_piece(), st.integers(8, 40), st.integers(1, 9))
def test_ledgers_with_markers(made: tuple[list[str], bool], n: int, times: int) -> None:
    rows = as_rows(*made)
    same_ledger([rows[0], again(rows[1:], times)], n)


@st.composite
def short_rows(draw: st.DrawFn) -> tuple[list[str], bool]:
    """Turns within rows, gaps worked to and closed, and full rows between."""
    in_round = draw(st.booleans())
    out: list[str] = []
    for _ in range(draw(st.integers(1, 5))):
        kind = draw(st.integers(0, 6))
        n = draw(st.integers(1, 7))
        text = [
            f"k{n} turn", f"k>{n} turn", "k>1g k2tog k1 turn", "k>g turn", "k>",
            f"sl k{n} k2tog turn".replace("sl ", "k1 "), f"k>{n} wt",
        ][kind]  # fmt: skip
        out.append(text)
    out.append("k>")
    return out, in_round


@QUICK
@given(short_rows())
def test_sets_with_short_rows(made: tuple[list[str], bool]) -> None:
    same_set(as_rows(*made), 40)


@QUICK
@given(short_rows(), st.integers(1, 40), st.integers(1, 4))
def test_ledgers_with_short_rows(made: tuple[list[str], bool], n: int, times: int) -> None:
    same_ledger([again(as_rows(*made), times)], n)


@st.composite
def off_and_on(draw: st.DrawFn) -> list[str]:
    """Bind-offs at the edge and in mid-row, casting on, holders."""
    out: list[str] = []
    for _ in range(draw(st.integers(1, 4))):
        n = draw(st.integers(1, 6))
        out.append(draw(st.sampled_from([
                            f"bo{n} k>", f"co{n} k>", f"k{n} hold{n} k>", "take k>", f"k> co{n}",
                            f"k{n} bo{n} k>", "p>", f"k{n} co{n} k>", f"k>{n} hold{n}",
                            f"inc{n}", f"dec{n}", f"k{n} take k>", f"k>{n} bo{n}",
        ])))  # fmt: skip
    return out


@QUICK
@given(off_and_on())
def test_sets_with_stitches_coming_and_going(made: list[str]) -> None:
    same_set(as_rows(made), 40)


@QUICK
@given(off_and_on(), st.integers(1, 40))
def test_ledgers_with_stitches_coming_and_going(made: list[str], n: int) -> None:
    same_ledger(as_rows(made), n)


@QUICK
@given(lace_rows(), st.integers(1, 80))
def test_until_a_count(texts: list[str], target: int) -> None:
    made = as_rows(texts)
    until = Until(UntilKind.COUNT, num(target), here())
    same_set([Again(tuple(made), None, until, here())], 40)


@given(st.integers(1, 400))
@settings(max_examples=30, deadline=None)
def test_centre(n: int) -> None:
    flow = as_rows(["k2 yo k>c yo k1 yo k>2 yo k2", "p>"])
    counted = count(free(*flow))
    assert holds(counted, n) == oracle.works(flow, n)


def test_the_oracle_itself() -> None:
    """The second opinion knows what a knitter knows."""
    assert oracle.works(as_rows(["k1 * yo k2 sk2p k2 yo k1 *", "p>"]), 25)
    assert not oracle.works(as_rows(["k1 * yo k2 sk2p k2 yo k1 *", "p>"]), 24)
    assert not oracle.works(as_rows(["k1 * yo k2 sk2p k2 yo k1 *", "p>"]), 1)


@pytest.mark.parametrize("times", [0, 1, 2, 3, 7, 30])
def test_decreasing_until_nothing_is_left(times: int) -> None:
    flow: list[Instruction] = [again(as_rows(["k2tog k> ", "p>"]), times)]
    same_set(flow, 60)
