"""A slow second opinion: knits stitch by stitch on lists.

Shares nothing with `chartc.counting` but the records of `chartc.pattern`. Stitches are the
letter "s" in a list, markers are other strings; every stitch is taken off one list and put on
the other. Open repeats are tried by working them once, twice, three times ... until the row
comes out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from chartc.pattern import (
    Again,
    CastOn,
    Change,
    Ease,
    Fill,
    Finish,
    Hold,
    Instruction,
    Join,
    Loose,
    Mark,
    Off,
    On,
    Plain,
    Reach,
    Repeat,
    Row,
    Step,
    Take,
    Turn,
    UntilKind,
    Work,
)

S = "s"
GAP = "<gap>"
SPLIT = "<split>"
START = "<start>"
PART = "<part>"  # between the stitches in work and those taken along again


class DoesNotWork(Exception):
    """The text does not come out; `row` counts the rows worked before."""

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why
        self.row = -1


class TooFew(DoesNotWork):
    """The stitches run out."""


class TooLarge(Exception):
    """More stitches than this slow way can handle: no opinion."""


@dataclass
class State:
    left: list[str] = field(default_factory=list)  # next stitch first
    right: list[str] = field(default_factory=list)  # last stitch worked last
    held: list[tuple[str, list[str]]] = field(default_factory=list)
    ready: bool = False  # turned already: the next row just goes on
    wrong_side: bool = True
    alive: bool = True
    used: int = 0
    made: int = 0
    at_start: int = 0
    to_marker: int | None = None  # stitches left to the marker the text names
    touched: bool = False  # something was worked in this row

    def copy(self) -> State:
        return State(
            self.left[:], self.right[:], [(n, h[:]) for n, h in self.held], self.ready,
            self.wrong_side, self.alive, self.used, self.made, self.at_start, self.to_marker,
            self.touched,
        )  # fmt: skip

    @property
    def count(self) -> int:
        return self.left.count(S) + self.right.count(S)


def stops(item: str) -> bool:
    return item == SPLIT or item.startswith(START)


@dataclass
class Line:
    """One row as worked."""

    before: int
    used: int
    made: int
    after: int


class Oracle:
    """Works a flow of instructions in one size."""

    def __init__(self, size: int = 0, limit: int = 1500) -> None:
        self.size = size
        self.state = State(alive=False)
        self.lines: list[Line] = []
        self.limit = limit

    # -------------------------------------------------------------- flow

    def run(self, flow: Sequence[Instruction], start: int | None = None) -> list[Line]:
        """Work everything. Raises DoesNotWork."""
        if start is not None:
            self.state = State(right=[S] * start)
        try:
            for it in flow:
                self.instruction(it)
        except DoesNotWork as no:
            no.row = len(self.lines)
            raise
        return self.lines

    def instruction(self, it: Instruction) -> None:
        size = self.size
        if isinstance(it, Row):
            if it.only is None or size in it.only:
                self.row(it)
        elif isinstance(it, CastOn):
            self.state = State(right=[S] * it.count.at(size), held=self.state.held)
        elif isinstance(it, Again):
            if it.until is not None and it.until.kind is UntilKind.COUNT:
                target = it.until.num.at(size)
                way = 0
                while self.state.count != target:
                    if len(self.lines) > 4 * self.limit:
                        raise TooLarge
                    before = self.state.count
                    for inner in it.rows:
                        self.instruction(inner)
                    after = self.state.count
                    if (before < target < after) or (after < target < before):
                        raise DoesNotWork("stepped over")
                    if after == before and self.state.count != target:
                        way += 1
                        if way > 3:
                            raise DoesNotWork("never")
                    if (before < target and after < before) or (before > target and after > before):
                        raise DoesNotWork("wrong way")
                return
            times = it.times.at(size) if it.times is not None else 1
            for number in range(1, times + 1):
                block = it.rows
                if number == times and it.last_rows:
                    block = block[: it.last_rows]
                for inner in block:
                    self.instruction(inner)
        elif isinstance(it, Plain):
            rows = it.rows.at(size) if it.rows is not None else 1
            rhythm = it.rhythm or (it.steps,)
            for i in range(rows):
                steps = rhythm[i % len(rhythm)]
                self.row(Row("", None, "", it.in_round, steps, (), it.span, it.span, it.span))
        elif isinstance(it, Ease):
            state = self.state
            times = it.times.at(size) if it.times is not None else 0
            for _ in range(times):
                by = it.by.at(size)
                if by < 0 and state.count < -2 * by:
                    raise DoesNotWork("too few to shape")
                if by > 0:
                    state.right.extend([S] * by)
                else:
                    for _ in range(-by):
                        state.right.remove(S)
        elif isinstance(it, Loose):
            self.loose(it)
        elif isinstance(it, Finish):
            held = self.state.held
            if it.kind == "hold":
                held = [*held, (it.name, [S] * self.state.count)]
            self.state = State(held=held, alive=False)
        else:
            assert isinstance(it, Join)

    def loose(self, it: Loose) -> None:
        state = self.state
        if any(not isinstance(s, Mark | Take | On) for s in it.steps):
            self.open(state, False)
            state.ready = True
        for found in self.work(it.steps, state, False):
            self.state = found
            return
        raise DoesNotWork("loose")

    # -------------------------------------------------------------- rows

    def open(self, state: State, in_round: bool, bridges: bool = False) -> None:
        """Stitches to the left needle. `bridges`: the row works over a split before it."""
        if state.ready:
            state.ready = False
            return
        if in_round:
            if not any(x.startswith(START) for x in state.left + state.right):
                state.wrong_side = False
            if state.left and state.left[0].startswith(START) and state.wrong_side:
                self.turn(state, True, gap=False)
                return
            if state.left and state.left[0].startswith(START):
                name = state.left[0][len(START) :]
                state.left = state.left[1:] + state.right
                state.right = []
                if name:
                    state.left.append(name[1:])
                return
            state.left = state.left + state.right
            state.right = []
            if state.left and state.left[0] not in (S, GAP, SPLIT):
                state.left.append(state.left.pop(0))
            return
        if SPLIT in state.left:
            at = state.left.index(SPLIT)
            state.held.append(("", [x for x in state.left[at:] if x == S]))
            state.left = state.left[:at]
        state.left, state.right = state.right[::-1], state.left[::-1]
        state.wrong_side = not state.wrong_side
        if SPLIT in state.left:
            at = state.left.index(SPLIT)
            if bridges:
                state.left[at] = GAP
                return
            state.held.append(("", [x for x in state.left[at:] if x == S]))
            state.left = state.left[:at]

    def row(self, row: Row) -> None:
        state = self.state
        if not state.alive:
            raise DoesNotWork("no stitches")
        bridges = any(isinstance(step, On) for step in row.steps[1:-1])
        try:
            self.open_and_work(row, state.copy(), bridges)
        except TooFew:
            # stitches that wait without a name are taken along again
            for at in range(len(state.held) - 1, -1, -1):
                if state.held[at][0] or any(x != S for x in state.left):
                    continue
                fuller = state.copy()
                _, waiting = fuller.held.pop(at)
                if not fuller.left and not fuller.ready:
                    if row.in_round:
                        fuller.right.extend([PART, *waiting])
                    else:
                        fuller.right[:0] = [*waiting, PART]
                else:
                    fuller.left.extend([PART, *waiting])
                try:
                    self.open_and_work(row, fuller, bridges)
                    return
                except DoesNotWork:
                    continue
            raise

    def open_and_work(self, row: Row, state: State, bridges: bool) -> None:
        self.open(state, row.in_round, bridges)
        before = state.count
        if before > self.limit:
            raise TooLarge
        state.used = state.made = 0
        state.at_start = before
        state.to_marker = None
        state.touched = False
        if not row.steps:
            while state.left and not stops(state.left[0]):
                item = state.left.pop(0)
                if item == S:
                    state.used += 1
                    state.made += 1
                if item != GAP:
                    state.right.append(item)
            self.lines.append(Line(before, state.used, state.made, state.count))
            return
        there = self.ahead(state).count(S)
        ends_turned = bool(row.steps) and isinstance(row.steps[-1], Turn)
        for found in self.work(row.steps, state, row.in_round):
            if not ends_turned:
                rest = [x for x in self.ahead(found) if x == S]
                if rest:
                    continue
                while found.left and not stops(found.left[0]):
                    mark = found.left.pop(0)
                    if mark != GAP:
                        found.right.append(mark)
            found.left = [x for x in found.left if x != PART]
            found.right = [x for x in found.right if x != PART]
            self.state = found
            self.lines.append(Line(before, found.used, found.made, found.count))
            return
        if there < self.least(row.steps):
            raise TooFew("row")
        raise DoesNotWork("row")

    def least(self, steps: Sequence[Step]) -> int:
        """The fewest stitches a row without markers can be worked on."""
        n = 0
        for step in steps:
            if isinstance(step, Repeat) and step.target is not None:
                n += literal(step.body, self.size) * step.least
            if isinstance(step, Repeat | Fill) and step.target is not None:
                if step.target.reach is Reach.LAST:
                    rest = self.least(steps[steps.index(step) + 1 :])
                    return n + max(step.target.n.at(self.size), rest)
            elif isinstance(step, Off) and step.count is not None and step is not steps[-1]:
                n += step.count.at(self.size)
            else:
                n += literal((step,), self.size)
        return n

    def ahead(self, state: State) -> list[str]:
        """What lies ahead in this row."""
        out: list[str] = []
        for item in state.left:
            if stops(item):
                break
            out.append(item)
        return out

    # -------------------------------------------------------------- steps

    def work(self, steps: Sequence[Step], state: State, in_round: bool) -> Iterator[State]:
        """Every way the steps can be worked, the preferred first. Changes `state`."""
        if not steps:
            yield state
            return
        step, rest = steps[0], steps[1:]
        if isinstance(step, Repeat):
            yield from self.repeat(step, rest, state, in_round)
            return
        try:
            self.step(step, rest, state, in_round)
        except DoesNotWork:
            return
        yield from self.work(rest, state, in_round)

    def repeat(
        self, step: Repeat, rest: Sequence[Step], state: State, in_round: bool
    ) -> Iterator[State]:
        size = self.size
        ends: list[Sequence[Step]] = [step.body]
        if step.last is not None:
            ends = [step.last]
            if step.cut:
                ends = [
                    (*step.body[:keep], *step.last) for keep in range(len(step.body) - 1, -1, -1)
                ]
        if step.target is None:
            times = step.times.at(size) if step.times is not None else 1
            for end in ends:
                whole: list[Step] = []
                for number in range(1, times + 1):
                    whole.extend(end if number == times else step.body)
                yield from self.work((*whole, *rest), state.copy(), in_round)
            return
        target = step.target
        opens = [s for s in rest if isinstance(s, Repeat | Fill) and s.target is not None]
        if target.reach is Reach.END and opens and opens[0].target is not None:
            follows = opens[0]
            if opens[0].target.reach is Reach.END:
                if isinstance(follows, Repeat):
                    return
                yield from self.as_often_as_can_be(step, rest, state, in_round)
                return
        least = max(0, step.least - (1 if step.last is not None else 0))
        need = literal(rest, size)
        for end in ends:
            trial = state.copy()
            if target.reach in (Reach.MARKER, Reach.BEFORE_MARKER, Reach.PAST_MARKER):
                self.leave_marker(trial, in_round)
            try:
                goal = self.goal(target.reach, target.n.at(size), trial, in_round)
            except DoesNotWork:
                continue
            number = 0
            while True:
                left = self.goal_left(trial, goal)
                if left < 0:
                    break
                if step.last is not None:
                    if number >= least:
                        for done in self.all(end, trial.copy(), in_round):
                            if self.goal_left(done, goal) == self.due(target.reach, need):
                                self.at_goal(done, target.reach, target.n.at(size))
                                yield from self.work(rest, done, in_round)
                                return
                elif number >= least and left == self.due(target.reach, need):
                    self.at_goal(trial, target.reach, target.n.at(size))
                    yield from self.work(rest, trial, in_round)
                    return
                if left == 0 and number > least:
                    break
                number += 1
                before = (trial.left[:], trial.used)
                found = next(self.all(step.body, trial, in_round), None)
                if found is None or (found.left, found.used) == before:
                    break
                trial = found

    def as_often_as_can_be(
        self, step: Repeat, rest: Sequence[Step], state: State, in_round: bool
    ) -> Iterator[State]:
        """A repeat to the end before "k to end": whole times, the rest takes what is left."""
        need = literal(rest, self.size)
        trial, number = state.copy(), 0
        while True:
            found = next(self.all(step.body, trial.copy(), in_round), None)
            if found is None or self.ahead(found).count(S) < need or found.used == trial.used:
                break
            trial, number = found, number + 1
        if number >= step.least:
            yield from self.work(rest, trial, in_round)

    def due(self, reach: Reach, need: int) -> int:
        """Stitches that must be left when the repeat stops."""
        return need if reach is Reach.END else 0

    def all(self, steps: Sequence[Step], state: State, in_round: bool) -> Iterator[State]:
        return self.work(steps, state, in_round)

    def goal(self, reach: Reach, n: int, state: State, in_round: bool) -> int:
        """How many stitches of the whole row lie beyond the target."""
        ahead = self.ahead(state)
        stitches = ahead.count(S)
        if reach is Reach.END:
            return 0
        if reach is Reach.LAST:
            if n > stitches:
                raise DoesNotWork("last")
            return n
        if reach is Reach.OVER:
            return stitches - n
        to = self.to(reach, n, state, in_round)
        return stitches - to

    def goal_left(self, state: State, goal: int) -> int:
        return self.ahead(state).count(S) - goal

    def at_goal(self, state: State, reach: Reach, n: int) -> None:
        if reach is Reach.MARKER:
            state.to_marker = 0
        elif reach is Reach.BEFORE_MARKER:
            state.to_marker = n

    def leave_marker(self, state: State, in_round: bool) -> None:
        """Standing at a marker already reached, "to marker" means the next one."""
        if state.to_marker == 0:
            marks = [x for x in state.left if x not in (S, GAP, SPLIT)]
            if len(marks) > 1 or (in_round and marks):
                while state.left and state.left[0] != S:
                    mark = state.left.pop(0)
                    if mark == GAP:
                        continue
                    state.right.append(mark)
                    break
        state.to_marker = None

    def to(self, reach: Reach, n: int, state: State, in_round: bool) -> int:
        """Stitches up to a target."""
        left = state.left
        ahead = self.ahead(state)
        if reach is Reach.END:
            return ahead.count(S)
        if reach is Reach.LAST:
            d = ahead.count(S) - n
        elif reach is Reach.OVER:
            return n
        elif reach is Reach.UNTIL:
            right = state.right
            if SPLIT in right:
                right = right[len(right) - right[::-1].index(SPLIT) :]
            d = n - right.count(S)
        elif reach in (Reach.GAP, Reach.BEFORE_GAP, Reach.PAST_GAP):
            if GAP not in left:
                raise DoesNotWork("no gap")
            at = left[: left.index(GAP)].count(S)
            if reach is Reach.PAST_GAP:
                return at + n
            d = at - (n if reach is Reach.BEFORE_GAP else 0)
        elif reach in (Reach.CENTRE, Reach.BEFORE_CENTRE):
            at = -1
            seen = 0
            for i, item in enumerate(ahead):
                if item != S:
                    if i + 2 < len(ahead) and ahead[i + 1] == S and ahead[i + 2] not in (S,):
                        at = seen
                        break
                    continue
                seen += 1
            if at < 0:
                if state.at_start % 2 == 0:
                    raise DoesNotWork("no centre")
                at = ahead.count(S) - (state.at_start - 1) // 2 - 1
            d = at - n
        else:
            place = None
            seen = 0
            for item in left:
                if item == S:
                    seen += 1
                elif item == SPLIT:
                    break
                elif item != GAP:
                    place = seen
                    break
            if place is None:
                if not in_round:
                    raise DoesNotWork("no marker")
                place = ahead.count(S)
            if reach is Reach.PAST_MARKER:
                return place + n
            d = place - (n if reach is Reach.BEFORE_MARKER else 0)
        if d < 0:
            raise DoesNotWork("past")
        return d

    def step(self, step: Step, rest: Sequence[Step], state: State, in_round: bool) -> None:
        size = self.size
        if isinstance(step, Work):
            for _ in range(step.times.at(size)):
                self.stitch(state, step.stitch.uses, step.stitch.makes)
        elif isinstance(step, Fill):
            uses = 1 if step.stitch is None else step.stitch.uses
            makes = 1 if step.stitch is None else step.stitch.makes
            reach, n = step.target.reach, step.target.n.at(size)
            if reach in (Reach.MARKER, Reach.BEFORE_MARKER, Reach.PAST_MARKER):
                self.leave_marker(state, in_round)
            d = self.to(reach, n, state, in_round)
            kept = state.to_marker
            if uses == 0:
                if d:
                    raise DoesNotWork("nothing used")
            elif d % uses:
                raise DoesNotWork("does not divide")
            else:
                for _ in range(d // uses):
                    self.stitch(state, uses, makes)
            state.to_marker = kept
            self.at_goal(state, reach, n)
        elif isinstance(step, Mark):
            self.mark(step, state, in_round)
        elif isinstance(step, On):
            for _ in range(step.count.at(size)):
                self.stitch(state, 0, 1)
        elif isinstance(step, Turn):
            if step.leaving is not None and self.ahead(state).count(S) != step.leaving.at(size):
                raise DoesNotWork("leaving")
            self.turn(state, in_round)
            state.ready = not rest
            state.to_marker = None
        elif isinstance(step, Off):
            self.off(step, rest, state, in_round)
        elif isinstance(step, Hold):
            if step.count is not None:
                n = step.count.at(size)
            elif step.target is None:
                n = self.ahead(state).count(S)
            else:
                n = self.to(step.target.reach, step.target.n.at(size), state, in_round)
            self.leave(state, n)
            state.held.append((step.name, [S] * n))
        elif isinstance(step, Take):
            self.take(step, state)
        elif isinstance(step, Change):
            by = step.by.at(size)
            n = self.ahead(state).count(S) - literal(rest, size)
            if n < (by if by >= 0 else -2 * by):
                raise DoesNotWork("cannot spread")
            if any(x not in (S, GAP) for x in self.ahead(state)):
                raise NotImplementedError
            state.left = state.left[len(state.left) - literal(rest, size) :]
            state.right.extend([S] * (n + by))
            state.used += n
            state.made += n + by
        else:
            raise NotImplementedError(step)

    def stitch(self, state: State, uses: int, makes: int) -> None:
        """One stitch. Markers at hand are passed when a stitch beyond them is needed; those
        inside a decrease come to lie after it."""
        taken = 0
        crossed: list[str] = []
        while taken < uses:
            # counted stitches go on past the start of the round
            if not state.left or state.left[0] == SPLIT:
                raise DoesNotWork("too few")
            item = state.left.pop(0)
            if item == S:
                taken += 1
            elif item == GAP:
                continue
            elif taken == 0:
                state.right.append(item)
            else:
                crossed.append(item)
        state.right.extend([S] * makes)
        state.right.extend(crossed)
        state.used += uses
        state.made += makes
        if state.to_marker is not None:
            state.to_marker = state.to_marker - uses if state.to_marker >= uses else None
        state.touched = True

    def mark(self, step: Mark, state: State, in_round: bool) -> None:
        left, right = state.left, state.right
        state.to_marker = None
        if step.op == "place":
            right.append(step.name or "<m>")
            return
        while left and left[0] == GAP:
            left.pop(0)
        if in_round and not right and (not left or left[0] == S):
            if step.op == "remove" and left and left[-1] not in (S, GAP, SPLIT):
                left.pop()
            return
        if left and left[0] not in (S, SPLIT):
            mark = left.pop(0)
            if step.op == "slip":
                right.append(mark)
            return
        if step.op == "remove" and right and right[-1] not in (S, GAP, SPLIT):
            right.pop()
            return
        if in_round and not [x for x in self.ahead(state) if x == S]:
            return
        raise DoesNotWork("no marker here")

    def turn(self, state: State, in_round: bool, gap: bool = True) -> None:
        state.wrong_side = not state.wrong_side
        if not in_round:
            some = S in state.left
            state.left, state.right = state.right[::-1], state.left[::-1]
            if some:
                state.right.append(GAP)
            return
        left = state.left[::-1]
        if any(x.startswith(START) for x in (*state.left, *state.right)):
            around = state.right[::-1] + left
        else:
            mark = START
            if left and left[0] not in (S, GAP, SPLIT):
                mark = START + ":" + left.pop(0)
            around = [*state.right[::-1], mark, *left]
        state.left = [*around, GAP] if gap else around
        state.right = []

    def leave(self, state: State, n: int) -> None:
        """n stitches leave the left needle; markers among them go with them."""
        kept: list[str] = []
        gone = 0
        while gone < n:
            if not state.left or stops(state.left[0]):
                raise DoesNotWork("too few")
            item = state.left.pop(0)
            if item == S:
                gone += 1
            elif gone == 0 and item != GAP:
                kept.append(item)
        state.right.extend(kept)
        state.used += n
        state.to_marker = None

    def off(self, step: Off, rest: Sequence[Step], state: State, in_round: bool) -> None:
        size = self.size
        if step.target is not None:
            n = self.to(step.target.reach, step.target.n.at(size), state, in_round)
        elif step.count is not None:
            n = step.count.at(size)
        else:
            n = self.ahead(state).count(S)
        right = state.right
        if SPLIT in right:
            right = right[len(right) - right[::-1].index(SPLIT) :]
        behind = right.count(S)
        self.leave(state, n)
        more = self.ahead(state).count(S)
        if not in_round and n and behind and more:
            state.right.append(SPLIT)
        if rest and more:
            follows = rest[0]
            if isinstance(follows, Fill) and (
                follows.target.reach in (Reach.END, Reach.LAST)
                and (follows.stitch is None or follows.stitch.uses == 1)
            ):
                return
            self.stitch(state, 1, 1)

    def take(self, step: Take, state: State) -> None:
        names = [name for name, _ in state.held]
        if step.name in names:
            at = len(names) - 1 - names[::-1].index(step.name)
        elif not step.name and names:
            at = len(names) - 1
        else:
            raise DoesNotWork("not held")
        name, have = state.held[at]
        n = len(have) if step.count is None else step.count.at(self.size)
        if n > len(have):
            raise DoesNotWork("held too few")
        if n == len(have):
            state.held.pop(at)
        else:
            state.held[at] = (name, have[n:])
        state.made += n
        if step.worked:
            state.right.extend([S] * n)
        else:
            state.left[:0] = [S] * n


def literal(steps: Sequence[Step], size: int) -> int:
    """Stitches the rest of a row surely takes (open steps: the least they may)."""
    n = 0
    for step in steps:
        if isinstance(step, Work):
            n += step.stitch.uses * step.times.at(size)
        elif isinstance(step, Repeat):
            if step.target is None:
                times = step.times.at(size) if step.times is not None else 1
                if step.last is not None and times:
                    n += literal(step.last, size)
                    times -= 1
                n += literal(step.body, size) * times
            elif step.target.reach is Reach.LAST:
                return n + step.target.n.at(size)
        elif isinstance(step, Fill) and step.target.reach is Reach.LAST:
            return n + step.target.n.at(size)
        elif isinstance(step, Off | Hold) and step.count is not None:
            n += step.count.at(size)
    return n


def works(flow: Sequence[Instruction], n: int, size: int = 0) -> bool:
    """Whether the flow comes out on n stitches."""
    return opinion(flow, n, size) is not False


def opinion(flow: Sequence[Instruction], n: int, size: int = 0) -> bool | None:
    """Whether the flow comes out on n stitches; None when it grows too large to tell."""
    try:
        Oracle(size).run(flow, n)
    except DoesNotWork:
        return False
    except TooLarge:
        return None
    return True
