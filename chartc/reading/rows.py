"""From trade tokens to the steps of a row, by the grammar of grammar/pattern.lark."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from lark import Lark, Token, Transformer
from lark.lexer import Lexer

from chartc.pattern import (
    NOWHERE,
    ONE,
    PART,
    Change,
    Fill,
    Hold,
    Mark,
    Num,
    Off,
    On,
    Reach,
    Repeat,
    Shift,
    Stated,
    Step,
    Take,
    Target,
    Turn,
    Unread,
    Work,
    walk,
)
from chartc.reading.compounds import into_one, sequence
from chartc.reading.tokens import Context, Tok, Working, tokenise
from chartc.resources import grammar_folder
from chartc.source import Span
from chartc.vocabulary import Stitch

END = Target(Reach.END)
MOST_DEPTH = 60


@dataclass(frozen=True, slots=True)
class Body:
    """The instructions of a row, read."""

    steps: tuple[Step, ...]
    stated: tuple[Stated, ...]
    readable: bool


@dataclass(frozen=True, slots=True)
class _Word:
    """An element that is no step by itself: it acts on its neighbours in the sequence."""

    tok: Tok


@dataclass(frozen=True, slots=True)
class _Run:
    """ "k1, p1 to end": a counted stitch with a target; it closes a run of stitches."""

    work: Work
    target: Target
    span: Span


@dataclass(frozen=True, slots=True)
class _Bare:
    """A stitch without a number: one of it, or all of the row when it stands alone."""

    work: Work
    spelled: bool


@dataclass(frozen=True, slots=True)
class _IntoRun:
    """ "k1, yo, k1 in next st" without brackets."""

    work: Work
    into: tuple[str, Num]
    posts: tuple[Tok, ...]


Item = Any


class TokenLexer(Lexer):
    """Hands lark the tokens already found."""

    def __init__(self, lexer_conf: Any) -> None:
        del lexer_conf

    def lex(self, data: Any) -> Iterator[Token]:  # type: ignore[override]
        for tok in data:
            yield Token(tok.type, tok)


def _tok(token: Token) -> Tok:
    return token.value  # type: ignore[no-any-return]


class _Build(Transformer):  # type: ignore[type-arg]
    """Makes items while lark parses; sequences are settled in `_settle`."""

    def start(self, children: list[Any]) -> list[Item]:
        return children[0]  # type: ignore[no-any-return]

    def seq(self, children: list[Any]) -> list[Item]:
        flat: list[Item] = []
        for child in children:
            flat.extend(child if isinstance(child, list) else [child])
        return flat

    def post(self, children: list[Token]) -> Tok:
        return _tok(children[0])

    def other(self, children: list[Token]) -> Tok:
        return _tok(children[0])

    def stray(self, children: list[Tok]) -> Item:
        return _Word(children[0])

    def plain(self, children: list[Tok]) -> list[Item]:
        tok, posts = children[0], children[1:]
        if tok.type == "INPATT":
            target = tok.value
            for post in posts:
                if post.type == "TARGET":
                    target = post.value
                    posts = [p for p in posts if p is not post]
                    break
            span = tok.span if not children[1:] else tok.span.join(children[-1].span)
            return [Fill(None, target or END, span), *(_Word(p) for p in posts)]
        return [_Word(tok), *(_Word(p) for p in posts)]

    def stitch(self, children: list[Any]) -> list[Item]:
        tok: Tok = _tok(children[0])
        posts: list[Tok] = children[1:]
        value: Working = tok.value
        work = Work(value.stitch, value.times, tok.span)
        item: Item = work if value.counted else _Bare(work, value.spelled)
        rest = list(posts)
        while rest:
            post = rest.pop(0)
            span = work.span.join(post.span)
            if post.type == "TIMES":
                num, more = post.value
                if more:
                    num = Num(tuple(v + 1 for v in num.values), num.span)
                if value.counted and value.times.values != (1,):
                    item = Repeat((work,), num, None, span)
                else:
                    work = Work(value.stitch, num, span)
                    item = work
            elif post.type == "TARGET":
                if value.counted:
                    item = _Run(work, post.value, span)
                elif value.stitch.uses == 1 and value.stitch.makes == 1:
                    item = Fill(value.stitch, post.value, span)
                else:
                    item = Repeat((work,), None, post.value, span)
            else:
                kind, num = post.value
                if kind == "all" and not value.counted:
                    item = Repeat((work,), None, END, span)
                elif kind == "each":
                    item = Work(work.stitch, num, span)
                else:
                    return [_IntoRun(replace(work, span=span), (kind, num), tuple(rest))]
        return [item]

    def group(self, children: list[Any]) -> list[Item]:
        opener, seq, closer, *posts = children
        span = _tok(opener).span.join(_tok(closer).span)
        return [_Group(tuple(seq), span, tuple(posts), "(")]

    def closed(self, children: list[Any]) -> list[Item]:
        opener, seq, closer, *posts = children
        span = _tok(opener).span.join(_tok(closer).span)
        return [_Group(tuple(seq), span, tuple(posts), _tok(opener).value)]

    def closed_repeat(self, children: list[Any]) -> list[Item]:
        opener, seq, _close, rep, *posts = children
        span = _tok(opener).span.join(_tok(rep).span)
        return [_Group(tuple(seq), span, tuple(posts), _tok(opener).value, _tok(rep))]

    def starred(self, children: list[Any]) -> list[Item]:
        opener, seq, rep, *posts = children
        span = _tok(opener).span.join(_tok(rep).span)
        return [_Group(tuple(seq), span, tuple(posts), _tok(opener).value, _tok(rep))]

    def again(self, children: list[Any]) -> list[Item]:
        rep, *posts = children
        return [_Again(_tok(rep), tuple(posts))]


@dataclass(frozen=True, slots=True)
class _Group:
    items: tuple[Item, ...]
    span: Span
    posts: tuple[Tok, ...]
    label: str
    rep: Tok | None = None


@dataclass(frozen=True, slots=True)
class _Again:
    rep: Tok
    posts: tuple[Tok, ...]


@cache
def _parser() -> Lark:
    text = (grammar_folder() / "pattern.lark").read_text(encoding="utf-8")
    return Lark(text, parser="lalr", lexer=TokenLexer, transformer=_Build())


def read_body(plain: str, start: int, end: int, context: Context) -> Body:
    """Read the instructions of a row that stand from `start` to `end`."""
    tokens = tokenise(plain, start, end, context)
    depth = deepest = 0
    for token in tokens:
        depth += (token.type in ("LPAR", "STAR")) - (token.type in ("RPAR", "CLOSE", "REP"))
        deepest = max(deepest, depth)
    if deepest > MOST_DEPTH:
        context.remark(
            "not-understood",
            Span(start, min(end, start + 60)),
            f"brackets within brackets {deepest} deep cannot be followed",
        )
        return Body((Unread(Span(start, end), plain[start:end]),), (), False)
    tokens = _times_first(tokens)
    items: list[Item] = _parser().parse(tokens)  # type: ignore[assignment]
    settle = _Settler(context)
    steps = settle.settle(items, top=True)
    numbered = tuple(_number(_moved_start(steps), iter(range(10**6))))
    readable = not any(isinstance(s, Unread) for s in walk(numbered))
    return Body(numbered, _of_the_row(settle.stated, numbered), readable)


def _of_the_row(stated: Sequence[Stated], steps: Sequence[Step]) -> tuple[Stated, ...]:
    """Counts stated of the row as a whole: a total told on the way, of the stitches just put
    aside or worked so far, is not one where another total follows at the end."""
    last = max((step.span.start for step in steps), default=0)
    totals = [one for one in stated if one.kind == "total"]
    if len(totals) < 2 or totals[-1].span.start < last:
        return tuple(stated)
    return tuple(one for one in stated if one.kind != "total" or one.span.start > last)


def _moved_start(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    """ "Remove marker, k1, place marker": the round begins that much later."""
    if (
        len(steps) > 3
        and isinstance(steps[0], Mark)
        and steps[0].op == "remove"
        and isinstance(steps[2], Mark)
        and steps[2].op == "place"
        and isinstance(steps[1], Work)
        and steps[1].stitch.uses == steps[1].stitch.makes == 1
    ):
        return (Shift(steps[1].times, steps[0].span.join(steps[2].span)), *steps[3:])
    return steps


def _times_first(tokens: list[Tok]) -> list[Tok]:
    """ "7x (yo, k2tog)", "3 times: *...*": a number of times before a bracket goes after it."""
    out: list[Tok] = []
    at = 0
    while at < len(tokens):
        token = tokens[at]
        following = tokens[at + 1] if at + 1 < len(tokens) else None
        alone = not out or token.after
        if (
            token.type == "TIMES"
            and alone
            and following is not None
            and following.type == "LPAR"
            and following.after in ("", ":")
        ):
            depth = 0
            stop = at + 1
            while stop < len(tokens):
                depth += (tokens[stop].type == "LPAR") - (tokens[stop].type == "RPAR")
                stop += 1
                if depth == 0:
                    break
            if stop >= len(tokens) or tokens[stop].type not in ("TIMES", "TARGET", "INTO"):
                out.extend(tokens[at + 1 : stop])
                out.append(token)
                at = stop
                continue
        out.append(token)
        at += 1
    return out


def _number(steps: Sequence[Step], numbers: Iterator[int]) -> Iterator[Step]:
    """Number the repeats in the order they open."""
    for step in steps:
        if isinstance(step, Repeat):
            ident = next(numbers)
            body = tuple(_number(step.body, numbers))
            last = None if step.last is None else tuple(_number(step.last, numbers))
            yield replace(step, ident=ident, body=body, last=last)
        else:
            yield step


class _Settler:
    """Settles sequences: words such as "ending last rep" act on what stands before them."""

    def __init__(self, context: Context) -> None:
        self.context = context
        self.stated: list[Stated] = []
        self.starred = 0  # how many starred repeats stand round the sequence being settled
        self.labelled: dict[str, tuple[Step, ...]] = {}

    def settle(self, items: Sequence[Item], top: bool = False) -> tuple[Step, ...]:
        steps: list[Step] = []
        at = 0
        total = len(items)
        while at < total:
            item = items[at]
            at += 1
            if isinstance(item, _Bare):
                steps.append(self._bare(item, items, at, top))
            elif isinstance(item, _Run):
                self._run(steps, item)
            elif isinstance(item, _IntoRun):
                self._into_run(steps, item)
            elif isinstance(item, _Group):
                steps.extend(self._group(item))
            elif isinstance(item, _Again):
                self._again(steps, item)
            elif isinstance(item, _Word):
                at = self._word(steps, item.tok, items, at)
            else:
                steps.append(item)
        return self._tails(self._yarn_moves(steps))

    @staticmethod
    def _yarn_moves(steps: list[Step]) -> list[Step]:
        """A bare "yf" beside a slipped stitch only moves the yarn."""
        out: list[Step] = []
        for step in steps:
            if (
                isinstance(step, Work)
                and step.stitch.key == "yf"
                and out
                and isinstance(out[-1], Work)
                and out[-1].stitch.kind == "slip"
            ):
                continue
            out.append(step)
        return out

    # ---------------------------------------------------------------- stitches
    def _bare(self, item: _Bare, items: Sequence[Item], at: int, top: bool) -> Step:
        """ "Knit." is the whole row; "k" among others is one stitch."""
        work = item.work
        others = [
            i
            for i in items
            if i is not item
            and not (isinstance(i, _Word) and i.tok.type in ("STATED", "MARK", "END"))
        ]
        whole = work.stitch.uses == 1 and work.stitch.makes == 1 and top
        if whole and not others:
            return Fill(work.stitch, END, work.span)
        if (
            whole
            and item.spelled
            and not any(not isinstance(i, _Word) for i in items[at:])
            and at > 1
        ):
            return Fill(work.stitch, END, work.span)
        return work

    def _run(self, steps: list[Step], item: _Run) -> None:
        """ "k1, p1 to end": the stitches before it belong to the repeat."""
        work = item.work
        run: list[Step] = [work]
        if work.stitch.kind == "plain" or work.stitch.uses != 1:
            back = len(steps)
            while back > 0:
                step = steps[back - 1]
                if not isinstance(step, Work) or step.stitch.kind in ("cast on", "bind off"):
                    break
                back -= 1
            before = steps[back:]
            plain = [s for s in before if isinstance(s, Work) and s.stitch.kind == "plain"]
            if len(plain) == len(before) and before:
                keep = self._alternating([*before, work])
                run = [*before[len(before) + 1 - keep :], work]
            elif before:
                run = [*before, work]
            del steps[len(steps) - (len(run) - 1) :]
        if len(run) == 1 and work.times.values == (1,) and work.stitch.net == 0:
            steps.append(Fill(work.stitch, item.target, item.span))
            return
        span = run[0].span.join(item.span)
        steps.append(Repeat(tuple(run), None, item.target, span))

    @staticmethod
    def _alternating(run: list[Step]) -> int:
        """How many of the last steps make one round of a rib: back to the stitch before the
        first that is of the last step's kind."""
        keys = [s.stitch.key for s in run if isinstance(s, Work)]
        size = 1
        while size < len(keys) and keys[-size - 1] != keys[-1]:
            size += 1
        return len(keys) if len(keys) <= 4 and len(set(keys)) == len(keys) else max(2, size)

    def _into_run(self, steps: list[Step], item: _IntoRun) -> None:
        """Gather "k1, yo, k1" before "in next st"."""
        kind, num = item.into
        run: list[Work] = [item.work]
        while steps:
            step = steps[-1]
            if (
                not isinstance(step, Work)
                or step.times.values != (1,)
                or step.stitch.key not in ("k", "p", "yo", "ktbl", "ptbl")
                or step.stitch.key == run[0].stitch.key
            ):
                break
            run.insert(0, step)
            steps.pop()
        span = run[0].span.join(item.work.span)
        if len(run) == 1:
            steps.append(item.work)
            return
        into = num.values[0] if kind == "many" else 1
        group = _Group(tuple(run), span, (Tok("INTO", item.into, span.end, span.end), *item.posts), "(")
        del into
        steps.extend(self._group(group))

    # ---------------------------------------------------------------- groups
    def _group(self, group: _Group) -> list[Step]:
        starred = group.rep is not None or group.label != "("
        self.starred += starred
        body = self.settle(group.items)
        self.starred -= starred
        if starred and any(
            isinstance(s, Fill | Repeat) and s.target and s.target.reach is Reach.END and s.target.span.end
            for s in body
        ):
            self.context.remark(
                "nothing-left",
                group.span,
                "what is to be repeated already goes to the end, so it cannot be worked again",
            )
        if group.label != "(":
            self.labelled[group.label] = body
        stitch: Stitch | None = None
        span = group.span
        if group.posts:
            span = span.join(group.posts[-1].span)
        posts = list(group.posts)
        result: tuple[Step, ...] = body
        wrapped = False
        for post in posts:
            if post.type == "INTO":
                kind, num = post.value
                into = num.values[0] if kind == "many" else 1
                flat = list(flatten(result))
                if not flat:
                    continue
                text = ""
                stitch = into_one([(w.stitch, n) for w, n in flat], into)
                times = num if kind == "each" else ONE
                result = (Work(stitch, times, span),)
                if kind == "all" and not self.starred:
                    result = (Repeat(result, None, END, span),)
                wrapped = True
                del text
            elif post.type == "TIMES":
                num, more = post.value
                result = (self._times(result, num, more, group.rep is not None, span, group.label),)
                wrapped = True
            else:
                if wrapped and len(result) == 1 and isinstance(result[0], Repeat) and result[0].times:
                    result = (replace(result[0], times=None, target=post.value, other_times=None),)
                else:
                    result = (Repeat(result, None, post.value, span, label=group.label),)
                wrapped = True
        if not wrapped:
            if group.rep is not None:
                return [Repeat(body, None, END, span, label=group.label)]
            return list(body)
        return list(result)

    def _times(
        self, body: tuple[Step, ...], num: Num, more: bool, bare: bool, span: Span, label: str
    ) -> Step:
        plus = Num(tuple(v + 1 for v in num.values), num.span)
        if more:
            return Repeat(body, plus, None, span, label=label)
        return Repeat(body, num, None, span, label=label, other_times=plus if bare else None)

    def _again(self, steps: list[Step], item: _Again) -> None:
        """A repeat of what stands before it in the row, without a star of its own."""
        label = item.rep.value
        posts = [p for p in item.posts if p.type != "INTO"]
        target = next((p.value for p in posts if p.type == "TARGET"), None)
        times = next((p.value for p in posts if p.type == "TIMES"), None)
        span = item.rep.span if not posts else item.rep.span.join(posts[-1].span)
        if label and label in self.labelled:
            body = self.labelled[label]
            if times is not None:
                steps.append(Repeat(body, times[0], None, span, label=label))
            else:
                steps.append(Repeat(body, None, target or END, span, label=label))
            return
        if not steps:
            return
        if len(steps) == 1 and isinstance(steps[0], Repeat) and steps[0].times is not None:
            only = steps[0]
            body = only.body if only.times is not None and only.times.values == (1,) else (only,)
        else:
            body = tuple(steps)
        if len(steps) > 1 and item.rep.value == "" and self._bracketed(steps[-1]):
            body = (steps[-1],)
        whole = body[0].span.join(span)
        del steps[len(steps) - len(body) :]
        if times is not None:
            num, more = times
            plus = Num(tuple(v + 1 for v in num.values), num.span)
            steps.append(Repeat(body, plus if more else num, None, whole, other_times=None if more else plus))
        else:
            steps.append(Repeat(body, None, target or END, whole))

    @staticmethod
    def _bracketed(step: Step) -> bool:
        del step
        return False

    # ---------------------------------------------------------------- words that act on others
    def _word(self, steps: list[Step], tok: Tok, items: Sequence[Item], at: int) -> int:
        kind = tok.type
        span = tok.span
        if kind == "STATED":
            self.stated.append(tok.value)
        elif kind == "MARK":
            op, name = tok.value
            last = steps[-1] if steps else None
            if not (
                op != "place"
                and isinstance(last, Fill)
                and last.target.reach is Reach.END
            ):
                # after "purl to end" markers are slipped "as you come to them"
                steps.append(Mark(op, name, span))
        elif kind == "TURN":
            steps.append(Turn(tok.value, span))
        elif kind == "LEAVING":
            if steps and isinstance(steps[-1], Turn):
                steps[-1] = replace(steps[-1], leaving=tok.value)
        elif kind == "DS":
            steps.append(Work(self.context.vocabulary.get("sl" if tok.value == "make" else "k"), ONE, span))
        elif kind == "OFF":
            count, target = tok.value, None
            if at < len(items) and isinstance(items[at], _Word) and items[at].tok.type == "TARGET":
                target = items[at].tok.value
                at += 1
            steps.append(Off(count, span, target))
        elif kind == "ON":
            sub, num = tok.value
            steps.append(On(num, sub if sub != "cast" else "cast on", span))
        elif kind == "HOLD":
            count, target, worked = tok.value
            if worked and steps and isinstance(steps[-1], Work) and steps[-1].stitch.uses == 1:
                # "k10 and place these sts on a holder"
                done = steps.pop()
                assert isinstance(done, Work)
                count, target = done.times, None
                span = done.span.join(span)
            hold = Hold(count, target, "", span)
            if steps and isinstance(steps[-1], Turn):
                # "turn and leave rem sts on a holder": they are left before the turn
                steps.insert(len(steps) - 1, hold)
            else:
                steps.append(hold)
        elif kind == "ONLY":
            # "turn and work on these 8 sts only": the others are left on a holder
            if steps and isinstance(steps[-1], Turn):
                steps.insert(len(steps) - 1, Hold(None, END, "", span))
            self.stated.append(Stated("total", tok.value, span))
        elif kind == "PANEL":
            panel, over = tok.value
            steps.extend(fitted(panel, over))
        elif kind == "GENERAL":
            self.context.remark(
                "not-followed",
                span,
                "this is told in general terms: the count is taken up again where the text next states one",
            )
            steps.append(Unread(span, ""))
        elif kind == "TAKE":
            steps.append(Take("", tok.value, span))
        elif kind == "CHANGE":
            sub, num = tok.value
            if sub == "ends":
                num = Num(tuple(2 * v for v in num.values), num.span)
            steps.append(Change(num, span, each_end=sub == "ends", spread=sub == "spread"))
        elif kind == "PSSO":
            self._pass_over(steps, tok)
        elif kind == "UNKNOWN":
            self.context.remark("not-understood", span, f"“{tok.value}” is not understood")
            steps.append(Unread(span, tok.value))
        elif kind == "LASTREP":
            return self._last_repeat(steps, tok, items, at)
        elif kind == "OMIT":
            return self._omit(steps, tok, items, at)
        elif kind in ("TIMES", "TARGET", "INTO"):
            self._stray(steps, tok)
        return at

    def _stray(self, steps: list[Step], tok: Tok) -> None:
        """A number of times or a target that stands apart from what it belongs to."""
        if tok.type == "TARGET" and steps and isinstance(steps[-1], Repeat) and steps[-1].target is None:
            return
        if tok.type == "TIMES" and steps:
            num, more = tok.value
            if more:
                num = Num(tuple(v + 1 for v in num.values), num.span)
            last = steps.pop()
            steps.append(Repeat((last,), num, None, last.span.join(tok.span)))
            return
        if tok.type == "TARGET" and steps and isinstance(steps[-1], Off):
            steps[-1] = replace(steps[-1], target=tok.value)
            return
        if tok.type == "TARGET" and steps and isinstance(steps[-1], Work):
            last = steps.pop()
            assert isinstance(last, Work)
            self._run(steps, _Run(last, tok.value, last.span.join(tok.span)))

    def _pass_over(self, steps: list[Step], tok: Tok) -> None:
        """psso passes over everything worked since the slip (language decision 20)."""
        for back in range(len(steps) - 1, -1, -1):
            step = steps[back]
            if isinstance(step, Work) and step.stitch.kind == "slip":
                inner = steps[back:]
                if not all(isinstance(s, Work) for s in inner):
                    break
                span = step.span.join(tok.span)
                over = 2 if tok.value == "p2sso" else 1
                parts = [(w.stitch, n) for w, n in flatten(tuple(inner))]
                made = sequence(parts, pass_over=over)
                steps[back:] = [Work(made, ONE, span)]
                return
        self.context.remark(
            "pass-over-without-slip",
            tok.span,
            "a stitch is passed over here, but none was slipped before it",
        )
        steps.append(Unread(tok.span, str(tok.value)))

    def _last_repeat(self, steps: list[Step], tok: Tok, items: Sequence[Item], at: int) -> int:
        """ "ending last rep k2", "ending last rep with k1 instead of k3"."""
        place = next(
            (i for i in range(len(steps) - 1, -1, -1) if isinstance(steps[i], Repeat)), None
        )
        rest = list(items[at:])
        stops = [
            i for i, item in enumerate(rest) if isinstance(item, _Word) and item.tok.type == "STATED"
        ]
        after = rest[stops[0] :] if stops else []
        rest = rest[: stops[0]] if stops else rest
        if place is None:
            return at
        old = next(
            (i for i, item in enumerate(rest) if isinstance(item, _Word) and item.tok.type == "INSTEAD"),
            None,
        )
        repeat = steps[place]
        assert isinstance(repeat, Repeat)
        if old is not None:
            new = self.settle(rest[:old])
            gone = self.settle(rest[old + 1 :])
            last = _exchange(repeat.body, new, gone)
            if last is None:
                self.context.remark(
                    "not-understood",
                    tok.span,
                    "the last repeat is to be changed, but what it replaces is not at the end of the repeat",
                )
                steps.append(Unread(tok.span, "last repeat"))
            else:
                steps[place] = replace(repeat, last=last)
        else:
            new = self.settle(rest)
            if new:
                steps[place] = replace(repeat, last=new, cut=True)
        for item in after:
            if isinstance(item, _Word) and item.tok.type == "STATED":
                self.stated.append(item.tok.value)
        return len(items)

    def _omit(self, steps: list[Step], tok: Tok, items: Sequence[Item], at: int) -> int:
        """ "omitting last k2 (from last rep)"."""
        rest = list(items[at:])
        end = len(rest)
        for i, item in enumerate(rest):
            if isinstance(item, _Word) and item.tok.type in ("ONLAST", "STATED", "LASTREP"):
                end = i
                break
        gone = self.settle(rest[:end])
        place = next(
            (i for i in range(len(steps) - 1, -1, -1) if isinstance(steps[i], Repeat)), None
        )
        if place is not None and gone:
            repeat = steps[place]
            assert isinstance(repeat, Repeat)
            last = _exchange(repeat.body, (), gone)
            if last is not None:
                steps[place] = replace(repeat, last=last)
            else:
                self.context.remark(
                    "not-understood", tok.span, "what is to be left out is not at the end of the repeat"
                )
                steps.append(Unread(tok.span, "omitting"))
        skip = end
        while skip < len(rest) and isinstance(rest[skip], _Word) and rest[skip].tok.type in (
            "ONLAST", "LASTREP",
        ):  # fmt: skip
            skip += 1
        return at + skip

    def _tails(self, steps: list[Step]) -> tuple[Step, ...]:
        """ "rep from *, k2": a repeat to the end with stitches after it leaves those."""
        out = list(steps)
        for at, step in enumerate(out):
            if not (isinstance(step, Repeat | Fill) and step.target and step.target.reach is Reach.END):
                continue
            rest = out[at + 1 :]
            if not rest or step.target.name == PART:
                continue
            need = uses_of(rest)
            closed = isinstance(step, Fill) and bool(step.target.span.end) and need is not None
            if need is None and step.target.span.end and any(
                isinstance(s, Repeat | Fill) and s.target and s.target.reach in (Reach.END, Reach.LAST)
                for s in rest
            ) and not any(isinstance(s, Mark | Turn | Off | Hold | Take | Unread) for s in rest):
                closed = True
            if closed:
                # "k to end" says so: what follows it cannot be worked
                if need is None or any(need.values):
                    self.context.remark(
                        "nothing-left",
                        rest[0].span.join(rest[-1].span),
                        "the row is already worked to the end here, so no st is left for this",
                    )
                continue
            if need is None or not any(need.values):
                continue
            out[at] = replace(step, target=Target(Reach.LAST, need, "", step.target.span))
        return tuple(out)


