"""Row labels: "Rnd 5:", "Row 2 (WS) and all WS rows:", "3rd and 5th rows:", "Next row (RS)."

A label is found at the start of a statement; it tells the numbers, the side and whether it
is a row or a round. Nothing of the instructions is read here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from chartc.reading.atoms import ONES, ORDINALS, TENS
from chartc.source import Span

_NUMBER_WORDS = "|".join([*ONES, *TENS])
_ORDINAL_WORDS = "|".join(ORDINALS)
_ORDINAL = rf"(?:\d+\s?(?:st|nd|rd|th)\b|(?:twenty|thirty|forty|fifty)[- ](?:{_ORDINAL_WORDS})\b|(?:{_ORDINAL_WORDS})\b)"
_ROWWORD = r"(?:rows?|rnds?|rounds?|rds?|rws?)"
_JOIN = r"(?:\s*(?:,|&|-|\u2014|/|\band\b|\bto\b|\bthrough\b|\bthru\b|\bthe\b|\bor\b)\s*)+"

# "Row 5", "Rows 1-4", "Rnds 2, 4 & 6", "R3", "Rnd. 5"
_COUNTED = re.compile(
    rf"(?P<lead>(?:all|every|even|odd|ws|rs|wrong side|right side|plain|next|lace|chart|pattern|patt"
    rf"|heel|toe|yoke|border|crown|set-?up|foundation|inc(?:rease)?|dec(?:rease)?|short|rib|body"
    rf"|turn(?:ing)?|gusset|thumb|edging|instep|sole|cuff|leg|foot|neck|shoulder|sleeve|cable|wedge"
    rf"|main|panel|base|square|triangle|leaf|eyelet|garter|raglan|hem|band|collar|point)[\s-]+)?"
    rf"(?P<word>{_ROWWORD}|r)\.?\s*(?:nos?\.?\s*|#\s*)?(?P<nums>\d+(?:{_JOIN}(?:{_ROWWORD}\s*)?\d+)*|(?:{_NUMBER_WORDS})\b)",
    re.IGNORECASE,
)
# "1st row", "2nd and 4th rows", "15th to the 23rd"
_ORDINALS = re.compile(
    rf"_*(?:the\s+)?(?:(?P<count>\d+|{_NUMBER_WORDS})\s+(?=first\b)|(?=.))?"
    rf"(?P<nums>{_ORDINAL}(?:{_JOIN}(?:{_ORDINAL}))*)"
    rf"(?P<every>\s*(?:,\s*)?(?:and\s+)(?:every|each|all)?\s*(?:foll(?:owing)?\.?|alt(?:ernate)?\.?|other|even|odd|succeeding|subsequent|ws|rs|wrong side|right side|\s|-|numbered)+)?"
    rf"\s*(?P<word>{_ROWWORD})\b(?P<range>\s*(?:to|-)\s*(?:the\s+)?{_ORDINAL})?",
    re.IGNORECASE,
)
_FIRST_N = re.compile(rf"_*(?:the\s+)?(?P<count>\d+|{_NUMBER_WORDS})\s+first\s+{_ROWWORD}\b", re.I)
# "Next row", "Set-up rnd", "All even rows", "Every WS row"
_NAMED = re.compile(
    rf"(?P<name>(?:\d+(?:st|nd|rd|th)\s+)?(?:[A-Za-z][A-Za-z'/]*(?:-[A-Za-z]+)*\.?[\s]+){{1,4}})(?P<word>{_ROWWORD})\b",
    re.IGNORECASE,
)
_WELL_KNOWN = re.compile(
    r"^(?:next|foll(?:owing)?|set[- ]?up|inc(?:rease|r)?|dec(?:rease)?|foundation|prep(?:aration)?"
    r"|last|final|first|every|all|even|odd|rs|ws|right[- ]side|wrong[- ]side|plain|joining|join|dividing"
    r"|division|turning|buttonhole|base|bind[- ]?off|cast[- ]?off|cast[- ]?on|short|pick[- ]?up|eyelet"
    r"|lace|rib|ribbing|garter|purl|knit|cable|pattern|patt|ridge|picot|hem|fold|shaping|raglan|yoke"
    r"|neck|crown|heel|toe|gusset|thumb|center|centre|marker|separation|border|edging|beginning|beg"
    r"|this|same|tie|hole|drawstring|bobble|repeat|rep|starting|body|sleeve|closing|button|opening"
    r"|alternate|alt|ending|end|collar|cuff|steek|motif|chart|stripe|welt|eyelets|slip|double|partial"
    r"|work|underarm|instep|foot|leg|wrong|right)\b",
    re.IGNORECASE,
)
_NOT_NAMES = re.compile(
    r"\b(?:rep|repeat|work|worked|knit|purl|until|for|of|from|over|cast|co|bo|times?|more|with|on|in|then|these|last"
    r"|approx|about|to|at|by|is|are|has|every|each|count|number|measure|these|those|form|forms|after"
    r"|before|between|ending|cont|continue|as|into|onto|being|careful)\b",
    re.IGNORECASE,
)
_PAREN = re.compile(r"\s*,?\s*[\(\[](?P<in>[^()\[\]]{0,60})[\)\]]")
_EXTRA = re.compile(
    r"\s*,?\s*(?:and|&|,|\+)?\s*(?:(?:all|every|each|the|foll(?:owing)?\.?|alt(?:ernate)?\.?|other|even|odd"
    r"|numbered|[- ]|ws|rs|wrong|right|side|sides|subsequent|succeeding|remaining|rem|only|of|piece|pattern|patt"
    r"|throughout|thereafter|through|to|up|inclusive|inc|incl|both|plain|\d+(?:st|nd|rd|th))\s*)+"
    rf"(?:{_ROWWORD}\b)?(?:\s*(?:through(?:out)?|to|until|-)?\s*(?:{_ROWWORD}\s*)?\d+\b)?(?:\s*(?:throughout|only|inclusive))?",
    re.IGNORECASE,
)
_SIDE = re.compile(r"\s*,?\s*(?:on\s+)?\b(?P<side>rs|ws|right side|wrong side)\b(?:\s+facing)?", re.I)
_DASHED_SIDE = re.compile(r"\s*[-/\u2014]+\s*(?P<side>rs|ws|right side|wrong side)\b(?:\s+facing)?", re.I)
_DELIM = re.compile(r"\s*\.?\s*(?:-{1,3}|\u2014+)\s*(?=[A-Za-z*\[(])|_*\s*(?::|\.{1,3}(?=\s|$|[A-Z*\[(])|-{1,3}(?=\s|[A-Za-z*\[(])|\u2014|=|\))\s*_*[-\u2014]*\s*|_+\s*[-\u2014]*\s*")
_STITCHY = re.compile(
    r"\s*(?:[\*\[(]|k\d|p\d|k\b|p\b|knit|purl|sl\b|sl\d|slip|yo\b|yfwd|k2|p2|ssk|skp|work\b|bind|cast|bo\b|co\b|as\b|rep\b|repeat|pm\b|sm\b|m1|inc\b|dec\b|with\b|using\b|patt\b|rib\b|kfb|pfb|cdd|sk2p|over\b|like\b|turn\b|make|plain\b|same\b|pearl\b|bring\b|moss\b|change\b|join\b|c\d|t\d|mb\b|beg\b|remove\b|place\b|ws\b|rs\b|wyif|wyib)",
    re.IGNORECASE,
)  # fmt: skip
_INT = re.compile(r"\d+")


@dataclass(frozen=True, slots=True)
class Head:
    """A row label.

    numbers  the row numbers it names, in order (empty for "Next row")
    every    "" or which further rows it stands for: "even", "odd", "RS", "WS", "alt", "all"
    side     "RS", "WS" or "" when it does not say
    rounds   True when it says round
    name     the name for a row without a number ("Next", "Dec", "Set-up"), lower case
    repeat   for "Next 4 rows": how many; else 0
    span     the label; `body` is where the instructions start
    """

    numbers: tuple[int, ...]
    every: str
    side: str
    rounds: bool
    name: str
    repeat: int
    span: Span
    body: int
    label: str
    upto: int = 0
    paren: str = ""


def ordinal(text: str) -> int:
    """ "3rd", "third", "twenty-first" -> the number; 0 when it is none."""
    text = text.strip().lower()
    match = re.match(r"\d+", text)
    if match:
        return int(match.group()[:9])
    total = 0
    for part in re.split(r"[-\s]+", text):
        if part in TENS:
            total += TENS[part]
        elif part in ORDINALS:
            total += ORDINALS[part]
        elif part in ONES:
            total += ONES[part]
    return total


_MOST_ROWS = 100_000


def _numbers(text: str) -> tuple[int, ...]:
    """Numbers of a list with ranges: "1, 3 and 5-8"."""
    tokens = re.findall(
        rf"\d+|(?:twenty|thirty|forty|fifty)[- ](?:{_ORDINAL_WORDS})|(?:{_ORDINAL_WORDS})|(?:{_NUMBER_WORDS})\b"
        r"|-|\u2014|\bto\b|\bthrough\b|\bthru\b",
        text,
        re.IGNORECASE,
    )
    found: list[int] = []
    span = False
    for token in tokens:
        low = token.lower()
        if low in ("-", "\u2014", "to", "through", "thru"):
            span = True
            continue
        value = ordinal(low)
        if span and found and 0 < value - found[-1] <= _MOST_ROWS:
            found.extend(range(found[-1] + 1, value + 1))
        else:
            found.append(value)
        span = False
    return tuple(found)


def _side(text: str) -> str:
    low = text.lower()
    if re.search(r"\b(?:ws|wrong side)\b", low):
        return "WS"
    if re.search(r"\b(?:rs|right side)\b", low):
        return "RS"
    return ""


def _every(text: str) -> str:
    low = text.lower()
    if not re.search(r"\b(?:all|every|each|alt|alternate|even|odd|other)\b", low):
        return ""
    if re.search(r"\bws|wrong", low):
        return "WS"
    if re.search(r"\brs|right", low):
        return "RS"
    if re.search(r"\beven\b", low):
        return "even"
    if re.search(r"\bodd\b", low):
        return "odd"
    if re.search(r"\balt|other\b", low):
        return "alt"
    return "all"


_LETTERED = re.compile(rf"(?P<word>(?i:{_ROWWORD}))\s+(?P<letter>[A-J])(?=\s*[:(.]|\s+-)")
_SETUP = re.compile(r"(?P<name>set-?up|foundation|increase|decrease|inc|dec|divide|dividing|division|separate)\s*(?:\((?P<paren>[^()]{0,20})\))?\s*:\s*", re.I)
_ROMAN = re.compile(rf"(?P<word>{_ROWWORD})\s+(?P<roman>[IVXL]+)(?=\s*[:.(])", re.IGNORECASE)


def _roman(text: str) -> int:
    values = {"I": 1, "V": 5, "X": 10, "L": 50}
    total = 0
    for here, following in zip(text, text[1:] + "I", strict=True):
        total += values[here] if values[here] >= values[following] else -values[here]
    return total


def find_head(plain: str, start: int, end: int) -> Head | None:
    """The row label that begins at `start`, or None when none does."""
    if start >= end:
        return None
    text = plain
    match = _ROMAN.match(text, start, end)
    if match and match["roman"].isupper():
        return _finish(text, start, match.end(), end, (_roman(match["roman"]),), "", match["word"], "", "")
    match = _LETTERED.match(text, start, end)
    if match:
        head = _finish(text, start, match.end(), end, (), "", match["word"], f"letter {match['letter'].lower()}", "", strict=True)
        if head is not None:
            return head
    match = _SETUP.match(text, start, end)
    if match and _STITCHY.match(text, match.end(), end):
        return Head((), "", _side(match["paren"] or ""), False, match["name"].lower().replace("setup", "set-up"), 0,
                    Span(start, match.end("name")), match.end(), text[start : match.end("name")], 0, "any")  # fmt: skip
    match = _COUNTED.match(text, start, end)
    if match:
        word = match["word"].lower()
        if word == "r" and not re.match(r"r\.?\s?\d", match.group(), re.I):
            return None
        head = _counted(text, match, start, end)
        if head is not None:
            return head
    match = _FIRST_N.match(text, start, end)
    if match:
        count = ordinal(match["count"])
        delim = _DELIM.match(text, match.end(), end)
        if delim and 0 < count <= 200:
            return Head(tuple(range(1, count + 1)), "", "", "nd" in match.group().lower(), "", 0,
                        Span(start, match.end()), delim.end(), text[start : match.end()])  # fmt: skip
    match = _ORDINALS.match(text, start, end)
    if match:
        numbers = _numbers(match["nums"] + (match["range"] or ""))
        every = _every(match["every"] or "")
        return _finish(text, start, match.end(), end, numbers, every, match["word"], "", "")
    match = _NAMED.match(text, start, end)
    if match:
        name = " ".join(match["name"].lower().replace(".", "").split())
        known = _WELL_KNOWN.match(re.sub(r"^\d+(?:st|nd|rd|th) ", "", name))
        bad = _NOT_NAMES.search(re.sub(r"^(?:next|every|each|all|inc|dec|last|work|these)\s*", "", name))
        if known and not bad:
            return _finish(text, start, match.end(), end, (), "", match["word"], name, "")
        if not bad and len(name.split()) <= 3:
            return _finish(text, start, match.end(), end, (), "", match["word"], name, "", strict=True)
    repeat = re.compile(
        rf"(?P<name>next|foll(?:owing)?|first)\s+(?P<n>\d+|{_NUMBER_WORDS})(?:\s*[\(\[][\d,:;\s/-]+[\)\]])?\s+(?P<word>{_ROWWORD})\b", re.I
    ).match(text, start, end)
    if repeat:
        head = _finish(text, start, repeat.end(), end, (), "", repeat["word"], "next", "", strict=True)
        if head is not None:
            count = ordinal(repeat["n"])
            if repeat["name"].lower() == "first":
                return Head(tuple(range(1, min(count, 200) + 1)), "", head.side, head.rounds, "", 0,
                            head.span, head.body, head.label)  # fmt: skip
            return Head((), "", head.side, head.rounds, "next", count, head.span, head.body, head.label)
    return None


_OWN_NUMBERS = frozenset({"inc", "increase", "dec", "decrease", "set-up", "setup", "foundation", "rib", "eyelet", "raglan"})


def _counted(text: str, match: re.Match[str], start: int, end: int) -> Head | None:
    numbers = _numbers(match["nums"])
    lead = (match["lead"] or "").strip(" -").lower()
    if lead in _OWN_NUMBERS and len(numbers) == 1:
        # "Inc rnd 2" is the second increase round, not round 2
        short = {"increase": "inc", "decrease": "dec", "setup": "set-up"}.get(lead, lead)
        head = _finish(text, start, match.end(), end, (), "", match["word"], f"{short} {numbers[0]}", "")
        if head is not None:
            return head
    return _finish(text, start, match.end(), end, numbers, "", match["word"], "", lead)


def _finish(
    text: str,
    start: int,
    at: int,
    end: int,
    numbers: tuple[int, ...],
    every: str,
    word: str,
    name: str,
    lead: str,
    strict: bool = False,
) -> Head | None:
    """Read what follows the numbers up to the delimiter."""
    rounds = word.lower().startswith(("rn", "rou", "rd"))
    side = ""
    paren = ""
    upto = 0
    if numbers and lead in ("even", "odd", "ws", "rs", "wrong side", "right side"):
        every_lead = {"wrong side": "ws", "right side": "rs"}.get(lead, lead)
        if every_lead in ("even", "odd") and len(numbers) > 1:
            want = 0 if every_lead == "even" else 1
            numbers = tuple(n for n in numbers if n % 2 == want)
        elif every_lead in ("ws", "rs"):
            side = every_lead.upper()
            if len(numbers) > 2:
                numbers = tuple(n for n in numbers if (n - numbers[0]) % 2 == 0)
    if name:
        side = _side(name)
        every = _every(name) if re.match(r"(?:all|every|each|even|odd)\b", name) else ""
        if name in ("ws", "rs", "wrong side", "right side") and text[at - 1 : at].lower() == "s":
            every = side
    if numbers and lead == "next":
        numbers_next = numbers
        del numbers_next
    while at < end:
        found = _PAREN.match(text, at, end)
        if found:
            inside = found["in"]
            probe = _side(inside)
            letters = re.sub(r"[^a-z ]", " ", inside.lower())
            stitchy = re.search(r"\b(?:k|p|yo|sl|tog|knit|purl|ssk|sts?)\b|\bk\d|\bp\d", inside.lower())
            if stitchy and not probe:
                break
            side = side or probe
            paren = (paren + " " + inside).strip()
            if re.search(r"\b(?:even|odd)\b", letters) and not re.search(r"\ball\b|\bevery\b", letters):
                want = 0 if "even" in letters else 1
                if len(numbers) > 1:
                    numbers = tuple(n for n in numbers if n % 2 == want)
            elif _every(letters) and numbers:
                every = every or _every(letters)
            at = found.end()
            continue
        found = _DASHED_SIDE.match(text, at, end) or _SIDE.match(text, at, end)
        if found:
            side = side or _side(found["side"])
            at = found.end()
            continue
        found = _EXTRA.match(text, at, end)
        if found and found.end() > at and re.search(r"[A-Za-z]", found.group()):
            extra = found.group()
            low = extra.lower()
            only = re.search(r"\b(?:even|odd)\b(?:[- ]numbered)?\s*(?:rows?|rnds?|rounds?)?\s*only|\b(?:even|odd)\s*(?:rows?|rnds?|rounds?)?\s*$", low)
            if only and len(numbers) > 1 and not re.search(r"\ball\b|\bevery\b", low):
                want = 0 if "even" in low else 1
                numbers = tuple(n for n in numbers if n % 2 == want)
            else:
                every = every or _every(low)
                if not side and not re.search(r"\b(?:all|every)\b", low):
                    side = _side(low)
                last = _INT.findall(re.sub(r"\d+(?:st|nd|rd|th)", "", low))
                if last:
                    upto = int(last[-1][:9])
            at = found.end()
            continue
        break
    if every in ("RS", "WS") and not side and numbers:
        side = every
    delim = _DELIM.match(text, at, end)
    if delim is None and paren and (comma := re.compile(r"\s*,\s*").match(text, at, end)):
        if _STITCHY.match(text, comma.end(), end):
            delim = comma
    if delim and delim.group().strip() in ("-", "--", "---") and not numbers and strict:
        return None
    if delim and not (delim.group().strip() in (".", "...") and strict) and (
        ")" not in delim.group() or "(" not in text[start:at]
    ):
        if delim.group().strip().startswith("-") and name and strict:
            return None
        body = delim.end()
    elif not strict and (numbers or name) and _STITCHY.match(text, at, end) and (
        text[at : at + 1].isspace() or text[at : at + 1] in "*[("
    ) and text[start : start + 1].isupper() | text[start : start + 1].isdigit() | (text[start : start + 1] == "_"):
        if name and not re.match(r"(?:next|set-?up|inc|dec|foundation|foll)", name):
            return None
        body = at
        while body < end and text[body].isspace():
            body += 1
    elif at >= end and (numbers or name):
        return None
    else:
        return None
    label = " ".join(text[start:at].strip(" _").split())
    return Head(numbers, every, side, rounds, name, 0, Span(start, at), body, label, upto, paren)
