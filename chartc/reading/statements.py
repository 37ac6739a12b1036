"""From a text to its statements: title, facts, own stitches, headings, rows, sentences, prose.

Lines wrap and paragraphs hold several rows; the splitting looks only at how statements open.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from chartc.reading.heads import Head, find_head
from chartc.source import Span

# folded key -> the words a fact line may open with
FACT_KEYS = {
    "sizes": "sizes|size|sizing|to fit|sizes? to fit|available in|size range|fits|to fit sizes?|to fit (?:bust|chest|head|foot|hand|age)[^:]{0,30}",
    "gauge": "gauge|tension|gauge/tension|tension/gauge|tension square",
    "needles": "needles?|needles? sizes?|needles? required|suggested needles?|hook",
    "yarn": "yarns?|yarn requirements?|yarn required|wool|amount|quantity|yardage",
    "finished": "finished (?:[a-z/]+ ){0,3}?(?:measurements?|size|sizes|bust|chest|width|length|circumference|dimensions|head|hand|foot|hat)[^:]{0,40}|measurements|finished|actual (?:measurements?|size|bust|chest)|dimensions|finished|size when finished|knitted measurements|actual[^:]{0,20}|length|width|bust|chest|circumference|sleeve (?:seam|length)|(?:side|body|back|total|foot|leg|hem|cuff|overall|sleeve|approx(?:imate)?|upper|cross|neck|brim|hand|head)\\s?(?:seam|length|width|bust|circumference|depth|measurement)",
    "worked": "worked|construction|knitted|direction|method",
    "multiple": "multiple|multiple of|stitch multiple|multiples|repeat multiple|pattern multiple",
    "notions": "notions|other|extras|other materials|you will also need|tools|equipment|haberdashery|accessories|also",
    "materials": "materials|you will need|you need|requirements|supplies|what you need|needed",
    "terms": "terms|term set",
    "ease": "ease|recommended ease|suggested ease|fit|intended ease",
    "notes": "notes?|pattern notes?|special notes?|designer'?s? notes?|tips?|n\\.?b\\.?|please note|hints?",
    "skill": "skill level|difficulty|level|skills?|experience level|techniques?|skills used|design|designed by|by|author|copyright|version|date|photo|photography|about|introduction|level of skill|editor",
    "abbreviations": "abbreviations(?: used)?|stitch abbreviations|special abbreviations|abbrevs?|abbreviations and terms|terms and abbreviations|abbreviations & terms|terms used|terminology|key|glossary|abbreviations \\(.*?\\)|abbreviations used in this pattern",
    "stitches": "special stitch(?:es)?|stitch guide|stitches used|special terms|stitch definitions|stitch glossary|special techniques|special instructions|stitches|pattern stitches|definitions|stitch key|techniques used|special",
    "schematic": "schematic|blocking|pattern stitch",
}  # fmt: skip
_FACTS = [
    (key, re.compile(rf"(?:the\s+)?(?:{words})\s*(?P<delim>\.?\s*:|=|\s-{{1,2}}\s|\.?\s*(?:--|\u2014))\s*", re.I))
    for key, words in FACT_KEYS.items()
]
_BLOCKS = [
    (key, re.compile(rf"(?:the\s+)?(?:{words})\s*:?\s*$", re.I)) for key, words in FACT_KEYS.items()
]
BLOCK_KEYS = frozenset(FACT_KEYS)

_OPENER = re.compile(
    r"(?:(?:then|now|and)\s+)?(?:(?:the\s+)?sizes?\b|\w+\s+size\b|rep(?:eat)?\b(?!\s+from\s+[\*\u2020+#(])(?!\s+(?:to|across|around|until)\b)(?!\s+(?:these|the|last)\s+\S+\s+st)|repeating\b|work(?:ing)?\b|knit\s+(?:\d|one|two|three|four|five|six|eight|ten|even|plain|in\b|straight|every|all rows)"
    r"|purl\s+(?:\d+|one|two)\s+r|cast\s+(?:on|off)\b|co\s*\d|bind\s+off\b|bo\b|join\b|place\b|slip\s+(?:all|the|these|first|last|next|rem|sts)"
    r"|change\b|next\b|cont\b|continue\b|beg\b|begin\b|beginning\b|shape\b|break\b|using\b|with\b|turn\s|divide\b|these\b|this\b"
    r"|when\b|pick\s+up\b|pu\b|leave\b|transfer\b|return\b|graft\b|sew\b|fasten\b|cut\b|thread\b|draw\b|remove\b|set\s+(?:aside|up)\b"
    r"|proceed\b|dec\b|decrease\b|inc\b|increase\b|start(?:ing)?\b|finish\b|block\b|weave\b|note\b|there\b|you\b|for\b|switch\b|keep(?:ing)?\b"
    r"|commence\b|\d+\s+sts?\b|k\s+(?:every|each|all)\s+(?:row|rnd|round)|k\s*\d+\s+(?:rows|rnds|rounds)|p\s*\d+\s+(?:rows|rnds|rounds)|\(?\d+[^.]{0,30}\bsts?\b|end(?:ing)?\b\s+with|make\b|try\b|do not\b|don't\b|measure\b|if\b|once\b|after\b|at the same time\b|steam\b|wash\b|lay\b|fold\b|rejoin\b|re-join\b|with (?:rs|ws)\b|hold\b|move\b|bring\b|lightly\b|press\b|on\b|to\s+(?:begin|finish|make|work|shape|join)\b|from\b|it\b|all\b|every\b|each\b|garter\b|stocking\b|reverse\b|reversing\b|rows?\b|rnds?\b|rounds?\b)",
    re.IGNORECASE,
)  # fmt: skip
_BULLET = re.compile(r"(?:#{1,5}(?=\s)|[\u2022\u25cf\u25aa\u25e6\u2023\u2610\u2611\u25a1\u2751\u2756\u2013>]|[-*](?=\s+[A-Z])|\(?\d{1,2}[.):](?=\s+[A-Za-z\d*\[(])|[a-z]\)(?=\s))\s*")
_INSTRUCTION = re.compile(
    r"(?:cast\s+on|co\s+\d|bind\s+off|cast\s+off|repeat\s+(?:rows?|rounds?|rnds?|the|these|last)|rep\s+(?:rows?|rnds?|last)|join|work\s+(?:\d|in|rows?|until|even)|continue|cont\b|break|fasten|change\s+to|graft|sew|weave|block"
    r"|(?:knit|purl|k|p)\s+(?:\d+|one|two|three|four|five|six|eight|ten)\s+(?:more\s+)?(?:rows|rounds|rnds))\b",
    re.IGNORECASE,
)
_PAGE = re.compile(r"(?:page\s+)?\d{1,3}(?:\s*(?:of|/)\s*\d{1,3})?\s*$|-\s*\d{1,3}\s*-\s*$|page\s+\d+.*$", re.I)
_SENTENCE_END = re.compile(
    r"[.!?][\"')\]]*\s*$|[)\]]\s*$|:\s*$|(?:-|\u2014|=)\s*\d[^.;]{0,40}\bsts?\s*$"
)
_ABBREVIATED = re.compile(
    r"\b(?:nos?|sts?|k|p|rep|beg|tog|inc|dec|alt|foll|rem|approx|ins?|cms?|ozs?|patt|cont|rnds?|sl|psso|yo|ss|m|approx|tbl|fwd|wl|g|yds?|incl|sep|ndls?|ws|rs|mc|cc|m\.|y\.?o)\.$",
    re.I,
)
_SPLIT = re.compile(r"(?<=[.!?;)\]])[\"']?\s+(?=[A-Z\d(\[*])|(?<=[.!?])--?\s*(?=[A-Z])|(?<=[.)])\u2014\s*(?=[A-Z])")
# a sentence that states a count closes the row it stands behind
_COUNT_TOLD = re.compile(r"[(\[]?\s*\d[\d\s,;:()\[\]/-]*\s*(?:sts?|stitches)\b[^a-z]*(?:rem(?:ain)?\.?|total|now)?[.)\]\s]*$", re.I)
_MULTIPLE_LINE = re.compile(
    r"(?:(?:stitch|pattern|lace|repeat|stitch count|worked|work|knitted|it is|it's|pattern is|uses?|requires?|needs?|over|on|a|is|worked over|any)[\s:]+){0,4}multiples?\s+of\s+\(?(?:\d|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve)",
    re.IGNORECASE,
)
_HEAD_HINT = re.compile(
    r"\b(?:Rows?|Rnds?|Rounds?|ROWS?|RNDS?|ROUNDS?|Next|NEXT|Set-?up|Foundation|Inc|Dec|Foll|Following|\d+(?:st|nd|rd|th)(?:\s+and\s+\d+(?:st|nd|rd|th))?\s+(?:rows?|rnds?|rounds?))\b"
)
_ENTRY = re.compile(
    r"(?P<name>[^=:\n\u2014]{1,40}?)\s*(?P<sep>=|:|\u2014|\s-{1,2}\s|\t+|\s{3,}|\s\.{2,}\s)\s*(?P<words>\S.*)", re.DOTALL
)
_STITCH_HINT = re.compile(r"\b(?:k\d|p\d|yo\b|k2tog|ssk|sl\s?1|psso|rep from)|\*", re.I)
_CO = re.compile(r"(?:(?:with|using)\b[^.]{0,80}?)?\b(?:cast\s+on|co)\s*\d", re.I)
_WRAPPED_WORD = re.compile(r"[A-Za-z]-$")


# "MB: (k1, yo, k1) in next st", "Make bobble (MB): ...": a stitch explained by the way
_BY_THE_WAY = re.compile(
    r"(?:(?P<name>[A-Za-z0-9/]{1,8}(?: [A-Z]{1,3})?)(?:\s*\([a-z][^()]{2,40}\))?|[A-Z][A-Za-z -]{2,40}\((?P<short>[A-Za-z0-9/ ]{2,9})\))\s*[:=]\s*(?P<words>\S.*)",
    re.DOTALL,
)
_NO_STITCH = frozenset(
    ["rs", "ws", "co", "bo", "bor", "mc", "cc", "toe", "leg", "top", "arm", "hem", "rib", "cup", "tip", "end", "pm", "sm", "rm", "row", "rnd", "inc", "dec", "edge", "body", "back"]
)


def _defines(text: str) -> bool:
    """Whether a line outside any list explains a stitch."""
    found = _BY_THE_WAY.fullmatch(text)
    if found is None or _CO.match(found["words"]):
        return False
    name = found["name"] or found["short"]
    if name.lower() in _NO_STITCH or find_head(text, 0, len(text)) is not None:
        return False
    coined = (
        (len(name) <= 3 and name.isupper())
        or any(c.isdigit() for c in name)
        or re.search(r"[a-z][A-Z]", name) is not None
        or found["short"] is not None
    )
    return coined and bool(
        _STITCH_HINT.search(found["words"]) or re.search(r"\bst(?:s|itch(?:es)?)?\b", found["words"])
    )


@dataclass(frozen=True, slots=True)
class Line:
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Statement:
    """kind: "title", "fact", "entry" (a line of an abbreviations block), "heading", "row",
    "sentence", "prose" or "gap" (a blank line). `key` is the fact's folded key or the block an
    entry stands in. `start`..`end` the text; `value` where a fact's value starts."""

    kind: str
    start: int
    end: int
    key: str = ""
    value: int = 0
    head: Head | None = None

    @property
    def span(self) -> Span:
        return Span(self.start, self.end)


