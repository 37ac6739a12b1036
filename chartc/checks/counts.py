"""The counts: rows that do not come out, statements that differ."""

from __future__ import annotations

from collections.abc import Iterable

from chartc.checks.case import Case
from chartc.checks.telling import nearest_words, trouble_words
from chartc.counting import events as ev
from chartc.findings import Finding, Severity, check, found

WRONG = Severity.WRONG
DOUBTFUL = Severity.DOUBTFUL
REMARK = Severity.REMARK


def tell(case: Case, name: str) -> Iterable[Finding]:
    """The troubles that go by a name."""
    for trouble in case.troubles:
        if trouble.check == name:
            words = trouble.words or trouble_words(trouble.group)
            yield case.trouble(name, trouble, words, nearest_words(trouble.group))


@check(
    "too-few-stitches",
    WRONG,
    "a row takes more stitches than there are",
    family="counts",
    why="The row before leaves fewer stitches than this row works, so the knitter runs out of "
    "stitches before the row is done.",
    wrong="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit.\nRow 2: K4, p6, k3.\nRow 3: K12.\n",
    right="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit.\nRow 2: K4, p5, k3.\nRow 3: K12.\n",
)
def too_few(case: Case) -> Iterable[Finding]:
    return tell(case, "too-few-stitches")


@check(
    "too-many-stitches",
    WRONG,
    "stitches are left over at the end of a row",
    family="counts",
    why="The row ends while stitches are still waiting on the left-hand needle.",
    wrong="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit.\nRow 2: K4, p4, k3.\nRow 3: K12.\n",
    right="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit.\nRow 2: K4, p5, k3.\nRow 3: K12.\n",
)
def too_many(case: Case) -> Iterable[Finding]:
    return tell(case, "too-many-stitches")


@check(
    "repeat-does-not-fit",
    WRONG,
    "the stitches are not a whole number of repeats",
    family="counts",
    why="A repeat worked to the end has to come out: the stitches left for it must be a "
    "multiple of what it takes.",
    wrong="Creels\nCast on 31 sts.\nRow 1 (RS): K1, *yo, k1, sk2p, k1, yo, k1; rep from * to end.\n"
    "Row 2: Purl.\nRow 3: K1, *yo, k1, sk2p, k2, yo, k1; rep from * to end.\nRow 4: Purl.\n",
    right="Creels\nCast on 31 sts.\nRow 1 (RS): K1, *yo, k1, sk2p, k1, yo, k1; rep from * to end.\n"
    "Row 2: Purl.\nRow 3: K1, *yo, k1, sk2p, k1, yo, k1; rep from * to end.\nRow 4: Purl.\n",
)
def misfit(case: Case) -> Iterable[Finding]:
    return tell(case, "repeat-does-not-fit")


@check(
    "rib-does-not-close",
    WRONG,
    "a rib does not come out all the way round",
    family="counts",
    why="In the round a rib has to close: the stitches must be a multiple of its knits and purls, "
    "or two ribs meet at the start of the round.",
    wrong="Hatband\nWorked: in the round\nCast on 82 sts and join in the round.\n"
    "Rib rnd: *K2, p2; rep from * around.\nWork Rib rnd 7 more times.\n",
    right="Hatband\nWorked: in the round\nCast on 84 sts and join in the round.\n"
    "Rib rnd: *K2, p2; rep from * around.\nWork Rib rnd 7 more times.\n",
)
def rib(case: Case) -> Iterable[Finding]:
    return tell(case, "rib-does-not-close")


@check(
    "stated-count-differs",
    WRONG,
    "the count stated is not the count worked",
    family="counts",
    why="The text states how many stitches there are, and the rows as written give another "
    "number. One of the two is a slip.",
    wrong="Moorings\nCast on 12 sts.\nRow 1 (RS): K1, k2tog, k6, ssk, k1. (11 sts)\n"
    "Row 2: P10. (10 sts)\n",
    right="Moorings\nCast on 12 sts.\nRow 1 (RS): K1, k2tog, k6, ssk, k1. (10 sts)\n"
    "Row 2: P10. (10 sts)\n",
)
def stated(case: Case) -> Iterable[Finding]:
    return tell(case, "stated-count-differs")


