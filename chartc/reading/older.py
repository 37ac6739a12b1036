"""What old printed books (about 1840 to 1920) do otherwise than today's patterns.

The words themselves stand in grammar/terms/older.toml. Here is what they do with labels and
dashes, with "three times" after a step, with rows that are simply worked across, with edges
told once for all rows, and with "Commence again". Everything keeps the places of the text:
`reset` changes characters one for one.

The usage is read off the books themselves: where a row number follows a repetition, it tells
what was meant ("Repeat the two first rows, four times", and the next row is the eleventh).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import TYPE_CHECKING

from chartc.pattern import (
    ONE,
    Again,
    CastOn,
    Change,
    Fill,
    Instruction,
    Multiple,
    Num,
    Off,
    Plain,
    Reach,
    Repeat,
    Row,
    Step,
    Target,
    Turn,
    Unread,
    Until,
    UntilKind,
    Work,
    walk,
)
from chartc.reading.atoms import ONES, ORDINALS, TENS
from chartc.reading.heads import Head, ordinal
from chartc.reading.rows import Body, read_body, uses_of
from chartc.source import Span

if TYPE_CHECKING:
    from chartc.reading.resolve import Resolver, _Builder
    from chartc.reading.statements import Statement

END = Target(Reach.END)

_ORDINAL = rf"(?:\d+(?:st|nd|rd|th)|(?:twenty|thirty|forty|fifty)[- ](?:{'|'.join(ORDINALS)})|(?:{'|'.join(ORDINALS)}))\b"
_NUMBER = rf"(?:\d+|(?:(?:{'|'.join([*ONES, *TENS])}|hundred|and)[\s-]*)+\b)"
_LISTED = rf"(?:the\s+)?{_ORDINAL}(?:(?:\s|\brow\b(?=\s+and\b)|,|&|-|\band\b|\bto\b|\bthe\b)+{_ORDINAL})*"
_LABEL = re.compile(
    rf"(?P<lead>(?:^|(?<=\n))[ \t]*)(?P<list>{_LISTED}(?:\s+and\s+(?:succeeding|following))?|(?:the\s+)?{_NUMBER}\s+first)"
    r"(?P<gap>\s+)(?P<word>needles?|rows?|rounds?)\b(?P<delim>\s*(?:--|\u2014|,(?=\s)|\.--)\s*|(?=\s*:)|(?=\s+(?:like|same)\b))",
    re.IGNORECASE,
)
_BARE_RANGE = re.compile(rf"(?:^|(?<=\n))(?P<a>{_ORDINAL})\s+to\s+(?:the\s+)?(?P<b>{_ORDINAL})\s*--", re.I)
_TITLE_END = re.compile(r"(?:\.--|(?<=\))\. )(?=\s*[A-Z\d])")
_RUN_IN = re.compile(rf",\s+(?={_ORDINAL}\s+(?:needle|row|round)\s+(?:like|same)\b)", re.I)
_DASH = re.compile(r"(?P<before>[^\s-]?)--(?P<after>[^\s-]?)")


def reset(plain: str) -> str:
    """The text with labels and dashes set as they are today, character for character.

    "1st needle--" becomes "1st row   : ", ".--Repeat" within a row ".  Repeat"; a title that
    runs on into the first sentence is parted from it.
    """
    text = plain
    first = text.find("\n\n", len(text) - len(text.lstrip()))
    title = _TITLE_END.search(text, 0, first if first > 0 else len(text))
    if title and title.start() <= 120:
        stop = title.end()
        text = text[: title.start() + 1] + "\n" + " " * (stop - title.start() - 2) + text[stop:]
    text = _RUN_IN.sub(lambda m: "." + "\n" * (len(m.group()) - 1), text)
    text = _BARE_RANGE.sub(_range_label, text)
    text = _LABEL.sub(_label, text)
    return _DASH.sub(_dash, text)


def _label(match: re.Match[str]) -> str:
    word = "row" if match["word"].lower().startswith("needle") else match["word"]
    delim = match["delim"] or ""
    listed = re.sub(r"\brow\b", "   ", match["list"].replace("\n", " "))
    return (
        match["lead"]
        + listed
        + match["gap"].replace("\n", " ")
        + (word + ":" if delim else word).ljust(len(match["word"] + delim))
    )


def _range_label(match: re.Match[str]) -> str:
    made = f"{match['a']}-{match['b']} rows:"
    if len(made) > len(match.group()):
        made = f"{match['a']}-{match['b']} row:"
    return made.ljust(len(match.group()))


def _dash(match: re.Match[str]) -> str:
    before, after = match["before"], match["after"]
    if before and before in ".,;:)*":
        return f"{before}  {after}"
    if after.isupper():
        return f"{before}. {after}"  # the full stop is left out in print
    return f"{before}; {after}"


def number(text: str) -> int:
    """A number in digits or words: "two hundred and thirty-one" -> 231; 0 when it is none."""
    text = text.strip().lower()
    if text.isdigit():
        return int(text[:9])
    total = 0
    for word in re.findall(r"[a-z]+", text):
        if word == "hundred":
            total = max(1, total) * 100
        elif word in TENS:
            total += TENS[word]
        elif word in ONES:
            total += ONES[word]
    return total


def _times(text: str) -> int:
    low = text.lower()
    if "twice" in low:
        return 2
    if "once" in low:
        return 1
    found = re.search(rf"({_NUMBER})\s*times?", low)
    return number(found[1]) if found else 0


# ------------------------------------------------------------------ rows


@dataclass
class Usage:
    """What a text says once for many rows.

    edges      per section: steps before and after every row, or () for none
    mirrored   sections whose rows end as they begin, reversed
    """

    edges: list[tuple[_Builder, tuple[Step, ...], tuple[Step, ...]]] = field(default_factory=list)
    mirrored: list[_Builder] = field(default_factory=list)


_REP_IN_ROW = re.compile(
    rf"[,;.]?\s*(?:and\s+|then\s+)*repeat\s+from\s+(?:the\s+)?(?P<row>{_ORDINAL})\s+(?:row|round|needle)\s*\.?\s*$", re.I
)
_AS_IN = re.compile(rf"[,;.]?\s*repeat,?\s+as\s+in\s+(?:the\s+)?(?P<row>{_ORDINAL})\s+row,?\s+from\s+(?P<label>\(\w\)|\*)\s*\.?\s*$", re.I)
_TAIL_PLAIN = re.compile(
    rf"[.;]\s*(?:there will be\s+(?P<n>{_NUMBER})\s+plain\s+stitches(?:\s+to\s+knit)?\s+at\s+the\s+end\s+of\s+(?:the|this)\s+row"
    rf"|(?:at\s+the\s+end\s+of\s+this\s+row,?\s+)?plain\s+knit\s+the\s+(?P<m>{_NUMBER}\s+)?last\s+stitch(?:es)?)\s*\.?\s*$",
    re.I,
)
_BOTH_PLAIN = re.compile(
    r"[.;]\s*the\s+first\s+and\s+last\s+stitch(?:es)?\s+in\s+this\s+row\s+are\s+to\s+be\s+knitted\s+plain\s*\.?\s*$", re.I
)
_REMARK = re.compile(
    r"[.;]\s*(?:see\s+that|pass\s+the\s+last\s+stitch|the\s+stitch\s+knitted|each\s+time|when\s+the|finish\s+the|commence\s+the|knitted\s+in|this\s+change|there\s+should|it\s+forms)\b.*$", re.I | re.S
)
_COMMENCE = re.compile(
    rf"\s*(?:(?:then|and),?\s+)?(?:commence|begin)\s+(?:the\s+pattern\s+)?again,?(?:\s+(?:as\s+)?(?:at|from|with)\s+(?:the\s+)?(?:(?P<row>{_ORDINAL})\s+(?:row|round|needle)|beginning(?:\s+of\s+(?:the\s+)?(?:row|round))?))?",
    re.I,
)


_SO_ON = re.compile(rf",?\s*(?:and|to)\s+so\s+on(?:\s+to\s+the\s+(?P<n>{_NUMBER})\s*last\s+stitches,?\s+which\s+you\s+knit\s+plain)?\s*\.?\s*$", re.I)
_THEN_AS = re.compile(rf"[;,]?\s*then[;,\s]*continue\s+as\s+in\s+(?:the\s+)?(?P<row>{_ORDINAL})\s+(?:row|round)\s*\.?\s*$", re.I)
_ON_AND_ON = re.compile(r"[;,]\s*continue\s+to\s+(?P<steps>[^;.]*?),?\s+to\s+the\s+end\s+of\s+the\s+(?:row|round)\s*\.?\s*$", re.I)
_NOT_REPEATED = re.compile(r"[,;.\s]*\((?:these|the)\s[^()]*\bnot\s+to\s+be\s+\W?repeated\W?\s*\)[\s;,.]*", re.I)
_BEFORE_PATTERN = re.compile(r",?\s*before\s+the\s+pattern\s+(?:is\s+commenced|commences|begins)\b.*$", re.I | re.S)
_LIKE = re.compile(
    rf"\s*(?:repeat\s+(?:as\s+)?|(?:the\s+)?same\s+as\s+|like\s+|as\s+)(?P<what>(?:the\s+)?(?:first\s+(?P<firstn>{_NUMBER})\s*rows?|last(?:\s+row)?|{_ORDINAL}(?:(?:\s|,|and\b|the\b)+{_ORDINAL})*(?:\s+(?:rows?|rounds?|needles?))?))(?P<rest>(?:\W.*)?)$",
    re.I | re.S,
)
_FEWER = re.compile(rf"\bonly\s+(?P<n>{_NUMBER})\s+plain\s+stitches", re.I)


def body(resolver: Resolver, head: Head, start: int, end: int, b: _Builder) -> Body | None:
    """The instructions of a row; None when the row only says to begin again (that is then
    done)."""
    plain = resolver.plain
    begin = _COMMENCE.match(plain, start, end)
    if begin:
        first = ordinal(begin["row"]) if begin["row"] else 1
        last = max(max({*b.rows, *b.group}, default=first), (head.numbers[0] - 1) if head.numbers else 0)
        go_on(resolver, b, first, last, Span(head.span.start, end))
        return None
    goes_on = 0
    stop = end
    found = _REP_IN_ROW.search(plain, start, stop)
    if found:
        goes_on, stop = ordinal(found["row"]), found.start()
    known = _reference(resolver, plain[start:stop], b)
    if known is not None:
        return Body(known, (), True)
    found = _REMARK.search(plain, start, stop)
    if found:
        stop = found.start()
    both = _BOTH_PLAIN.search(plain, start, stop)
    if both:
        stop = both.start()
    knit = resolver.context.vocabulary.get("k")
    tail: tuple[Step, ...] = ()
    found = _TAIL_PLAIN.search(plain, start, stop)
    if found:
        count = number(found["n"] or found["m"] or "1")
        tail = (Work(knit, Num((count,)), Span(found.start(), found.end())),)
        stop = found.start()
    so_on = _SO_ON.search(plain, start, stop)
    if so_on:
        stop = so_on.start()
        if so_on["n"]:
            tail = (Work(knit, Num((number(so_on["n"]),)), Span(so_on.start(), so_on.end())),)
    then_as = _THEN_AS.search(plain, start, stop)
    on_and_on = _ON_AND_ON.search(plain, start, stop)
    if then_as or on_and_on:
        stop = (then_as or on_and_on).start()  # type: ignore[union-attr]
    parted = _NOT_REPEATED.search(plain, start, stop)
    if parted:
        head_part = read_body(plain, start, parted.start(), resolver.context)
        rest = read_body(plain, parted.end(), stop, resolver.context)
        steps = (*head_part.steps, *across(rest.steps, b, whole=False))
        return Body(_numbered(steps), (), head_part.readable and rest.readable)
    shifted = _BEFORE_PATTERN.search(plain, start, stop)
    if shifted:
        head_part = read_body(plain, start, shifted.start(), resolver.context)
        first_row = next((r for _, r in sorted({**b.rows, **b.group}.items()) if _open_repeat(r)), None)
        if first_row is not None:
            return Body(_numbered((*head_part.steps, *first_row.steps)), (), head_part.readable)
    as_in = _AS_IN.search(plain, start, stop)
    if as_in:
        row = resolver._find_row(ordinal(as_in["row"]), b)
        repeat = _labelled(row, as_in["label"]) if row is not None else None
        if repeat is not None:
            span = Span(as_in.start(), as_in.end())
            tail = (Repeat(repeat.body, None, END, span, label=repeat.label), *tail)
            stop = as_in.start()
    read = read_body(plain, start, stop, resolver.context)
    steps = tuple(
        replace(s, body=_once(s.body)) if isinstance(s, Repeat) and s.times is None else s
        for s in read.steps
    )
    if then_as:
        steps = _goes_on_as(steps, resolver._find_row(ordinal(then_as["row"]), b))
    elif on_and_on:
        again = read_body(plain, on_and_on.start("steps"), on_and_on.end("steps"), resolver.context)
        steps = (*steps, Repeat(again.steps, None, END, Span(on_and_on.start(), on_and_on.end())))
    elif so_on:
        steps = _so_on(steps)
    elif not tail or not as_in:
        steps = across(steps, b, bool(both))
    if any(isinstance(s, Change) for s in steps):
        # "knit to the end of the row, increasing at the beginning"
        steps = tuple(s for s in steps if not isinstance(s, Fill))
    if both:
        edge = Work(knit, ONE, Span(both.start(), both.end()))
        steps = _edged(steps, (edge,), (edge,))
    if tail:
        steps = _ended(steps, tail) if not as_in else (*steps, *tail)
    if goes_on:
        resolver.after_row = (goes_on, Span(stop, end))
    return replace(read, steps=_numbered(steps))


def _reference(resolver: Resolver, text: str, b: _Builder) -> tuple[Step, ...] | None:
    """The steps of a row told by another: "like the 5th", "same as third, except that there
    will be only seven plain stitches to knit"."""
    found = _LIKE.match(text)
    if not found:
        return None
    what, rest = found["what"], found["rest"]
    numbers = [ordinal(n) for n in re.findall(_ORDINAL, what, re.I)]
    if re.match(r"(?:the\s+)?(?:last|previous)\b", what, re.I):
        numbers = [max({*b.rows, *b.group}, default=0)]
    elif found["firstn"]:
        numbers = [1]
    if not numbers:
        return None
    row = resolver._find_row(numbers[0], b)
    if row is None:
        return None
    fewer = _FEWER.search(rest)
    if fewer:
        return _with_plain(row.steps, number(fewer["n"]))
    if re.search(rf"\b(?:knit|purl|pearl|slip|over)\s+{_NUMBER}", rest, re.I):
        return None
    return row.steps