def _lines(plain: str) -> list[Line]:
    lines: list[Line] = []
    at = 0
    for raw in plain.split("\n"):
        start, end = at, at + len(raw)
        at = end + 1
        while start < end and plain[start].isspace():
            start += 1
        while end > start and plain[end - 1].isspace():
            end -= 1
        lines.append(Line(start, end))
    return lines


def split(plain: str) -> list[Statement]:
    """The statements of a text, in order."""
    return _Splitter(plain).run()


class _Splitter:
    def __init__(self, plain: str) -> None:
        self.plain = plain
        self.lines = _lines(plain)
        self.out: list[Statement] = []
        self.block = ""
        self.open: list[int] = []  # start, end of the open paragraph
        self.open_kind = ""
        self.open_head: Head | None = None
        self.open_key = ""
        self.open_value = 0
        self.titled = False
        self.gap = True

    def run(self) -> list[Statement]:
        for number, line in enumerate(self.lines):
            if line.start >= line.end:
                self._close()
                if not self.gap:
                    self.out.append(Statement("gap", line.start, line.start))
                self.gap = True
                continue
            self._line(number, line)
            self.gap = False
        self._close()
        return self.out

    # ------------------------------------------------------------------ lines
    def _line(self, number: int, line: Line) -> None:
        plain, start, end = self.plain, line.start, line.end
        text = plain[start:end]
        bullet = _BULLET.match(plain, start, end)
        if bullet and bullet.end() < end:
            inner = bullet.end()
            numbered = plain[start:inner].strip("( ).:").isdigit()
            if find_head(plain, inner, end) is not None or (
                not (self.open_kind == "row" and not self._complete()) and not numbered
            ):
                start = inner
                text = plain[start:end]
            elif numbered and self._complete() and _INSTRUCTION.match(plain, inner, end):
                self._close()
                start, text = inner, plain[inner:end]  # "4. Repeat rows 1 and 2": a list of steps
            elif numbered and self._numbered_row(start, inner, end):
                return
        if _PAGE.match(plain, start, end) and (self.open_kind != "row" or self._complete()):
            self._close()
            self.out.append(Statement("prose", start, end))
            return
        head = find_head(plain, start, end)
        if head is None and number + 1 < len(self.lines) and self._bare_label(start, end):
            following = self.lines[number + 1]
            if following.start < following.end:
                head = find_head(plain, start, following.end)
        if head is not None and not self._runs_on(start, head):
            self.block = ""
            self._open("row", start, end, head=head)
            return
        if self.open_kind == "row" and not self._complete() and not self.gap:
            if not self._breaks(start, end, number):
                self.open[1] = end
                return
            self._close()
        fact = self._fact(start, end)
        if fact is not None:
            key, value = fact
            if key in ("abbreviations", "stitches"):
                self._close()
                self.block = key
                self.out.append(Statement("fact", start, end, key, value))
                if value < end:
                    self._entries(value, end)
                return
            self.block = key if value >= end else ""
            self._open("fact", start, end, key=key, value=value)
            if key in ("materials", "notes", "finished", "sizes", "yarn", "needles", "notions", "gauge"):
                self.block = key
            return
        if not self.titled and not self.out and not _CO.match(text) and len(text) <= 120:
            self.titled = True
            self._close()
            self.out.append(Statement("title", start, end))
            return
        if self.block in ("abbreviations", "stitches"):
            if self._block_line(number, start, end, text):
                return
            self.block = ""
        if (self.out or self.open_kind) and _defines(text):
            self._open("entry", start, end, key="stitches")
            return
        if self.block and self.gap and (self._heading(number, start, end) or _OPENER.match(text)):
            self.block = ""
        if (
            self.block in ("sizes", "materials", "yarn", "needles", "notions", "gauge", "finished")
            and not self.gap
            and not _CO.match(text)
            and self.open_kind in ("", "fact")
            and not (text.isupper() and re.fullmatch(r"[A-Z &/'-]+", text))
            and not text.endswith(":")
        ):
            self._open("fact", start, end, key=self.block, value=start)
            return
        if self._heading(number, start, end) or (
            self.open_kind == "row" and self._small_heading(number, start, end)
        ):
            self._close()
            self.block = ""
            self.out.append(Statement("heading", start, end))
            return
        if self.open_kind == "fact" and not self.gap and (
            _CO.match(text)
            or (
                text[:1].isupper()
                and re.match(r"(?:rep(?:eat)?|work|knit|purl|join|bind|cast|continue|cont|shape|pick up|place)\b", text, re.I)
            )
        ):
            self._close()
            self.block = ""
            self._open("sentence", start, end)
            return
        if self.open_kind in ("row", "sentence") and not self.gap and self._complete() and self._lead(start, end) is not None:
            self._close()
        if self.open_kind and not self.gap:
            starts_new = text[:1].isupper() and self._complete() and _OPENER.match(text)
            if not starts_new:
                if self.open_kind == "fact" and self.open_key in ("yarn", "needles", "materials", "notions", "finished", "sizes") and text[:1].isupper():
                    self._close()
                    self._open("fact", start, end, key=self.block or self.open_key, value=start)
                    return
                self.open[1] = end
                return
        if self.block and not self.gap and self.block in ("materials", "yarn", "needles", "notions", "notes", "finished", "sizes", "gauge"):
            self._open("fact", start, end, key=self.block, value=start)
            return
        if self.block == "notes" and not _CO.match(text):
            self._open("fact", start, end, key="notes", value=start)
            return
        lead = self._lead(start, end)
        if lead is not None:
            self._close()
            self.out.append(Statement("heading", start, lead))
            rest = lead
            while rest < end and (plain[rest].isspace() or plain[rest] in ":-\u2014"):
                rest += 1
            row_head = find_head(plain, rest, end)
            self._open("sentence" if row_head is None else "row", rest, end, head=row_head)
            return
        self._open("sentence", start, end)

    def _bare_label(self, start: int, end: int) -> bool:
        return end - start < 40 and bool(_HEAD_HINT.match(self.plain, start, end)) and self.plain[end - 1] in ":."

    def _runs_on(self, start: int, head: Head) -> bool:
        """A wrapped line of the row above that happens to begin like a label."""
        if self.gap or not self.open_kind:
            return False
        if self._complete():
            return False
        return self.plain[start].islower() or (
            self.open_kind == "sentence" and self.plain[head.span.end : head.body].strip() in (".", "")
        )

    def _complete(self) -> bool:
        """Whether the open paragraph ends like a sentence."""
        if not self.open:
            return True
        return bool(_SENTENCE_END.search(self.plain[max(self.open[0], self.open[1] - 50) : self.open[1]]))

    def _breaks(self, start: int, end: int, number: int) -> bool:
        """Whether a line inside an unfinished row must be a statement of its own."""
        text = self.plain[start:end]
        if self._fact(start, end) is not None and not _STITCH_HINT.search(text):
            return True
        if not text[:1].isupper():
            return False
        if self._small_heading(number, start, end):
            return True
        if (
            _OPENER.match(text)
            and not re.match(r"(?:rep(?:eat)?\s+from|k\s?\d|p\s?\d|to|with|turn|from|end|on|for|all|each|every|it|\(?\d)\b", text, re.I)
            and not re.search(r"(?:[,;:&*(+-]|\b(?:to|and|from|with|the|last|next|of|rep|repeat|in|then|on|a|until|for|k|p|sl|before|every|each))\s*$", self.plain[max(self.open[0], self.open[1] - 20) : self.open[1]], re.I)
        ):
            return True
        if _CO.match(text) or re.match(r"(?:rep(?:eat)?|work)\s+(?:rows?|rnds?|rounds?|these|last)\b", text, re.I):
            return True
        return text.isupper() and len(text) > 6 and not _STITCH_HINT.search(text) and self._heading(number, start, end)

    def _small_heading(self, number: int, start: int, end: int) -> bool:
        """ "Lace" or "Crown" between rows that end without a full stop."""
        text = self.plain[start:end]
        words = text.rstrip(":").split()
        if not words or len(words) > 4 or re.search(r"[\d*,.;()]", text) or not text[:1].isupper():
            return False
        if re.match(r"(?:knit|purl|k|p|turn|yo|rep|repeat|work|join|end|sl|slip|bind|cast|knitwise|purlwise)\b", text, re.I):
            return False
        after = self._next_text(number)
        return after is not None and (
            find_head(self.plain, after.start, after.end) is not None
            or bool(_CO.match(self.plain[after.start : after.end]))
        )

    def _numbered_row(self, start: int, inner: int, end: int) -> bool:
        """ "3. K2, yo, k2tog." in a numbered list of rows."""
        if not re.match(r"\s*(?:[*\[(]|[kp]\s?\d|knit\b|purl\b|sl\s?1|yo\b|[kp]\b)", self.plain[inner:end], re.I):
            return False
        digits = int(re.sub(r"\D", "", self.plain[start:inner]) or 0)
        text = self.plain[start:inner].strip()
        head = Head((digits,), "", "", False, "", 0, Span(start, start + len(text)), inner, text)
        self._open("row", start, end, head=head)
        return True

    # ------------------------------------------------------------------ facts, blocks, headings
    def _fact(self, start: int, end: int) -> tuple[str, int] | None:
        if _MULTIPLE_LINE.match(self.plain, start, end):
            return "multiple", start
        for key, pattern in _FACTS:
            match = pattern.match(self.plain, start, end)
            if match:
                value = match.end()
                rest = self.plain[value:end]
                if key in ("skill", "schematic", "notes") and _CO.match(rest):
                    return None
                if key in ("finished", "worked", "notions", "skill", "ease") and find_head(self.plain, value, end):
                    return None
                if key == "worked" and not re.search(r"flat|round|rnd|circular|back and forth|rows|seamless|piece|top|bottom|side|toe|cuff|centre|center|one", rest, re.I):
                    return None
                return key, value
        for key, pattern in _BLOCKS:
            if pattern.match(self.plain[start:end]) and key not in ("finished", "worked", "skill", "multiple", "ease", "schematic", "terms"):
                return key, end
        return None

    def _entries(self, start: int, end: int) -> None:
        """Entries on one line: "k = knit; p = purl; yo = yarn over"."""
        text = self.plain[start:end]
        if text.count(";") >= 2 and text.count("=") < 2 and ":" not in text:
            at = start
            for part in text.split(";"):
                stop = at + len(part)
                if part.strip():
                    lead = len(part) - len(part.lstrip())
                    self.out.append(Statement("entry", at + lead, stop, self.block))
                at = stop + 1
            return
        if text.count("=") > 1 or (text.count(":") > 1 and ";" in text):
            separator = ";" if text.count(";") >= 1 else ","
            if "=" in text:
                parts = re.split(r"[;,.]\s+(?=[^=;,.]{1,30}=)", text)
            else:
                parts = re.split(rf"{separator}\s*", text)
            at = start
            for part in parts:
                begin = self.plain.index(part, at) if part else at
                at = begin + len(part)
                if part.strip():
                    self.out.append(Statement("entry", begin, at, self.block))
            return
        self.out.append(Statement("entry", start, end, self.block))

    def _block_line(self, number: int, start: int, end: int, text: str) -> bool:
        """A line inside an abbreviations block; False when the block is over."""
        entry = _ENTRY.match(text)
        named = entry is not None and len(entry["name"].split()) <= 6
        previous = self.out[-1] if self.out else None
        if self.gap and (
            (not named and self._heading(number, start, end))
            or _CO.match(text)
            or (re.match(r"(?:rep|repeat|work|pattern|instructions|directions)\b", text, re.I)
            and not named)
        ):
            return False
        if named and self.gap and entry is not None and len(entry["words"].split()) > 25 and not re.search(r"\bst(?:s|itch)", text):
            return False
        if named and entry is not None and entry["sep"] == ":" and self.gap and len(entry["name"].split()) > 2 and self._instructs(entry["words"]) and self.block == "abbreviations":
            return False
        if (
            previous is not None
            and previous.kind == "entry"
            and not self.gap
            and not named
            and (text[:1].islower() or not _SENTENCE_END.search(self.plain[previous.start : previous.end]))
            and re.match(r"\S{1,8}\s", text) is not None
            and not self._two_words(text)
        ):
            self.out[-1] = Statement("entry", previous.start, end, self.block)
            return True
        if not named and previous is not None and previous.kind == "entry" and not self.gap and not self._two_words(text):
            self.out[-1] = Statement("entry", previous.start, end, self.block)
            return True
        if not named and self.gap and not self._two_words(text) and not self.open_kind and previous is not None and previous.kind == "gap" and not text.count("="):
            return False
        self._entries(start, end)
        return True

    @staticmethod
    def _two_words(text: str) -> bool:
        """ "yo yarn over": an abbreviation and its words with only a space between."""
        return bool(re.match(r"(?:[a-z]{1,2}\d?[a-z]{0,4}|[A-Z]{2,4}|sts?|rep|rem|tog|foll|patt|beg|cont|alt|dec|inc|approx)\s+[a-z]", text)) and len(text.split()) <= 14

    @staticmethod
    def _instructs(text: str) -> bool:
        return bool(_OPENER.match(text) or _STITCH_HINT.search(text) or _CO.match(text))

    def _heading(self, number: int, start: int, end: int) -> bool:
        text = self.plain[start:end]
        if len(text) > 90 or not (text[:1].isupper() or text[:1].isdigit() or text[:1] in "*("):
            return False
        bare = re.sub(r"\([^()]*\)|\[[^\[\]]*\]", "", text).strip()
        if not bare or (bare[-1] in ".,;!?" and not bare.endswith(":")):
            return False
        if re.search(r"[=*]", bare) or _STITCH_HINT.search(bare) or _CO.match(bare):
            return False
        words = bare.rstrip(":").split()
        if not words or len(words) > 9:
            return False
        if text.endswith(":") or bare.isupper():
            return not _OPENER.match(text) or len(words) <= 4 or bare.isupper()
        if not self.gap and self.open_kind and not self._complete():
            return False
        if re.match(r"(?:cast|bind|knit|purl|repeat|rep|work|join|change|break|turn|continue|cont|using|fasten|co|bo|k|p)\b", bare, re.I) and len(words) > 3:
            return False
        if re.search(r"\d", bare) and not re.match(r"(?:section|part|chart|step|tier|panel|set|size|sleeve|front|version|piece|wedge|clue|row)\b", bare, re.I) and not re.search(r"\(", text):
            return False
        if self.gap or (self.out and self.out[-1].kind in ("heading", "title", "fact", "row", "sentence")):
            after = self._next_text(number)
            if after is None:
                return False
            lowered = sum(1 for w in words if w[:1].islower() and len(w) > 3)
            following = self.plain[after.start : after.end]
            if (
                len(words) <= 5
                and self._complete()
                and not re.search(r"[\d.,;]", bare)
                and (_OPENER.match(following) or _CO.match(following))
                and following[:1].isupper()
            ):
                return True
            return (self.gap and lowered <= max(2, len(words) // 2)) or (find_head(self.plain, after.start, after.end) is not None and len(words) <= 6)
        return False

    def _next_text(self, number: int) -> Line | None:
        for line in self.lines[number + 1 : number + 6]:
            if line.start < line.end:
                return line
        return None

    def _lead(self, start: int, end: int) -> int | None:
        """ "Body: Cast on 84 sts." or "Shape crown: ..." -> where the heading ends."""
        match = re.compile(r"[A-Z][A-Za-z' &/-]{2,40}(?:\([^()]{0,60}\))?\s*(?::|\.?\s*(?:\u2014|--))\s*(?=\S)").match(self.plain, start, end)
        if not match or re.match(r"(?:for\s+)?(?:the\s+)?(?:all|both|sizes?|first|second|third|\w+(?:\s+and\s+\w+)?\s+sizes?)\b[^:]*\b(?:only|sizes?)\b", self.plain[start:end], re.I):
            return None
        rest = self.plain[match.end() : end]
        name = self.plain[start : match.end()].strip(" :.-\u2014")
        if len(name.split()) > 5 or (_OPENER.match(name) and not re.match(r"(?:shape|divide|finish|set-?up|body)\b", name, re.I)):
            return None
        if self._instructs(rest) or _OPENER.match(rest):
            cut = match.end()
            while self.plain[cut - 1] in " .:\u2014-\t":
                cut -= 1
            return cut
        return None

    # ------------------------------------------------------------------ paragraphs
    def _open(
        self, kind: str, start: int, end: int, head: Head | None = None, key: str = "", value: int = 0
    ) -> None:
        self._close()
        self.open = [start, end]
        self.open_kind, self.open_head, self.open_key, self.open_value = kind, head, key, value

    def _close(self) -> None:
        if not self.open:
            return
        start, end = self.open
        kind, head = self.open_kind, self.open_head
        key, value = self.open_key, self.open_value
        self.open = []
        self.open_kind = ""
        if kind == "fact":
            self.out.append(Statement("fact", start, end, key, value))
            return
        if kind == "entry":
            self.out.append(Statement("entry", start, end, key))
            return
        self._sentences(start, end, head)

    def _sentences(self, start: int, end: int, head: Head | None) -> None:
        """Split a paragraph into rows and sentences."""
        pieces: list[tuple[int, int]] = []
        at = start
        first_body = head.body if head is not None else start
        for match in _SPLIT.finditer(self.plain, first_body, end):
            if match.start() <= at:
                continue
            following = self.plain[match.end() : match.end() + 1]
            if not following.isalpha() and _ABBREVIATED.search(self.plain, max(at, match.start() - 12), match.start()):
                continue
            pieces.append((at, match.start()))
            at = match.end()
        pieces.append((at, end))
        current: list[int] | None = None
        current_head = head
        last_begin = start  # of the sentence read last
        for number, (begin, stop) in enumerate(pieces):
            piece_head = head if number == 0 else find_head(self.plain, begin, stop)
            if piece_head is not None:
                if current is not None:
                    self._emit(current, current_head)
                current, current_head = [begin, stop], piece_head
                last_begin = begin
                continue
            if current is not None and current_head is not None:
                if not self._new_instruction(begin, stop) and not _COUNT_TOLD.match(
                    self.plain[last_begin:current[1]]
                ):
                    current[1] = stop
                    last_begin = begin
                    continue
                self._emit(current, current_head)
                current, current_head = [begin, stop], None
                continue
            if current is not None and self.plain[begin] in "([":
                current[1] = stop  # "... only: K2tog, k to end. [42 (54) sts]"
                continue
            if current is not None:
                self._emit(current, None)
            current, current_head = [begin, stop], None
        if current is not None:
            self._emit(current, current_head)

    def _new_instruction(self, start: int, end: int) -> bool:
        """Whether a sentence after a row's instructions is an instruction of its own."""
        text = self.plain[start:end]
        return bool(
            re.match(
                r"(?:(?:then|now)\s+)?(?:sizes?\s|rep(?:eat)?\s+(?:rows?|rnds?|rounds?|last\s+(?!\S+\s+st)|these\s+(?!\S+\s+st)|the\s+(?!\S+\s+st)|this|from\s+(?:row|rnd|round|\d|first)|\d|(?:inc|dec|previous|all)\b)"
                r"|work(?:ing)?\s+(?:\d+|one|two|three|four|five|six|eight|ten|rows?|rnds?|rounds?|in\b|even|straight|as|until|a\s|last|these|lace|chart|without)"
                r"|(?:knit|purl|k|p)\s+(?:(?:every|each|all)\s+(?:rows?|rnds?|rounds?)|(?:\d+|one|two|three|four|five|six)\s+(?:rows?|rnds?|rounds?|more))|cont(?:inue)?\b|change\b|join\b|break\b|fasten\b"
                r"|(?:bind|cast)\s+off(?:\s+(?:all|rem|loosely|in|the|sts|knitwise|purlwise|kwise|pwise|remaining)|\s*\.?\s*$)|bo\s+(?:all|rem|loosely|in)|bo\.?\s*$|these\b|this\b|place\s+(?:rem|all|sts|these|the|first|last|next)|leave\b|slip\s+(?:rem|all|these|the)\b"
                r"|next\b|using\b|with\s+(?:rs|ws|larger|smaller|main|a\b|b\b)|divide\b|shape\b|end(?:ing)?\s+with\s+a?\s*(?:ws|rs|row|rnd)|note\b|graft\b|cut\b|dec(?:rease)?\s+\d+\s+sts?\s+(?:at|each|on|every|evenly)|inc(?:rease)?\s+\d+\s+sts?\s+(?:at|each|on|every)|cast\s+on\b|co\s+\d|pick\s+up\b"
                r"|beg(?:in|inning)?\b|when\b|do\s+not\b|set\s+aside|proceed\b|commence\b|every\b|for\s+(?:second|left|right|larger|sizes?)|turn\s+and|move\b|rejoin\b|return\b|transfer\b|sew\b|weave\b|block\b|dec\s+(?:row|rnd)|inc\s+(?:row|rnd)|keep(?:ing)?\b|stop\b|all\s+(?:ws|rs)|as\s+you\b|if\b|at\s+the\s+same)",
                text,
                re.IGNORECASE,
            )
        )

    def _emit(self, piece: list[int], head: Head | None) -> None:
        start, end = piece
        while end > start and self.plain[end - 1].isspace():
            end -= 1
        if start >= end:
            return
        if head is not None:
            self.out.append(Statement("row", start, end, head=head))
        else:
            self.out.append(Statement("sentence", start, end))
