"""What a trouble of the counts says, in trade words with exact numbers."""

from __future__ import annotations

from chartc.checks.troubles import Group
from chartc.checks.words_of import ordinal, sts
from chartc.counting import events as ev

# the check a kind of event is told by
CHECKS = {
    ev.TOO_FEW: "too-few-stitches", ev.TOO_MANY: "too-many-stitches",
    ev.DOES_NOT_FIT: "repeat-does-not-fit", ev.USES_NOTHING: "repeat-uses-nothing",
    ev.MARKER_LEFT_OVER: "marker-misplaced", ev.MARKER_PASSED: "marker-misplaced",
    ev.NO_MARKER: "no-such-place", ev.NO_GAP: "no-such-place", ev.NO_CENTRE: "no-such-place",
    ev.PAST_TARGET: "count-never-reached", ev.STEPPED_OVER: "count-never-reached",
    ev.NEVER_ENDS: "count-never-reached", ev.LEFT_DIFFERS: "unworked-count-differs",
    ev.CANNOT_SPREAD: "shaping-does-not-fit", ev.NEGATIVE: "shaping-does-not-fit",
    ev.HELD_TOO_FEW: "held-count-differs", ev.NO_STITCHES: "no-stitches",
    ev.STATED_DIFFERS: "stated-count-differs", ev.TOO_BIG: "more-than-a-needle-holds",
    ev.NET_ON_REPETITION: "rows-do-not-come-back",
}  # fmt: skip


def trouble_words(group: Group) -> str:
    """The message of a trouble, without the sizes."""
    kind = group.kind
    words = group.first.words
    if kind == ev.TOO_FEW:
        return _few(group)
    if kind == ev.TOO_MANY:
        return _many(group)
    if kind == ev.DOES_NOT_FIT:
        return _misfit(group)
    if kind == ev.STATED_DIFFERS:
        return _stated(group)
    if kind == ev.USES_NOTHING:
        return "this repeat takes no st, so it never comes to the end"
    if kind == ev.MARKER_LEFT_OVER:
        return f"{_is(group, 'left')} left before the marker here"
    if kind == ev.MARKER_PASSED:
        return f"the marker is passed too soon: {_is(group, 'over')} already worked beyond it"
    if kind == ev.NO_MARKER:
        return f"there is no marker {words + ' ' if words else ''}ahead here"
    if kind == ev.NO_GAP:
        return "there is no gap ahead here: no turn has left one"
    if kind == ev.NO_CENTRE:
        count = f" on {group.plural('before')}" if group.has("before") else ""
        return f"there is no centre st{count}: the number is even"
    if kind == ev.PAST_TARGET:
        return (
            f"{_is(group, 'on')} on the right-hand needle already, more than the "
            f"{group.number('need')} to go on to"
        )
    if kind == ev.STEPPED_OVER:
        return (
            f"there are never {group.plural('target')}: the count goes from "
            f"{group.number('before')} to {group.number('after')}"
        )
    if kind == ev.NEVER_ENDS:
        if group.value("change"):
            return (
                f"there are {group.plural('count')} and each time changes them by "
                f"{group.number('change')}, so there are never {group.number('target')}"
            )
        return f"the count stays at {group.plural('count')}, so there are never {group.number('target')}"
    if kind == ev.LEFT_DIFFERS:
        return (
            f"the text leaves {group.plural('stated')} unworked here, but {_is(group, 'counted')} left"
        )
    if kind == ev.CANNOT_SPREAD:
        have = f" on {group.plural('part')}" if group.has("part") else ""
        return f"so much shaping cannot be worked{have}"
    if kind == ev.NEGATIVE:
        return (
            f"of {group.plural('before')} the shaping takes more than there are "
            f"({group.number('times')} times {group.number('by')})"
        )
    if kind == ev.HELD_TOO_FEW:
        return f"{group.plural('need')} are taken from the holder, but {_is(group, 'have')} on it"
    if kind == ev.NO_STITCHES:
        return "no st is on the needle here: all are bound off or put aside"
    if kind == ev.TOO_BIG:
        return f"there would be {group.plural('count')} here, more than any needle holds"
    if kind == ev.NET_ON_REPETITION:
        change = group.value("change")
        word = "gain" if change > 0 else "lose"
        return f"these rows {word} {sts(abs(change))} each time, so they cannot be worked again as they stand"
    return "this does not come out"


