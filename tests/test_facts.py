"""Fact lines in every printed form, and never an error on what is none."""

from __future__ import annotations

import time
from collections.abc import Callable
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chartc.facts import (
    parse_gauge,
    parse_gauges,
    parse_lengths,
    parse_multiple,
    parse_needles,
    parse_notions,
    parse_sizes,
    parse_yarn,
    parse_yarns,
    plain_label,
)
from chartc.fitting import cm_against_inches, gauge_from
from chartc.measures import exact, show_number

ALL: tuple[Callable[[str], object], ...] = (
    parse_gauge,
    parse_gauges,
    parse_sizes,
    parse_lengths,
    parse_needles,
    parse_yarn,
    parse_yarns,
    parse_notions,
    parse_multiple,
)


# ------------------------------------------------------------------ gauge


@pytest.mark.parametrize(
    ("text", "stitches", "rows", "over", "also", "pattern"),
    [
        ("16 sts and 22 rows = 10 cm in St st, blocked", 16, 22, "10 cm", [], "St st"),
        ('22 sts & 30 rows to 4"/10cm', 22, 30, "4 in", ["10 cm"], ""),
        ("22 sts & 30 rows to 4″/10 cm", 22, 30, "4 in", ["10 cm"], ""),
        ("5.5 sts per inch", "5½", None, "1 in", [], ""),
        ("5½ sts and 7 rows to the inch", "5½", 7, "1 in", [], ""),
        ("5 sts per inch, 7 rows per inch", 5, 7, "1 in", [], ""),
        ("Tension: 22 sts and 28 rows to 10cm over st st on 4mm needles", 22, 28, "10 cm", [],
         "st st"),
        ("20 stitches x 28 rounds = 4 inches", 20, 28, "4 in", [], ""),
        ("20 stitches × 28 rounds = 4 inches", 20, 28, "4 in", [], ""),
        ("24 sts = 4 in", 24, None, "4 in", [], ""),
        ("10 cm = 22 sts and 30 rows in lace pattern", 22, 30, "10 cm", [], "lace pattern"),
        ("22 sts and 28 rows to 10 cm square measured over stocking stitch using 4mm needles",
         22, 28, "10 cm", [], "stocking stitch"),
        ("28 sts and 36 rows = 10 cm (4 in) measured over st st using 3.25 mm (US 3) needles",
         28, 36, "10 cm", ["4 in"], "st st"),
        ("16/22 to 10 cm", 16, 22, "10 cm", [], ""),
        ("16 sts and 22 rows = 10 cm x 10 cm", 16, 22, "10 cm", [], ""),
        ("24 sts and 32 rows to 10 cm in 2x2 rib, unblocked", 24, 32, "10 cm", [], "2x2 rib"),
        ("26 sts and 34 rows = 4 in in k2, p2 rib", 26, 34, "4 in", [], "k2, p2 rib"),
        ("18 sts over 10 cm, 24 rows over 10 cm", 18, 24, "10 cm", [], ""),
        ("18 sts over 10 cm, 12 rows over 5 cm", 18, 24, "10 cm", [], ""),
        ("twenty sts = four inches", 20, None, "4 in", [], ""),
        ("22 STS AND 30 ROWS = 10 CM", 22, 30, "10 cm", [], ""),
        ("22\u00a0sts and 30\u00a0rows = 10\u00a0cm", 22, 30, "10 cm", [], ""),
        ("10cm / 4 in = 18 sts x 24 rows using 5 mm needles", 18, 24, "10 cm", ["4 in"], ""),
        ("22 sts, 30 rows", 22, 30, None, [], ""),
    ],
)  # fmt: skip
def test_gauge(
    text: str, stitches: object, rows: object, over: str | None, also: list[str], pattern: str
) -> None:
    found = parse_gauge(text)
    assert found is not None
    assert found.stitches == exact(stitches)  # type: ignore[arg-type]
    assert found.rows == (None if rows is None else exact(rows))  # type: ignore[arg-type]
    assert (None if found.over is None else str(found.over)) == over
    assert [str(one) for one in found.also] == also
    assert found.pattern == pattern
    if found.over is not None:  # the span points at the very distance
        assert text[found.over.span.start : found.over.span.end].strip()


