"""The columns of a chart whose stitch count changes: an exact optimum.

Unknowns are whole numbers (columns). Some must keep a distance, and each pair of a stitch and
a loop it was drawn through pulls on the other: the sum of all sideways shifts is least.
Such sums (absolute differences under difference constraints) are minimised exactly by moving
a whole set of unknowns one column at a time; the best set to move is a least cut of a
network. When no set can be moved to either side with gain, the placing is the best there is.
(Steepest descent for L-natural convex functions: K. Murota, Discrete Convex Analysis, 2003;
from memory.)
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Pull:
    """`weight` times |x[a] - x[b] + offset| is to be paid."""

    a: int
    b: int
    offset: int
    weight: int


@dataclass(slots=True)
class Problem:
    """Unknowns 0..count-1, each between `low` and `high`.

    apart   (a, b, g): x[b] is at least x[a] + g
    pulls   what is minimised
    """

    low: list[int] = field(default_factory=list)
    high: list[int] = field(default_factory=list)
    apart: list[tuple[int, int, int]] = field(default_factory=list)
    pulls: list[Pull] = field(default_factory=list)

    def add(self, low: int, high: int) -> int:
        """A new unknown; its number."""
        self.low.append(low)
        self.high.append(high)
        return len(self.low) - 1

    def cost(self, x: Sequence[int]) -> int:
        return sum(p.weight * abs(x[p.a] - x[p.b] + p.offset) for p in self.pulls)

    def allowed(self, x: Sequence[int]) -> bool:
        return all(
            low <= value <= high for low, value, high in zip(self.low, x, self.high, strict=True)
        ) and all(x[b] >= x[a] + g for a, b, g in self.apart)


def best(problem: Problem, start: Sequence[int]) -> list[int]:
    """The cheapest placing, reached from an allowed one.

    Raises ValueError when `start` is not allowed.
    """
    x = list(start)
    if not problem.allowed(x):
        raise ValueError("the placing to start from breaks a constraint")
    widest = max((h - low for low, h in zip(problem.low, problem.high, strict=True)), default=0)
    size = 1 << max(0, widest.bit_length() - 1)
    while size:  # long moves first; the moves by one column make it exact
        stuck = 0
        step = size
        while stuck < 2:
            moved = _best_move(problem, x, step)
            if moved:
                stuck = 0
                for v in moved:
                    x[v] += step
            else:
                stuck += 1
                step = -step
        size //= 2
    return x


def _best_move(problem: Problem, x: Sequence[int], step: int) -> list[int]:
    """The set of unknowns that gains most when moved by `step`; empty when none gains."""
    count = len(x)
    # Moving v out of its bounds is forbidden: v is tied to the side that stays.
    network = _Network(count + 2)
    source, sink = count, count + 1  # source side moves
    bias = [0] * count  # cost of moving v, from the pulls, beyond the pairwise part
    for pull in problem.pulls:
        a, b = pull.a, pull.b
        apart = x[a] - x[b] + pull.offset
        # The change when only a moves by `step`, and when only b does.
        only_a = (abs(apart + step) - abs(apart)) * pull.weight
        only_b = (abs(apart - step) - abs(apart)) * pull.weight
        # only_a + only_b >= 0: a pairwise part, the rest goes to the single costs.
        bias[a] += only_a
        bias[b] -= only_a
        pair = only_a + only_b
        if pair:
            # b moves and a stays: only_b = -only_a + pair
            network.arc(b, a, pair)
    limit = 1 + sum(2 * pull.weight for pull in problem.pulls)
    for a, b, g in problem.apart:
        if x[b] - x[a] - g < abs(step):
            if step > 0:  # if a moves up, b must
                network.arc(a, b, limit)
            else:  # if b moves down, a must
                network.arc(b, a, limit)
    gain = False
    for v in range(count):
        at_end = x[v] + step > problem.high[v] or x[v] + step < problem.low[v]
        if bias[v] < 0:
            network.arc(source, v, -bias[v])
            gain = True
        elif bias[v] > 0:
            network.arc(v, sink, bias[v])
        if at_end:
            network.arc(v, sink, limit)
    if not gain:
        return []
    wanted = sum(-value for value in bias if value < 0)
    flow = network.flow(source, sink)
    if flow >= wanted:
        return []
    reached = network.reached(source)
    return [v for v in range(count) if reached[v]]


class _Network:
    """A flow network: Dinic's method, augmenting along shortest paths."""

    def __init__(self, count: int) -> None:
        self.out: list[list[int]] = [[] for _ in range(count)]
        self.to: list[int] = []
        self.room: list[int] = []

    def arc(self, a: int, b: int, room: int) -> None:
        self.out[a].append(len(self.to))
        self.to.append(b)
        self.room.append(room)
        self.out[b].append(len(self.to))
        self.to.append(a)
        self.room.append(0)

    def _levels(self, source: int, sink: int) -> list[int] | None:
        level = [-1] * len(self.out)
        level[source] = 0
        queue = deque([source])
        to, room, out = self.to, self.room, self.out
        while queue:
            v = queue.popleft()
            next_level = level[v] + 1
            for e in out[v]:
                w = to[e]
                if room[e] and level[w] < 0:
                    level[w] = next_level
                    queue.append(w)
        return level if level[sink] >= 0 else None

    def flow(self, source: int, sink: int) -> int:
        total = 0
        to, room, out = self.to, self.room, self.out
        while (level := self._levels(source, sink)) is not None:
            turn = [0] * len(out)
            path: list[int] = []
            v = source
            while True:
                if v == sink:
                    pushed = min(room[e] for e in path)
                    total += pushed
                    cut_at = 0
                    for place, e in enumerate(path):
                        room[e] -= pushed
                        room[e ^ 1] += pushed
                        if not room[e] and not cut_at:
                            cut_at = place + 1
                    del path[max(cut_at - 1, 0) :]
                    v = to[path[-1]] if path else source
                    continue
                edges = out[v]
                while turn[v] < len(edges):
                    e = edges[turn[v]]
                    if room[e] and level[to[e]] == level[v] + 1:
                        break
                    turn[v] += 1
                if turn[v] < len(edges):
                    path.append(edges[turn[v]])
                    v = to[path[-1]]
                elif path:
                    level[v] = -1
                    v = to[path.pop() ^ 1]
                else:
                    break
        return total

    def reached(self, source: int) -> list[bool]:
        """The nodes still reachable when the flow is greatest: the smallest least cut."""
        seen = [False] * len(self.out)
        seen[source] = True
        queue = deque([source])
        while queue:
            v = queue.popleft()
            for e in self.out[v]:
                w = self.to[e]
                if self.room[e] and not seen[w]:
                    seen[w] = True
                    queue.append(w)
        return seen
