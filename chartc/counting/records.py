"""What is kept while a text is worked through: rows made ready, rows as worked, and how
doubtful rows are read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from chartc.counting.lin import Number
from chartc.counting.ops import Variant, whole
from chartc.counting.rows import Survey, survey, variants
from chartc.pattern import (
    Again,
    CastOn,
    Ease,
    Instruction,
    Loose,
    Num,
    Plain,
    Row,
    Step,
    Until,
)
from chartc.source import Span

Key = tuple[int, ...]


class RowBook:
    """Rows made ready, kept by the identity of their steps."""

    def __init__(self) -> None:
        self._ready: dict[int, tuple[Sequence[Step], Survey, dict[int, tuple[Variant, ...]]]] = {}
        self._rows: dict[int, tuple[object, tuple[Row, ...]]] = {}

    def ways(self, steps: Sequence[Step], size: int) -> tuple[Variant, ...]:
        """The ways to read the steps of a row in one size."""
        found = self._ready.get(id(steps)) or self._look(steps)
        at = size if found[1].sized else 0
        ways = found[2].get(at)
        if ways is None:
            ways = found[2][at] = variants(steps, at, found[1])
        return ways

    def _look(
        self, steps: Sequence[Step]
    ) -> tuple[Sequence[Step], Survey, dict[int, tuple[Variant, ...]]]:
        found = self._ready[id(steps)] = (steps, survey(steps), {})
        return found

    def sized(self, steps: Sequence[Step]) -> bool:
        """Whether any number in the steps differs between sizes."""
        return (self._ready.get(id(steps)) or self._look(steps))[1].sized

    def plain_rows(self, plain: Plain) -> tuple[Row, ...]:
        """The rows a `Plain` stands for, one rhythm of them."""
        found = self._rows.get(id(plain))
        if found is None:
            rhythm = plain.rhythm or (plain.steps,)
            rows = tuple(
                Row(
                    "",
                    None,
                    "",
                    plain.in_round,
                    steps,
                    (),
                    plain.span,
                    plain.span,
                    plain.span,
                    as_set=not steps,
                )
                for steps in rhythm
            )
            found = self._rows[id(plain)] = (plain, rows)
        return found[1]


@dataclass(slots=True)
class Record:
    """One row as worked in one size."""

    key: Key
    row: Row | None
    label: str
    span: Span
    side: str
    pass_number: int
    before: int | None
    used: int | None
    made: int | None
    after: int | None
    times: dict[int, Number] | None = None


@dataclass(slots=True)
class Between:
    """Times through not followed one by one.

    depth     place of the time through in the keys
    number    the last time through that was followed
    until     the last time through left out
    now, was  the records of the last `stride` times followed, and of as many before them; the
              counts grow from one stride to the next as they did from `was` to `now`
    """

    section: int
    depth: int
    number: int
    until: int
    stride: int
    now: list[Record]
    was: list[Record]

    def __len__(self) -> int:
        return len(self.now) * (self.until - self.number) // self.stride

    def every(self) -> Iterator[Record]:
        """The records left out."""
        for strides in range(1, (self.until - self.number) // self.stride + 1):
            for now, was in zip(self.now, self.was, strict=True):
                yield self._record(now, was, strides)

    def _record(self, now: Record, was: Record, strides: int) -> Record:
        def on(a: int | None, b: int | None) -> int | None:
            return None if a is None or b is None else a + (a - b) * strides

        times: dict[int, Number] | None = None
        if now.times is not None and was.times is not None:
            times = {
                k: whole(v) + (whole(v) - whole(was.times[k])) * strides
                for k, v in now.times.items()
            }
        d = strides * self.stride
        at = self.depth
        side = was.side if strides % 2 else now.side  # sides change to and fro, or not at all
        return Record(
            (*now.key[:at], now.key[at] + d, *now.key[at + 1 :]),
            now.row,
            now.label,
            now.span,
            side,
            now.pass_number + d,
            on(now.before, was.before),
            on(now.used, was.used),
            on(now.made, was.made),
            on(now.after, was.after),
            times,
        )


@dataclass(slots=True)
class Readings:
    """Which rows are read otherwise, and what was learnt about the readings.

    chosen   row -> number of the reading to use
    bad      (row, reading) that did not come out somewhere
    """

    chosen: dict[int, int] = field(default_factory=dict)
    bad: set[tuple[int, int]] = field(default_factory=set)
    doubtful: dict[int, int] = field(default_factory=dict)  # row -> readings there are
    final: bool = False

    def copy(self) -> Readings:
        return Readings(dict(self.chosen), set(self.bad), dict(self.doubtful), self.final)


def rows_in(block: Sequence[Instruction], size: int) -> int:
    """Rows in a block, for one size, as far as it can be told before it is worked."""
    total = 0
    stack: list[tuple[Sequence[Instruction], int]] = [(block, 1)]
    while stack:
        some, factor = stack.pop()
        for it in some:
            if isinstance(it, Row):
                if it.only is None or size in it.only:
                    total += factor
            elif isinstance(it, Plain):
                total += factor * (it.rows.at(size) if it.rows is not None else 1)
            elif isinstance(it, Again) and it.times is not None:
                stack.append((it.rows, factor * max(0, it.times.at(size))))
    return total


def first_rows(block: Sequence[Instruction], rows: int, size: int) -> tuple[Instruction, ...]:
    """The instructions of a block up to and with its so-many-th row."""
    out: list[Instruction] = []
    left = rows
    for it in block:
        if left <= 0:
            break
        n = rows_in((it,), size)
        if isinstance(it, Plain) and it.rows is not None and n > left:
            it = Plain(
                Num((left,)), None, it.stitch, it.words, it.span, it.in_round, it.steps, it.rhythm
            )
            n = left
        out.append(it)
        left -= n
    return tuple(out)


def varies(flow: Sequence[Instruction], book: RowBook) -> bool:
    """Whether anything in a flow differs between sizes."""
    stack: list[Instruction] = list(flow)
    while stack:
        it = stack.pop()
        nums: tuple[Num | None, ...] = ()
        until: Until | None = None
        if isinstance(it, Row):
            if it.only is not None or book.sized(it.steps):
                return True
        elif isinstance(it, Again):
            nums, until = (it.times,), it.until
            stack.extend(it.rows)
        elif isinstance(it, Plain):
            nums, until = (it.rows,), it.until
            if any(book.sized(row.steps) for row in book.plain_rows(it)):
                return True
        elif isinstance(it, Ease):
            nums, until = (it.by, it.times, it.every), it.until
            if it.shaping is not None:
                stack.append(it.shaping)
        elif isinstance(it, CastOn):
            nums = (it.count,)
        elif isinstance(it, Loose) and book.sized(it.steps):
            return True
        if until is not None and (until.num.sized or len(until.tenths_mm) > 1):
            return True
        if any(num is not None and num.sized for num in nums):
            return True
    return False
