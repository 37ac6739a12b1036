"""Which of several changes is the likeliest: the one after which the row goes best with the
rest of the text.

Rows of one piece are alike: their edges are the same, what moves does so by steps, most are
their own mirror image, most leave the count as it was. Each of these is a number, smaller
when the row is more regular; a change is judged by how much it lowers them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from chartc.checks.edits import Edit, Printed, Steps
from chartc.checks.trial import Lane, rows_within
from chartc.pattern import Fill, Off, On, Pattern, Repeat, Row, Step, Work
from chartc.source import Source
from chartc.stitch import Stitch

if TYPE_CHECKING:
    from chartc.checks.repairs import Tried

# how likely a change is in itself
KIND = {
    "number": 1.0, "size": 1.0, "target": 1.1, "insert": 1.3, "exchange": 1.2, "drop": 1.6,
    "times": 1.3, "stated": 1.6, "cast on": 1.8,
}  # fmt: skip
MOST_CELLS = 120
MOST_SCORED = 120
FAR = 9  # distances are followed up to here
MOST_ROWS = 200  # rows looked through for one that is the same
NEAR_ROWS = 3  # rows on either side a row is compared with

Cells = tuple[str, ...]


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


class Ranking:
    def __init__(self, source: Source, pattern: Pattern, printed: Printed) -> None:
        self.source = source
        self.pattern = pattern
        self.printed = printed
        self.profiles: dict[tuple[int, int], tuple[Steps, Profile]] = {}
        self.kin: dict[int, tuple[list[Steps], int]] = {}  # by row: rows of its section, place
        self.every: list[Steps] = []
        self.flat = pattern.construction != "round"
        for section in pattern.sections:
            rows: list[Steps] = []
            seen: set[int] = set()
            for it in section.flow:
                for row in rows_within(it):
                    if id(row.steps) not in seen and row.steps:
                        seen.add(id(row.steps))
                        rows.append(row.steps)
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
            c = KIND[edit.kind] + 0.25 * max(0, abs(edit.by) - 1)
            if here is not None and edit.row is not None and edit.row.steps is not here.steps:
                c += 0.3
            return (c, edit.place.start, edit.repair.span.start, edit.repair.text)

        order = sorted(found, key=rough)
        scored = [
            (rough(t)[0] + self.gain(t.edit, size), n, t)
            for n, t in enumerate(order[:MOST_SCORED])
        ]
        scored.sort(key=lambda one: one[:2])
        return [t for _, _, t in scored] + order[MOST_SCORED:]

    # -------------------------------------------------------------- regularity

    def gain(self, edit: Edit, size: int) -> float:
        """How much less regular the text is with the edit (negative: more regular)."""
        if edit.kind == "size":
            return self.list_gain(edit)
        row = edit.row
        if edit.kind == "stated":
            return 0.15 * min(10, abs(edit.by))
        if row is None:
            return 0.0
        old = row.steps
        new = edit.steps(old)
        return self.unlike(new, old, size) - self.unlike(old, old, size)

    def unlike(self, steps: Steps, place: Steps, size: int) -> float:
        """How little a row goes with the others of its section, standing at the place of the
        row `place`."""
        own = self.profile(steps, size)
        rows, at = self.kin.get(id(place), ([place], 0))
        others = self.near(rows, at, size)
        cost = 0.0
        # its own mirror image, as far as the others are theirs
        skew = self.skew(own)
        usual = [self.skew(o) for o in others if not o.plain]
        even = sum(1 for u in usual if u <= 0.5)
        if not usual:
            cost += 0.5 * min(skew, 3)
        elif even * 2 >= len(usual):
            cost += 0.8 * min(skew, 3)
        else:
            cost += 0.15 * min(skew, 3)
        # like the rows before and after
        before = [o for o, k in zip(others, self.near_places(rows, at), strict=True) if k < at]
        after = [o for o, k in zip(others, self.near_places(rows, at), strict=True) if k > at]
        for side in (before, after):
            if side:
                cost += 0.5 * min(distance(own.cells, o.cells) for o in side)
        if not before or not after:
            cost *= 1.3
        # the same words, with numbers that go on in steps
        cost += self.words_unlike(own, others)
        # what stands above and below
        cost += self.columns_unlike(own, rows, at, size)
        # the very same row elsewhere
        if own.tokens and any(
            own.cells == o.cells and own.numbers == o.numbers for o in self.all_but(place, size)
        ):
            cost -= 0.7
        cost += 0.08 * len(set(own.numbers))
        # the balance of the repeats
        cost += self.balance_unlike(own, others)
        return cost

    @staticmethod
    def skew(row: Profile) -> float:
        skew = distance(row.cells, row.mirror) / 2
        return skew if row.lean is None else min(skew, row.lean + 0.25)

    def all_but(self, place: Steps, size: int) -> Iterator[Profile]:
        for steps in self.every:
            if steps is not place:
                yield self.profile(steps, size)

    def columns_unlike(self, own: Profile, rows: list[Steps], at: int, size: int) -> float:
        """How unevenly the stitches stand over those of the rows below and above."""
        if not own.period or not own.taken:
            return 0.0
        moved: dict[str, list[int]] = {}
        cost = 0.0
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
                    cost += 0.0 if abs(gap) <= 1 else 0.3
                elif step < 0 and any(k == key for k, _ in above.left):
                    cost += 0.1
            for key, found in gaps.items():
                cost += 0.4 * (len(found) - 1)
                moved.setdefault(key, []).extend(sorted(found))
        for found_gaps in moved.values():
            if len(found_gaps) > 1:
                cost += 0.25 * min(3, max(found_gaps) - min(found_gaps))
        return cost

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

    def words_unlike(self, own: Profile, others: Sequence[Profile]) -> float:
        same = [o for o in others if o.tokens == own.tokens and o.numbers]
        if not same:
            if not others:
                return 0.0
            near = min(distance(own.tokens, o.tokens, 4) for o in others)
            return 0.3 * min(near, 3)
        cost = -0.4
        for slot, n in enumerate(own.numbers):
            values = [o.numbers[slot] for o in same]
            if len(values) >= 2:
                if len(set(values)) == 1:
                    cost += 0.0 if n == values[0] else 0.7
                    continue
                steps = {abs(b - a) for a, b in zip(values, values[1:], strict=False)}
                gaps = [abs(n - v) for v in values]
                cost += 0.0 if min(gaps) in steps or n in values else 0.3
            else:
                cost += 0.0 if n == values[0] else 0.2
        return cost

    def balance_unlike(self, own: Profile, others: Sequence[Profile]) -> float:
        cost = 0.0
        with_bodies = [o for o in others if o.bodies]
        if own.bodies and with_bodies:
            even = sum(1 for o in with_bodies if all(u == m for u, m in o.bodies))
            uses = [u for o in with_bodies for u, _ in o.bodies]
            makes = [m for o in with_bodies for _, m in o.bodies]
            for u, m in own.bodies:
                if u != m and even * 2 >= len(with_bodies):
                    cost += 1.0
                if u not in uses and u not in makes:
                    cost += 0.4
        if own.ends and others and sum(1 for o in others if o.ends == 0) * 3 >= 2 * len(others):
            cost += 0.8
        return cost

    def list_gain(self, edit: Edit) -> float:
        """Whether a list of sizes rises more evenly with one value changed."""
        assert edit.num is not None
        new = edit.num[1]
        size = edit.group[edit.group.index("size") + 1] if "size" in edit.group else 0
        old = list(new)
        old[size] = new[size] - edit.by
        return 0.25 * (roughness(new) - roughness(old))

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
        numbers: list[int] = []
        self.words(steps, size, tokens, numbers)
        bodies: list[tuple[int, int]] = []
        ends = 0
        for step in steps:
            if isinstance(step, Repeat) and step.target is not None:
                bodies.append(sums(step.body, size))
            else:
                u, m = sums((step,), size)
                ends += m - u
        lean, taken, left = self.round_body(steps, size)
        period, period_left = bodies[0] if len(bodies) == 1 else (0, 0)
        return Profile(
            tuple(cells), tuple(reversed(mirror)), tuple(tokens), tuple(numbers), tuple(bodies),
            ends, lean, taken, left, period, period_left, len(set(cells)) <= 1,
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
            lean = min(lean, sum(a != b for a, b in zip(cells, back[turn:] + back[:turn], strict=True)))  # noqa: E501
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
                self.words(step.body, size, tokens, numbers)
                tokens.append(")")
                n = step.times if step.times is not None else step.target and step.target.n
                numbers.append(n.at(size) if n else 0)
            elif isinstance(step, Fill):
                tokens.append(f"{step.stitch.key if step.stitch else ''}-{step.target.reach.value}")
                numbers.append(step.target.n.at(size))
            else:
                tokens.append(type(step).__name__)


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


def sums(steps: Sequence[Step], size: int) -> tuple[int, int]:
    """Loops used and made by steps, as far as they tell."""
    uses = makes = 0
    for step in steps:
        if isinstance(step, Work):
            n = max(0, step.times.at(size))
            uses += n * step.stitch.uses
            makes += n * step.stitch.makes
        elif isinstance(step, Repeat) and step.times is not None:
            u, m = sums(step.body, size)
            n = max(0, step.times.at(size))
            uses, makes = uses + n * u, makes + n * m
        elif isinstance(step, On):
            makes += step.count.at(size)
        elif isinstance(step, Off) and step.count is not None:
            uses += step.count.at(size)
    return uses, makes


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
    steps = [b - a for a, b in zip(values, values[1:], strict=False)]
    return float(sum(min(3, abs(b - a)) for a, b in zip(steps, steps[1:], strict=False)))


__all__ = ["KIND", "Ranking", "Row", "distance"]