@check(
    "cast-on-does-not-work",
    WRONG,
    "the cast-on number is not one the rows work for",
    family="counts",
    why="The repeats of the rows fit certain numbers of stitches only; the number cast on is none "
    "of them.",
    wrong="Creels\nCast on 13 sts.\nRow 1 (RS): K1, *yo, k2tog, k2; rep from * to last 2 sts, k2.\n"
    "Row 2: Purl.\nRow 3: K3, *yo, k2tog, k2; rep from * to end.\nRow 4: Purl.\n",
    right="Creels\nCast on 15 sts.\nRow 1 (RS): K1, *yo, k2tog, k2; rep from * to last 2 sts, k2.\n"
    "Row 2: Purl.\nRow 3: K3, *yo, k2tog, k2; rep from * to end.\nRow 4: Purl.\n",
)
def cast_on(case: Case) -> Iterable[Finding]:
    return tell(case, "cast-on-does-not-work")


@check(
    "multiple-stated-differs",
    WRONG,
    "the rows do not work for the multiple stated",
    family="counts",
    why="A knitter who casts on a multiple as stated cannot work the rows.",
    wrong="Creels\nMultiple: 5 sts + 3\nRow 1 (RS): K1, *yo, k2tog, k2; rep from * to last 2 sts, "
    "k2.\nRow 2: Purl.\nRow 3: K3, *yo, k2tog, k2; rep from * to end.\nRow 4: Purl.\n",
    right="Creels\nMultiple: 4 sts + 3\nRow 1 (RS): K1, *yo, k2tog, k2; rep from * to last 2 sts, "
    "k2.\nRow 2: Purl.\nRow 3: K3, *yo, k2tog, k2; rep from * to end.\nRow 4: Purl.\n",
)
def multiple_stated(case: Case) -> Iterable[Finding]:
    return tell(case, "multiple-stated-differs")


@check(
    "repeat-unbalanced",
    WRONG,
    "increases and decreases of a repeat do not balance",
    family="counts",
    why="Where the rows about it keep their count, a repeat that uses more stitches than it makes "
    "(or fewer) changes the count every time it is worked, and a later row does not come out.",
    wrong="Creels\nCast on 31 sts.\nRow 1 (RS): K1, *yo, k1, sk2p, k1, yo, k1; rep from * to end.\n"
    "Row 2: Purl.\nRow 3: K1, *k1, sk2p, k1, yo, k1; rep from * to end.\nRow 4: Purl.\n"
    "Row 5: K1, *yo, k1, sk2p, k1, yo, k1; rep from * to end.\nRow 6: Purl.\n",
    right="Creels\nCast on 31 sts.\nRow 1 (RS): K1, *yo, k1, sk2p, k1, yo, k1; rep from * to end.\n"
    "Row 2: Purl.\nRow 3: K1, *yo, k1, sk2p, k1, yo, k1; rep from * to end.\nRow 4: Purl.\n"
    "Row 5: K1, *yo, k1, sk2p, k1, yo, k1; rep from * to end.\nRow 6: Purl.\n",
)
def unbalanced(case: Case) -> Iterable[Finding]:
    return tell(case, "repeat-unbalanced")


@check(
    "rows-do-not-come-back",
    WRONG,
    "rows worked again do not come back to the count they began with",
    family="counts",
    why="Rows can be repeated as they stand only when they end with the number of stitches they "
    "began with, or when their repeats take in what is gained.",
    wrong="Moorings\nCast on 9 sts.\nRow 1 (RS): K3, yo, k3, yo, k3.\nRow 2: Purl.\n"
    "Rep rows 1 and 2 four more times.\n",
    right="Moorings\nCast on 9 sts.\nRow 1 (RS): K3, yo, k to last 3 sts, yo, k3.\nRow 2: Purl.\n"
    "Rep rows 1 and 2 four more times.\n",
)
def come_back(case: Case) -> Iterable[Finding]:
    return tell(case, "rows-do-not-come-back")


