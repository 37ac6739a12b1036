"""From statements to the resolved pattern: sizes, sections, the order in which rows are worked."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cache

from chartc.pattern import (
    Again,
    CastOn,
    Fact,
    Fill,
    Finish,
    Instruction,
    Loose,
    Mark,
    Multiple,
    Own,
    Pattern,
    Plain,
    Reach,
    Row,
    Section,
    Shift,
    Stated,
    Step,
    Take,
    Target,
    Turn,
    Unread,
    Work,
)
from chartc.reading import older
from chartc.reading.heads import Head
from chartc.reading.linebreaks import mended
from chartc.reading.ownstitches import define_entry
from chartc.reading.phrases import load_phrases
from chartc.reading.rows import Body, read_body
from chartc.reading.sizing import find_sizes
from chartc.reading.statements import Statement, split
from chartc.reading.tokens import Context, tokenise, words_of
from chartc.source import Source, Span
from chartc.vocabulary import load_vocabulary

END = Target(Reach.END)
_AS_ROW = re.compile(
    r"\s*(?:work(?:ed)?\s+)?(?:(?:the\s+)?same\s+as|as\s+for|as|like|rep(?:eat)?(?:\s+as)?|work(?:\s+as(?:\s+for)?)?|knit\s+as)\s+(?:for\s+|from\s+)?(?:the\s+)?"
    r"(?P<what>(?:rows?|rnds?|rounds?|r)\.?\s*(?:\d+|one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve)\b(?:\s*(?:-|\u2014|to|through|and|&|,)\s*(?:rows?\s+|rnds?\s+)?\d+)*|\d+(?:st|nd|rd|th)(?:\s*(?:-|to|and|&|,)\s*(?:the\s+)?\d*(?:st|nd|rd|th)?)*\s*(?:rows?|rnds?|rounds?)?"
    r"|(?:the\s+)?(?:first|second|third|fourth|fifth|sixth|seventh|eighth|ninth|tenth|eleventh|twelfth)(?:\s+(?:and|to)\s+(?:first|second|third|fourth|fifth|sixth|seventh|eighth|ninth|tenth))?(?:\s+(?:rows?|rnds?|rounds?))?"
    r"|(?:the\s+)?(?:last|previous)\s+(?P<lastn>\d+\s+)?(?:rows?|rnds?|rounds?)|(?:the\s+)?(?P<named>[a-z]+(?:[- ][a-z]+)?)\s+(?:row|rnd|round)\b)"
    r"(?P<times>\s*,?\s*(?:(?:\d+|two|three|four|five|six)\s+(?:more\s+)?times?(?:\s+more)?|once(?:\s+more)?|twice(?:\s+more)?|again))?\s*(?P<rest>.*)$",
    re.IGNORECASE | re.DOTALL,
)
_MULTIPLE = re.compile(
    r"(?:multiples?\s+of|divis(?:ible|or)\s+(?:by)?|(?:that\s+)?(?:can\s+be\s+|may\s+be\s+)?divide[ds]?\s+by|mult(?:iple)?\.?\s*(?:of)?\s*:?)\s*(?P<of>\d+)\s*(?:sts?\.?|stitches)?\s*,?\s*(?:(?:\+|plus|and|with|adding)\s*(?P<plus>\d+))?"
    r"(?:\s*(?:sts?|stitches)?\s*(?:extra|over|more)?\s*,?\s*(?:\+|plus)\s*(?P<edge>\d+))?",
    re.IGNORECASE,
)
_FREE_NAME = re.compile(
    r"\b(?:pattern|patt|stitch pattern|stitch|lace|panel|motif|chart|rib(?:bing)?|garter|moss|seed|cable|mesh|repeat|edging pattern|swatch)\b", re.I
)
_WORDS_TIMES = {"once": 1, "twice": 2, "thrice": 3}
MOST_ROWS_A_STATEMENT = 4000


@dataclass
class _Builder:
    """A section being put together."""

    name: str
    span: Span
    flow: list[Instruction] = field(default_factory=list)
    in_round: bool = False
    multiple: Multiple | None = None
    rows: dict[int, Row] = field(default_factory=dict)
    named: dict[str, Row] = field(default_factory=dict)
    group: dict[int, Row] = field(default_factory=dict)
    written: list[Row] = field(default_factory=list)
    every: list[tuple[str, int, Row, int]] = field(default_factory=list)
    began: bool = False
    had_rows: bool = False
    last_numbers: tuple[int, int] = (0, 0)
    only: frozenset[int] | None = None
    pending_only: frozenset[int] | None = None


@cache
def _known_words() -> frozenset[str]:
    """Words that may stand whole where a line's end broke them."""
    phrases = load_phrases()
    words = {w.split("?")[0] for w in (*load_vocabulary().canonical_words, *phrases.fold_words)}
    return frozenset(words | phrases.prose | _BROKEN_WORDS)