def test_gauge_says_whether_blocked_and_in_the_round() -> None:
    found = parse_gauge(
        "22 sts and 30 rnds to 4 in (10 cm) in the round in stockinette st, blocked"
    )
    assert found is not None
    assert (found.blocked, found.in_round, found.pattern) == (True, True, "stockinette st")
    before = parse_gauge("22 sts = 10 cm before blocking")
    assert before is not None and before.blocked is False
    bare = parse_gauge("22 sts = 10 cm")
    assert bare is not None and bare.blocked is None and not bare.in_round
    assert bare.missing == ("rows", "stitch pattern")


def test_gauge_needle_and_range() -> None:
    text = "22-24 sts and 28 rows to 10cm over st st on 4 mm (US 6) needles"
    found = parse_gauge(text)
    assert found is not None and found.needle is not None
    assert (found.stitches, found.stitches_to) == (22, 24)
    assert (found.needle.mm, found.needle.us) == (4, "6")
    assert text[found.needle.span.start : found.needle.span.end] == "4 mm (US 6)"


def test_several_gauges_in_a_line() -> None:
    text = "18 sts/4 in in garter st; 24 sts and 32 rows = 4 in in k2, p2 rib"
    first, second = parse_gauges(text)
    assert (first.stitches, first.pattern) == (18, "garter st")
    assert (second.stitches, second.rows, second.pattern) == (24, 32, "k2, p2 rib")
    assert text[second.span.start : second.span.end].startswith("24 sts")


@given(
    st.fractions(min_value=3, max_value=60, max_denominator=4),
    st.fractions(min_value=3, max_value=80, max_denominator=2),
    st.sampled_from(["10 cm", "10cm", "4 in", '4"', "4 inches", "1 in", "5 cm"]),
    st.sampled_from([" = ", " to ", " over ", " per "]),
    st.sampled_from([" and ", " & ", ", ", " x ", " × ", " by "]),
    st.sampled_from([("sts", "rows"), ("stitches", "rounds"), ("st", "rnds"), ("STS", "ROWS")]),
    st.sampled_from(["", " in St st", " over lace patt, blocked", " on 4 mm needles"]),
)
def test_any_printed_gauge_is_read_exactly(
    stitches: Fraction,
    rows: Fraction,
    distance: str,
    joined: str,
    between: str,
    words: tuple[str, str],
    tail: str,
) -> None:
    text = (
        f"{show_number(stitches)} {words[0]}{between}{show_number(rows)} {words[1]}"
        f"{joined}{distance}{tail}"
    )
    found = parse_gauge(text)
    assert found is not None, text
    assert (found.stitches, found.rows) == (stitches, rows), text
    assert found.over is not None
    plain = {"10 cm": 100, "10cm": 100, "5 cm": 50}
    assert found.over.mm == plain.get(
        distance, Fraction(254, 10) * (1 if "1 in" in distance else 4)
    )
    gauge = gauge_from(found)
    assert gauge is not None and gauge.stitches == stitches


