"""The counts: rows that do not come out, statements that differ."""

from __future__ import annotations

from collections.abc import Iterable

from chartc.checks.case import Case, Group, Trouble
from chartc.checks.words_of import ordinal, sts
from chartc.counting import events as ev
from chartc.findings import Finding, Severity, check

WRONG = Severity.WRONG
DOUBTFUL = Severity.DOUBTFUL
REMARK = Severity.REMARK

THIS = {"": "this row", "r": "this round"}


def this_row(group: Group) -> str:
    row = group.row
    if row is None:
        return "this"
    return "this round" if row.in_round else "this row"


def here(group: Group) -> str:
    """The time through the repeat in which it happens, where that helps."""
    number = group.value("pass")
    return f" in the {ordinal(number)} repeat" if number > 1 else ""


@check(
    "too-few-stitches",
    WRONG,
    "a row takes more stitches than there are",
    family="counts",
    why="The row before leaves fewer stitches than this row works, so the knitter runs out of "
    "stitches before the row is done.",
    wrong="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit.\nRow 2: K4, p6, k3.\n",
    right="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit.\nRow 2: K4, p5, k3.\n",
)
def too_few(case: Case) -> Iterable[Finding]:
    for trouble in case.of_kind(ev.TOO_FEW):
        group = trouble.group
        yield case.trouble("too-few-stitches", trouble, few_words(group))


def few_words(group: Group) -> str:
    this = this_row(group)
    words = group.first.words
    if group.has("b", "takes", "short") and group.value("b") and group.has("least"):
        return (
            f"{this} takes at least {group.plural('takes')} but there are "
            f"{group.number('before')}: {group.plural('short')} too few"
        )
    if group.has("takes", "before", "short") and group.value("takes") > group.value("before"):
        return (
            f"{this} takes {group.plural('takes')} but there {are(group, 'before')}: "
            f"{group.plural('short')} too few{here(group)}"
        )
    if group.has("part", "need") and words in ("marker", "gap", "centre"):
        target = {"marker": "the marker", "gap": "the gap", "centre": "the centre st"}[words]
        return (
            f"there {are(group, 'part')} before {target} here, "
            f"but {group.plural('need')} should be left"
        )
    if group.has("part", "need", "short"):
        return (
            f"there {are(group, 'part')} left here, but the rest of {this} takes "
            f"{group.plural('need')}: {group.plural('short')} too few"
        )
    if group.has("short"):
        before = f" ({group.plural('before')} on the needle)" if group.has("before") else ""
        return f"the sts run out here{here(group)}: {group.plural('short')} too few{before}"
    return "there are not enough sts here"


def are(group: Group, key: str) -> str:
    values = [e.data[key] for e in group.events]
    return f"{'is' if all(v == 1 for v in values) else 'are'} {group.plural(key)}"


@check(
    "too-many-stitches",
    WRONG,
    "stitches are left over at the end of a row",
    family="counts",
    why="The row ends while stitches are still waiting on the left-hand needle.",
    wrong="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit.\nRow 2: K4, p4, k3.\n",
    right="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit.\nRow 2: K4, p5, k3.\n",
)
def too_many(case: Case) -> Iterable[Finding]:
    for trouble in case.of_kind(ev.TOO_MANY):
        yield case.trouble("too-many-stitches", trouble, many_words(trouble.group))


def many_words(group: Group) -> str:
    this = this_row(group)
    verb = "is" if group.value("left") == 1 and len(set(group.number("left"))) == 1 else "are"
    if group.has("takes", "before") and group.value("takes"):
        return (
            f"{this} takes {group.plural('takes')} but there {are(group, 'before')}: "
            f"{group.plural('left')} {verb} left over"
        )
    return f"{group.plural('left')} {verb} left over at the end of {this}"


@check(
    "repeat-does-not-fit",
    WRONG,
    "the stitches are not a whole number of repeats",
    family="counts",
    why="A repeat worked to the end has to come out: the stitches left for it must be a "
    "multiple of what it takes.",
    wrong="Creels\nCast on 13 sts.\nRow 1 (RS): *K2, p2; rep from * to last st, p1.\n"
    "Row 2: Purl.\nRow 3: *K4, p2; rep from * to last st, p1. (13 sts)\n",
    right="Creels\nCast on 13 sts.\nRow 1 (RS): *K2, p2; rep from * to last st, p1.\n"
    "Row 2: Purl.\nRow 3: *K4, p2; rep from * to last st, p1. (13 sts)\n",
)
def misfit(case: Case) -> Iterable[Finding]:
    for trouble in case.of_kind(ev.DOES_NOT_FIT):
        group = trouble.group
        yield case.trouble(
            "repeat-does-not-fit", trouble, misfit_words(group), hint=nearest_words(trouble)
        )


def misfit_words(group: Group) -> str:
    words = group.first.words
    b = group.plural("b") if group.has("b") else "some sts"
    left = group.plural("left")
    if group.has("times", "remainder"):
        return (
            f"the repeat takes {b}; of {group.plural('before')} {left} "
            f"{'is' if left == '1 st' else 'are'} left over after {group.number('times')} times"
        )
    if group.has("part"):
        place = {"marker": " up to the marker", "gap": " up to the gap"}.get(words, "")
        return (
            f"the repeat takes {b} but there {are(group, 'part')} for it{place}: "
            f"{left} {'is' if left == '1 st' else 'are'} left over"
        )
    return f"the repeat takes {b}: {left} {'is' if left == '1 st' else 'are'} left over"


def nearest_words(trouble: Trouble) -> str:
    group = trouble.group
    if len(group.events) == 1 and group.has("above"):
        below = group.value("below")
        above = group.value("above")
        if below:
            return f"{below} or {sts(above)} would fit"
        return f"{sts(above)} would fit"
    return ""


@check(
    "stated-count-differs",
    WRONG,
    "the count stated is not the count worked",
    family="counts",
    why="The text states how many stitches there are, and the rows as written give another "
    "number. One of the two is a slip.",
    wrong="Moorings\nCast on 12 sts.\nRow 1 (RS): K1, k2tog, k to end. (12 sts)\n",
    right="Moorings\nCast on 12 sts.\nRow 1 (RS): K1, k2tog, k to end. (11 sts)\n",
)
def stated(case: Case) -> Iterable[Finding]:
    for trouble in case.of_kind(ev.STATED_DIFFERS):
        yield case.trouble("stated-count-differs", trouble, stated_words(trouble.group))


def stated_words(group: Group) -> str:
    kind = group.first.words
    says = group.plural("stated")
    counted = group.number("counted")
    if kind == "total":
        return f"the text states {says} here, but there are {counted}"
    if kind == "change":
        return f"the text states a change of {says}, but it is {counted}"
    if kind == "repeat":
        return f"the text states {says} in each repeat, but it is {counted}"
    if kind == "side":
        return f"the text states {says} on each side, but there are {counted}"
    if kind == "marker":
        return f"the text states {says} between the markers, but there are {counted}"
    if kind == "held":
        return f"the text states {says} on hold, but there are {counted}"
    return f"the text states {says}, but there are {counted}"
