"""The needles of a materials line."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise

from chartc.facts.words import LONGEST, Measure, plain_text, shape_of, whole_brackets
from chartc.measures import NUMBER, LengthUnit, read_number, show_number
from chartc.source import Span


@dataclass(frozen=True, slots=True)
class NeedleFact:
    """One needle of a materials line.

    mm        diameter in mm, or None when only a label is printed
    us, uk    the labels printed, in one spelling ("10½"); bare: a number with no system named
    lengths   of circular needles, as printed
    kinds     of "circular", "double-pointed", "straight", "cable", "hook"
    """

    span: Span
    mm: Fraction | None = None
    us: str = ""
    uk: str = ""
    bare: str = ""
    lengths: tuple[Measure, ...] = ()
    kinds: tuple[str, ...] = ()

    @property
    def sized(self) -> bool:
        """A size is printed in some system."""
        return self.mm is not None or bool(self.us or self.uk or self.bare)


@dataclass(frozen=True, slots=True)
class NeedlesFact:
    """The needles of a materials line, in printed order."""

    needles: tuple[NeedleFact, ...]
    span: Span


_LABEL = rf"(?:0{{1,3}}(?![0-9.])|[0-9]/0\b|{NUMBER})"
_NEEDLE_TOKEN = shape_of(
    rf"(?P<mm>(?<![0-9.])[0-9]{{1,2}}(?:[.,][0-9]{{1,2}}|\s?[½¼¾])?)\s*-?\s*mm\b"
    rf"|\bU\.?S\.?A?\.?\s*(?:sizes?|no\.?|nos?\.|\#)?\s*(?P<us>{_LABEL})"
    rf"|\b(?:old\s+)?U\.?K\.?\s*(?:sizes?|no\.?|nos?\.|\#)?\s*(?P<uk>{_LABEL})"
    rf"|\b(?:sizes?|no\.?|nos?\.)\s*:?\s*(?:(?P<sys>U\.?S\.?|U\.?K\.?)\s*)?(?P<bare>{_LABEL})(?!\s*(?:mm|cm))"
    rf"|(?P<back>(?<![0-9.])[0-9]{{1,2}})\s*(?P<back_sys>U\.?S\b\.?|U\.?K\b\.?)"
    rf"|(?P<more>(?:{NUMBER}\s*(?:,|/|\band\b|&|\bor\b)\s*){{1,4}})?"
    rf"(?P<far>{NUMBER})\s*-?\s*(?:(?P<cm>cms?\b|centimet(?:re|er)s?\b)"
    rf"|(?P<inch>inch(?:es)?\b|ins?\b\.?|\"|''))"
    r"|(?P<circular>\bcirculars?\b|\bcircs?\b)|(?P<dpn>\bdpns?\b|\bdouble[- ]?point(?:ed|s)?\b)"
    r"|(?P<straight>\bstraights?\b|\bpairs?\b)|(?P<cable>\bcable\s+needles?\b|\bcn\b)"
    r"|(?P<hook>\b(?:crochet\s+)?hooks?\b)|(?P<other>\b(?:tapestry|darning|yarn|sewing)\s+needle)"
    r"|(?P<needle>\bneedles?\b)|(?P<each>\beach\b)|(?P<stop>[;\n]|\.(?=\s)|\band\b|\bplus\b)"
)


@dataclass
class _Needle:
    plain: str
    start: int
    end: int
    mm: Fraction | None = None
    us: str = ""
    uk: str = ""
    bare: str = ""
    lengths: list[Measure] = field(default_factory=list)
    kinds: list[str] = field(default_factory=list)
    handed: bool = False  # its kind is printed only with the needle after it
    whole: bool = False  # "needles" has been said, or its clause is over: nothing more to come

    @property
    def sized(self) -> bool:
        return self.mm is not None or bool(self.us or self.uk or self.bare)

    def done(self) -> NeedleFact:
        return NeedleFact(
            whole_brackets(self.plain, self.start, self.end), self.mm, self.us, self.uk,
            self.bare, tuple(self.lengths), tuple(self.kinds),
        )  # fmt: skip


def parse_needles(text: str) -> NeedlesFact | None:
    """The needles of a line: '4 mm (US 6) 60 cm circular and set of dpns; 3.25mm/US3'. None
    when no needle is named. Cable needles and crochet hooks are listed with their kind;
    sewing-up needles are left out."""
    plain = plain_text(text[:LONGEST])
    found: list[_Needle] = []
    now: _Needle | None = None
    shared: list[str] = []  # "pair each of 3 mm and 4 mm": a kind for all that follow
    stopped = False
    for token in _NEEDLE_TOKEN.finditer(plain):
        if token["other"]:
            now, stopped = None, True
            continue
        if token["stop"]:
            stopped = True
            if token["stop"] in ";\n.":
                for one in found:
                    one.whole = True
                now, shared = None, []
            continue
        if token["needle"]:
            if now is not None and now.sized:
                now.whole = True
            continue
        if token["each"]:
            shared = list(now.kinds) if now is not None and not now.sized else []
            continue
        size = _needle_size(token)
        if size is not None:
            system = size[0]
            held = now is not None and bool(
                now.mm is not None if system == "mm" else getattr(now, system)
            )
            if now is None or held or (stopped and now.sized) or "hook" in now.kinds:
                now = _Needle(plain, token.start(), token.end(), kinds=list(shared))
                found.append(now)
            if system == "mm":
                now.mm = read_number(size[1].replace(",", "."))
            else:
                setattr(now, system, size[1])
        else:
            if now is None:
                now = _Needle(plain, token.start(), token.end())
                found.append(now)
            if token["far"]:
                now.lengths += _far(token)
            else:
                kind = next(name for group, name in _KINDS.items() if token[group])
                if kind in ("cable", "hook") and now.start != token.start():
                    now = _own_needle(found, now, token, plain)
                if kind not in now.kinds:
                    now.kinds.append(kind)
                if kind in ("circular", "double-pointed", "straight"):
                    _hand_down(found, now, kind)
        now.end = max(now.end, token.end())
        stopped = False
    for one, following in reversed(list(pairwise(found))):
        # "3.5 mm and 4 mm circulars, 40 and 80 cm": the lengths are those of both
        if one.kinds == following.kinds == ["circular"] and one.handed and not one.lengths:
            one.lengths = list(following.lengths)
    listed = tuple(one.done() for one in found if one.sized or one.kinds)
    if not listed:
        return None
    span = Span(min(n.span.start for n in listed), max(n.span.end for n in listed))
    return NeedlesFact(listed, span)


_KINDS = {
    "circular": "circular",
    "dpn": "double-pointed",
    "straight": "straight",
    "cable": "cable",
    "hook": "hook",
}


def _hand_down(found: list[_Needle], now: _Needle, kind: str) -> None:
    """'4 mm and 4.5 mm straights': a kind printed once is that of the needles just before."""
    for one in reversed(found[: found.index(now)]):
        if one.whole or one.kinds or one.lengths or not one.sized or not now.sized:
            break
        one.kinds.append(kind)
        one.handed = True


def _far(token: re.Match[str]) -> list[Measure]:
    """'40, 60 and 80 cm': every length, the unit printed once."""
    unit: LengthUnit = "cm" if token["cm"] else "in"
    lengths = []
    for one in re.finditer(NUMBER, token["more"] or ""):
        span = Span(token.start() + one.start(), token.start() + one.end())
        lengths.append(Measure(read_number(one[0]), unit, span))
    last = Span(token.start("far"), token.end())
    return [*lengths, Measure(read_number(token["far"]), unit, last)]


def _own_needle(found: list[_Needle], now: _Needle, token: re.Match[str], plain: str) -> _Needle:
    """A cable needle or hook is a thing of its own, unless its size stands right before it."""
    if now.sized and not now.kinds and not plain[now.end : token.start()].strip(" )]"):
        return now
    fresh = _Needle(plain, token.start(), token.end())
    found.append(fresh)
    return fresh


def _needle_size(token: re.Match[str]) -> tuple[str, str] | None:
    if token["mm"]:
        return "mm", token["mm"]
    if token["back"]:
        system = (
            "us"
            if token["back_sys"].lower().startswith("u") and "s" in token["back_sys"].lower()
            else "uk"
        )
        return system, plain_label(token["back"])
    for name in ("us", "uk"):
        if token[name]:
            return name, plain_label(token[name])
    if token["bare"]:
        system = (token["sys"] or "").replace(".", "").casefold()
        return system or "bare", plain_label(token["bare"])
    return None


def plain_label(text: str) -> str:
    """A US or UK needle number in one spelling: "10.5", "10 1/2" and "10½" are "10½".

    Zeros are sizes of their own ("0", "00", "000"; "2/0" is "00"); what is no number comes back
    as it stands.
    """
    label = text.strip()
    zeros = re.fullmatch(r"([1-3])/0", label)
    if zeros is not None:
        return "0" * int(zeros[1])
    if re.fullmatch(r"0{1,3}", label):
        return label
    try:
        return show_number(read_number(label))
    except ValueError:
        return label