def fitted(panel: tuple[Step, ...], over: Num | None) -> tuple[Step, ...]:
    """The steps of a pattern row worked over so many stitches only: an open repeat goes to the
    end of those, not of the row."""
    out: list[Step] = []
    need = uses_of(panel)
    if over is not None and need is not None and not need.sized and need.values[0] > 0:
        size = need.values[0]
        if all(v % size == 0 for v in over.values) and over.values[0] > size:
            return (Repeat(panel, Num(tuple(v // size for v in over.values), over.span), None, over.span),)
    for at, step in enumerate(panel):
        if (
            over is not None
            and isinstance(step, Repeat | Fill)
            and step.target
            and step.target.reach in (Reach.END, Reach.LAST)
        ):
            others = uses_of([*panel[:at], *panel[at + 1 :]])
            if others is not None:
                width = max(len(others.values), len(over.values))
                left = Num(tuple(over.at(i) - others.at(i) for i in range(width)), over.span)
                step = replace(step, target=Target(Reach.OVER, left, "", NOWHERE))
        out.append(step)
    return tuple(out)


def _same(a: Step, b: Step) -> bool:
    return (
        isinstance(a, Work)
        and isinstance(b, Work)
        and a.stitch == b.stitch
        and a.times.values == b.times.values
    )


def _exchange(
    body: tuple[Step, ...], new: tuple[Step, ...], gone: tuple[Step, ...]
) -> tuple[Step, ...] | None:
    """The body with its last run `gone` replaced by `new`; None when it is not there."""
    count = len(gone)
    if not count:
        return None
    for start in range(len(body) - count, -1, -1):
        if all(_same(a, b) for a, b in zip(body[start : start + count], gone, strict=True)):
            return (*body[:start], *new, *body[start + count :])
    if count == 1:
        wanted = gone[0]
        last = body[-1]
        if (
            isinstance(wanted, Work)
            and isinstance(last, Work)
            and wanted.stitch == last.stitch
            and len(last.times.values) == 1 == len(wanted.times.values)
            and last.times.values[0] > wanted.times.values[0]
        ):
            left = Num((last.times.values[0] - wanted.times.values[0],), last.times.span)
            return (*body[:-1], replace(last, times=left), *new)
    return None


def flatten(steps: tuple[Step, ...], most: int = 400) -> Iterator[tuple[Work, int]]:
    """The stitches of steps with fixed numbers, repeats written out (first size)."""
    for step in steps:
        if isinstance(step, Work):
            yield step, min(step.times.values[0], most)
        elif isinstance(step, Repeat) and step.times is not None:
            inner = list(flatten(step.body, most))
            for _ in range(min(step.times.values[0], most)):
                yield from inner


def uses_of(steps: Sequence[Step]) -> Num | None:
    """Stitches a run of steps uses, per size; None when it is not fixed."""
    total: list[int] = [0]

    def add(values: tuple[int, ...]) -> None:
        if len(values) > len(total):
            total.extend([total[-1]] * (len(values) - len(total)))
        for i in range(len(total)):
            total[i] += values[i] if i < len(values) else values[-1]

    for step in steps:
        if isinstance(step, Work):
            add(tuple(step.stitch.uses * v for v in step.times.values))
        elif isinstance(step, Repeat):
            if step.times is None or step.last is not None:
                return None
            inner = uses_of(step.body)
            if inner is None:
                return None
            width = max(len(inner.values), len(step.times.values))
            add(tuple(inner.at(i) * step.times.at(i) for i in range(width)))
        elif isinstance(step, Fill):
            if step.target.reach is not Reach.OVER:
                return None
            add(step.target.n.values)
        elif isinstance(step, Mark | On):
            continue
        else:
            return None
    return Num(tuple(total))
