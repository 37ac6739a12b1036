"""Inside a row: where its repeats begin, what is left before the last one, where markers go.

All numbers are counted off the single stitches the row was planned in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from chartc.fabric import Done, Plan
from chartc.pattern import Fill, Mark, Num, Reach, Repeat, Row, Step, Target, Work
from chartc.wording.naming import stitches_word, times_words
from chartc.wording.sentences import NotWorded, step_words
from chartc.wording.style import HouseStyle


@dataclass(frozen=True, slots=True)
class Pace:
    """A row by its repeat, in one size.

    first, last   stitches before and after the repeat, in working order
    passes        the stitches of each time through
    repeat        the repeat as written
    """

    first: tuple[Done, ...]
    passes: tuple[tuple[Done, ...], ...]
    last: tuple[Done, ...]
    repeat: Repeat

    def made(self) -> tuple[int, ...]:
        """Stitches on the right-hand needle before the repeat, and after each time through."""
        total = _makes(self.first)
        counts = [total]
        for one in self.passes:
            total += _makes(one)
            counts.append(total)
        return tuple(counts)

    def left(self, before: int) -> tuple[int, ...]:
        """Stitches on the left-hand needle when each time through begins, and after the last;
        `before` is the count at the start of the row."""
        total = before - _uses(self.first)
        counts = [total]
        for one in self.passes:
            total -= _uses(one)
            counts.append(total)
        return tuple(counts)


def _makes(stitches: Sequence[Done]) -> int:
    return sum(done.stitch.makes for done in stitches)


def _uses(stitches: Sequence[Done]) -> int:
    return sum(done.stitch.uses for done in stitches)


def pace(row: Row, plan: Plan) -> Pace | None:
    """The row by its one outermost repeat; None when it has none or several."""
    repeats = [step for step in row.steps if isinstance(step, Repeat)]
    if len(repeats) != 1:
        return None
    ident = repeats[0].ident
    passes: list[list[Done]] = []
    first: list[Done] = []
    last: list[Done] = []
    for done in plan.stitches:
        outer = next((one for one in done.passes if one.repeat == ident), None)
        if outer is None:
            (last if passes else first).append(done)
            continue
        if last:
            return None
        while len(passes) < outer.number:
            passes.append([])
        passes[outer.number - 1].append(done)
    if not passes:
        return None
    return Pace(tuple(first), tuple(tuple(p) for p in passes), tuple(last), repeats[0])


# ------------------------------------------------------------------ words for parts of a row


def for_size(step: Step, size: int) -> Step:
    """The step with the numbers of one size."""

    def one(num: Num) -> Num:
        return replace(num, values=(num.at(size),))

    def aim(target: Target) -> Target:
        return replace(target, n=one(target.n))

    if isinstance(step, Work):
        return replace(step, times=one(step.times))
    if isinstance(step, Fill):
        return replace(step, target=aim(step.target))
    if isinstance(step, Repeat):
        return replace(
            step,
            body=tuple(for_size(inner, size) for inner in step.body),
            times=None if step.times is None else one(step.times),
            target=None if step.target is None else aim(step.target),
            last=None if step.last is None else tuple(for_size(i, size) for i in step.last),
        )
    return step


def words_of(
    steps: Sequence[Step], style: HouseStyle, in_round: bool, size: int, written: Verbatim,
    between: str = "",
) -> str:  # fmt: skip
    """Steps in words, the numbers those of one size; `written` gives the author's words for a
    step the writer has none for. Spoken steps are kept apart by semicolons, for some hold
    commas of their own ("slip, slip, knit")."""
    between = between or ("; " if style.words == "spoken" else ", ")
    parts = []
    for step in steps:
        if isinstance(step, Mark):
            if style.words == "spoken":
                parts.append({"place": "place marker", "remove": "remove marker"}.get(
                    step.op, "slip marker"))  # fmt: skip
                continue
            parts.append({"place": "pm", "remove": "rm"}.get(step.op, "sm"))
            continue
        sized = for_size(step, size)
        if style.words == "spoken" and isinstance(sized, Repeat) and sized.times is not None:
            inner = words_of(sized.body, style, in_round, size, written, ", ")
            parts.append(f"{times_words(sized.times.values[0], style)} {inner}")
            continue
        try:
            parts.append(step_words(sized, style, in_round, may_star=False))
        except NotWorded:
            parts.append(_to_marker(sized, style) or written(step))
    return between.join(part for part in parts if part)


class Verbatim:
    """The author's words for a step, out of the text."""

    def __init__(self, text: str) -> None:
        self.text = text

    def __call__(self, step: Step) -> str:
        return " ".join(self.text[step.span.start : step.span.end].split())


