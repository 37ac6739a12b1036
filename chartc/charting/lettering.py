"""How wide text runs, without a font at hand: enough to break lines by.

Widths are those of a plain sans-serif face in thousandths of the letter size, a little on
the wide side so that lines fit whichever face the reader's machine has.
"""

from __future__ import annotations

FONT_STACK = "'Noto Sans', 'Liberation Sans', Arial, Helvetica, 'DejaVu Sans', sans-serif"

_NARROW = {"i": 250, "j": 250, "l": 250, "I": 290, "t": 310, "f": 310, "r": 360, ".": 290,
           ",": 290, ";": 290, ":": 290, "'": 220, "(": 350, ")": 350, "[": 320, "]": 320,
           "-": 350, " ": 290, "/": 300, "|": 280, "!": 300}  # fmt: skip
_WIDE = {"m": 880, "w": 760, "M": 870, "W": 960, "@": 1020, "—": 1000, "%": 900}


def text_width(text: str, size: float, bold: bool = False) -> float:
    """Roughly how wide a line of text is, in the unit of `size`."""
    total = 0
    for letter in text:
        if letter in _NARROW:
            total += _NARROW[letter]
        elif letter in _WIDE:
            total += _WIDE[letter]
        elif letter.isupper():
            total += 700
        elif ord(letter) > 0x2E80:  # full-width scripts
            total += 1000
        else:
            total += 570
    return total * size / 1000 * (1.07 if bold else 1.0)


def wrapped(text: str, size: float, room: float, bold: bool = False) -> list[str]:
    """The text broken into lines that fit the room; a word too long for it is broken too."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        while text_width(word, size, bold) > room and len(word) > 1:
            keep = len(word) - 1
            while keep > 1 and text_width(word[:keep] + "-", size, bold) > room:
                keep -= 1
            if line:
                lines.append(line)
                line = ""
            lines.append(word[:keep] + "-")
            word = word[keep:]
        trial = f"{line} {word}" if line else word
        if line and text_width(trial, size, bold) > room:
            lines.append(line)
            line = word
        else:
            line = trial
    if line:
        lines.append(line)
    return lines


def balanced(text: str, size: float, room: float) -> list[str]:
    """As `wrapped`, with lines of about the same length."""
    lines = wrapped(text, size, room)
    low, high = room / 3, room
    while len(lines) > 1 and high - low > size / 2:
        middle = (low + high) / 2
        narrower = wrapped(text, size, middle)
        if len(narrower) == len(lines):
            lines, high = narrower, middle
        else:
            low = middle
    return lines


def xml_safe(text: str) -> str:
    """The text without the control characters that no XML file may hold."""
    return "".join(
        letter
        for letter in text
        if letter in "\t\n\r"
        or " " <= letter <= "\ud7ff"
        or "\ue000" <= letter <= "\ufffd"
        or letter >= "\U00010000"
    )