# ------------------------------------------------------------------ sizes


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("XS (S, M, L)", ["XS", "S", "M", "L"]),
        ("1 (2, 3)", ["1", "2", "3"]),
        ("S [M, L]", ["S", "M", "L"]),
        ("S (M: L: XL)", ["S", "M", "L", "XL"]),
        ("S (M, L) [XL, 2X, 3X]", ["S", "M", "L", "XL", "2X", "3X"]),
        ("1 (2, 3, 4) {5, 6}", ["1", "2", "3", "4", "5", "6"]),
        ("2 (4) 6 (8)", ["2", "4", "6", "8"]),
        ("6-12 months (1-2 years, 3-4 yrs)", ["6-12 months", "1-2 years", "3-4 yrs"]),
        ("6–12 months (1–2 years, 3–4 yrs)", ["6–12 months", "1–2 years", "3–4 yrs"]),
        ("8-10 (11-13, 1-3)", ["8-10", "11-13", "1-3"]),
        ("Small, Medium, Large", ["Small", "Medium", "Large"]),
        ("Small, Medium and Large", ["Small", "Medium", "Large"]),
        ("Toddler, child & adult", ["Toddler", "child", "adult"]),
        ("S - M - L - XL", ["S", "M", "L", "XL"]),
        ("S – M – L", ["S", "M", "L"]),
        ("S / M / L", ["S", "M", "L"]),
        ("S/M (L/XL)", ["S/M", "L/XL"]),
        ("S: M: L", ["S", "M", "L"]),
        ("XS\tS\tM", ["XS", "S", "M"]),
        ("XS S M L XL", ["XS", "S", "M", "L", "XL"]),
        ("Sizes: 1, 2, 3 and 4", ["1", "2", "3", "4"]),
        ("3 sizes: S, M, L", ["S", "M", "L"]),
        ("Child (Adult S, Adult M)", ["Child", "Adult S", "Adult M"]),
        ("Women’s XS (S, M), shown in S", ["Women’s XS", "S", "M"]),
        ("Sizes: 1 (2, 3) shown in size 2", ["1", "2", "3"]),
        ("To fit Small (Medium, Large)", ["Small", "Medium", "Large"]),
        ("Small (32-34 in), Medium (36-38 in), Large (40-42 in)", ["Small", "Medium", "Large"]),
        ("one size", ["one size"]),
        ("One Size only", ["One Size only"]),
        ("84\u00a0(96,\u00a0108)", ["84", "96", "108"]),
    ],
)  # fmt: skip
def test_names_of_sizes(text: str, names: list[str]) -> None:
    found = parse_sizes(text)
    assert found is not None
    assert list(found.names) == names
    for size in found.sizes:
        assert text[size.span.start : size.span.end] == size.name


def test_sizes_that_are_body_measures() -> None:
    found = parse_sizes("To fit bust 81 (86, 91) cm / 32 (34, 36) in")
    assert found is not None
    assert (found.to_fit, found.what) == (True, "bust")
    assert [(size.low, size.unit) for size in found.sizes] == [(81, "cm"), (86, "cm"), (91, "cm")]
    assert [size.label for size in found.sizes] == ["81 cm", "86 cm", "91 cm"]
    assert [[(s.low, s.unit) for s in other] for other in found.also] == [
        [(32, "in"), (34, "in"), (36, "in")]
    ]
    ranged = parse_sizes('To fit chest: 32–34 (36–38)" [81–86 (91–96) cm]')
    assert ranged is not None
    assert [(s.low, s.high, s.unit) for s in ranged.sizes] == [(32, 34, "in"), (36, 38, "in")]
    assert [(s.low, s.high, s.unit) for s in ranged.also[0]] == [(81, 86, "cm"), (91, 96, "cm")]


def test_ages() -> None:
    for text, expected in [
        ("2 (4, 6) years", [(2, 2, "years"), (4, 4, "years"), (6, 6, "years")]),
        ("Ages 2-3 (4-5)", [(2, 3, "years"), (4, 5, "years")]),
        ("To fit age 3-6 (6-12) months", [(3, 6, "months"), (6, 12, "months")]),
        ("0-3m (3-6m)", [(0, 3, "months"), (3, 6, "months")]),
    ]:
        found = parse_sizes(text)
        assert found is not None
        assert [(s.low, s.high, s.unit) for s in found.sizes] == expected, text


def test_sizes_told_twice() -> None:
    found = parse_sizes("XS (S, M) to fit bust 81 (86, 91) cm")
    assert found is not None
    assert found.names == ("XS", "S", "M")
    assert [[s.low for s in other] for other in found.also] == [[81, 86, 91]]


NAMES = st.sampled_from(["XS", "S", "M", "L", "XL", "2X", "Small", "Adult M", "6-8", "84", "35½"])


