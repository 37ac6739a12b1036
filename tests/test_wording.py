"""The writer: names that read back, repeats on the same columns, tidy copies."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from chartc.counting import count
from chartc.matching import knot, match, seen_rows
from chartc.pattern import Work
from chartc.reading import read
from chartc.source import CannotRead, Source, load
from chartc.turning.commands import words_text
from chartc.vocabulary import load_vocabulary
from chartc.wording.naming import in_words, stitch_words
from chartc.wording.ribs import rib_name, rib_names
from chartc.wording.rows import lines_of, split_lines, worded, written_rows
from chartc.wording.sentences import row_sentence
from chartc.wording.shorten import cost, shorten
from chartc.wording.splitting import split, split_at
from chartc.wording.style import HouseStyle, house_styles, load_style
from chartc.wording.tidy import alone, stitch_pattern, tidy, worked_on

ROOT = Path(__file__).parent.parent
FILES = sorted((ROOT / "samples").glob("*.knit")) + sorted(
    (ROOT / "tests/published/patterns").glob("*.knit")
)
SOUND = [path for path in FILES if "-slip" not in path.name]


def stitches(text: str) -> tuple:
    """Single stitches from a terse list: "k yo k2tog"."""
    return tuple(load_vocabulary().get(key) for key in text.split())


def text_of(rows: str, multiple: str = "") -> Source:
    return Source("text", f"Reed Bed\n\nReeds{multiple}\n\n{rows}\n")


# ------------------------------------------------------------------ names


@pytest.mark.parametrize("style", ["us", "uk", "spelled"])
@pytest.mark.parametrize("times", [1, 2, 3, 7])
def test_every_stitch_reads_back(style: str, times: int) -> None:
    """Every stitch of the vocabulary, worked some times, is worded so that it reads back."""
    house = load_style(style)
    purl, last = stitches("p k3tog")
    for stitch in load_vocabulary().stitches.values():
        if stitch.asks or stitch.key in ("bo", "co"):  # "bo 3" is an instruction, not 3 stitches
            continue
        words = ", ".join(stitch_words(stitch, times, house))
        pattern = read(text_of(f"Row 1: P2, {words}, k3tog."))
        found = [knot(one) for one in singles(pattern.sections[0].flow[0].steps)]
        wanted = [knot(one) for one in (purl, purl, *[stitch] * times, last)]
        assert found == wanted, (stitch.key, words)


def singles(steps: tuple) -> list:
    """Steps without open ends as single stitches."""
    found = []
    for step in steps:
        times = step.times.values[0]
        found += [step.stitch] * times if isinstance(step, Work) else singles(step.body) * times
    return found


def test_numbers_in_words() -> None:
    assert [in_words(n) for n in (0, 1, 13, 20, 21, 99, 100, 342, 1000)] == [
        "no", "one", "thirteen", "twenty", "twenty-one", "ninety-nine", "one hundred",
        "three hundred and forty-two", "1000",
    ]  # fmt: skip


# ------------------------------------------------------------------ shortest wording


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("k k k", "k3"),
        ("yo k yo k yo k yo k yo k yo k", "(yo, k1) 6 times"),
        ("k yo k yo k yo k k", "(k1, yo) 3 times, k2"),
        ("k p k", "k1, p1, k1"),
        ("yo yo", "yo, yo"),
        ("yo2 k2tog", "yo twice, k2tog"),
        ("k2tog k2tog k2tog", "k2tog 3 times"),
        ("ktbl ktbl p", "k2 tbl, p1"),
    ],
)
def test_runs_and_inner_repeats(line: str, words: str) -> None:
    steps = shorten(stitches(line))
    assert row_sentence(steps, HouseStyle(capital=False), False) == words


def test_shorten_is_the_shortest() -> None:
    """Against every way of telling a short line, tried out in full."""
    from functools import cache
    from itertools import groupby, product

    @cache
    def least(line: str) -> float:
        if not line:
            return 0.0
        best = float("inf")
        run = len(line) - len(line.lstrip(line[0]))
        for n in range(1, run + 1):
            best = min(best, 1 + least(line[n:]))
        for period in range(2, len(line) // 2 + 1):
            body = line[:period]
            inside = len(list(groupby(body)))
            times = 1
            while line[times * period : (times + 1) * period] == body:
                times += 1
                if inside > 1:
                    best = min(best, 1.5 + inside + least(line[times * period :]))
        return best

    names = {"k": stitches("k")[0], "p": stitches("p")[0], "o": stitches("yo")[0]}
    for letters in product("kpo", repeat=7):
        line = "".join(letters)
        steps = shorten([names[c] for c in line])
        assert cost(steps) == pytest.approx(least(line)), line


def test_repeat_is_the_same_columns_on_all_rows() -> None:
    """The eyelets of row 3 stand half a repeat from those of row 1; the repeat does not move."""
    first = stitches("k yo k2tog k k") + stitches("yo k2tog k k") * 2 + stitches("k")
    plain = stitches("k") * len(first)
    third = stitches("k k k") + stitches("yo k2tog k k") * 2 + stitches("yo k2tog k")
    found = split([first, plain, third])
    assert (found.width, found.stepping) == (4, False)
    starts = {sum(s.uses for s in parts.right) for parts in found.rows}
    assert len(starts) == 1


def test_repeat_steps_where_a_decrease_lies_across_every_border() -> None:
    """Half-drop of a chevron whose double decrease spans each border (published pattern A07)."""
    pattern = read(load(ROOT / "tests/published/patterns/A07-simple-eyelet-lace.knit"))
    found = stitch_pattern(pattern, 0)
    assert found is not None
    parts = split_lines(lines_of(found[1], found[0]))
    assert parts.stepping and parts.width == 6


def test_counts_that_swell_within_the_repeat() -> None:
    pattern = read(load(ROOT / "samples/cockle-fan.knit"))
    found = stitch_pattern(pattern, 0)
    assert found is not None
    parts = split_lines(lines_of(found[1], found[0]))
    made = [sum(s.makes for s in row.body) for row in parts.rows]
    assert parts.width == 10 and parts.edge == 0
    assert made == [10, 16, 16, 14, 12, 10]


def test_split_at_refuses_a_border_inside_a_decrease() -> None:
    row = stitches("k2tog k yo") * 4
    assert split_at([row], 0, 3) is not None
    assert split_at([row], 1, 3) is None


def test_rows_alike_are_told_once() -> None:
    rows = "Row 1 (RS): K1, yo, k2tog, k1.\nRow 2 (WS): Purl.\nRow 3: K2, yo, k2tog.\nRow 4: Purl."
    pattern = read(text_of(rows))
    found = stitch_pattern(pattern, 0)
    assert found is not None
    assert worded(written_rows(lines_of(found[1], found[0])), HouseStyle()) == [
        "Row 1 (RS): K1, yo, k2tog, k1.",
        "Rows 2 and 4 (WS): Purl.",
        "Row 3: K2, yo, k2tog.",
    ]


@pytest.mark.parametrize(
    ("faces", "name"),
    [
        ("kpkpkp", "1x1 rib"), ("kkppkkpp", "2x2 rib"), ("ppkkkppkkk", "3x2 rib"),
        ("kppkppkppk", "1x2 rib"), ("kkkkkk", ""), ("kpk", ""), ("kpkkppkp", ""),
    ],
)  # fmt: skip
def test_ribs_have_names(faces: str, name: str) -> None:
    assert rib_name(faces) == name


def test_moss_stitch_is_no_rib() -> None:
    assert rib_names(["kpkpkp", "pkpkpk", "kpkpkp"]) == ["", "", ""]
    assert rib_names(["kpkpkp", "kpkpkp"]) == ["1x1 rib", "1x1 rib"]


# ------------------------------------------------------------------ tidy copies


def rows_on(pattern, section: int, numbers: list[int]) -> list:
    """The rows of a stitch pattern, seen from the right side, on some numbers of stitches."""
    only = alone(pattern, section)
    assert only is not None
    worked = [worked_on(only, number) for number in numbers]
    return [found and [row.shown for row in seen_rows(found[1])] for found in worked]


@pytest.mark.parametrize("path", SOUND, ids=lambda path: path.stem)
@pytest.mark.parametrize("style", ["us", "spelled"])
def test_tidy_copies_are_the_same_knitting(path: Path, style: str) -> None:
    """Read again, a tidy copy has no more remarks, the same sections, the same counts in every
    size and, for stitch patterns, the same fabric on several numbers of stitches."""
    source = load(path)
    before = read(source)
    text = tidy(source, load_style(style)).text
    after = read(Source(source.name, text))
    assert len(after.remarks) <= len(before.remarks)
    assert [s.name for s in after.sections] == [s.name for s in before.sections]
    counted = count(before), count(after)
    assert len(counted[1].events) <= len(counted[0].events)
    ends = [[(e.section, tuple(z.after for z in e.sizes)) for e in c.entries] for c in counted]
    assert ends[0] == ends[1]
    for i in range(len(before.sections)):
        if stitch_pattern(before, i) is None:
            continue
        works = count(alone(before, i)).sections[0].works
        numbers = [works.least + times * works.multiple for times in (0, 1, 2, 5)]
        assert rows_on(before, i, numbers) == rows_on(after, i, numbers)
        assert bool(works.multiple) == bool(count(alone(after, i)).sections[0].works.multiple)


@pytest.mark.parametrize("path", SOUND, ids=lambda path: path.stem)
def test_tidying_twice_changes_nothing_more(path: Path) -> None:
    source = load(path)
    once = tidy(source).text
    assert tidy(Source(source.name, once)).text == once


def test_everything_that_is_no_row_stays() -> None:
    source = load(ROOT / "samples/mudflat-mosaic.knit")
    tidied = tidy(source).text
    for line in source.text.splitlines():
        if line and not line.startswith(("Row", "Set-up")):
            assert line in tidied.splitlines()
    assert "With A, k1, *sl 1, k3" in tidied  # the yarn of each row stays with it


def test_sizes_markers_and_counts_stay() -> None:
    tidied = tidy(load(ROOT / "samples/ropewalk-mitts.knit")).text
    assert "K20 (22, 24), pm, M1L, pm, k to end. [41 (45, 49) sts]" in tidied


def test_a_slip_is_never_mended_in_silence() -> None:
    """A tidy copy of a pattern with a slip in it has the slip."""
    for path in sorted((ROOT / "samples").glob("*-slip.knit")):
        source = load(path)
        before, after = count(read(source)), count(read(Source("", tidy(source).text)))
        assert [e.kind for e in before.events] == [e.kind for e in after.events], path.name


def test_badly_typed_text_is_cleaned() -> None:
    rows = (
        "row 1 ( RS ) : K 2 , * y.o. ,K 2 tog, knit 1, knit one ; rep from * to end .\n"
        "Row 2: p\nROW 3: k2, *k 2,YO, K2TOG; repeat from * to end\nRow 4: P to end"
    )
    assert tidy(text_of(rows)).text.splitlines()[4:] == [
        "Row 1 (RS): K2, *yo, k2tog, k2; rep from * to end.",
        "Rows 2 and 4 (WS): Purl.",
        "Row 3: K2, *k2, yo, k2tog; rep from * to end.",
    ]


def test_running_counts() -> None:
    rows = "Cast on 5 sts.\nRow 1 (RS): K2, yo, k1, yo, k2.\nRow 2: Purl."
    told = words_text(text_of(rows), counts="all")
    assert "Row 1 (RS): K2, yo, k1, yo, k2. (7 sts)\nRow 2 (WS): Purl. (7 sts)" in told
    told = words_text(text_of(rows), counts="changed")
    assert "Row 1 (RS): K2, yo, k1, yo, k2. (7 sts)\nRow 2 (WS): Purl.\n" in told


def test_counts_in_each_repeat_where_the_number_is_open() -> None:
    rows = "Rnd 1: *K1, yo, k2; rep from * around.\nRnd 2: *K2, k2tog; rep from * around."
    told = words_text(text_of(rows), counts="changed")
    assert "(4 sts in each rep)" in told and "(3 sts in each rep)" in told


def test_diff_on_request() -> None:
    source = text_of("Row 1: k 2, k 2.\nRow 2: Purl.")
    changed = words_text(source, diff=True).splitlines()
    assert "-Row 1: k 2, k 2." in changed and any(line.startswith("+Row 1") for line in changed)
    tidied = words_text(source)
    assert words_text(Source("text", tidied), diff=True) == ""


def back_from_speech(text: str) -> str:
    """Spoken rows in the signs the reader reads."""
    text = re.sub(r"(?i)\brepeat from star\b", "repeat from *", text)
    text = re.sub(r"(?i)\bstar, ", "*", text)
    text = re.sub(r"(?i)open bracket, ", "(", text)
    text = re.sub(r", close bracket,", ")", text)
    text = re.sub(r", (right|wrong) side:", r" (\1 side):", text)
    figures = {in_words(n): str(n) for n in range(1, 60)}
    words = re.compile(r"\b(" + "|".join(sorted(figures, key=len, reverse=True)) + r")\b")
    return re.sub(  # the numbers of rows
        r"(?m)^(Row|Round)s? [^:]*:", lambda m: words.sub(lambda w: figures[w[0]], m[0]), text
    )


@pytest.mark.parametrize(
    "name", ["cockle-fan", "dunlin-tracks", "ebb-ripple", "sluice-eyelets", "samphire-leaf"]
)
def test_spoken_rows_hold_no_signs_and_say_the_same(name: str) -> None:
    source = load(ROOT / f"samples/{name}.knit")
    spoken = words_text(source, "spoken")
    rows = [line for line in spoken.splitlines() if re.match(r"(Row|Round)s? (one|two)", line)]
    assert rows and not any(re.search(r"[*()\[\]\d]", line) for line in rows)
    back = read(Source("", back_from_speech(spoken)))
    assert match(read(source), back).same


# ------------------------------------------------------------------ house styles


def test_house_styles_that_come_along() -> None:
    assert {"us", "uk", "spelled", "spoken"} <= set(house_styles())
    assert load_style("uk").usage == "uk"


def test_usage() -> None:
    rows = "Row 1 (RS): K1, *sl 1, k1, psso, yo; rep from * to last st, k1.\nRow 2: Purl."
    assert "skpo" in words_text(text_of(rows), "uk")
    assert "skp," in words_text(text_of(rows), "us")


def test_a_style_of_ones_own(tmp_path: Path) -> None:
    own = tmp_path / "mine.toml"
    own.write_text("usage = 'uk'\nbrackets = 'square'\ncapital = false\n", encoding="utf-8")
    rows = "Row 1 (RS): (k1, yo) 4 times, k2tog.\nRow 2: Purl."
    assert "[k1, yo] 4 times, k2tog" in words_text(text_of(rows), str(own))


@pytest.mark.parametrize(
    ("text", "says"),
    [("usage = 'french'\n", "usage must be us or uk"), ("font = 'x'\n", "there is no setting font"),
     ("usage = \n", "not a house style file"), ("capital = 'yes'\n", "capital must be true")],
)  # fmt: skip
def test_a_style_that_says_what_it_cannot(tmp_path: Path, text: str, says: str) -> None:
    own = tmp_path / "mine.toml"
    own.write_text(text, encoding="utf-8")
    with pytest.raises(CannotRead, match=re.escape(says)):
        load_style(str(own))


def test_no_such_style() -> None:
    with pytest.raises(CannotRead, match=r"there are: .*spoken"):
        load_style("marsh")


@pytest.mark.parametrize("style", ["us", "spelled"])
def test_neighbours_are_not_read_as_one(style: str) -> None:
    """Words side by side that together name another stitch are kept apart."""
    house = load_style(style)
    pairs = [("slf", "yo"), ("slf", "yo2"), ("k", "pbelow"), ("p", "kbelow"), ("k", "pk"),
             ("p", "kp"), ("sl", "k"), ("sl", "k2tog"), ("k", "yo"), ("ssk", "yo")]  # fmt: skip
    for names in pairs:
        both = stitches(" ".join(names))
        text = row_sentence(shorten((*both, *stitches("p"))), house, False)
        row = read(text_of(f"Row 1: {text}.")).sections[0].flow[0]
        assert [one.key for one in singles(row.steps)] == [*names, "p"], text
