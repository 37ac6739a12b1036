"""What could not be read, or only one way of several."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from chartc.checks.case import Case
from chartc.findings import Finding, Severity, check

WRONG = Severity.WRONG
DOUBTFUL = Severity.DOUBTFUL
REMARK = Severity.REMARK


@check(
    "not-understood",
    WRONG,
    "an instruction cannot be read",
    family="words",
    why="What looks like an instruction is never skipped in silence: the count is not known "
    "after it until the text states it again.",
    wrong="Moorings\nCast on 12 sts.\nRow 1 (RS): K4, zork 3, k5.\n",
    right="Moorings\nCast on 12 sts.\nRow 1 (RS): K4, p3, k5.\n",
)
def not_understood(case: Case) -> Iterable[Finding]:
    from chartc.vocabulary import load_vocabulary

    unclear = {case.at(remark.span).lower() for remark in case.remarks("own-stitch-unclear")}
    for remark in case.remarks("not-understood"):
        text = case.at(remark.span)
        if text.lower() in unclear:
            continue  # told where it is explained
        hint = ""
        if len(text) <= 20 and len(text.split()) <= 2:
            near = load_vocabulary().nearest(text, 2)
            if near:
                hint = f"nearest known: {' or '.join(near)}"
        yield replace(case.told("not-understood", remark), hint=hint)


@check(
    "bracket-not-closed",
    WRONG,
    "a bracket is opened and never closed",
    family="words",
    why="Without its end nobody can tell what is to be repeated.",
    wrong="Moorings\nCast on 12 sts.\nRow 1 (RS): K2, (k2tog, yo 3 times, k4.\n",
    right="Moorings\nCast on 12 sts.\nRow 1 (RS): K2, (k2tog, yo) 3 times, k4.\n",
)
def bracket_not_closed(case: Case) -> Iterable[Finding]:
    for remark in case.remarks("bracket-not-closed"):
        yield case.told("bracket-not-closed", remark)


@check(
    "bracket-not-opened",
    WRONG,
    "a bracket is closed that was never opened",
    family="words",
    why="Without its beginning nobody can tell what is to be repeated.",
    wrong="Moorings\nCast on 12 sts.\nRow 1 (RS): K2, k2tog, yo), k8.\n",
    right="Moorings\nCast on 12 sts.\nRow 1 (RS): K2, k2tog, yo, k8.\n",
)
def bracket_not_opened(case: Case) -> Iterable[Finding]:
    for remark in case.remarks("bracket-not-opened"):
        yield case.told("bracket-not-opened", remark)


@check(
    "star-never-repeated",
    WRONG,
    "a star opens a repeat that is never repeated",
    family="words",
    why="A star marks the beginning of a repeat; without “rep from *” the row is worked only "
    "once across.",
    wrong="Moorings\nCast on 12 sts.\nRow 1 (RS): K2, *k2tog, yo, k8.\n",
    right="Moorings\nCast on 12 sts.\nRow 1 (RS): K2, *k2tog, yo; rep from * to last 2 sts, k2.\n",
)
def star_never_repeated(case: Case) -> Iterable[Finding]:
    for remark in case.remarks("star-never-repeated"):
        yield case.told("star-never-repeated", remark)


@check(
    "star-missing",
    WRONG,
    "the row repeats from a star that is not there",
    family="words",
    why="Without the star nobody can tell where the repeat begins.",
    wrong="Moorings\nCast on 12 sts.\nRow 1 (RS): K2tog, yo; rep from * to end.\n",
    right="Moorings\nCast on 12 sts.\nRow 1 (RS): *K2tog, yo; rep from * to end.\n",
)
def star_missing(case: Case) -> Iterable[Finding]:
    for remark in case.remarks("star-missing"):
        yield case.told("star-missing", remark)


@check(
    "pass-over-without-slip",
    WRONG,
    "a stitch is passed over though none was slipped",
    family="words",
    why="psso passes the slipped stitch over what was worked since; without a slip there is "
    "nothing to pass.",
    wrong="Moorings\nCast on 12 sts.\nRow 1 (RS): K2, k2tog, psso, k8.\n",
    right="Moorings\nCast on 12 sts.\nRow 1 (RS): K2, sl 1, k2tog, psso, k7.\n",
)
def pass_over_without_slip(case: Case) -> Iterable[Finding]:
    for remark in case.remarks("pass-over-without-slip"):
        yield case.told("pass-over-without-slip", remark)


@check(
    "own-stitch-unclear",
    WRONG,
    "it is not clear what a stitch of the designer's own does",
    family="words",
    why="The loops a stitch uses and makes are worked out from the words it is explained with; "
    "where these do not tell, no row with it can be counted.",
    wrong="Moorings\nCast on 12 sts.\nAbbreviations:\nMW = k1, then zork the wave, k1 in next st\n"
    "Row 1 (RS): K4, MW, k4.\n",
    right="Moorings\nCast on 12 sts.\nAbbreviations:\nMW = k3tog, then (k1, yo, k1) in next st\n"
    "Row 1 (RS): K4, MW, k4.\n",
)
def own_stitch_unclear(case: Case) -> Iterable[Finding]:
    for remark in case.remarks("own-stitch-unclear"):
        yield case.told("own-stitch-unclear", remark)


@check(
    "term-with-two-meanings",
    REMARK,
    "a term has two meanings in print",
    family="words",
    why="The proof says how it read the term, so that the designer can say which is meant.",
    wrong="Moorings\nCast on 12 sts.\nRow 1 (RS): K4, inc 1, k7. (13 sts)\n",
    right="Moorings\nCast on 12 sts.\nRow 1 (RS): K4, kfb, k7. (13 sts)\n",
)
def term_with_two_meanings(case: Case) -> Iterable[Finding]:
    for remark in case.remarks("term-with-two-meanings"):
        yield case.told("term-with-two-meanings", remark)


@check(
    "older-usage",
    REMARK,
    "the text looks like older English usage",
    family="words",
    why="In books of the nineteenth century “make 1” is a yarn over and “seam” is purl. With "
    "the line “Terms: older usage” the text is read so.",
    wrong="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit one, bring the wool forward, knit two together, "
    "knit nine.\nRow 2: P12.\n",
    right="Moorings\nTerms: older usage\nCast on 12 sts.\nRow 1 (RS): Knit one, bring the wool "
    "forward, knit two together, knit nine.\nRow 2: P12.\n",
)
def older_usage(case: Case) -> Iterable[Finding]:
    for remark in case.remarks("older-usage"):
        yield case.told("older-usage", remark)


@check(
    "own-stitch-differs",
    WRONG,
    "a stitch is explained with another number of stitches than its name says",
    family="words",
    why="C6F is a cable over six stitches; words that work five are a slip, in the name or in the "
    "explanation.",
    wrong="Moorings\nCast on 14 sts.\nAbbreviations:\n"
    "C6F = sl 3 sts to cable needle and hold in front, k2, k3 from cable needle\n"
    "Row 1 (RS): P4, C6F, p4.\n",
    right="Moorings\nCast on 14 sts.\nAbbreviations:\n"
    "C6F = sl 3 sts to cable needle and hold in front, k3, k3 from cable needle\n"
    "Row 1 (RS): P4, C6F, p4.\n",
)
def own_stitch_differs(case: Case) -> Iterable[Finding]:
    for remark in case.remarks("own-stitch-differs"):
        yield case.told("own-stitch-differs", remark)


@check(
    "held-stitches-differ",
    WRONG,
    "not so many stitches come back from the cable needle as were put on it",
    family="words",
    why="A cable that moves three stitches to the cable needle has to work three from it.",
    wrong="Moorings\nCast on 14 sts.\nAbbreviations:\n"
    "C6F = sl 3 sts to cable needle and hold in front, k3, k2 from cable needle\n"
    "Row 1 (RS): P4, C6F, p4.\n",
    right="Moorings\nCast on 14 sts.\nAbbreviations:\n"
    "C6F = sl 3 sts to cable needle and hold in front, k3, k3 from cable needle\n"
    "Row 1 (RS): P4, C6F, p4.\n",
)
def held_stitches_differ(case: Case) -> Iterable[Finding]:
    differs = {remark.span for remark in case.remarks("own-stitch-differs")}
    for remark in case.remarks("held-stitches-differ"):
        if remark.span not in differs:
            yield case.told("held-stitches-differ", remark)


@check(
    "nothing-left",
    WRONG,
    "stitches follow after the row has gone to its end",
    family="words",
    why="“K to end, p2” leaves nothing for the p2.",
    wrong="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit to end, p2.\nRow 2: P12.\n",
    right="Moorings\nCast on 12 sts.\nRow 1 (RS): Knit to last 2 sts, p2.\nRow 2: P12.\n",
)
def nothing_left(case: Case) -> Iterable[Finding]:
    for remark in case.remarks("nothing-left"):
        yield case.told("nothing-left", remark)
