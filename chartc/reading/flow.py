"""Sentences outside rows, turned into instructions of the section they stand in."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from chartc.pattern import (
    Again,
    CastOn,
    Ease,
    Fill,
    Finish,
    Hold,
    Instruction,
    Join,
    Keep,
    Loose,
    Mark,
    Num,
    Off,
    On,
    Plain,
    Reach,
    Repeat,
    Row,
    Shift,
    Stated,
    Step,
    Take,
    Target,
    Turn,
    Until,
    UntilKind,
    Work,
)
from chartc.reading import sentences as s
from chartc.reading.rows import fitted
from chartc.reading.sentences import Match, Sentence
from chartc.reading.tokens import tokenise
from chartc.source import Span

if TYPE_CHECKING:
    from chartc.reading.resolve import Resolver, _Builder
    from chartc.reading.statements import Statement

END = Target(Reach.END)
_GENERAL = re.compile(
    r"\b(?:work|knit|cont(?:inue)?|complete|make|follow)\s+(?:\w+\s+){0,3}?(?:as|to match)\s+(?:given\s+|set\s+|worked\s+)?(?:for\s+)?(?:the\s+)?(?:left|right|first|second|back|front|other|body|sleeve|cuff|opposite|previous side|match)\b"
    r"|\bto match\b|\brevers(?:e|ing)\b|\bcontinu(?:e|ing)\s+in\s+th(?:is|e same)\s+(?:way|manner)|\bcont\.?\s+in\s+th(?:is|e same)\s+(?:way|manner)"
    r"|\b(?:with|working)\s+(?:\d+|one|two)\s+(?:fewer|less|more)\b|\bworking\s+(?:\d+|one|two)\s+(?:st|sts|stitch|more|fewer|less)\b|\b(?:\d+|one|two)\s+(?:st|stitch|sts)\s+(?:fewer|less|more)\b|\b(?:inc|dec)(?:reasing|\.)?\s+as\s+(?:set|before|est)|\bshap(?:e|ing)s?\s+as\s+(?:for|given|before)"
    r"|\bas\s+(?:given\s+)?for\s+(?:the\s+)?(?:back|front|left|right|first)\b|\bkeeping\s+(?:the\s+)?(?:\w+\s+){0,3}(?:correct|as set)|\bin\s+same\s+way\b|\bsecond\s+(?:sleeve|mitten|sock|mitt|glove)\b|\bmake\s+another\b|\bremain\s+unwrapped\b|\buntil\s+all\s+(?:heel\s+|wrapped\s+)?(?:sts|stitches)\s+(?:have|are)\b",
    re.IGNORECASE,
)
_PIECE = re.compile(
    r"(?P<n>#) (?:(?:held|live|sleeve|body|front|back|neck|rem) )*(?:st )?(?:of|from|for|across|on|off|over|into)? ?(?:(?:right|left|first|second|other|rem|one|held|half) )*(?:sleeve|front|back|body|neck|shoulder|yoke|piece|underarm)\b"
)
_EDGE_PIECE = re.compile(r"(?:pick up (?:and )?(?:k |p )?|pu (?:and )?(?:k )?|\bk |\bp |across )(?:(?:across|over|up|and|k|work|evenly|from|the|held|approx|about) )*(?P<n>#) (?:st|held|front|back|sleeve|neck)")
_SOME_ONLY = re.compile(
    r"(?:\bwork|\bk|\bheel|\bcont)[^#;.]*? (?:on|over|across) (?:(?:first|last|these|rem|those|just|heel|back|front|thumb|centre|shoulder|live|set) )*(?P<n>#) (?:(?:heel|sole|thumb|strap|shoulder|back|front|centre) )?st\b"
)
_WORDS = {"once": 1, "twice": 2, "thrice": 3}
ONE = Num((1,))
_OVER_PART = s.shape(
    r"(?:,? ?)(?:over|across|on) (?:(?:centre|first|last|these|rem|those|just|middle) )*(?P<n>#) (?:centre |rem )?st"
    r"(?: ?,? ?(?:keeping|keep|with|working|work) (?:[^#.;]|# st)*?(?=,? ?(?:# (?!st)|once|twice|until|\.|$)))? ?,? ?"
)
_EACH_EDGE = re.compile(r"\b(?P<n>#) st (?:(?:at|on|for|into) )*(?:each|either|both) (?:edge|end|side)")


# "until all heel sts have been worked", "until no sts rem unworked" (as folded words)
_ALL_WORKED = re.compile(
    r",? ?(?:until|till) (?:(?:all |every )?(?:of )?(?:\w+ ){0,4}?st (?:on \w+ )?(?:(?:have|has|are|is|been) )+(?:work\w*|used?|incorporated)(?: up)?"
    r"|(?:there (?:are|is) )?no (?:more )?(?:\w+ )?st (?:(?:are|is) )?(?:left |rem )?(?:unwork\w*|beyond gap|beyond turn))\b",
    re.I,
)


# the same as written: rows named, and worked until no stitch is left
_TO_THE_LAST = re.compile(
    r"\s*(?:rep(?:eat)?|work|cont(?:inue)?)\b[^.;]*\b(?:rows?|rnds?|rounds?)\b[^.;]*\buntil\b(?![^.;]*\b(?:wrap\w*|short|double|ds)\b)"
    r"[^.;]*\b(?:st\w*\b[^.;]*\b(?:worked|used|incorporated)|unworked)\b",
    re.I,
)


def plus(num: Num, by: int) -> Num:
    return Num(tuple(v + by for v in num.values), num.span)


class _Reader:
    """Reads one sentence."""

    def __init__(self, resolver: Resolver, st: Statement) -> None:
        self.r = resolver
        self.st = st
        self.sentence = Sentence(resolver.plain, st.start, st.end, resolver.context)
        self.place = 0
        self.left: list[int] = []  # words no clause took

    @property
    def text(self) -> str:
        return self.sentence.text

    def span(self, match: Match, stop: int) -> Span:
        return self.sentence.span_of(self.sentence.word_at(match.found.start()), stop)

    def after(self, match: Match) -> int:
        return self.sentence.word_at(match.found.end())

    # ------------------------------------------------------------------ modifiers
    def times(self, place: int) -> tuple[Num | None, bool, int]:
        """A number of times at a word: (number, whether "more", the word after)."""
        found = self.sentence.match(s.TIMES, place)
        if found is None or not found.found.group().strip():
            return None, False, place
        stop = self.after(found)
        if found.has("word"):
            num = Num((_WORDS[found.group("word")],), self.sentence.span_of(place, stop))
            return num, found.has("more3"), stop
        if found.has("again") or found.has("another"):
            return Num((1,), self.sentence.span_of(place, stop)), True, stop
        for group in ("n", "n2", "n3", "n4", "n5"):
            num2 = found.num(group)
            if num2 is not None:
                more = found.has("more1") or found.has("more2") or group in ("n2", "n5")
                return num2, more, stop
        return None, False, place

    def until(self, place: int) -> tuple[Until | None, int]:
        """ "until there are 84 sts", "until piece measures 10 cm"."""
        counted = self.sentence.match(s.UNTIL_COUNT, place)
        if counted is not None:
            num = counted.num("n")
            assert num is not None
            stop = self.after(counted)
            between = self.sentence.match(s.shape(r"(?:between|inside) (?:(?:thumb|gusset|raglan|two|these|side) )*m "), stop)
            kind = UntilKind.COUNT
            if between is not None:
                stop = self.after(between)
                kind = UntilKind.MARKED
            elif re.search(r"between m", counted.found.group()):
                kind = UntilKind.MARKED
            until = Until(kind, num, self.sentence.span_of(place, stop))
            return self.ending(until, stop)
        worked = _ALL_WORKED.match(self.text, self.sentence.at[place]) if place < len(self.sentence.words) else None
        if worked is not None:
            stop = next(
                (i for i, at in enumerate(self.sentence.at[: len(self.sentence.words)]) if at >= worked.end()),
                len(self.sentence.words),
            )
            span = self.sentence.span_of(place, stop)
            return self.ending(Until(UntilKind.WORKED, Num((0,)), span), stop)
        rows = self.sentence.match(s.UNTIL_ROWS, place)
        opening = self.sentence.match(s.UNTIL, place)
        if rows is not None:
            return None, place
        if opening is None:
            return None, place
        start = self.sentence.words[place].start
        found = s.lengths(self.r.plain, start, self.st.end)
        if found is None:
            if re.match(r"(?:,? ?)(?:until|till) ", self.text[self.sentence.at[place] :]):
                until = Until(UntilKind.LENGTH, Num((0,)), Span(start, self.st.end), from_here=False)
                return until, len(self.sentence.words)
            return None, place
        values, where = found
        if re.match(
            r"\s*(?:\([^()]*\)\s*)?(?:/\s*\S+\s*)?(?:circular|straight|double|dpn|needle|hook|cable)", self.r.plain[where.end : self.st.end], re.I
        ):
            return None, place
        gap = self.r.plain[start : where.start]
        if re.search(r"[.;]\s", gap) or len(gap) > 140:
            return None, place
        stop = next(
            (i for i, w in enumerate(self.sentence.words) if w.start >= where.end), len(self.sentence.words)
        )
        tail = self.r.plain[where.end : self.st.end]
        from_here = not re.match(r"\s*,?\s*(?:from|after)\s+(?:the\s+)?(?:cast|co\b|beg|start|edge|hem|bottom|cuff)", tail, re.I)
        until = Until(
            UntilKind.LENGTH, Num((0,)), Span(start, where.end), tenths_mm=values, from_here=from_here
        )
        ending = s.END_SIDE.search(self.text, self.sentence.at[stop] if stop < len(self.sentence.words) else len(self.text))
        row = s.END_ROW.search(self.text, self.sentence.at[stop] if stop < len(self.sentence.words) else len(self.text))
        if ending is not None or row is not None:
            return self.ending(until, stop)
        return until, stop

    def ending(self, until: Until, place: int) -> tuple[Until, int]:
        """ "ending with a WS row", "ending with row 6", anywhere in what follows."""
        if place >= len(self.sentence.words):
            return until, place
        row = self.sentence.search(s.END_ROW, place)
        side = self.sentence.search(s.END_SIDE, place)
        if row is not None and self.text.find(".", self.sentence.at[place], row.found.start()) < 0:
            num = row.num("n") or row.num("n2")
            assert num is not None
            return replace(until, after_number=num.values[0]), self.after(row)
        if side is not None and self.text.find(".", self.sentence.at[place], side.found.start()) < 0:
            word = side.group("side")
            raw = side.found.group()
            name = "WS" if word in ("ws", "wrong side", "p") else "RS"
            if ("facing" in raw and "for" in raw) or re.search(r"(?:ws|rs|wrong side|right side) facing", raw):
                name = "RS" if name == "WS" else "WS"
            return replace(until, after_side=name), self.after(side)
        return until, place

    # ------------------------------------------------------------------ running
    def run(self) -> None:
        words = self.sentence.words
        if self._row_like():
            return
        if self._joined_pieces() or self._some_only() or self._rejoined() or self._not_followed():
            return
        tries: tuple[Callable[[int], int | None], ...] = (
            self.cast_on,
            self.pick_up,
            self.move_start,
            self.beginnings,
            self.ease_named,
            self.shaping,
            self.again,
            self.plain_rows,
            self.take_back,
            self.hold,
            self.bind_off,
            self.join,
            self.state,
            self.mark,
        )
        fresh = True
        while self.place < len(words):
            if words[self.place].text in (",", ";", ".", ":", "-", "\u2014", "and", "then", "(", ")", "but"):
                fresh = True
                self.place += 1
                continue
            taken = None
            if fresh or self.place == 0:
                for attempt in tries:
                    taken = attempt(self.place)
                    if taken is not None:
                        break
            if taken is not None and taken > self.place:
                self.place = taken
                fresh = True
                continue
            self.left.append(self.place)
            fresh = False
            self.place += 1
        self.leftover()

    def leftover(self) -> None:
        """Words no clause took: prose, a row without a label, or something not understood."""
        if not self.left:
            return
        words = self.sentence.words
        before = self.sentence.span_of(self.left[0], self.left[-1] + 1)
        stated = self._stated_in(before)
        if stated and not any(t.type == "STITCH" for t in self._tokens(before)[0]):
            b = self.r.current
            if b is not None and (b.flow or b.group):
                self.r._flush(b)
                last = b.flow[-1]
                if isinstance(last, Row) and not last.stated and self.st.start >= last.span.end:
                    changed = replace(last, stated=stated)
                    b.flow[-1] = changed
                    if last.number is not None:
                        b.rows[last.number] = changed
                else:
                    self.r.push(Loose((), stated, self.st.span))
                return
        if len(self.left) < len([w for w in words if w.text not in (",", ";", ".")]):
            self.r.notes.append(self.st.span)
            runs: list[list[int]] = []
            for i in self.left:
                if runs and runs[-1][-1] == i - 1:
                    runs[-1].append(i)
                else:
                    runs.append([i])
            for run in runs:
                span = self.sentence.span_of(run[0], run[-1] + 1)
                if self._instruction_like(span):
                    self.r.context.remark(
                        "not-understood", span, f"“{_short(self.r.source.text[span.start:span.end])}” is not understood"
                    )
            return
        if self._unlabelled_row():
            return
        if self._instruction_like(self.st.span):
            self.r.context.remark(
                "not-understood",
                self.st.span,
                f"“{_short(self.r.source.text[self.st.start:self.st.end])}” looks like an instruction but is not understood",
            )
            self.r.push(Loose((_unread(self.st.span, self.r.source.text),), (), self.st.span))
            return
        self.r.notes.append(self.st.span)

    def _tokens(self, span: Span):  # type: ignore[no-untyped-def]
        context = self.r.context
        kept, used = len(context.remarks), dict(context.used)
        tokens = tokenise(self.r.plain, span.start, span.end, context)
        remarks = context.remarks[kept:]
        del context.remarks[kept:]
        context.used.clear()
        context.used.update(used)
        return tokens, remarks

    def _instruction_like(self, span: Span) -> bool:
        tokens, _ = self._tokens(span)
        counted = sum(1 for t in tokens if t.type == "STITCH" and t.value.counted)
        stars = sum(1 for t in tokens if t.type in ("STAR", "REP"))
        unknown = sum(1 for t in tokens if t.type == "UNKNOWN")
        stitches = sum(1 for t in tokens if t.type == "STITCH")
        if stars and stitches >= 2:
            return True
        return counted >= 2 and counted > unknown

    def _unlabelled_row(self) -> bool:
        tokens, _ = self._tokens(self.st.span)
        if not tokens:
            return False
        counted = sum(
            1
            for t in tokens
            if t.type == "STITCH" and (t.value.counted or t.value.stitch.uses != 1 or t.value.stitch.makes != 1)
        )
        if any(t.type == "UNKNOWN" for t in tokens) or counted < 1:
            return False
        shaped = any(t.type in ("STAR", "REP", "TARGET", "TURN") for t in tokens)
        if counted < 2 and not shaped:
            return False
        self._push_row()
        return True

    # ------------------------------------------------------------------ told in general terms
    def _row_like(self) -> bool:
        """ "Knit across heel sts, pick up and knit 15 sts, pm, k30": a row without a label."""
        raw = self.r.plain[self.st.start : self.st.end]
        if not re.match(
            r"\s*(?:with\s[^,]*,\s*)?(?:k|p|knit|purl|sl|slip|work|patt)\b|\s*(?:k|p|sl)\s?\d|\s*\*", raw, re.I
        ) or re.search(r"\b(?:rows?|rnds?|rounds?|until|every|evenly)\b", raw, re.I):
            return False
        tokens, remarks = self._tokens(self.st.span)
        if remarks or any(t.type in ("UNKNOWN", "GENERAL") for t in tokens):
            return False
        steps = [t for t in tokens if t.type in ("STITCH", "INPATT", "ON", "TURN", "MARK", "HOLD", "TAKE", "OFF", "TARGET")]
        stitches = [t for t in tokens if t.type in ("STITCH", "INPATT")]
        if len(stitches) < 1 or len(steps) < 3:
            return False
        if not any(t.type in ("ON", "TURN", "MARK") for t in tokens):
            return False
        self._push_row()
        return True

    def _push_row(self) -> None:
        b = self.r._need(self.st.span)
        body = self.r._body(self.st.start, self.st.end)
        span = self.st.span
        steps = body.steps
        picked = [at for at, x in enumerate(steps) if isinstance(x, On) and x.kind == "pick up"]
        if len(picked) > 1:
            # all round a heel: the round goes on from where it ends, and may begin anew there
            b.in_round = bool(self.r.round_ahead(self.st.end))
            tail = steps[-1]
            if picked[-1] == len(steps) - 2 and isinstance(tail, Work) and tail.stitch.net == 0:
                steps = (*steps[:-1], Shift(tail.times, tail.span))
        row = Row("row", None, "", b.in_round, steps, body.stated, span, span, span, body.readable)
        self.r.push(row)
        b.written.append(row)

    def _not_followed(self) -> bool:
        """Shaping told in general terms ("work as for back", "with 1 fewer st each time"): the
        count is taken up again where the text states one."""
        raw = self.r.plain[self.st.start : self.st.end]
        if _TO_THE_LAST.match(raw):
            return False
        if not _GENERAL.search(raw) or s.TIMES_TOLD.match(raw) or (not re.search(
            r"\b(?:inc|dec)\w*\.?\s+as\b|\brevers", raw, re.I
        ) and re.match(
            r"\s*(?:(?:beg|starting|beginning)\b[^,]*,\s*)?(?:work|knit|purl)\s+(?:\d+[^a-z]*(?:rows|rnds|rounds)|in\b[^,;]*\bfor\s+\d)", raw, re.I
        )):
            return False
        change = self._change_each_row(raw)
        if change is not None:
            by, until = change
            self.r.push(Ease(by, None, ONE, self.st.span, 1, until, None))
        else:
            span = self.st.span
            self.r.context.remark(
                "not-followed",
                span,
                "this is told in general terms: it is not counted row by row, and the count is taken "
                "up again where the text next states one",
            )
            self.r.push(Loose((_unread(span, self.r.source.text),), (), span))
            for place, word in enumerate(self.sentence.words):
                if word.text in ("until", "till"):
                    told, _ = self.until(place)
                    if told is not None and told.kind is UntilKind.COUNT and not re.search(
                        r"unwrapped|unworked|between|middle|each side|heel", raw, re.I
                    ):
                        self.r.push(Loose((), (Stated("total", told.num, told.num.span),), told.span))
                        break
        stated = self._stated_in(self.st.span)
        if stated:
            self.r.push(Loose((), stated, self.st.span))
        if re.search(r"\b(?:bind|cast)\s+off\s+(?:all|rem|the rem)|\b(?:graft|fasten off)\b|\b(?:bind|cast)\s+off\s*\.?$", raw, re.I):
            self.r.push(Finish("bind off", self.st.span))
        return True

    def _change_each_row(self, raw: str) -> tuple[Num, Until] | None:
        """ "dec 8 sts every rnd, with 1 fewer st each time, until 8 sts rem"."""
        found = self.sentence.search(s.CHANGE, 0)
        if found is None or found.num("n") is None or not re.search(r"every (?:rnd|row|round)", raw, re.I):
            return None
        for place, word in enumerate(self.sentence.words):
            if word.text in ("until", "till"):
                until, _ = self.until(place)
                if until is not None and until.kind is UntilKind.COUNT:
                    num = found.num("n")
                    assert num is not None
                    sign = -1 if found.group("verb") == "dec" else 1
                    return Num(tuple(sign * v for v in num.values), num.span), until
        return None

    def _stated_in(self, span: Span) -> tuple[Stated, ...]:
        tokens, _ = self._tokens(span)
        found = [t.value for t in tokens if t.type == "STATED" and t.value.kind == "total"]
        return tuple(found[:1])

    def _joined_pieces(self) -> bool:
        """ "Knit across 50 sts of first sleeve, 80 sts of front ...": pieces joined."""
        parts = list(_PIECE.finditer(self.text))
        if re.search(r"\bpick up\b|\bpu\b", self.text) and (
            len(parts) >= 2 or re.search(r"\bholder\b|\bheld\b", self.text)
        ):
            stop = self.text.find(" . ", parts[-1].start() if parts else 0)
            parts = list(re.finditer(r"(?P<n>#) (?:(?:held|live|rem) )?(?:st )", self.text[: stop if stop > 0 else len(self.text)]))
            if re.search(r"\b(?:k|p|work|across|over) (?:(?:across|over|all) )*(?:held|live|rem|these) (?:sleeve |thumb )?st\b", self.text):
                return False  # the held stitches are on the needle already
            if len(parts) >= 2 and not self._began_here(self.r._need(self.st.span)):
                self._join_parts(parts)
                return True
            return False
        if len(parts) < 2 or not re.search(r"\b(?:k|p|work|place|sl|join|return|patt)\b", self.text):
            return False
        if re.search(r"\bpick up\b|\bpu\b|\bco #|\bhold\b|\brm\b|\bm \b", self.text[: parts[-1].end()]):
            return False
        self._join_parts(parts)
        return True

    def _rejoined(self) -> bool:
        """ "Rejoin yarn to rem 39 sts and k to end." """
        found = re.search(r"\b(?:rejoin|re-join|join|return) (?:(?:yarn|wool|to|and|at|neck|edge|rs|ws|facing|with|inner|work) )*(?:to|on) (?:(?:rem|held|other|set|first|second|left|right|front|back|sleeve|body|these|for) )*(?P<n>#) (?:(?:held|rem|sleeve|thumb|front|back|left|right|live) )*st\b", self.text)
        if found is None:
            if re.search(r"\b(?:rejoin|re-join)\b[^.]*\b(?:held|rem|holder)\b[^#]*$", self.text):
                self.r.push(Loose((Take("", None, self.st.span, False),), (), self.st.span))
                return False
            return False
        num = self.sentence.nums[self.text.count("#", 0, found.start("n"))]
        self.r.push(CastOn(num, "held", self.st.span))
        rest = self.text[found.end() :]
        verb = re.search(r"\b(?P<v>k|p|work|patt) to end\b", rest)
        if verb:
            stitch = self.r.context.vocabulary.get(verb["v"]) if verb["v"] in ("k", "p") else None
            self.r.push(Plain(ONE, None, stitch, "", self.st.span, False, () if stitch else (Fill(None, END, self.st.span),)))
        return True

    def _join_parts(self, parts: list[re.Match[str]]) -> None:
        nums = [self.sentence.nums[self.text.count("#", 0, part.start("n"))] for part in parts]
        width = max(len(n.values) for n in nums)
        total = Num(tuple(sum(n.at(i) for n in nums) for i in range(width)), nums[0].span.join(nums[-1].span))
        self.r.push(CastOn(total, "join", self.st.span, bool(re.search(r"\bjoin|\brnd", self.text))))
        if re.search(r"\brnd\b", self.text):
            self.r._need(self.st.span).in_round = True
        stated = self._stated_in(self.st.span)
        if stated:
            self.r.push(Loose((), stated, self.st.span))

    def _some_only(self) -> bool:
        """ "Work on these 44 sts only", "the heel is worked on the next 28 sts"."""
        raw = self.r.plain[self.st.start : self.st.end]
        formed = re.search(r"^(?:these )?(?P<n>#) (?:st )(?:now )?(?:form|make|are|will be|will form|become|are for) ", self.text)
        if formed and re.search(r"\b(?:heel|flap|thumb|strap|front|back|left|right)\b", self.text):
            num = self.sentence.nums[self.text.count("#", 0, formed.start("n"))]
            self._keep(num, True)
            return True
        found = _SOME_ONLY.search(self.text)
        if not found or re.search(r"\b(?:k|p) #|\brep\b", self.text[: found.start("n")]):
            return False
        if not re.search(r"\bonly\b|\bheel|\bback and forth|\bhold|\bflap|\bfirst\b|\blast\b|\brow\b|thumb|strap|shoulder", raw, re.I):
            return False
        num = self.sentence.nums[self.text.count("#", 0, found.start("n"))]
        last = bool(re.search(r"\blast\b", raw[: num.span.start - self.st.start], re.I))
        self._keep(num, last)
        b = self.r._need(self.st.span)
        if re.search(r"back and forth|backwards and forwards|in rows|\bflat\b|heel", raw, re.I):
            b.in_round = False
            self.r.push(Join(False, self.st.span))
        return True

    def _keep(self, num: Num, last: bool) -> None:
        if not self.r.running():
            self.r.push(CastOn(num, "held", self.st.span))
            return
        b = self.r._need(self.st.span)
        b.in_round = False
        self.r._flush(b)
        before = b.flow[-1] if b.flow else None
        if (
            last
            and isinstance(before, Row)
            and before.label == "row"
            and before.steps
            and all(isinstance(x, Work) for x in before.steps)
        ):
            # the row before it went over just these stitches
            b.flow[-1] = replace(before, steps=(*before.steps, Turn("plain", self.st.span)))
        self.r.push(Loose((Keep(num, self.st.span, last),), (), self.st.span))

    # ------------------------------------------------------------------ clauses
    def _began(self) -> bool:
        b = self.r.current
        return b is not None and any(
            isinstance(i, Row | Again | Plain | Ease | CastOn) for i in [*b.flow, *b.group.values()]
        )

    def cast_on(self, place: int) -> int | None:
        found = self.sentence.match(s.CAST_ON, place) or self.sentence.match(s.CAST_ON_LATE, place)
        if found is None:
            loose = self.sentence.match(s.CAST_ON_LOOSE, place)
            if loose is None or re.search(r"\b(?:rep|work|k|p|bo) ", loose.found.group()[:-3]):
                return None
            found = loose
        num = found.num("n")
        assert num is not None
        stop = self.after(found)
        rest = self.text[found.found.end() :]
        span = self.span(found, stop)
        edge = re.match(r"(?:[a-z ]*?)(?:at|on) (?:(?:beg|end|each) )*(?:beg|end|start)? ?(?:and end )?(?:of )?(?P<n># )?(?:row|rnd) ", rest)
        if edge and re.search(r"\b(?:beg|end|start|each)\b", edge.group()):
            if "end" in edge.group() and "beg" not in edge.group():
                steps: tuple[Step, ...] = (Fill(None, END, span), On(num, "cast on", span))
            else:
                steps = (On(num, "cast on", span), Fill(None, END, span))
            rows = ONE
            if edge["n"]:
                rows = self.sentence.nums[self.text.count("#", 0, found.found.end() + edge.start("n"))]
            raw = self.r.plain[self.st.start : self.st.end]
            if not edge["n"] and not re.search(r"\b(?:next|following|foll)\b", raw, re.I):
                self.r.push(Loose((On(num, "cast on", span),), (), span))
            else:
                self.r.push(Plain(rows, None, None, "", span, self._round(), steps))
            return self.sentence.word_at(found.found.end() + edge.end())
        b = self.r._need(self.st.span)
        running = self.r.running()
        if running and self._began_here(b):
            self.r.push(Loose((On(num, "cast on", span),), (), span))
            return stop
        join = bool(re.search(r"\bjoin ", self.text[found.found.start() :])) and not re.search(
            r"\b(?:do not|don't|not) join", self.text
        )
        self.r.push(CastOn(num, "cast on", span, join))
        if join:
            b.in_round = True
        elif not running:
            worked = self.r._worked()
            b.in_round = worked == "round" or self.r.round_ahead(self.st.end) is True or (self.r.start_round and not re.search(r"back and forth|flat", self.text))
        return stop

    def _began_here(self, b: _Builder) -> bool:
        return any(isinstance(i, Row | Again | Plain | Ease) for i in b.flow) or bool(b.group)

    def _round(self) -> bool:
        return self.r.current.in_round if self.r.current is not None else self.r.start_round

    def pick_up(self, place: int) -> int | None:
        found = self.sentence.match(s.PICK_UP, place)
        if found is None:
            return None
        num = found.num("n")
        assert num is not None
        stop = self.after(found)
        span = self.span(found, stop)
        head = found.found.group()
        if re.search(r"\b(?:k|p) (?:across|#)", head.split("pick")[0]):
            return None
        running = self.r.running()
        b = self.r._need(self.st.span)
        last = b.flow[-1] if b.flow else None
        goes_on = isinstance(last, CastOn) or (
            isinstance(last, Loose) and any(isinstance(x, On | Take) for x in last.steps)
        )
        if (running and goes_on) or (running and (self._began_here(b) or not re.search(r"neck|band|edge|armhole|border|collar|cuff|sleeve|edging", (b.name + self.text).lower()))) or any(isinstance(i, CastOn) for i in b.flow[-1:]) or re.search(r"\b(?:place|return|sl|k|work)\b.*\b(?:held|holder|waste)\b", self.text[: found.found.start()]):
            self.r.push(Loose((On(num, "pick up", span),), (), span))
        else:
            self.r.push(CastOn(num, "pick up", span, bool(re.search(r"\bjoin ", self.text))))
        more = re.match(r"[^#.;]*?(?:,|and) (?:(?:pick up|k|and|then|work|up) )*(?P<n>#) (?:st )?(?=(?:along|from|across|around|at|down|up|for|into|over))", self.text[found.found.end() :])
        at = found.found.end()
        while more:
            extra = self.sentence.nums[self.text.count("#", 0, at + more.start("n"))]
            self.r.push(Loose((On(extra, "pick up", extra.span),), (), extra.span))
            at += more.end()
            more = re.match(r"[^#.;]*?(?:,|and) (?:(?:pick up|k|and|then|work|up) )*(?P<n>#) (?:st )?(?=(?:along|from|across|around|at|down|up|for|into|over))", self.text[at:])
        return max(stop, self.sentence.word_at(at))

    def move_start(self, place: int) -> int | None:
        here = self.sentence.match(
            s.shape(s.LEAD + r"(?:k|p|work|sl) (?P<n>#) (?:[^#;.]*?(?:,|;) )?[^#;.]*?(?:rnd (?:now )?(?:beg|start)s? here|(?:is )?(?:new )?(?:beg|start) rnd|new beg|beg rnd|bor)"),
            place,
        )
        if here is not None and here.num("n") is not None and "rep" not in here.found.group():
            moved = here.num("n")
            assert moved is not None
            self.r.push(Loose((Shift(moved, self.st.span),), (), self.st.span))
            return len(self.sentence.words)
        found = self.sentence.match(s.MOVE_START, place)
        if found is None or not re.search(r"\b(?:rnd|bor|start|beg)\b", found.found.group()):
            return None
        num = found.num("n") or ONE
        stop = self.after(found)
        back = bool(re.search(r"\bright\b|\brh\b|\bback\b", found.found.group()))
        values = tuple(-v if back else v for v in num.values)
        self.r.push(Loose((Shift(Num(values, num.span), self.span(found, stop)),), (), self.span(found, stop)))
        return stop

    def beginnings(self, place: int) -> int | None:
        """ "Bind off 5 sts at beg of next 2 rows"."""
        pattern = s.shape(
            s.LEAD
            + r"(?:(?:cont|keep|patt|correct|,|into|shape|armhole|neck|shoulder|as|set|rs|ws|facing|with|also) )*(?P<verb>bo|co|dec|inc) (?P<n>#) (?:st )?(?:(?:into|patt|loosely|rib|as|set) )*(?:at|on) (?:(?:armhole|neck|side|each|sleeve|shoulder|centre|raglan|front) )*(?:beg|start|end|edge) (?:of )?(?P<rows># )?(?:(?:and|every|foll|alt|rs|ws|p|k|at) )*(?:row|rnd) "
        )
        found = self.sentence.match(pattern, place)
        if found is None or "each" in found.found.group().split("bo")[0]:
            return None
        num = found.num("n")
        assert num is not None
        verb = found.group("verb")
        if verb in ("dec", "inc") and not found.has("rows"):
            return None
        raw = found.found.group()
        if re.search(r"\band (?:every|foll)|\bevery\b", raw):
            return None
        alternate = re.search(r"\band (?:at beg )?(?P<more># )?alt (?:row|rnd)", raw)
        rows = ONE
        if found.has("rows"):
            rows = self.sentence.nums[self.text.count("#", 0, found.found.start("rows"))]
        stop = self.after(found)
        _times, _more, after_times = self.times(stop)
        span = self.span(found, max(stop, after_times))
        if verb == "co":
            return None
        if verb == "bo":
            steps: tuple[Step, ...] = (Off(num, span), Fill(None, END, span))
        else:
            sign = 1 if verb == "inc" else -1
            from chartc.pattern import Change

            steps = (Change(Num(tuple(sign * v for v in num.values), num.span), span),)
        self.r.push(Plain(rows, None, None, "", span, self._round(), steps))
        if alternate:
            # "at beg of next and foll 2 alt rows": with a row between
            again = ONE
            if alternate["more"]:
                again = self.sentence.nums[self.text.count("#", 0, found.found.start() + alternate.start("more"))]
            between = Plain(ONE, None, None, "", span, self._round(), (Fill(None, END, span),))
            self.r.push(Again((between, Plain(ONE, None, None, "", span, self._round(), steps)), again, None, span, "", True))
        at = found.found.end()
        chain = re.compile(r"(?:,|;|and|then|,? and then) (?:(?:and|then|bo|at|foll) )*(?P<n>#) (?:st )?(?:at |on )(?:(?:beg|start|foll|each|end) )+(?:of )?(?P<rows># )?(?:foll |alt )*(?:row|rnd) ")
        more = chain.match(self.text, at)
        while more:
            n = self.sentence.nums[self.text.count("#", 0, more.start("n"))]
            count = ONE
            if more["rows"]:
                count = self.sentence.nums[self.text.count("#", 0, more.start("rows"))]
            if verb == "bo":
                chained: tuple[Step, ...] = (Off(n, n.span), Fill(None, END, n.span))
                self.r.push(Plain(count, None, None, "", n.span, self._round(), chained))
            at = more.end()
            more = chain.match(self.text, at)
        return max(self.sentence.word_at(at), after_times)

    # ------------------------------------------------------------------ shaping over rows
    def _rhythm_clause(self, place: int) -> tuple[Num, int, bool] | None:
        """ "every foll 4th row", "every other rnd": (every, word after, next row as well)."""
        found = self.sentence.match(s.EVERY, place)
        if found is None:
            return None
        stop = self.after(found)
        num = found.num("n")
        if num is not None:
            return num, stop, False
        if found.has("other"):
            return Num((2,), self.sentence.span_of(place, stop)), stop, False
        side = found.group("side")
        every = 2 if side and not self._round() else 1
        return Num((every,), self.sentence.span_of(place, stop)), stop, False

    def _eases(self, by: Num, place: int, start: Span, shaping: Row | None) -> int | None:
        """The rhythm after a change: where it is first made, how often, until when."""
        text = self.text
        at = self.sentence.at[place] if place < len(self.sentence.at) else len(text)
        first = 1
        opening = re.compile(
            r"(?:,? ?)(?:(?:on|of|at|in|into|as|row|rnd|needle) )*(?P<first># (?:st|nd|rd|th) )?(?:(?:rs|ws|row|rnd) )*(?P<and>(?:and|then|,) (?:(?:on|then|at|into) )*)?(?=(?:every|each|foll|# (?:st|nd|rd|th)|# (?:alt|other)|alt|other|(?:#)? ?(?:row|rnd)))"
        ).match(text, at)
        started = False
        if opening and opening["first"]:
            first = self.sentence.nums[text.count("#", 0, opening.start("first"))].values[0]
            started = True
            if not opening["and"]:
                nothing = re.compile(r"(?:and|then|,)? ?").match(text, opening.end())
                del nothing
        position = place
        if opening:
            position = self.sentence.word_at(opening.end())
        had_and = bool(opening and opening["and"])
        next_rows = re.compile(r"(?:(?:on|of|at|in|into|every) )*(?P<n># )?(?:row|rnd) ").match(text, at)
        if next_rows and not had_and and not (opening and opening["first"]):
            # "at each end of next 4 rows", "on next row"
            count = ONE
            if next_rows["n"]:
                count = self.sentence.nums[text.count("#", 0, next_rows.start("n"))]
            word = re.search(r"\bevery (?:row|rnd)", next_rows.group())
            stop = self.sentence.word_at(next_rows.end())
            if not word:
                following = self.sentence.match(s.shape(r"(?:,? ?)(?:and|then) (?:(?:on|then|at) )*(?=(?:every|each|foll|#|alt|other))"), stop)
                if following is not None and not next_rows["n"]:
                    position, had_and = self.after(following), True
                else:
                    times, more, after = self.times(stop)
                    del more
                    self._ease(by, times or count, ONE, start, 1, None, shaping)
                    return self._chain(by, after if times else stop, start, shaping)
        counted = re.compile(r"(?P<n>#) (?:foll )?(?:(?P<alt>alt|other) |(?P<every>#) (?:st|nd|rd|th) )(?:row|rnd) ").match(
            text, self.sentence.at[position] if position < len(self.sentence.at) else len(text)
        )
        if counted:
            # "and on foll 6 alt rows"
            num = self.sentence.nums[text.count("#", 0, counted.start("n"))]
            every = Num((2,))
            if counted["every"]:
                every = self.sentence.nums[text.count("#", 0, counted.start("every"))]
            self._ease(by, plus(num, 1) if had_and else num, every, start, first if started or had_and else every.values[0], None, shaping)
            return self._chain(by, self.sentence.word_at(counted.end()), start, shaping)
        rhythm = self._rhythm_clause(position)
        if rhythm is None:
            if started:
                self._ease(by, ONE, ONE, start, first, None, shaping)
                return position
            return None
        every, stop, _ = rhythm
        times, more, after = self.times(stop)
        until: Until | None = None
        if times is None:
            until, after = self.until(stop)
            if until is None:
                counted2 = self.sentence.match(s.shape(r"(?:,? ?)to (?P<n>#) st "), stop)
                if counted2 is not None:
                    num3 = counted2.num("n")
                    assert num3 is not None
                    after = self.after(counted2)
                    until = Until(UntilKind.COUNT, num3, self.sentence.span_of(stop, after))
        begin = first if (had_and or started) else every.values[0]
        if started and not had_and:
            begin = first
        if times is None and until is None:
            self._ease(by, Num((2,)) if had_and else ONE, every, start, begin, None, shaping)
            return stop
        total: Num | None = times
        if times is not None and more and had_and:
            total = plus(times, 1)
        self._ease(by, total, every, start, begin, until, shaping)
        return self._chain(by, after, start, shaping)

    def _chain(self, by: Num, place: int, start: Span, shaping: Row | None) -> int:
        """ "then every 6th row 3 times"."""
        while True:
            joined = self.sentence.match(s.shape(r"(?:,|;|and|then|,? then|,? and then) (?:(?:and|then|on|foll|dec|inc|work|rep|st|at each end|at both end|at neck edge|at armhole edge|at each side|each end|each side|of|at|same|edge|end) )*(?=(?:every|each (?!end|side)|foll|alt|other|# (?:st|nd|rd|th)|# (?:alt|foll)))"), place)
            if joined is None:
                return place
            after = self.after(joined)
            counted = self.sentence.match(s.shape(r"(?P<n>#) (?:foll )?(?:(?P<alt>alt|other) |(?P<every>#) (?:st|nd|rd|th) )(?:row|rnd) "), after)
            if counted is not None:
                num = counted.num("n")
                every = counted.num("every") or Num((2,))
                self._ease(by, num, every, start, every.values[0], None, shaping)
                place = self.after(counted)
                continue
            rhythm = self._rhythm_clause(after)
            if rhythm is None:
                return place
            every, stop, _ = rhythm
            times, _more, end = self.times(stop)
            until: Until | None = None
            if times is None:
                until, end = self.until(stop)
            if times is None and until is None:
                return place
            self._ease(by, times, every, start, every.values[0], until, shaping)
            place = end

    def _ease(
        self, by: Num, times: Num | None, every: Num, span: Span, first: int, until: Until | None, shaping: Row | None
    ) -> None:
        whole = Span(span.start, max(span.end, self.st.end))
        self.r.push(Ease(by, times, every, whole, first, until, shaping))

    def shaping(self, place: int) -> int | None:
        """ "Dec 1 st at each end of next and every foll 4th row 6 times"."""
        found = self.sentence.match(s.CHANGE, place)
        if found is None:
            return None
        num = found.num("n") or ONE
        where = found.group("where")
        down = found.group("verb") == "dec"
        factor = 1
        if re.search(r"\b(?:each|both) (?:end|side|edge|armhole edge|neck edge|armhole|front edge|side edge)|\beach end|\bbeg and end|\beach side|\beach edge|\bboth (?:end|side)", where):
            factor = 2
        if re.search(r"\beach side m\b|\beach side of m|\bevery m\b|\beach m\b", where):
            return None
        values = tuple((-v if down else v) * factor for v in num.values)
        by = Num(values, num.span)
        stop = self.after(found)
        if where.endswith("and") and self.sentence.words[stop - 1].text == "and":
            stop -= 1  # "at each end of next and ...": the rhythm begins with it
        span = self.span(found, stop)
        done = self._eases(by, stop, span, None)
        if done is not None:
            return self._state_after(done)
        if not found.has("n"):
            return None
        if re.search(r"\bevenly|\bacross|\baround|\beach|\bboth", where) or re.match(r"(?:(?:row|rnd|to end) )", self.text[found.found.end() :]):
            self._ease(by, ONE, ONE, span, 1, None, None)
            return self._state_after(stop)
        return None

    def _state_after(self, place: int) -> int:
        return place

    def ease_named(self, place: int) -> int | None:
        """ "Rep inc rnd every 4th rnd 6 times more", "Work dec row every RS row 5 times"."""
        found = self.sentence.match(s.AGAIN_NAMED, place)
        if found is None:
            return None
        name = found.group("name")
        if re.search(r"\b(?:last|previous|patt|these|first|to|from|until|of|for|more|time|into|over|every|each|even|straight|plain|garter|both|st|lace)\b", name) and not re.search(r"\b(?:inc|dec|set-up|set|eyelet)\b", name):
            return None
        b = self.r._need(self.st.span)
        row = self.r._named_row(name, b)
        number = found.num("n")
        stop = self.after(found)
        if row is None:
            return None
        if number is not None:
            numbered = self.r._find_row(number.values[0], b)
            row = numbered or row
        span = self.span(found, stop)
        rhythm = self._rhythm_clause(stop)
        if rhythm is None:
            times, more, after = self.times(stop)
            until = None
            if times is None:
                until, after = self.until(stop)
            if times is None and until is None:
                rhythm2 = self.sentence.match(s.shape(r"(?:on )?(?:foll )?(?P<n>#) (?:foll )?(?:alt |rs |ws )?(?:row|rnd) "), stop)
                if rhythm2 is not None:
                    self._ease(ONE, rhythm2.num("n"), Num((2,)), span, 2, None, row)
                    return self.after(rhythm2)
                self.r.push(replace(row))
                return stop
            self.r.push(Again((row,), times, until, self.span(found, after), row.label, more))
            return after
        every, after, _ = rhythm
        times, more, end = self.times(after)
        until = None
        if times is None:
            until, end = self.until(after)
        if times is None and until is None:
            times2, more, end2 = self.times(stop)
            if times2 is not None:
                times, end = times2, end2
            else:
                end = after
        self._ease(ONE, times or (None if until else ONE), every, span, every.values[0], until, row)
        position = end
        while True:
            joined = self.sentence.match(s.shape(r"(?:,|;|and|then|,? then) (?:(?:and|then|on|at) )*(?=(?:every|each|foll|alt|other|# (?:st|nd|rd|th)))"), position)
            if joined is None:
                return position
            rhythm = self._rhythm_clause(self.after(joined))
            if rhythm is None:
                return position
            every, after, _ = rhythm
            times, more, end = self.times(after)
            until = None
            if times is None:
                until, end = self.until(after)
            if times is None and until is None:
                return position
            self._ease(ONE, times, every, span, every.values[0], until, row)
            position = end

    # ------------------------------------------------------------------ repetition
    def again(self, place: int) -> int | None:
        b = self.r._need(self.st.span) if self.r.current is None else self.r.current
        assert b is not None
        form = self.sentence.match(s.FORM, place)
        if form is not None:
            return len(self.sentence.words)
        rows: list[Instruction] | None = None
        first: int | None = None
        last: int | None = None
        lettered = self.sentence.match(
            s.shape(s.LEAD + r"(?:(?:rep|work|then|cont) )*(?:row|rnd) (?P<x>[a-j])(?: (?:and|&|\+|-|to|,) (?:row |rnd )?(?P<y>[a-j]))?(?: (?=[^a-z]|once|twice|until|for|more|every)|$)"), place
        )
        if lettered is not None:
            names = [lettered.group("x").lower()]
            if lettered.has("y"):
                names = [chr(c) for c in range(ord(names[0]), ord(lettered.group("y").lower()) + 1)] or [names[0], lettered.group("y")]
            block = [row for row in (self.r._named_row(f"letter {n}", b) for n in names) if row is not None]
            if block:
                return self._again_tail(b, None, None, list(block), place, self.after(lettered), False, True)
        found: Match | None = None
        verb_work = False
        named = self.sentence.match(s.NAMED_PATT, place)
        for pattern in (s.AGAIN_RANGE, s.AGAIN_ORDINAL, s.AGAIN_BARE_RANGE):
            found = self.sentence.match(pattern, place)
            if found is not None:
                break
        if found is not None:
            a, z = found.num("a"), found.num("b")
            assert a is not None and z is not None
            first, last = a.values[0], z.values[0]
            if found.found.groupdict().get("more"):
                inner = found.group("more").count("#")
                base = self.text.count("#", 0, found.found.start("more"))
                last = max(last, *(self.r_num(base + i) for i in range(inner)))
            verb_work = bool(re.match(s.LEAD + r"(?:work|k|cont) ", found.found.group()))
        else:
            found = self.sentence.match(s.AGAIN_FROM, place)
            if found is not None:
                num = found.num("a") or found.num("a2")
                first = num.values[0] if num is not None else (min({*b.rows, *b.group}, default=1))
                last = max({*b.rows, *b.group}, default=first)
                stop = self.after(found)
                upto = self.sentence.match(s.shape(rf"(?:(?:to|-|through|and|up) )+(?:(?:row|rnd) )?(?P<b>#) (?:{s.TH})?(?:row |rnd )?"), stop)
                if upto is not None:
                    z = upto.num("b")
                    assert z is not None
                    last = z.values[0]
                    found = Match(re.match(re.escape(self.text[found.found.start() : upto.found.end()]), self.text[found.found.start() :]) or found.found, found.nums, self.text)
                    return self._again_tail(b, first, last, None, place, self.after(upto), False, verb_work)
            else:
                found = self.sentence.match(s.AGAIN_ONE, place)
                if found is not None:
                    num = found.num("a") or found.num("a2")
                    assert num is not None
                    first = last = num.values[0]
                    verb_work = bool(re.match(s.LEAD + r"(?:work|k) ", found.found.group()))
        if found is not None and first is not None and last is not None:
            stop = self.after(found)
            owner = b
            if named is not None:
                other = self.r.section_named(named.group("name") + " " + named.group("end"))
                if other is b:
                    stop = max(stop, self.after(named))
                if other is not None and other is not b:
                    owner = other
                    if other not in self.r.called:
                        self.r.called.append(other)
                    stop = max(stop, self.after(named))
            part = self.sentence.match(_OVER_PART, stop) if owner is not b else None
            if part is not None:
                rows = self._over_part(owner, first, last, part, self.sentence.span_of(place, stop))
                if rows:
                    return self._again_tail(owner, first, last, rows, place, self.after(part), True, verb_work)
            return self._again_tail(owner, first, last, None, place, stop, owner is not b, verb_work)
        found = self.sentence.match(s.AGAIN_LAST, place)
        if found is not None:
            verb = found.found.group().split()[0]
            num = found.num("n")
            words = found.found.group()
            if verb in ("work", "k", "then", "now") and not re.search(r"\b(?:last|previous|rep)\b", words):
                return None
            if num is None and not re.search(r"\b(?:last|previous|rep)\b", words):
                return None
            count = num.values[0] if num is not None else 1
            if "two" in words.split():
                count = 2
            stop = self.after(found)
            if num is None and re.search(r"\brep row|\brep rnd", words) and not re.search(r"last|previous", words):
                count = 1
            if num is not None and not re.search(r"\blast|previous", words) and b.last_numbers:
                rows_here = sorted({*b.rows, *b.group})
                if len(rows_here) >= count and rows_here and rows_here[-1] - rows_here[0] + 1 == count and not self._later_than_rows(b):
                    return self._again_tail(b, rows_here[0], rows_here[-1], None, place, stop, False, False)
            if num is not None:
                items = self._last_items(b, num)
                if items is not None:
                    return self._again_tail(b, None, None, items, place, stop, False, False)
            block = list(self.r._last_rows(b, count))
            if len(block) < count and count > 0:
                self.r.context.remark(
                    "row-not-there", self.span(found, stop), f"the last {count} rows are to be repeated, but only {len(block)} are written here"
                )
            if not block:
                return stop
            rows = list(block)
            return self._again_tail(b, None, None, rows, place, stop, False, False)
        found = self.sentence.match(s.AGAIN_THESE, place)
        if found is not None:
            rows_here = sorted({*b.rows, *b.group})
            stop = self.after(found)
            if rows_here:
                return self._again_tail(b, rows_here[0], rows_here[-1], None, place, stop, False, False)
            block = list(self.r._last_rows(b, 2))
            if block:
                return self._again_tail(b, None, None, list(block), place, stop, False, False)
            return stop
        return None

    def _last_items(self, b: _Builder, num: Num) -> list[Instruction] | None:
        """The instructions at the end that make just so many rows in every size."""
        self.r._flush(b)
        sizes = len(self.r.sizes)
        done = [0] * sizes
        want = [num.at(i) for i in range(sizes)]
        for at in range(len(b.flow) - 1, -1, -1):
            item = b.flow[at]
            if isinstance(item, Row):
                done = [n + 1 for n in done]
            elif isinstance(item, Plain) and item.rows is not None:
                done = [n + item.rows.at(i) for i, n in enumerate(done)]
            elif isinstance(item, Loose) and not item.steps:
                continue
            else:
                return None
            if done == want:
                return list(b.flow[at:])
            if any(n > w for n, w in zip(done, want, strict=True)):
                return None
        return None

    def _over_part(
        self, owner: _Builder, first: int, last: int, part: Match, span: Span
    ) -> list[Instruction]:
        """Rows of another pattern worked over so many stitches ("work rows 1-8 of shell patt
        over centre 22 sts"), the stitches beside them as set."""
        self.r._flush(owner)
        over = part.num("n")
        assert over is not None
        edge = _EACH_EDGE.search(self.text)
        beside: tuple[Step, ...] = ()
        if edge:
            count = self.sentence.nums[self.text.count("#", 0, edge.start("n"))]
            beside = (Fill(None, Target(Reach.OVER, count), span),)
        rows = self.r._block(first, last, owner, span) or []
        return [
            replace(
                row,
                steps=(*beside, *fitted(row.steps, over), Fill(None, END, span)),
                span=span, body=span, stated=(),
            )
            if isinstance(row, Row)
            else row
            for row in rows
        ]  # fmt: skip

    def _later_than_rows(self, b: _Builder) -> bool:
        """Whether unnumbered rows were worked after the numbered ones."""
        for item in reversed(b.flow):
            if isinstance(item, Row):
                return item.number is None
            if isinstance(item, Plain | Ease):
                return True
        return False

    def r_num(self, index: int) -> int:
        return self.sentence.nums[index].values[0]

    def _again_tail(
        self,
        b: _Builder,
        first: int | None,
        last: int | None,
        rows: list[Instruction] | None,
        place: int,
        stop: int,
        other: bool,
        verb_work: bool,
    ) -> int:
        """Times, until, ending: what follows "rep rows 1-4"."""
        r = self.r
        here = r.current
        assert here is not None
        if here is not b:
            r._flush(b)
        r._flush(here)
        skip = self.sentence.match(s.shape(r"(?:(?:of|from|for) (?:[a-z'-]+ ){1,4}?(?=(?:#|once|twice|until|another|x) ))|(?:(?:of|into|for|above|as|set|est|inclusive|patt|chart|only|now|lace|st|all|from|throughout|thus|these|,|on|over # st|again(?= (?:until|#|for))) )+"), stop)
        probe = stop
        if skip is not None:
            probe = self.after(skip)
        times, more, after = self.times(stop)
        if times is None and probe != stop:
            times, more, after = self.times(probe)
        until: Until | None = None
        if times is None:
            until, after = self.until(stop)
            if until is None and probe != stop:
                until, after = self.until(probe)
            if until is None:
                total_rows = self.sentence.match(s.UNTIL_ROWS, probe)
                if total_rows is not None:
                    num = total_rows.num("n")
                    assert num is not None
                    after = self.after(total_rows)
                    block = rows if rows is not None else r._block(first or 1, last or 1, b, self.sentence.span_of(place, stop)) or []
                    size = max(1, len(block))
                    times = Num(tuple(v // size for v in num.values), num.span)
                    more = True
                else:
                    after = stop
        span = self.sentence.span_of(place, max(after, stop))
        if rows is None:
            assert first is not None and last is not None
            rows = r._block(first, last, b, self.sentence.span_of(place, stop))
            if rows is None:
                return max(after, stop)
        rhythm = self._rhythm_clause(stop) if times is None and until is None else None
        if rhythm is not None and len(rows) == 1 and isinstance(rows[0], Row):
            every, after2, _ = rhythm
            times2, _more2, end2 = self.times(after2)
            until2: Until | None = None
            if times2 is None:
                until2, end2 = self.until(after2)
            if times2 is not None or until2 is not None:
                self._ease(ONE, times2, every, span, every.values[0], until2, rows[0])
                return end2
        worked = self._just_worked(here, rows) and not other
        last_rows = 0
        end_row = self.sentence.search(s.END_ROW, min(after, len(self.sentence.words)))
        after_number = None
        if end_row is not None and until is None:
            num = end_row.num("n") or end_row.num("n2")
            if num is not None:
                after_number = num.values[0]
                after = max(after, self.after(end_row))
        label = self.sentence.raw(place, stop)
        if times is not None:
            count = times
            if not more and worked:
                count = plus(times, -1)
            if after_number is not None and first is not None and last is not None and first <= after_number < last:
                count = plus(count, 1)
                last_rows = after_number - first + 1
            r.push(Again(tuple(rows), count, None, span, label, more, last_rows, first, last))
        elif until is not None:
            r.push(Again(tuple(rows), None, until, span, label, False, 0, first, last))
        else:
            tail = self.text[self.sentence.at[stop] :] if stop < len(self.sentence.at) else ""
            forever = re.match(r"(?:(?:for|to form|as|throughout) (?:patt|lace|st|desired|long|required|set|forms)|for as long|as (?:needed|desired|required|many)|throughout)", tail)
            if forever or (self.sentence.words[place].text == "rep" and worked and len(rows) > 1 and after_number is None and not verb_work):
                if re.match(r"for as long|as (?:needed|desired|required|many|long)", tail) or after_number is not None or forever:
                    pass
                unending = Until(UntilKind.LENGTH, Num((0,)), span, from_here=False, after_number=after_number)
                r.push(Again(tuple(rows), None, unending, span, label, False, 0, first, last))
                return len(self.sentence.words) if forever else max(after, stop)
            if after_number is not None and first is not None and last is not None and first <= after_number < last:
                r.push(Again(tuple(rows), ONE, None, span, label, True, after_number - first + 1, first, last))
            else:
                r.push(Again(tuple(rows), ONE, None, span, label, True, 0, first, last))
        chained = self.sentence.match(s.shape(r"(?:,|;|then|and|,? then|,? and then|ending with) (?:(?:then|and|rep|work|k|end with) )*(?P<word>row|rnd) (?P<a>#) (?:(?:(?:-|to|through|and|&|,) )+(?:row |rnd )?(?P<b>#) )?(?:only )?(?P<what>once more|once|again|twice|# (?:more )?time)?"), after)
        if chained is not None and first is not None:
            a = chained.num("a")
            z = chained.num("b") or a
            assert a is not None and z is not None
            run = r._block(a.values[0], z.values[0], b, self.span(chained, self.after(chained)))
            number = Num((1,))
            what = chained.group("what")
            if what.startswith("twice"):
                number = Num((2,))
            elif what.startswith("#"):
                number = self.sentence.nums[self.text.count("#", 0, chained.found.start("what"))]
            if run:
                r.push(Again(tuple(run), number, None, self.span(chained, self.after(chained)), "", True, 0, a.values[0], z.values[0]))
            after = self.after(chained)
        return max(after, stop)

    def _just_worked(self, b: _Builder, rows: list[Instruction]) -> bool:
        """Whether these rows are what was worked last, as written."""
        if not rows:
            return False
        tail = [i for i in b.flow if not isinstance(i, Loose | Join)]
        names = [r.number for r in rows if isinstance(r, Row)]
        if len(tail) >= len(rows) and all(
            isinstance(t, Row) and isinstance(w, Row) and t.body == w.body and t.number == w.number
            for t, w in zip(tail[-len(rows) :], rows, strict=True)
        ):
            return True
        return bool(tail) and isinstance(tail[-1], Row) and bool(names) and tail[-1].number == names[-1] and names[-1] is not None and all(
            any(isinstance(t, Row) and t.number == n for t in tail) for n in names
        )

    # ------------------------------------------------------------------ plain rows
    def plain_rows(self, place: int) -> int | None:
        text = self.text
        counted = self.sentence.match(s.PLAIN_COUNT, place)
        if counted is not None and not re.search(r"\b(?:until|rep|to|from|end|inc|dec|co|bo|every|each)\b", counted.group("mid")):
            num = counted.num("n")
            assert num is not None
            if counted.group("more") in ("more", "further") and not counted.group("mid"):
                pass
            stop = self.sentence.word_at(counted.found.start("tail"))
            words = f"{counted.group('mid')} {counted.group('more')} {counted.group('tail')}"
            words = re.split(r"\b(?:then|until|end|and (?:then|at|inc|dec)|,|;)", words)[0]
            verb = counted.group("verb")
            if counted.group("word") == "ridge":
                num = Num(tuple(2 * v for v in num.values), num.span)
            self._plain(verb, num, None, words, counted, stop)
            tail = re.match(r"[a-z '/-]*", counted.group("tail"))
            cut = self.sentence.word_at(counted.found.start("tail") + (len(tail.group()) if tail else 0))
            chained = re.compile(r"(?:,|and|then|,? then|;) (?:(?:then|and|work) )*(?P<verb>k |p |work )?(?P<n>#) (?:more |foll )?(?P<word>row|rnd)? ?(?P<words>[a-z '/.-]*)").match(text, self.sentence.at[cut] if cut < len(self.sentence.at) else len(text))
            while chained and (chained["word"] or self._names_rhythm(chained["words"])):
                n = self.sentence.nums[text.count("#", 0, chained.start("n"))]
                cut = self.sentence.word_at(chained.end())
                self._plain((chained["verb"] or "work").strip(), n, None, chained["words"], counted, cut)
                chained = re.compile(r"(?:,|and|then|,? then|;) (?:(?:then|and|work) )*(?P<verb>k |p |work )?(?P<n>#) (?:more |foll )?(?P<word>row|rnd)? ?(?P<words>[a-z '/.-]*)").match(text, self.sentence.at[cut] if cut < len(self.sentence.at) else len(text))
            side = self.sentence.match(s.END_SIDE, cut)
            return max(cut, self.after(side)) if side is not None else cut
        rib = self.sentence.match(s.PLAIN_RIB, place)
        if rib is not None and re.search(r"\b(?:k|p|rib|ribbing|x|patt|st|moss|garter|seed|foll)\b", rib.group("mid")) and not re.search(r"\b(?:until|rep|inc|dec|every|row|rnd)\b", rib.group("mid")) and not re.match(s.LEAD + r"(?:rep) ", rib.found.group()):
            num = rib.num("n")
            assert num is not None
            self._plain("work", num, None, rib.group("verb") + " " + rib.group("mid"), rib, self.after(rib))
            return self.after(rib)
        until = self.sentence.match(s.PLAIN_UNTIL, place)
        start = place
        if until is not None or (re.match(s.LEAD + r"(?:work|cont|k|p|rib|patt|keep|change|beg|proceed) ", text[self.sentence.at[place] :]) and not re.match(s.LEAD + r"change ", text[self.sentence.at[place] :])):
            for probe in range(start, min(len(self.sentence.words), start + 40)):
                if self.sentence.words[probe].text in ("until", "till", "for", "to"):
                    stop_rows = self.sentence.match(s.UNTIL_ROWS, probe)
                    if stop_rows is not None:
                        num = stop_rows.num("n")
                        assert num is not None
                        self._plain_words(place, probe, num, None, self.after(stop_rows))
                        return self.after(stop_rows)
                    found, after = self.until(probe)
                    if found is not None:
                        self._plain_words(place, probe, None, found, after)
                        return after
                if self.sentence.words[probe].text in (".", ";", "inc", "dec", "rep", "bo", "co"):
                    break
        for_length = re.match(s.LEAD + r"(?:work|cont|k|p|rib|patt) ", text[self.sentence.at[place] :])
        if for_length:
            first = self.sentence.words[place]
            found2 = s.lengths(self.r.plain, first.start, self.st.end)
            if found2 is not None and not re.search(r"[.;]\s", self.r.plain[first.start : found2[1].start]):
                values, where = found2
                stop = next((i for i, w in enumerate(self.sentence.words) if w.start >= where.end), len(self.sentence.words))
                until2 = Until(UntilKind.LENGTH, Num((0,)), where, tenths_mm=values)
                until2, stop = self.ending(until2, stop)
                self._plain_words(place, stop, None, until2, stop)
                return self._rest_of_clause(stop)
        return None

    def _rest_of_clause(self, place: int) -> int:
        while place < len(self.sentence.words) and self.sentence.words[place].text not in (",", ".", ";"):
            place += 1
        return place

    def _plain_words(self, place: int, stop: int, num: Num | None, until: Until | None, after: int) -> None:
        words = self.text[self.sentence.at[place] : self.sentence.at[stop] if stop < len(self.sentence.at) else len(self.text)]
        verb = words.split()[0] if words.split() else "work"
        span = self.sentence.span_of(place, after)
        self._plain_push(verb, num, until, words, span)

    def _plain(self, verb: str, num: Num | None, until: Until | None, words: str, match: Match, stop: int) -> None:
        self._plain_push(verb, num, until, words, self.span(match, stop))

    @staticmethod
    def _names_rhythm(words: str) -> bool:
        return bool(re.search(r"\b(?:garter|gst|g st|stocking|stockinette|st st|stst|rib|ribbing|moss|seed|patt)\b", words))

    def _plain_push(self, verb: str, num: Num | None, until: Until | None, words: str, span: Span) -> None:
        b = self.r._need(self.st.span)
        in_round = b.in_round
        first = "p" if re.search(r"\b(?:beg|start)\b[a-z ]*\bp (?:row|rnd)?", words) else ""
        rhythm = self.r.rhythm(words, in_round, first)
        vocabulary = self.r.context.vocabulary
        if rhythm is not None:
            self.r.push(Plain(num, until, None, words.strip(), span, in_round, (), tuple(rhythm)))
            return
        rib = self._rib(words, span, in_round)
        if rib is not None:
            self.r.push(Plain(num, until, None, words.strip(), span, in_round, rib))
            return
        if verb in ("k", "p") and not re.search(r"\b(?:patt|set|est|rib|lace|chart)\b", words):
            stitch = vocabulary.get(verb)
            self.r.push(Plain(num, until, stitch, words.strip(), span, in_round))
            return
        self.r.push(Plain(num, until, None, words.strip(), span, in_round, (Fill(None, END, span),)))

    def _rib(self, words: str, span: Span, in_round: bool) -> tuple[Step, ...] | None:
        """A rib worked in the round must close: its stitches are a repeat to the end."""
        if not in_round:
            return None
        raw = self.r.plain[span.start : span.end].lower()
        match = re.search(r"\bk\s?(\d+)\s*,?\s*p\s?(\d+)\s*(?:rib|ribbing)?|(?<![\d(])(\d+)\s?x\s?(\d+)\s*rib", raw)
        vocabulary = self.r.context.vocabulary
        if match is None or not re.search(r"\brib", raw):
            if re.search(r"\b(?:single|1x1|1 x 1) rib", raw):
                a = c = 1
            elif re.search(r"\bdouble rib", raw):
                a = c = 2
            else:
                return None
        else:
            a, c = (int(g) for g in match.groups() if g is not None)
        if not 0 < a < 1000 or not 0 < c < 1000:
            return None
        body = (
            Work(vocabulary.get("k"), Num((a,)), span),
            Work(vocabulary.get("p"), Num((c,)), span),
        )
        return (Repeat(body, None, END, span),)

    # ------------------------------------------------------------------ holders, edges, ends
    def hold(self, place: int) -> int | None:
        two = self.sentence.match(
            s.shape(s.LEAD + r"(?:place|sl) (?:first |last |next )?(?P<n># )(?:st )?(?:and|,) (?:then )?(?:first |last |next )?(?P<m># )(?:st )?(?:on|onto|to) (?:separate |two |# |st )*(?:holder|hold|waste yarn)"), place
        )
        if two is not None:
            for group in ("n", "m"):
                part = two.num(group)
                assert part is not None
                self.r.push(Loose((Hold(part, None, "", part.span),), (), part.span))
            return self.after(two)
        each = self.sentence.match(
            s.shape(s.LEAD + r"(?:place|sl) (?P<n>#) (?:st )?(?:at |on )?(?:each|either) side [^#;.]*?(?:on|onto|to) (?:separate |st )*(?:holder|hold|waste yarn|waste|scrap)"), place
        )
        if each is not None:
            side = each.num("n")
            assert side is not None
            both = Num(tuple(2 * v for v in side.values), side.span)
            self.r.push(Loose((Hold(both, None, "", side.span),), (), side.span))
            return self.after(each)
        found = self.sentence.match(s.HOLD_SHAPE, place)
        if found is None:
            return None
        stop = self.after(found)
        span = self.span(found, stop)
        num = found.num("n")
        name = ""
        here = self.r.current.flow[-1] if self.r.current is not None and self.r.current.flow else None
        if (
            isinstance(here, Loose | Join)
            and re.search(r"\brem\b|\bother\b|\binstep\b", found.found.group())
            and self.r.current is not None
            and any(
                isinstance(i, Loose) and any(isinstance(x, Keep) for x in i.steps)
                for i in self.r.current.flow[-3:]
            )
        ):
            return stop  # those that are not worked on wait already
        if num is None:
            if re.search(r"\bm\b|between", found.group("mid2")):
                self.r.push(Loose((Hold(None, Target(Reach.MARKER), name, span),), (), span))
            else:
                self.r.push(Finish("hold", span))
            return stop
        rem = re.search(r"\brem\b", found.group("mid") + " " + found.group("mid2"))
        if rem and not re.search(r"\b(?:instep|sleeve|thumb|body|other|heel)\b", self.text):
            self.r.push(Finish("hold", span, num))
        else:
            self.r.push(Loose((Hold(num, None, name, span),), (), span))
        return stop

    def take_back(self, place: int) -> int | None:
        found = self.sentence.match(s.TAKE_SHAPE, place)
        if found is None:
            return None
        raw = found.found.group()
        if self.r.running() and not re.search(
            r"\b(?:held|holder|waste|hold|live|scrap|thumb|sleeve|neck|shoulder|gusset|return)\b", raw
        ):
            return None
        stop = self.after(found)
        span = self.span(found, stop)
        num = found.num("n")
        running = self.r.running()
        if not running and num is not None:
            self.r.push(CastOn(num, "held", span, bool(re.search(r"\bjoin ", self.text))))
        else:
            self.r.push(Loose((Take("", num, span, False),), (), span))
        return stop

    def bind_off(self, place: int) -> int | None:
        found = self.sentence.match(s.BIND_OFF, place)
        if found is None:
            three = self.sentence.match(s.shape(s.LEAD + r"(?:(?:with|work|using|join|shoulder|# )[^.;]*?)?(?:three|#) needle bo "), place)
            graft = self.sentence.match(s.shape(s.LEAD + r"(?:graft|fasten off|break yarn|cut yarn|break off|draw (?:yarn|tail|thread)|thread (?:yarn|tail)|kitchener|break wool|cut)\b ?"), place)
            if three is not None:
                self.r.push(Finish("bind off", self.st.span))
                return len(self.sentence.words)
            if graft is not None:
                self._closing(graft)
                return len(self.sentence.words)
            return None
        num = found.num("n")
        stop = self.sentence.word_at(found.found.start("tail"))
        span = self.span(found, max(stop, 1))
        tail = found.group("tail")
        if num is None:
            self.r.push(Finish("bind off", self.st.span))
            return len(self.sentence.words)
        rem = re.search(r"\b(?:rem|all)\b", tail) or re.search(r"\brem\b", found.found.group())
        whole = not re.search(r"\b(?:k|p|work|to end|rib|patt)\b", re.sub(r"into (?:patt|rib)|k?p?wise", "", tail))
        if rem or (re.match(r"(?:st )?(?:(?:into|patt|rib|loosely|kwise|pwise|rem|as|set) )*(?:\.|$)", tail + " ") and whole and not re.search(r"\bat\b|\bfor\b", tail)):
            self.r.push(Loose((), (Stated("total", num, num.span),), span))
            self.r.push(Finish("bind off", self.st.span, num))
            return len(self.sentence.words)
        if self._unlabelled_row():
            self.left.clear()
            return len(self.sentence.words)
        self.r.push(Loose((Off(num, span),), (), span))
        return stop

    def _closing(self, match: Match) -> None:
        number = re.search(r"(?:rem |through |last |these )+(?P<n>#) (?:rem )?st", self.text)
        stated: tuple[Stated, ...] = ()
        if number:
            num = self.sentence.nums[self.text.count("#", 0, number.start("n"))]
            stated = (Stated("total", num, num.span),)
        if stated:
            self.r.push(Loose((), stated, self.st.span))
        if re.search(r"\b(?:through|graft|fasten off|kitchener)\b", self.text):
            self.r.push(Finish("fasten off", self.st.span))

    def join(self, place: int) -> int | None:
        found = self.sentence.match(s.JOIN, place)
        if found is not None:
            raw = found.found.group()
            tail = self.text[found.found.end() :]
            if not found.has("no") and (found.has("rnd") or re.match(r"(?:(?:to|for|into|work|being|in|,|st|careful|without|taking|and) )*(?:rnd|round|circular|twist|not to twist)|careful|being|without|$|\.|,", tail)) and "yarn" not in raw and not re.match(r"(?:yarn|mc|cc|shoulder|seam|side|sleeve|new|wool|ball|a\b|b\b)", tail):
                self.r.push(Join(True, self.span(found, self.after(found))))
                b = self.r._need(self.st.span)
                b.in_round = True
                stop = self.after(found)
                more = self.sentence.match(s.shape(r"(?:(?:being|careful|not|to|twist|st|without|twisting|taking|care|into|rnd|work|for|,|place|m|pm|at|beg|end|and|them|in|bor|be|for) )+"), stop)
                return self.after(more) if more is not None else stop
            if found.has("no"):
                return self.after(found)
        flat = self.sentence.match(s.BACK_FORTH, place)
        if flat is not None:
            b = self.r._need(self.st.span)
            self.r.push(Join(False, self.span(flat, self.after(flat))))
            b.in_round = False
            return self.after(flat)
        return None

    def state(self, place: int) -> int | None:
        """ "There are now 84 sts." """
        found = self.sentence.match(s.STATE_COUNT, place)
        if found is None:
            return None
        num = found.num("n")
        assert num is not None
        kind = "total"
        tail = found.group("tail")
        if re.search(r"\beach\b", tail) and "side" not in tail:
            return len(self.sentence.words)  # so many on each needle: not the whole
        sign = 1
        if re.search(r"\binc\b", tail):
            kind = "change"
        elif re.search(r"\bdec\b", tail):
            kind, sign = "change", -1
        elif re.search(r"\beach side\b", tail):
            kind = "side"
        stated = Stated(kind, Num(tuple(sign * v for v in num.values), num.span), num.span)
        b = self.r.current
        if b is not None and (b.flow or b.group):
            self.r._flush(b)
            last = b.flow[-1] if b.flow else None
            if isinstance(last, Row) and not last.stated:
                changed = replace(last, stated=(stated,))
                b.flow[-1] = changed
                if last.number is not None:
                    b.rows[last.number] = changed
                return len(self.sentence.words)
            self.r.push(Loose((), (stated,), self.st.span))
        return len(self.sentence.words)

    def mark(self, place: int) -> int | None:
        found = self.sentence.match(s.MARK_SHAPE, place)
        if found is None:
            return None
        after = self.sentence.match(
            s.shape(s.LEAD + r"(?:place|pm)(?: \w+)?? (?:m )?(?:past|after) (?P<every>every |each )?(?:first |last )?(?P<n>#) (?:st |\w+ st )"), place
        )
        if after is not None and self._round():
            num = after.num("n")
            assert num is not None
            span = self.span(after, self.after(after))
            over = Fill(None, Target(Reach.OVER, num, "", num.span), span)
            mark = Mark("place", "", span)
            steps: tuple[Step, ...]
            if after.has("every"):
                steps = (Repeat((over, mark), None, END, span),)
            else:
                steps = (over, mark, Fill(None, END, span))
            self.r.push(Row("markers", None, "", True, steps, (), span, span, span, as_set=True))
        return self._rest_of_clause(self.sentence.word_at(found.found.end()) - 0) if found else None


def _unread(span: Span, text: str) -> Step:
    from chartc.pattern import Unread

    return Unread(span, text[span.start : span.end])


def _short(text: str) -> str:
    text = " ".join(text.split())
    return text if len(text) <= 70 else text[:67] + "..."


_FOR_SIZES = re.compile(
    r"\s*(?:for\s+)?(?:the\s+)?(?P<names>[^:.;]{1,90}?)\s*\bonly\b\s*(?:[:,.\u2014-]\s*|$)"
    r"|\s*(?:for\s+)?(?:all|both)\s+(?P<other>other\s+)?sizes\s*(?:[:,.\u2014-]\s*|$)"
    r"|\s*(?:for\s+)?(?:the\s+)?(?:sizes?)\s+(?P<named>[^:;]{1,80}?)\s*:\s*",
    re.IGNORECASE,
)


def _restricted(item: Instruction, only: frozenset[int], sizes: int) -> Instruction:
    """The instruction, worked for some sizes alone."""

    def held(num: Num | None) -> Num | None:
        if num is None:
            return None
        return Num(tuple(num.at(i) if i in only else 0 for i in range(sizes)), num.span)

    if isinstance(item, Row):
        return replace(item, only=only)
    if isinstance(item, Plain):
        return replace(item, rows=held(item.rows or ONE))
    if isinstance(item, Ease):
        return replace(item, times=held(item.times or ONE))
    if isinstance(item, Again):
        return replace(item, times=held(item.times or ONE), until=None if item.times is None else item.until)
    if isinstance(item, Loose):
        steps: list[Step] = []
        for step in item.steps:
            if isinstance(step, On):
                step = replace(step, count=held(step.count) or step.count)
            elif isinstance(step, Off | Hold) and step.count is not None:
                step = replace(step, count=held(step.count))
            steps.append(step)
        return replace(item, steps=tuple(steps))
    return item


def read_sentence(resolver: Resolver, st: Statement) -> None:
    """Read a sentence into the instructions of the current section."""
    told = resolver.size_span
    raw = resolver.plain[st.start : st.end]
    multiple = resolver._multiple(st.start, st.end)
    if multiple is not None and re.match(r"\s*(?:cast on|co|with[^,]*, (?:cast on|co)|using[^,]*, (?:cast on|co))\b(?!\s*\d)", raw, re.I):
        b = resolver._need(st.span)  # "Cast on a multiple of 6 sts plus 3"
        b.multiple = b.multiple or multiple
        resolver.notes.append(st.span)
        return
    if (told is not None and st.start <= told.start < st.end) or re.match(
        r"\s*(?:sizes?|to fit)\b(?![^.]*\b(?:only|cast|knit|work|cont)\b)[^.]*\d", raw, re.I
    ):
        resolver.notes.append(st.span)  # the line that names the sizes
        return
    sizes = len(resolver.sizes)
    match = _FOR_SIZES.match(resolver.plain[: st.end], st.start) if sizes > 1 else None
    if match is None:
        _run(resolver, st, resolver.current.only if resolver.current is not None else None)
        return
    text = match["names"] or match["named"] or ""
    if match["names"] is None and match["named"] is None:
        others = resolver.last_only if match["other"] else frozenset[int]()
        only: frozenset[int] | None = frozenset(range(sizes)) - others
        if len(only or ()) == sizes:
            only = None
    else:
        only = resolver._size_set(text)
        if only is None:
            _Reader(resolver, st).run()
            return
    if match.end() >= st.end:
        b = resolver._need(st.span)
        b.only = only
        resolver.last_only = only or frozenset()
        return
    resolver.last_only = only or frozenset()
    _run(resolver, replace(st, start=match.end()), only)


def _run(resolver: Resolver, st: Statement, only: frozenset[int] | None) -> None:
    """Read a sentence that holds for some sizes (None: for all)."""
    if only is None:
        _Reader(resolver, st).run()
        return
    b = resolver._need(st.span)
    resolver._flush(b)
    before = len(b.flow)
    resolver.context.only = only
    try:
        _Reader(resolver, st).run()
    finally:
        resolver.context.only = None
    b.flow[before:] = [_restricted(i, only, len(resolver.sizes)) for i in b.flow[before:]]