def _with_plain(steps: tuple[Step, ...], count: int) -> tuple[Step, ...] | None:
    """The steps with their longest run of plain stitches made so many."""
    runs = [s for s in walk(steps) if isinstance(s, Work) and s.stitch.key == "k"]
    if not runs:
        return None
    longest = max(runs, key=lambda s: s.times.values[0])

    def put(step: Step) -> Step:
        if step is longest:
            return replace(longest, times=Num((count,), longest.times.span))
        if isinstance(step, Repeat):
            return replace(step, body=tuple(put(s) for s in step.body))
        return step

    return tuple(put(s) for s in steps)


def _open_repeat(row: Row) -> bool:
    return any(isinstance(s, Repeat) and s.times is None for s in row.steps)


def _so_on(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    """ "over, knit 2 together, over, knit 2 together, and so on": what stands there twice is
    the repeat; with nothing twice, all of it is."""
    keys = [(s.stitch.key, s.times.values) if isinstance(s, Work) else None for s in steps]
    for size in range(1, len(keys) // 2 + 1):
        if None not in keys[-2 * size :] and keys[-size:] == keys[-2 * size : -size]:
            head = len(keys) - size
            while head >= size and keys[head - size : head] == keys[-size:]:
                head -= size
            unit = steps[-size:]
            return (*steps[:head], Repeat(unit, None, END, steps[head].span.join(steps[-1].span)))
    if not steps or _open_repeat_in(steps):
        return steps
    return (Repeat(steps, None, END, steps[0].span.join(steps[-1].span)),)


def _goes_on_as(steps: tuple[Step, ...], row: Row | None) -> tuple[Step, ...]:
    """ "knit one, over; then continue as in first row": the same row, begun in other words."""
    if row is None:
        return steps
    repeat = next((s for s in row.steps if isinstance(s, Repeat) and s.times is None), None)
    body_keys = [s.stitch.key for s in _single(repeat.body) if isinstance(s, Work)] if repeat else []
    keys = [s.stitch.key for s in _single(steps) if isinstance(s, Work)]
    if repeat is row.steps[0] and body_keys[: len(keys)] == keys:
        return row.steps
    return (*steps, *row.steps)


def _open_repeat_in(steps: Sequence[Step]) -> bool:
    return any(isinstance(s, Fill) or (isinstance(s, Repeat) and s.times is None) for s in steps)


def _labelled(row: Row, label: str) -> Repeat | None:
    for step in walk(row.steps):
        if isinstance(step, Repeat) and step.label == label:
            return step
    return None


def across(
    steps: tuple[Step, ...], b: _Builder, edges: bool = False, whole: bool = True
) -> tuple[Step, ...]:
    """A bare row in a pattern of many repeats is worked across: it is a repeat to the end.

    So it is where the pattern is cast on by a multiple, or where the stitches cast on are
    just so many times what the row uses (a rib may break off at the edge). `whole` False:
    the text says that these steps are repeated.
    """
    if not steps or any(
        isinstance(s, Fill | Unread | Off | Turn)
        or (isinstance(s, Repeat) and s.times is None)
        for s in walk(steps)
    ):
        return steps
    need = uses_of(steps)
    if need is None or need.sized or need.values[0] < 1:
        return steps
    uses = need.values[0]
    if b.multiple is None and whole:
        cast = [i for i in b.flow if isinstance(i, CastOn)]
        total = cast[-1].count.values[0] - (2 if edges else 0) if cast and not cast[-1].count.sized else 0
        rib = all(isinstance(s, Work) and s.stitch.key in ("k", "p") for s in steps)
        if total // uses < 2 or (total % uses and not rib):
            return steps
    span = steps[0].span.join(steps[-1].span)
    return (Repeat(_once(steps), None, END, span),)


def _once(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    """A run of steps told twice over before "and so on", told once."""
    keys = [(s.stitch.key, s.times.values) if isinstance(s, Work) else None for s in steps]
    for size in range(1, len(keys) // 2 + 1):
        if len(keys) % size == 0 and None not in keys and keys == keys[:size] * (len(keys) // size):
            return steps[:size]
    return steps


def _numbered(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    from chartc.reading.rows import _number

    return tuple(_number(steps, iter(range(10**6))))


def _ended(steps: tuple[Step, ...], tail: tuple[Step, ...]) -> tuple[Step, ...]:
    """The steps with a tail after them: an open repeat leaves the stitches of the tail."""
    need = uses_of(tail)
    if need is None:
        return (*steps, *tail)
    out: list[Step] = []
    for step in steps:
        if isinstance(step, Repeat | Fill) and step.target is not None and step.target.reach in (Reach.END, Reach.LAST):
            held = step.target.n if step.target.reach is Reach.LAST else Num((0,))
            rest = Num(tuple(held.at(i) + need.at(i) for i in range(max(len(held.values), len(need.values)))))
            step = replace(step, target=Target(Reach.LAST, rest, "", step.target.span)) if rest.values != (0,) else step
        out.append(step)
    return (*out, *tail)


def _edged(
    steps: tuple[Step, ...], before: tuple[Step, ...], after: tuple[Step, ...]
) -> tuple[Step, ...]:
    if after and steps and isinstance(steps[-1], Work) and steps[-1].stitch == after[-1].stitch and _open_repeat_in(steps[:-1]):  # type: ignore[union-attr]
        after = ()  # the row says so itself
    return _ended((*before, *steps), after) if after else (*before, *steps)


def _with_edges(row: Row, before: tuple[Step, ...], after: tuple[Step, ...]) -> Row:
    return replace(row, steps=_numbered(_edged(row.steps, before, after)))


def finish(resolver: Resolver) -> None:
    """Put the edges that are told once for all rows round the rows of their sections."""
    usage: Usage = resolver.usage
    for b, before, after in usage.edges:
        if b.multiple is not None and before:
            more = _uses(before) + _uses(after)  # the edge comes to the stitches of the pattern
            b.multiple = replace(b.multiple, plus=b.multiple.plus + more)
        _rewrite(b, partial(_with_edges, before=before, after=after))
    for b in usage.mirrored:
        _rewrite(b, _reversed_end)
    for b in resolver.sections:
        _take_sides(b)
        multiple = b.multiple or _as_multiple(b)
        if multiple is not None and b not in usage.mirrored:
            _rewrite(b, partial(_broken_off, multiple=multiple))


def _take_sides(b: _Builder) -> None:
    """Rows "pearl knitting" between rows of knit stitches are wrong-side rows, whether their
    numbers are odd or even. Nothing is said where the two kinds do not alternate."""
    if b.in_round or any(r.side for r in b.written):
        return
    knit = [0, 0]
    for row in b.written:
        if row.number is not None:
            knit[row.number % 2] += _knitness(row.steps)
    if knit[0] * knit[1] >= 0:
        return
    right = 0 if knit[0] > 0 else 1

    def sided(row: Row) -> Row:
        if row.number is None or row.in_round:
            return row
        return replace(row, side="RS" if row.number % 2 == right else "WS")

    _rewrite(b, sided)
    _side_before(b)


def _side_before(b: _Builder) -> None:
    """Plain rows told before the first numbered one ("pearl one row") get their sides, too."""
    at = next((i for i, it in enumerate(b.flow) if isinstance(it, Row) and it.side), 0)
    if not at:
        return
    plain, first = b.flow[at - 1], b.flow[at]
    assert isinstance(first, Row)
    if not isinstance(plain, Plain) or plain.rows is None or plain.rows.sized or plain.stitch is None:
        return
    count = plain.rows.values[0]
    if count > 8:
        return
    sides = ("RS", "WS") if first.side == "WS" else ("WS", "RS")
    fill = (Fill(plain.stitch, END, plain.span),)
    b.flow[at - 1 : at] = [
        Row("Next row", None, sides[(count - 1 - n) % 2], False, fill, (), plain.span, plain.span, plain.span)
        for n in range(count)
    ]


def _knitness(steps: Sequence[Step]) -> int:
    """Knit stitches told in a row less the purl ones; a whole row counts for ten."""
    total = 0
    for step in walk(tuple(steps)):
        if isinstance(step, Work | Fill) and step.stitch is not None and step.stitch.heads:
            face = {"k": 1, "p": -1}.get(step.stitch.heads[0][:1], 0)
            total += face * (10 if isinstance(step, Fill) else step.times.values[0])
    return total


def _rewrite(b: _Builder, change: Callable[[Row], Row]) -> None:
    seen: dict[int, Row] = {}

    def made(row: Row) -> Row:
        if id(row) not in seen:
            seen[id(row)] = change(row)
        return seen[id(row)]

    def item(it: Instruction) -> Instruction:
        if isinstance(it, Row):
            return made(it)
        if isinstance(it, Again):
            return replace(it, rows=tuple(item(i) for i in it.rows))
        return it

    b.flow[:] = [item(i) for i in b.flow]
    for table in (b.rows, b.group):
        for key, row in list(table.items()):
            table[key] = made(row)
    b.written[:] = [made(r) for r in b.written]


def _reversed_end(row: Row) -> Row:
    """ "The termination of each row must be exactly the same (reversed) as the commencement":
    the steps before the repeat come again at the end in reverse, after as much of the repeat
    as makes the row the same from both ends."""
    at = next((i for i, s in enumerate(row.steps) if isinstance(s, Repeat) and s.times is None), None)
    if at is None or at + 1 < len(row.steps):
        return row
    repeat = row.steps[at]
    assert isinstance(repeat, Repeat)
    head = row.steps[:at]
    unit = _single(repeat.body)
    cut = next(
        (n for n in range(len(unit) - 1, -1, -1) if _same_reversed([*unit, *unit[:n]])), None
    )
    if cut is None:
        return row
    tail = (*unit[:cut], *(s for s in reversed(head)))
    return replace(row, steps=_numbered(_ended(row.steps, tail)))


def _as_multiple(b: _Builder) -> Multiple | None:
    """A number cast on that every row keeps, as a multiple of 0 and that number."""
    cast = next((i for i in b.flow if isinstance(i, CastOn)), None)
    if cast is None or cast.count.sized:
        return None
    return Multiple(0, cast.count.values[0], cast.span)


def _broken_off(row: Row, multiple: Multiple) -> Row:
    """A repeat that breaks off at the edge: "knit five; (a) ..." on whole patterns ends with
    what there are stitches for. So it is read where the stitches just suffice for the first
    steps of the repeat and the count of the row stays; else the row is left as it is."""
    at = next((i for i, s in enumerate(row.steps) if isinstance(s, Repeat) and s.times is None), None)
    if at is None:
        return row
    repeat = row.steps[at]
    assert isinstance(repeat, Repeat)
    head, tail = row.steps[:at], row.steps[at + 1 :]
    before, each, after = uses_of(head), uses_of(repeat.body), uses_of(tail)
    if before is None or each is None or after is None or repeat.last is not None:
        return row
    a, size, c = before.values[0], each.values[0], after.values[0]
    if size < 1 or multiple.of % size or _net(repeat.body) != 0:
        return row
    over = (multiple.plus - a - c) % size
    if not over and _is_over(repeat.body[-1]) and tail and _is_over(tail[0]):
        # "... bring the thread forward.--Repeat.--At the end, bring the thread forward, knit
        # two" tells the last yarn over of the repeat once more, not a second one beside it
        return replace(row, steps=_numbered((*head, repeat, *tail[1:])))
    even = not multiple.of and all(isinstance(s, Work) and s.stitch.key in ("k", "p") for s in repeat.body)
    if not over or not (a or c or even) or (not multiple.of and not even):
        return row
    unit = _single(repeat.body)
    cut = next((n for n in range(len(unit) + 1) if _uses(unit[:n]) >= over), 0)
    while cut <= len(unit) and _uses(unit[:cut]) == over:
        if _net((*head, *unit[:cut], *tail)) == 0:
            end = (*unit[:cut], *tail)
            rest = Num((over + c,))
            open_ = replace(repeat, target=Target(Reach.LAST, rest, "", repeat.span))
            return replace(row, steps=_numbered((*head, open_, *end)))
        cut += 1
    return row


def _is_over(step: Step) -> bool:
    return isinstance(step, Work) and step.stitch.key == "yo" and step.times.values == (1,)


def _uses(steps: Sequence[Step]) -> int:
    need = uses_of(steps)
    return -1 if need is None else need.values[0]


def _net(steps: Sequence[Step]) -> int | None:
    total = 0
    for step in _single(steps):
        if not isinstance(step, Work):
            return None
        total += step.stitch.net
    return total


def _single(steps: Sequence[Step]) -> list[Step]:
    """Steps with every stitch on its own."""
    out: list[Step] = []
    for step in steps:
        if isinstance(step, Work) and not step.times.sized:
            out += [replace(step, times=ONE)] * step.times.values[0]
        elif isinstance(step, Repeat) and step.times is not None and not step.times.sized:
            out += _single(step.body) * step.times.values[0]
        else:
            out.append(step)
    return out


def _same_reversed(steps: Sequence[Step]) -> bool:
    keys = [s.stitch.key if isinstance(s, Work) else "" for s in steps]
    return keys == keys[::-1]


# ------------------------------------------------------------------ sentences

_EACH_NEEDLE = re.compile(
    rf"(?P<n>{_NUMBER})\s*(?:stitches\s*,?\s*)?(?:on|onto|on\s+to)\s+(?:to\s+)?each\s+of\s+(?:the\s+)?(?P<needles>{_NUMBER})\s+needles(?:,?\s+and\s+(?P<last>{_NUMBER})\s+on\s+a\s+(?:third|fourth))?", re.I
)
_EACH_EARLY = re.compile(rf"on\s+each\s+of\s+(?P<needles>{_NUMBER})\s+needles,?\s+(?P<n>{_NUMBER})(?P<or>\s+or\s+{_NUMBER})?\s+stitches", re.I)
_CAST = re.compile(
    rf"\b(?:cast|casting)\s+(?:on\s+)?(?:to\s+)?(?:(?P<n>{_NUMBER})\s+(?:(?P<or>or)\s+{_NUMBER}\s*)?stitches\b)?", re.I
)
_DIVIDED = re.compile(
    rf"(?:divided|divisible|divides|divide)\s+by\s+(?P<of>{_NUMBER})(?:\s*(?:[,;]|stitches)?\s*(?:adding|with|allowing|and)\s+(?P<plus>{_NUMBER})\s*(?:stitches|extra|over|more))?", re.I
)
_FOR_EACH = re.compile(
    rf"(?P<of>{_NUMBER})\s+stitches\s*,?\s+for\s+each\s+pattern(?:,?\s+and\s+(?P<plus>{_NUMBER})\s+(?:over|extra|more))?", re.I
)
_EVEN = re.compile(r"\bany\s+(?P<what>even|uneven|odd)\s+number\s+of\s+stitches", re.I)
_AFTER_STAR = re.compile(
    rf"\brepeat\s+(?:always\s+(?P<n>{_NUMBER})\s+times\s+after\s+the\s+(?:asterisk|star)|all\s+the\s+directions,?\s*(?:\d+\s*,?\s*)?ending\s+with\s+the\s+(?:sign\s+|asterisk\s*|star\s*)\*?,?\s*(?P<m>{_NUMBER})\s+times)", re.I
)
_ALIKE = re.compile(r"\s*(?:every|each|all)\s+(?:(?:succeeding|following|other)\s+)?rows?\s+(?:is|are|being)\s+(?:alike|the\s+same)\b", re.I)
_EDGE_FIRST_LAST = re.compile(r"\bfirst\s+and\s+(?:the\s+)?last\s+stitch(?:es)?\s+(?:being|are|is|to\s+be)\b[^.]*\bplain\b|\bin\s+the\s+first\s+and\s+last\s+stitch\s+plain", re.I)
_EDGE_PLAIN = re.compile(rf"\b(?P<n>{_NUMBER})\s+plain\s+stitch(?:es)?\s+at\s+(?:the\s+beginning\s+and\s+(?:the\s+)?end|both\s+ends|each\s+end)\s+of\s+(?:each|every|the)\s+rows?", re.I)
_EDGE_END = re.compile(r"\blast\s+stitch\s+(?:of|in)\s+(?:every|each)\s+row\b[^.]*\bplain\b", re.I)
_EDGE_TWO = re.compile(
    r"\b(?:two\s+last|last\s+two)\s+stitches\b[^.]*\brows?\b[^.]*?\bfirst\s+(?P<a>pearled|purled|knitted)\W+(?:and\s+)?the\s+second\s+(?P<b>pearled|purled|knitted)", re.I
)
_MIRRORED = re.compile(r"\b(?:termination|end|ending|finish)\b[^.]{0,40}\brows?\b[^.]*\bsame\b[^.]*\brevers", re.I)
_EVEN_ROWS = re.compile(
    r"\beach\s+(?:row|round)\s+marked\s+(?:by|with)\s+an?\s+(?P<what>even|odd|uneven)\s+number\s+is\s+to\s+be\s+(?P<how>knitted|purled|pearled)(?:\s+plain)?", re.I
)
_FROM = re.compile(
    rf"\s*(?:(?:then|and)\s+)?repeat,?\s+(?:the\s+(?:whole|pattern)\s+)?from\s+(?:the\s+)?(?:(?P<row>{_ORDINAL})(?:\s+(?:row|round|needle))?|beginning)\s*(?:\.?\s*$|,?\s*(?:until|till)\b)", re.I
)
_ROWS = re.compile(
    rf"\s*(?:then\s+)?repeat\s+(?:the\s+|these\s+)?(?:(?P<which>above|last|first)\s+)?(?:(?P<n>{_NUMBER})\s+)?(?:(?P<which2>first|last|above)\s+)?(?:rows|rounds)\b(?P<rest>.*)", re.I | re.S
)
_ROWS_BY_NUMBER = re.compile(
    rf"\s*(?:then\s+)?repeat\s+(?:the\s+)?(?P<list>{_ORDINAL}(?:(?:\s|,|&|\band\b|\bto\b|\bthe\b)+{_ORDINAL})*)\s+(?:rows?|rounds?)\b(?P<rest>.*)", re.I | re.S
)


def read(resolver: Resolver, st: Statement) -> int:
    """Read what old books say in sentences. The place up to which the sentence was read:
    `st.start` when nothing of it was, `st.end` when all of it."""
    plain, start, end = resolver.plain, st.start, st.end
    text = plain[start:end]
    cast = _cast_on(resolver, st)
    if cast > start:
        return cast
    star = _AFTER_STAR.search(text)
    if star:
        resolver.context.after_star = number(star["n"] or star["m"])
        return end
    b = resolver.current
    if b is None:
        return start
    said = _for_all_rows(resolver, b, text, st.span)
    if _ALIKE.match(text) and (b.group or b.rows):
        row = resolver._find_row(max({*b.group, *b.rows}), b)
        if row is not None:
            resolver._flush(b)
            resolver.push(Again((row,), None, _unending(st.span), st.span, "", True, 0, row.number, row.number))
        return end
    if said:
        return end
    if _MATERIAL.search(text) or (_COLOURS.match(text) and not _COMMENCE.match(text)):
        resolver.notes.append(st.span)
        return end
    if _CONTINUE.match(text):
        _worked_across(b)
        return end
    even = _EVEN_ROWS.search(text)
    if even:
        stitch = resolver.context.vocabulary.get("k" if even["how"] == "knitted" else "p")
        row = Row(f"{even['what']} rows", None, "", b.in_round, (Fill(stitch, END, st.span),), (), st.span, st.span, st.span)
        b.every.append(("even" if even["what"] == "even" else "odd", 1, row, 0))
        return end
    begin = _COMMENCE.match(text)
    again = _FROM.match(text)
    if begin or again:
        word = (begin or again)["row"]  # type: ignore[index]
        first = ordinal(word) if word else min({*b.rows, *b.group}, default=0)
        last = max({*b.rows, *b.group}, default=0)
        if first and last >= first:
            go_on(resolver, b, first, last, st.span)
            return end
        return start
    return _rows_again(resolver, b, text, st)


_MATERIAL = re.compile(r"\b(?:needles?|wool|silk|cotton|thread|fleecy|skeins)\b[^.]*\b(?:is|are|be)\s+(?:required|used)\b|\bmay\s+be\s+used\b|\bends\b[^.]*\bto\s+be\s+made\s+alike\b", re.I)
_COLOURS = re.compile(r"\s*commence\s+with\b", re.I)
_CONTINUE = re.compile(r"\s*(?:continue|repeat|and\s+so)\s+(?:the\s+same\s+)?to\s+the\s+end\s+of\s+the\s+(?:row|round)\b", re.I)


def _worked_across(b: _Builder) -> None:
    """ "Continue the same to the end of the row" after a row."""
    if not b.group:
        return
    last = max(b.group)
    row = b.group[last]
    steps = across(row.steps, b, whole=False)
    changed = replace(row, steps=_numbered(steps))
    b.group[last] = changed
    b.written[:] = [changed if r is row else r for r in b.written]


def _unending(span: Span) -> Until:
    return Until(UntilKind.LENGTH, Num((0,)), span, from_here=False)


def go_on(resolver: Resolver, b: _Builder, first: int, last: int, span: Span) -> None:
    resolver._flush(b)
    rows = _since(b, first) or resolver._block(first, last, b, span)
    if rows:
        resolver.push(Again(tuple(rows), None, _unending(span), span, "", True, 0, first, last))


def _since(b: _Builder, first: int) -> list[Instruction]:
    """All that was worked since the row of that number, rows worked again included."""
    start = next((i for i, it in enumerate(b.flow) if isinstance(it, Row) and it.number == first), None)
    return [] if start is None else [i for i in b.flow[start:] if isinstance(i, Row | Again | Plain)]


def _cast_on(resolver: Resolver, st: Statement) -> int:
    """A cast-on: a number, so many on each needle, or a multiple. Where it was read to."""
    plain = resolver.plain
    text = plain[st.start : st.end]
    multiple = None
    at = 0
    divided, each_patt, even = _DIVIDED.search(text), _FOR_EACH.search(text), _EVEN.search(text)
    if divided:
        multiple = Multiple(number(divided["of"]), number(divided["plus"] or ""), Span(st.start + divided.start(), st.start + divided.end()))
        at = divided.end()
    elif each_patt:
        multiple = Multiple(number(each_patt["of"]), number(each_patt["plus"] or ""), Span(st.start + each_patt.start(), st.start + each_patt.end()))
        at = each_patt.end()
    elif even:
        multiple = Multiple(2, 0 if even["what"].lower() == "even" else 1, Span(st.start + even.start(), st.start + even.end()))
        at = even.end()
    needles = _EACH_NEEDLE.search(text)
    early = _EACH_EARLY.search(text)
    cast = next((m for m in _CAST.finditer(text) if m["n"]), None)
    total = 0
    if multiple is None and needles:
        total = number(needles["n"]) * number(needles["needles"]) + number(needles["last"] or "")
        at = needles.end()
    elif multiple is None and cast and not cast["or"]:
        total = number(cast["n"])
        at = cast.end()
    if multiple is None and not total:
        if early or (cast and cast["or"]):
            b = resolver._need(st.span)
            b.in_round = b.in_round or bool(early)
            return st.end
        return st.start
    if total and resolver.running():
        return st.start  # more stitches cast on later: read as today
    b = resolver._need(st.span)
    if multiple is not None and multiple.of:
        b.multiple = multiple
    if total:
        resolver.push(CastOn(Num((total,), Span(st.start + (cast or needles).start(), st.start + at)), "cast on", st.span, False))  # type: ignore[union-attr]
    if needles or early or re.search(r"\bon\s+each\s+of\s+\w+\s+needles|\bon\s*to\s+(?:\d|four|five)\s+needles|\bclose\s+the\s+ring", text, re.I):
        b.in_round = True
    rest = re.compile(r"[^;:.\u2014]*[;:.\u2014]\s*").match(text, at)
    return st.start + rest.end() if rest and rest.end() < len(text) else st.end


def _for_all_rows(resolver: Resolver, b: _Builder, text: str, span: Span) -> bool:
    """Edges and the like, told once for all rows of the section."""
    vocabulary = resolver.context.vocabulary
    k, p = vocabulary.get("k"), vocabulary.get("p")
    usage: Usage = resolver.usage
    one = (Work(k, ONE, span),)
    if _EDGE_FIRST_LAST.search(text):
        usage.edges.append((b, one, one))
        return True
    found = _EDGE_PLAIN.search(text)
    if found:
        edge = (Work(k, Num((number(found["n"]),)), span),)
        usage.edges.append((b, edge, edge))
        return True
    if _EDGE_END.search(text):
        usage.edges.append((b, (), one))
        return True
    found = _EDGE_TWO.search(text)
    if found:
        tail = tuple(Work(k if found[g].lower() == "knitted" else p, ONE, span) for g in "ab")
        usage.edges.append((b, (), tail))
        return True
    if _MIRRORED.search(text):
        usage.mirrored.append(b)
        return True
    return False


def _rows_again(resolver: Resolver, b: _Builder, text: str, st: Statement) -> int:
    """ "Repeat the two last rows four times": four times more, as the numbers of the rows
    that follow such words in the books show."""
    by_number = _ROWS_BY_NUMBER.match(text)
    found = by_number or _ROWS.match(text)
    if not found:
        return st.start
    rest = re.split(r"[;.]", found["rest"])[0]
    if re.search(r"\buntil\b|\btill\b", rest, re.I):
        return st.start
    rows: list[Instruction]
    first = last = None
    if by_number:
        numbers = [ordinal(n) for n in re.findall(_ORDINAL, by_number["list"], re.I)]
        first, last = numbers[0], numbers[-1]
        resolver._flush(b)
        rows = list(resolver._block(first, last, b, st.span) or [])
    else:
        which = (found["which"] or found["which2"] or "").lower()
        count = number(found["n"] or "")
        if which == "first" and count:
            first, last = 1, count
            resolver._flush(b)
            rows = list(resolver._block(1, count, b, st.span) or [])
        else:
            rows = list(resolver._last_rows(b, count or len(b.rows) + len(b.group)))
    if not rows:
        return st.start
    times = _times(rest)
    until = None if times else _unending(st.span)
    resolver.push(
        Again(tuple(rows), Num((times,)) if times else None, until, st.span, "", True, 0, first, last)
    )
    return st.end
