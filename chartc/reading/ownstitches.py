"""The abbreviations block: what the designer explains, and the stitches she defines herself."""

from __future__ import annotations

import re
from collections.abc import Iterator

from chartc import composing
from chartc.pattern import Remark, Repeat, Step, Turn, Unread, Work
from chartc.reading.compounds import defined
from chartc.reading.rows import flatten, read_body
from chartc.reading.tokens import Context, words_of
from chartc.source import Span
from chartc.stitch import Stitch

_ENTRY = re.compile(
    r"(?P<name>[^=:\n\u2014]{1,60}?)\s*(?P<sep>=|:|\u2014|\s-{1,2}\s|\t+|\s{2,}|\s\.{2,}\s|\.\s(?=[A-Z]))\s*(?P<words>\S.*)", re.DOTALL
)
_SPACED = re.compile(r"(?P<name>\S+)\s+(?P<words>\S.*)", re.DOTALL)
_CABLE = re.compile(
    r"(?:sl|place|slip|put|move)\s+(?:the\s+)?(?:next\s+)?(?P<n>\d+|one|two|three|four|five|six|seven|eight)\s*(?:sts?|stitch(?:es)?)?\s*(?:purlwise\s+)?(?:on|onto|to)\s*(?:to\s+)?(?:a\s+)?(?:cn|cable needle|cable pin|cable)\s*(?:and\s+|,\s*)?(?:hold|held|leave|let hang|place|kept?)?\s*(?:at|in|to)?\s*(?:the\s+)?(?P<where>front|back)(?:\s+of\s+work)?\s*[,;.]?\s*(?:then\s+)?(?P<rest>.*)",
    re.I | re.DOTALL,
)
# "k3tog without slipping off, yo, k3tog in the same sts": all into the same loops
_KEPT = re.compile(
    r"\b(?:without\s+(?:slipping|dropping|letting|taking|removing)[^,;.]*|(?:but\s+)?(?:do\s+not|don't)\s+(?:slip|drop|let|take|remove)[^,;.]*|(?:but\s+)?leav(?:e|ing)\s+(?:the\s+)?(?:sts?|stitch(?:es)?|them|it)?\s*on\s+(?:the\s+)?(?:left|lh|left-hand|left hand)?\s*needle|keep(?:ing)?\s+(?:the\s+)?(?:sts?|stitch(?:es)?)\s+on\s+(?:the\s+)?(?:left|lh)?[^,;.]*needle)",
    re.I,
)
# "sl 3 sts to cn, wrap yarn twice round them, k3 from cn": as many as were moved
_WRAPPED = re.compile(
    r"(?:sl|place|slip|put|move)\s+(?:the\s+)?(?:next\s+)?(?P<n>\d+|one|two|three|four|five|six|seven|eight)\s*(?:sts?|stitch(?:es)?)?\s*(?:on|onto|to)\s*(?:to\s+)?(?:a\s+)?(?:cn|cable needle)\b[^.]*\bwrap\b",
    re.I,
)
_SAME = re.compile(r"\b(?:in(?:to)?|through)?\s*(?:the\s+)?(?:same|them|those)\s*(?:\d+|one|two|three|four|five)?\s*(?:sts?|stitch(?:es)?|loops?)?\b|\bsame\b|\bagain\b|\bthen\b", re.I)
_FROM_CN = re.compile(r"(?:sts?\s+)?(?:from|off|on)\s+(?:the\s+)?(?:cn|cable needle|cable pin|cable|pin)\b", re.I)
# "slip the left-hand st of the cable needle back and purl it": worked before the others
_HANDED_BACK = re.compile(
    r"(?:slip|sl|place|move|return|put)\s+(?:the\s+)?[^,;.]{0,40}?\b(?:of|from|on)\s+(?:the\s+)?(?:cn|cable needle)\b[^,;.]{0,60}?(?:,\s*|\band\s+|\bthen\s+)+(?P<work>purl|knit|p|k)\s*(?:it|1)\b",
    re.I,
)
# terms that name no stitch: they are explained, nothing more
_NUMBERS = {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8}
_TRAIL = re.compile(r"[.;\s]*(?:\((?:[^()]*)\)\s*)?$")
_REMARK_END = re.compile(
    r"(?:\.|;|,)?\s*(?:\(?\s*(?:(?:\d+|one|two|three|four|double)[\s-]*(?:sts?|stitch(?:es)?)?\s*(?:inc|dec)\w*|an?\s+(?:inc|dec)\w*.*|(?:right|left|centred|centered)[- ](?:leaning|slanting).*|leans?\s.*|slants?\s.*|makes?\s.*|making\s.*|counts?\s.*|a (?:single|double|left|right).*)\)?\s*\.?)$",
    re.I | re.DOTALL,
)

