"""Charts kept in a spreadsheet: what designers save, and what we write."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from chartc.counting import count
from chartc.fabric import DoesNotFit, knit
from chartc.knitting import plans
from chartc.matching import match, seen_rows
from chartc.pattern import Again, Repeat, Row, Unread, Work
from chartc.reading import read
from chartc.source import Source, decode, load
from chartc.tables import CannotTabulate, looks_like_table, read_table, write_table
from chartc.tables.fields import separator_of, split_lines
from chartc.tables.making import table_of
from chartc.turning.commands import words_text
from chartc.wording.tidy import alone, stitch_pattern, worked_on

ROOT = Path(__file__).parent.parent
SOUND = [
    path
    for path in sorted((ROOT / "samples").glob("*.knit"))
    + sorted((ROOT / "tests/published/patterns").glob("A*.knit"))
    if "-slip" not in path.name
]


def table(text: str, name: str = "chart.csv") -> Source:
    return Source(name, text)


def keys(row: Row) -> list[str]:
    """The stitches of a row in working order; a repeat in brackets."""
    found: list[str] = []
    for step in row.steps:
        if isinstance(step, Repeat):
            found += ["[", *(s.stitch.key for s in step.body), "]"]
        elif isinstance(step, Work):
            found.append(step.stitch.key)
    return found


def rows_of(source: Source) -> dict[int, Row]:
    pattern = read_table(source)
    return {row.number: row for row in pattern.sections[0].flow if isinstance(row, Row)}


EYELETS = """Title: Sluice
Worked: flat