@given(
    st.lists(NAMES, min_size=2, max_size=9, unique=True),
    st.sampled_from([("(", ")"), ("[", "]"), ("{", "}")]),
    st.sampled_from([", ", ": ", ",", "; "]),
    st.sampled_from(["", "Sizes: ", "Finished sizes: "]),
)
def test_any_bracketed_list_of_sizes_comes_back_in_order(
    names: list[str], brackets: tuple[str, str], between: str, head: str
) -> None:
    text = f"{head}{names[0]} {brackets[0]}{between.join(names[1:])}{brackets[1]}"
    found = parse_sizes(text)
    assert found is not None
    assert list(found.names) == names, text


# ------------------------------------------------------------------ lengths


def values(text: str) -> dict[tuple[str, int, str], list[Fraction]]:
    found = parse_lengths(text)
    assert found is not None
    return {(one.label, one.axis, one.unit): [v.value for v in one.values] for one in found.lists}


@pytest.mark.parametrize(
    ("text", "cm", "inches"),
    [
        ("Finished bust: 84 (90, 96) cm / 33 (35½, 37¾) in", [84, 90, 96], ["33", "35½", "37¾"]),
        ("33 (35.5, 37.75)in/84 (90, 96)cm", [84, 90, 96], ["33", "35½", "37¾"]),
        ("84 (90, 96) cm [33 (35½, 37¾) in]", [84, 90, 96], ["33", "35½", "37¾"]),
        ("84 [90: 96: 102] cm", [84, 90, 96, 102], []),
        ('33" (35 1/2", 37-3/4")', [], ["33", "35½", "37¾"]),
        ("33” (35½”, 37¾”)", [], ["33", "35½", "37¾"]),
        ("84cm (33in), 90cm (35½in)", [84, 90], ["33", "35½"]),
        ("30 cm (12 in)", [30], ["12"]),
        ("40 cm (15 3/4 in) from cast-on edge", [40], ["15¾"]),
        ("Width 33⅓ in", [], ["33⅓"]),
        ("12⅛ (12⅜) ins", [], ["12⅛", "12⅜"]),
        ("84 (90,\u00a096)\u00a0CM", [84, 90, 96], []),
    ],
)  # fmt: skip
def test_lengths(text: str, cm: list[int], inches: list[str]) -> None:
    found = parse_lengths(text)
    assert found is not None
    for unit, expected in (("cm", [exact(v) for v in cm]), ("in", [exact(v) for v in inches])):
        one = found.in_unit(unit)
        assert ([] if one is None else [v.value for v in one.values]) == expected
    for one in found.lists:
        for value in one.values:
            assert exact(text[value.span.start : value.span.end].replace("-", " ")) == value.value
    if cm and inches:
        assert [pair.size for pair in found.pairs()] == list(range(len(cm)))
        assert all(cm_against_inches(p.metric, p.inches) is None for p in found.pairs())


def test_several_measures_in_one_line() -> None:
    assert values("Chest 84 (90) cm, length 50 (52) cm") == {
        ("chest", 0, "cm"): [84, 90],
        ("length", 0, "cm"): [50, 52],
    }
    assert values("84 (90) cm wide and 50 (52) cm long") == {
        ("wide", 0, "cm"): [84, 90],
        ("long", 0, "cm"): [50, 52],
    }
    assert values("150 x 40 cm / 59 × 15¾ in") == {
        ("", 0, "cm"): [150],
        ("", 1, "cm"): [40],
        ("", 0, "in"): [59],
        ("", 1, "in"): [Fraction(63, 4)],
    }
    found = parse_lengths("bust: 84 cm / 33 in; length: 50 cm / 26 in")
    assert found is not None
    wrong = [p.label for p in found.pairs() if cm_against_inches(p.metric, p.inches)]
    assert wrong == ["length"]


def test_lengths_without_unit_ranges_and_to_fit() -> None:
    bare = parse_lengths("84 (90, 96)")
    assert bare is not None and bare.lists[0].unit == "" and bare.lists[0].mm(0) is None
    ranged = parse_lengths("to fit head 51–56 cm")
    assert ranged is not None and ranged.to_fit
    assert (ranged.lists[0].values[0].value, ranged.lists[0].values[0].to) == (51, 56)
    assert ranged.lists[0].mm(0) == 510
    one_for_all = parse_lengths("30 cm")
    assert one_for_all is not None and one_for_all.lists[0].mm(3) == 300
    short = parse_lengths("30 (31) cm")
    assert short is not None and short.lists[0].mm(2) is None


