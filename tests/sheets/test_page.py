"""The web page: well formed, complete in itself, readable by ear, safe for any text.

What is asked of the page follows the HTML living standard (unique ids, headings, table header
cells with scope) and WAI-ARIA (a name for every img role), both from memory.
"""

from __future__ import annotations

import re
import subprocess
import sys

import pytest

from chartc.sheets import (
    Document,
    SheetOptions,
    SheetProblem,
    class_sheet,
    cue_card,
    exercise_sheet,
    report,
)
from tests.sheets.kit import ROOT, Node, of, page, sample, sample_names, squeezed

VERSIONS = {
    "plain": SheetOptions(),
    "large": SheetOptions(large=True),
    "contrast": SheetOptions(contrast=True),
    "left": SheetOptions(left_handed=True),
    "words": SheetOptions(words_only=True),
    "symbols": SheetOptions(symbols_only=True),
    "uk": SheetOptions(usage="uk"),
    "letter": SheetOptions(paper="letter"),
    "two": SheetOptions(two_up=True),
}


def checked(document: Document) -> Node:
    """The page, after everything that must hold for any page."""
    html = document.html()
    tree = page(html)
    head = tree.all("head")[0]
    assert tree.all("html")[0].attrs["lang"] == "en"
    assert head.all("title")[0].text
    assert not tree.all("script") and not tree.all("link") and not tree.all("img")
    assert "url(" not in html and "@import" not in html
    assert not re.search(r"(?:src|href)=\"(?!#)", html), "the page reaches outside itself"
    idents = [node.attrs["id"] for node in tree.walk() if "id" in node.attrs]
    assert len(idents) == len(set(idents)), "an id twice"
    for use in tree.all("use"):
        assert use.attrs["href"][1:] in idents, "a symbol that is not in the page"
    for node in tree.walk():
        if node.attrs.get("role") == "img":
            assert node.attrs["aria-label"].strip()
        if "aria-labelledby" in node.attrs:
            assert node.attrs["aria-labelledby"] in idents
    for svg in tree.all("svg"):
        assert svg.attrs.get("aria-label") or svg.attrs.get("aria-hidden") == "true"
    level = 0
    for node in tree.walk():
        if re.fullmatch(r"h[1-6]", node.tag):
            assert int(node.tag[1]) <= level + 1, f"heading level skipped at {node.text}"
            level = int(node.tag[1])
    assert len(tree.all("h1")) == 1
    for table in tree.all("table"):
        assert (table.all("thead") and table.all("caption")) or "aria-label" in table.attrs
        assert all(th.attrs.get("scope") in ("col", "row") for th in table.all("th"))
        wide = len(table.all("thead")[0].all("th"))
        assert all(len(row.all("td")) + len(row.all("th")) == wide for row in table.all("tr")), (
            "a row with too few cells"
        )
    return tree


@pytest.mark.parametrize("name", sample_names())
def test_class_sheet_of_every_sample(name: str) -> None:
    checked(class_sheet(sample(name)))


@pytest.mark.parametrize("version", VERSIONS)
def test_every_version(version: str) -> None:
    for name in ("lanternhead-hat", "mooring-rope"):
        checked(class_sheet(sample(name), VERSIONS[version]))


@pytest.mark.parametrize("name", sample_names())
def test_cue_card_and_report_of_every_sample(name: str) -> None:
    checked(cue_card(sample(name)))
    checked(report(sample(name)))


def test_exercise_pages() -> None:
    for document in exercise_sheet(sample("pea-nupps"), level=3, seed=2):
        checked(document)


HOSTILE = """</title><script>alert("x")</script> & <b>"Net"</b>

An <img src=x onerror=alert(1)> intro; it's "quoted" & plain.

Owner's </style> notes: none
Yarn: <script>bad()</script>

Net <i>part</i> (multiple of 2 sts)

Cast on 20 sts. <svg onload=alert(2)>
Row 1 (RS): *Yo, k2tog; rep from * to end.
Row 2 (WS): Purl.
Bind off all sts. --> &lt;
"""