def nearest_words(group: Group) -> str:
    """The numbers that would fit, where one size is concerned."""
    if len(group.events) == 1 and group.kind == ev.DOES_NOT_FIT and group.has("above"):
        below, above = group.value("below"), group.value("above")
        return f"{below} or {sts(above)} would fit" if below else f"{sts(above)} would fit"
    return ""


def _this(group: Group) -> str:
    row = group.row
    if row is None:
        return "this"
    return "this round" if row.in_round else "this row"


def _here(group: Group) -> str:
    number = group.value("pass")
    return f" in the {ordinal(number)} repeat" if number > 1 else ""


def _is(group: Group, key: str) -> str:
    """ "1 st is", "3 sts are"."""
    return f"{group.plural(key)} {'is' if _one(group, key) else 'are'}"


def _are(group: Group, key: str) -> str:
    """ "is 1 st", "are 3 sts"."""
    return f"{'is' if _one(group, key) else 'are'} {group.plural(key)}"


def _one(group: Group, key: str) -> bool:
    return all(e.data[key] == 1 for e in group.events)


def _few(group: Group) -> str:
    this = _this(group)
    words = group.first.words
    if words in ("marker", "gap", "centre") and group.has("part", "need"):
        target = {"marker": "the marker", "gap": "the gap", "centre": "the centre st"}[words]
        return f"there {_are(group, 'part')} before {target} here, but {group.number('need')} should be left"
    if group.has("takes", "before", "short") and group.value("takes") > group.value("before"):
        least = "at least " if group.value("b") else ""
        return (
            f"{this} takes {least}{group.plural('takes')} but there {_are(group, 'before')}: "
            f"{group.number('short')} too few{_here(group)}"
        )
    if group.has("part", "need", "short"):
        return (
            f"there {_are(group, 'part')} left here, but the rest of {this} takes "
            f"{group.number('need')}: {group.number('short')} too few"
        )
    if group.has("part", "b", "short"):
        return (
            f"there {_are(group, 'part')} for this, and it takes {group.number('b')}: "
            f"{group.number('short')} too few"
        )
    if group.has("short"):
        before = f" of the {group.number('before')} on the needle" if group.has("before") else ""
        return f"the sts{before} run out here{_here(group)}: {group.number('short')} too few"
    return "there are not enough sts here"


def _many(group: Group) -> str:
    this = _this(group)
    if group.has("takes", "before") and group.value("takes"):
        return (
            f"{this} takes {group.plural('takes')} but there {_are(group, 'before')}: "
            f"{group.number('left')} left over"
        )
    return f"{_is(group, 'left')} left over at the end of {this}"


def _misfit(group: Group) -> str:
    words = group.first.words
    takes = group.plural("b") if group.has("b") else "some sts"
    left = _is(group, "left")
    if group.has("times", "remainder"):
        return (
            f"the repeat takes {takes}; of {group.plural('before')} {left} left over after "
            f"{group.number('times')} times"
        )
    if group.has("part"):
        place = {"marker": " up to the marker", "gap": " up to the gap"}.get(words, "")
        return (
            f"the repeat takes {takes} but there {_are(group, 'part')} for it{place}: "
            f"{group.number('left')} left over"
        )
    return f"the repeat takes {takes}: {left} left over"


def _stated(group: Group) -> str:
    kind = group.first.words
    says = group.plural("stated")
    counted = group.number("counted")
    if kind == "total":
        return f"the text states {says} here, but there are {counted}"
    if kind == "change":
        return f"the text states a change of {says}, but it is {counted}"
    if kind == "repeat":
        return f"the text states a change of {says} in each repeat, but it is {counted}"
    if kind == "side":
        return f"the text states {says} on each side, but there are {counted}"
    if kind == "marker":
        return f"the text states {says} between the markers, but there are {counted}"
    if kind == "held":
        return f"the text states {says} on hold, but there are {counted}"
    return f"the text states {says}, but there are {counted}"