def test_ease_bands_and_heads_are_measures_of_their_own() -> None:
    assert values("Finished bust: 84 (90) cm, with 7 cm of positive ease") == {
        ("bust", 0, "cm"): [84, 90],
        ("ease", 0, "cm"): [7],
    }
    # a list whose unit stood once behind it is complete: what follows is no further size
    assert values("Finished bust: 84 (90) cm, 5 cm ease") == {
        ("bust", 0, "cm"): [84, 90],
        ("ease", 0, "cm"): [5],
    }
    band = parse_lengths("50.5 (54) cm, with a 2.5 cm band")
    assert band is not None
    assert [len(one.values) for one in band.lists] == [2, 1]
    found = parse_lengths("Finished circumference: 46 (54) cm, to fit a head of 50 (58) cm")
    assert found is not None and not found.to_fit
    assert [(one.label, one.to_fit) for one in found.lists] == [
        ("circumference", False), ("head", True),
    ]  # fmt: skip
    assert values("about 105 cm across the top edge, 52 cm deep at the centre") == {
        ("across", 0, "cm"): [105],
        ("deep", 0, "cm"): [52],
    }
    assert values("To fit 34 [36: 38] ins. bust. Length from top of shoulder, 22 ins.") == {
        ("bust", 0, "in"): [34, 36, 38],
        ("length from top shoulder", 0, "in"): [22],
    }


@given(
    st.lists(st.fractions(min_value=1, max_value=200, max_denominator=4), min_size=2, max_size=9),
    st.sampled_from(["cm", " cm", " in", '"', " inches"]),
    st.sampled_from([", ", ": ", ",", "; "]),
)
def test_any_list_of_lengths_comes_back(amounts: list[Fraction], unit: str, between: str) -> None:
    shown = [show_number(amount) for amount in amounts]
    found = parse_lengths(f"{shown[0]} ({between.join(shown[1:])}){unit}")
    assert found is not None and len(found.lists) == 1
    assert [v.value for v in found.lists[0].values] == amounts
    assert found.lists[0].unit == ("cm" if "cm" in unit else "in")


# ------------------------------------------------------------------ needles


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("4 mm (US 6) 60 cm circular and set of dpns; 3.25mm/US3",
         [("4", "6", "", ["60 cm"], ("circular", "double-pointed")), ("3¼", "3", "", [], ())]),
        ('US 6 (4 mm) 24" circular, US 4 (3.5 mm) 16" circular',
         [("4", "6", "", ["24 in"], ("circular",)), ("3½", "4", "", ["16 in"], ("circular",))]),
        ("circular needle 4 mm, 60 cm and 80 cm long",
         [("4", "", "", ["60 cm", "80 cm"], ("circular",))]),
        ("set of 5 3.25 mm dpns", [("3¼", "", "", [], ("double-pointed",))]),
        ("1 pair 4mm needles", [("4", "", "", [], ("straight",))]),
        ("pair of 3¼mm needles", [("3¼", "", "", [], ("straight",))]),
        ("4.00mm (old UK 8) needles", [("4", "", "8", [], ())]),
        ("UK 8 / US 6 / 4mm", [("4", "6", "8", [], ())]),
        ("5 mm (US size 6)", [("5", "6", "", [], ())]),
        ("US #7 [4.5 mm] 32-inch circular", [("4½", "7", "", ["32 in"], ("circular",))]),
        ("US 10½ (6.5 mm)", [("6½", "10½", "", [], ())]),
        ("US 10 1/2", [(None, "10½", "", [], ())]),
        ("us 00", [(None, "00", "", [], ())]),
        ("4,5 mm", [("4½", "", "", [], ())]),
        ("4mm, 5mm and 6mm needles",
         [("4", "", "", [], ()), ("5", "", "", [], ()), ("6", "", "", [], ())]),
        ("4 mm and US 3", [("4", "", "", [], ()), (None, "3", "", [], ())]),
        ("3 mm crochet hook, cable needle",
         [("3", "", "", [], ("hook",)), (None, "", "", [], ("cable",))]),
    ],
)  # fmt: skip
def test_needles(
    text: str, expected: list[tuple[str | None, str, str, list[str], tuple[str, ...]]]
) -> None:
    found = parse_needles(text)
    assert found is not None
    assert [
        (
            None if n.mm is None else show_number(n.mm),
            n.us,
            n.uk,
            [str(length) for length in n.lengths],
            n.kinds,
        )
        for n in found.needles
    ] == expected
    for needle in found.needles:
        shown = text[needle.span.start : needle.span.end]
        assert shown.count("(") == shown.count(")") and shown.count("[") == shown.count("]")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("3.5 mm and 4 mm circulars, 40 and 80 cm; 4 mm dpns",
         [(("circular",), [40, 80]), (("circular",), [40, 80]), (("double-pointed",), [])]),
        ("4 mm and 4.5 mm straights; 4 mm circular, 40 cm",
         [(("straight",), []), (("straight",), []), (("circular",), [40])]),
        ("Pair each of 3.25 mm and 4 mm needles", [(("straight",), []), (("straight",), [])]),
        ("4 mm needles and 4 mm circular", [((), []), (("circular",), [])]),
        ("4 mm, cable needle", [((), []), (("cable",), [])]),
        ("4 mm circular, 40, 60 and 80 cm long", [(("circular",), [40, 60, 80])]),
    ],
)  # fmt: skip
def test_a_kind_or_length_printed_once_for_several_needles(
    text: str, expected: list[tuple[tuple[str, ...], list[int]]]
) -> None:
    found = parse_needles(text)
    assert found is not None
    assert [(n.kinds, [one.value for one in n.lengths]) for n in found.needles] == expected


