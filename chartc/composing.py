"""Stitches made of stitches: a designer's own abbreviation, or several worked into one.

Each helper works its steps on a small needle, loop by loop, and reads off what was used, what
was made and how the loops lie. A step is a stitch and how often it is worked, as a pair, or
one of the other actions below. What cannot be worked raises ComposingError, whose message is
in trade words and meant for the designer.

    into_one([(k, 1), (yo, 1), (k, 1)])                     1 -> 3
    sequence([(sl, 1), (k, 3)], pass_over=1)                4 -> 3
    held(2, "front", [(k, 2)], [(k, 2)])                    4 -> 4, a cable
    worked_back_and_forth([[InOne(...)], [(p, 5)], [(k5tog, 1)]])   1 -> 1, a bobble
    define("MB", [InOne(...), Turn(), (p, 5), Turn(), (k5tog, 1)])
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from chartc.stitch import HeadForm, Lean, Stitch
from chartc.stitchrules import SWAPPED, number_word
from chartc.vocabulary import Vocabulary, load_vocabulary

MOST_LOOPS = 4000  # loops taken and made while working one stitch's steps

Side = Literal["front", "back"]


class ComposingError(ValueError):
    """The steps cannot be worked; the message says why, in trade words."""


@dataclass(frozen=True, slots=True)
class InOne:
    """All the steps worked into the same `into` stitches before these are let go."""

    steps: tuple[Step, ...]
    into: int = 1


@dataclass(frozen=True, slots=True)
class PassOver:
    """Pass the last `count` slipped stitches over everything worked since; without a slipped
    stitch the yarn over, or else the first stitch worked, is passed over the rest."""

    count: int = 1


@dataclass(frozen=True, slots=True)
class PassNext:
    """Pass the next `count` stitches over the one just worked and handed back; where nothing
    was handed back, the `count` stitches before the last one over it."""

    count: int = 1


@dataclass(frozen=True, slots=True)
class Return:
    """Hand the last `count` stitches back to the left needle."""

    count: int = 1


@dataclass(frozen=True, slots=True)
class Turn:
    """Turn the work."""


@dataclass(frozen=True, slots=True)
class Hold:
    """Put the next `count` stitches on a cable needle, in front or at the back."""

    count: int
    side: Side


@dataclass(frozen=True, slots=True)
class FromHeld:
    """Work a stitch so often from the cable needle."""

    stitch: Stitch
    times: int = 1


Step = tuple[Stitch, int] | InOne | PassOver | PassNext | Return | Turn | Hold | FromHeld


@dataclass(slots=True)
class _Loop:
    """A loop at work: the loops used that it comes from, the front one first."""

    origins: tuple[int, ...]
    form: HeadForm | None  # None: a loop of the row below, not worked yet
    slipped: bool = False


@dataclass
class _Needle:
    """The few loops a stitch is worked on. The row below gives as many as are asked for."""

    left: deque[_Loop] = field(default_factory=deque)  # the next to be worked first
    right: list[_Loop] = field(default_factory=list)  # the last worked last
    cable: deque[_Loop] = field(default_factory=deque)
    side: Side = "front"
    taken: int = 0
    turned: bool = False
    turns: int = 0
    passed: bool = False
    swelled: int = 0  # loops there were after several were worked into one
    handed_back: int = 0
    over: set[int] = field(default_factory=set)
    ended: list[int] = field(default_factory=list)
    work: int = 0

    def run(self, steps: Sequence[Step]) -> None:
        for step in steps:
            self.step(step)

    def step(self, step: Step) -> None:
        handed_back, self.handed_back = self.handed_back, 0
        if isinstance(step, tuple):
            stitch, times = step
            self._times(stitch, times, from_cable=False)
        elif isinstance(step, FromHeld):
            self._times(step.stitch, step.times, from_cable=True)
        elif isinstance(step, InOne):
            self._in_one(step)
        elif isinstance(step, Hold):
            self._hold(step)
        elif isinstance(step, Return):
            self._return(step.count)
        elif isinstance(step, Turn):
            self._turn()
        elif isinstance(step, PassOver):
            self._pass_over(step.count)
        else:
            self._pass_next(step.count, handed_back)

    def _spend(self, loops: int) -> None:
        self.work += loops
        if self.work > MOST_LOOPS:
            raise ComposingError(f"more than {MOST_LOOPS} loops are worked in one stitch")

    def _take(self, count: int, from_cable: bool = False) -> list[_Loop]:
        self._spend(count)
        loops: list[_Loop] = []
        for _ in range(count):
            if from_cable:
                if not self.cable:
                    raise ComposingError(
                        "more stitches are worked from the cable needle than it holds"
                    )
                loops.append(self.cable.popleft())
            elif self.left:
                loops.append(self.left.popleft())
            elif self.turned:
                raise ComposingError(
                    "more stitches are worked after the turn than there are before it"
                )
            else:
                loops.append(_Loop((self.taken,), None))
                self.taken += 1
        return loops

    def _times(self, stitch: Stitch, times: int, from_cable: bool) -> None:
        if times < 0 or times > MOST_LOOPS:
            raise ComposingError(f"more than {MOST_LOOPS} loops are worked in one stitch")
        for _ in range(times):
            loops = self._take(stitch.uses, from_cable)
            if self.cable and self.side == "back" and not from_cable:
                self.over.update(origin for loop in loops for origin in loop.origins)
            self._make(stitch, loops)

    def _in_front(self, loops: Sequence[_Loop], front: Sequence[int]) -> tuple[int, ...]:
        """The origins of loops taken together, the front one first as the first side shows
        it; worked from the other side the order is the other way about."""
        order = [origin for index in front for origin in loops[index].origins]
        return tuple(reversed(order) if self.turned else order)

    def _make(self, stitch: Stitch, loops: list[_Loop]) -> None:
        self._spend(stitch.makes)
        if stitch.kind == "slip" and len(loops) == 1:
            loop = loops[0]
            form = self._seen(stitch.heads[0]) if loop.form is None else loop.form
            self.right.append(_Loop(loop.origins, form, slipped=True))
            return
        origins = self._in_front(loops, stitch.front)
        if not stitch.makes:
            self.ended += origins
            return
        for place, form in enumerate(stitch.heads):
            if stitch.strands:
                own = loops[stitch.strands[place]].origins
            else:
                own = origins if place == 0 else ()
            self.right.append(_Loop(own, self._seen(form)))
        for index in stitch.over:
            self.over.update(loops[index].origins)

    def _seen(self, form: HeadForm) -> HeadForm:
        return SWAPPED[form] if self.turned else form

    def _in_one(self, step: InOne) -> None:
        if not step.steps:
            raise ComposingError("nothing is worked into the stitch")
        loops = self._take(max(step.into, 1))
        first = True
        for inner in step.steps:
            if not isinstance(inner, tuple):
                raise ComposingError("only stitches can be worked into one stitch")
            stitch, times = inner
            if stitch.uses > len(loops):
                raise ComposingError(
                    f"{stitch.us} needs {stitch.uses} sts, but is worked into {len(loops)}"
                )
            if times < 0 or times * max(stitch.makes, 1) > MOST_LOOPS:
                raise ComposingError(f"more than {MOST_LOOPS} loops are worked in one stitch")
            for _ in range(times):
                self._spend(stitch.makes)
                for place, form in enumerate(stitch.heads):
                    own: tuple[int, ...] = ()
                    if stitch.uses and place == 0 and first:
                        front = stitch.front
                        if len(front) != len(loops):
                            front = tuple(range(len(loops)))
                            front = front if form.endswith("tbl") else front[::-1]
                        own = self._in_front(loops, front)
                        first = False
                    self.right.append(_Loop(own, self._seen(form)))
        self.swelled = len(self.right)
        if first:
            self.ended += self._in_front(loops, range(len(loops)))

    def _hold(self, step: Hold) -> None:
        if self.cable:
            raise ComposingError("the cable needle is used again before it is empty")
        loops = self._take(step.count)
        self.cable.extend(loops)
        self.side = step.side
        if step.side == "front":
            self.over.update(origin for loop in loops for origin in loop.origins)

    def _return(self, count: int) -> None:
        if count > len(self.right):
            raise ComposingError("more stitches are handed back than have been worked")
        for _ in range(count):
            self.left.appendleft(self.right.pop())
        self.handed_back = count

    def _turn(self) -> None:
        if self.cable:
            raise ComposingError("the work is turned with stitches on the cable needle")
        if not self.turned and not self.right:
            raise ComposingError("the work is turned before anything is worked")
        self.left, self.right = deque(reversed(self.right)), list(reversed(self.left))
        self.turned = not self.turned
        self.turns += 1

    def _lay_over(self, lifted: tuple[int, ...], onto: _Loop) -> None:
        """A stitch passed over a knit loop lies in front of it, over a purl loop behind it."""
        form = onto.form or "k"
        in_front = form not in ("p", "ptbl", "mp", "slf")
        onto.origins = (*lifted, *onto.origins) if in_front else (*onto.origins, *lifted)
        onto.slipped = False

    def _pass_over(self, count: int) -> None:
        self.passed = True
        places = [place for place, loop in enumerate(self.right[:-1]) if loop.slipped][-count:]
        if not places:
            overs = [place for place, loop in enumerate(self.right[:-1]) if loop.form == "yo"]
            if not overs and count >= len(self.right):
                raise ComposingError("a stitch is passed over, but none was slipped before it")
            places = overs[-1:] if overs else list(range(count))
        if len(places) < count:
            raise ComposingError(
                f"{count} slipped stitches are passed over, but only {len(places)} were slipped"
            )
        onto = self.right[places[-1] + 1]
        # several lifted at once lie as if slipped together: the left-most in front
        lifted = [self.right[place].origins for place in reversed(places)]
        for place in reversed(places):
            del self.right[place]
        self._lay_over(tuple(origin for origins in lifted for origin in origins), onto)

    def _pass_next(self, count: int, handed_back: int) -> None:
        self.passed = True
        if handed_back:
            onto = self.left.popleft()
            for loop in self._take(count):
                self._lay_over(loop.origins, onto)
            self.left.appendleft(onto)
            self.handed_back = handed_back
            return
        if count >= len(self.right):
            raise ComposingError("more stitches are passed over than have been worked")
        onto = self.right[-1]
        for _ in range(count):
            self._lay_over(self.right.pop(-2).origins, onto)

    def finish(self) -> None:
        if self.turned:
            raise ComposingError("the work is turned but not turned back")
        if self.cable:
            left = len(self.cable)
            raise ComposingError(
                f"{left} {'stitch is' if left == 1 else 'stitches are'} left on the cable needle"
            )
        for loop in self.left:
            self.right.append(loop)
        self.left.clear()
        if not self.taken and not self.right:
            raise ComposingError("nothing is worked")


def _knot(steps: Sequence[Step]) -> Stitch:
    """The stitch the steps make, without a name."""
    needle = _Needle()
    needle.run(steps)
    needle.finish()
    uses, makes = needle.taken, len(needle.right)
    heads = tuple(loop.form or "sl" for loop in needle.right)
    origins = [loop.origins for loop in needle.right]
    order = [origin for each in origins for origin in each]
    order += needle.ended
    strands: tuple[int, ...] = ()
    over: frozenset[int] = frozenset()
    lean: Lean | None = None
    crossing = (
        uses == makes
        and all(len(each) == 1 for each in origins)
        and order != sorted(order)
        and bool(needle.over)
        and not needle.turns
    )
    if crossing:
        strands = tuple(order)
        over = frozenset(needle.over)
        order = [*sorted(over), *(index for index in range(uses) if index not in over)]
        first = min(over)
        lean = "left" if strands.index(first) > first else "right"
    elif uses > makes == 1 and not needle.turns:
        lean = _lean(order)
    extra: tuple[str, ...] = ()
    if needle.turns or needle.swelled > makes:
        extra = ("bobble",)
    elif needle.passed and makes > 1:
        extra = ("pass",)
    if crossing:
        kind = "cable"
    elif "bobble" in extra:
        kind = "bobble"
    elif uses != makes:
        kind = "decrease" if uses > makes else "increase"
    else:
        kind = "plain"
    return Stitch(
        key="",
        uses=uses,
        makes=makes,
        kind=kind,
        heads=heads,
        front=tuple(order),
        strands=strands,
        over=over,
        lean=lean,
        extra=extra,
    )


def _lean(front: Sequence[int]) -> Lean:
    """A decrease to one stitch leans the way its front loop was drawn."""
    last = len(front) - 1
    if front[0] == 0:
        return "left"
    return "right" if front[0] == last else "centre"


def _printed(step: Step) -> str:
    """A step as it is printed, US usage."""
    if isinstance(step, (tuple, FromHeld)):
        stitch, times = step if isinstance(step, tuple) else (step.stitch, step.times)
        from_cable = " from cn" if isinstance(step, FromHeld) else ""
        if stitch.counted:
            return stitch.counted.replace("#", str(times)) + from_cable
        often = {1: "", 2: " twice"}.get(times, f" {times} times")
        return stitch.us + often + from_cable
    if isinstance(step, InOne):
        return f"({_printed_all(step.steps)}) in {_in_so_many(step.into)}"
    if isinstance(step, PassOver):
        return "psso" if step.count == 1 else f"p{step.count}sso"
    if isinstance(step, PassNext):
        return "pass next st over" if step.count == 1 else f"pass next {step.count} sts over"
    if isinstance(step, Return):
        return "return to left needle"
    if isinstance(step, Hold):
        return f"sl {step.count} to cn, hold in {step.side}"
    return "turn"


def _printed_all(steps: Sequence[Step]) -> str:
    return ", ".join(_printed(step) for step in steps)


def _is_symmetrical(knot: Stitch) -> bool:
    """Whether its mirror image is worked by the same words and looks the same."""
    return knot.heads == knot.heads[::-1] and not knot.strands and knot.lean is None


# worked by passing over, and the same knot as another stitch
_PASSED = ("skp", "spp", "ksp", "psp", "sk2p", "sp2p", "k2sp", "ssskp", "sspsp")


def _in_so_many(into: int) -> str:
    return "one st" if into == 1 else f"{into} sts tog"


def _named(
    knot: Stitch, printed: str, vocabulary: Vocabulary | None, prefer: Sequence[str] = ()
) -> Stitch:
    """The known stitch that is this knot, one of `prefer` first; else the knot with its words
    for a name."""
    known = (vocabulary or load_vocabulary()).alike(knot, prefer)
    if known is not None:
        return known
    key = printed.replace(" ", "").lower()
    mirror = key if _is_symmetrical(knot) else ""
    return replace(
        knot,
        key=key,
        title=printed,
        us=printed,
        uk=printed,
        how=f"Work {printed}.",
        mirror=mirror,
        source="the pattern's own words",
    )


def into_one(steps: Sequence[Step], into: int = 1, vocabulary: Vocabulary | None = None) -> Stitch:
    """All steps worked into the same stitch, or into the same `into` stitches together.

    Gives the known stitch of the same make where there is one ("(k1, yo, k1) in one st").
    Raises ComposingError where that cannot be worked.
    """
    group = InOne(tuple(steps), into)
    knot = _knot([group])
    spelled = "".join(inner[0].key * inner[1] for inner in steps if isinstance(inner, tuple))
    return _named(knot, _printed(group), vocabulary, (spelled,))


def sequence(
    steps: Sequence[Step], pass_over: int = 0, vocabulary: Vocabulary | None = None
) -> Stitch:
    """The steps worked one after the other and taken as one stitch; at the end `pass_over`
    slipped stitches are passed over everything worked since.

    Raises ComposingError where that cannot be worked.
    """
    all_steps: list[Step] = list(steps)
    if pass_over:
        all_steps.append(PassOver(pass_over))
    passed = any(isinstance(step, (PassOver, PassNext)) for step in all_steps)
    prefer = _PASSED if passed else ()
    return _named(_knot(all_steps), _printed_all(all_steps), vocabulary, prefer)


def held(
    count: int,
    side: Side,
    worked: Sequence[Step],
    from_held: Sequence[tuple[Stitch, int]],
    vocabulary: Vocabulary | None = None,
) -> Stitch:
    """`count` stitches held on a cable needle while `worked` is worked, then `from_held` from
    the cable needle.

    Raises ComposingError where that cannot be worked, as when more stitches are worked from
    the cable needle than it holds.
    """
    return sequence(
        [Hold(count, side), *worked, *(FromHeld(stitch, times) for stitch, times in from_held)],
        vocabulary=vocabulary,
    )


def worked_back_and_forth(
    rows: Sequence[Sequence[Step]], vocabulary: Vocabulary | None = None
) -> Stitch:
    """Short rows on a few stitches, the work turned after each but the last: a bobble.

    Raises ComposingError where that cannot be worked.
    """
    steps: list[Step] = []
    for number, row in enumerate(rows):
        steps += [Turn(), *row] if number else row
    return sequence(steps, vocabulary=vocabulary)


def define(
    name: str,
    steps: Sequence[Step],
    words: str = "",
    vocabulary: Vocabulary | None = None,
) -> Stitch:
    """A designer's own stitch: its abbreviation as printed, its steps, and her own words.

    Uses, makes and the lie of the loops are worked out from the steps. Where the stitch is
    one already known it turns and mirrors like that one.
    Raises ComposingError where the steps cannot be worked.
    """
    knot = _knot(steps)
    known = (vocabulary or load_vocabulary()).alike(knot)
    key = "".join(name.lower().split())
    told = " ".join(words.split()) or _printed_all(steps)
    how = told[:1].upper() + told[1:]
    return replace(
        knot,
        key=key,
        kind="own",
        lean=known.lean if known is not None else knot.lean,
        wraps=known.wraps if known is not None else 0,
        title=told.rstrip("."),
        us=name,
        uk=name,
        how=how if how.endswith((".", "!", "?")) else how + ".",
        twin=_partner(known, "twin", key),
        mirror=_partner(known, "mirror", key) or (key if _is_symmetrical(knot) else ""),
        source="the pattern's own words",
    )


def stated(name: str, uses: int, makes: int, words: str = "") -> Stitch:
    """An own stitch of which only the counts are known: "uses 3, makes 3".

    Raises ComposingError for counts below none or beyond what one stitch can have.
    """
    if min(uses, makes) < 0 or max(uses, makes) > MOST_LOOPS or not (uses or makes):
        raise ComposingError(f"{name} cannot use {uses} and make {makes} sts")
    key = "".join(name.lower().split())
    told = " ".join(words.split()) or (
        f"{name} takes {number_word(uses)} and gives {number_word(makes)}"
    )
    head: HeadForm = "k"
    return Stitch(
        key=key,
        uses=uses,
        makes=makes,
        kind="own",
        heads=(head,) * makes,
        front=tuple(range(uses)),
        title=told.rstrip("."),
        us=name,
        uk=name,
        how=told if told.endswith((".", "!", "?")) else told + ".",
        mirror=key if max(uses, makes) <= 1 else "",
        source="the pattern's own words",
    )


def _partner(known: Stitch | None, what: Literal["twin", "mirror"], key: str) -> str:
    """The twin or mirror image of a known stitch; itself where the known one is its own."""
    if known is None:
        return ""
    partner = known.twin if what == "twin" else known.mirror
    return key if partner == known.key else partner
