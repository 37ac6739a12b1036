"""Published abbreviations, WS twins and mirror images against the vocabulary.

Sources (a table row names them by letter):
  A  Craft Yarn Council, Standards & Guidelines (2018), knitting abbreviations master list, as
     restated in a published abbreviation list with its wording; the booklet's own page was
     not seen
  B  Knitty, standard abbreviations and techniques
  C  Knitting for Dummies, terms and abbreviations
  D  abbreviations of a British book
  E  abbreviation pages of two printed books, one with the change of count for every entry
  F  Vogue Knitting, "Reading charts"
  G  a designer's articles on working lace flat and in the round (2013, 2017, 2019)
  H  a visual handbook of knitting, chapter on charts
  I  articles on left-handed knitting (2006, 2011, 2017)
  def  true by what the stitch is
  cp   common practice, no source
  mem  from memory
Counts marked def follow from the published meaning of the term.
"""

from __future__ import annotations

import pytest

from chartc.vocabulary import load_vocabulary

WORDS = load_vocabulary()

# term as printed, loops used, loops made, source
ABBREVIATIONS = [
    ("k", 1, 1, "A B C D"),
    ("p", 1, 1, "A B C D"),
    ("k1 tbl", 1, 1, "A B"),
    ("ktbl", 1, 1, "A"),
    ("p1 tbl", 1, 1, "A B"),
    ("ptbl", 1, 1, "A"),
    ("k1b", 1, 1, "A"),
    ("p1b", 1, 1, "A"),
    ("sl st", 1, 1, "A"),
    ("sl", 1, 1, "A"),
    ("sl 1", 1, 1, "A"),
    ("sl1k", 1, 1, "A"),
    ("sl1p", 1, 1, "A"),
    ("sl 1 wyib", 1, 1, "A F"),
    ("sl 1 wyif", 1, 1, "A F"),
    ("k2tog", 2, 1, "A B C D E"),
    ("p2tog", 2, 1, "A B C D E"),
    ("k2tog tbl", 2, 1, "A"),
    ("p2tog tbl", 2, 1, "A"),
    ("ssk", 2, 1, "B C"),
    ("ssp", 2, 1, "B C"),
    ("skp", 2, 1, "A"),
    ("skpo", 2, 1, "D"),
    ("sl1, k1, psso", 2, 1, "A"),
    ("k3tog", 3, 1, "E"),
    ("p3tog", 3, 1, "E"),
    ("sk2p", 3, 1, "A B C"),
    ("sk2po", 3, 1, "D"),
    ("sl1-k2tog-psso", 3, 1, "B"),
    ("s2kp", 3, 1, "C"),
    ("s2kp2", 3, 1, "C"),
    ("cdd", 3, 1, "C"),
    ("sl2-k1-p2sso", 3, 1, "C"),
    ("sssk", 3, 1, "mem"),
    ("kfb", 1, 2, "A B"),
    ("k1f&b", 1, 2, "A"),
    ("pfb", 1, 2, "A"),
    ("p1f&b", 1, 2, "A"),
    ("pfkb", 1, 2, "E"),
    ("m1", 0, 1, "A B D"),
    ("m1k", 0, 1, "A"),
    ("m1l", 0, 1, "B"),
    ("m1r", 0, 1, "B"),
    ("m1p", 0, 1, "B"),
    ("yo", 0, 1, "A"),
    ("yfwd", 0, 1, "A D"),
    ("yon", 0, 1, "A D"),
    ("yrn", 0, 1, "A D"),
    ("yfrn", 0, 1, "D"),
    ("yo twice", 0, 2, "G"),
    ("dyo", 0, 2, "def"),
    ("(k1, p1, k1) in one st", 1, 3, "E"),
    ("(k1, yo, k1) in one st", 1, 3, "E"),
    ("mb", 1, 1, "A names it; the count is cp"),
    ("c4b", 4, 4, "cp, def"),
    ("c4f", 4, 4, "cp, def"),
    ("c6b", 6, 6, "cp, def"),
    ("c6f", 6, 6, "cp, def"),
    ("t2b", 2, 2, "def"),
    ("t2f", 2, 2, "def"),
    ("t3f", 3, 3, "def"),
    ("cr4f", 4, 4, "def"),
    ("cr4b", 4, 4, "def"),
    ("rt", 2, 2, "C"),
    ("lt", 2, 2, "C"),
    ("2/1 rpc", 3, 3, "C, def"),
    ("2/1 lpc", 3, 3, "C, def"),
    ("bo 1", 1, 0, "A"),
    ("bind off 1", 1, 0, "A"),
    ("cast off 1", 1, 0, "D"),
    ("co 1", 0, 1, "A"),
    ("cast on 1", 0, 1, "A"),
    # A has "inc" and "dec" too; what they do differs (D: front and back; an Australian list:
    # dec is two together), so they read with a doubt
    ("inc", 1, 2, "D"),
    ("dec", 2, 1, "D"),
    # chart meanings named by A's booklet: from memory, to be confirmed
    ("k1 wrapping yarn twice", 1, 1, "mem"),
    ("3-st rc", 3, 3, "mem"),
    ("4-st lpc", 4, 4, "mem"),
    ("6-st lc", 6, 6, "mem"),
]


