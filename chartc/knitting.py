"""A pattern unrolled into rows of single stitches, ready to be knitted into a fabric.

The rows are worked by the counting itself, so what is planned here is what was counted; only
now each stitch is written down, with the repeats it was worked in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from chartc.counting import count
from chartc.counting.context import Ctx, GiveUp
from chartc.counting.flow import Piece
from chartc.counting.machine import RowRun
from chartc.counting.needle import Needle
from chartc.counting.ops import Variant, whole
from chartc.counting.records import Key, Readings, RowBook
from chartc.counting.repeating import Once
from chartc.counting.whole import begins_free
from chartc.fabric import Done, Plan
from chartc.pattern import (
    NOWHERE,
    Again,
    CastOn,
    Change,
    Ease,
    Instruction,
    Loose,
    Num,
    Pattern,
    Plain,
    Row,
)
from chartc.source import Span
from chartc.stitch import Stitch
from chartc.vocabulary import load_vocabulary

MOST_PLAIN = 8  # rows told in prose that are planned when the rows are wanted once

HELD = Stitch(
    "hold", 1, 0, "bind off", title="put on a holder", us="hold 1", uk="hold 1",
    how="Slip the stitch onto a holder without working it.", source="common practice, no source",
)  # fmt: skip
TAKEN = Stitch(
    "take", 0, 1, "cast on", ("k",), title="take from the holder", us="take 1", uk="take 1",
    how="Put the held stitch back on the needle and work it.",
    source="common practice, no source",
)  # fmt: skip
AS_SET = Stitch("as set", 1, 1, "plain", ("k",), (0,))  # always replaced before it gets out


class TooManyStitches(Exception):
    """More stitches than were allowed for; `limit` is that number."""

    def __init__(self, limit: int) -> None:
        super().__init__(f"more than {limit} stitches")
        self.limit = limit


def plans(
    pattern: Pattern,
    sections: int | Sequence[int],
    size: int = 0,
    *,
    cast_on: int | None = None,
    passes: str = "once",
    row_gauge: Fraction | None = None,
    limit_stitches: int = 2_000_000,
) -> tuple[int, list[Plan]]:
    """The rows of one or more sections as plans for `fabric.knit`.

    sections   index of a section, or several that follow one another
    size       0-based
    cast_on    stitches to begin with instead of those the text names; for a stitch pattern
               without a number of its own, the number the counting shows it on when None
    passes     "once": rows as written once (rows worked "again" are left out, a block that is
               only told as a repetition is worked once); "all": everything, in full
    row_gauge  rows per 100 mm, for lengths

    Returns the number of stitches the first row is worked on, and the plans. Rows after one
    that cannot be counted are left out; so are rows of a second piece. Rows in which the
    count does not come out are planned as written, so `knit` raises DoesNotFit where the
    stitches run out. Raises TooManyStitches, and ValueError for a section that is not there.
    """
    wanted = [sections] if isinstance(sections, int) else list(sections)
    if not wanted or any(not 0 <= i < len(pattern.sections) for i in wanted):
        raise ValueError(f"no such section: {wanted}")
    readings = _readings(pattern, row_gauge)
    planner = _Planner(RowBook(), size, row_gauge, readings, passes == "once", limit_stitches)
    first = wanted[0]
    if begins_free(pattern, first):
        n = cast_on if cast_on is not None else _free_number(pattern, first, row_gauge)
        planner.needle = Needle(n)
        planner.started = True
        planner.leaps = False
    else:
        planner.planning = False
        for i in range(first):
            if not begins_free(pattern, i):
                planner.run(pattern.sections[i].flow, i)
        planner.planning = True
        planner.leaps = False
        planner.cast_on_number = cast_on
    planner.begin()
    for i in wanted:
        if planner.over:
            break
        planner.name = pattern.sections[i].name
        planner.run(pattern.sections[i].flow, i)
    return planner.first_count, planner.plans


def _readings(pattern: Pattern, gauge: Fraction | None) -> Readings:
    """Which rows the counting reads otherwise than usual."""
    from chartc.counting.whole import chosen_readings

    return chosen_readings(pattern, gauge)


def _free_number(pattern: Pattern, section: int, gauge: Fraction | None) -> int:
    shown = count(pattern, gauge).sections[section].shown_on
    return shown if shown is not None else 1


class _Planner(Piece):
    """A piece that writes down every stitch."""

    def __init__(
        self,
        book: RowBook,
        size: int,
        gauge: Fraction | None,
        readings: Readings,
        once: bool,
        limit: int,
    ) -> None:
        super().__init__(book, size, gauge, readings)
        self.once = once
        self.limit = limit
        self.stitches = 0
        self.plans: list[Plan] = []
        self.planning = True
        self.over = False
        self.first_count = 0
        self.cast_on_number: int | None = None
        self.name = ""
        self.faces: list[str] = []  # of the loops, right edge first, seen from the right side
        self.aside: list[tuple[int, str]] = []  # loops waiting beyond a split, and their edge
        vocabulary = load_vocabulary()
        knit, purl = vocabulary.find("k"), vocabulary.find("p")
        assert knit is not None and purl is not None
        self.knit, self.purl = knit, purl
        self.stand = {
            "set": AS_SET,
            "bo": vocabulary.find("bo") or replace(HELD, key="bo"),
            "co": vocabulary.find("co") or replace(TAKEN, key="co"),
            "inc": vocabulary.find("m1") or replace(TAKEN, key="m1", kind="increase"),
            "dec": vocabulary.find("k2tog") or Stitch("k2tog", 2, 1, "decrease", ("k",), (1, 0)),
            "hold": HELD,
            "take": TAKEN,
        }
        self.worker = self.write_down

    def begin(self) -> None:
        needle = self.needle
        if needle.alive and needle.known:
            self.first_count = whole(needle.total())
        self.faces = ["k"] * self.first_count

    # -------------------------------------------------------------- flow

    def instruction(self, it: Instruction) -> None:
        if self.over:
            return
        super().instruction(it)

    def cast_on(self, it: CastOn) -> None:
        if not self.planning:
            super().cast_on(it)
            return
        if self.plans:
            self.over = True
            return
        if self.cast_on_number is not None:
            it = replace(it, count=Num((self.cast_on_number,), it.count.span))
        super().cast_on(it)
        self.begin()

    def again(self, it: Again) -> None:
        if self.planning and self.once:
            if it.more:
                return
            it = replace(it, times=Num((1,)), until=None, last_rows=0)
        super().again(it)

    def plain(self, it: Plain) -> None:
        if self.planning and self.once:
            rows = max(2, len(it.rhythm)) if it.rows is None else it.rows.at(self.size)
            if rows > MOST_PLAIN:
                rows = MOST_PLAIN - (rows - MOST_PLAIN) % 2
            it = replace(it, rows=Num((rows,)), until=None)
        super().plain(it)

    def ease(self, it: Ease) -> None:
        if not self.planning:
            super().ease(it)
            return
        if it.shaping is None or not it.shaping.steps:
            in_round = bool(self.plans) and self.plans[-1].in_round
            step = Change(it.by, it.span, each_end=True)
            shaping = Row("", None, "", in_round, (step,), (), it.span, it.span, it.span)
            it = replace(it, shaping=shaping)
        if self.once:
            it = replace(it, times=Num((1,)), until=None)
        super().ease(it)

    def passes(self, once: Once, total: int, span: Span, key: Key) -> None:
        """Every time through, one after the other."""
        if not self.planning:
            super().passes(once, total, span, key)
            return
        for number in range(1, total + 1):
            if self.over or not self.needle.known or (number > 1000 and not self.plans):
                return
            once(self, number, number == total)

    def loose(self, it: Loose) -> None:
        super().loose(it)
        if not self.needle.known:
            self.over = self.planning

    # -------------------------------------------------------------- writing down

    def stand_in(self, key: str) -> Stitch:
        return self.stand[key]

    def write_down(self, row: Row, way: Variant, start: Needle, side: str) -> None:
        """Plan one row, worked again on a copy of the needle with every stitch noted."""
        if not self.planning or self.over:
            return
        needle = start.copy()
        trace: list[Done] = []
        run = RowRun(needle, Ctx(), row.in_round, True, trace, self.stand_in)
        shift = needle.shift
        room = whole(start.total())
        if self.stitches + room > self.limit:
            raise TooManyStitches(self.limit)
        skip = self._skip(start, row.in_round, side)
        try:
            if way.ops or row.steps:
                run.run(way)
            else:
                run.as_set()
        except GiveUp:
            self.over = True
            return
        self.stitches += max(room, len(trace))
        if self.stitches > self.limit:
            raise TooManyStitches(self.limit)
        self.needle.shift = needle.shift - shift
        flat_turn = row.in_round and side == "WS"
        stitches = self._settle(trace, skip, side, row, shift)
        used = sum(done.stitch.uses for done in stitches)
        self.plans.append(
            Plan(
                row.label, row.number, "" if row.in_round and not flat_turn else side,
                row.in_round and not flat_turn, stitches, row.body,
                turned=way.has_turn or used + skip < room, section=self.name,
                shift=shift if row.in_round else 0, skip=skip,
            )
        )  # fmt: skip

    def _skip(self, start: Needle, in_round: bool, side: str) -> int:
        """Loops that lie before the working point at the start of a row."""
        held = len(start.held)
        probe = start.copy()
        probe.open_row(in_round)
        if len(probe.held) > held:  # the row before parted the work
            n = probe.held[-1][1]
            self.aside.append((whole(n), side or "RS"))
        run = RowRun(probe, Ctx(), in_round, True)
        skip = whole(probe.total()) - whole(run.dist_end())
        return skip + sum(n for n, edge in self.aside if edge != (side or "RS"))

    def _settle(
        self, trace: list[Done], skip: int, side: str, row: Row, shift: int
    ) -> tuple[Done, ...]:
        """Turn "as set" into knit or purl after the loop below, and keep the faces."""
        faces = self.faces
        if shift and row.in_round and faces:
            by = shift % len(faces)
            faces = faces[by:] + faces[:by]
        wrong = side == "WS"
        along = faces[::-1] if wrong else faces
        at = skip
        made: list[str] = []
        out: list[Done] = []
        knit, purl = self.knit, self.purl
        for done in trace:
            stitch = done.stitch
            below = along[at : at + stitch.uses]
            if stitch is AS_SET:
                shows_knit = (below[0] if below else "k") == "k"
                stitch = knit if shows_knit != wrong else purl
                done = Done(stitch, done.span if done.span != NOWHERE else row.body, done.passes)
            at += stitch.uses
            made.extend(_faces(stitch, below, wrong))
            out.append(done)
        along = along[:skip] + made + along[at:]
        self.faces = along[::-1] if wrong else along
        return tuple(out)


def _faces(stitch: Stitch, below: Sequence[str], wrong: bool) -> list[str]:
    """How the loops of a stitch look from the right side: "k" or "p"."""
    faces: list[str] = []
    for i in range(stitch.makes):
        form = stitch.heads[i] if i < len(stitch.heads) else "k"
        if form in ("sl", "slf"):
            faces.append(below[i] if i < len(below) else "k")
        elif form == "yo":
            faces.append("k")
        else:
            faces.append("k" if (form in ("p", "ptbl", "mp")) == wrong else "p")
    return faces