Entry = tuple[str, Stitch | None, Span, str, tuple[str, ...] | None]


def define_entry(plain: str, start: int, end: int, context: Context) -> Iterator[Entry]:
    """(name, stitch or None, where, words, folded key or None) for each name an entry explains.
    The key is given when the entry defines a stitch of the designer's own."""
    text = plain[start:end]
    match = _ENTRY.match(text) or _SPACED.match(text)
    if match is None:
        return
    words_start = start + match.start("words")
    words = match["words"]
    names = _names(match["name"])
    for name, offset in names:
        span = Span(start + offset, start + offset + len(name))
        yield from _define(plain, name, span, words_start, end, words, context)


def _names(text: str) -> list[tuple[str, int]]:
    """ "st, sts", "MB (make bobble)", "k2tog / dec" -> the names and their places."""
    cut = re.search(r"\s*\(", text)
    base = text[: cut.start()] if cut and cut.start() > 0 else text
    out: list[tuple[str, int]] = []
    at = 0
    inside = re.match(r"\s*\(([A-Za-z0-9/]{1,8})\)", text[cut.start() :]) if cut and cut.start() > 0 else None
    if inside and cut is not None and (inside[1].isupper() or any(c.isdigit() for c in inside[1])):
        out.append((inside[1], cut.start() + inside.start(1)))  # "Make bobble (MB)"
    for part in re.split(r"\s*(?:,|;|\bor\b|(?<!\d)/(?!\d))\s*", base):
        place = base.index(part, at) if part else at
        at = place + len(part)
        part = part.strip(" .,*\u2022-")
        if part:
            out.append((part, text.index(part, max(0, place - 1))))
    return out


def _define(
    plain: str, name: str, span: Span, start: int, end: int, words: str, context: Context
) -> Iterator[Entry]:
    key = tuple(w.text for w in words_of(name, 0, len(name), context))
    if not key or len(key) > 8:
        yield name, None, span, words, None
        return
    literal = list(key)
    match = context.vocabulary.match(literal, 0)
    known = match.stitch if match is not None and match.end == len(literal) else None
    counted = bool(match and match.meaning.count_at is not None)
    if known is not None and known.key in ("k", "p", "yo", "sl"):
        yield name, None, span, words, None
        return
    stitch, tried = _work_out(plain, start, end, name, context)
    colon = re.match(r"[A-Za-z][A-Za-z0-9 /'-]{2,40}:\s+(?=\S)", plain[start:end])
    if colon:
        inner, inner_tried = _work_out(plain, start + colon.end(), end, name, context)
        if inner is not None:
            stitch, tried = inner, inner_tried
    structural = context.phrases.match(["#" if t.isdigit() else t for t in literal], 0)
    if stitch is None:
        if known is not None and (not getattr(known, "asks", "") or not tried):
            yield name, None, span, words, None
            return
        if tried and known is None and structural is None and _names_a_stitch(words):
            context.remark(
                "own-stitch-unclear",
                span,
                f"the words for “{name}” do not tell how many stitches it uses and makes",
            )
            yield name, None, span, words, key
            return
        yield name, None, span, words, None
        return
    if known is not None and (known.uses, known.makes) == (stitch.uses, stitch.makes):
        yield name, None, span, words, None
        return
    if structural is not None and structural.end == len(literal) and known is None:
        yield name, None, span, words, None
        return
    if known is not None and known.kind == "cable" and known.uses != stitch.uses:
        context.remark(
            "own-stitch-differs",
            span,
            f"“{name}” is a stitch over {known.uses} sts by its name, but the words for it use "
            f"{stitch.uses} and make {stitch.makes}",
        )
    if counted and match is not None and match.times != 1:
        yield name, None, span, words, None
        return
    yield name, stitch, span, words, key


