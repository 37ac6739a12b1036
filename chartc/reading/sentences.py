"""Instructions outside rows: cast on, repetition, shaping over rows, holders, bind off.

A sentence is read clause by clause against shapes of folded words; what is left over and
looks like an instruction is reported, the rest is prose.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from chartc.pattern import Num
from chartc.reading.atoms import Atom
from chartc.reading.tokens import Context, Word, _fold, sized_atoms
from chartc.source import Span

_DROP = frozenset({"foll", "complete", "please", "all", "both", "again,", "simply", "just"})


@dataclass(frozen=True, slots=True)
class Match:
    """A shape found in a sentence: the regular match and the numbers of the sentence."""

    found: re.Match[str]
    nums: tuple[Num, ...]
    text: str

    def has(self, group: str) -> bool:
        return self.found.groupdict().get(group) is not None

    def num(self, group: str) -> Num | None:
        """The number at a group that matched "#"."""
        if not self.has(group):
            return None
        return self.nums[self.text.count("#", 0, self.found.start(group))]

    def group(self, name: str) -> str:
        return (self.found.groupdict().get(name) or "").strip()


class Sentence:
    """A sentence as a string of folded words, numbers as "#"."""

    def __init__(self, plain: str, start: int, end: int, context: Context) -> None:
        self.plain = plain
        self.span = Span(start, end)
        atoms = sized_atoms(plain, start, end, context)
        self.words: list[Word] = [w for w in _fold(_measures(atoms), context) if w.text not in _DROP]
        for at, word in enumerate(self.words[:-1]):
            if word.text == "r" and self.words[at + 1].num is not None:
                self.words[at] = replace(word, text="row")
        self.nums = tuple(w.num for w in self.words if w.num is not None)
        pieces: list[str] = []
        self.at: list[int] = []
        size = 0
        for word in self.words:
            self.at.append(size)
            text = "#" if word.num is not None else word.text.replace("#", "*")
            pieces.append(text)
            size += len(text) + 1
        self.text = " ".join(pieces) + " "

    def match(self, pattern: re.Pattern[str], place: int) -> Match | None:
        """A shape at a word."""
        if place >= len(self.words):
            return None
        found = pattern.match(self.text, self.at[place])
        return Match(found, self.nums, self.text) if found else None

    def search(self, pattern: re.Pattern[str], place: int = 0) -> Match | None:
        if place >= len(self.words):
            return None
        found = pattern.search(self.text, self.at[place])
        return Match(found, self.nums, self.text) if found else None

    def word_at(self, offset: int) -> int:
        """The index of the first word at or after an offset of `text`."""
        for index, at in enumerate(self.at):
            if at >= offset:
                return index
        return len(self.words)

    def span_of(self, first: int, stop: int) -> Span:
        """The passage of the text from word `first` to before word `stop`."""
        if first >= len(self.words):
            return Span(self.span.end, self.span.end)
        stop = max(stop, first + 1)
        return Span(self.words[first].start, self.words[min(stop, len(self.words)) - 1].end)

    def raw(self, first: int, stop: int) -> str:
        span = self.span_of(first, stop)
        return self.plain[span.start : span.end]


def _measures(atoms: Sequence[Atom]) -> list[Atom]:
    """A decimal or fraction is a word of its own kind: it never counts stitches."""
    return [
        Atom("word", "measure", a.start, a.end, a.glued, raw=a.raw) if a.kind == "measure" else a
        for a in atoms
    ]


_LENGTH = re.compile(
    r"(?P<n>\d+(?:\.\d+)?(?:\s?[\u00bc-\u00be\u2150-\u215e]|\s+\d/\d)?|[\u00bc-\u00be\u2150-\u215e])"
    r"(?P<more>(?:\s*[(\[][^()\[\]]{1,160}[)\]])*)\s*-?(?P<unit>cms?\b|centimet(?:er|re)s?\b|mm\b|in\b\.?|ins\b|inch(?:es)?\b|\"|'')",
    re.IGNORECASE,
)
_VALUE = re.compile(r"\d+(?:\.\d+)?(?:\s?[\u00bc-\u00be\u2150-\u215e]|\s+\d/\d)?|[\u00bc-\u00be\u2150-\u215e]")
_FRACTIONS = {
    "\u00bc": Fraction(1, 4), "\u00bd": Fraction(1, 2), "\u00be": Fraction(3, 4),
    "\u2153": Fraction(1, 3), "\u2154": Fraction(2, 3), "\u215b": Fraction(1, 8),
    "\u215c": Fraction(3, 8), "\u215d": Fraction(5, 8), "\u215e": Fraction(7, 8),
}  # fmt: skip


def _value(text: str) -> Fraction:
    total = Fraction(0)
    for part in re.findall(r"\d+/\d+|\d+(?:\.\d+)?|[\u00bc-\u00be\u2150-\u215e]", text):
        if part in _FRACTIONS:
            total += _FRACTIONS[part]
        elif "/" in part:
            top, bottom = part.split("/")
            total += Fraction(int(top), int(bottom) or 1)
        else:
            total += Fraction(part[:20])
    return total


def lengths(plain: str, start: int, end: int) -> tuple[tuple[int, ...], Span] | None:
    """The first length in a passage, one value per size printed, in tenths of a millimetre."""
    match = _LENGTH.search(plain, start, end)
    if match is None:
        return None
    values = [_value(match["n"])]
    values += [_value(v) for v in _VALUE.findall(match["more"] or "")]
    unit = match["unit"].lower()
    tenths = Fraction(100) if unit.startswith(("cm", "cent")) else Fraction(10) if unit == "mm" else Fraction(254)
    return tuple(int(v * tenths) for v in values), Span(match.start(), match.end())


# ---------------------------------------------------------------------------- shapes
def shape(text: str) -> re.Pattern[str]:
    return re.compile(text, re.IGNORECASE)


# "Rep rows 3 and 4 ten more times, until ...": the number tells, whatever is said after it
TIMES_TOLD = re.compile(
    r"\s*(?:rep(?:eat)?|work)\s+(?:last\s+)?(?:these\s+)?(?:\d+\s+)?(?:rows?|rnds?|rounds?)\b[^.;]*?(?:(?:\d[\d\s,()\[\]:/-]*|\b(?:two|three|four|five|six|seven|eight|nine|ten|\w+teen|twelve|eleven|twenty|thirty|\w+y-\w+)\b[^.;]{0,30}?|\bmore\s*)\s*(?:more\s+|further\s+)?times?\b|\b(?:once|twice)\b)", re.IGNORECASE
)
LEAD = r"(?:(?:then|now|and|also|next|,|;|\.|:|-|\u2014|but|so) )*"
TH = r"(?:st|nd|rd|th) "
AGAIN_RANGE = shape(
    LEAD + r"(?:(?:rep|work|k|cont|commence|rpt|beg) (?:(?:to|rep|work|with|from|patt|chart|entire|whole|once|more|at|as|by|into|rep|set|est|only|lace|main|on|throughout) )*)"
    rf"(?P<word>row|rnd) (?:{TH})?(?P<a>#) (?:{TH})?(?:(?:-|to|through|thru|and|&|,|\u2014|up|inclusive|/) )+(?:(?:row|rnd) )?(?P<b>#) (?:{TH})?"
    rf"(?P<more>(?:(?:,|and|&) (?:row |rnd )?# )*)(?:inclusive )?"
)
AGAIN_ORDINAL = shape(
    LEAD + rf"(?:rep|work|k|cont) (?:(?:to|rep|from|work|with) )*(?P<a>#) {TH}(?:row |rnd )?(?:(?:-|to|through|and|&) )+(?P<b>#) {TH}(?P<word>row|rnd) "
)
AGAIN_FROM = shape(
    LEAD + rf"(?:rep|work|cont|commence|beg) (?:(?:again|rep|work|patt|whole|as|at) )*(?:from )(?:(?P<word>row|rnd) (?P<a>#) |(?P<a2>#) (?:{TH})?(?P<word2>row|rnd) |beg )"
)
AGAIN_BARE_RANGE = shape(LEAD + r"(?P<word>row|rnd) (?P<a>#) (?:(?:-|to|through|and|&) )+(?P<b>#) (?=(?:once|twice|#|more|another))")
AGAIN_ONE = shape(LEAD + rf"(?:rep|work|k|cont rep) (?:(?:only|from) )*(?:(?P<word>row|rnd) (?P<a>#) |(?P<a2>#) {TH}(?P<word2>row|rnd) )")
AGAIN_LAST = shape(
    LEAD + r"(?:rep|work|cont to rep|cont rep|cont to work|k) (?:last |previous |foregoing |two |from )*(?:(?P<n>#) (?:row|rnd) |(?:row|rnd) (?!# (?!more|time|further|additional|x)))(?:patt )?(?:rep )?"
)
AGAIN_THESE = shape(LEAD + r"(?:rep|cont to rep|cont rep) (?:(?=(?:until|till|as|for) )|them|these|those|patt|patt rep|sequence|whole patt|it|last) ")
AGAIN_NAMED = shape(LEAD + r"(?:rep|work|cont to rep|cont to work|cont|cont work) (?P<name>(?:[a-z][a-z'/-]* ){1,3}?)(?P<word>row|rnd) (?P<n>#(?! (?:st|more|time|row|rnd)))? ?")
FORM = shape(r"(?:these )?(?P<n>#)? ?(?:(?:last|above|row|rnd|#|-|to|these) )*(?:row|rnd) (?:(?:now|#) )?(?:form|forms|set|est|make|are|is|complete|establish|constitute|comprise) ")
TIMES = shape(
    r"(?:,? ?)(?:for )?(?:total )?(?:(?P<n>#) (?P<more1>more |further |additional |extra )?(?:time|rep) (?P<more2>more|again|further)?(?:into all|into total|altogether|total)? ?|(?P<word>once|twice|thrice) (?P<more3>more|again)? ?|(?P<other>another|further|additional) (?P<n2>#) (?:time|rep) ?|x (?P<n3>#) ?|(?P<n4>#) x |(?P<n5>#) (?P<more5>more) (?!row|rnd|st)|(?P<again>again) |(?P<another>another time ))"
)
UNTIL = shape(r"(?:,? ?)(?:and )?(?:(?:cont|work|rep|even|straight) )*(?:until|till|to|for) ")
UNTIL_COUNT = shape(
    r"(?:,? ?)(?:until|till|to) (?:(?:there|you|only|have|are|is|all|total|approx|will|now|be|has) )*(?P<n>#) (?P<what>(?:[a-z']+ ){0,3}?)?(?:st|live st) ?(?:are |now )?(?:rem|on needle|on needles|on hand|total|into all|between m)? ?"
)
UNTIL_ROWS = shape(r"(?:,? ?)(?:until|for|till) (?:(?:you|have|total|worked|been|there|are|work) )*(?P<n>#) (?P<word>row|rnd) (?:(?:have|been|work|are|complete|completed|into|all|total) )*")
END_SIDE = shape(r"(?:,? ?)(?:and |but )?(?:end|finish|finishing|stopping|stop)(?:s)? (?:(?:with|past|on|by|work|having|at|just|last|as) )*(?:foll )?(?P<side>ws|rs|wrong side|right side|p|k) (?:(?:facing|row|rnd|for|side) ?)*")
END_ROW = shape(rf"(?:,? ?)(?:and |but )?(?:end|finish|finishing|stopping) (?:(?:with|past|on|at|last|rep|by|work|after) )*(?:(?:row|rnd) (?P<n>#) |(?P<n2>#) {TH}(?:row|rnd) )")
EVERY = shape(
    rf"(?:,? ?)(?:(?:on|at|of|into|and|foll|then|foll|as) )*(?:(?:every|each|foll) (?:(?:foll|other|alt) )*)?(?:(?P<n>#) {TH}(?P<word>row|rnd) |(?P<other>every other|each other|alt|every alt|each alt|other|every second|every even|every odd|every k|every right side|each rs|alt rs) (?P<word2>row|rnd) |(?P<all>every|each) (?:(?P<side>rs|ws) )?(?P<word3>row|rnd) )"
)
CHANGE = shape(
    LEAD + r"(?:(?:cont|keep|work|shape|shaping|side|sleeve|edge|raglan|by|as|set|est|also|to|at same time|k|into patt|patt) )*(?P<verb>inc|dec) (?P<n>#)? ?(?:st )?(?P<where>(?:(?:st|at|each|beg|and|end|edge|side|neck|armhole|front|raglan|inside|m|as set|as before|before|evenly|spaced|across|along|around|on|into|needle|of|piece|work|row end|marked|centre|past|every m|gusset|sleeve|back|left|right|seam|over|to|shoulder|edge only|same|this|outer|inner|shaped|curved|straight|as|set|est|thus) )*)"
)
CAST_ON = shape(
    LEAD + r"(?:(?:using|with) (?:[^.;#]|# mm |# (?=[a-z]))*?)?(?:(?:provisionally|loosely|to|work|for|beg|begin|method|and|,) )*co (?P<pre>(?:(?:loosely|provisionally|firmly|total|as|approx|about|with|using|using) )*)(?P<n>#) (?:(?:new|more|additional|extra|underarm) )?(?:st )?"
)
CAST_ON_LATE = shape(LEAD + r"(?:using|with) [^.;]*?(?:,|and) co (?P<n>#) (?:st )?")
CAST_ON_LOOSE = shape(LEAD + r"(?:[a-z]+ ){0,8}?co (?P<n>#) (?:st )")
PICK_UP = shape(LEAD + r"(?:(?:with|using) [^#;.]*?)?(?:(?:rs|ws|facing|,|and|beg|at|from|[a-z]+) ){0,14}?(?:pick up (?:and )?(?:k |p |work )?|pu (?:and )?k |puk )(?:(?:approx|about|evenly|total|into all) )*(?P<n>#) (?:st )?")
JOIN = shape(LEAD + r"(?:(?:being careful not to twist|place m|pm|and|taking care not to twist|without twist|to|for|m|beg|rnd|,|be careful not to twist|careful) )*(?:(?P<no>do not|don't|not) )?join (?:(?:into|for|work|to|st|and|being|in) )*(?P<rnd>rnd|circle|circular|ring|work rnd)? ?")
BACK_FORTH = shape(LEAD + r"(?:(?:work|cont|worked|k|now) )*(?:back and forth|flat|into row|backwards and forwards|back & forth|to and fro) ?(?:into row )?")
BIND_OFF = shape(LEAD + r"(?:(?:then|and|now|work|loosely) )*bo (?:(?:rem|foll|live|neck|last) )*(?P<n>#)?(?P<tail> ?(?:[^.;#]*))")
HOLD_SHAPE = shape(
    LEAD + r"(?:place|sl|transfer|move|leave|set|put) (?P<mid>(?:(?:first|last|rem|foll|centre|these|live|each|every|then|for|thumb|gusset|sleeve|body|back|front|neck|underarm|shoulder|instep|heel|toe|left|right|next|st|back|hood|other) )*)(?P<n>#)? ?(?P<mid2>(?:(?:st|sleeve|thumb|gusset|neck|centre|front|back|underarm|shoulder|live|left|right|rem|heel|instep|for|and|as|they|are|unworked|without|work|them|between|m|held|body|into|to|first|second) )*)(?:on|onto|on to|to|into|over) (?:(?:first|second|another|spare|scrap|waste|length|contrast|holding|separate|safety|st|large|small|piece|some|smooth|long|spare|new|one) )*(?P<what>holder|hold|waste|yarn|thread|needle|pin|pins|cable|scrap) ?(?:yarn |needle |and |)*"
)
TAKE_SHAPE = shape(
    LEAD + r"(?:place|return|sl|transfer|move|replace|put) (?P<mid>(?:(?:held|back|on|hold|rem|live|first|these|left|right|front|sleeve|thumb|body|neck|shoulder|heel|instep|st|for|from|holder|two|sets|into) )*)(?P<n>#)? ?(?P<mid2>(?:(?:held|sleeve|thumb|st|gusset|body|back|neck|front|left|right|shoulder|heel|instep|rem|live|from|holder|waste|yarn|thread|hold|for|on|scrap|marked|first|second|needle) )*)(?:back )?(?:on|onto|on to|to|into) (?:(?:to|larger|smaller|needle|circular|dpn|dpns|dpn's|working|work|main|size|double|pointed|set|empty|left|right|lh|rh|double-pointed|# mm|#|mm|three|spare) ?)*(?:needle|dpn|dpns|dpn's|circular) "
)
PLAIN_COUNT = shape(
    LEAD + r"(?P<verb>work|k|p|cont|rib|patt|cont to work|then work|cont work|cont k|cont to k) (?P<mid>(?:[a-z'/-]+ )*?)(?P<n>#) (?P<more>more |further |additional |plain |k |p |even |straight |complete |garter |rib |total |foll |extra )?(?:st )?(?P<word>row|rnd|ridge) (?P<tail>[^.;#]*)"
)
PLAIN_UNTIL = shape(LEAD + r"(?P<verb>work|k|p|cont|rib|patt|keep|proceed) (?P<mid>[^#.;]*?)(?:until|till|for) ")
PLAIN_RIB = shape(LEAD + r"(?P<verb>work|cont|rib|change|beg|with|into|k) (?P<mid>[^;.]*?)\b(?P<n>#) (?P<word>row|rnd) ")
LENGTH_TAIL = shape(r"(?:[^.;#]*)(?:#|measure) (?:cm|cms|mm|in|into|ins|inch|inches|\") ")
MARK_SHAPE = shape(LEAD + r"(?:(?:place|pm|mark) (?:m )?)(?P<tail>[^.;#]*)")
STATE_COUNT = shape(
    LEAD + r"(?:\( ?)?(?:(?:there|you|now|will|should|be|have|are|total|now|then|=|leave|place|rem|giving|st|count|is|on|needle|:|do|with|making|still|has|all|into) )*(?P<n>#) (?P<word>(?:total )?st) (?P<tail>(?:(?:rem|now|on|needle|needles|total|into|all|altogether|inc|dec|in|work|each|side|unworked|live|body|for|\)|.|,|rh|lh|in rnd) )*)$"
)
COMPLETE_AS = shape(r".*\b(?:as|to match|same as|as for|as given for|match) (?:for )?(?:left|right|first|front|back|other|second|given)\b")
REVERSING = shape(r".*\brevers(?:e|ing|ed)\b.*\bshap")
MOVE_START = shape(LEAD + r"(?:[a-z]+ )*?(?:sl|move|k|shift) (?:beg|start|bor|rnd|end|m|marker) (?:rnd |row |m )*(?P<n>#)? ?(?:st )?(?:to )?(?:left|right|rem|forward|back|lh|rh)?")
NAMED_PATT = shape(
    LEAD + r"(?:work|k|cont|rep|beg|beg work|then|est|set) (?:(?:into|from|to|work|with|all|patt|only|over|and|as|foll) )*(?:(?P<word>row|rnd) (?P<a>#) (?:(?:-|to|through|and) (?:row |rnd )?(?P<b>#) )?)(?:of |from |into |for )?(?P<name>(?:[a-z][a-z'-]* |[A-Z] ){1,6}?)(?P<end>patt |chart |panel |st )?(?=$|#|\.|,|;|until|till|over|once|twice|for|another|x )"
)
