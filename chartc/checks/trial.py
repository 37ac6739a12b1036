"""Rows worked on trial: where does the text first go wrong, and with a change of it?

A chain is a run of instructions that hang together: all sections that begin with a cast-on,
one after the other, or a stitch pattern by itself. It is worked in lanes: one for each size,
or, for a stitch pattern, one for each number of stitches it is tried on. The counting itself
does the work; here it only stops at the first trouble.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from chartc.checks.troubles import COUNT_TROUBLES
from chartc.counting import Event
from chartc.counting.flow import Piece
from chartc.counting.lin import Number
from chartc.counting.needle import Needle
from chartc.counting.ops import whole
from chartc.counting.records import Readings, RowBook
from chartc.pattern import NOWHERE, Again, CastOn, Instruction, Row, Stated
from chartc.source import Span

HORIZON = 400  # instructions past a trouble that have to come out with a change


class Met(Exception):
    """The first trouble of a lane."""

    def __init__(self, event: Event, key: tuple[int, ...]) -> None:
        super().__init__(event.kind)
        self.event = event
        self.key = key


class Spent(Exception):
    """More rows have been worked on trial than was allowed for."""


@dataclass(slots=True)
class Purse:
    """How many rows may still be worked on trial: a measure of effort that is the same on
    every machine."""

    rows: int


RowPlace = tuple[int, int, int | None]


class Seen(set[RowPlace]):
    """The rows worked before a link of a chain, without a list of them for each link."""

    def __init__(self, first: dict[RowPlace, int], start: int) -> None:
        super().__init__()
        self.first_link = first
        self.start = start

    def __contains__(self, place: object) -> bool:
        return super().__contains__(place) or self.first_link.get(place, self.start) < self.start  # type: ignore[call-overload]


@dataclass(frozen=True, slots=True)
class State:
    """A lane before an instruction."""

    needle: Needle
    doubt: bool
    others: tuple[int, ...]
    any_side: bool
    started: bool
    muted: bool


class Trial(Piece):
    """A piece that stops at its first trouble, but for the troubles already known."""

    def __init__(
        self,
        book: RowBook,
        size: int,
        gauge: Fraction | None,
        readings: Readings,
        known: dict[tuple[str, Span], bool],
        purse: Purse,
    ) -> None:
        super().__init__(book, size, gauge, readings)
        self.stop_at_trouble = True
        self.known_troubles = known
        self.purse = purse
        self.muted = False  # after a known trouble, until a stated count comes out
        self.stated_hold = True
        self.confirmed = False  # a stated count came out in this instruction

    def tell(
        self,
        kind: str,
        span: Span,
        row: Row | None = None,
        words: str = "",
        ident: int = -1,
        at: Span = NOWHERE,
        data: dict[str, int] | None = None,
        trouble: bool = True,
    ) -> None:
        if trouble and kind in COUNT_TROUBLES and self.stop_at_trouble:
            mute = self.known_troubles.get((kind, span))
            if mute is not None:
                self.muted = self.muted or mute
            elif not self.muted:
                event = Event(
                    kind, span, row, self.size, data or {}, self.section, self.pass_number,
                    ident, words, at,
                )  # fmt: skip
                raise Met(event, self.key)
        super().tell(kind, span, row, words, ident, at, data, trouble)

    def row(self, row: Row, counted: bool = True) -> None:
        self.purse.rows -= 1
        if self.purse.rows < 0:
            raise Spent
        super().row(row, counted)

    def check_stated(
        self,
        stated: Sequence[Stated],
        row: Row | None,
        before: int | None,
        times: dict[int, Number] | None,
        span: Span,
    ) -> None:
        if not self.stated_hold:
            return
        known = self.needle.known
        total = self.stated_total(stated)
        right = known and total is not None and whole(self.needle.total()) == total
        super().check_stated(stated, row, before, times, span)
        if right:
            self.confirmed = True
            self.muted = False

    def cast_on(self, it: CastOn) -> None:
        super().cast_on(it)
        self.muted = False

    def state(self) -> State:
        return State(
            self.needle.copy(), self.doubt, self.others, self.any_side, self.started, self.muted
        )

    def resume(self, state: State) -> None:
        self.needle = state.needle.copy()
        self.doubt, self.others, self.any_side = state.doubt, state.others, state.any_side
        self.started, self.muted = state.started, state.muted


@dataclass(frozen=True, slots=True)
class Link:
    """An instruction of a chain and the section it belongs to."""

    section: int
    index: int
    instruction: Instruction


@dataclass(slots=True)
class Lane:
    """A size, or a number of stitches, a chain is worked for.

    number   stitches to begin with, for a stitch pattern; None when it casts on itself
    states   before each instruction, as far as it has been worked
    anchors  whether a stated count came out in each instruction
    met      the first trouble, at the link `stopped`
    """

    size: int
    number: int | None
    states: list[State]
    anchors: list[bool]
    met: Met | None = None
    stopped: int = 0

    @property
    def progress(self) -> tuple[int, tuple[int, ...]]:
        """How far the lane comes; larger is farther."""
        if self.met is None:
            return (1 << 60, ())
        return (self.stopped, self.met.key)


@dataclass(frozen=True, slots=True)
class Outcome:
    """How far a lane comes with a change."""

    stopped: int
    key: tuple[int, ...]
    met: Met | None

    @property
    def progress(self) -> tuple[int, tuple[int, ...]]:
        if self.met is None:
            return (1 << 60, ())
        return (self.stopped, self.key)


class Chain:
    """A chain of instructions and its lanes."""

    def __init__(
        self,
        links: Sequence[Link],
        lanes: Sequence[tuple[int, int | None]],
        gauge: Fraction | None,
        readings: Readings,
        stated: bool = True,
    ) -> None:
        self.links = list(links)
        self.stated = stated  # False: tried on other numbers, so counts stated do not hold
        self.gauge = gauge
        self.readings = readings
        self.book = RowBook()
        # troubles already told, and whether the count is then not trusted until it is confirmed
        self.known: dict[tuple[str, Span], bool] = {}
        self.lanes = [Lane(size, number, [], []) for size, number in lanes]
        self.first_worked: dict[RowPlace, int] = {}
        self.worked_in: dict[int, list[int]] = {}  # links by the rows (their steps) in them
        for at, link in enumerate(self.links):
            for row in rows_within(link.instruction):
                self.worked_in.setdefault(id(row.steps), []).append(at)
                place = (row.span.start, row.span.end, row.number)
                self.first_worked.setdefault(place, at)

    def trial(self, lane: Lane, start: int, purse: Purse) -> Trial:
        trial = Trial(self.book, lane.size, self.gauge, self.readings, self.known, purse)
        trial.seen = Seen(self.first_worked, start)
        trial.stated_hold = self.stated
        if lane.number is not None:
            trial.needle = Needle(lane.number)
            trial.started = True
        return trial

    def run(self, lane: Lane, start: int, purse: Purse) -> None:
        """Work a lane from a link on, keeping its states, up to the first trouble or the end."""
        trial = self.trial(lane, start, purse)
        if start:
            trial.resume(lane.states[start])
        del lane.states[start:]
        del lane.anchors[start:]
        lane.met = None
        for at in range(start, len(self.links)):
            lane.states.append(trial.state())
            lane.stopped = at
            link = self.links[at]
            trial.confirmed = False
            try:
                self.step(trial, link, at, link.instruction)
            except Met as met:
                lane.met = met
                lane.anchors.append(False)
                return
            lane.anchors.append(trial.confirmed)

    @staticmethod
    def step(trial: Trial, link: Link, at: int, instruction: Instruction) -> None:
        trial.section = link.section
        trial.key = (at,)
        trial.pass_number = 1
        trial.instruction(instruction)

    def outcome(
        self,
        lane: Lane,
        start: int,
        changed: Callable[[Instruction], Instruction],
        purse: Purse,
    ) -> Outcome:
        """Work a lane from a link on with changed instructions, to its first trouble or far past
        the place where it stops now."""
        trial = self.trial(lane, start, purse)
        trial.resume(lane.states[start])
        end = min(len(self.links), max(start, lane.stopped) + HORIZON)
        for at in range(start, end):
            link = self.links[at]
            try:
                self.step(trial, link, at, changed(link.instruction))
            except Met as met:
                return Outcome(at, met.key, met)
        return Outcome(len(self.links), (), None)


def rows_within(it: Instruction) -> list[Row]:
    """The rows of an instruction, those of repetitions too."""
    from chartc.pattern import Ease, Plain

    out: list[Row] = []
    stack: list[Instruction] = [it]
    while stack:
        one = stack.pop()
        if isinstance(one, Row):
            out.append(one)
        elif isinstance(one, Again):
            stack.extend(reversed(one.rows))
        elif isinstance(one, Ease) and one.shaping is not None:
            out.append(one.shaping)
        elif isinstance(one, Plain):
            continue
    return out