4,,,,,,,,
,,,k2tog,yo,,,,3
2,,,,,,,,
,,k2tog,yo,,,,,1
,,[,,,],,,
"""


# ------------------------------------------------------------------ reading


def test_a_chart_as_a_designer_keeps_it() -> None:
    rows = rows_of(table(EYELETS))
    assert [(n, row.side) for n, row in rows.items()] == [
        (1, "RS"), (2, "WS"), (3, "RS"), (4, "WS"),
    ]  # fmt: skip
    # RS rows are worked from right to left, WS rows from left to right and from behind
    assert keys(rows[1]) == ["k", "k", "[", "k", "k", "yo", "k2tog", "]", "k"]
    assert keys(rows[2]) == ["p", "[", "p", "p", "p", "p", "]", "p", "p"]
    assert keys(rows[3]) == ["k", "k", "[", "k", "yo", "k2tog", "k", "]", "k"]
    repeat = next(step for step in rows[1].steps if isinstance(step, Repeat))
    assert repeat.target is not None and repeat.target.n.values == (1,)
    works = count(read_table(table(EYELETS))).sections[0].works
    assert works is not None and (works.multiple, works.plus) == (4, 3)


def test_every_stitch_points_at_its_cell() -> None:
    source = table(EYELETS)
    for row in rows_of(source).values():
        for step in row.steps:
            for one in step.body if isinstance(step, Repeat) else (step,):
                assert source.at(one.span) in ("", one.stitch.us)
                assert one.span.start >= row.span.start and one.span.end <= row.span.end


@pytest.mark.parametrize(
    ("text", "mark"),
    [(EYELETS.replace(",", ";"), ";"), (EYELETS.replace(",", "\t"), "\t"), (EYELETS, ",")],
)
def test_separators(text: str, mark: str) -> None:
    assert separator_of(text) == mark
    assert keys(rows_of(table(text))[1]) == keys(rows_of(table(EYELETS))[1])


@pytest.mark.parametrize(
    "change",
    [
        lambda t: t.upper().replace("TITLE", "Title").replace("WORKED", "Worked"),
        lambda t: "".join(line + ",,\n" for line in t.splitlines()),  # empty columns
        lambda t: t.replace("\n", "\r\n"),
        lambda t: t.replace("k2tog", '"k2tog"').replace("yo", '" yo "'),
        lambda t: t + ",,,,,,,,\n,,,,,,,,\n",  # empty lines below
        lambda t: decode(t.encode("utf-8-sig"), "chart.csv"),
        lambda t: t.replace("k2tog", "K2 tog").replace("yo", "YO"),
        lambda t: re.sub(r"(?m),(\d)$", r",Row \1", t),
        lambda t: re.sub(r"(?m)^(\d),", r"\1 (WS),", t),
    ],
)
def test_spreadsheet_habits(change) -> None:
    source = table(change(EYELETS))
    assert {n: keys(row) for n, row in rows_of(source).items()} == {
        n: keys(row) for n, row in rows_of(table(EYELETS)).items()
    }
    assert read_table(source).remarks == ()


def test_row_numbers_in_one_column_or_none() -> None:
    wanted = {n: keys(row) for n, row in rows_of(table(EYELETS)).items()}
    right = "\n".join(["Columns: 7", ",,,,,,,4", ",,k2tog,yo,,,,3", ",,,,,,,2", ",k2tog,yo,,,,,1",
                       ",[,,,],,"])  # fmt: skip
    none = "\n".join(["Columns: 7", ",,,,,,", ",,k2tog,yo,,,", ",,,,,,", ",k2tog,yo,,,,",
                      ",[,,,],,"])  # fmt: skip
    assert {n: keys(row) for n, row in rows_of(table(right)).items()} == wanted
    no_numbers = {n: keys(row) for n, row in rows_of(table(none)).items()}
    # without numbers the empty line at the top is no row, and that is said
    assert no_numbers == {n: wanted[n] for n in (1, 2, 3)}
    assert any("number the rows" in r.message for r in read_table(table(none)).remarks)


def test_orientation() -> None:
    down = "Columns: 2\n1,k,yo\n2,,\n3,k2tog,p\n"
    assert {n: keys(row)[0] for n, row in rows_of(table(down)).items()} == {
        1: "yo", 2: "p", 3: "p",
    }  # fmt: skip
    up = "Read: bottom up\nColumns: 2\nk,yo\n,\nk2tog,p\n"
    assert keys(rows_of(table(up))[1]) == ["p", "k2tog"]
    down = "Read: top down\nColumns: 2\nk,yo\n,p\nk2tog,p\n"
    assert keys(rows_of(table(down))[1]) == ["yo", "k"]


def test_sides() -> None:
    text = "First row: WS\nColumns: 2\n,p,2\n,p,1\n"
    rows = rows_of(table(text))
    assert (rows[1].side, rows[2].side) == ("WS", "RS")
    assert keys(rows[1]) == ["p", "k"] and keys(rows[2]) == ["p", "k"]
    rows = rows_of(table("Columns: 2\n2 RS,k,p\n1 WS,k,p\n"))
    assert (rows[1].side, rows[2].side) == ("WS", "RS")


def test_rounds() -> None:
    rows = rows_of(table("k,p,Rnd 2\nk2tog,yo,Rnd 1\n"))
    assert rows[1].in_round and keys(rows[1]) == ["yo", "k2tog"]
    assert keys(rows[2]) == ["p", "k"] and rows[2].label == "Rnd 2"


def test_cells_as_worked() -> None:
    shown = "Columns: 3\n2,k,p,k2tog\n"
    assert keys(rows_of(table(shown))[2]) == ["p", "k", "p2tog"]
    worked = "Cells: as worked\n" + shown
    assert keys(rows_of(table(worked))[2]) == ["k", "p", "k2tog"]


def test_background_and_no_stitch() -> None:
    text = "Worked: in the round\nBackground: purl\nNo stitch: -\nColumns: 4\n,-,k,yo,1\n"
    assert keys(rows_of(table(text))[1]) == ["yo", "k", "p"]


@pytest.mark.parametrize("mark", ["x", "-"])
def test_no_stitch_must_be_declared(mark: str) -> None:
    pattern = read_table(table(f"k,{mark},k,1\n"))
    assert [r.message for r in pattern.remarks] == [
        f"row 1, column 2: “{mark}” is no stitch by itself; if it means that there is none here, "
        f"write “No stitch: {mark}” above the chart, else “{mark} = ” and the stitch"
    ]


def test_stitches_that_span_cells() -> None:
    explicit = "Columns: 6\nk,C4F,<,<,<,k,1\n"
    merged = "Columns: 6\nk,C4F,,,,k,1\n"
    for text in (explicit, merged):
        assert keys(rows_of(table(text))[1]) == ["k", "c4f", "k"]
    source = table(explicit)
    cable = rows_of(source)[1].steps[1]
    assert source.at(cable.span) == "C4F,<,<,<"


def test_the_key() -> None:
    text = "o = yo\n/ = k2tog\nML = (k1, yo, k1) in next st, turn, p3, turn, sk2p\n\nk,/,o,ML,1\n"
    pattern = read_table(table(text))
    row = next(it for it in pattern.sections[0].flow if isinstance(it, Row))
    assert [key.lower() for key in keys(row)] == ["ml", "yo", "k2tog", "k"]
    assert [(own.name, own.stitch.uses, own.stitch.makes) for own in pattern.own] == [("ML", 1, 1)]
    assert pattern.remarks == ()


def test_facts_and_cast_on() -> None:
    pattern = read_table(table("Title: Reeds\nCast on: 12 sts\nGauge: 22 sts = 10 cm\nk,p,1\n"))
    assert pattern.title == "Reeds"
    assert pattern.sections[0].starts == "cast on"
    assert pattern.fact("gauge") is not None


def test_other_rows() -> None:
    text = "Other rows: purl\nColumns: 3\nyo,k2tog,,3\n,yo,k2tog,1\n"
    rows = rows_of(table(text))
    assert list(rows) == [1, 2, 3, 4]
    assert rows[2].side == "WS" and rows[2].steps[0].stitch.key == "p"


def test_repeat_that_steps() -> None:
    """Each line of marks is for the rows above it."""
    text = (
        "Worked: in the round\nColumns: 5\n,,k2tog,yo,,2\n,,[,,],\n,k2tog,yo,,,1\n,[,,],,\n"
    )
    rows = rows_of(table(text))
    assert keys(rows[1]) == ["k", "[", "k", "yo", "k2tog", "]", "k"]
    assert keys(rows[2]) == ["[", "k", "yo", "k2tog", "]", "k", "k"]


@pytest.mark.parametrize(
    ("cells", "says"),
    [
        ("k,k2tgo,k", "row 1, column 2: “k2tgo” is not understood; is it “k2tog”?"),
        ("k,k3,k", "row 1, column 2: “k3” is 3 stitches in one cell; a cell holds one stitch"),
        ("<,k,k", "row 1, column 1: “<” has no stitch at its left to belong to"),
        ("k,zork,k", "row 1, column 2: “zork” is not understood; say what it is: “zork = ...”"),
    ],
)
def test_bad_cells_name_their_place(cells: str, says: str) -> None:
    source = table(f"{cells},1\n")
    pattern = read_table(source)
    assert [remark.message for remark in pattern.remarks] == [says]
    assert source.at(pattern.remarks[0].span) in says


def test_a_stitch_with_no_right_side_name() -> None:
    pattern = read_table(table("Columns: 2\n2,kfb,k\n"))
    assert "write “WS kfb”" in pattern.remarks[0].message
    row = pattern.sections[0].flow[0]
    assert isinstance(row.steps[0], Unread) and not row.readable
    assert keys(rows_of(table("Columns: 2\n2,WS kfb,k\n"))[2]) == ["kfb", "p"]


def test_nothing_in_it() -> None:
    for text in ("", "\n\n", "Title: Nothing\n", ",,,\n"):
        pattern = read_table(table(text))
        assert pattern.remarks and not pattern.sections[0].flow


def test_quotes() -> None:
    fields = [f.text for f in split_lines(table('"a ""b"" c","two\nlines",d'))[0].fields]
    assert fields == ['a "b" c', "two lines", "d"]


def test_which_files_are_tables() -> None:
    assert looks_like_table("a/b.CSV") and looks_like_table("b.tsv")
    assert not looks_like_table("b.knit")


# ------------------------------------------------------------------ writing


def worked(pattern, section: int, number: int) -> list:
    found = worked_on(alone(pattern, section), number)
    return found and [row.shown for row in seen_rows(found[1])]


@pytest.mark.parametrize("path", SOUND, ids=lambda path: path.stem)
def test_words_to_table_to_words(path: Path) -> None:
    """Every stitch pattern of the samples and the published ones, as a table and back."""
    pattern = read(load(path))
    for i in range(len(pattern.sections)):
        found = stitch_pattern(pattern, i)
        if found is None:
            continue
        text = table_of(pattern, i)
        back = read_table(table(text))
        assert back.remarks == ()
        works = count(alone(pattern, i)).sections[0].works
        again = count(alone(back, 0)).sections[0].works
        assert (works.multiple, works.plus) == (again.multiple, again.plus)
        for times in (1, 3):
            number = works.least + times * works.multiple
            assert worked(pattern, i, number) == worked(back, 0, number)
        assert table_of(back) == table_of(read_table(table(table_of(back))))


@pytest.mark.parametrize("name", ["sluice-eyelets", "cockle-fan", "mooring-rope"])
def test_sample_tables_are_their_words(name: str) -> None:
    """Words and chart of a sample are the same knitting, and the chart told in words is too."""
    words = read(load(ROOT / f"samples/{name}.knit"))
    chart = load(ROOT / f"samples/{name}.csv")
    assert read_table(chart).remarks == ()
    assert match(words, read_table(chart)).same
    told = read(Source("", words_text(chart)))
    assert told.remarks == () and match(words, told).same


def test_short_rows_make_no_table() -> None:
    source = Source("", "A\n\nB\n\nCast on 9 sts.\nRow 1 (RS): K6, turn.\nRow 2: P3, turn.\n")
    with pytest.raises(CannotTabulate, match="whole rows only"):
        table_of(read(source))


def test_a_slip_makes_no_table() -> None:
    source = Source("", "A\n\nB\n\nCast on 9 sts.\nRow 1 (RS): K10.\n")
    with pytest.raises(DoesNotFit):
        table_of(read(source))


def test_fields_that_spreadsheets_would_reckon_are_quoted() -> None:
    source = Source("", "A\n\nB\n\nCast on 4 sts.\nRow 1 (RS): (k1, p1) in next st, k3.\n")
    cast_on, planned = plans(read(source), 0)
    text = write_table(knit(cast_on, planned), title="=1+1, or so")
    assert '"Title: =1+1, or so"' in text
    assert read_table(table(text)).remarks == ()


def test_rows_worked_again_are_told_once() -> None:
    pattern = read(load(ROOT / "samples/cockle-fan.knit"))
    assert any(isinstance(it, Again) for it in pattern.sections[0].flow)
    assert len(rows_of(table(table_of(pattern)))) == 6