def test_a_size_without_a_system_stays_bare() -> None:
    found = parse_needles("No 8 needles and No 10 needles")
    assert found is not None
    assert [(n.bare, n.mm, n.us, n.uk) for n in found.needles] == [
        ("8", None, "", ""), ("10", None, "", ""),
    ]  # fmt: skip
    assert [plain_label(t) for t in ("10.5", "10 1/2", "10½", "2/0", "000", "x")] == [
        "10½", "10½", "10½", "00", "000", "x",
    ]  # fmt: skip


# ------------------------------------------------------------------ yarn


@pytest.mark.parametrize(
    ("text", "weight", "categories", "put_up", "amounts"),
    [
        ("DK, 100 g = 225 m: 3 (3, 4) balls", "DK", (3,), ["100 g", "225 m"], ["3 3 4 ball"]),
        ("Worsted weight yarn, 400 (450, 500) g", "Worsted", (4,), [], ["400 450 500 g"]),
        ("3 (3, 4, 4) skeins Saltmarsh DK (100% wool; 225 m / 246 yds per 100 g)", "DK", (3,),
         ["225 m", "246 yd", "100 g"], ["3 3 4 4 ball"]),
        ("200yd/183m per 100g/3.5oz", "", (), ["200 yd", "183 m", "100 g", "3½ oz"], []),
        ("approx 800 yds fingering", "fingering", (1,), [], ["800 yd"]),
        ("50 g balls: 8 (9, 10)", "", (), ["50 g"], ["8 9 10 ball"]),
        ("3 x 50 g balls", "", (), ["50 g"], ["3 ball"]),
        ("3 × 50g", "", (), ["50 g"], ["3 ball"]),
        ("5 (6, 7) 50g balls of double knitting", "double knitting", (3,), ["50 g"],
         ["5 6 7 ball"]),
        ("225 m per 100 g, 3 balls", "", (), ["225 m", "100 g"], ["3 ball"]),
        ("600 (700, 800) m of DK", "DK", (3,), [], ["600 700 800 m"]),
        ("1200 yds / 1100 m worsted", "worsted", (4,), [], ["1200 yd", "1100 m"]),
        ("4-ply, 100 g (400 m)", "4-ply", (1,), ["100 g", "400 m"], []),
        ("Super Bulky", "Super Bulky", (6,), [], []),
        ("two balls of aran", "aran", (4,), [], ["2 ball"]),
        ("baby weight yarn", "baby", (1, 2), [], []),
    ],
)  # fmt: skip
def test_yarn(
    text: str, weight: str, categories: tuple[int, ...], put_up: list[str], amounts: list[str]
) -> None:
    found = parse_yarn(text)
    assert found is not None

    def told(amount_values: tuple[Fraction, ...], unit: str) -> str:
        return " ".join([*(show_number(value) for value in amount_values), unit])

    assert (found.weight, found.categories) == (weight, categories)
    assert [told(one.values, one.unit) for one in found.put_up] == put_up
    assert [told(one.values, one.unit) for one in found.amounts] == amounts