_BROKEN_WORDS = frozenset(
    ["together", "repeat", "purlwise", "knitwise", "needle", "needles", "marker", "markers", "through", "slipped", "passing", "following", "remaining", "alternate", "continue", "continuing", "between", "beginning", "increase", "decrease", "stocking", "stockinette", "garter", "pattern", "stitches", "purling", "knitting", "working", "slipping"]
)


class Resolver:
    """Resolves one text."""

    def __init__(self, source: Source, terms: str = "") -> None:
        self.source = source
        self.plain = mended(source.plain, _known_words())
        self.statements = split(self.plain)
        self.facts: list[Fact] = []
        self.own: list[Own] = []
        self.explained: dict[str, Span] = {}
        self.notes: list[Span] = []
        self.title = ""
        self._gather_facts()
        self.terms = "older" if terms.startswith("old") else terms or self._terms_named()
        self.usage = older.Usage()
        self.after_row: tuple[int, Span] | None = None  # a row's text ends "repeat from row 1"
        if self.terms == "older":
            self.plain = older.reset(self.plain)
            self.statements = split(self.plain)
            self.facts = []
            self._gather_facts()
        self.sizes, self.size_span = find_sizes(self.plain, self.statements, self.facts)
        self.context = Context(
            load_vocabulary(self.terms), load_phrases(self.terms), len(self.sizes), old_usage=bool(self.terms)
        )
        self.sections: list[_Builder] = []
        self.patterns: dict[str, _Builder] = {}
        self.called: list[_Builder] = []  # sections other sections call by name
        self.current: _Builder | None = None
        self.last_only: frozenset[int] = frozenset()
        self.bodies: dict[str, Body] = {}

    # ------------------------------------------------------------------ facts
    def _gather_facts(self) -> None:
        for st in self.statements:
            if st.kind == "fact":
                value = self.plain[st.value : st.end].strip()
                start = st.value
                while start < st.end and self.plain[start].isspace():
                    start += 1
                self.facts.append(
                    Fact(st.key, value, st.span, Span(start, st.end))
                )
            elif st.kind == "title":
                self.title = " ".join(self.source.text[st.start : st.end].split())

    def _terms_named(self) -> str:
        for fact in self.facts:
            if fact.key == "terms" and re.search(r"old", fact.value, re.I):
                return "older"
        return ""

    def _worked(self) -> str:
        for fact in self.facts:
            if fact.key == "worked":
                low = fact.value.lower()
                rnd = re.search(r"round|rnd|circular", low)
                flat = re.search(r"\bflat|back and forth|\brows?\b|pieces", low)
                if rnd and flat:
                    return "mixed"
                if rnd:
                    return "round"
                if flat:
                    return "flat"
        return ""

    # ------------------------------------------------------------------ the whole text
    def resolve(self) -> Pattern:
        self._define_own()
        worked = self._worked()
        heads = [st.head for st in self.statements if st.head is not None]
        any_round = any(h.rounds for h in heads)
        any_row = any(not h.rounds for h in heads)
        self.all_round = worked == "round" and not any_round
        self.start_round = worked == "round" or (any_round and not any_row and not worked)
        early = self._called_before_written()
        self._read_statements(early)
        self.current = None
        self._read_statements([st for st in self.statements if st not in early])
        if early:
            self.sections.sort(key=lambda b: b.span.start)
        if self.terms == "older":
            older.finish(self)
        built = [b for b in self.sections if b.flow or b.rows]
        sections = self._sections(built)
        rounds = {r.in_round for b in built for r in b.written}
        construction = worked or (
            "mixed" if len(rounds) > 1 else "round" if rounds == {True} else "flat"
        )
        if construction != "mixed" and len(rounds) > 1:
            construction = "mixed"
        self._suggest_terms()
        return Pattern(
            self.title,
            self.sizes,
            construction,
            tuple(sections),
            tuple(self.facts),
            tuple(self.own),
            tuple(self.notes),
            tuple(self.context.remarks),
            dict(self.context.used),
            dict(self.explained),
        )

    def _read_statements(self, statements: Sequence[Statement]) -> None:
        for st in statements:
            if st.kind == "heading":
                self._heading(st)
            elif st.kind == "row":
                self._row(st)
            elif st.kind == "sentence":
                self._sentence(st)
            elif st.kind == "prose" or (st.kind == "fact" and st.key in ("notes", "skill", "schematic")):
                self.notes.append(st.span)
        if self.current is not None:
            self._flush(self.current)

    def _called_before_written(self) -> list[Statement]:
        """The statements of headed stitch patterns that rows above them call by name ("work
        row 1 of Rope panel", with the panel given at the end of the text): read first."""
        early: list[Statement] = []
        above = ""
        block: list[Statement] = []
        called = False
        for st in self.statements:
            text = " ".join(self.plain[st.start : st.end].lower().split())
            if st.kind == "heading":
                if called and any(s_.kind == "row" for s_ in block):
                    early += block
                name = re.sub(r"\s*[(\[].*|\s*:$", "", text).strip()
                called = bool(name) and bool(
                    re.search(rf"\b(?:rows?|rnds?|rounds?) \d[\d ,and-]*(?:of|from)(?: the)? {re.escape(name)}\b", above)
                )
                block = [st]
            else:
                block.append(st)
                if st.kind == "sentence" and re.match(r"(?:cast|bind) o(?:n|ff)\b", text):
                    called = False
            if st.kind in ("row", "sentence"):
                above += " " + text
        if called and any(s_.kind == "row" for s_ in block):
            early += block
        return early

    def _suggest_terms(self) -> None:
        """A text that plainly uses older words gets a hint once."""
        if self.terms:
            return
        old = re.search(
            r"\b(?:pearl (?:one|two|three|knitting)|bring the (?:thread|wool|silk|cotton) forward|knit two together;|purl from behind)\b",
            self.plain,
            re.I,
        )
        if old:
            self.context.remark(
                "older-usage",
                Span(old.start(), old.end()),
                "this looks like older English usage, where words have other meanings; "
                "add a line “Terms: older usage” to read it so",
            )

    def _define_own(self) -> None:
        own: dict[tuple[str, ...], object] = {}
        for st in self.statements:
            if st.kind != "entry":
                continue
            for name, stitch, span, words, key in define_entry(
                self.plain, st.start, st.end, self.context
            ):
                self.explained.setdefault(name.lower(), span)
                if key is not None:
                    self.own.append(Own(name, stitch, span, words))
                    if stitch is not None:
                        own[key] = stitch
                        self.context.own = dict(own)  # type: ignore[arg-type]

    def _sections(self, built: list[_Builder]) -> list[Section]:
        sections: list[Section] = []
        live = False
        for b in built:
            casts = any(isinstance(i, CastOn) for i in b.flow)
            takes = any(
                isinstance(i, Loose) and any(isinstance(x, Take) for x in i.steps) for i in b.flow[:3]
            )
            told = bool(b.flow) and isinstance(b.flow[0], Loose) and any(
                isinstance(x, Unread) for x in b.flow[0].steps
            )
            if casts:
                starts = "cast on"
            elif told or (live and not self._is_definition(b)) or takes:
                starts = "goes on"
            else:
                starts = "free"
            ended = False
            for item in b.flow:
                if isinstance(item, CastOn):
                    live, ended = True, False
                if isinstance(item, Finish):
                    ended = True
            if told:
                live = not ended
            elif starts != "free" or casts:
                live = ((live or casts) and not ended) or (starts == "goes on" and not ended)
            sections.append(
                Section(b.name, b.span, tuple(b.flow), starts, self._section_round(b), b.multiple, tuple(b.written))
            )
        return sections

    @staticmethod
    def _section_round(b: _Builder) -> bool:
        if b.written:
            return b.written[0].in_round
        return b.in_round

    def _is_definition(self, b: _Builder) -> bool:
        """Whether a headed run of rows that stands after a cast-on only defines a stitch
        pattern: other sections call it by its name."""
        return b in self.called and any(isinstance(i, Row) for i in b.flow)

    # ------------------------------------------------------------------ headings
    def _heading(self, st: Statement) -> None:
        text = " ".join(self.source.text[st.start : st.end].split()).rstrip(":").strip()
        if len(self.sizes) > 1 and re.search(r"\bsizes?\b", text, re.I) and (
            re.search(r"\bonly\b", text, re.I) or re.match(r"(?:for )?(?:all|both)\b", text, re.I)
        ):
            # "Sizes 8 and 10 only": what follows is for those, up to "All sizes"
            b = self._need(st.span)
            self._flush(b)
            b.only = self._size_set(text)
            if b.only is not None and len(b.only) == len(self.sizes):
                b.only = None
            return
        multiple = self._multiple(st.start, st.end)
        name = re.sub(r"\s*[\(\[][^()\[\]]*(?:multiple|mult\.|sts?|worked|rnds?|rows?|over)[^()\[\]]*[\)\]]", "", text, flags=re.I).strip(" :-\u2014") or text
        self._begin(name, st.span, multiple)
        low = text.lower()
        assert self.current is not None
        if re.search(r"\bin (?:the )?r(?:ou)?nds?\b|\bworked in r(?:ou)?nds?\b", low):
            self.current.in_round = True
        elif re.search(r"\bflat\b|back and forth|worked in rows", low):
            self.current.in_round = False

    def _begin(self, name: str, span: Span, multiple: Multiple | None = None) -> _Builder:
        if self.current is not None:
            self._flush(self.current)
        previous = self.current
        builder = _Builder(name, span, multiple=multiple)
        builder.in_round = previous.in_round if previous is not None else self.start_round
        self.sections.append(builder)
        self.current = builder
        if name:
            self.patterns.setdefault(name.lower(), builder)
            self._offer_panel(name, builder)
        return builder

    def _offer_panel(self, name: str, builder: _Builder) -> None:
        """Rows of a headed stitch pattern can be called within other rows by its name."""
        kept = len(self.context.remarks)
        words = [w.text for w in words_of(name, 0, len(name), self.context)]
        del self.context.remarks[kept:]  # a heading is no instruction
        if not words or len(words) > 6:
            return

        def steps(number: int) -> tuple[Step, ...] | None:
            row = self._find_in(builder, number)
            if row is None or builder is self.current:
                return None
            if builder not in self.called:
                self.called.append(builder)
            return row.steps

        panels = dict(self.context.panels)
        panels[tuple(words)] = steps
        if words[-1] in ("patt", "panel", "chart", "st") and len(words) > 1:
            panels.setdefault(tuple(words[:-1]), steps)
        self.context.panels = panels

    def _find_in(self, b: _Builder, number: int) -> Row | None:
        for place in (b.group, b.rows):
            if number in place:
                return place[number]
        return self._filled(b, number)

    def _need(self, span: Span) -> _Builder:
        if self.current is None:
            builder = self._begin("", span)
            fact = next((f for f in self.facts if f.key == "multiple"), None)
            if fact is not None:
                builder.multiple = self._multiple_fact(fact)
        assert self.current is not None
        return self.current

    def _multiple(self, start: int, end: int) -> Multiple | None:
        found = _MULTIPLE.search(self.plain, start, end)
        if not found or not int(found["of"][:9]):
            return None
        plus = int((found["plus"] or "0")[:9]) + int((found["edge"] or "0")[:9])
        return Multiple(int(found["of"][:9]), plus, Span(found.start(), found.end()))

    def _multiple_fact(self, fact: Fact) -> Multiple | None:
        start, end = fact.value_span.start, fact.value_span.end
        found = self._multiple(start, end)
        if found is not None:
            return found
        match = re.compile(
            r"\s*(?P<of>\d+)\s*(?:sts?|stitches)?\s*(?:,?\s*(?:\+|plus|and)\s*(?P<plus>\d+))?(?:\s*(?:sts?)?\s*(?:,?\s*(?:\+|plus)\s*(?P<edge>\d+)))?", re.I
        ).match(self.plain, start, end)
        if match and int(match["of"][:9]):
            plus = int((match["plus"] or "0")[:9]) + int((match["edge"] or "0")[:9])
            return Multiple(int(match["of"][:9]), plus, Span(match.start(), match.end()))
        return None

    # ------------------------------------------------------------------ rows
    def _row(self, st: Statement) -> None:
        head = st.head
        assert head is not None
        b = self._need(st.span)
        in_round = head.rounds or (self.all_round and not head.rounds) or bool(self.terms and b.in_round)
        if head.paren == "any":
            in_round = b.in_round
        if not head.label or (head.label[0].isdigit() and not re.search("[a-z]", head.label, re.I)):
            in_round = b.in_round
        body_start, body_end = head.body, st.end
        only = self._only(head.paren, head.span) or b.pending_only or b.only
        b.pending_only = None
        self.context.only = only
        try:
            self._read_row(st, head, b, in_round, body_start, body_end, only)
        finally:
            self.context.only = None

    def _read_row(
        self,
        st: Statement,
        head: Head,
        b: _Builder,
        in_round: bool,
        body_start: int,
        body_end: int,
        only: frozenset[int] | None,
    ) -> None:
        remarks_before = len(self.context.remarks)
        reference = self._reference(head, body_start, body_end, b)
        if reference is not None:
            rows = reference
            stated: tuple[Stated, ...] = self._trailing_stated(body_start, body_end)
            made = [
                replace(
                    r,
                    label=head.label,
                    side=head.side or r.side,
                    in_round=in_round,
                    stated=stated or tuple(x for x in r.stated if x.kind in ("change", "repeat")),
                    span=st.span,
                    head=head.span,
                    body=Span(body_start, body_end),
                    only=only,
                )
                for r in rows
            ]
        else:
            rhythm = self._row_rhythm(body_start, body_end, in_round)
            if rhythm is not None:
                made = [
                    Row(head.label, None, head.side, in_round, steps, (), st.span, head.span, Span(body_start, body_end), True, True, only)
                    for steps in rhythm
                ]
            else:
                if self.terms == "older":
                    read = older.body(self, head, body_start, body_end, b)
                    if read is None:
                        return
                    body = read
                else:
                    body = self._body(body_start, body_end)
                if in_round:
                    body = replace(body, steps=self._moved_to_end(body.steps, body_end))
                if b.in_round and not head.rounds and any(isinstance(x, Turn) for x in body.steps):
                    in_round = True  # short rows on work that is joined into a round
                made = [
                    Row(
                        head.label, None, head.side, in_round, body.steps, body.stated, st.span,
                        head.span, Span(body_start, body_end), body.readable, False, only,
                    )
                ]  # fmt: skip
        if in_round != b.in_round and not b.flow:
            b.in_round = in_round
        elif in_round and not b.in_round:
            b.in_round = True
        b.had_rows = True
        if head.numbers:
            self._numbered(b, head, made)
            if self.after_row is not None:
                first, span = self.after_row
                self.after_row = None
                older.go_on(self, b, first, head.numbers[-1], span)
        elif head.every:
            self._every_rule(b, head, made[0])
            b.written.append(made[0])
        elif re.match(r"(?:bind|cast)[- ]?off", head.name):
            self._flush(b)
            del self.context.remarks[remarks_before:]
            b.flow.append(Finish("bind off", st.span))
        elif head.repeat:
            self._flush(b)
            for index in range(min(head.repeat, MOST_ROWS_A_STATEMENT)):
                row = made[index % len(made)]
                b.flow.append(row)
                b.written.append(row)
        else:
            self._flush(b)
            for row in made:
                b.flow.append(row)
                b.written.append(row)
            if head.name:
                b.named[head.name] = made[0]
                for word in ("next ", "foll "):
                    if head.name.startswith(word):
                        b.named[head.name[len(word) :]] = made[0]
            inside = head.paren.lower()
            inner = re.match(r"([a-z][a-z -]*?) (?:row|rnd|round)\b", inside) or re.match(r"(inc|dec)\w*$", inside)
            if inner:
                b.named[inner[1]] = made[0]

    def _moved_to_end(self, steps: tuple[Step, ...], end: int) -> tuple[Step, ...]:
        """ "..., k8; pm for new beg of rnd": those stitches belong to the round after."""
        if len(steps) < 3 or not isinstance(steps[-1], Mark) or steps[-1].op != "place":
            return steps
        moved = steps[-2]
        if not isinstance(moved, Work) or not moved.stitch.uses == moved.stitch.makes == 1:
            return steps
        tail = self.plain[moved.span.end : end]
        if not re.search(r"\b(?:new|centre|center)\b[^.]*\b(?:beg\w*|start|bor|rnd|round)\b|\b(?:beg\w*|start)\b[^.]*\b(?:rnd|round|now)\b", tail, re.I):
            return steps
        return (*steps[:-2], Shift(moved.times, moved.span.join(steps[-1].span)))

    def _body(self, start: int, end: int) -> Body:
        return read_body(self.plain, start, end, self.context)

    def _trailing_stated(self, start: int, end: int) -> tuple[Stated, ...]:
        kept = len(self.context.remarks)
        used = dict(self.context.used)
        found = tuple(
            t.value for t in tokenise(self.plain, start, end, self.context) if t.type == "STATED"
        )
        del self.context.remarks[kept:]
        self.context.used.clear()
        self.context.used.update(used)
        return found

    def _only(self, text: str, span: Span) -> frozenset[int] | None:
        """ "(sizes S and M only)" -> the size indices."""
        if len(self.sizes) < 2 or not text:
            return None
        low = text.lower()
        if not re.search(r"\bsizes?\b|\bonly\b", low):
            return None
        return self._size_set(text)

    def _size_set(self, text: str) -> frozenset[int] | None:
        names = [n.lower() for n in self.sizes]
        low = text.lower()
        if re.search(r"\ball (?:other )?sizes\b", low) and "other" not in low:
            return frozenset(range(len(names)))
        found: set[int] = set()
        words = re.findall(r"[a-z0-9][a-z0-9/-]*", low)
        for index, name in enumerate(names):
            pieces = name.split()
            if any(w == name or w == pieces[0] for w in words) or (len(pieces) > 1 and name in low):
                found.add(index)
        return frozenset(found) if found and len(found) < len(names) else None

    def _reference(self, head: Head, start: int, end: int, b: _Builder) -> list[Row] | None:
        """Rows told by other rows: "As row 2.", "Rep rows 1-4." """
        match = _AS_ROW.match(self.plain[start:end])
        if not match:
            return None
        rest = re.sub(r"[\(\[].*", "", match["rest"]).strip(" .,;:-\u2014\n")
        elsewhere: _Builder | None = None
        named = re.fullmatch(r"(?:of|from|in|for)\s+(?:the\s+)?(?P<name>.+)", rest, re.I | re.S)
        if named:
            elsewhere = self.section_named(named["name"])
        if elsewhere is not None:
            b = elsewhere
        elif rest and not re.fullmatch(r"(?:again|inclusive|of (?:the )?[\w ]+|\d+ sts.*|to end.*|in [a-z ]+|all round|the same way)", rest, re.I | re.S):
            return None
        what = match["what"].lower()
        rows: list[Row] = []
        if match["lastn"] is not None or re.match(r"(?:the )?(?:last|previous)", what):
            count = int(match["lastn"] or 1)
            rows = self._last_rows(b, count)
        elif match["named"]:
            row = self._named_row(match["named"].strip(), b)
            if row is None:
                return None
            rows = [row]
        else:
            from chartc.reading.heads import _numbers

            for number in _numbers(what):
                row = self._find_row(number, b)
                if row is None:
                    span = Span(start + match.start("what"), start + match.end("what"))
                    self.context.remark(
                        "row-not-there", span, f"this refers to row {number}, but there is no row {number} before it"
                    )
                    return [
                        Row(head.label, None, head.side, head.rounds, (), (), head.span, head.span, Span(start, end), False)
                    ]
                rows.append(row)
        if not rows:
            return None
        count = len(head.numbers)
        if count > len(rows):
            rows = [rows[i % len(rows)] for i in range(min(count, MOST_ROWS_A_STATEMENT))]
        return rows

    def _named_row(self, name: str, b: _Builder) -> Row | None:
        name = {"increase": "inc", "decrease": "dec", "set up": "set-up", "setup": "set-up"}.get(name, name)
        for builder in [b, *reversed(self.sections)]:
            table = {
                {"increase": "inc", "decrease": "dec", "set up": "set-up", "setup": "set-up"}.get(k, k): v
                for k, v in builder.named.items()
            }
            if name in table:
                return table[name]
            for key, row in table.items():
                if name in key.split() or key.endswith(name):
                    return row
        return None

    def _find_row(self, number: int, b: _Builder) -> Row | None:
        row = self._find_in(b, number)
        if row is not None:
            return row
        for builder in reversed(self.sections):
            if number in builder.rows:
                return builder.rows[number]
            fill = self._filled(builder, number)
            if fill is not None and builder.rows:
                return fill
        return None

    def _filled(self, b: _Builder, number: int) -> Row | None:
        """The row that "all WS rows" or the like gives for a number."""
        for kind, start, row, upto in reversed(b.every):
            if number < start or (upto and number > upto):
                continue
            odd = number % 2 == 1
            rs_odd = self._rs_odd(b)
            fits = {
                "even": not odd,
                "odd": odd,
                "WS": odd != rs_odd,
                "RS": odd == rs_odd,
                "alt": (number - start) % 2 == 0,
                "all": True,
            }[kind]
            if fits:
                return replace(row, number=number)
        return None

    @staticmethod
    def _rs_odd(b: _Builder) -> bool:
        for row in b.written:
            if row.number is not None and row.side:
                return (row.number % 2 == 1) == (row.side == "RS")
        return True

    def _every_rule(self, b: _Builder, head: Head, row: Row) -> None:
        start = head.numbers[0] if head.numbers else 0
        b.every.append((head.every, start, row, head.upto))

    def _numbered(self, b: _Builder, head: Head, made: list[Row]) -> None:
        numbers = head.numbers
        if 0 in numbers:
            self.context.remark("row-not-there", head.span, "rows are numbered from 1: there is no row 0")
        if any(z <= a for a, z in itertools.pairwise(numbers)):
            self.context.remark(
                "row-range-backwards", head.span, "these row numbers do not go upwards"
            )
        if head.name == "" and numbers and (numbers[0] in b.group) and numbers[0] <= 1:
            self._flush(b, fresh=True)
        elif numbers and numbers[0] == 1 and b.rows and 1 in b.rows and not b.group:
            b.every = []
            b.rows = {}
        if head.every:
            self._every_rule(b, head, replace(made[0], number=None))
        for index, number in enumerate(numbers[:MOST_ROWS_A_STATEMENT]):
            row = replace(made[index % len(made)], number=number)
            if number != numbers[-1]:  # a total told of several rows is that after the last
                row = replace(row, stated=tuple(x for x in row.stated if x.kind != "total"))
            if number in b.group:
                restated = self._is_filled_by_range(b, number)
                if not restated:
                    self.context.remark(
                        "row-twice", row.head, f"row {number} is given twice"
                    )
                b.group[number] = row
            else:
                b.group[number] = row
            b.written.append(row)

    @staticmethod
    def _is_filled_by_range(b: _Builder, number: int) -> bool:
        del b, number
        return False

    def _flush(self, b: _Builder, fresh: bool = False) -> None:
        """Put the numbered rows gathered so far into working order."""
        if not b.group:
            if b.every and not b.rows and not any(isinstance(i, Row) for i in b.flow) and not fresh:
                b.flow.append(b.every[-1][2])
            if fresh:
                b.every = []
            return
        low, high = min(b.group), max(b.group)
        if b.every and high - low < MOST_ROWS_A_STATEMENT:
            top = high + 1
            for kind, start, _row, upto in b.every:
                if upto:
                    top = max(top, upto)
                del kind, start
            for number in range(1 if low <= 2 and not b.rows else low, top + 1):
                if number not in b.group:
                    if number == high + 1 and not self._completes(b, number, high):
                        continue
                    if number > high + 1 and not any(u and number <= u for _, _, _, u in b.every):
                        continue
                    filled = self._filled(b, number)
                    if filled is not None:
                        b.group[number] = filled
        for number in sorted(b.group):
            b.flow.append(b.group[number])
        b.rows.update(b.group)
        b.group = {}
        if fresh:
            b.every = []
            b.rows = {}

    def _completes(self, b: _Builder, number: int, high: int) -> bool:
        """Whether the row after the last one written is meant: an even number of rows."""
        del high
        filled = self._filled(b, number)
        return filled is not None and number % 2 == 0

    # ------------------------------------------------------------------ named rhythms
    def _row_rhythm(self, start: int, end: int, in_round: bool) -> list[tuple[Step, ...]] | None:
        text = self.plain[start:end].lower().strip(" .")
        text = re.sub(r"\s+", " ", text)
        match = re.fullmatch(
            r"(?:(?:work|knit|cont(?:inue)?) )?(?:in )?(?P<what>(?:garter|stocking|stockinette|st\.?|rev(?:erse)?\.? (?:st\.?|stocking|stockinette)|g\.?) ?(?:st(?:itch)?\.?)?)(?:,? (?:beg(?:inning)?|starting) with an? (?P<first>knit|k|purl|p|rs|ws) row)?",
            text,
        )
        if match:
            return self.rhythm(match["what"], in_round, match["first"] or "")
        counted = re.match(
            r"(?:work|knit|cont(?:inue)?|purl)\s+(?:the\s+)?(?:next\s+)?(?:\d+|two|three|four|five|six|eight|ten)\s+(?:more\s+)?(?:rows?|rnds?|rounds?)\b(?P<rest>.*)", text, re.S
        )
        if counted:
            named = self.rhythm(counted["rest"], in_round)
            if named is not None and "edge" not in counted["rest"] and "border" not in counted["rest"]:
                return named
            if not re.search(r"inc|dec|until|shap", counted["rest"]):
                verb = text.split()[0]
                stitch = self.context.vocabulary.get(verb[0]) if verb in ("knit", "purl") and not counted["rest"].strip() else None
                return [(Fill(stitch, END, Span(start, end)),)]
        match = re.fullmatch(r"(?:beg(?:inning)?|starting) with an? (?P<first>knit|k|purl|p) row,? (?:work|cont) in (?P<what>[a-z. ]+)", text)
        if match:
            return self.rhythm(match["what"], in_round, match["first"])
        return None

    def rhythm(self, words: str, in_round: bool, first: str = "") -> list[tuple[Step, ...]] | None:
        """The rows of a plain named fabric: garter, stocking stitch and its reverse."""
        vocabulary = self.context.vocabulary
        k: tuple[Step, ...] = (Fill(vocabulary.get("k"), END, Span(0, 0)),)
        p: tuple[Step, ...] = (Fill(vocabulary.get("p"), END, Span(0, 0)),)
        low = words.lower().replace(".", "")
        if re.search(r"\bgarter|\bg st|\bgst", low):
            rows = [k, p] if in_round else [k]
        elif re.search(r"\brev", low):
            rows = [p] if in_round else [p, k]
        elif re.search(r"stocking|stockinette|\bst st|\bstst|\bss\b|stockinet", low):
            rows = [k] if in_round else [k, p]
        else:
            return None
        if first.startswith("p") and rows == [k, p]:
            rows = [p, k]
        if first.startswith("k") and rows == [p, k]:
            rows = [k, p]
        return rows

    # ------------------------------------------------------------------ references to rows
    def _block(self, a: int, z: int, b: _Builder, span: Span) -> list[Instruction] | None:
        """Rows a..z in working order; a finding when some are not there."""
        if z < a or z - a > MOST_ROWS_A_STATEMENT:
            self.context.remark("row-range-backwards" if z < a else "row-not-there", span, f"rows {a} to {z} cannot be a run of rows")
            return None
        rows: list[Instruction] = []
        missing: list[int] = []
        for number in range(a, z + 1):
            row = self._find_row(number, b)
            if row is None:
                missing.append(number)
            else:
                rows.append(row)
        if missing:
            have = sorted({*b.rows, *b.group})
            which = f"row {missing[0]}" if len(missing) == 1 else f"rows {missing[0]} to {missing[-1]}"
            more = f"; the rows here go from {have[0]} to {have[-1]}" if have else ""
            self.context.remark("row-not-there", span, f"this repeats {which}, but no such row is written{more}")
        return rows or None

    def _last_rows(self, b: _Builder, count: int) -> list[Row]:
        self._flush(b)
        out: list[Row] = []

        def take(items: Sequence[Instruction]) -> None:
            for item in reversed(items):
                if len(out) >= count:
                    return
                if isinstance(item, Row):
                    out.append(item)
                elif isinstance(item, Again):
                    take(item.rows)
                elif isinstance(item, Plain) and (item.steps or item.rhythm or item.stitch):
                    rhythm = item.rhythm or ((item.steps,) if item.steps else ((Fill(item.stitch, END, item.span),),))
                    number = item.rows.values[0] if item.rows else len(rhythm)
                    for i in range(min(number, count - len(out))):
                        steps = rhythm[(number - 1 - i) % len(rhythm)]
                        out.append(Row("row", None, "", item.in_round, steps, (), item.span, item.span, item.span))

        take(b.flow)
        return out[::-1]

    # ------------------------------------------------------------------ sentences
    def _sentence(self, st: Statement) -> None:
        from chartc.reading.flow import read_sentence

        if self.terms == "older":
            read_to = older.read(self, st)
            if read_to >= st.end:
                return
            st = replace(st, start=read_to)
        read_sentence(self, st)

    def push(self, item: Instruction) -> None:
        b = self._need(getattr(item, "span", Span(0, 0)))
        self._flush(b)
        b.flow.append(item)

    def section_named(self, name: str) -> _Builder | None:
        """The section a name calls, by all the words of the name; one with numbered rows."""
        words = [
            w
            for w in re.findall(r"[a-z0-9]+", name.lower())
            if w not in ("patt", "pattern", "the", "of", "st", "until", "chart")
        ]
        if not words:
            return None
        for key, builder in self.patterns.items():
            key_words = re.findall(r"[a-z0-9]+", key)
            if all(w in key_words for w in words) and (builder.rows or builder.group):
                return builder
        return None

    def round_ahead(self, place: int) -> bool | None:
        """Whether the next labelled row after a place is a round; None when there is none."""
        for st in self.statements:
            if st.start >= place and st.kind == "row" and st.head is not None:
                return st.head.rounds
        return None

    def running(self) -> bool:
        """Whether there are stitches on the needle at this place."""
        on = False
        for builder in self.sections:
            for item in builder.flow:
                if isinstance(item, CastOn):
                    on = True
                elif isinstance(item, Finish):
                    on = False
        return on


def resolve(source: Source, terms: str = "") -> Pattern:
    """The pattern a text says."""
    return Resolver(source, terms).resolve()