@pytest.mark.parametrize(
    ("term", "uses", "makes"),
    [row[:3] for row in ABBREVIATIONS],
    ids=[row[0] for row in ABBREVIATIONS],
)
def test_published_term(term: str, uses: int, makes: int) -> None:
    stitch = WORDS.named(term.replace("(", "").replace(")", ""))
    assert stitch is not None
    assert (stitch.uses, stitch.makes) == (uses, makes)


def test_terms_of_more_than_one_meaning_are_read_with_a_doubt() -> None:
    """B, D and an Australian list give "inc" and "dec" different meanings."""
    for term in ("inc", "dec"):
        match = WORDS.match([term])
        assert match is not None and match.meaning.doubt


# A, B, C, D: terms that are no stitch of their own
NO_STITCHES = (
    *("alt", "approx", "beg", "bet", "cc", "cm", "cn", "cont", "dpn", "foll", "g", "in", "inc"),
    *("lh", "m", "mc", "mm", "no", "patt", "pm", "pnso", "prev", "psso", "p2sso", "rem", "rep"),
    *("rh", "rnd", "rs", "sk", "sl", "sm", "st", "tbl", "tog", "ws", "wyib", "wyif", "yb", "yf"),
    *("kwise", "pwise", "rev st st", "st st"),
)


@pytest.mark.parametrize("term", NO_STITCHES)
def test_terms_that_are_no_stitch_are_explained(term: str) -> None:
    assert any(
        term in (entry.abbreviation, *entry.also) and entry.meaning for entry in WORDS.glossary()
    )


# on the right side, worked on a wrong-side row to look the same, source
FROM_THE_OTHER_SIDE = [
    ("k", "p", "F G"),
    ("p", "k", "F G"),
    ("k1 tbl", "p1 tbl", "F"),
    ("p1 tbl", "k1 tbl", "F"),
    ("yo", "yo", "F G"),
    ("k2tog", "p2tog", "G"),
    ("ssk", "ssp", "G"),
    ("skp", "ssp", "F: two slipped, handed back, purled together through the back loops"),
    ("p2tog", "k2tog", "F"),
    ("p2tog tbl", "k2tog tbl", "F"),
    ("ssp", "ssk", "worked out from F and G"),
    ("k3tog", "p3tog", "H"),
    ("p3tog", "k3tog", "H"),
    ("sk2p", "sssp", "cp"),
    ("s2kp", "s2pp2", "mem"),
    ("sl 1 wyib", "sl 1 wyif", "F, a book extract"),
    ("sl 1 wyif", "sl 1 wyib", "a book extract"),
    ("sl 1 kwise wyib", "sl 1 kwise wyif", "F"),
    ("k1, p1 into same st", "k1, p1 into same st", "G: into a double yarn over"),
    ("2/2 lc", "2/2 lc p over p", "worked out: held in front on either side"),
    ("2/2 rc", "2/2 rc p over p", "worked out: held at the back on either side"),
    ("2/1 lpc", "1/2 lpc", "worked out"),
]


