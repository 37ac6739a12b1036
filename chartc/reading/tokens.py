"""From atoms to trade tokens: what each passage of a row says, before its structure.

`tokenise` gives a flat list in which brackets and stars are balanced, so that the grammar of
grammar/pattern.lark takes every list. What cannot be read becomes an UNKNOWN token; each thing
noticed on the way becomes a Remark.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from chartc.pattern import ONE, PART, Num, Reach, Remark, Stated, Target
from chartc.reading.atoms import Atom, atomise, gather_sizes
from chartc.reading.olderwords import MOVED, regroup, turned
from chartc.reading.phrases import Found, Phrases
from chartc.source import Span
from chartc.vocabulary import SKIPPABLE, Stitch, Vocabulary

_CLOSERS = {"(": ")", "[": "]", "{": "}"}
_SEPARATORS = frozenset({",", ";", ".", ":", "and", "then", "-", "\u2014", "&", "\u2022", "/", "|"})
_PARTS = frozenset(["heel", "instep", "sole", "thumb", "sleeve", "body", "back", "front", "held", "waiting", "gusset", "underarm"])
# which of the markers ahead is meant
_WHICH = {"last": "last", "second": "#2", "third": "#3", "fourth": "#4"}
_WORDS_FOR = {"once": 1, "twice": 2, "thrice": 3, "again": 1}


@dataclass(frozen=True, slots=True)
class Word:
    """An atom after folding. `num` is set for numbers; `raw` the text as typed."""

    text: str
    start: int
    end: int
    num: Num | None = None
    raw: str = ""
    label: str = ""  # of a star
    glued: bool = False
    counted: bool = False


@dataclass(frozen=True, slots=True)
class Tok:
    """A trade token; `value` depends on `type`. `after` is the separator before it, if any."""

    type: str
    value: Any
    start: int
    end: int
    after: str = ""

    @property
    def span(self) -> Span:
        return Span(self.start, self.end)


@dataclass(frozen=True, slots=True)
class Working:
    """Value of a STITCH token."""

    stitch: Stitch
    times: Num
    counted: bool  # a number of times is printed
    spelled: bool  # written as a word, not as an abbreviation


@dataclass
class Context:
    """What a row is read against: the vocabulary, the phrases, the number of sizes and the
    designer's own stitches (folded words -> stitch). Collects remarks and the terms used."""

    vocabulary: Vocabulary
    phrases: Phrases
    sizes: int = 1
    own: Mapping[tuple[str, ...], Stitch] = field(default_factory=dict)
    remarks: list[Remark] = field(default_factory=list)
    used: dict[str, Span] = field(default_factory=dict)
    old_usage: bool = False
    # headed stitch patterns by the folded words of their names, to be worked within a row:
    # number of the row -> its steps
    panels: Mapping[tuple[str, ...], Callable[[int], tuple[Any, ...] | None]] = field(default_factory=dict)
    # the sizes the passage is for, when it is not for all: its lists may name those alone
    only: frozenset[int] | None = None
    after_star: int = 0  # older usage: how often more a row is worked that ends in a star

    def remark(
        self,
        check: str,
        span: Span,
        message: str,
        repair: tuple[tuple[Span, str], ...] = (),
    ) -> None:
        self.remarks.append(Remark(check, span, message, repair))


def words_of(plain: str, start: int, end: int, context: Context) -> list[Word]:
    """The folded words of a passage."""
    return _fold(sized_atoms(plain, start, end, context), context)


def sized_atoms(plain: str, start: int, end: int, context: Context) -> list[Atom]:
    """The atoms of a passage, size lists gathered and checked."""
    atoms = _signs(gather_sizes(atomise(plain, start, end), context.sizes))
    if context.only is not None:
        atoms = [_spread(a, context.only, context.sizes) for a in atoms]
    _check_lists(atoms, context)
    return atoms


def _spread(atom: Atom, only: frozenset[int], sizes: int) -> Atom:
    """A list for some sizes alone, as a list for all (0 for the others)."""
    if atom.kind != "num" or len(atom.values) != len(only) or len(atom.values) < 2:
        return atom
    values = [0] * sizes
    for index, value in zip(sorted(only), atom.values, strict=True):
        values[index] = value
    return replace(atom, values=tuple(values))


def _check_lists(atoms: Sequence[Atom], context: Context) -> None:
    for atom in atoms:
        given = len(atom.values)
        if atom.kind == "num" and given > 1 and given != context.sizes and context.sizes > 1:
            context.remark(
                "size-list-length",
                atom.span,
                f"{given} values are given here but the pattern has {context.sizes} sizes",
            )