@check(
    "count-never-reached",
    WRONG,
    "a repetition never comes to the count it is to go on to",
    family="counts",
    why="“Until there are 20 sts” ends only if the count passes through 20.",
    wrong="Toe\nWorked: in the round\nCast on 15 sts and join in the round.\n"
    "Inc rnd: K1, m1, k to last st, m1, k1.\nRep Inc rnd until there are 24 sts.\n",
    right="Toe\nWorked: in the round\nCast on 15 sts and join in the round.\n"
    "Inc rnd: K1, m1, k to last st, m1, k1.\nRep Inc rnd until there are 25 sts.\n",
)
def never_reached(case: Case) -> Iterable[Finding]:
    return tell(case, "count-never-reached")


@check(
    "repeat-uses-nothing",
    WRONG,
    "a repeat to the end uses no stitch",
    family="counts",
    why="A repeat that takes no stitch from the left-hand needle never comes to the end.",
    wrong="Moorings\nCast on 12 sts.\nRow 1 (RS): K2, *yo; rep from * to last 2 sts, k2.\n",
    right="Moorings\nCast on 12 sts.\nRow 1 (RS): K2, *yo, k2tog; rep from * to last 2 sts, k2.\n",
)
def uses_nothing(case: Case) -> Iterable[Finding]:
    return tell(case, "repeat-uses-nothing")


@check(
    "marker-misplaced",
    WRONG,
    "stitches are left before a marker, or it is passed too soon",
    family="counts",
    why="The row slips or removes a marker, but the stitches worked do not bring the knitter to it.",
    wrong="Wings\nCast on 11 sts.\nSet-up row: K5, pm, k1, pm, k5.\n"
    "Row 1 (RS): K4, sm, k1, sm, k5. (11 sts)\n",
    right="Wings\nCast on 11 sts.\nSet-up row: K5, pm, k1, pm, k5.\n"
    "Row 1 (RS): K5, sm, k1, sm, k5. (11 sts)\n",
)
def marker_misplaced(case: Case) -> Iterable[Finding]:
    return tell(case, "marker-misplaced")


@check(
    "no-such-place",
    WRONG,
    "the row goes to a marker, gap or centre that is not there",
    family="counts",
    why="“To marker” needs a marker ahead, “to the gap” a gap left by a turn, and a centre stitch "
    "an odd number of stitches.",
    wrong="Wings\nCast on 11 sts.\nRow 1 (RS): K to marker, yo, k to end.\n",
    right="Wings\nCast on 11 sts.\nSet-up row: K5, pm, k6.\nRow 1 (RS): K to marker, yo, k to end.\n",
)
def no_such_place(case: Case) -> Iterable[Finding]:
    return tell(case, "no-such-place")


@check(
    "unworked-count-differs",
    WRONG,
    "not so many stitches are left at a turn as the text says",
    family="counts",
    why="“Turn, leaving 5 sts unworked” states a number, and the stitches worked leave another.",
    wrong="Heel\nCast on 20 sts.\nRow 1 (RS): K14, turn, leaving 5 sts unworked.\nRow 2: P8, turn.\n",
    right="Heel\nCast on 20 sts.\nRow 1 (RS): K14, turn, leaving 6 sts unworked.\nRow 2: P8, turn.\n",
)
def unworked(case: Case) -> Iterable[Finding]:
    return tell(case, "unworked-count-differs")


@check(
    "shaping-does-not-fit",
    WRONG,
    "shaping takes more stitches than there are",
    family="counts",
    why="Decreases told by their number alone (“dec 12 sts evenly”) need stitches to be worked on.",
    wrong="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit, dec 8 sts evenly.\n",
    right="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit, dec 4 sts evenly.\n",
)
def shaping(case: Case) -> Iterable[Finding]:
    return tell(case, "shaping-does-not-fit")


@check(
    "held-count-differs",
    WRONG,
    "more stitches are taken from a holder than are on it",
    family="counts",
    why="What was put aside and what is taken back must agree.",
    wrong="Mitt\nWorked: in the round\nCast on 40 sts and join in the round.\n"
    "Next rnd: K10, place next 8 sts on holder, k22. (32 sts)\n"
    "Next rnd: K10, k across 10 held sts, k22.\n",
    right="Mitt\nWorked: in the round\nCast on 40 sts and join in the round.\n"
    "Next rnd: K10, place next 8 sts on holder, k22. (32 sts)\n"
    "Next rnd: K10, k across 8 held sts, k22.\n",
)
def held(case: Case) -> Iterable[Finding]:
    return tell(case, "held-count-differs")


