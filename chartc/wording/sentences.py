"""Steps into words: one row's instructions in a house style."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from chartc.pattern import Fill, Num, Reach, Repeat, Step, Target, Work
from chartc.wording.naming import sized_words, stitch_words, stitches_word, times_words
from chartc.wording.style import HouseStyle

Verbatim = Callable[[Step], str]


class NotWorded(Exception):
    """A step these words are not made for; the row is left as its author wrote it."""


def row_sentence(
    steps: Sequence[Step], style: HouseStyle, in_round: bool, verbatim: Verbatim | None = None
) -> str:
    """The instructions of a row, without its label and full stop.

    `verbatim` gives the author's own words for a step that has no wording here; without it
    such a step raises NotWorded.
    """
    text = _plain_row(steps, style) or _joined(steps, style, in_round, verbatim, True)
    if style.capital:
        at = next((i for i, c in enumerate(text) if c.isalnum()), len(text))
        if text[at : at + 1].islower():
            text = text[:at] + text[at].upper() + text[at + 1 :]
    return text


def _plain_row(steps: Sequence[Step], style: HouseStyle) -> str:
    """ "knit" or "purl" for a row that is all one or the other."""
    if len(steps) == 1 and isinstance(steps[0], Fill) and steps[0].target.reach is Reach.END:
        stitch = steps[0].stitch
        if stitch is not None and stitch.key in ("k", "p"):
            return "knit" if stitch.key == "k" else "purl"
    return ""


def _number(num: Num, style: HouseStyle) -> int:
    if num.sized:
        raise NotWorded
    return num.values[0]


def step_words(step: Step, style: HouseStyle, in_round: bool, may_star: bool = True) -> str:
    """One step in words. Raises NotWorded for a step these words are not made for."""
    return _plain_row((step,), style) or _commas(_step(step, style, in_round, None, may_star))


def _joined(
    steps: Sequence[Step],
    style: HouseStyle,
    in_round: bool,
    verbatim: Verbatim | None,
    outermost: bool,
) -> str:
    parts: list[str] = []
    starred = False
    for i, step in enumerate(steps):
        try:
            told = _step(step, style, in_round, verbatim, outermost and not starred)
            parts += _kept_apart(step, steps[i + 1 : i + 2], told, style)
        except NotWorded:
            if verbatim is None:
                raise
            parts.append(verbatim(step))
        starred = starred or (isinstance(step, Repeat) and step.target is not None)
    return _commas(parts)


def _kept_apart(
    step: Step, after: Sequence[Step], told: list[str], style: HouseStyle
) -> list[str]:
    """A slip with the yarn in front and then a yarn over: without the brackets the two are read
    as one brioche slip."""
    if (
        style.words != "spoken"
        and isinstance(step, Work)
        and step.stitch.key == "slf"
        and step.times.values == (1,)
        and any(isinstance(one, Work) and one.stitch.kind == "yarn over" for one in after)
    ):
        left, right = "()" if style.brackets == "round" else "[]"
        return [f"{left}{told[0]}{right}"]
    return told


def _commas(parts: Sequence[str]) -> str:
    return ", ".join(part for part in parts if part)


def _step(
    step: Step, style: HouseStyle, in_round: bool, verbatim: Verbatim | None, may_star: bool
) -> list[str]:
    if isinstance(step, Work):
        if step.times.sized:
            text = sized_words(step.stitch, step.times.values, style)
            if not text:
                raise NotWorded
            return [text]
        return stitch_words(step.stitch, _number(step.times, style), style)
    if isinstance(step, Fill):
        if step.stitch is None or step.stitch.key not in ("k", "p"):
            raise NotWorded
        word = step.stitch.key if style.words == "short" else step.stitch.title
        return [f"{word} {_to(step.target, style, in_round, False)}"]
    if not isinstance(step, Repeat) or step.last is not None or step.other_times is not None:
        raise NotWorded
    if step.target is None:
        if step.times is None:
            raise NotWorded
        body = _joined(step.body, style, in_round, verbatim, False)
        return [_group(body, times_words(_number(step.times, style), style), style)]
    to = _to(step.target, style, in_round, may_star)
    body = _joined(step.body, style, in_round, verbatim, False)
    if may_star:
        return [_starred(body, to, style)]
    return [_group(body, to, style)]


def _to(target: Target, style: HouseStyle, in_round: bool, starred: bool) -> str:
    """ "to end", "to last 3 sts", "to 2 sts before marker"."""
    reach, n = target.reach, target.n
    if reach is Reach.END:
        if starred and in_round:
            return "around"
        return f"to the end of the {'round' if in_round else 'row'}" if style.words != "short" \
            else "to end"  # fmt: skip
    the = "" if style.words == "short" else "the "
    if reach in (Reach.MARKER, Reach.BEFORE_MARKER):
        marker = f"marker {target.name}".strip()
        if reach is Reach.MARKER:
            return f"to {the}{marker}"
        return f"to {_count(n, style)} before {the}{marker}"
    if reach is not Reach.LAST:
        raise NotWorded
    word = "st" if style.words == "short" else "stitch"
    if n.values == (1,):
        return f"to {the}last {word}"
    return f"to {the}last {_count(n, style)}"


def _count(n: Num, style: HouseStyle) -> str:
    """ "3 sts", "3 (4, 5) sts"."""
    if not n.sized:
        return stitches_word(n.values[0], style)
    if style.words == "spoken":
        raise NotWorded
    first, *others = (str(value) for value in n.values)
    return f"{first} ({', '.join(others)}) {'sts' if style.words == 'short' else 'stitches'}"


def _starred(body: str, to: str, style: HouseStyle) -> str:
    if style.words == "spoken":
        return f"star, {body}; repeat from star {to}"
    if style.words == "spelled":
        return f"*{body}; repeat from * {to}"
    return f"*{body}; rep from * {to}"


def _group(body: str, often: str, style: HouseStyle) -> str:
    if style.words == "spoken":
        return f"open bracket, {body}, close bracket, {often}"
    left, right = "()" if style.brackets == "round" else "[]"
    return f"{left}{body}{right} {often}"