def test_text_of_a_pattern_never_becomes_markup() -> None:
    proof = of(HOSTILE, 'nets/</style><script>"\\x.knit')
    options = SheetOptions(owner='<script>"O\'Hara"</script>', licence="a&b</section>")
    for document in (class_sheet(proof, options), report(proof, options)):
        tree = checked(document)
        assert (not tree.all("img") and not tree.all("b") and not tree.all("i")) or all(
            not node.children for node in tree.all("i")
        )
        assert "alert" in tree.text
        assert not any(name.startswith("on") for node in tree.walk() for name in node.attrs)
        assert len(tree.all("style")) == 1


def test_hostile_text_on_paper() -> None:
    pytest.importorskip("typst")
    proof = of(HOSTILE + '\n#read("/etc/passwd") #import "x" $a$ `raw` *b* _c_ @ref <lab> \\ "\n')
    for document in (class_sheet(proof), report(proof)):
        assert document.pdf().startswith(b"%PDF")


def test_control_characters_are_left_out() -> None:
    proof = of("Net\x00\x07\n\nPanel\n\nCast on 4 sts.\nRow 1 (RS): Knit.\x0b\nBind off all sts.\n")
    html = class_sheet(proof).html()
    assert not re.search(r"[\x00-\x08\x0b\x0c\x0e-\x1f]", html)


def test_same_input_same_bytes() -> None:
    code = (
        "import sys\n"
        "from tests.sheets.kit import sample\n"
        "from chartc.sheets import *\n"
        "p = sample('lanternhead-hat')\n"
        "import hashlib\n"
        "docs = [class_sheet(p), cue_card(p), report(p), *exercise_sheet(p, level=2, seed=5)]\n"
        "print(hashlib.sha256('|'.join(d.html() for d in docs).encode()).hexdigest(),"
        " hashlib.sha256(captions(p).encode()).hexdigest())\n"
    )
    sums = set()
    for seed, zone in (("0", "UTC"), ("77", "Pacific/Auckland")):
        environment = {
            "PYTHONHASHSEED": seed, "TZ": zone, "PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin",
        }  # fmt: skip
        done = subprocess.run(
            [sys.executable, "-c", code],
            env=environment,
            capture_output=True,
            text=True,
            check=True,
        )
        sums.add(done.stdout)
    assert len(sums) == 1


# ------------------------------------------------------------------ versions


def test_words_only_has_neither_chart_nor_table() -> None:
    """Linear reading order: every row a list item, in the order of the text."""
    proof = sample("lanternhead-hat")
    tree = checked(class_sheet(proof, VERSIONS["words"]))
    assert not tree.all("svg") and not tree.all("table")
    text = squeezed(tree.text)
    at = 0
    for section in proof.pattern.sections:
        for row in section.written or section.flow:
            if hasattr(row, "body"):
                words = squeezed(proof.source.at(row.body)).split(".")[0]
                found = text.find(words, at)
                assert found >= at, f"out of order: {words}"
                at = found if row.number is None or "even" not in row.label else at


def test_symbols_only_tells_no_row_in_words() -> None:
    proof = sample("cockle-fan")
    tree = checked(class_sheet(proof, VERSIONS["symbols"]))
    table = next(t for t in tree.all("table") if "one by one" in t.attrs.get("aria-label", ""))
    assert "ssk" not in table.text
    labels = [svg.attrs.get("aria-label", "") for svg in table.all("svg")]
    assert len(labels) == 6 and all("Rnd" in label for label in labels)


def test_high_contrast_is_black_on_white() -> None:
    html = class_sheet(sample("lanternhead-hat"), VERSIONS["contrast"]).html()
    assert set(re.findall(r"#[0-9a-f]{6}\b", html)) <= {"#000000", "#ffffff"}