# abbreviations after which a full stop and a number still belong together: "K. 2 tog."
_DOTTED = frozenset({"k", "p", "sl", "m", "inc", "dec", "kb", "pb", "c", "t", "cr", "no", "s", "tw"})
_STARLIKE = frozenset("+#^@~\u2020\u2021\u00a7\u2022x")


def _signs(atoms: list[Atom]) -> list[Atom]:
    """Drop signs that say nothing; make labels such as (a) and + into stars."""
    labels = set()
    for at, atom in enumerate(atoms[:-1]):
        if atom.text in ("from", "between") and atoms[at + 1].text in _STARLIKE:
            labels.add(atoms[at + 1].text)
        if (
            atom.text == "from"
            and at + 3 < len(atoms)
            and atoms[at + 1].text == "("
            and atoms[at + 3].text == ")"
            and len(atoms[at + 2].text) == 1
        ):
            labels.add("(" + atoms[at + 2].text)
    out: list[Atom] = []
    at = 0
    total = len(atoms)
    while at < total:
        atom = atoms[at]
        text = atom.text
        if (
            text in ("y", "w")
            and at + 2 < total
            and atoms[at + 1].kind == "num"
            and atoms[at + 2].text in ("rn", "on", "fwd", "rnd", "o")
        ):
            out.append(Atom("word", "yo", atom.start, atoms[at + 2].end, atom.glued, raw=atom.raw))
            out.append(atoms[at + 1])
            at += 3
            continue
        if (
            text == "("
            and at + 2 < total
            and atoms[at + 2].text == ")"
            and "(" + atoms[at + 1].text in labels
        ):
            label = "(" + atoms[at + 1].text + ")"
            out.append(
                Atom("stars", label, atom.start, atoms[at + 2].end, atom.glued, raw=label)
            )
            at += 3
            continue
        if text in labels and atom.kind != "stars" and not _is_times(atoms, at):
            out.append(Atom("stars", text, atom.start, atom.end, atom.glued, raw=text))
            at += 1
            continue
        at += 1
        if atom.kind == "sign":
            before = out[-1] if out else None
            following = atoms[at] if at < total else None
            if text in "\"'\u00b0_~!?\\`":
                continue
            if (
                text == "-"
                and before is not None
                and following is not None
                and atom.glued
                and following.glued
                and not (before.kind == "num" and following.kind == "num")
                and not (before.kind == "num" and following.text in ("r", "row", "rows", "rnd", "rnds"))
                and before.kind in ("word", "num")
                and following.kind in ("word", "num")
            ):
                continue
            if text == "&" and atom.glued and following is not None and following.glued:
                continue
            if text == "." and before is not None and following is not None:
                small = following.kind == "word" and following.raw[:1].islower()
                verb = following.kind == "num" and before.text in _DOTTED
                if before.kind == "word" and (verb or (small and len(before.text) <= 4)):
                    continue
        out.append(atom)
    return out


def _is_times(atoms: Sequence[Atom], at: int) -> bool:
    return atoms[at].text == "x" and (
        (at + 1 < len(atoms) and atoms[at + 1].kind == "num")
        or (at > 0 and atoms[at - 1].kind == "num")
    )


# forms that must be plain before phrases such as "bind off" are folded
_EARLY = {"bound": "bind", "binding": "bind", "casting": "cast", "picked": "pick", "picking": "pick"}


def _fold(atoms: Sequence[Atom], context: Context) -> list[Word]:
    texts = []
    for atom in atoms:
        if atom.kind == "num":
            texts.append(str(atom.value))
        elif atom.kind == "stars":
            texts.append("*")
        elif atom.kind == "word" and atom.raw == "A":
            texts.append("A")
        elif atom.text in _EARLY:
            texts.append(_EARLY[atom.text])
        else:
            texts.append(atom.text)
    words: list[Word] = []
    phrases = context.phrases
    for folded in context.vocabulary.fold(texts):
        if folded.atom in SKIPPABLE:
            continue
        first, last = atoms[folded.first], atoms[folded.end - 1]
        num = None
        if first.kind == "num" and folded.end - folded.first == 1:
            num = Num(first.values, first.span)
            text = folded.atom
        elif folded.atom.isdigit():
            num = Num((int(folded.atom),), Span(first.start, last.end))
            text = folded.atom
        else:
            text = phrases.fold(folded.atom)
        words.append(
            Word(
                text,
                first.start,
                last.end,
                num,
                first.raw,
                first.text if first.kind == "stars" else "",
                first.glued,
                first.counted,
            )
        )
        if words[-1].text == "psso" and context.old_usage and any(
            a.text == "stitches" for a in atoms[folded.first : folded.end]
        ):
            words[-1] = replace(words[-1], text="p2sso")
        if words[-1].text == "yo" and context.old_usage and first.text.startswith(("bring", "brought")):
            if not any(a.text == "needle" for a in atoms[folded.first : folded.end]):
                words[-1] = replace(words[-1], raw=MOVED)
    return turned(words) if context.old_usage else words


