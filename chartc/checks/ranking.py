"""Which of several changes is the likeliest: the one after which the row goes best with the
rest of the text.

Rows of one piece are alike: their edges are the same, what moves does so by steps, most are
their own mirror image, most leave the count as it was. Each of these is a number, smaller
when the row is more regular; a change is judged by how much it lowers them.
"""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from chartc.checks.edits import Edit, Printed, Steps
from chartc.checks.loops import sums
from chartc.checks.trial import Lane, rows_within
from chartc.counting import events as ev
from chartc.pattern import Fill, Off, On, Pattern, Repeat, Row, Work, walk
from chartc.source import Source
from chartc.stitch import Stitch

if TYPE_CHECKING:
    from chartc.checks.repairs import Tried

# Weights of the features, fitted to slips made in the texts of tests/cases/pieces and in the
# sound ones of tests/published/patterns; measured on slips made in samples (tests/test_slips.py).
WEIGHTS: dict[str, float] = {
    # what is changed
    "number": -1.21, "size": 0.39, "swap": 0.27, "target": -0.82, "insert": 0.59,
    "exchange": 1.55, "drop": 2.92, "times": 5.29, "stated": 1.92, "cast on": 6.57,
    "by more": 4.5, "list rough": 1.19, "list twin": 1.31, "stated by": 0.81, "other row": -3.31,
    "rows away": 1.7, "not own": 0.24,
    # chosen by hand: a cast-on that one row alone asks for, a pattern that does not come back
    "sole row": -8.0, "not back": 2.5,
    # how regular the row is
    "mirror": 1.43, "skew": 2.52, "before": 0.64, "after": 0.53, "nearest": -0.81,
    "words far": 1.09, "words own": 4.9, "constant": 1.27, "steps": 0.82, "unbalanced": 3.4,
    "body odd": 4.24, "ends": 0.18, "gap far": 3.02, "gaps differ": -5.15, "nothing below": 0.98,
    "moves": 2.27, "copy near": -3.34, "copy far": 1.75, "kinds of numbers": 1.13,
    "edges differ": 2.54, "new pairs": 0.64, "new tokens": 0.95, "new pairs of tokens": 0.06,
    "sum": 2.53, "sum of ends": 0.8,
}  # fmt: skip
ROW_KINDS = frozenset({ev.TOO_FEW, ev.TOO_MANY, ev.DOES_NOT_FIT})
MOST_CELLS = 120
MOST_SCORED = 120
MOST_TOKENS = 300  # longer rows are not looked at for how regular they are
FAR = 9  # distances are followed up to here
MOST_ROWS = 200  # rows looked through for one that is the same
NEAR_ROWS = 3  # rows on either side a row is compared with

_LIST = re.compile(r"\d+\s*[(\[]\s*\d+(?:\s*[,:;]\s*\d+)*\s*[)\]]")

Cells = tuple[str, ...]
Features = dict[str, float]


@dataclass(frozen=True)
class Profile:
    """A row as the ranking sees it.

    cells    its stitches one by one, open repeats worked twice
    mirror   the cells of its mirror image, read backwards
    tokens   its stitches and brackets without their numbers, and `numbers` those
    bodies   loops used and made by each open repeat
    ends     change of the count outside the repeats
    lean     how far the body of its one open repeat is from its own mirror image, wherever the
             repeat is begun; None when it has no such repeat
    taken    by stitch: the loops of the repeat (counted round) it is worked into; `left` the
             loops it leaves; `period`, `period_left` loops used and made by the repeat
    plain    it is worked in one plain stitch, or told as a whole
    pairs    neighbours in it, without their numbers and with them; `counted` its stitches
             with their numbers
    """

    cells: Cells
    mirror: Cells
    tokens: Cells
    numbers: tuple[int, ...]
    bodies: tuple[tuple[int, int], ...]
    ends: int
    lean: float | None
    taken: tuple[tuple[str, int], ...]
    left: tuple[tuple[str, int], ...]
    period: int
    period_left: int
    plain: bool
    pairs: frozenset[tuple[str, str]]
    number_pairs: frozenset[tuple[str, str]]
    counted: frozenset[str]