def test_left_handed_chart_is_the_mirror_image() -> None:
    right = class_sheet(sample("cockle-fan")).html()
    left = class_sheet(sample("cockle-fan"), VERSIONS["left"]).html()
    assert "from right to left" in right and "from left to right" in left
    assert "mirror image" in left


def test_uk_terms() -> None:
    html = page(class_sheet(sample("lanternhead-hat"), VERSIONS["uk"]).html()).text
    assert "Tension" in html and "Gauge" not in html


def test_left_handed_uk_words_are_the_same_knitting() -> None:
    """The counts do not change with the terms."""
    us = page(class_sheet(sample("lanternhead-hat")).html())
    uk = page(class_sheet(sample("lanternhead-hat"), VERSIONS["uk"]).html())
    assert [n.text for n in us.all("data")] == [n.text for n in uk.all("data")]


@pytest.mark.parametrize(
    "bad", [{"words_only": True, "symbols_only": True}, {"large": True, "two_up": True}]
)
def test_choices_that_do_not_go_together(bad: dict[str, bool]) -> None:
    with pytest.raises(SheetProblem):
        SheetOptions(**bad)  # type: ignore[arg-type]


def test_size_that_is_not_there_is_said_plainly() -> None:
    with pytest.raises(SheetProblem, match="there is no size XL; the sizes: Child"):
        class_sheet(sample("lanternhead-hat"), SheetOptions(own="XL"))
    with pytest.raises(SheetProblem, match="no rows"):
        class_sheet(of("Only a title\n\nand a remark.\n"))


# ------------------------------------------------------------------ what stands where


def test_owner_and_licence() -> None:
    blank = page(class_sheet(sample("cockle-fan")).html()).text
    assert "owner's leave" in blank and "Owner:" in blank
    named = page(
        class_sheet(
            sample("cockle-fan"), SheetOptions(owner="Saltmarsh", licence="CC BY 4.0")
        ).html()
    )
    assert "Owner: Saltmarsh" in named.text and "Licence: CC BY 4.0" in named.text
    assert not [n for n in named.walk() if n.attrs.get("class") == "blank" and "Owner" in n.text]


CHILD = "Pea Hood\n\nSizes: {sizes}\n\nHood\n\nCast on 20 sts.\nRow 1 (RS): Knit.\nBind off all sts.\n{more}\n"


@pytest.mark.parametrize(
    ("sizes", "more", "wanted"),
    [
        ("3-6 months", "Make an i-cord for the ties.", {"cords"}),
        ("3-6 months", "Sew on two buttons.", {"parts"}),
        ("3-6 months", "Sew the seam.", set()),
        ("Adult", "Make an i-cord and sew on two buttons.", set()),
        ("Toddler", "Sew on a pompom and thread the drawstring.", {"cords", "parts"}),
    ],
)
def test_cautions_stand_where_they_belong(sizes: str, more: str, wanted: set[str]) -> None:
    from chartc.sheets.wordbook import cautions

    proof = of(CHILD.format(sizes=sizes, more=more))
    found = {one.key for one in cautions(proof, "class", "us")}
    assert found == wanted | {"hands", "estimates"}
    text = page(class_sheet(proof).html()).text
    for one in cautions(proof, "class", "us"):
        assert one.text in text
        if one.key in ("cords", "parts", "loops"):
            assert "Rules differ from place to place" in one.text


def test_abbreviations_are_those_used_and_no_others() -> None:
    tree = page(class_sheet(sample("cockle-fan")).html())
    names = {dt.text for dt in tree.all("dt")}
    assert {"k", "p", "yo", "ssk", "k2tog", "rep", "rnd", "st", "pm"} <= names
    assert not names & {"WS", "RS", "sl", "kfb", "m1", "tbl", "dpn", "w&t"}


def test_a_pattern_that_is_not_sound_says_so() -> None:
    text = page(class_sheet(sample("creel-net-slip")).html()).text
    assert "Not ready to hand out" in text
    assert "Not ready to hand out" not in page(class_sheet(sample("creel-net")).html()).text
