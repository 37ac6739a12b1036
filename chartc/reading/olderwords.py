"""Words and tokens of old printed books put into today's order (see `older`)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from chartc.pattern import Num

MOVED = "brought forward"  # `raw` of a yarn over told only by bringing the yarn forward

if TYPE_CHECKING:
    from chartc.reading.tokens import Context, Tok, Word

def turned(words: list[Word]) -> list[Word]:
    """Words in today's order: "2 plain" is "k 2", "1 chain" an edge stitch, "the 2 last" is
    "last 2", and "knit 2 over the 2 purled" is "k 2"."""
    out: list[Word] = []
    words = _unexplained(words)
    at = 0
    while at < len(words):
        word = words[at]
        following = words[at + 1] if at + 1 < len(words) else None
        before = out[-1] if out else None
        if (
            word.text == "yo"
            and at + 2 < len(words)
            and words[at + 1].num is not None
            and words[at + 2].text in ("k", "p")
            and before is not None
            and before.num is not None
        ):
            at += 3  # told over which stitches it comes
            continue
        if word.text == "yo" and word.raw == MOVED and _to_purl(out, words[at + 1 :]):
            at += 1
            continue
        if _row_named(words, at):
            at += 3  # "of the 8th row"
            continue
        after_number = before is not None and before.num is not None
        stitches = following is not None and following.text == "st"
        if after_number and stitches and word.text == "more":
            at += 1
            continue
        worked = len(out) > 1 and out[-2].text in ("k", "p")
        if after_number and stitches and worked and word.text == "sl":
            at += 2  # "purl the 2 slipped stitches together"
            continue
        if word.num is not None and following is not None:
            verb = before is not None and before.text in ("k", "p", "sl", "bo", "co")
            if following.text == "yo" and not verb and word.text in ("1", "2", "3"):
                out.append(following)
                if word.text != "1":
                    out.append(replace(word, text="twice" if word.text == "2" else "thrice", num=None))
                at += 2
                continue
            if following.text in ("chain", "ch"):
                if word.text == "1":
                    text = "k" if out else "sl"
                    at += 2
                    if at < len(words) and words[at].text == "st":
                        at += 1
                    if before is not None and before.text == "beg":
                        text = "sl"
                    stop = words[at - 1].end
                    out += [replace(word, text=text, num=None, end=stop), replace(word, end=stop)]
                    continue
            elif following.text in ("k", "p") and not _takes_number(words, at + 1):
                if verb:
                    out.append(word)  # "knit 2 plain"
                else:
                    out += [following, word]
                at += 2
                if at < len(words) and words[at].text == "st":
                    at += 1
                continue
            elif following.text in ("last", "first") and (verb or (before is not None and before.text in ("to", "until"))):
                out += [following, word]
                at += 2
                continue
        out.append(word)
        at += 1
    return out


def _row_named(words: Sequence[Word], at: int) -> bool:
    return (
        at + 2 < len(words)
        and words[at].num is not None
        and words[at + 1].text in ("st", "nd", "rd", "th")
        and words[at + 2].text in ("row", "rnd")
    )


def _unexplained(words: list[Word]) -> list[Word]:
    """Without brackets that explain: "cross 2 stitches (that is, ...)"."""
    out: list[Word] = []
    at = 0
    while at < len(words):
        if words[at].text == "(" and [w.text for w in words[at + 1 : at + 3]] in (["that", "is"], ["as", "before"], ["by", "sl"]):
            while at < len(words) and words[at].text != ")":
                at += 1
            at += 1
            continue
        out.append(words[at])
        at += 1
    return out


def _to_purl(before: Sequence[Word], after: Sequence[Word]) -> bool:
    """Whether the yarn is only brought forward to purl: between a knit stitch and a purl
    stitch. The books say "turn the thread round the needle" where a loop is made there."""
    marks = (",", ";", ".", "and", "then")
    following = [w for w in after if w.text not in marks][:3]
    if not following or following[0].text != "p" or any(w.text == "tog" for w in following):
        return False
    previous = next((w.text for w in reversed(before) if w.text in ("k", "p", "sl", "yo", "psso")), "")
    return previous in ("k", "psso")


def _takes_number(words: Sequence[Word], at: int) -> bool:
    """Whether the k or p at a place has a number of its own after it."""
    return at + 1 < len(words) and words[at + 1].num is not None


def regroup(tokens: list[Tok], context: Context) -> list[Tok]:
    """ "bring the thread forward, knit two together, three times": the number of times goes
    back to the last semicolon; a star after the steps repeats all before it."""
    out: list[Tok] = []
    semicolons = any(t.after == ";" for t in tokens)
    for at, token in enumerate(tokens):
        if token.type == "TIMES" and token.after == "," and semicolons:
            begin = len(out)
            while begin > 0 and out[begin - 1].type == "STITCH":
                begin -= 1
                if out[begin].after in (";", ".", ":", ""):
                    break
            if len(out) - begin > 1:
                start = out[begin].start
                out.insert(begin, _made(token, "LPAR", "(", start, start, out[begin].after))
                out[begin + 1] = replace(out[begin + 1], after="")
                end = out[-1].end
                out += [_made(token, "RPAR", ")", end, end), replace(token, after="")]
                continue
        out.append(token)
        del at
    stars = [i for i, t in enumerate(out) if t.type == "STAR"]
    if out and stars == [len(out) - 1] and len(out) > 1:
        star = out.pop()
        first = out[0].start
        if context.after_star:
            times = Num((context.after_star + 1,), star.span)
            return [
                _made(out[0], "LPAR", "(", first, first),
                *out,
                _made(star, "RPAR", ")", star.start, star.start),
                _made(star, "TIMES", (times, False), star.start, star.end),
            ]
        return [_made(star, "STAR", "*", first, first), *out, _made(star, "REP", "*", star.start, star.end)]
    if len(out) > 2 and out[0].type == "TIMES" and out[1].after == ":":
        # "8 times: over, knit 1"
        first = out[1].start
        end = out[-1].end
        return [_made(out[0], "LPAR", "(", first, first), *out[1:], _made(out[0], "RPAR", ")", end, end), out[0]]
    return out



def _made(like: Tok, kind: str, value: Any, start: int, end: int, after: str = "") -> Tok:
    return replace(like, type=kind, value=value, start=start, end=end, after=after)