def tokenise(plain: str, start: int, end: int, context: Context) -> list[Tok]:
    """The tokens of a row's instructions, balanced."""
    words = words_of(plain, start, end, context)
    found = _Scanner(plain, words, context).scan(0, len(words))
    if context.old_usage:
        found = regroup(found, context)
    return _balance(found, context, end)


class _Scanner:
    """Reads tokens off a list of words."""

    def __init__(self, plain: str, words: list[Word], context: Context) -> None:
        self.plain = plain
        self.words = words
        self.context = context
        self.texts = ["#" if w.num is not None else w.text for w in words]
        self.literal = [w.text for w in words]
        self.close = _pairs(self.literal)
        self.picking = False  # whether the last token picks up stitches
        self.last: Stitch | None = None  # the plain stitch worked last, for "k1 MC, 2 CC"

    def scan(self, at: int, end: int, bracketed: bool = False) -> list[Tok]:
        tokens: list[Tok] = []
        unknown: list[int] = []
        after = ""

        def flush() -> None:
            if unknown:
                self._unknown(tokens, unknown, after_unknown)
                unknown.clear()

        after_unknown = ""
        while at < end:
            word = self.words[at]
            text = self.literal[at]
            if text in _SEPARATORS and not (text == "and" and self._joins(at, end)):
                if text == "/" and at + 1 < end and self.texts[at + 1] == "#":
                    pass
                flush()
                if after in ("", ",", "and", "then", "-"):
                    after = text
                at += 1
                continue
            if text in _CLOSERS:
                flush()
                at = self._bracket(tokens, at, end, after)
                after = ""
                continue
            if text in (")", "]", "}"):
                flush()
                tokens.append(Tok("RPAR", text, word.start, word.end, after))
                at += 1
                after = ""
                continue
            taken = self._token(at, end, after, bracketed)
            if taken is None:
                if not unknown:
                    after_unknown = after
                unknown.append(at)
                at += 1
                continue
            token, at = taken
            flush()
            if token is not None:
                tokens.append(token)
                self.picking = token.type == "ON" and token.value[0] == "pick up"
                after = ""
        flush()
        return tokens

    def _joins(self, at: int, end: int) -> bool:
        """Whether an "and" belongs to a phrase that begins with it."""
        if at + 1 >= end:
            return False
        found = self.context.phrases.match(self.texts, at)
        return found is not None and found.end <= end and found.end > at + 1

    def _token(self, at: int, end: int, after: str, bracketed: bool) -> tuple[Tok | None, int] | None:
        """The longest token at a word, and the word after it; a None token is a remark that
        changes nothing."""
        word = self.words[at]
        if word.label:
            return Tok("STAR", word.label, word.start, word.end, after), at + 1
        if word.num is not None and at + 1 < end and self._colour(at + 1):
            stitch = self.last or self.context.vocabulary.get("k")
            return (
                Tok("STITCH", Working(stitch, word.num, True, False), word.start, word.end, after),
                at + 2,
            )
        if word.num is not None and self.picking and at + 1 < end and self.literal[at + 1] == "st":
            # "pick up and knit 3 sts along the edge, then 3 sts from ..."
            if at + 2 < end and self.literal[at + 2] in ("from", "along", "down", "up", "across", "around", "over", "at", "on", "for"):
                return Tok("ON", ("pick up", word.num), word.start, self.words[at + 1].end, after), at + 2
        panel = self._panel(at, end, after) if self.context.panels else None
        if panel is not None:
            return panel
        own = self._own(at, end)
        found = self.context.phrases.match(self.texts, at)
        if found is not None and found.end > end:
            found = None
        if found is not None and found.kind == "stated" and not self._may_state(found, at, end, bracketed):
            found = self._shorter(found)
        match = self.context.vocabulary.match(self.literal[:end], at) if at < end else None
        if match is not None and match.end - at >= 2 and word.text == "yo":
            # "yo 76 (100) sts": the row has ended, the number is the count stated after it
            number = next((i for i in range(at, match.end) if self.words[i].num is not None), None)
            if number is not None and self.literal[number + 1 : number + 2] == ["st"]:
                match = self.context.vocabulary.match(self.literal[:number], at)
        if match is not None and match.meaning.stitch is not None and found is not None:
            # binding off and casting on are told by their phrases, which know "all" and "to end"
            if match.meaning.stitch.kind in ("bind off", "cast on"):
                match = None
        stitch_end = match.end if match is not None else 0
        if own is not None and own[1] >= max(stitch_end, found.end if found else 0):
            stitch, stop = own
            span_end = self.words[stop - 1].end
            self._use(at, stop)
            times, counted, stop = self._own_times(stop, end)
            return (
                Tok("STITCH", Working(stitch, times, counted, False), word.start, span_end, after),
                stop,
            )
        if match is not None and (found is None or stitch_end >= found.end):
            known = match.stitch
            if known is not None:
                if known.kind == "slip" and word.text in ("yf", "wyif") and word.raw.lower() == "yf":
                    alone = self._forward_is_over(at, end)
                    if alone is not None:
                        return alone
                if known.kind == "plain":
                    self.last = known
                return self._stitch(at, match, known, after)
        if found is not None:
            return self._phrase(found, at, end, after)
        if word.text in ("psso", "p2sso", "pnso", "ppsso", "po"):
            return Tok("PSSO", word.text, word.start, word.end, after), at + 1
        return None

    def _may_state(self, found: Found, at: int, end: int, bracketed: bool) -> bool:
        """A count is stated in a bracket of its own, or where the row has ended."""
        if bracketed:
            return True
        if found.end >= end:
            return True
        following = self.literal[found.end]
        return following in (".", ";", ")", "(", "[", ",", "-", "\u2014", ":") and not any(
            self.context.vocabulary.match(self.literal, place) for place in range(found.end, end)
        )

    def _panel(self, at: int, end: int, after: str) -> tuple[Tok, int] | None:
        """ "work row 5 of lace panel over next 22 sts"."""
        place = at
        if self.literal[place] in ("work", "k", "patt") and place + 1 < end:
            place += 1
        if self.literal[place : place + 1] not in (["row"], ["rnd"]) or place + 1 >= end:
            return None
        number = self.words[place + 1].num
        if number is None:
            return None
        begin = place + 2
        while begin < end and self.literal[begin] in ("from", "into", "for", "as"):
            begin += 1
        for length in range(min(6, end - begin), 0, -1):
            rows = self.context.panels.get(tuple(self.literal[begin : begin + length]))
            if rows is None:
                continue
            steps = rows(number.values[0])
            if steps is None:
                return None
            stop = begin + length
            while stop < end and self.literal[stop] in ("patt", "chart", "panel", "patt."):
                stop += 1
            over: Num | None = None
            if stop + 1 < end and self.literal[stop] in ("over", "across", "on"):
                reach = self.context.phrases.match(self.texts, stop)
                if reach is not None and reach.kind == "target" and reach.sub == "over":
                    over, stop = self._num(reach), reach.end
            return Tok("PANEL", (steps, over), self.words[at].start, self.words[stop - 1].end, after), stop
        return None

    def _forward_is_over(self, at: int, end: int) -> tuple[Tok, int] | None:
        """ "yf, sl 1, k1, psso": the slip belongs to a decrease, so the yarn is brought over."""
        place = at + 1
        while place < end and self.literal[place] in _SEPARATORS:
            place += 1
        if place >= end:
            return None
        match = self.context.vocabulary.match(self.literal[:end], place)
        if match is None or match.stitch is None or match.stitch.kind != "decrease":
            return None
        word = self.words[at]
        yo = self.context.vocabulary.get("yo")
        return Tok("STITCH", Working(yo, ONE, False, False), word.start, word.end), at + 1

    def _colour(self, at: int) -> bool:
        """ "2 CC", "3 MC": a number of stitches told by its colour alone."""
        word = self.words[at]
        return word.text in ("mc", "cc") or (
            len(word.raw) == 1 and word.raw in "ABCDEFG" and at + 1 < len(self.words) and self.literal[at + 1] in (",", ";", "*", ".")
        )

    def _shorter(self, found: Found) -> Found | None:
        return None

    def _own(self, at: int, end: int) -> tuple[Stitch, int] | None:
        best: tuple[Stitch, int] | None = None
        own = self.context.own
        if not own:
            return None
        for length in range(min(8, end - at), 0, -1):
            key = tuple(self.literal[at : at + length])
            if key in own:
                best = (own[key], at + length)
                break
        return best

    def _own_times(self, at: int, end: int) -> tuple[Num, bool, int]:
        return ONE, False, at

    def _use(self, at: int, stop: int) -> None:
        start, to = self.words[at].start, self.words[stop - 1].end
        self.context.used.setdefault(self.plain[start:to].lower(), Span(start, to))

    def _stitch(self, at: int, match: Any, stitch: Stitch, after: str) -> tuple[Tok, int]:
        words = self.words[at : match.end]
        times = ONE
        counted = False
        place = match.meaning.count_at
        if place is not None:
            value = match.numbers[place]
            for word in words:
                if word.num is not None and word.text == str(value):
                    times, counted = word.num, True
                    if word.num.sized:
                        break
        last = words[-1]
        for index in range(len(words) - 1, -1, -1):
            if words[index].text not in _SEPARATORS:
                last = words[index]
                break
        self.context.used.setdefault(stitch.key, Span(words[0].start, last.end))
        if match.meaning.doubt:
            self.context.remark(
                "term-with-two-meanings", Span(words[0].start, last.end), match.meaning.doubt
            )
        spelled = words[0].raw.lower() in ("knit", "purl", "plain", "pearl", "seam")
        token = Tok(
            "STITCH", Working(stitch, times, counted, spelled), words[0].start, last.end, after
        )
        return token, match.end

    def _num(self, found: Found, default: int = 1) -> Num:
        for place in found.numbers:
            num = self.words[place].num
            if num is not None:
                return num
        return Num((default,), Span(self.words[found.end - 1].start, self.words[found.end - 1].end))

    def _phrase(self, found: Found, at: int, end: int, after: str) -> tuple[Tok | None, int] | None:
        words = self.words[at : found.end]
        start, stop = words[0].start, words[-1].end
        span = Span(start, stop)
        kind, sub = found.kind, found.sub
        texts = self.literal[at : found.end]

        def tok(type_: str, value: Any) -> tuple[Tok, int]:
            return Tok(type_, value, start, stop, after), found.end

        if kind == "target":
            name = ""
            to = found.end
            if sub in ("marker", "before marker", "past marker"):
                name, to = self._marker_name(found.end, end)
                if "m" not in texts and any(t in _PARTS for t in texts):
                    name = PART
                which = next((_WHICH[t] for t in texts if t in _WHICH), "")
                if which and not (sub == "before marker" and "last" in texts and found.numbers):
                    name = name or which
                stop = self.words[to - 1].end
            if sub == "end":
                num = Num((0,))
            else:
                num = self._num(found)
            if sub == "until" and "all" in texts:
                return None
            reach = Reach(sub)
            where = Span(start, stop)
            if sub in ("end", "last") and "needle" in texts:
                name = "needle"
            if sub == "end" and any(t in _PARTS for t in texts):
                name = PART
                where = Span(0, 0)  # "across heel sts": the end of that part, not of the row
            value = Target(reach, num, name, where)
            return Tok("TARGET", value, start, stop, after), to
        if kind == "times":
            if found.numbers:
                num = self._num(found)
            else:
                count = next((_WORDS_FOR[t] for t in texts if t in _WORDS_FOR), 1)
                num = Num((count,), span)
            more = sub == "more"
            return Tok("TIMES", (num, more), start, stop, after), found.end
        if kind == "rep":
            if sub == "star":
                label = next((w.label for w in words if w.label), "*")
                return tok("REP", label)
            return tok("REP", "")
        if kind == "lastrep":
            return tok("LASTREP", None)
        if kind in ("instead", "omit", "onlast", "end", "leaving"):
            left = self._num(found, 0) if kind == "leaving" and found.numbers else None
            return tok(kind.upper(), left)
        if kind == "aspatt":
            following = found.end
            if following < end and self.words[following].num is not None and texts[-1] in (
                "patt", "rib", "work", "moss", "ribbing", "st", "set", "est", "gst", "ss",
            ):  # fmt: skip
                over = self.words[following].num
                assert over is not None
                to = following + 1
                if to < end and self.literal[to] == "st":
                    to += 1
                if to < end and self.literal[to] in ("time", "row", "rnd"):
                    return tok("INPATT", None)
                again = self.context.phrases.match(self.texts, to) if to < end else None
                if again is not None and again.kind == "aspatt" and again.end <= end:
                    to = again.end  # "work 20 sts in patt"
                target = Target(Reach.OVER, over, "", over.span)
                return Tok("INPATT", target, start, self.words[to - 1].end, after), to
            return tok("INPATT", None)
        if kind == "mark":
            name, to = self._marker_name(found.end, end)
            return Tok("MARK", (sub, name), start, self.words[to - 1].end, after), to
        if kind == "turn":
            return tok("TURN", sub)
        if kind == "ds":
            return tok("DS", sub)
        if kind == "off":
            return tok("OFF", self._num(found) if found.numbers else None)
        if kind == "on":
            return tok("ON", (sub, self._num(found)))
        if kind == "hold":
            if found.numbers:
                return tok("HOLD", (self._num(found), None, False))
            reach = Reach.MARKER if "m" in texts else Reach.END
            raw = self.plain[start:stop].lower().split()
            worked = any(w in raw for w in ("these", "them", "those"))
            return tok("HOLD", (None, Target(reach), worked))
        if kind == "general":
            return tok("GENERAL", None)
        if kind == "only":
            return tok("ONLY", self._num(found))
        if kind == "take":
            return tok("TAKE", self._num(found) if found.numbers else None)
        if kind == "change":
            num = self._num(found)
            down = any(t == "dec" for t in texts)
            values = tuple(-v if down else v for v in num.values)
            return tok("CHANGE", (sub, Num(values, num.span)))
        if kind == "into":
            return tok("INTO", (sub, self._num(found, 2 if sub == "many" else 1)))
        if kind == "stated":
            return tok("STATED", self._stated(found, sub, span))
        if kind == "note":
            return None, found.end
        raise ValueError(f"unknown kind of phrase {kind}")

    def _stated(self, found: Found, sub: str, span: Span) -> Stated:
        num = self._num(found)
        if sub in ("dec", "repeat dec"):
            num = Num(tuple(-v for v in num.values), num.span)
        kind = {
            "inc": "change", "dec": "change", "repeat inc": "repeat", "repeat dec": "repeat",
        }.get(sub, sub)  # fmt: skip
        return Stated(kind, num, span)

    def _marker_name(self, at: int, end: int) -> tuple[str, int]:
        """A marker's name after "marker": a letter, a number of its own, or nothing."""
        if at < end:
            word = self.words[at]
            raw = word.raw
            if len(raw) == 1 and raw.isupper() and raw not in "KP":
                return raw, at + 1
        return "", at

    def _bracket(self, tokens: list[Tok], at: int, end: int, after: str) -> int:
        """A bracket: a group, a count, a number of times, or a remark."""
        word = self.words[at]
        close = self.close.get(at)
        if close is None or close >= end:
            tokens.append(Tok("LPAR", word.text, word.start, word.end, after))
            return at + 1
        inner = self._inner(at + 1, close)
        last = self.words[close]
        if isinstance(inner, list) and self._explains(tokens, inner, after, close + 1, end):
            return close + 1
        if isinstance(inner, list):
            tokens.append(Tok("LPAR", word.text, word.start, word.end, after))
            tokens.extend(inner)
            tokens.append(Tok("RPAR", last.text, last.start, last.end, ""))
        elif inner is not None:
            if (
                self.words[at + 1].num is not None
                and all(t == "," for t in self.literal[at + 2 : close])
                and close + 1 < end
                and self.literal[close + 1] not in (".", ";", "-", "\u2014", "(", "[")
            ):
                # a bare number in brackets in mid-row is no count stated after it
                tokens.append(Tok("UNKNOWN", self.plain[word.start : last.end], word.start, last.end, after))
                return close + 1
            for token in inner:
                tokens.append(Tok(token.type, token.value, token.start, token.end, after))
        return close + 1

    def _explains(
        self, tokens: list[Tok], inner: list[Tok], after: str, following: int, end: int
    ) -> bool:
        """ "inc in next st (knit into front and back)": the bracket says how it is done."""
        if after or not tokens or tokens[-1].type != "STITCH":
            return False
        if any(t.type != "STITCH" for t in inner):
            return False
        if following < end:
            found = self.context.phrases.match(self.texts, following)
            if found is not None and found.kind in ("times", "into", "target"):
                return False
        stitch: Stitch = tokens[-1].value.stitch
        uses = sum(t.value.stitch.uses * t.value.times.values[0] for t in inner)
        makes = sum(t.value.stitch.makes * t.value.times.values[0] for t in inner)
        return (stitch.uses, stitch.makes) == (uses, makes) and stitch.kind not in ("plain", "slip")

    def _inner(self, at: int, end: int) -> list[Tok] | tuple[Tok, ...] | None:
        """What a bracket holds: a list for a group, a tuple for tokens that stand by
        themselves, None for a remark."""
        if at >= end:
            return None
        kept, used = len(self.context.remarks), dict(self.context.used)
        if end - at == 1 and self.words[at].num is not None:
            num = self.words[at].num
            assert num is not None
            return (Tok("STATED", Stated("total", num, num.span), num.span.start, num.span.end),)
        tokens = self.scan(at, end, bracketed=True)
        types = {t.type for t in tokens}
        if not types:
            return None
        if types <= {"STATED", "END"}:
            return tuple(t for t in tokens if t.type == "STATED")
        if types == {"TIMES"} or types == {"TARGET"} or types == {"INTO"}:
            return tuple(tokens)
        prose = sum(1 for i in range(at, end) if self.literal[i] in self.context.phrases.prose)
        if "UNKNOWN" in types:
            unknown = [t for t in tokens if t.type == "UNKNOWN"]
            solid = [t for t in tokens if t.type in ("STITCH", "STAR", "LPAR")]
            counted = [t for t in solid if t.type == "STITCH" and t.value.counted]
            if not solid or (len(unknown) >= len(counted) and prose >= 2) or (not counted and prose):
                del self.context.remarks[kept:]
                self.context.used.clear()
                self.context.used.update(used)
                return tuple(t for t in tokens if t.type == "STATED")
        if "STATED" in types and types & {"UNKNOWN", "NOTE"}:
            return tuple(t for t in tokens if t.type == "STATED")
        return tokens

    def _unknown(self, tokens: list[Tok], places: list[int], after: str) -> None:
        words = [self.words[i] for i in places]
        prose = self.context.phrases.prose
        texts = [w.text for w in words]
        if all(t in prose or w.raw.lower() in prose for t, w in zip(texts, words, strict=True)):
            return
        start, end = words[0].start, words[-1].end
        tokens.append(Tok("UNKNOWN", self.plain[start:end], start, end, after))