def _to_marker(step: Step, style: HouseStyle) -> str:
    """ "knit to 3 stitches before the marker"."""
    if not isinstance(step, Fill) or step.stitch is None or step.stitch.key not in ("k", "p"):
        return ""
    verb = step.stitch.key if style.words == "short" else step.stitch.title
    short = style.words == "short"
    if step.target.reach is Reach.MARKER:
        return f"{verb} to {'m' if short else 'the marker'}"
    if step.target.reach is Reach.BEFORE_MARKER:
        count = stitches_word(step.target.n.values[0], style)
        return f"{verb} to {count} before {'m' if short else 'the marker'}"
    return ""


@dataclass(frozen=True, slots=True)
class Checkpoint:
    """A place in a row where the stitches left can be counted.

    left    on the left-hand needle
    once    the last time through the repeat, in words
    then    what follows it, "" when the row is done
    """

    left: int
    once: str
    then: str


def checkpoint(
    row: Row, plan: Plan, before: int, size: int, style: HouseStyle, written: Verbatim
) -> Checkpoint | None:
    """The stitches left before the last time through the repeat of a row; None for a row whose
    repeat is worked less than twice, or goes stitch by stitch."""
    found = pace(row, plan)
    if found is None or len(found.passes) < 2 or found.repeat.cut:
        return None
    if len(found.passes[-1]) < 2 and len({d.stitch.key for d in found.passes[-1]}) < 2:
        return None
    at = row.steps.index(found.repeat)
    body = found.repeat.last if found.repeat.last is not None else found.repeat.body
    once = words_of(body, style, row.in_round, size, written)
    then = words_of(row.steps[at + 1 :], style, row.in_round, size, written)
    return Checkpoint(found.left(before - plan.skip)[-2], once, then)


# ------------------------------------------------------------------ markers


@dataclass(frozen=True, slots=True)
class MarkerPlan:
    """Markers between the repeats of a section.

    first, every   the first after `first` stitches (0: at the beginning), then after every
                   `every`, counted as the row before the section's first row lies
    stay           they stay between the same stitches on every row
    moves          labels of rows on which a repeat begins elsewhere
    """

    first: int
    every: int
    stay: bool
    moves: tuple[str, ...]


def markers(rows: Sequence[tuple[Row, Plan, int]]) -> MarkerPlan | None:
    """Where markers between repeats go; `rows` are the rows of a section in working order,
    each with its plan and the count before it. None when fewer than two of them repeat, or a
    repeat is worked but once.

    Followed row by row: the places between repeats after one row are compared with those
    before the next, both seen from the right edge.
    """
    held: set[int] | None = None  # places of markers, loops from the right edge
    first_row: list[int] = []
    moves: list[str] = []
    repeating = 0
    for row, plan, before in rows:
        found = pace(row, plan)
        after = before - _uses(plan.stitches) + _makes(plan.stitches)
        if plan.shift or plan.skip or plan.turned:
            return None
        rightward = plan.side == "WS" and not plan.in_round
        if found is None or len(found.passes) < 2 or _size_of(found) < 3:
            if held is None:
                continue
            moved = _carried(held, plan, before, rightward)
            if moved is None:
                moves.append(plan.label)
                return MarkerPlan(*_spread(first_row), False, tuple(moves))
            held = moved
            continue
        repeating += 1
        lefts = found.left(before)
        starts = [before - n for n in lefts]  # loops worked when each time through begins
        ends = [before - n for n in lefts[1:]]
        places = {before - p if rightward else p for p in {*starts, *ends}} - {0, before}
        if held is None:
            first_row = sorted(places)
            if len(first_row) < 1:
                return None
        elif held != places:
            moves.append(plan.label)
        mades = found.made()
        held = {after - p if rightward else p for p in mades} - {0, after}
    if repeating < 1 or not first_row:
        return None
    return MarkerPlan(*_spread(first_row), not moves, tuple(moves))


def _size_of(found: Pace) -> int:
    return max(_uses(found.passes[0]), _makes(found.passes[0]))


def _spread(places: Sequence[int]) -> tuple[int, int]:
    if len(places) < 2:
        return places[0], places[0]
    return places[0], places[1] - places[0]


def _carried(held: set[int], plan: Plan, before: int, rightward: bool) -> set[int] | None:
    """The markers after a row without a repeat of its own; None when a stitch takes loops from
    both sides of one."""
    along = {before - p if rightward else p for p in held}
    used = made = 0
    places: dict[int, int] = {}
    for done in plan.stitches:
        places.setdefault(used, made)
        used += done.stitch.uses
        made += done.stitch.makes
    places.setdefault(used, made)
    if any(p not in places for p in along):
        return None
    after = made + before - used
    return {after - places[p] if rightward else places[p] for p in along}