@check(
    "no-stitches",
    WRONG,
    "rows go on though no stitch is on the needle",
    family="counts",
    why="All stitches are bound off or put aside, and the text does not say what is worked next.",
    wrong="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit.\nBind off all sts.\nNext row: K12.\n",
    right="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit.\nNext row: K12.\nBind off all sts.\n",
)
def no_stitches(case: Case) -> Iterable[Finding]:
    return tell(case, "no-stitches")


@check(
    "more-than-a-needle-holds",
    WRONG,
    "there are more stitches than any needle holds",
    family="counts",
    why="The count grows beyond all use; a number is a slip.",
    wrong="Moorings\nCast on 12 sts.\nRow 1 (RS): (Kfb) to end.\nRep row 1 sixty more times.\n",
    right="Moorings\nCast on 12 sts.\nRow 1 (RS): (Kfb) to end.\nRep row 1 two more times.\n",
)
def too_big(case: Case) -> Iterable[Finding]:
    return tell(case, "more-than-a-needle-holds")


@check(
    "count-not-followed",
    REMARK,
    "the count cannot be followed for a while",
    family="counts",
    why="Where the text leaves open what happens to the stitches, the count is taken up again as "
    "soon as it is stated.",
    wrong="Back\nCast on 12 sts.\nRow 1 (RS): K12.\nWork as given for front to shoulders.\n",
    right="Back\nCast on 12 sts.\nRow 1 (RS): K12.\nKnit 8 rows.\n",
)
def not_followed(case: Case) -> Iterable[Finding]:
    for remark in case.remarks("not-followed"):
        yield case.told("count-not-followed", remark)
    words = {
        ev.TOO_DEEP: "brackets within brackets are too deep to be followed",
        ev.TOO_LONG: "this is too long to be followed",
        ev.MARKER_LOST: "the text leaves open where the markers are here",
        ev.UNDECIDED: "the count cannot be told for certain here",
    }
    for group in case.groups_of(*words):
        yield found(
            "count-not-followed", group.span, words[group.kind], sizes=case.names(group.sizes)
        )


@check(
    "read-otherwise",
    REMARK,
    "only the less usual reading comes out",
    family="counts",
    why="“Rep from * 4 times” is four times in all to most, five times to some; “bind off 4, k5” "
    "counts the stitch already on the needle or not. Where only the rarer reading comes out in "
    "every size the text is read so; better to say which is meant.",
    wrong="Moorings\nCast on 22 sts.\nRow 1 (RS): K2, *k2tog, yo, k2; rep from * 4 times.\n",
    right="Moorings\nCast on 22 sts.\nRow 1 (RS): K2, *k2tog, yo, k2; rep from * 4 more times.\n",
)
def read_otherwise(case: Case) -> Iterable[Finding]:
    for group in case.groups_of(ev.READ_OTHERWISE):
        yield found(
            "read-otherwise",
            group.span,
            "this comes out only in the less usual reading, and is read so; say which is meant",
            sizes=case.names(group.sizes),
        )


@check(
    "already-there",
    DOUBTFUL,
    "a repetition is to go on to a count that is already there",
    family="counts",
    why="“Rep until there are 20 sts” on 20 sts is never worked.",
    wrong="Toe\nWorked: in the round\nCast on 15 sts and join in the round.\n"
    "Inc rnd: K1, m1, k to last st, m1, k1. (17 sts)\nRep Inc rnd until there are 17 sts.\n",
    right="Toe\nWorked: in the round\nCast on 15 sts and join in the round.\n"
    "Inc rnd: K1, m1, k to last st, m1, k1. (17 sts)\nRep Inc rnd until there are 25 sts.\n",
)
def already_there(case: Case) -> Iterable[Finding]:
    for group in case.groups_of(ev.ALREADY_THERE):
        yield found(
            "already-there",
            group.span,
            f"there are {group.plural('target')} already, so this is never worked",
            sizes=case.names(group.sizes),
        )