def _pairs(texts: Sequence[str]) -> dict[int, int]:
    """Index of each opening bracket to that of its closing one; kinds must agree unless the
    kinds of the whole passage are muddled."""
    pairs: dict[int, int] = {}
    stack: list[int] = []
    for at, text in enumerate(texts):
        if text in _CLOSERS:
            stack.append(at)
        elif text in (")", "]", "}"):
            for depth in range(len(stack) - 1, -1, -1):
                if _CLOSERS[texts[stack[depth]]] == text:
                    pairs[stack[depth]] = at
                    del stack[depth:]
                    break
            else:
                if stack:
                    pairs[stack.pop()] = at
    return pairs


def _balance(tokens: list[Tok], context: Context, end: int) -> list[Tok]:
    """Brackets and stars in pairs: unpaired ones are remarked on and closed where they must
    have been meant to close."""
    out: list[Tok] = []
    opened: list[tuple[str, Tok, int]] = []  # kind or label, token, index in out
    closed: set[str] = set()
    total = len(tokens)
    for at, token in enumerate(tokens):
        following = tokens[at + 1] if at + 1 < total else None
        if token.type == "LPAR":
            opened.append(("(", token, len(out)))
            out.append(token)
        elif token.type == "RPAR":
            if not any(kind == "(" for kind, _, _ in opened):
                context.remark(
                    "bracket-not-opened", token.span, "this bracket closes nothing", ((token.span, ""),)
                )
                continue
            while opened and opened[-1][0] != "(":
                _unclosed_star(opened.pop(), out, token.start, context)
            opened.pop()
            out.append(token)
        elif token.type == "STAR":
            label = token.value
            mine = [i for i, (kind, _, _) in enumerate(opened) if kind == label]
            if mine and not _opens_anew(tokens, at, label, len(mine)):
                while opened[-1][0] != label:
                    kind, opener, place = opened.pop()
                    if kind == "(":
                        _unclosed_bracket(opener, out, token.start, context)
                    else:
                        _unclosed_star((kind, opener, place), out, token.start, context)
                opened.pop()
                out.append(Tok("CLOSE", label, token.start, token.end, token.after))
                closed.add(label)
            else:
                opened.append((label, token, len(out)))
                out.append(token)
        elif token.type == "REP" and token.value:
            label = token.value
            if any(kind == label for kind, _, _ in opened):
                while opened[-1][0] != label:
                    kind, opener, place = opened.pop()
                    if kind == "(":
                        _unclosed_bracket(opener, out, token.start, context)
                    else:
                        _unclosed_star((kind, opener, place), out, token.start, context)
                opened.pop()
                out.append(token)
                closed.add(label)
            elif label in closed:
                kind = "REPCLOSED" if out and out[-1].type == "CLOSE" else "REPAGAIN"
                out.append(Tok(kind, label, token.start, token.end, token.after))
            elif len(opened) == 1 and opened[0][0] not in ("(",):
                context.remark(
                    "star-missing",
                    token.span,
                    f"this repeats from {label}, but the repeat is opened with {opened[0][0]}",
                )
                opened.pop()
                out.append(token)
            else:
                context.remark(
                    "star-missing",
                    token.span,
                    f"this repeats from {label}, but there is no {label} before it in this row",
                    ((Span(tokens[0].start, tokens[0].start), label),),
                )
                out.append(Tok("REPAGAIN", "", token.start, token.end, token.after))
        elif token.type == "REP" and out and out[-1].type in ("CLOSE", "RPAR"):
            out.append(Tok("REPCLOSED", "", token.start, token.end, token.after))
        elif token.type == "REP" and following is not None and following.type in (
            "LPAR", "STAR",
        ) and not following.after:  # fmt: skip
            continue
        elif token.type == "REP":
            if opened and opened[-1][0] != "(":
                opened.pop()
                out.append(token)
            else:
                out.append(Tok("REPAGAIN", "", token.start, token.end, token.after))
        else:
            out.append(token)
    while opened:
        kind, opener, place = opened.pop()
        if kind == "(":
            _unclosed_bracket(opener, out, end, context)
        else:
            _unclosed_star((kind, opener, place), out, end, context)
    return out