_NET = re.compile(r"(?P<n>\d+|one|two|three|four|five|six|single|double)[\s-]+(?:sts?|stitch(?:es)?)?\s*(?P<way>inc|dec)\w*", re.I)
_STITCHLIKE = re.compile(r"\b(?:k|p|knit|purl|sl|slip|yo|yarn over|tog|together|turn|bobble|cable|cn|st|sts|stitch|stitches|loop|loops|cast|bind)\b|\b[kp]\d", re.I)


def _names_a_stitch(words: str) -> bool:
    return bool(re.search(r"\b(?:[kp]\d|yo\b|k2tog|turn\b|cn\b|cable needle|psso|in (?:next|same|one) st)", words, re.I))


def _work_out(plain: str, start: int, end: int, name: str, context: Context) -> tuple[Stitch | None, bool]:
    """The stitch the words describe, and whether they looked like working instructions."""
    text = plain[start:end]
    trimmed = _REMARK_END.sub("", text)
    if trimmed.strip():
        end = start + len(trimmed)
    cable = _CABLE.match(plain[start:end])
    if cable and (differs := _held_differs(plain, start, cable, name, context)) is not None:
        context.remarks.append(differs)
        return None, False
    quiet = _Quiet(context)
    try:
        kept = _KEPT.search(plain[start:end])
        if kept:
            return _kept_on(plain, start, kept, end, name, context), True
        wrapped = _WRAPPED.match(plain[start:end])
        if wrapped:
            count = _number(wrapped["n"])
            return _stated(name, count, count, plain[start:end]), True
        if cable:
            return _cable(plain, start, cable, end, name, context), True
        body = read_body(plain, start, end, context)
    finally:
        quiet.restore()
    steps = [s for s in body.steps if not isinstance(s, Unread)]
    counted = any(isinstance(s, Work | Repeat) for s in steps)
    if not body.readable or not counted:
        told = _NET.search(text)
        if told:
            number = _number(told["n"]) or {"single": 1, "double": 2}.get(told["n"].lower(), 0)
            if 0 < number < 30:
                down = told["way"].lower().startswith("dec")
                uses, makes = (number + 1, 1) if down else (1, number + 1)
                return _stated(name, uses, makes, text), True
    if not counted:
        return None, bool(_STITCHLIKE.search(text)) and any(isinstance(s, Unread) for s in body.steps)
    if not body.readable:
        return None, True
    return _from_steps(body.steps, name, text), True


class _Quiet:
    """Remarks and terms met while trying a definition are not the row's."""

    def __init__(self, context: Context) -> None:
        self.context = context
        self.count = len(context.remarks)
        self.used = dict(context.used)

    def restore(self) -> None:
        del self.context.remarks[self.count :]
        self.context.used.clear()
        self.context.used.update(self.used)


def _from_steps(steps: tuple[Step, ...], name: str, words: str) -> Stitch | None:
    """Knit the definition on a small needle of its own."""
    parts: list[composing.Step] = []
    for step in steps:
        if isinstance(step, Turn):
            parts.append(composing.Turn())
        elif isinstance(step, Work | Repeat):
            parts.extend((work.stitch, times) for work, times in flatten((step,)))
        else:
            return None
    return defined(name, parts, words) if parts else None


