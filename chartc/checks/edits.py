"""Single changes of a text: what each does to the pattern, and how it is printed.

An edit is one token put in, left out, exchanged or renumbered. Edits that move the count in
the same way at the same place share a `group`: only one of them has to be worked on trial.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any, TypeVar

from chartc.findings import Repair
from chartc.pattern import (
    NOWHERE,
    Change,
    Fill,
    Hold,
    Instruction,
    Num,
    Off,
    On,
    Pattern,
    Repeat,
    Row,
    Step,
    Take,
    Turn,
    Work,
    walk,
)
from chartc.source import Source, Span
from chartc.stitch import Stitch
from chartc.vocabulary import load_vocabulary

Steps = tuple[Step, ...]
Key = tuple[Any, ...]

MOST_TOKENS = 150  # longer rows are only tried with changed numbers

WORDS = ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen", "twenty"]
TIMES = {1: "once", 2: "twice"}
PLAIN = frozenset({"k", "p"})

# a decrease and what it may have been meant for: one loop more or one loop less
NEIGHBOURS = {
    "k2tog": ("sk2p", "k3tog", "k"), "ssk": ("sk2p", "sssk", "k"), "skp": ("sk2p", "k"),
    "k2tog-tbl": ("k3tog-tbl", "k"), "p2tog": ("p3tog", "p"), "ssp": ("sssp", "p"),
    "p2tog-tbl": ("p3tog-tbl", "p"),
    "sk2p": ("k2tog", "ssk"), "s2kp": ("k2tog", "ssk"), "k3tog": ("k2tog",), "sssk": ("ssk",),
    "p3tog": ("p2tog",), "sssp": ("ssp",), "k3tog-tbl": ("k2tog-tbl",),
    "kfb": ("k",), "pfb": ("p",), "yo": ("yo2",), "yo2": ("yo",),
}  # fmt: skip


@dataclass(frozen=True)
class Edit:
    """One change.

    kind      "number", "size" (one size's value of a list), "target", "times", "drop",
              "insert", "exchange", "stated", "cast on"
    group     edits of one group move the count alike
    place     where the finding points
    repair    the change of the text; `words` the same in words
    row       the row it is made in; `steps` the steps of that row as written
    tup, at, upto, new   `tup[at:upto]` becomes `new` (tup None: a number is changed)
    num       the span of the number changed and its new values
    """

    kind: str
    group: Key
    place: Span
    repair: Repair
    words: str
    row: Row | None
    tup: Steps | None = None
    at: int = 0
    upto: int = 0
    new: Steps = ()
    num: tuple[Span, tuple[int, ...]] | None = None
    by: int = 0
    was: tuple[int, ...] = ()  # a list of sizes before the change, and after (`now`)
    now: tuple[int, ...] = ()

    def steps(self, steps: Steps) -> Steps:
        """The steps with the change made; the same object where nothing changes."""
        if self.tup is not None:
            return spliced(steps, self.tup, self.at, self.upto, self.new)
        assert self.num is not None
        return renumbered(steps, *self.num)


def spliced(steps: Steps, tup: Steps, at: int, upto: int, new: Steps) -> Steps:
    """`steps` with a stretch of one of its tuples exchanged."""
    if steps is tup:
        return (*steps[:at], *new, *steps[upto:])
    out: list[Step] | None = None
    for k, step in enumerate(steps):
        if isinstance(step, Repeat):
            body = spliced(step.body, tup, at, upto, new)
            last = None if step.last is None else spliced(step.last, tup, at, upto, new)
            if body is not step.body or last is not step.last:
                out = list(steps) if out is None else out
                out[k] = replace(step, body=body, last=last)
    return steps if out is None else tuple(out)


T = TypeVar("T")


def renumbered(thing: T, span: Span, values: tuple[int, ...]) -> T:
    """A part of the pattern with the number printed at `span` changed."""
    if isinstance(thing, Num):
        return replace(thing, values=values) if thing.span == span else thing
    if isinstance(thing, tuple):
        parts = [renumbered(one, span, values) for one in thing]
        if all(a is b for a, b in zip(parts, thing, strict=True)):
            return thing
        return tuple(parts)  # type: ignore[return-value]
    if is_dataclass(thing) and not isinstance(thing, Stitch | Span | type):
        changed: dict[str, object] = {}
        for one in fields(thing):
            value = getattr(thing, one.name)
            if isinstance(value, tuple | Num) or is_dataclass(value):
                new = renumbered(value, span, values)
                if new is not value:
                    changed[one.name] = new
        if changed:
            return replace(thing, **changed)
    return thing


class Changer:
    """Makes an edit in instructions, each once, so that what is shared stays shared."""

    def __init__(self, edit: Edit) -> None:
        self.edit = edit
        self.made: dict[int, tuple[Instruction, Instruction]] = {}
        self.steps_made: dict[int, tuple[Steps, Steps]] = {}

    def __call__(self, it: Instruction) -> Instruction:
        found = self.made.get(id(it))
        if found is None:
            found = self.made[id(it)] = (it, self.change(it))
        return found[1]

    def change(self, it: Instruction) -> Instruction:
        from chartc.pattern import Again, Ease

        edit = self.edit
        if edit.tup is None:
            assert edit.num is not None
            return renumbered(it, *edit.num)
        if isinstance(it, Row):
            steps = self.row_steps(it.steps)
            return it if steps is it.steps else replace(it, steps=steps)
        if isinstance(it, Again):
            rows = tuple(self(row) for row in it.rows)
            if all(a is b for a, b in zip(rows, it.rows, strict=True)):
                return it
            return replace(it, rows=rows)
        if isinstance(it, Ease) and it.shaping is not None:
            shaping = self(it.shaping)
            if shaping is not it.shaping:
                assert isinstance(shaping, Row)
                return replace(it, shaping=shaping)
            return it
        steps = getattr(it, "steps", ())
        if steps:
            new = self.row_steps(steps)
            if new is not steps:
                return replace(it, steps=new)  # type: ignore[arg-type]
        return it

    def row_steps(self, steps: Steps) -> Steps:
        found = self.steps_made.get(id(steps))
        if found is None:
            found = self.steps_made[id(steps)] = (steps, self.edit.steps(steps))
        return found[1]


# ------------------------------------------------------------------ how it is printed


class Printed:
    """How the text prints its stitches, so that a repair is worded as the rest."""

    def __init__(self, source: Source, pattern: Pattern) -> None:
        self.source = source
        seen: dict[str, Counter[str]] = {}
        self.stitches: dict[str, Stitch] = {}
        from chartc.checks.trial import rows_within

        done: set[int] = set()
        for section in pattern.sections:
            for it in section.flow:
                for row in rows_within(it):
                    if id(row.steps) in done:
                        continue
                    done.add(id(row.steps))
                    for step in walk(row.steps):
                        if isinstance(step, Work) and step.times.values == (1,):
                            words = source.at(step.span)
                            if 0 < len(words) <= 40 and "\n" not in words:
                                seen.setdefault(step.stitch.key, Counter())[words] += 1
                                self.stitches.setdefault(step.stitch.key, step.stitch)
        self.words: dict[str, str] = {}
        for key, counter in seen.items():
            lower = [w for w in counter if not w[:1].isupper()] or list(counter)
            self.words[key] = max(lower, key=lambda w: (counter[w], w))

    def stitch(self, key: str) -> Stitch | None:
        found = self.stitches.get(key)
        return found if found is not None else load_vocabulary().find(key)

    def text(self, stitch: Stitch, like: str = "") -> str:
        """The stitch as the text prints it, once; `like` a token whose capital it takes."""
        words = self.words.get(stitch.key)
        if words is None:
            words = stitch.us or stitch.key
            if stitch.key in PLAIN:
                words = f"{stitch.key}1"
        capital = like[:1].isupper() and (len(like) < 2 or not like[1:2].isupper())
        if capital:
            return words[:1].upper() + words[1:]
        return words


def number_text(old: str, new: int) -> str:
    """A number put in the words of the old one: digits, "three", "twice", "st" for one."""
    digits = re.search(r"\d+", old)
    if digits is not None:
        return old[: digits.start()] + str(new) + old[digits.end() :]
    low = old.lower()
    if low in ("once", "twice", "thrice"):
        found = TIMES.get(new, f"{new} times")
    elif low in ("st", "stitch", "sts", "stitches"):
        found = f"{new} sts"
    elif low in WORDS and new < len(WORDS):
        found = WORDS[new]
    else:
        found = str(new)
    return found.capitalize() if old[:1].isupper() else found


def number_printed(text: str) -> int | None:
    """The number a printed number says: "3", "three", "twice", "st" (one)."""
    digits = re.search(r"\d+", text)
    if digits is not None:
        return int(digits[0])
    low = text.strip().lower()
    if low in WORDS:
        return WORDS.index(low)
    return {"once": 1, "twice": 2, "st": 1, "stitch": 1}.get(low)


def value_span(source: Source, num: Num, at: int) -> Span | None:
    """Where one value of a printed list stands."""
    text = source.plain[num.span.start : num.span.end]
    found = list(re.finditer(r"\d+", text))
    if len(found) != len(num.values):
        return None
    one = found[at]
    if int(one[0]) != num.values[at]:
        return None
    return Span(num.span.start + one.start(), num.span.start + one.end())


# ------------------------------------------------------------------ which edits there are


class Editor:
    """Makes the edits of rows."""

    def __init__(self, source: Source, pattern: Pattern) -> None:
        self.source = source
        self.printed = Printed(source, pattern)
        self.sizes = max(1, len(pattern.sizes))

    # -------------------------------------------------------------- numbers

    def number(
        self, num: Num, group: Key, row: Row | None, deltas: Iterable[int], sizes: Sequence[int],
        kind: str = "number", least: int = 0, place: Span | None = None,
    ) -> Iterator[Edit]:  # fmt: skip
        """A printed number a little more or less: all of it, or one size's value."""
        if num.span == NOWHERE or num.span.end <= num.span.start:
            return
        text = self.source.at(num.span)
        if not num.sized:
            if number_printed(text) != num.values[0]:
                return  # the number is worked out from the one printed
            for d in deltas:
                new = num.values[0] + d
                if new < least:
                    continue
                repair = Repair(num.span, number_text(text, new))
                yield Edit(
                    kind, (*group, d), place or num.span, repair,
                    f"with {_short(repair.text)} for {_short(text)}",
                    row, num=(num.span, (new,)), by=d,
                )  # fmt: skip
            return
        for size in sizes:
            if size >= len(num.values):
                continue
            where = value_span(self.source, num, size)
            if where is None:
                continue
            for d in deltas:
                new = num.values[size] + d
                if new < least:
                    continue
                values = (*num.values[:size], new, *num.values[size + 1 :])
                yield Edit(
                    "size", (*group, "size", size, d), where, Repair(where, str(new)),
                    f"with {new} for {num.values[size]}", row, num=(num.span, values), by=d,
                    was=num.values,
                )  # fmt: skip
        yield from self.swaps(num, group, row, sizes)

    def swaps(self, num: Num, group: Key, row: Row | None, sizes: Sequence[int]) -> Iterator[Edit]:
        """Two neighbouring values of a list exchanged."""
        for size in range(len(num.values) - 1):
            one, two = num.values[size], num.values[size + 1]
            if one == two or not ({size, size + 1} & set(sizes)):
                continue
            first, second = value_span(self.source, num, size), value_span(self.source, num, size + 1)
            if first is None or second is None:
                return
            span = first.join(second)
            between = self.source.at(Span(first.end, second.start))
            values = (*num.values[:size], two, one, *num.values[size + 2 :])
            yield Edit(
                "swap", (*group, "swap", num.span, size), span, Repair(span, f"{two}{between}{one}"),
                f"with {one} and {two} exchanged", row, num=(num.span, values), was=num.values,
            )  # fmt: skip

    # -------------------------------------------------------------- rows

    def row(
        self, row: Row, sizes: Sequence[int], deltas: Sequence[int], more: Iterable[Stitch]
    ) -> Iterator[Edit]:
        """Every single change of a row's stitches and numbers."""
        steps = row.steps
        tokens = sum(1 for _ in walk(steps))
        inserts: dict[str, Stitch] = {}
        if tokens <= MOST_TOKENS:
            for step in walk(steps):
                if isinstance(step, Work) and step.stitch.uses + step.stitch.makes > 0:
                    inserts.setdefault(step.stitch.key, step.stitch)
            for stitch in more:
                inserts.setdefault(stitch.key, stitch)
            for key in ("yo", "k", "p"):
                if key not in inserts:
                    found = self.printed.stitch(key)
                    if found is not None:
                        inserts[key] = found
        yield from self.tuple_edits(row, steps, sizes, deltas, inserts, tokens <= MOST_TOKENS)

    def tuple_edits(
        self, row: Row, tup: Steps, sizes: Sequence[int], deltas: Sequence[int],
        inserts: dict[str, Stitch], whole: bool,
    ) -> Iterator[Edit]:  # fmt: skip
        segment = 0
        for at, step in enumerate(tup):
            if isinstance(step, Work):
                group = (id(tup), segment)
                yield from self.work(row, tup, at, step, group, sizes, deltas, whole)
                if whole:
                    yield from self.insert(row, tup, at, (id(tup), segment), inserts)
                continue
            barrier = not (isinstance(step, Repeat) and step.target is None and plain(step.body))
            if whole:
                yield from self.insert(row, tup, at, (id(tup), segment), inserts)
            if barrier:
                segment += 1
            yield from self.other(row, step, (id(tup), segment, "own", at), sizes, deltas)
            if isinstance(step, Repeat):
                yield from self.tuple_edits(row, step.body, sizes, deltas, inserts, whole)
                if step.last is not None and step.last:
                    yield from self.tuple_edits(row, step.last, sizes, deltas, inserts, whole)
            if barrier:
                segment += 1
        if whole and tup and not isinstance(tup[-1], Turn):
            yield from self.insert(row, tup, len(tup), (id(tup), segment), inserts)

    def work(
        self, row: Row, tup: Steps, at: int, step: Work, group: Key, sizes: Sequence[int],
        deltas: Sequence[int], whole: bool,
    ) -> Iterator[Edit]:  # fmt: skip
        st = step.stitch
        times = step.times
        if times.span != NOWHERE and times.span.end > times.span.start:
            for edit in self.number(times, (), row, deltas, sizes, least=1, place=step.span):
                d = edit.by
                key: Key = (*group, d * st.uses, d * st.makes)
                if edit.kind == "size":
                    key = (*key, "size", edit.group[1])
                elif edit.kind == "swap":
                    key = (*group, *edit.group)
                yield replace(edit, group=key, place=edit.place if times.sized else step.span)
        elif times.values == (1,) and st.key in PLAIN:
            for d in deltas:
                if d > 0:
                    spot = Span(step.span.end, step.span.end)
                    yield Edit(
                        "number", (*group, d, d), step.span, Repair(spot, str(1 + d)),
                        f"with {self.source.at(step.span)}{1 + d} here", row,
                        tup, at, at + 1, (replace(step, times=Num((1 + d,), spot)),), by=d,
                    )  # fmt: skip
        if not whole or times.values != (1,):
            return
        text = self.source.at(step.span)
        gone = self.without(tup, at)
        if len(tup) > 1:
            yield Edit(
                "drop", (*group, -st.uses, -st.makes), step.span, Repair(gone, ""),
                f"without {_short(text)}", row, tup, at, at + 1, (),
            )  # fmt: skip
        for near in self.neighbours(st):
            other = self.printed.stitch(near)
            if other is None:
                continue
            words = self.printed.text(other, text)
            yield Edit(
                "exchange", (*group, other.uses - st.uses, other.makes - st.makes), step.span,
                Repair(step.span, words), f"with {_short(words)} for {_short(text)}", row,
                tup, at, at + 1, (Work(other, Num((1,)), step.span),),
            )  # fmt: skip

    def neighbours(self, stitch: Stitch) -> list[str]:
        known = list(NEIGHBOURS.get(stitch.key, ()))
        if stitch.key in PLAIN:
            face = stitch.key
            known = [
                key
                for key, other in self.printed.stitches.items()
                if other.makes == 1 and other.uses in (2, 3) and other.heads[:1] == (face,)
            ]
            if not known:
                known = ["k2tog", "ssk"] if face == "k" else ["p2tog"]
        for key in list(known):
            # the form the text itself uses of a neighbour with as many loops
            other = self.printed.stitch(key)
            if other is None:
                continue
            for seen, found in self.printed.stitches.items():
                same = (found.uses, found.makes) == (other.uses, other.makes)
                if same and found.uses > 1 and seen not in known and found.kind == "decrease":
                    known.append(seen)
        return known

    def without(self, tup: Steps, at: int) -> Span:
        """A step with the comma that goes with it."""
        step = tup[at]
        plain_text = self.source.plain
        if at + 1 < len(tup):
            between = plain_text[step.span.end : tup[at + 1].span.start]
            if re.fullmatch(r"[,;]?\s*", between):
                return Span(step.span.start, tup[at + 1].span.start)
        if at > 0:
            between = plain_text[tup[at - 1].span.end : step.span.start]
            if re.fullmatch(r"[,;]?\s*", between):
                return Span(tup[at - 1].span.end, step.span.end)
        return step.span

    def insert(
        self, row: Row, tup: Steps, at: int, group: Key, inserts: dict[str, Stitch]
    ) -> Iterator[Edit]:
        before = tup[at - 1] if at > 0 else None
        after = tup[at] if at < len(tup) else None
        for stitch in inserts.values():
            beside = [
                s for s in (before, after)
                if isinstance(s, Work) and s.stitch.key == stitch.key
            ]  # fmt: skip
            if stitch.key in PLAIN and beside:
                continue  # that is a change of the number beside it
            place, repair = self.placed(before, after, stitch)
            yield Edit(
                "insert", (*group, stitch.uses, stitch.makes), place, repair,
                f"with {_short(self.printed.text(stitch))} {self.beside(before, after)}", row,
                tup, at, at, (Work(stitch, Num((1,)), place),),
            )  # fmt: skip

    def beside(self, before: Step | None, after: Step | None) -> str:
        if before is not None:
            return f"after {_short(self.source.at(before.span))}"
        assert after is not None
        return f"before {_short(self.source.at(after.span))}"

    def placed(
        self, before: Step | None, after: Step | None, stitch: Stitch
    ) -> tuple[Span, Repair]:
        words = self.printed.text(stitch)
        plain_text = self.source.plain
        if before is not None:
            end = before.span.end
            gap = ", "
            if after is not None:
                between = plain_text[end : after.span.start]
                if re.fullmatch(r"[,;]?[ ]+|[,;]?\s*\n\s*", between):
                    gap = ", " if between[:1] in ",;" else " "
            return before.span, Repair(Span(end, end), gap + words)
        assert after is not None
        start = after.span.start
        return after.span, Repair(Span(start, start), words + ", ")

    def other(
        self, row: Row, step: Step, group: Key, sizes: Sequence[int], deltas: Sequence[int]
    ) -> Iterator[Edit]:
        """The numbers of a step that is no stitch."""
        nums: list[tuple[str, Num | None, Span]] = []
        if isinstance(step, Fill | Repeat):
            if isinstance(step, Repeat) and step.times is not None:
                nums.append(("times", step.times, step.times.span))
            if step.target is not None and step.target.n.span != NOWHERE:
                nums.append(("target", step.target.n, step.target.span))
        elif isinstance(step, Off | Hold | Take | On):
            nums.append(("number", step.count, step.span))
            target = getattr(step, "target", None)
            if target is not None and target.n.span != NOWHERE:
                nums.append(("target", target.n, target.span))
        elif isinstance(step, Turn):
            nums.append(("number", step.leaving, step.span))
        elif isinstance(step, Change):
            nums.append(("change", step.by, step.span))
        for kind, num, place in nums:
            if num is None:
                continue
            if kind == "change":
                # printed without its sign, and for both ends at once
                continue
            yield from self.number(num, (*group, kind), row, deltas, sizes, kind,
                                    1 if kind == "times" else 0, place)


def plain(steps: Steps) -> bool:
    """Whether nothing in the steps needs the needle (markers, open repeats, turns ...)."""
    for step in steps:
        if isinstance(step, Repeat):
            if step.target is not None or not plain(step.body):
                return False
        elif not isinstance(step, Work | On):
            return False
    return True


def _short(text: str) -> str:
    text = " ".join(text.split())
    return f"“{text}”"