def _opens_anew(tokens: Sequence[Tok], at: int, label: str, already: int) -> bool:
    """Whether a second star of the same label opens a repeat inside the first."""
    following = tokens[at + 1] if at + 1 < len(tokens) else None
    if following is None or following.type in ("TIMES", "TARGET", "REP", "END", "RPAR"):
        return False
    later = sum(1 for t in tokens[at:] if t.type == "REP" and t.value == label)
    return later > already


def _unclosed_star(
    opened: tuple[str, Tok, int], out: list[Tok], at: int, context: Context
) -> None:
    label, token, place = opened
    # "..., k3 around": the words for the repeat are missing before those that say how far
    last = out[-1] if out else token
    known = last.type == "TARGET" and len(out) > place + 2 and _counted(out[-2])
    before = out[-2].end if known else last.end
    text = f"; rep from {label}" if known else f"; rep from {label} to end"
    context.remark(
        "star-never-repeated",
        token.span,
        f"the repeat that begins at {label} is never closed: no \"rep from {label}\" follows",
        ((Span(before, before), text),) if len(out) > place + 1 else (),
    )
    if known:
        out.insert(len(out) - 1, Tok("REP", label, before, before))
    else:
        out.append(Tok("REP", label, at, at))


def _counted(token: Tok) -> bool:
    """A stitch with its number: "to end" after it goes with what stands before."""
    return token.type == "STITCH" and bool(token.value.counted)


def _unclosed_bracket(token: Tok, out: list[Tok], at: int, context: Context) -> None:
    """Close it before the number of times or the end."""
    place = len(out)
    depth = 0
    for index in range(len(out) - 1, -1, -1):
        candidate = out[index]
        if candidate is token:
            break
        if candidate.type in ("RPAR", "CLOSE", "REP"):
            depth += 1
        elif candidate.type in ("LPAR", "STAR"):
            depth -= 1
        elif depth == 0 and (
            candidate.type in ("TIMES", "INTO", "REPAGAIN")
            or (candidate.type == "TARGET" and _counted(out[index - 1]))
        ):
            place = index
    where = out[place].start if place < len(out) else (out[-1].end if out else at)
    if place < len(out) and place > 0:
        where = out[place - 1].end
    closer = _CLOSERS.get(token.value, ")")
    context.remark(
        "bracket-not-closed",
        token.span,
        f"the bracket {token.value} is opened here and never closed",
        ((Span(where, where), closer),),
    )
    out.insert(place, Tok("RPAR", closer, where, where))