def _kept_on(
    plain: str, start: int, kept: re.Match[str], end: int, name: str, context: Context
) -> Stitch | None:
    """Everything worked into the same loops: uses those of the first step, makes all."""
    first = read_body(plain, start, start + kept.start(), context)
    parts = [(w.stitch, n) for w, n in flatten(first.steps)]
    rest = _SAME.sub(lambda m: " " * len(m.group()), plain[start + kept.end() : end])
    rest = re.sub(
        r"[.;]?\s*(?:slip|drop|let)[^,;.]*(?:off|needle)[^,;.]*", lambda m: " " * len(m.group()), rest
    )
    more = [(w.stitch, n) for w, n in flatten(read_body(rest, 0, len(rest), context).steps)]
    if not parts or not more:
        return None
    uses = sum(s.uses * n for s, n in parts)
    makes = sum(s.makes * n for s, n in [*parts, *more])
    return _stated(name, uses, makes, plain[start:end])


def _stated(name: str, uses: int, makes: int, words: str) -> Stitch | None:
    try:
        return composing.stated(name, uses, makes, words)
    except composing.ComposingError:
        return None


Halves = tuple[list[tuple[Stitch, int]], list[tuple[Stitch, int]], int]


def _halves(plain: str, start: int, match: re.Match[str], context: Context) -> Halves | None:
    """What is worked before and what from the cable needle, and how many that second part
    uses; None when the words cannot be followed."""
    held = _number(match["n"])
    rest_start = start + match.start("rest")
    rest = _HANDED_BACK.sub(lambda m: f"{m['work'][0]}1".ljust(len(m[0])), match["rest"])
    plain = plain[:rest_start] + rest + plain[rest_start + len(rest) :]
    cut = _FROM_CN.search(rest)
    if cut is None:
        return None
    body = read_body(plain, rest_start, rest_start + cut.start(), context)
    parts = [(w.stitch, n) for w, n in flatten(body.steps)]
    if not parts or not body.readable:
        return None
    second: list[tuple[Stitch, int]] = []
    total = 0
    stitch, times = parts.pop()
    second.insert(0, (stitch, times))
    total += stitch.uses * times
    while parts and total < held and not _separate(parts):
        stitch, times = parts.pop()
        second.insert(0, (stitch, times))
        total += stitch.uses * times
    return parts, second, total


def _separate(parts: list[tuple[Stitch, int]]) -> bool:
    """The last thing left is what is worked before the held stitches."""
    return len(parts) == 1


def _held_differs(
    plain: str, start: int, match: re.Match[str], name: str, context: Context
) -> Remark | None:
    """A cable that works another number from the cable needle than it moved there."""
    quiet = _Quiet(context)
    try:
        halves = _halves(plain, start, match, context)
    finally:
        quiet.restore()
    held = _number(match["n"])
    if halves is None or halves[2] == held:
        return None
    return Remark(
        "held-stitches-differ",
        Span(start + match.start("n"), start + match.end("n")),
        f"“{name}” moves {held} sts to the cable needle but works {halves[2]} from it",
    )


def _cable(plain: str, start: int, match: re.Match[str], end: int, name: str, context: Context) -> Stitch | None:
    """ "Sl 2 sts to cn and hold in front, k2, k2 from cn"."""
    halves = _halves(plain, start, match, context)
    if halves is None or not halves[0]:
        return None
    parts, second, _ = halves
    side: composing.Side = "front" if match["where"].lower() == "front" else "back"
    steps: list[composing.Step] = [composing.Hold(_number(match["n"]), side), *parts]
    steps += [composing.FromHeld(stitch, times) for stitch, times in second]
    return defined(name, steps, plain[start:end])


def _number(text: str) -> int:
    return int(text[:9]) if text.isdigit() else _NUMBERS.get(text.lower(), 0)