def test_several_yarns_and_units_of_a_put_up() -> None:
    first, second = parse_yarns("MC: 3 balls DK; CC: 1 ball DK")
    assert (first.balls, second.balls) == ((3,), (1,))
    ounces = parse_yarn("sport, 4 oz / 200 yds: 3 skeins")
    assert ounces is not None
    assert ounces.grams is not None and round(float(ounces.grams), 1) == 113.4
    assert ounces.metres == Fraction(18288, 100)
    one = parse_yarns("sport weight; 3 balls")
    assert len(one) == 1 and one[0].balls == (3,)


# ------------------------------------------------------------------ notions, multiples


def test_notions() -> None:
    text = "stitch markers, 4 stitch holders, cable needle, tapestry needle"
    found = parse_notions(text)
    assert found is not None
    assert [(n.key, n.count) for n in found] == [
        ("stitch marker", None), ("stitch holder", 4), ("cable needle", None),
        ("tapestry needle", None),
    ]  # fmt: skip
    assert all(text[n.span.start : n.span.end] == n.name for n in found)
    told = parse_notions("Two stitch markers (one different), waste yarn and 8 × 15 mm buttons.")
    assert told is not None
    assert [(n.key, n.count) for n in told] == [
        ("stitch marker", 2), ("scrap yarn", None), ("buttons", 8),
    ]  # fmt: skip
    hook = parse_notions("a 3 mm crochet hook or smaller; a stitch holder or waste yarn; glue")
    assert hook is not None
    assert [n.key for n in hook] == ["crochet hook", "stitch holder", "scrap yarn", ""]
    assert parse_notions("none") is None
    line = "11 (12) oz 4-ply fingering. A pair each of No. 10 and No. 12 needles. 9 buttons."
    whole = parse_notions(line)
    assert whole is not None and [(n.key, n.count) for n in whole] == [("buttons", 9)]


@pytest.mark.parametrize(
    ("text", "multiple", "plus", "rows"),
    [
        ("6 sts + 3", 6, 3, None),
        ("multiple of 8 plus 5", 8, 5, None),
        ("12+1", 12, 1, None),
        ("12 + 1", 12, 1, None),
        ("multiple of 6 sts, plus 3, plus 2 for edge sts", 6, 5, None),
        ("multiple of 6 + 3 (+ 2 selvedge sts)", 6, 5, None),
        ("a number of stitches divisible by 20", 20, 0, None),
        ("Multiple of 6 stitches minus 1", 6, -1, None),
        ("multiple of 6 sts – 1", 6, -1, None),
        ("6n + 3", 6, 3, None),
        ("12-st repeat plus 1", 12, 1, None),
        ("rep of 12 sts", 12, 0, None),
        ("multiple of 8 sts + 5 and 12 rows", 8, 5, 12),
        ("12 sts, 8 rows", 12, 0, 8),
        ("multiple of 18 sts + 1; 16-row repeat", 18, 1, 16),
        ("multiple of ten sts", 10, 0, None),
        ("Mult of 3 sts, plus 1 st at each side", 3, 2, None),
        ("an odd number of sts", 2, 1, None),
        ("an even number of stitches", 2, 0, None),
        ("any number of sts", 1, 0, None),
        ("8 sts", 8, 0, None),
        ("8", 8, 0, None),
        ("MULTIPLE OF 4 + 6", 4, 6, None),
    ],
)
def test_multiple(text: str, multiple: int, plus: int, rows: int | None) -> None:
    found = parse_multiple(text)
    assert found is not None
    assert (found.multiple, found.plus, found.rows) == (multiple, plus, rows)
    assert sum(found.parts) == found.plus
    assert 0 <= found.rest < found.multiple
    assert (
        text[found.span.start : found.span.end].strip() == text[found.span.start : found.span.end]
    )


