"""The needles of a materials line."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction

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
    rf"|(?P<far>{NUMBER})\s*-?\s*(?:(?P<cm>cms?\b|centimet(?:re|er)s?\b)"
    rf"|(?P<inch>inch(?:es)?\b|ins?\b\.?|\"|''))"
    r"|(?P<circular>\bcirculars?\b|\bcircs?\b)|(?P<dpn>\bdpns?\b|\bdouble[- ]?point(?:ed|s)?\b)"
    r"|(?P<straight>\bstraights?\b|\bpairs?\b)|(?P<cable>\bcable\s+needles?\b|\bcn\b)"
    r"|(?P<hook>\b(?:crochet\s+)?hooks?\b)|(?P<other>\b(?:tapestry|darning|yarn|sewing)\s+needle)"
    r"|(?P<stop>[;\n]|\.(?=\s)|\band\b|\bplus\b)"
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
    # kinds and lengths printed before the first size of a needle: "60 cm circular needle, 4 mm"
    stopped = False
    for token in _NEEDLE_TOKEN.finditer(plain):
        if token["other"]:
            now, stopped = None, True
            continue
        if token["stop"]:
            stopped = True
            if token["stop"] in ";\n.":
                now = None
            continue
        size = _needle_size(token)
        if size is not None:
            system = size[0]
            held = now is not None and bool(
                now.mm is not None if system == "mm" else getattr(now, system)
            )
            if now is None or held or (stopped and now.sized) or "hook" in now.kinds:
                now = _Needle(plain, token.start(), token.end())
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
                unit: LengthUnit = "cm" if token["cm"] else "in"
                now.lengths.append(Measure(read_number(token["far"]), unit, Span(*token.span())))
            else:
                kind = next(name for group, name in _KINDS.items() if token[group])
                if kind in ("cable", "hook") and now.start != token.start():
                    now = _own_needle(found, now, token, kind, stopped, plain)
                if kind not in now.kinds:
                    now.kinds.append(kind)
        now.end = max(now.end, token.end())
        stopped = False
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


def _own_needle(
    found: list[_Needle],
    now: _Needle,
    token: re.Match[str],
    kind: str,
    stopped: bool,
    plain: str,
) -> _Needle:
    """A cable needle or hook is a thing of its own, unless a size was just given for it."""
    if now.sized and not now.kinds and not now.lengths and (kind == "hook" or not stopped):
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
