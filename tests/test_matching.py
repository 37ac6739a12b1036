"""Are these two the same knitting?"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from chartc.matching import CannotMatch, Match, match, match_json, match_text, shift_between
from chartc.reading import read
from chartc.source import Source, load
from chartc.tables import read_table

ROOT = Path(__file__).parent.parent

EYELETS = """Multiple: 4 sts + 3

Eyelets

Row 1 (RS): Knit.
Row 2 (WS): Purl.
Row 3: K1, *yo, k2tog, k2; rep from * to last 2 sts, yo, k2tog.
Row 4: Purl.
"""


def text(body: str) -> Source:
    return Source("text", f"Sluice\n\n{body}")


def compare(one: str, other: str) -> tuple[Match, str]:
    first, second = text(one), text(other)
    found = match(read(first), read(second))
    return found, match_text(found, first, second)


@pytest.mark.parametrize(
    "other",
    [
        EYELETS.replace("K1, *yo, k2tog, k2; rep from * to last 2 sts, yo, k2tog",
                        "K1, yo, k2tog, *k2, yo, k2tog; rep from * to end"),
        EYELETS.replace("Row 4: Purl.\n", "").replace("Row 2 (WS)", "Rows 2 and 4 (WS)"),
        EYELETS.replace("Purl", "P to end").replace("k2tog", "knit 2 together"),
        EYELETS.replace("Knit.", "*K1; rep from * to end."),
    ],
)  # fmt: skip
def test_other_words_same_knitting(other: str) -> None:
    found, told = compare(EYELETS, other)
    assert found.same and "the same knitting, 4 rows" in told


def test_flat_and_round_that_look_alike_are_the_same() -> None:
    """Published pair: *k1, p3* with its wrong-side row *k1, sl1 wyib, k1, p1* is, in the
    round, *k1, p3* and *k1, p1, sl1 wyif, p1* (a stitch dictionary; derived again from the
    twins)."""
    flat = (
        "Rib (multiple of 4 sts)\n\nRow 1 (RS): *K1, p3; rep from * to end.\n"
        "Row 2 (WS): *K1, sl 1 wyib, k1, p1; rep from * to end.\n"
    )
    rounds = (
        "Rib (multiple of 4 sts)\n\nRnd 1: *K1, p3; rep from * around.\n"
        "Rnd 2: *K1, p1, sl 1 wyif, p1; rep from * around.\n"
    )
    assert compare(flat, rounds)[0].same
    assert not compare(flat, rounds.replace("wyif", "wyib"))[0].same


def test_first_differing_stitch_and_what_each_says() -> None:
    found, told = compare(EYELETS, EYELETS.replace("*yo, k2tog, k2", "*yo, ssk, k2"))
    (row,) = [row for row in found.sections[0].rows if row.status != "same"]
    assert (row.name, row.place, row.column) == ("row 3", 3, 2)
    assert (row.one.worked.key, row.other.worked.key) == ("k2tog", "ssk")
    assert "row 3: differs first at stitch 3: knit two together (“k2tog”, line 9" in told
    assert "(“ssk”, line 9, column 17) in the second" in told


def test_wrong_side_rows_are_told_in_working_order() -> None:
    one = "A\n\nCast on 5 sts.\nRow 1 (RS): Knit.\nRow 2 (WS): P1, k1, p3.\n"
    other = one.replace("P1, k1, p3", "P3, k1, p1")
    row = compare(one, other)[0].sections[0].rows[1]
    assert (row.place, row.column) == (2, 3)


@pytest.mark.parametrize(
    ("third", "says"),
    [
        ("K2, *yo, k2tog, k2; rep from * to last st, k1", "shifted 1 stitch to the left"),
        ("*Yo, k2tog, k2; rep from * to last 3 sts, yo, k2tog, k1", "shifted 1 stitch to the right"),
        ("K3, *yo, k2tog, k2; rep from * to end", "shifted 2 stitches to the"),
    ],
)
def test_shifted_rows_are_called_so(third: str, says: str) -> None:
    other = EYELETS.replace("K1, *yo, k2tog, k2; rep from * to last 2 sts, yo, k2tog", third)
    found, told = compare(EYELETS, other)
    assert [row.status for row in found.sections[0].rows].count("shifted") == 1
    assert f"row 3: the same, but {says}" in told


def test_shifts() -> None:
    row = list("kkokkkokkkokk")
    assert shift_between(row, row) == 0
    assert shift_between(row, list("kkkokkkokkkok")) == 1
    assert shift_between(row, list("kokkkokkkokkk")) == -1
    assert shift_between(list("okkokk"), list("kokkok"), in_round=True) == 1
    assert shift_between(list("okkokk"), list("kokkkk"), in_round=True) == 0
    assert shift_between(list("kkkk"), list("kkkk")) == 0
    assert shift_between(list("kpkp"), list("kpk")) == 0


def test_missing_and_extra_rows() -> None:
    shorter = EYELETS.replace("Row 1 (RS): Knit.\nRow 2 (WS): Purl.\n", "").replace(
        "Row 3:", "Row 3 (RS):"
    )
    found, told = compare(EYELETS, shorter)
    assert [row.status for row in found.sections[0].rows] == [
        "only in the first", "only in the first", "same", "same",
    ]  # fmt: skip
    assert "row 1: only in the first" in told
    back, _ = compare(shorter, EYELETS)
    assert [row.status for row in back.sections[0].rows][:2] == ["only in the second"] * 2


def test_renumbered_rows_are_found_again() -> None:
    other = EYELETS.replace("Row 4: Purl.\n", "Row 4: Purl.\nRow 5: Purl.\nRow 6: Knit.\n")
    moved = other.replace("Row 1 (RS): Knit.", "Row 1 (RS): Purl.\nRow 2 (WS): Knit.")
    moved = moved.replace("Row 2 (WS): Purl.", "Row 4: Purl.").replace("Row 3:", "Row 5:")
    found, _ = compare(EYELETS, moved)
    statuses = [row.status for row in found.sections[0].rows]
    assert "same" in statuses and "only in the second" in statuses


def test_different_multiples_are_said() -> None:
    one = "A\n\nRow 1 (RS): *K1, p1; rep from * to end.\n"
    other = "A\n\nRow 1 (RS): *K1, p1; rep from * to last st, k1.\n"
    found, told = compare(one, other)
    assert not found.same
    assert "no number of stitches fits both: multiple of 2; multiple of 2 + 1" in told


def test_words_against_a_chart() -> None:
    words = load(ROOT / "samples/mooring-rope.knit")
    chart = load(ROOT / "samples/mooring-rope.csv")
    assert match(read(words), read_table(chart)).same
    changed = Source(chart.name, chart.text.replace("2/1 RPC,<,<,p,p,p,,,11", "2/1 LPC,<,<,p,p,p,,,11"))
    found = match(read(words), read_table(changed))
    (row,) = [row for row in found.sections[0].rows if row.status != "same"]
    assert row.name == "row 11"
    assert changed.at(row.other.span).startswith("2/1 LPC")


def test_two_sizes() -> None:
    source = Source(
        "", "A\n\nSizes: S (M)\n\nBand\n\nCast on 9 (11) sts.\nRow 1 (RS): K4 (5), p1, k4 (5).\n"
        "Row 2: Knit.\n",
    )  # fmt: skip
    pattern = read(source)
    assert match(pattern, pattern).same
    found = match(pattern, pattern, sizes=(0, 1))
    row = found.sections[0].rows[0]
    assert (row.status, row.place) == ("differs", 5)


def test_sections_by_name() -> None:
    body = "Cuff\n\nRow 1 (RS): *K1, p1; rep from * to end.\n\nLeg\n\nRow 1 (RS): Knit.\n"
    pattern = read(text(body))
    assert match(pattern, pattern, sections=("leg", "leg")).same
    assert not match(pattern, pattern, sections=("cuff", "leg")).same
    with pytest.raises(CannotMatch, match="the sections are: Cuff, Leg"):
        match(pattern, pattern, sections=("toe", None))


def test_nothing_to_compare() -> None:
    with pytest.raises(CannotMatch, match="no rows"):
        match(read(text("Only words.\n")), read(text(EYELETS)))


def test_json() -> None:
    first, second = text(EYELETS), text(EYELETS.replace("*yo, k2tog", "*yo, ssk"))
    found = match(read(first), read(second))
    data = json.loads(json.dumps(match_json(found, first, second)))
    assert data["same"] is False
    row = data["sections"][0]["rows"][2]
    assert (row["status"], row["stitch"], row["first"]["line"]) == ("differs", 3, 9)
    assert row["second"]["text"] == "ssk"