def test_a_remainder_larger_than_the_repeat() -> None:
    found = parse_multiple("multiple of 4 + 6")
    assert found is not None and (found.rest, found.least) == (2, 10)


@given(
    st.integers(1, 200),
    st.integers(0, 40),
    st.sampled_from(["{m} sts + {p}", "multiple of {m} plus {p}", "{m}+{p}",
                     "Multiple of {m} sts, plus {p} sts", "mult of {m} + {p}",
                     "{m}-st rep plus {p}", "{m} sts plus {p} extra sts"]),
)  # fmt: skip
def test_any_printed_multiple_comes_back(m: int, p: int, shape: str) -> None:
    found = parse_multiple(shape.format(m=m, p=p))
    assert found is not None
    assert (found.multiple, found.plus) == (m, p)


# ------------------------------------------------------------------ nothing, and nonsense


@pytest.mark.parametrize("parse", ALL)
@pytest.mark.parametrize("text", ["", "   ", "\n", "—", "()", "(((", "]]", ", , ,"])
def test_nothing_to_read_is_none(parse: Callable[[str], object], text: str) -> None:
    assert not parse(text)


def test_prose_is_none_where_there_is_no_number() -> None:
    for text in ("Gauge is not critical", "see below", "as you like"):
        assert parse_gauge(text) is None
        assert parse_lengths(text) is None
        assert parse_needles(text) is None
        assert parse_multiple(text) is None
        assert parse_yarn(text) is None
    assert parse_sizes("see table") is None
    assert parse_multiple("0 sts") is None
    assert parse_multiple("12 rows") is None


WORDS = """12 ½ 3¾ , ( ) [ ] : ; - – / = x × " '' cm in mm sts rows rnds per inch multiple of plus +
US UK size g m yds balls to fit bust months S XL one and or . İ ٣ 0 1/0 0/0 1/2 2/0 St st dpns
circular blocked in the round with ease each needles pair"""
PIECES = st.lists(
    st.sampled_from([*WORDS.split(), " ", " ", " ", "\u00a0", "\t", "\n", "9" * 30]), max_size=40
)


@given(st.one_of(PIECES.map("".join), st.text(max_size=80)))
@settings(max_examples=400, deadline=None)
def test_nothing_makes_a_fact_line_fail_and_spans_stay_inside(text: str) -> None:
    for parse in ALL:
        found = parse(text)
        for one in found if isinstance(found, tuple) else (found,):
            if one is not None:
                span = one.span  # type: ignore[attr-defined]
                assert 0 <= span.start < span.end <= len(text)


@pytest.mark.parametrize(
    "text",
    ["12 (" * 5000, "1, " * 20000, "12 sts " * 5000, "(" * 20000, "9" * 50000, "100 g / " * 5000,
     "k2 p2 in " * 3000, "4 mm " * 5000, "to fit " * 5000, " " * 50000, "a - " * 9000,
     "multiple of 6 + 1 " * 4000, "S / " * 9000, "1 (1, 1, 1" * 4000, "½" * 20000],
)  # fmt: skip
def test_long_lines_are_read_in_no_time(text: str) -> None:
    start = time.perf_counter()
    for parse in ALL:
        parse(text)
    assert time.perf_counter() - start < 3


def test_typographic_and_plain_forms_read_the_same() -> None:
    for fancy, plain in [
        ("22\u202fsts\u00a0= 10\u00a0cm", "22 sts = 10 cm"),
        ("22 sts = 4”", '22 sts = 4"'),
        ("20 sts × 28 rows = 10 cm", "20 sts x 28 rows = 10 cm"),
    ]:
        one, other = parse_gauge(fancy), parse_gauge(plain)
        assert one is not None and other is not None
        assert (one.stitches, one.rows, one.over) == (other.stitches, other.rows, other.over)
