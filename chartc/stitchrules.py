"""Stitches given by rule rather than by list: n together, repeated yarn overs, cables.

`RULES` holds the builders that [rules], [rules_counted] and [rules_held] of
grammar/stitches.toml name; each takes the numbers of the phrase and gives the stitch, or
None when no such stitch can be worked. `from_key` builds a stitch from its key ("k5tog").

Cables: the strands in front are counted first ("2/1 LPC": two knit strands cross to the left
in front of one purl strand), as cable names in print do.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Literal, NamedTuple

from chartc.stitch import HeadForm, Lean, Stitch

Build = Callable[[tuple[int, ...]], Stitch | None]
Way = Literal["plain", "tbl", "slipped", "turned"]

MOST_TOGETHER = 20  # stitches worked as one
MOST_YARN_OVERS = 12
MOST_NUPP = 25
MOST_WRAPS = 12
MOST_CROSSED = 24  # strands of one group of a cable

COMMON = "common practice, no source"

_NAMES = (
    *("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"),
    *("eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen"),
    *("eighteen", "nineteen", "twenty"),
)


SWAPPED: dict[HeadForm, HeadForm] = {
    "k": "p",
    "p": "k",
    "ktbl": "ptbl",
    "ptbl": "ktbl",
    "yo": "yo",
    "sl": "slf",
    "slf": "sl",
    "m": "mp",
    "mp": "m",
}
"""What a loop looks like from the other side."""


NUMBER_WORDS: dict[str, str] = {name: str(number) for number, name in enumerate(_NAMES) if number}
"""one -> "1" ... twenty -> "20"."""


def number_word(number: int) -> str:
    """The number in words up to twenty, in digits beyond."""
    return _NAMES[number] if 0 <= number < len(_NAMES) else str(number)


def _alike(form: HeadForm, number: int) -> tuple[HeadForm, ...]:
    return (form,) * number


def _stitches(number: int) -> str:
    return "one stitch" if number == 1 else f"{number_word(number)} stitches"


# ------------------------------------------------------------------ together


def _together_key(number: int, letter: str, way: Way) -> str:
    if way == "slipped":
        return "s" * number + letter
    return f"{letter}{number}tog" + {"plain": "", "tbl": "tbl", "turned": "turned"}[way]


def together(number: int, purl: bool = False, way: Way = "plain") -> Stitch | None:
    """So many stitches worked together as one.

    way   plain: as they are; tbl: through the back loops; slipped: slipped one by one as if to
          knit first, as in ssk; turned: each turned on the needle first, the mirror image of tbl
    """
    if not 2 <= number <= MOST_TOGETHER:
        return None
    letter, verb = ("p", "purl") if purl else ("k", "knit")
    other = "k" if purl else "p"
    count = number_word(number)
    mirrored: dict[Way, Way] = {
        "plain": "slipped",
        "slipped": "plain",
        "tbl": "turned",
        "turned": "tbl",
    }
    twisted = way in ("tbl", "turned")
    head: HeadForm = ("ptbl" if purl else "ktbl") if twisted else ("p" if purl else "k")
    forward = tuple(range(number))
    to_right = way in ("plain", "turned")
    key = _together_key(number, letter, way)
    if way == "plain":
        title = f"{verb} {count} together"
        how = f"{verb.capitalize()} the next {count} stitches together as one."
        like = ""
    elif way == "tbl":
        title = f"{verb} {count} together through the back loops"
        how = f"{verb.capitalize()} the next {count} stitches together through their back loops."
        like = ""
    elif way == "slipped":
        title = f"slip {count}, {verb} them together"
        back = ", hand them back" if purl else ""
        how = (
            f"Slip {count} stitches one after the other as if to knit{back},"
            f" and {verb} them together through their back loops."
        )
        like = f"{letter}{number}togtbl" if number > 3 else ""
    else:
        title = f"{verb} {count} together, each twisted to the right"
        how = (
            f"Turn each of the next {count} stitches half round on the needle, from right to"
            f" left, and {verb} them together as one."
        )
        like = f"{letter}{number}tog"
    printed = {
        "plain": key,
        "tbl": f"{letter}{number}tog tbl",
        "slipped": key if number < 4 else f"s{number}{letter}",
        "turned": f"{letter}{number}tog turned",
    }[way]
    return Stitch(
        key=key,
        uses=number,
        makes=1,
        kind="decrease",
        heads=(head,),
        front=forward[::-1] if to_right else forward,
        lean="right" if to_right else "left",
        title=title,
        us=printed,
        uk=printed,
        how=how,
        twin=_together_key(number, other, way),
        mirror=_together_key(number, letter, mirrored[way]),
        source=COMMON,
        like=like,
    )


def _together(purl: bool, way: Way) -> Build:
    def build(numbers: tuple[int, ...]) -> Stitch | None:
        return together(numbers[0], purl, way) if len(set(numbers)) == 1 else None

    return build


# ------------------------------------------------------------------ yarn overs, wraps, nupps


def yarn_overs(number: int) -> Stitch | None:
    """So many yarn overs side by side; made at once, they are so many loops (2: a double)."""
    if not 1 <= number <= MOST_YARN_OVERS:
        return None
    count = number_word(number)
    key = "yo" if number == 1 else f"yo{number}"
    printed = {1: "yo", 2: "yo twice"}.get(number, f"yo {number} times")
    return Stitch(
        key=key,
        uses=0,
        makes=number,
        kind="yarn over",
        heads=_alike("yo", number),
        title={1: "yarn over", 2: "double yarn over"}.get(number, f"yarn over {count} times"),
        us=printed,
        uk=printed,
        how=f"Wrap the yarn {count} times round the right needle, which leaves {count} loops.",
        twin=key,
        mirror=key,
        source=COMMON,
    )


def elongated(wraps: int, purl: bool = False) -> Stitch | None:
    """A stitch worked with the yarn so many times round the needle; counts as one, since the
    extra wraps are let go on the next row."""
    if not 2 <= wraps <= MOST_WRAPS:
        return None
    letter, verb = ("p", "purl") if purl else ("k", "knit")
    times = {2: "twice"}.get(wraps, f"{number_word(wraps)} times")
    printed = {2: "twice"}.get(wraps, f"{wraps} times")
    key = f"{letter}1w{wraps}"
    return Stitch(
        key=key,
        uses=1,
        makes=1,
        kind="plain",
        heads=("p" if purl else "k",),
        front=(0,),
        wraps=wraps - 1,
        title=f"{verb}, wrapping the yarn {times}",
        us=f"{letter}1 wrapping yarn {printed}",
        uk=f"{letter}1 wrapping yarn {printed}",
        counted=f"{letter}# wrapping yarn {printed}",
        how=(
            f"{verb.capitalize()} the stitch with the yarn {times} round the needle;"
            " on the next row let the extra wraps go."
        ),
        twin=f"{'k' if purl else 'p'}1w{wraps}",
        mirror=key,
        source=COMMON,
    )


def nupp(loops: int) -> Stitch | None:
    """A nupp: so many loops out of one stitch, to be taken together on the next row."""
    if not (3 <= loops <= MOST_NUPP and loops % 2):
        return None
    heads: tuple[HeadForm, ...] = tuple("yo" if place % 2 else "k" for place in range(loops))
    key = f"nupp{loops}"
    return Stitch(
        key=key,
        uses=1,
        makes=loops,
        kind="bobble",
        heads=heads,
        front=(0,),
        title=f"{loops}-stitch nupp",
        us=f"{loops}-st nupp",
        uk=f"{loops}-st nupp",
        how=(
            f"Knit and yarn over by turns into one stitch, very loosely, until there are"
            f" {number_word(loops)} loops; they are taken together again on the next row."
        ),
        mirror=key,
        source=COMMON,
    )


def bobble(loops: int) -> Stitch | None:
    """A bobble of so many stitches, finished in the row: one stitch in, one out."""
    if not 2 <= loops <= MOST_NUPP:
        return None
    key = f"mb{loops}"
    return Stitch(
        key=key,
        uses=1,
        makes=1,
        kind="bobble",
        heads=("k",),
        front=(0,),
        extra=("bobble",),
        title=f"{loops}-stitch bobble",
        us=f"{loops}-st bobble",
        uk=f"{loops}-st bobble",
        how=(
            f"Make {number_word(loops)} stitches out of one, work back and forth on them, and"
            " take them together again, as the pattern explains."
        ),
        mirror=key,
        source=COMMON,
        asks="how the bobble is worked",
    )


# ------------------------------------------------------------------ slipped stitches passed over


def pass_over(number: int, purl: bool = False) -> Stitch | None:
    """Slip one, work so many, pass the slipped stitch over them all: uses one more than it
    makes."""
    if not 2 <= number <= MOST_TOGETHER:
        return None
    letter, verb = ("p", "purl") if purl else ("k", "knit")
    count = number_word(number)
    key = f"s{letter}{number}pass"
    printed = f"sl 1, {letter}{number}, psso"
    head: HeadForm = "p" if purl else "k"
    return Stitch(
        key=key,
        uses=number + 1,
        makes=number,
        kind="decrease",
        heads=_alike(head, number),
        front=(1, 0, *range(2, number + 1)) if purl else tuple(range(number + 1)),
        lean="left",
        extra=("pass",),
        title=f"slip one, {verb} {count}, pass the slipped stitch over",
        us=printed,
        uk=printed,
        how=(
            f"Slip one stitch, {verb} the next {count}, and lift the slipped stitch over all of"
            " them."
        ),
        source=COMMON,
    )


def slipped_over(slipped: int, number: int) -> Stitch | None:
    """Slip some together as if to knit, knit `number` together (1: knit one), and pass the
    slipped ones over: a decrease to one stitch."""
    if slipped < 1 or number < 1 or not 2 <= slipped + number <= MOST_TOGETHER:
        return None
    if (slipped, number) in _LISTED_PASSES:
        return None
    lifted = tuple(reversed(range(slipped)))
    under = tuple(reversed(range(slipped, slipped + number)))
    middle = (slipped + number - 1) / 2
    lean: Lean = "centre" if lifted[0] == middle else "left" if lifted[0] < middle else "right"
    worked = "the next" if number == 1 else f"the next {number_word(number)} together"
    many = slipped > 1
    printed = (
        f"sl {slipped}{' tog kwise' if many else ''}, k{number}{'tog' if number > 1 else ''},"
        f" {f'p{slipped}sso' if many else 'psso'}"
    )
    over = f"all {number_word(slipped)} slipped stitches" if many else "the slipped stitch"
    return Stitch(
        key=f"s{slipped}k{number}p",
        uses=slipped + number,
        makes=1,
        kind="decrease",
        heads=("k",),
        front=lifted + under,
        lean=lean,
        title=(
            f"slip {number_word(slipped)}, knit {number_word(number)}"
            f"{' together' if number > 1 else ''}, pass the slipped over"
        ),
        us=printed,
        uk=printed,
        how=(
            f"Slip {_stitches(slipped)}{' together' if many else ''} as if to knit, knit {worked},"
            f" and lift {over} over."
        ),
        source=COMMON,
    )


_LISTED_PASSES = {(1, 1): "skp", (1, 2): "sk2p", (2, 1): "s2kp"}


def _pass_over(purl: bool) -> Build:
    def build(numbers: tuple[int, ...]) -> Stitch | None:
        return pass_over(numbers[0], purl) if len(set(numbers)) == 1 else None

    return build


def _pass_more_over(numbers: tuple[int, ...]) -> Stitch | None:
    slipped, number, *passed = numbers
    return slipped_over(slipped, number) if slipped > 1 and set(passed) <= {slipped} else None


def _pass_more_over_knit(numbers: tuple[int, ...]) -> Stitch | None:
    slipped, *passed = numbers
    return slipped_over(slipped, 1) if slipped > 1 and set(passed) <= {slipped} else None


def pass_yarn_over(number: int) -> Stitch | None:
    """Yarn over, knit so many, pass the yarn over over them: the count stays."""
    if not 1 <= number <= MOST_TOGETHER:
        return None
    count = number_word(number)
    key = f"yok{number}pass"
    return Stitch(
        key=key,
        uses=number,
        makes=number,
        kind="plain",
        heads=_alike("k", number),
        front=tuple(range(number)),
        extra=("pass",),
        title=f"yarn over, knit {count}, pass the yarn over over",
        us=f"yo, k{number}, pass yo over",
        uk=f"yo, k{number}, pass yo over",
        how=f"Yarn over, knit the next {count}, and lift the yarn over over what was knitted.",
        source=COMMON,
    )


# ------------------------------------------------------------------ cables

_FORMS: dict[HeadForm, str] = {"k": "k", "p": "p", "ktbl": "k tbl", "ptbl": "p tbl"}


def cable(
    in_front: int,
    behind: int,
    left: bool,
    front_form: HeadForm = "k",
    behind_form: HeadForm = "k",
    middle: int = 0,
    middle_form: HeadForm = "k",
) -> Stitch | None:
    """A cable: `in_front` strands cross to the left or right in front of `behind` strands;
    `middle` strands keep their place between them, behind the front ones."""
    if not (1 <= in_front <= MOST_CROSSED and 1 <= behind <= MOST_CROSSED):
        return None
    if not 0 <= middle <= MOST_CROSSED:
        return None
    total = in_front + middle + behind
    if left:
        first, centre = in_front, range(in_front, in_front + middle)
        strands = (*range(first + middle, total), *centre, *range(first))
        over = frozenset(range(first))
        heads = (behind_form,) * behind + (middle_form,) * middle + (front_form,) * in_front
    else:
        first, centre = behind, range(behind, behind + middle)
        strands = (*range(first + middle, total), *centre, *range(first))
        over = frozenset(range(first + middle, total))
        heads = (front_form,) * in_front + (middle_form,) * middle + (behind_form,) * behind
    forms = (front_form, middle_form, behind_form) if middle else (front_form, behind_form)
    counts = (in_front, middle, behind) if middle else (in_front, behind)
    key = _cable_key(counts, left, forms)
    printed = _cable_print(counts, left, forms)
    turned_forms = tuple(SWAPPED[form] for form in reversed(forms))
    side, way = ("front", "left") if left else ("back", "right")
    held = in_front if left else behind
    worked = behind if left else in_front
    worked_form = behind_form if left else front_form
    held_form = front_form if left else behind_form
    if middle:
        how = (
            f"Hold {_stitches(held)} on a cable needle at the {side} and the next"
            f" {_stitches(middle)} on another at the back, {_verb(worked_form, worked)}, then"
            f" {_verb(middle_form, middle)} from the second and {_verb(held_form, held)} from"
            " the first."
        )
    else:
        how = (
            f"Hold {_stitches(held)} on a cable needle at the {side}, {_verb(worked_form, worked)},"
            f" then {_verb(held_form, held)} from the cable needle."
        )
    title = (
        f"{number_word(in_front)} {_strand(front_form, in_front)} crossed to the {way} over"
        f" {number_word(behind)} {_strand(behind_form, behind)}"
    )
    if middle:
        title += f", {number_word(middle)} {_strand(middle_form, middle)} between"
    return Stitch(
        key=key,
        uses=total,
        makes=total,
        kind="cable",
        heads=heads,
        front=(*sorted(over), *(index for index in range(total) if index not in over)),
        strands=strands,
        over=over,
        lean="left" if left else "right",
        title=title,
        us=printed,
        uk=printed,
        how=how,
        twin=_cable_key(tuple(reversed(counts)), left, turned_forms),
        mirror=_cable_key(counts, not left, forms),
        source=COMMON,
    )


def _verb(form: HeadForm, number: int) -> str:
    word = "knit" if form in ("k", "ktbl") else "purl"
    through = " through the back loop" if form.endswith("tbl") else ""
    return f"{word} {number_word(number)}{through}"


def _strand(form: HeadForm, number: int) -> str:
    word = {"k": "knit", "p": "purl", "ktbl": "twisted knit", "ptbl": "twisted purl"}[form]
    return word if number == 1 else f"{word} stitches"


def _cable_key(counts: tuple[int, ...], left: bool, forms: tuple[HeadForm, ...]) -> str:
    letter = "l" if left else "r"
    if len(counts) == 2 and forms == ("k", "k") and counts[0] == counts[1]:
        if counts[0] == 1:
            return f"{letter}t"
        return f"c{2 * counts[0]}{'f' if left else 'b'}"
    head = "/".join(str(count) for count in counts) + letter
    if all(form == "k" for form in forms):
        return head + "c"
    if forms in (("k", "p"), ("k", "p", "k")):
        return head + "pc"
    return f"{head}c({','.join(forms)})"


def _cable_print(counts: tuple[int, ...], left: bool, forms: tuple[HeadForm, ...]) -> str:
    key = _cable_key(counts, left, forms)
    if "/" not in key:
        return key.upper()
    letter = "L" if left else "R"
    head = "/".join(str(count) for count in counts) + f" {letter}"
    if all(form == "k" for form in forms):
        return head + "C"
    if forms in (("k", "p"), ("k", "p", "k")):
        return head + "PC"
    if forms == ("ktbl", "p"):
        return head + "PC tbl"
    if forms == ("ktbl", "ktbl"):
        return head + "C tbl"
    return head + "C " + " over ".join(_FORMS[form] for form in forms)


def _even_cable(left: bool, front_form: HeadForm, behind_form: HeadForm) -> Build:
    """C4F, T3B: the number is that of all strands; of an odd number more lie in front."""

    def build(numbers: tuple[int, ...]) -> Stitch | None:
        (total,) = numbers
        if total < 2:
            return None
        return cable((total + 1) // 2, total // 2, left, front_form, behind_form)

    return build


def _cross(left: bool, front_form: HeadForm, behind_form: HeadForm) -> Build:
    def build(numbers: tuple[int, ...]) -> Stitch | None:
        return cable(numbers[0], numbers[1], left, front_form, behind_form)

    return build


def _cross_three(
    left: bool,
    front_form: HeadForm = "k",
    middle_form: HeadForm = "k",
    behind_form: HeadForm = "k",
) -> Build:
    def build(numbers: tuple[int, ...]) -> Stitch | None:
        front, middle, behind = numbers
        if not middle:
            return None
        return cable(front, behind, left, front_form, behind_form, middle, middle_form)

    return build


def held(left: bool, worked_form: HeadForm, held_form: HeadForm) -> Build:
    """ "sl a to cn, hold in front, k b, k c from cn": a cable if a is c."""

    def build(numbers: tuple[int, ...]) -> Stitch | None:
        held_number, worked, from_needle = numbers
        if held_number != from_needle:
            return None
        if left:
            return cable(held_number, worked, True, held_form, worked_form)
        return cable(worked, held_number, False, worked_form, held_form)

    return build


class FormedRule(NamedTuple):
    """A rule of [rules_formed]: the word its phrases cannot do without, what follows k or p in
    the wording of a group of strands, and the builder for the forms of the groups in the order
    they are named."""

    needs: str
    counted: str
    build: Callable[[tuple[HeadForm, ...]], Build]


FORMED_RULES: dict[str, FormedRule] = {
    "held_front": FormedRule("cn", " #", lambda forms: held(True, *forms)),
    "held_back": FormedRule("cn", " #", lambda forms: held(False, *forms)),
    "over_left": FormedRule("over", "", lambda forms: _cross(True, *forms)),
    "over_right": FormedRule("over", "", lambda forms: _cross(False, *forms)),
    "over_left_three": FormedRule("over", "", lambda forms: _cross_three(True, *forms)),
    "over_right_three": FormedRule("over", "", lambda forms: _cross_three(False, *forms)),
}


def form_words(form: HeadForm, counted: str) -> str:
    """How a group of strands is worded: "k #", "p # tbl"; without `counted` "k", "p tbl"."""
    return form[0] + counted + (" tbl" if form.endswith("tbl") else "")


RULES: dict[str, Build] = {
    "k_together": _together(False, "plain"),
    "p_together": _together(True, "plain"),
    "k_together_tbl": _together(False, "tbl"),
    "p_together_tbl": _together(True, "tbl"),
    "k_slipped": _together(False, "slipped"),
    "p_slipped": _together(True, "slipped"),
    "k_slipped_spelled": _together(False, "slipped"),
    "k_turned": _together(False, "turned"),
    "p_turned": _together(True, "turned"),
    "yarn_overs": lambda numbers: yarn_overs(numbers[0]),
    "yo_thrice": lambda numbers: yarn_overs(3),
    "pass_over_knits": _pass_over(False),
    "pass_over_purls": _pass_over(True),
    "pass_over_together": lambda numbers: slipped_over(1, numbers[0]),
    "pass_more_over": _pass_more_over,
    "pass_more_over_knit": _pass_more_over_knit,
    "pass_yarn_over": lambda numbers: (
        pass_yarn_over(numbers[0]) if len(set(numbers)) == 1 else None
    ),
    "nupp_of": lambda numbers: nupp(numbers[0]),
    "bobble_of": lambda numbers: bobble(numbers[0]),
    "cable_front": _even_cable(True, "k", "k"),
    "cable_back": _even_cable(False, "k", "k"),
    "cable_front_purl": _even_cable(True, "k", "p"),
    "cable_back_purl": _even_cable(False, "k", "p"),
    "cable_front_tbl": _even_cable(True, "ktbl", "ktbl"),
    "cable_back_tbl": _even_cable(False, "ktbl", "ktbl"),
    "cable_front_purl_tbl": _even_cable(True, "ktbl", "p"),
    "cable_back_purl_tbl": _even_cable(False, "ktbl", "p"),
    "cross_left_st": _even_cable(True, "k", "k"),
    "cross_right_st": _even_cable(False, "k", "k"),
    "cross_left_purl_st": _even_cable(True, "k", "p"),
    "cross_right_purl_st": _even_cable(False, "k", "p"),
    "twist_right": lambda numbers: cable(1, 1, False),
    "twist_left": lambda numbers: cable(1, 1, True),
    "twist_right_purl": lambda numbers: cable(1, 1, False, "k", "p"),
    "twist_left_purl": lambda numbers: cable(1, 1, True, "k", "p"),
    "k_wrapping": lambda numbers: elongated(numbers[1]),
    "k_wrapping_2": lambda numbers: elongated(2),
    "k_wrapping_3": lambda numbers: elongated(3),
    "p_wrapping": lambda numbers: elongated(numbers[1], purl=True),
    "p_wrapping_2": lambda numbers: elongated(2, purl=True),
    "p_wrapping_3": lambda numbers: elongated(3, purl=True),
}
for _side, _left in (("left", True), ("right", False)):
    RULES[f"cross_{_side}_three"] = _cross_three(_left)
    RULES[f"cross_{_side}_purl_three"] = _cross_three(_left, middle_form="p")
    RULES[f"cross_{_side}"] = _cross(_left, "k", "k")
    RULES[f"cross_{_side}_purl"] = _cross(_left, "k", "p")
    RULES[f"cross_{_side}_tbl"] = _cross(_left, "ktbl", "ktbl")
    RULES[f"cross_{_side}_purl_tbl"] = _cross(_left, "ktbl", "p")


# ------------------------------------------------------------------ keys

_WAYS: dict[str, Way] = {"": "plain", "tbl": "tbl", "turned": "turned"}
_IS_FORM = r"(k|p|ktbl|ptbl)"


def _key_cable(counts: str, letter: str, kind: str, forms: str | None) -> Stitch | None:
    numbers = [int(count) for count in counts.split("/")]
    left = letter == "l"
    named: list[HeadForm] = [
        form for word in (forms or "").split(",") for form in _FORMS if form == word
    ]
    if kind == "pc":
        named = ["k", "p"] if len(numbers) == 2 else ["k", "p", "k"]
    elif not forms:
        named = ["k"] * len(numbers)
    if len(named) != len(numbers):
        return None
    if len(numbers) == 2:
        return cable(numbers[0], numbers[1], left, named[0], named[1])
    return cable(numbers[0], numbers[2], left, named[0], named[2], numbers[1], named[1])


# compiled when first asked for: most patterns need none
_KEYS: tuple[tuple[str, Callable[..., Stitch | None]], ...] = (
    (
        r"([kp])(\d{1,2})tog(|tbl|turned)",
        lambda letter, number, way: together(int(number), letter == "p", _WAYS[way]),
    ),
    (
        r"(s{2,})([kp])",
        lambda slips, letter: together(len(slips), letter == "p", "slipped"),
    ),
    (r"yo(\d{1,2})", lambda number: yarn_overs(int(number))),
    (
        r"([kp])1w(\d{1,2})",
        lambda letter, wraps: elongated(int(wraps), letter == "p"),
    ),
    (r"nupp(\d{1,2})", lambda number: nupp(int(number))),
    (r"mb(\d{1,2})", lambda number: bobble(int(number))),
    (
        r"s([kp])(\d{1,2})pass",
        lambda letter, number: pass_over(int(number), letter == "p"),
    ),
    (
        r"s(\d{1,2})k(\d{1,2})p",
        lambda slipped, number: slipped_over(int(slipped), int(number)),
    ),
    (r"yok(\d{1,2})pass", lambda number: pass_yarn_over(int(number))),
    (r"([lr])t", lambda letter: cable(1, 1, letter == "l")),
    (
        r"c(\d{1,2})([fb])",
        lambda number, side: RULES["cable_front" if side == "f" else "cable_back"]((int(number),)),
    ),
    (
        r"t(\d{1,2})([fb])",
        lambda number, side: RULES["cable_front_purl" if side == "f" else "cable_back_purl"](
            (int(number),)
        ),
    ),
    (
        (
            rf"(\d{{1,2}}(?:/\d{{1,2}}){{1,2}})([lr])(pc|c)"
            rf"(?:\(({_IS_FORM}(?:,{_IS_FORM}){{1,2}})\))?"
        ),
        lambda counts, letter, kind, forms, *_: _key_cable(counts, letter, kind, forms),
    ),
)


def from_key(key: str) -> Stitch | None:
    """The rule-made stitch of that key ("k5tog", "c6f", "2/1lpc", "yo3"), or None."""
    for pattern, build in _KEYS:
        parts = re.fullmatch(pattern, key)
        if parts is not None:
            return build(*parts.groups())
    return None