class Ranking:
    def __init__(self, source: Source, pattern: Pattern, printed: Printed) -> None:
        self.source = source
        self.pattern = pattern
        self.printed = printed
        self.profiles: dict[tuple[int, int], tuple[Steps, Profile]] = {}
        self.kin: dict[int, tuple[list[Steps], int]] = {}  # by row: rows of its section, place
        self.lengths: dict[int, int] = {}
        self.every: list[Steps] = []
        self.to_come_back: set[int] = set()  # rows of stitch patterns, worked over and over
        self.flat = pattern.construction != "round"
        for section in pattern.sections:
            rows: list[Steps] = []
            seen: set[int] = set()
            for it in section.flow:
                for row in rows_within(it):
                    if id(row.steps) not in seen and row.steps:
                        seen.add(id(row.steps))
                        rows.append(row.steps)
                        if section.starts == "free":
                            self.to_come_back.add(id(row.steps))
                        if len(self.every) < MOST_ROWS:
                            self.every.append(row.steps)
            for at, steps in enumerate(rows):
                self.kin.setdefault(id(steps), (rows, at))

    def sort(
        self, found: Sequence[Tried], troubled: Sequence[Lane], stopped: int
    ) -> list[Tried]:
        """The edits, the likeliest first."""
        met = troubled[0].met
        assert met is not None
        here = met.event.row
        size = troubled[0].size

        def rough(tried: Tried) -> tuple[float, int, int, str]:
            edit = tried.edit
            features = self.kind(edit, here, stopped - tried.last)
            if edit.kind == "cast on" and met.event.kind in ROW_KINDS:
                features["sole row"] = float(self.asking == 1)
            cost = weigh(features)
            return (cost, edit.place.start, edit.repair.span.start, edit.repair.text)

        order = sorted(found, key=rough)
        scored = [
            (rough(t)[0] + weigh(self.gain(t.edit, size)), n, t)
            for n, t in enumerate(order[:MOST_SCORED])
        ]
        scored.sort(key=lambda one: one[:2])
        return [t for _, _, t in scored] + order[MOST_SCORED:]

    @cached_property
    def asking(self) -> int:
        """How many rows ask for a number of stitches of their own."""
        profiles = [self.profile(steps, 0) for steps in self.every]
        return sum(1 for one in profiles if one.bodies or not one.plain)

    @staticmethod
    def kind(edit: Edit, here: Row | None, away: int) -> Features:
        """What the change is in itself."""
        found: Features = {edit.kind: 1.0, "by more": min(4, max(0, abs(edit.by) - 1))}
        if edit.kind == "cast on":
            found["by more"] = float(abs(edit.by) > 3)
        if edit.kind == "stated":
            found["by more"] = 0.0
            found["stated by"] = min(10, abs(edit.by))
        elif here is not None and edit.row is not None and edit.row.steps is not here.steps:
            found["other row"] = 1.0
            found["rows away"] = min(10, away)
        if edit.kind == "insert" and edit.row is not None:
            new = edit.new[0]
            own = {s.stitch.key for s in walk(edit.row.steps) if isinstance(s, Work)}
            found["not own"] = float(isinstance(new, Work) and new.stitch.key not in own)
        return found

    # -------------------------------------------------------------- regularity

    def gain(self, edit: Edit, size: int) -> Features:
        """How much less regular the text is with the edit (negative: more regular)."""
        if edit.was:
            return self.list_gain(edit)
        row = edit.row
        if row is None or edit.kind == "stated":
            return {}
        if self.tokens_in(row) > MOST_TOKENS:
            return {}
        old = row.steps
        after = self.unlike(edit.steps(old), old, size)
        before = self.unlike(old, old, size)
        return {name: after[name] - before.get(name, 0.0) for name in after}

    def tokens_in(self, row: Row) -> int:
        found = self.lengths.get(id(row.steps))
        if found is None:
            found = self.lengths[id(row.steps)] = sum(1 for _ in walk(row.steps))
        return found

    def unlike(self, steps: Steps, place: Steps, size: int) -> Features:
        """How little a row goes with the others of its section, standing at the place of the
        row `place`."""
        own = self.profile(steps, size)
        rows, at = self.kin.get(id(place), ([place], 0))
        others = self.near(rows, at, size)
        found: Features = {}
        # its own mirror image, as far as the others are theirs
        skew = min(3.0, self.skew(own))
        usual = [self.skew(o) for o in others if not o.plain]
        even = sum(1 for u in usual if u <= 0.5)
        found["mirror"] = skew if even * 2 >= len(usual) else 0.0
        found["skew"] = skew
        # like the rows before and after
        places = self.near_places(rows, at)
        earlier = [distance(own.cells, o.cells) for o, k in zip(others, places, strict=True) if k < at]
        later = [distance(own.cells, o.cells) for o, k in zip(others, places, strict=True) if k > at]
        found["before"] = min(earlier, default=0)
        found["after"] = min(later, default=0)
        found["nearest"] = min([*earlier, *later], default=0)
        found |= self.words_unlike(own, others)
        found |= self.balance_unlike(own, others)
        found |= self.columns_unlike(own, rows, at, size)
        found |= self.pairs_unlike(own, place, rows, size)
        twins = [
            o for o in self.all_but(place, size)
            if own.tokens == o.tokens and own.cells == o.cells and own.numbers == o.numbers
        ]  # fmt: skip
        near = any(o is twin for o in others for twin in twins)
        found["copy near"] = -float(near)
        found["copy far"] = -float(bool(twins) and not near)
        found["kinds of numbers"] = float(len(set(own.numbers)))
        first, last = own.cells[:1], own.mirror[:1]
        run = lead(own.cells), lead(own.mirror)
        found["edges differ"] = float(first == last and run[0] != run[1])
        net = sum(m - u for u, m in own.bodies)
        rest = sum(
            m - u for other in rows if other is not place for u, m in self.profile(other, size).bodies
        )
        found["sum"] = min(4.0, abs(net + rest))
        ends = own.ends + sum(
            self.profile(other, size).ends for other in rows if other is not place
        )
        found["sum of ends"] = min(4.0, abs(ends))
        found["not back"] = found["sum of ends"] if id(place) in self.to_come_back else 0.0
        return found

    def pairs_unlike(
        self, own: Profile, place: Steps, rows: list[Steps], size: int
    ) -> Features:
        """Neighbours that stand beside each other in no other row."""
        others = [self.profile(o, size) for o in rows if o is not place][:MOST_ROWS]
        names = {pair for o in others for pair in o.pairs}
        printed = {pair for o in others for pair in o.number_pairs}
        tokens = {one for o in others for one in o.counted}
        return {
            "new pairs": float(min(12, sum(1 for p in own.pairs if p not in names))),
            "new pairs of tokens": float(min(12, sum(1 for p in own.number_pairs if p not in printed))),
            "new tokens": float(min(12, sum(1 for t in own.counted if t not in tokens))),
        }

    @staticmethod
    def skew(row: Profile) -> float:
        skew = distance(row.cells, row.mirror) / 2
        return skew if row.lean is None else min(skew, row.lean + 0.25)

    def all_but(self, place: Steps, size: int) -> Iterator[Profile]:
        for steps in self.every:
            if steps is not place:
                yield self.profile(steps, size)

    def columns_unlike(self, own: Profile, rows: list[Steps], at: int, size: int) -> Features:
        """How unevenly the stitches stand over those of the rows below and above."""
        found = {"gap far": 0.0, "gaps differ": 0.0, "nothing below": 0.0, "moves": 0.0}
        if not own.period or not own.taken:
            return found
        moved: dict[str, list[int]] = {}
        for step in (-1, 1):
            other = self.featured(rows, at, step, size)
            if other is None:
                continue
            below, above = (other, own) if step < 0 else (own, other)
            if below.period_left != above.period:
                continue
            period = above.period
            gaps: dict[str, set[int]] = {}
            for key, x in above.taken:
                near = [
                    (x - y + period // 2) % period - period // 2
                    for k, y in below.left
                    if k == key
                ]
                if near:
                    gap = min(near, key=abs)
                    gaps.setdefault(key, set()).add(gap)
                    found["gap far"] += abs(gap) > 1
                else:
                    found["nothing below"] += 1
            for key, seen in gaps.items():
                found["gaps differ"] += len(seen) - 1
                moved.setdefault(key, []).extend(sorted(seen))
        for all_gaps in moved.values():
            found["moves"] += min(3, max(all_gaps) - min(all_gaps))
        return found

    def featured(self, rows: list[Steps], at: int, step: int, size: int) -> Profile | None:
        """The nearest row on one side that has more than plain stitches, when only plain rows
        lie between."""
        k = at + step
        while 0 <= k < len(rows):
            found = self.profile(rows[k], size)
            if found.taken:
                return found if (k - at) % 2 == 0 or not self.flat else None
            if not found.plain:
                return None
            k += step
        return None

    def near_places(self, rows: list[Steps], at: int) -> list[int]:
        """The rows a row is compared with: those about it that are more than plain."""
        out: list[int] = []
        for step in (-1, 1):
            k, taken = at + step, 0
            while 0 <= k < len(rows) and taken < NEAR_ROWS * 2:
                out.append(k)
                taken += 1
                k += step
        return sorted(out)

    def near(self, rows: list[Steps], at: int, size: int) -> list[Profile]:
        return [self.profile(rows[k], size) for k in self.near_places(rows, at)]

    def words_unlike(self, own: Profile, others: Sequence[Profile]) -> Features:
        """Other words than the rows about it; numbers that do not go on in steps."""
        found = {"words far": 0.0, "words own": 0.0, "constant": 0.0, "steps": 0.0}
        same = [o for o in others if o.tokens == own.tokens and o.numbers]
        if not same:
            found["words own"] = 1.0
            found["words far"] = float(min((distance(own.tokens, o.tokens, 4) for o in others), default=0))
            return found
        for slot, n in enumerate(own.numbers):
            values = [o.numbers[slot] for o in same]
            if len(values) < 2 or len(set(values)) == 1:
                found["constant"] += (n != values[0]) * (1.0 if len(values) > 1 else 0.5)
                continue
            steps = {abs(b - a) for a, b in itertools.pairwise(values)}
            near = min(abs(n - v) for v in values)
            found["steps"] += near not in steps and near != 0
        return found

    def balance_unlike(self, own: Profile, others: Sequence[Profile]) -> Features:
        found = {"unbalanced": 0.0, "body odd": 0.0, "ends": 0.0}
        with_bodies = [o for o in others if o.bodies]
        if own.bodies:
            even = sum(1 for o in with_bodies if all(u == m for u, m in o.bodies))
            for u, m in own.bodies:
                found["unbalanced"] += u != m and even * 2 >= len(with_bodies)
                if with_bodies:
                    alike = sum(1 for o in with_bodies if any(u in body for body in o.bodies))
                    found["body odd"] += 1 - alike / len(with_bodies)
        if others and sum(1 for o in others if o.ends == 0) * 3 >= 2 * len(others):
            found["ends"] = float(own.ends != 0)
        return found

    def list_gain(self, edit: Edit) -> Features:
        """Whether a list of sizes rises more evenly with a value changed, and whether it is
        then the same as another."""
        assert edit.num is not None
        new = edit.now or edit.num[1]
        return {
            "list rough": roughness(new) - roughness(edit.was),
            "list twin": float(min(2, self.lists[edit.was] - 1) - min(2, self.lists[new])) / 2,
        }

    @cached_property
    def lists(self) -> Counter[tuple[int, ...]]:
        """The lists of sizes the text prints, and how often."""
        return Counter(
            tuple(int(n) for n in re.findall(r"\d+", found[0]))
            for found in _LIST.finditer(self.source.plain)
        )

    # -------------------------------------------------------------- profiles

    def profile(self, steps: Steps, size: int) -> Profile:
        key = (id(steps), size)
        found = self.profiles.get(key)
        if found is None:
            found = self.profiles[key] = (steps, self.make(steps, size))
        return found[1]

    def make(self, steps: Steps, size: int) -> Profile:
        cells: list[str] = []
        mirror: list[str] = []
        for label, other in expand(steps, size, self.printed):
            cells.append(label)
            mirror.append(other)
            if len(cells) >= MOST_CELLS:
                break
        tokens: list[str] = []
        counts: list[int] = []
        self.words(steps, size, tokens, counts)
        numbers = [n for n in counts if n >= 0]
        bodies: list[tuple[int, int]] = []
        ends = 0
        for step in steps:
            if isinstance(step, Repeat) and step.target is not None:
                bodies.append(sums(step.body, size))
            else:
                u, m = sums((step,), size)
                ends += m - u
        printed = [f"{t} {n}" for t, n in zip(tokens, counts, strict=True)]
        lean, taken, left = self.round_body(steps, size)
        period, period_left = bodies[0] if len(bodies) == 1 else (0, 0)
        return Profile(
            tuple(cells), tuple(reversed(mirror)), tuple(tokens), tuple(numbers), tuple(bodies),
            ends, lean, taken, left, period, period_left, len(set(cells)) <= 1,
            frozenset(itertools.pairwise(tokens)),
            frozenset(itertools.pairwise(printed)), frozenset(printed),
        )  # fmt: skip

    def round_body(
        self, steps: Steps, size: int
    ) -> tuple[float | None, tuple[tuple[str, int], ...], tuple[tuple[str, int], ...]]:
        """The one open repeat of a row: how far it is from its mirror image, and where its
        stitches are worked and lie."""
        opens = [
            (k, s) for k, s in enumerate(steps) if isinstance(s, Repeat) and s.target is not None
        ]
        if len(opens) != 1:
            return None, (), ()
        k, repeat = opens[0]
        cells: list[str] = []
        mirror: list[str] = []
        for label, other in expand(repeat.body, size, self.printed):
            cells.append(label)
            mirror.append(other)
        if not cells or len(cells) > MOST_CELLS:
            return None, (), ()
        n = len(cells)
        back = mirror[::-1]
        lean = n
        for turn in range(n):
            lean = min(lean, sum(a != b for a, b in zip(cells, back[turn:] + back[:turn], strict=True)))
        uses, makes = sums(repeat.body, size)
        u, m = sums(steps[:k], size)
        taken: list[tuple[str, int]] = []
        left: list[tuple[str, int]] = []
        for stitch in singles(repeat.body, size):
            if stitch.uses != 1 or stitch.makes != 1 or stitch.kind not in ("plain", "slip"):
                if uses:
                    taken.append((stitch.key, u % uses))
                if makes:
                    left.append((stitch.key, m % makes))
            u += stitch.uses
            m += stitch.makes
        return lean / 2, tuple(taken), tuple(left)

    def words(self, steps: Steps, size: int, tokens: list[str], numbers: list[int]) -> None:
        for step in steps:
            if isinstance(step, Work):
                tokens.append(step.stitch.key)
                numbers.append(step.times.at(size))
            elif isinstance(step, Repeat):
                tokens.append("(")
                numbers.append(-1)
                self.words(step.body, size, tokens, numbers)
                tokens.append(")")
                n = step.times if step.times is not None else step.target and step.target.n
                numbers.append(n.at(size) if n else 0)
            elif isinstance(step, Fill):
                tokens.append(f"{step.stitch.key if step.stitch else ''}-{step.target.reach.value}")
                numbers.append(step.target.n.at(size))
            else:
                tokens.append(type(step).__name__)
                numbers.append(-1)


def weigh(features: Features) -> float:
    return sum(WEIGHTS[name] * value for name, value in features.items() if value)


def lead(cells: Cells) -> int:
    """How often the first cell is repeated at the start."""
    n = 0
    while n < len(cells) and cells[n] == cells[0]:
        n += 1
    return n


def singles(steps: Steps, size: int) -> Iterator[Stitch]:
    """The stitches of plain steps one by one."""
    for step in steps:
        if isinstance(step, Work):
            for _ in range(min(60, step.times.at(size))):
                yield step.stitch
        elif isinstance(step, Repeat) and step.times is not None:
            for _ in range(min(20, step.times.at(size))):
                yield from singles(step.body, size)


def expand(steps: Steps, size: int, printed: Printed) -> Iterator[tuple[str, str]]:
    """The stitches of a row one by one with their mirror images; open repeats twice."""
    for step in steps:
        if isinstance(step, Work):
            stitch = step.stitch
            mirror = stitch.mirror or stitch.key
            for _ in range(min(40, step.times.at(size))):
                yield stitch.key, mirror
        elif isinstance(step, Repeat):
            times = 2 if step.times is None else min(12, step.times.at(size))
            for _ in range(times):
                yield from expand(step.body, size, printed)
        elif isinstance(step, Fill):
            key = step.stitch.key if step.stitch is not None else "set"
            for _ in range(3):
                yield f"{key}...", f"{key}..."
        elif isinstance(step, Off | On):
            n = step.count.at(size) if step.count is not None else 1
            for _ in range(min(20, n)):
                yield type(step).__name__, type(step).__name__
        else:
            yield type(step).__name__, type(step).__name__


def distance(one: Cells, two: Cells, most: int = FAR) -> int:
    """Cells to be put in, left out or exchanged to make one row the other, up to `most`."""
    a, b = 0, min(len(one), len(two))
    while a < b and one[a] == two[a]:
        a += 1
    i, j = len(one), len(two)
    while i > a and j > a and one[i - 1] == two[j - 1]:
        i -= 1
        j -= 1
    one, two = one[a:i], two[a:j]
    if not one or not two:
        return min(most, max(len(one), len(two)))
    if abs(len(one) - len(two)) >= most:
        return most
    big = most + 1
    last = [k if k <= most else big for k in range(len(two) + 1)]
    for x, cell in enumerate(one, 1):
        low, high = max(1, x - most), min(len(two), x + most)
        now = [big] * (len(two) + 1)
        if x <= most:
            now[0] = x
        for y in range(low, high + 1):
            if cell == two[y - 1]:
                now[y] = last[y - 1]
            else:
                now[y] = 1 + min(last[y - 1], last[y], now[y - 1])
        if min(now) >= most:
            return most
        last = now
    return min(most, last[-1])


def roughness(values: Sequence[int]) -> float:
    """How unevenly a list of sizes rises."""
    if len(values) < 3:
        return 0.0
    steps = [b - a for a, b in itertools.pairwise(values)]
    return float(sum(min(3, abs(b - a)) for a, b in itertools.pairwise(steps)))


