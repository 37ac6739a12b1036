"""What is kept while a text is worked through: rows made ready, rows as worked, and how
doubtful rows are read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from chartc.counting.lin import Number
from chartc.counting.ops import Variant
from chartc.counting.rows import sized, variants
from chartc.pattern import Again, Instruction, Num, Plain, Row, Step
from chartc.source import Span

Key = tuple[int, ...]


class RowBook:
    """Rows made ready, kept by the identity of their steps."""

    def __init__(self) -> None:
        self._ready: dict[int, tuple[Sequence[Step], bool, dict[int, tuple[Variant, ...]]]] = {}
        self._rows: dict[int, tuple[object, tuple[Row, ...]]] = {}

    def ways(self, steps: Sequence[Step], size: int) -> tuple[Variant, ...]:
        found = self._ready.get(id(steps))
        if found is None:
            found = self._ready[id(steps)] = (steps, sized(steps), {})
        at = size if found[1] else 0
        ways = found[2].get(at)
        if ways is None:
            ways = found[2][at] = variants(steps, at)
        return ways

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
    """Times through not followed one by one: `rows` of the time `number` and how each count
    of them grows from one time to the next, up to and with the time `until`."""

    depth: int  # place of the time through in the keys
    number: int
    until: int
    rows: list[Record]
    earlier: list[Record]

    def __len__(self) -> int:
        return len(self.rows) * (self.until - self.number)

    def record(self, i: int, number: int) -> Record:
        now, was = self.rows[i], self.earlier[i]
        d = number - self.number

        def on(a: int | None, b: int | None) -> int | None:
            return None if a is None or b is None else a + (a - b) * d

        times: dict[int, Number] | None = None
        if now.times is not None and was.times is not None:
            times = {k: v + (v - was.times[k]) * d for k, v in now.times.items()}
        key = (*now.key[: self.depth], number, *now.key[self.depth + 1 :])
        side = now.side
        if d % 2 and side and now.side != was.side:
            side = was.side
        return Record(
            key,
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
