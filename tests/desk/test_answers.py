"""What the page is told: counts by line, places in its own units, cells and their loops.

The counts are checked against tests/expected/, worked out from the knitting loop by loop and
without the program; UTF-16 offsets against Python's own encoder.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from chartc.desk.comparing import compare
from chartc.desk.exports import KINDS, CannotMake, make
from chartc.desk.limits import MOST_STITCHES
from chartc.desk.offsets import Offsets
from chartc.desk.picturing import ChartWish, chart_data
from chartc.desk.proofing import count_data, finding_data
from chartc.desk.samples import sample_text, samples
from chartc.desk.taking import CannotTake, take
from chartc.source import Span, load

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "samples"
EXPECTED = ROOT / "tests" / "expected"


def text_of(name: str) -> str:
    return load(SAMPLES / f"{name}.knit").text.replace("\r\n", "\n")


def counted(name: str) -> dict[int, list[int]]:
    """Line -> the count that stands beside it in each size, the first time through."""
    return {
        line["line"]: [one[4] for one in line["rows"][0]["counts"][0]]
        for line in count_data(text_of(name))["lines"]
        if line["rows"]
    }


@pytest.mark.parametrize("name", ["samphire-leaf", "ebb-ripple", "cockle-fan", "lanternhead-hat"])
def test_the_count_column_against_counts_by_hand(name: str) -> None:
    column = counted(name)
    expected = json.loads((EXPECTED / f"{name}.json").read_text())
    met = 0
    for section in expected["sections"]:
        for row in section["rows"]:
            if row.get("pass", 1) != 1 or row["line"] not in column:
                continue
            assert column[row["line"]] == row["counts_after"], (name, row["label"])
            met += 1
    assert met >= 2, f"no row of {name} was compared"


def test_every_sample_is_told() -> None:
    for one in samples()[::3]:
        text = sample_text(one["name"])
        assert text is not None
        told = {**count_data(text), **finding_data(text)}
        json.dumps(told)
        lines = text.split("\n")
        for finding in told["findings"]:
            assert 0 <= finding["start"] <= finding["end"] <= len(text)
            assert 1 <= finding["line"] <= len(lines)
        for line in told["lines"]:
            assert 1 <= line["line"] <= len(lines)
            for row in line["rows"]:
                assert row["times"] >= 1 and row["counts"]
                for time in row["counts"]:
                    assert all(0 <= one[0] < len(told["sizes"]) for one in time)
        spans = [(one["start"], one["end"]) for one in told["sections"]]
        assert spans == sorted(spans)


@pytest.mark.parametrize("text", ["plain", "caf\u00e9 \u2014 k2", "\U0001f9f6k2\U0001f9f6, p2", ""])
def test_offsets_in_utf_16(text: str) -> None:
    at = Offsets(text)
    for place in range(len(text) + 1):
        assert at(place) == len(text[:place].encode("utf-16-le")) // 2
    assert at.span(Span(0, len(text))) == [0, len(text.encode("utf-16-le")) // 2]


def test_marks_stand_under_the_stitch_after_an_emoji() -> None:
    text = "Cowl \U0001f9f6\n\nCast on 6 sts.\nRow 1: K3, wobble, k3.\n"
    finding = finding_data(text)["findings"][0]
    units = text.encode("utf-16-le")
    passage = units[2 * finding["start"] : 2 * finding["end"]].decode("utf-16-le")
    assert "wobble" in passage


def test_a_repair_mends() -> None:
    text = text_of("dunlin-tracks-slip")
    told = finding_data(text)
    wrong = [one for one in told["findings"] if one["severity"] == "wrong"]
    assert wrong and wrong[0]["repairs"]
    repair = wrong[0]["repairs"][0]
    assert "after \u201c" in repair["says"]
    mended = text[: repair["start"]] + repair["text"] + text[repair["end"] :]
    assert finding_data(mended)["sound"]


# ------------------------------------------------------------------ the chart


def test_cells_know_their_loops() -> None:
    text = "Cowl\n\nCast on 6 sts.\nRow 1 (RS): K2, k2tog, yo, k2.\nRow 2: Purl.\n"
    told = chart_data(text, ChartWish())
    first, second = told["rows"]
    names = [told["stitches"][cell[2]]["name"] for cell in sorted(first["cells"], key=lambda c: c[3])]
    assert names == ["k", "k", "k2tog", "yo", "k", "k"]
    by_order = {cell[3]: cell for cell in first["cells"]}
    # k2tog is drawn through the third and fourth loop cast on, the front one first
    assert sorted(by_order[2][6]) == [[-1, 2], [-1, 3]]
    assert by_order[3][6] == []
    # the yarn over is the third loop met on the way back
    assert by_order[3][7] == [[1, 2]]
    back = {cell[3]: cell for cell in second["cells"]}
    assert back[2][6] == [[0, 3]]
    assert text[by_order[3][4] : by_order[3][5]] == "yo"
    assert second["fromLeft"] and not first["fromLeft"]


def test_the_chart_of_every_sample_or_a_reason() -> None:
    for one in samples()[::2]:
        text = sample_text(one["name"])
        assert text is not None
        for section in range(min(3, len(count_data(text)["sections"]))):
            told = chart_data(text, ChartWish(section=section))
            if "none" in told:
                assert told["none"] and "Error" not in told["none"]
                continue
            ElementTree.fromstring(told["svg"])
            for row in told["rows"]:
                for cell in row["cells"]:
                    assert cell[0] >= 0 and cell[0] + cell[1] <= told["width"]
                    assert 0 <= cell[4] <= cell[5] <= len(text)


def test_edges_and_two_repeats_unless_all_is_wanted() -> None:
    text = text_of("spit-drift")
    narrow, wide = (chart_data(text, ChartWish(whole=w)) for w in (False, True))
    assert (narrow["width"], wide["width"]) == (12 + 6, 72)
    assert narrow["cut"] and not wide["cut"]


def test_wishes_change_the_chart() -> None:
    text = text_of("dunlin-tracks")
    plain = chart_data(text, ChartWish())
    drift = text_of("spit-drift")
    assert len(chart_data(drift, ChartWish(pattern_rows=True))["rows"]) == 10
    assert len(chart_data(drift, ChartWish())["rows"]) == 20
    assert chart_data(text, ChartWish(mirrored=True))["mirrored"]
    assert "chart-drift" in chart_data(text, ChartWish(drift=True))["svg"]
    uk = chart_data(text, ChartWish(usage="uk"))["stitches"]
    assert any(one["name"] == "yfwd" or one["name"] == "yf" for one in uk) or uk != plain["stitches"]
    high = chart_data(text, ChartWish(gauge=True))["svg"]
    assert high != plain["svg"]


@pytest.mark.parametrize(
    "odd", [{"section": "x"}, {"section": -5}, {"size": 10**9}, {"whole": 3}, {"usage": "<b>"},
            {"unknown": 1}, {"section": True}]
)  # fmt: skip
def test_odd_wishes_do_no_harm(odd: dict[str, Any]) -> None:
    told = chart_data(text_of("dunlin-tracks"), ChartWish.of(odd))
    assert "svg" in told or "none" in told


def test_broken_rows_are_drawn_as_far_as_they_come_out() -> None:
    told = chart_data(text_of("spit-drift-slip"), ChartWish())
    assert "more than there are" in told["broken"]
    assert 0 < len(told["rows"]) < 20
    text = "Cowl\n\nCast on 7 sts.\nRow 1: *K1, yo, k2tog; rep from *.\n"
    over = chart_data(text, ChartWish(whole=True))
    assert "does not come out" in over["broken"]
    nothing = chart_data("Cowl\n\nCast on 2 sts.\nRow 1: K5.\n", ChartWish())
    assert "no chart yet" in nothing["none"]
    assert "no rows" in chart_data("", ChartWish())["none"]


def test_too_many_stitches_for_a_page() -> None:
    text = f"Cowl\n\nCast on {MOST_STITCHES} sts.\nRow 1: Knit.\nRow 2: Purl.\n"
    assert "too many" in chart_data(text, ChartWish(whole=True))["none"]


HOSTILE = "<script>alert(1)</script>\"'><img src=x onerror=alert(1)>&amp;\x1b[31m\x00\u202e"


def test_hostile_words_stay_words() -> None:
    text = (
        f"{HOSTILE}\n\nSizes: {HOSTILE} (b)\n{HOSTILE}:\nCast on 6 sts.\n"
        f"Row 1: K6. {HOSTILE}\n{HOSTILE}: K2, {HOSTILE}, k2.\n"
    )
    json.dumps([count_data(text), finding_data(text)])
    told = chart_data(text, ChartWish())
    if "svg" in told:
        root = ElementTree.fromstring(told["svg"])
        assert not [one for one in root.iter() if one.tag.endswith(("script", "img"))]
    for kind in KINDS:
        if kind.missing or kind.ending in ("png", "pdf"):
            continue
        try:
            made = make(kind.key, text, {}, "../../<x>.knit").data.decode("utf-8")
        except CannotMake:
            continue
        if kind.ending in ("html", "svg"):
            assert "<script" not in made and "<img" not in made


# ------------------------------------------------------------------ files sent out and taken in


@pytest.mark.parametrize("kind", [kind.key for kind in KINDS])
def test_every_kind_of_file_is_made(kind: str) -> None:
    if next(one for one in KINDS if one.key == kind).missing:
        pytest.skip("an extra it needs is not installed")
    made = make(kind, text_of("dunlin-tracks"), {"section": 0}, "deep/Dunlin Tracks.knit")
    assert made.name.startswith("dunlin-tracks") and "/" not in made.name
    signs = {"svg": b"<?xml", "png": b"\x89PNG\r\n", "pdf": b"%PDF-", "csv": b"\xef\xbb\xbfTitle",
             "captions": b"WEBVTT",
             "sheet-pdf": b"%PDF-", "report-pdf": b"%PDF-", "report-json": b"{"}  # fmt: skip
    assert made.data.startswith(signs.get(kind, b""))
    again = make(kind, text_of("dunlin-tracks"), {"section": 0}, "deep/Dunlin Tracks.knit")
    assert again.data == made.data


def test_what_cannot_be_made_is_said() -> None:
    with pytest.raises(CannotMake):
        make("exe", "x", {}, "")
    with pytest.raises(CannotMake):
        make("svg", "", {}, "")
    with pytest.raises(CannotMake, match="not sound"):
        make("svg", text_of("spit-drift-slip"), {}, "")


@pytest.mark.parametrize("kind", ["csv", "svg"])
def test_a_chart_sent_out_and_taken_in_is_the_same_knitting(kind: str) -> None:
    text = text_of("dunlin-tracks")
    made = make(kind, text, {"section": 0}, "dunlin.knit").data.decode("utf-8-sig")
    words = take(made, f"dunlin.{kind}")["text"]
    assert finding_data(words)["sound"]
    assert compare(text, {"name": "other.knit", "text": words})["same"]


def test_charts_that_cannot_be_taken_in() -> None:
    for text, name in (("", "x.csv"), ("a,b\nc,d", "x.csv"), ("<svg/>", "x.svg"), ("x", "x.svg"),
                       ("1,yo,yo,sk2p", "x.csv")):  # fmt: skip
        try:
            told = take(text, name)
        except CannotTake as why:
            assert str(why) and "Error" not in str(why)
        else:
            assert told["notes"] or told["text"]


def test_comparing_names_the_row_and_the_line() -> None:
    told = compare(
        text_of("dunlin-tracks"), {"name": "x.knit", "text": text_of("dunlin-tracks-slip")}
    )
    assert not told["same"]
    first = told["rows"][0]
    assert first["line"] == 30 and "row 3" in first["says"]
    assert any(one["line"] == 30 for one in told["lines"])
    same = compare(text_of("dunlin-tracks"), {"name": "x.knit", "text": text_of("dunlin-tracks")})
    assert same["same"] and not same["rows"] and not same["lines"]
    assert "cannot" in compare("Cowl\n", {"name": "x.knit", "text": "Hat\n"})