@pytest.mark.parametrize(
    ("front", "back"),
    [row[:2] for row in FROM_THE_OTHER_SIDE],
    ids=[row[0] for row in FROM_THE_OTHER_SIDE],
)
def test_worked_from_the_other_side(front: str, back: str) -> None:
    stitch = WORDS.named(front)
    assert stitch is not None
    twin = WORDS.twin(stitch)
    assert twin is not None
    assert WORDS.customary(twin) == WORDS.named(back)
    if stitch.lean is not None:  # G: a decrease keeps its lean when turned
        assert twin.lean == stitch.lean


def test_not_exactly_reversible() -> None:
    """A passed stitch leans the other way over several (G); the bump of kfb changes sides
    (cp); M1L and M1R from the wrong side: no source, so not given."""
    for term in ("sl 1, k1, yo, psso", "kfb", "pfb", "m1l", "m1r"):
        stitch = WORDS.named(term)
        assert stitch is not None and WORDS.twin(stitch) is None, term


# swapped when a chart is mirrored, source
MIRRORED = [
    ("k2tog", "ssk", "I"),
    ("k2tog", "skp", "I: where the pattern uses skp"),
    ("p2tog", "ssp", "worked out from I"),
    ("m1l", "m1r", "worked out from I"),
    ("c6f", "c6b", "I"),
    ("2/2 lc", "2/2 rc", "I"),
    ("2/1 lpc", "2/1 rpc", "I"),
    ("lt", "rt", "I"),
    ("k3tog", "sk2p", "worked out from I: where the pattern uses sk2p"),
    ("k3tog", "sssk", "worked out from I"),
    ("k4tog", "k4tog tbl", "a pattern with both, feather and fan over 14"),
]
UNCHANGED = ["k", "p", "yo", "yo twice", "s2kp", "k1 tbl", "sl 1 wyif"]  # I; centred: I


@pytest.mark.parametrize(("one", "other"), [row[:2] for row in MIRRORED])
def test_mirrored(one: str, other: str) -> None:
    first, second = WORDS.named(one), WORDS.named(other)
    assert first is not None and second is not None
    used = (first.key, second.key)
    for stitch, wanted in ((first, second), (second, first)):
        image = WORDS.mirror(stitch)
        assert image is not None
        assert WORDS.customary(image, used) == wanted


@pytest.mark.parametrize("term", UNCHANGED)
def test_unchanged_in_the_mirror(term: str) -> None:
    stitch = WORDS.named(term)
    assert stitch is not None and WORDS.mirror(stitch) == stitch


# what British patterns call a yarn over, by the stitches either side (articles of 2015; the
# pairing of yfrn is from memory): all make exactly one loop
@pytest.mark.parametrize(
    "term",
    ["yo", "yfwd", "yarn forward", "yrn", "yarn round needle", "yfrn", "yon", "yarn over needle"],
)
def test_every_yarn_over_is_one_loop(term: str) -> None:
    stitch = WORDS.named(term)
    assert stitch is not None and (stitch.uses, stitch.makes) == (0, 1)
    assert stitch.heads == ("yo",)


def test_a_bare_yf_depends_on_its_neighbours() -> None:
    """Between two knit stitches it is a yarn over, beside a slipped stitch it only moves the
    yarn (worked out from British lists that give both)."""
    alone = WORDS.match(["yf", ",", "k", "1"])
    assert alone is not None and alone.stitch is not None and alone.stitch.net == 1
    assert alone.meaning.doubt
    slipped = WORDS.named("yf, sl 1, yb")
    assert slipped is not None and slipped.key == "slf"


# decreases by the way they lean (F, G; which loop lies in front is what makes the lean)
@pytest.mark.parametrize(
    ("term", "lean", "front"),
    [
        ("k2tog", "right", (1, 0)),
        ("ssk", "left", (0, 1)),
        ("skp", "left", (0, 1)),
        ("p2tog", "right", (1, 0)),
        ("p2tog tbl", "left", (0, 1)),
        ("k3tog", "right", (2, 1, 0)),
        ("sk2p", "left", (0, 2, 1)),
        ("s2kp", "centre", (1, 0, 2)),
        ("sssk", "left", (0, 1, 2)),
    ],
)
def test_leans(term: str, lean: str, front: tuple[int, ...]) -> None:
    stitch = WORDS.named(term)
    assert stitch is not None
    assert (stitch.lean, stitch.front) == (lean, front)
