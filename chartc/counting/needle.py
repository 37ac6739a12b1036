"""The needles: stitches as numbers, ahead and behind, cut into parts by markers."""

from __future__ import annotations

from collections.abc import Sequence

from chartc.counting.lin import Number

NEEDLE = "needle"  # the end of a needle, where a round lies on several
HELD = "part"  # where stitches that waited are taken along again
GAP = "\0gap"  # where a short row was turned


SPLIT = "\0split"  # where a bind-off in mid-row parts the work


ROUND = "\0round"  # the start of the round, when it lies within the stitches ahead


class Needle:
    """The stitches in work.

    left, lm    parts of the left-hand needle from the working point on, and the markers
                between them
    right, rm   parts of the right-hand needle; the last one lies at the working point
    held        holders and the pieces set aside, oldest first: (name, stitches)
    fresh       the needle already stands as the next row needs it (just turned)
    facing      0 when the right side faces the worker, 1 when the wrong side does
    known       False when the count is not known
    lost        True when the count is known but not where the markers are
    """

    __slots__ = (
        "alive",
        "facing",
        "fresh",
        "held",
        "known",
        "left",
        "lm",
        "lost",
        "right",
        "rm",
        "rows",
        "shift",
    )

    def __init__(self, count: Number = 0, alive: bool = True) -> None:
        self.left: list[Number] = [0]
        self.lm: list[str] = []
        self.right: list[Number] = [count]
        self.rm: list[str] = []
        self.held: list[tuple[str, Number]] = []
        self.fresh = False
        self.facing = 1  # the row after the cast-on turns to the right side
        self.known = True
        self.lost = False
        self.alive = alive
        self.rows = 0
        self.shift = 0

    def copy(self) -> Needle:
        new = Needle.__new__(Needle)
        new.left = self.left[:]
        new.lm = self.lm[:]
        new.right = self.right[:]
        new.rm = self.rm[:]
        new.held = self.held[:]
        new.fresh = self.fresh
        new.facing = self.facing
        new.known = self.known
        new.lost = self.lost
        new.alive = self.alive
        new.rows = self.rows
        new.shift = self.shift
        return new

    def total(self) -> Number:
        n: Number = 0
        for part in self.left:
            n = n + part
        for part in self.right:
            n = n + part
        return n

    def numbers(self) -> list[Number]:
        return [*self.left, *self.right, *(n for _, n in self.held)]

    def shape(self) -> tuple[object, ...]:
        """Everything about the needle but its numbers."""
        return (
            tuple(self.lm),
            tuple(self.rm),
            tuple(name for name, _ in self.held),
            self.fresh,
            self.known,
            self.lost,
            self.alive,
            self.shift,
        )

    def with_numbers(self, numbers: Sequence[Number]) -> Needle:
        new = self.copy()
        a, b = len(new.left), len(new.left) + len(new.right)
        new.left = list(numbers[:a])
        new.right = list(numbers[a:b])
        new.held = [(name, n) for (name, _), n in zip(self.held, numbers[b:], strict=True)]
        return new

    @property
    def bare(self) -> bool:
        """A row's worth of stitches on one needle, no marker, nothing half-worked."""
        return not self.rm and not self.lm and not self.fresh and self.left[0] == 0

    def join_in(self, waiting: Number, in_round: bool) -> None:
        """Stitches that waited come back onto the needle, beyond those in work; the mark
        between tells a row that speaks of a part where it ends."""
        if self.left != [0] or self.fresh:
            self.left.append(waiting)
            self.lm.append(HELD)
        elif in_round:
            self.right.append(waiting)
            self.rm.append(HELD)
        else:
            self.right.insert(0, waiting)
            self.rm.insert(0, HELD)

    def set_total(self, n: Number) -> None:
        """The count is n now. Markers stay only when nothing changes."""
        if self.known and not self.lost and self.total() == n:
            return
        self.lost = self.lost or bool([m for m in (*self.lm, *self.rm) if m not in (GAP, SPLIT)])
        self.left, self.lm, self.right, self.rm = [0], [], [n], []
        self.fresh = False
        self.known = True

    def forget(self) -> None:
        """The count is not known any more, nor where markers are, if there were any."""
        self.known = False
        self.lost = self.lost or any(m not in (GAP, SPLIT) for m in (*self.lm, *self.rm))
        self.left, self.lm, self.right, self.rm = [0], [], [0], []
        self.fresh = False

    # -------------------------------------------------------------- turning

    def wait(self) -> None:
        """Stitches put back on an empty needle stand as the next row needs them."""
        if self.right == [0] and not self.rm and self.left != [0]:
            self.fresh = True

    def open_row(self, in_round: bool) -> bool:
        """Bring the stitches to the left-hand needle for the next row. True when the row
        before parted the work: the far side is put aside, as the last of `held`."""
        if self.fresh:
            self.fresh = False
            return False
        if in_round:
            self._open_round()
            return False
        if self.lm and self.lm[0] == SPLIT and self.left[0] == 0:
            rest: Number = 0
            for part in self.left[1:]:
                rest = rest + part
            self.held.append(("", rest))
            self.left, self.lm = [0], []
        self._flip()
        if SPLIT in self.lm:
            cut = self.lm.index(SPLIT)
            rest = 0
            for part in self.left[cut + 1 :]:
                rest = rest + part
            self.held.append(("", rest))
            self.left, self.lm = self.left[: cut + 1], self.lm[:cut]
            return True
        return False

    def _flip(self) -> None:
        self.left, self.right = self.right[::-1], self.left[::-1]
        self.lm, self.rm = self.rm[::-1], self.lm[::-1]
        self.facing ^= 1

    def _open_round(self) -> None:
        self.facing = 0 if not self.lm else self.facing
        if self.lm and self.lm[0].startswith(ROUND) and self.left[0] == 0:
            if self.facing == 0:  # the round is complete: what lies beyond begins the next
                name = self.lm[0][len(ROUND) :]
                self._gather(self.left[1:], self.lm[1:], self.right, self.rm)
                if name:
                    self.left.append(0)
                    self.lm.append(name[1:])
                return
            self.turn(True, False)  # back at the start of the round: turned to go on
            self.fresh = False
            return
        self._gather(self.left, self.lm, self.right, self.rm)
        if len(self.left) > 1 and self.left[0] == 0 and self.lm[0] not in (GAP, SPLIT):
            self.left.append(self.left.pop(0))
            self.lm.append(self.lm.pop(0))

    def _gather(
        self, left: list[Number], lm: list[str], right: list[Number], rm: list[str]
    ) -> None:
        """All stitches on the left needle: first `left`, then round to `right`."""
        self.left = [*left[:-1], left[-1] + right[0], *right[1:]]
        self.lm = [*lm, *rm]
        self.right, self.rm = [0], []

    def turn(self, in_round: bool, gap: bool = True) -> None:
        """Turn where the working point is; `gap`: stitches are left there unworked."""
        self.fresh = True
        self.facing ^= 1
        right, rm, left, lm = self.right[::-1], self.rm[::-1], self.left[::-1], self.lm[::-1]
        if not in_round:
            self.left, self.lm = right, rm
            self.right, self.rm = left, lm
            if gap:
                self.right.append(0)
                self.rm.append(GAP)
            return
        if any(m.startswith(ROUND) for m in (*rm, *lm)):
            self.left = [*right[:-1], right[-1] + left[0], *left[1:]]
            self.lm = [*rm, *lm]
        else:
            mark = ROUND
            if lm and left[0] == 0 and lm[0] not in (GAP, SPLIT):
                mark = ROUND + ":" + lm[0]
                left, lm = left[1:], lm[1:]
            self.left = [*right, *left]
            self.lm = [*rm, mark, *lm]
        if gap:
            self.left.append(0)
            self.lm.append(GAP)
        self.right, self.rm = [0], []


def hard(mark: str) -> bool:
    """Whether a row ends at this marker of itself."""
    return mark == SPLIT or mark.startswith(ROUND)


def drop_markers(needle: Needle) -> None:
    """All markers are taken off."""
    for parts, names in ((needle.left, needle.lm), (needle.right, needle.rm)):
        i = 0
        while i < len(names):
            if names[i] in (GAP, SPLIT) or names[i].startswith("\0round"):
                i += 1
                continue
            names.pop(i)
            over = parts.pop(i + 1)
            parts[i] = parts[i] + over
    needle.lost = False
