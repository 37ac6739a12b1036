"""Restated rows (rows.toml) put into the words of old books, so that they can be read again.

Two manners: "words" (numbers as words, semicolons, "bring the thread forward", "pearl") and
"digits" (numbers as digits, commas, "over", "chain"). The turns of phrase are the common ones
of the time; no passage is repeated here.
"""

from __future__ import annotations

import re

_ONES = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen", "twenty"]
_TENS = ("", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_ORDINALS = ["zeroth", "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth", "eleventh", "twelfth", "thirteenth", "fourteenth", "fifteenth", "sixteenth", "seventeenth", "eighteenth", "nineteenth", "twentieth"]

# stitches used by each word of the notation, for "cast off all but seven"
_USES = {"yo": 0, "yo2": 0, "k2tog": 2, "p2tog": 2, "skp": 2, "k2togtbl": 2, "k3tog": 3, "sk2p": 3}

_WORDS = {
    "yo2": "turn the thread twice round the needle",
    "k2tog": "knit two together",
    "p2tog": "pearl two together",
    "k3tog": "knit three together",
    "p3tog": "pearl three together",
    "k2togtbl": "knit two together, taken at the back",
    "k3togtbl": "knit three together, taken at the back",
    "skp": "slip one; knit one, pass the slip-stitch over it",
    "sk2p": "slip one; knit two together, pass the slip-stitch over them",
    "sk2pass": "slip one; knit two, pass the slip-stitch over them",
    "sl1": "slip one",
    "slf1": "bring the thread forward, slip one; pass the thread back",
    "k1w2": "knit one, turning the wool twice round the needle",
    "c6f": "slip three stitches on to a third needle, keeping it in front; knit three; "
    "knit the three stitches slipped on the third needle",
    "edge": "1 chain",
}
_DIGITS = {
    "yo": "over",
    "yo2": "2 overs",
    "k2tog": "knit 2 together",
    "p2tog": "purl 2 together",
    "k3tog": "knit 3 together",
    "p3tog": "purl 3 together",
    "skp": "slip 1, knit 1, pull slipped stitch over",
    "s2kp": "slip 2, knit 1, pull slipped stitches over",
    "sk2pass": "slip 1, knit 2, draw the first stitch over them",
    "ktbl": "knit 1 from behind",
    "ptbl": "purl 1 from behind",
    "rt": "cross 2",
    "edge": "1 chain",
    "dropyo": "drop the over",
}


def number(n: int) -> str:
    """231 -> "two hundred and thirty-one"."""
    if n <= 20:
        return _ONES[n]
    if n < 100:
        tens, ones = divmod(n, 10)
        return _TENS[tens] + (f"-{_ONES[ones]}" if ones else "")
    hundreds, rest = divmod(n, 100)
    return f"{_ONES[hundreds]} hundred" + (f" and {number(rest)}" if rest else "")


def ordinal(n: int, manner: str) -> str:
    if manner == "digits":
        ending = "th" if 10 < n % 100 < 14 else {1: "st", 2: "nd", 3: "rd"}.get(n % 10, "th")
        return f"{n}{ending}"
    if n <= 20:
        return _ORDINALS[n]
    return f"{_TENS[n // 10]}-{_ORDINALS[n % 10]}"


def row(code: str, manner: str) -> str:
    """A restated row in words; "" when this manner has none for it."""
    words = code.split()
    whole = {"k*": "plain knitting.", "p*": "pearl knitting."}
    if code in whole:
        return whole[code]
    if code.startswith("as "):
        return f"Commence again, as at {ordinal(int(code[3:]), manner)} row."
    if code == "?" or re.match(r"k[+-]\d", code) or "*" in code:
        return ""
    if manner == "digits":
        return _in_digits(code)
    times = re.findall(r"\(([^()]*)\)(\d+)", code)
    code = re.sub(r"\(([^()]*)\)(\d+)", lambda m: "{" + m[1].replace(" ", "+") + "}" + m[2], code)
    del times, words
    head, _, rest = code.partition("[")
    if not rest:
        return _sentence(_in_words(head.split()))
    unit, _, tail = rest.partition("]")
    said = _in_words(unit.split())
    if not head.strip():
        told = f"{said}.--Repeat."
    else:
        told = f"{_in_words(head.split())};(a) {said}.--Repeat from (a)."
    if tail.strip():
        told += f"--At the end of this row, {_in_words(tail.split())}."
    return _sentence(told)


def _sentence(text: str) -> str:
    return text if text.endswith(".") else f"{text}."


def _in_words(words: list[str]) -> str:
    parts: list[str] = []
    for at, word in enumerate(words):
        group = re.fullmatch(r"\{(.*)\}(\d+)", word)
        if group:
            inner = group[1].split("+")
            if inner[0] == "yo" and len(inner) == 2:  # one step: the number goes back over it
                parts.append(f"{_in_words(inner)}, {_times(int(group[2]))}")
            else:
                parts += [_in_words(inner)] * int(group[2])
            continue
        plain = re.fullmatch(r"([kp])(\d+)", word)
        if word == "yo":
            following = words[at + 1] if at + 1 < len(words) else ""
            if re.fullmatch(r"p\d+", following):
                parts.append("turn the thread round the needle, \0")
            elif following and not following.startswith("yo"):
                parts.append("bring the thread forward, \0")
            else:
                parts.append("bring the thread forward")
        elif plain:
            verb = "knit" if plain[1] == "k" else "pearl"
            parts.append(f"{verb} {number(int(plain[2]))}")
        elif word == "off...":
            left = sum(_USES.get(w, int(w[1:]) if w[1:].isdigit() else 1) for w in words[at + 1 :])
            parts.append(f"cast off all but {number(left)}")
        elif word.startswith("off"):
            parts.append(f"cast off {number(int(word[3:]))}")
        else:
            parts.append(_WORDS[word])
    return "; ".join(parts).replace("\0; ", "").replace(", \0", "")


def _times(n: int) -> str:
    return "twice" if n == 2 else f"{number(n)} times"


def _in_digits(code: str) -> str:
    star = re.fullmatch(r"\((.*)\)(\d+)", code)
    if star:
        return f"{_steps(star[1].split())} *."
    head, _, rest = code.partition("[")
    if not rest:
        return f"{_steps(head.split())}."
    unit, _, tail = rest.partition("]")
    if not head.strip() and not tail.strip():
        return f"{_steps(unit.split())}."  # a bare row is worked across
    told = f"{_steps(head.split())}, * " if head.strip() else "* "
    told += f"{_steps(unit.split())}, repeat from *"
    return f"{told}, and finish with {_steps(tail.split())}." if tail.strip() else f"{told}."


def _steps(words: list[str]) -> str:
    parts: list[str] = []
    for word in words:
        plain = re.fullmatch(r"(k|p|sl)(\d+)", word)
        if plain:
            verb = {"k": "knit", "p": "purl", "sl": "slip"}[plain[1]]
            parts.append(f"{verb} {plain[2]}")
        elif word.startswith("off"):
            parts.append(f"{word[3:]} chain")
        else:
            parts.append(_DIGITS[word])
    return ", ".join(parts)


def text(
    rows: dict[int, str],
    manner: str,
    printed: int | list[int] | None = None,
    rounds: bool = False,
    mirrored: bool = False,
    times: int = 0,
    again: int = 0,
) -> str:
    """A whole passage: a title, the cast-on, the rows."""
    said = number if manner == "words" else str
    lines = ["Restated Rows.", ""]
    if isinstance(printed, list):
        of, plus = printed
        more = f", adding {said(plus)} stitches" if plus else ""
        lines += [f"Cast on any number of stitches that can be divided by {said(of)}{more}.", ""]
    elif printed is not None:
        ring = ", on to 4 needles" if rounds and manner == "digits" else ""
        lines += [f"Cast on {said(printed)} stitches{ring}.", ""]
    if times:
        lines += [f"Repeat always {times - 1} times after the asterisk.", ""]
    if mirrored:
        lines += ["The end of each row is the same, reversed, as the beginning.", ""]
    for n, code in rows.items():
        told = row(code, manner)
        if told:
            lines += [f"{ordinal(n, manner).capitalize()} {'round' if rounds else 'row'}--{told}", ""]
    if again:
        lines += [f"Repeat from the {ordinal(again, manner)} row.", ""]
    return "\n".join(lines)
