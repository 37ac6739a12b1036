"""The columns of a chart whose stitch count changes: an exact optimum.

Unknowns are whole numbers (columns). Some must keep a distance, and each pair of a stitch and
a loop it was drawn through pulls on the other: the sum of all sideways shifts is least.

The minimum of such a sum (absolute differences under difference constraints) is found with its
dual, a flow in a network of the unknowns: each pull carries its weight one way or the other,
each distance that is just kept may carry any amount one way. An unknown where the amounts do
not cancel wants to move. What is too much at one is sent along pairs that just touch to where
it is wanted; when nothing more can be sent, all unknowns that what is left can reach move
together until another pair touches. When nothing is left, no move to either side gains, and
the placing is the best there is (the primal-dual method for least-cost flow).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from heapq import heappop, heappush


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
    if not problem.allowed(start):
        raise ValueError("the placing to start from breaks a constraint")
    return _Balance(problem, start).settled()


class _Balance:
    """The flow and the placing, side by side.

    Arc 2i goes from an unknown to another and arc 2i+1 back; `room` is what an arc can still
    carry. `gap` is how far its pair is from touching when the tail moves down (towards lower
    columns) and the head stays: the arc is open when it is 0. An unknown's `excess` is what
    must be sent away for it to rest; one that has too much wants to move down.
    """

    def __init__(self, problem: Problem, start: Sequence[int]) -> None:
        count = len(start)
        self.x = [*start, 0]  # the last one stands for column 0, which the bounds refer to
        self.out: list[list[int]] = [[] for _ in range(count + 1)]
        self.to: list[int] = []
        self.room: list[int] = []
        self.length: list[int] = []  # gap of an arc a -> b: x[a] - x[b] + length
        self.excess = [0] * (count + 1)
        x = self.x
        endless = 1 + 2 * sum(pull.weight for pull in problem.pulls)
        for pull in problem.pulls:
            apart = x[pull.a] - x[pull.b] + pull.offset
            carried = pull.weight if apart > 0 else -pull.weight if apart < 0 else 0
            # Moving a down brings the two together while a is too high, and apart after that.
            self._arc(pull.a, pull.b, pull.offset, pull.weight + carried, pull.weight - carried)
            self.excess[pull.a] += carried
            self.excess[pull.b] -= carried
        bounds = [
            *((count, v, low) for v, low in enumerate(problem.low)),
            *((v, count, -high) for v, high in enumerate(problem.high)),
        ]
        for a, b, g in [*problem.apart, *bounds]:  # x[b] >= x[a] + g
            self._arc(b, a, -g, endless, 0)

    def _arc(self, a: int, b: int, length: int, there: int, back: int) -> None:
        self.out[a].append(len(self.to))
        self.out[b].append(len(self.to) + 1)
        self.to += (b, a)
        self.room += (there, back)
        self.length += (length, -length)

    def settled(self) -> list[int]:
        while self._sent_all_it_can():
            if not self._moved():
                break
        zero = self.x[-1]
        return [value - zero for value in self.x[:-1]]

    def _levels(self) -> tuple[list[int], bool]:
        """Steps from the nearest unknown with too much, along open arcs (-1: out of reach),
        and whether one that wants more is among them."""
        x, to, room, length, out = self.x, self.to, self.room, self.length, self.out
        level = [0 if e > 0 else -1 for e in self.excess]
        edge = [v for v, e in enumerate(self.excess) if e > 0]
        step, found = 0, False
        while edge and not found:
            step += 1
            fresh = []
            for v in edge:
                here = x[v]
                for e in out[v]:
                    w = to[e]
                    if level[w] < 0 and room[e] and here - x[w] + length[e] == 0:
                        level[w] = step
                        fresh.append(w)
                        found = found or self.excess[w] < 0
            edge = fresh
        return level, found

    def _sent_all_it_can(self) -> bool:
        """Send along open arcs until nothing more arrives; whether anything is left over."""
        x, to, room, length, out = self.x, self.to, self.room, self.length, self.out
        excess = self.excess
        while True:
            level, found = self._levels()
            if not found:
                self.reach = level
                return any(e > 0 for e in excess)
            turn = [0] * len(out)
            for source in [v for v, e in enumerate(excess) if e > 0]:
                path: list[int] = []
                v = source
                while excess[source] > 0:
                    if excess[v] < 0:
                        pushed = min(excess[source], -excess[v])
                        for e in path:
                            if room[e] < pushed:
                                pushed = room[e]
                        back = len(path)
                        for place in range(len(path) - 1, -1, -1):
                            e = path[place]
                            room[e] -= pushed
                            room[e ^ 1] += pushed
                            if not room[e]:
                                back = place
                        excess[source] -= pushed
                        excess[v] += pushed
                        if back < len(path):
                            v = to[path[back] ^ 1]
                            del path[back:]
                        continue
                    arcs, at, wanted, here = out[v], turn[v], level[v] + 1, x[v]
                    while at < len(arcs):
                        e = arcs[at]
                        w = to[e]
                        if level[w] == wanted and room[e] and here - x[w] + length[e] == 0:
                            break
                        at += 1
                    turn[v] = at
                    if at < len(arcs):
                        path.append(arcs[at])
                        v = to[arcs[at]]
                    elif path:
                        level[v] = -1
                        v = to[path.pop() ^ 1]
                        turn[v] += 1
                    else:
                        break

    def _moved(self) -> bool:
        """Move what is left over down, with all it pushes on the way, until it touches an
        unknown that wants more: nearest first, by the gaps between."""
        x, to, room, length = self.x, self.to, self.room, self.length
        far: dict[int, int] = {}
        queue = [(0, v) for v, level in enumerate(self.reach) if level >= 0]
        best: dict[int, int] = {v: 0 for _, v in queue}
        end = -1
        while queue:
            distance, v = heappop(queue)
            if v in far:
                continue
            far[v] = distance
            if self.excess[v] < 0:
                end = distance
                break
            here = x[v]
            for e in self.out[v]:
                w = to[e]
                if room[e] and w not in far:
                    reached = distance + here - x[w] + length[e]
                    if reached < best.get(w, reached + 1):
                        best[w] = reached
                        heappush(queue, (reached, w))
        if end <= 0:
            return False
        for v, distance in far.items():
            x[v] -= end - distance
        return True
