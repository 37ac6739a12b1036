"""Flat and round, mirror images, the start moved."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from chartc.counting import count
from chartc.matching import match, seen_rows
from chartc.reading import read
from chartc.source import Source, load
from chartc.turning import CannotTurn, Turned, best_start, mirror, rebase, turn
from chartc.turning.commands import turn_text
from chartc.wording.tidy import alone, worked_on

ROOT = Path(__file__).parent.parent


def pattern_of(rows: str, special: str = ""):
    return read(Source("", f"Reed Bed\n\n{special}Reeds\n\n{rows}\n"))


def lines(turned: Turned) -> list[str]:
    return [line for line in turned.text.splitlines() if re.match(r"(Row|Rnd|Round)s? ", line)]


# ------------------------------------------------------------------ published pairs

# (flat rows, round rows, where both are published)
PUBLISHED = [
    (
        "Row 1 (RS): *K1, p3; rep from * to end.\n"
        "Row 2 (WS): *K1, sl 1 wyib, k1, p1; rep from * to end.",
        ["Rnd 1: *K1, p3; rep from * around.", "Rnd 2: *K1, p1, sl 1 wyif, p1; rep from * around."],
        "slip-stitch rib, both sides given in a book extract",
    ),
    (
        "Row 1 (RS): K1, *yo, k2, s2kp, k2, yo, k1; rep from * to end.\nRow 2: Purl.",
        ["Rnd 1: *Yo, k2, s2kp, k2, yo, k1; rep from * around.", "Rnd 2: Knit."],
        "razor shell, multiple of 8 + 1 flat and 8 in the round (knitting column, 2012)",
    ),
    (
        "Row 1 (RS): *K3, p1; rep from * to end.\nRow 2 (WS): *K1, p3; rep from * to end.",
        ["Rnds 1 and 2: *K3, p1; rep from * around."],
        "3x1 rib stays the same (a teacher's page); only its second row is named once more",
    ),
    (
        "Row 1 (RS): Knit.\nRow 2: Purl.\n"
        "Row 3: *K2tog 3 times, (yo, k1) 6 times, k2tog 3 times; rep from * to end.\nRow 4: Knit.",
        [
            "Rnds 1 and 2: Knit.",
            "Rnd 3: *K2tog 3 times, (yo, k1) 6 times, k2tog 3 times; rep from * around.",
            "Rnd 4: Purl.",
        ],
        "old shale: rows 2 and 4 purl and knit flat, knit and purl in the round (2012, 2013)",
    ),
]


@pytest.mark.parametrize(("flat", "rounds", "source"), PUBLISHED, ids=lambda v: str(v)[:24])
def test_flat_to_round_as_published(flat: str, rounds: list[str], source: str) -> None:
    turned = turn(pattern_of(flat), "round")
    again = [line.replace(" (3x1 rib)", "") for line in lines(turned)]
    assert again == rounds, source
    assert turned.pattern.remarks == ()


def test_round_to_flat_as_published() -> None:
    """Spiral rib: round 2 *p3, k1, yo, k4, k2tog, k2* is row 2 (WS) *p2, p2tog, p4, yo, p1,
    k3* (a designer's article of 2013; its counts checked)."""
    spiral = read(load(ROOT / "tests/published/patterns/A22-spiral-rib-in-the-round.knit"))
    assert lines(turn(spiral, "flat"))[1] == (
        "Row 2 (WS): *P2, p2tog, p4, yo, p1, k3; rep from * to end."
    )


@pytest.mark.parametrize(
    ("worked", "looks", "source"),
    [
        ("k", "p", "magazine and handbook"), ("p", "k", "magazine and handbook"),
        ("ktbl", "ptbl", "magazine"), ("ptbl", "ktbl", "magazine"), ("yo", "yo", "magazine"),
        ("p2tog", "k2tog", "designer's article"), ("ssp", "ssk", "designer's article"),
        ("k2tog", "p2tog", "magazine"), ("p3tog", "k3tog", "handbook"),
        ("k3tog", "p3tog", "handbook"), ("slf", "sl", "magazine, book extract"),
        ("sl", "slf", "book extract"),
    ],
)  # fmt: skip
def test_wrong_side_stitches_as_published(worked: str, looks: str, source: str) -> None:
    from chartc.turning.sides import other_side
    from chartc.vocabulary import load_vocabulary

    stitch = load_vocabulary().get(worked)
    assert other_side(stitch, "row 2").key == looks, source


# ------------------------------------------------------------------ edges and refusals


def test_edges_are_dropped_and_said() -> None:
    turned = turn(read(load(ROOT / "samples/mooring-rope.knit")), "round")
    assert "Multiple: 14 sts\n" in turned.text
    assert turned.notes == (
        "2 edge stitches at the right and 2 edge stitches at the left left out; "
        "cast on a multiple of 14 sts",
    )
    works = count(turned.pattern).sections[0].works
    assert works is not None and (works.multiple, works.plus) == (14, 0)


def test_edges_that_differ_between_rows_are_aligned() -> None:
    """Published rule: edge stitches that differ from row to row must be aligned anew. K1 before
    the star on row 1, k3 on row 3: the repeat is still the same columns."""
    rows = (
        "Row 1 (RS): K1, *yo, k2tog, k2; rep from * to last 2 sts, yo, k2tog.\nRow 2: Purl.\n"
        "Row 3: K3, *yo, k2tog, k2; rep from * to end.\nRow 4: Purl."
    )
    turned = turn(pattern_of(rows), "round")
    told = lines(turned)
    assert told[0] in ("Rnd 1: *Yo, k2tog, k2; rep from * around.",
                       "Rnd 1: *K2, yo, k2tog; rep from * around.")  # fmt: skip
    eyelets = [line.index("k2tog") if "k2tog" in line else line.index("K2tog")
               for line in (told[0], told[2])]  # fmt: skip
    assert eyelets[0] != eyelets[1]


def test_edges_are_added_where_a_yarn_over_would_end_a_row() -> None:
    razor = read(load(ROOT / "tests/published/patterns/A03b-razor-shell-in-the-round.knit"))
    turned = turn(razor, "flat")
    assert lines(turned) == [
        "Row 1 (RS): K1, *yo, k2, s2kp, k2, yo, k1; rep from * to last st, k1.",
        "Row 2 (WS): Purl.",
    ]
    assert turned.notes == ("1 edge stitch added at each side",)
    assert "K3, *yo" in lines(turn(razor, "flat", edge=3))[0]


def test_odd_rounds_are_told_twice() -> None:
    turned = turn(pattern_of("Rnd 1: *K2, p1; rep from * around."), "flat")
    assert [line.replace(" (2x1 rib)", "") for line in lines(turned)] == [
        "Row 1 (RS): *K2, p1; rep from * to end.", "Row 2 (WS): *K1, p2; rep from * to end.",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("rows", "to", "reason"),
    [
        ("Row 1 (RS): *K2, kfb; rep from * to end.\nRow 2 (WS): *K2, kfb, k1; rep from * to end.",
         "round", "row 2: nothing worked on the other side looks like kfb"),
        ("Row 1 (RS): K2, p3, k2tog, yo, k1.\nRow 2: Purl.", "round", "nothing to go around"),
        ("Rnd 1: Knit.\nRnd 2: Purl.", "round", "in the round already"),
        ("Row 1 (RS): Knit.\nRow 2: Purl.", "flat", "flat already"),
        ("Cast on 12 sts.\nRow 1 (RS): K6, turn.\nRow 2: Purl.", "round", "only a stitch pattern"),
        ("Row 1 (RS): K3.\nRow 2 (WS): P4.", "round", "do not come out"),
    ],
)  # fmt: skip
def test_refusals_say_why(rows: str, to: str, reason: str) -> None:
    with pytest.raises(CannotTurn, match=re.escape(reason)):
        turn(pattern_of(rows), to)


def test_a_decrease_across_the_seam_is_refused() -> None:
    """The half-drop of a mesh of decreases: wherever the round starts, one lies across."""
    creel = read(load(ROOT / "samples/creel-net.knit"))
    with pytest.raises(CannotTurn, match="reach across the start of the round wherever"):
        turn(creel, "round")


def test_text_of_a_turned_pattern_keeps_what_it_needs() -> None:
    turned = turn(read(load(ROOT / "samples/barnacle-rows.knit")), "round")
    assert "ML = (k1, yo, k1, yo, k1) in next st" in turned.text
    assert turned.pattern.remarks == ()
    assert len(turned.pattern.own) == 2


# ------------------------------------------------------------------ the start moved


def rounds_on(pattern, number: int) -> list:
    found = worked_on(alone(pattern, 0), number)
    assert found is not None
    return [row.shown for row in seen_rows(found[1])]


def test_rebase_turns_every_round() -> None:
    pattern = pattern_of(
        "Rnd 1: *K1, yo, k2tog, p2; rep from * around.\nRnd 2: *K3, p2; rep from * around."
    )
    for by in (0, 1, 3, 4):
        moved = rebase(pattern, by)
        for before, after in zip(rounds_on(pattern, 20), rounds_on(moved.pattern, 20), strict=True):
            assert sorted(map(repr, before)) == sorted(map(repr, after))
            assert any(after == before[i:] + before[:i] for i in range(len(before)))
    with pytest.raises(CannotTurn, match="rnd 1: k2tog would reach across"):
        rebase(pattern, 2)


def test_best_start() -> None:
    razor = read(load(ROOT / "tests/published/patterns/A03b-razor-shell-in-the-round.knit"))
    assert best_start(razor) in (1, -1)  # away from the yarn over at the start
    assert best_start(pattern_of("Rnd 1: *P2, k2tog, yo; rep from * around.\nRnd 2: Knit.")) != 0
    assert best_start(pattern_of("Rnd 1: *P1, k2tog, yo, p1; rep from * around.\nRnd 2: Knit.")) == 0


def test_rebase_flat_moves_the_repeat_and_not_the_fabric() -> None:
    dunlin = read(load(ROOT / "samples/dunlin-tracks.knit"))
    moved = rebase(dunlin, 1)
    assert lines(moved)[0].startswith("Row 1 (RS): K3, *yo, skp")
    assert rounds_on(moved.pattern, 29) == rounds_on(dunlin, 29)


# ------------------------------------------------------------------ mirror images


def mirrored(text: str) -> Turned:
    return mirror(Source("", f"Reed Bed\n\nReeds\n\n{text}\n"))


@pytest.mark.parametrize(
    ("row", "other"),
    [
        # lean and order both change (two teachers' pages): `yo, ssk` becomes `k2tog, yo`
        ("K2, yo, ssk, k5", "K5, k2tog, yo, k2"),
        # counts told to the end keep their place from the other edge
        ("K3, ssk, k to last 4 sts, k2tog, k2", "K2, ssk, k to last 5 sts, k2tog, k3"),
        ("K1, *yo, k2tog, k2; rep from * to last 2 sts, k2",
         "K2, *k2, ssk, yo; rep from * to last st, k1"),
        # centred decreases stay (published); cables change over
        ("K2, s2kp, C4F, k1", "K1, C4B, s2kp, k2"),
        ("K4, M1L, k to 2 sts before marker, ssk, sm, k to end",
         "K to marker, sm, k2tog, k to last 4 sts, M1R, k4"),
    ],
)  # fmt: skip
def test_rows_mirrored(row: str, other: str) -> None:
    start = "Cast on 24 sts, placing marker after 12 sts.\n" if "marker" in row else ""
    assert f"Row 1 (RS): {other}." in mirrored(f"{start}Row 1 (RS): {row}.\nRow 2: Purl.").text


def test_mirror_twice_is_the_pattern_again() -> None:
    for name in ("mooring-rope", "dunlin-tracks", "ropewalk-mitts", "lanternhead-hat", "pea-nupps"):
        source = load(ROOT / f"samples/{name}.knit")
        once = mirror(source)
        twice = mirror(Source("", once.text))
        before = read(source)
        assert match(before, twice.pattern).same, name
        for size in range(len(before.sizes)):
            assert match(before, twice.pattern, sizes=(size, size)).same


def test_mirrored_fabric_is_seen_in_a_mirror() -> None:
    from chartc.matching import knot
    from chartc.vocabulary import load_vocabulary

    vocabulary = load_vocabulary()
    source = load(ROOT / "samples/dunlin-tracks.knit")
    before = worked_on(alone(read(source), 0), 29)
    after = worked_on(alone(mirror(source).pattern, 0), 29)
    assert before is not None and after is not None
    for one, other in zip(before[1], after[1], strict=True):
        wanted = [knot(vocabulary.mirror(d.stitch)) for d in reversed(one.stitches)]
        assert [knot(d.stitch) for d in other.stitches] == wanted


def test_sizes_and_counts_come_through() -> None:
    source = load(ROOT / "samples/ropewalk-mitts.knit")
    once = mirror(source)
    counts = [
        [tuple(size.after for size in e.sizes) for e in count(p).entries]
        for p in (read(source), once.pattern)
    ]
    assert counts[0] == counts[1]
    assert "[41 (45, 49) sts]" in once.text


@pytest.mark.parametrize(
    ("rows", "reason"),
    [
        ("Cast on 9 sts.\nRow 1 (RS): K6, turn.\nRow 2: Purl.", "Row 1 (RS): short rows"),
        ("Cast on 9 sts.\nRow 1 (RS): BO 3 sts, k to end.", "bound off"),
    ],
)
def test_no_mirror_image(rows: str, reason: str) -> None:
    with pytest.raises(CannotTurn, match=re.escape(reason)):
        mirrored(rows)


# ------------------------------------------------------------------ the command


def test_one_thing_after_another() -> None:
    source = load(ROOT / "samples/dunlin-tracks.knit")
    result = turn_text(source, to="round", by=0)
    assert "Worked: in the round" in result.text
    with pytest.raises(CannotTurn, match="say what to do"):
        turn_text(source)
    with pytest.raises(CannotTurn, match="the sections are: Track panel"):
        turn_text(source, to="round", section="yoke")


def test_a_chart_can_be_turned_too() -> None:
    chart = load(ROOT / "samples/mooring-rope.csv")
    words = load(ROOT / "samples/mooring-rope.knit")
    assert match(turn_text(chart, to="round").pattern, turn_text(words, to="round").pattern).same
    assert match(
        turn_text(chart, mirrored=True).pattern, turn_text(words, mirrored=True).pattern
    ).same


def test_turned_for_the_ear() -> None:
    source = load(ROOT / "samples/dunlin-tracks.knit")
    for what in ({"to": "round"}, {"mirrored": True}, {"by": 1}):
        spoken, plain = turn_text(source, style="spoken", **what), turn_text(source, **what)
        assert "tar, knit" in spoken.text
        assert match(spoken.pattern, plain.pattern).same
