"""Checkpoints, markers and slips, against small rows worked out by hand and against the fabric.

The row of the first test is the one of the handout's own example; its numbers follow from what
the stitches take (yo 0, sk2p 3, k1 1).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from chartc.fabric import DoesNotFit, Done, Plan, knit
from chartc.sheets import SheetOptions, class_sheet
from chartc.sheets.gather import parts_of, planned_rows
from chartc.sheets.rowtrack import markers
from chartc.sheets.slips import _instead, slips_of
from chartc.source import Span
from tests.sheets.kit import of, page, sample, sound_samples


def text_of(text: str, **options: object) -> str:
    proof = of(text)
    assert proof.sound, [f.message for f in proof.findings]
    return page(class_sheet(proof, SheetOptions(**options)).html()).text  # type: ignore[arg-type]


def test_checkpoint_before_the_last_repeat() -> None:
    text = text_of(
        "Drops\n\nPanel\n\nCast on 27 sts.\n"
        "Row 1 (RS): K1, *yo, sk2p, yo, k1; rep from * to last 2 sts, k2.\nRow 2 (WS): Purl.\n"
        "Bind off all sts.\n"
    )
    # 27 = 1 + 6 x 4 + 2: before the sixth time through 27 - 1 - 20 = 6 are left
    assert "6 sts left: one more yo, sk2p, yo, k1, then k2." in text


def test_no_checkpoint_in_a_rib() -> None:
    assert "left: one more" not in text_of(
        "Rib\n\nBand\n\nCast on 20 sts.\nRow 1 (RS): *K2, p2; rep from * to end.\n"
        "Row 2 (WS): *K2, p2; rep from * to end.\nBind off all sts.\n"
    )


def test_markers_between_repeats_stay() -> None:
    text = text_of(
        "Panes\n\nPanel\n\nCast on 27 sts.\n"
        "Row 1 (RS): K2, *yo, ssk, k4; rep from * to last st, k1.\nRow 2 (WS): Purl.\n"
        "Row 3: K2, *k1, yo, ssk, k3; rep from * to last st, k1.\nRow 4: Purl.\n"
        "Bind off all sts.\n"
    )
    assert "put a marker after 2 sts and then after every 6 sts" in text
    assert "They stay where they are on every row" in text


def test_markers_that_must_move_are_said_to() -> None:
    """Row 3 begins its repeat three stitches later."""
    text = text_of(
        "Panes\n\nPanel\n\nCast on 26 sts.\n"
        "Row 1 (RS): K1, *yo, ssk, k4; rep from * to last st, k1.\nRow 2 (WS): Purl.\n"
        "Row 3: K4, *yo, ssk, k4; rep from * to last 4 sts, k4.\nRow 4: Purl.\n"
        "Row 5: Knit.\nRow 6: Purl.\nBind off all sts.\n"
    )
    assert "They do not stay in place: by Row 3" in text


@pytest.mark.parametrize("name", ["dunlin-tracks", "cockle-fan", "barnacle-rows"])
def test_markers_lie_between_whole_times_through(name: str) -> None:
    """Brute force: the places the plan of markers names are where a time through begins."""
    proof = sample(name)
    part = next(p for p in parts_of(proof) if list(p.lines()))
    plans = planned_rows(proof, part.index, 0)
    rows = [
        (one.row, plans[(one.row.body, one.number)], one.before[0][0].value or 0)
        for one in part.lines()
    ]
    found = markers(rows)
    if found is None:
        pytest.skip("no repeats to mark")
    row, plan, _ = next((r, p, b) for r, p, b in rows if any(d.passes for d in p.stitches))
    del row
    starts = []
    at, last = 0, 0
    for done in plan.stitches:
        number = next((p.number for p in done.passes if p.open), 0)
        if number != last and number:
            starts.append(at)
        last = number
        at += done.stitch.uses
    inner = [start for start in starts if start]
    assert inner[0] == found.first
    if len(inner) > 1:
        assert inner[1] - inner[0] == found.every


# ------------------------------------------------------------------ slips


@pytest.mark.parametrize("name", sound_samples())
def test_slips_leave_the_number_they_are_said_to(name: str) -> None:
    """Each slip is knitted again, loop by loop, in the stitch graph: another way to count."""
    proof = sample(name)
    tried = 0
    for part in parts_of(proof):
        plans = planned_rows(proof, part.index, 0)
        for one in part.lines():
            plan = plans.get((one.row.body, one.number))
            before = one.before.get(0)
            if plan is None or not before or before[0].value is None or plan.skip or plan.shift:
                continue
            if tried > 60:
                return
            for slip in slips_of(plan, before[0].value):
                if slip.stitch is None:
                    continue
                tried += 1
                place = next(
                    i for i, d in enumerate(plan.stitches) if d.stitch.key == slip.stitch.key
                )
                wrong = dict(_instead(slip.stitch))[slip.kind]
                assert knitted(plan, place, wrong, before[0].value) == slip.after
                assert slip.after != one.after[0][0].value


def knitted(plan: Plan, place: int, wrong: tuple[object, ...], before: int) -> int:
    done = plan.stitches[place]
    stitches = (
        *plan.stitches[:place],
        *(Done(one, done.span, done.passes) for one in wrong),  # type: ignore[arg-type]
        *plan.stitches[place + 1 :],
    )
    return len(knit(before, [replace(plan, stitches=stitches)]).live)


def test_which_slip_gives_which_number() -> None:
    proof = sample("cockle-fan")
    part = parts_of(proof)[0]
    plans = planned_rows(proof, 0, 0)
    lines = {one.number: one for one in part.lines()}
    second = slips_of(plans[(lines[2].row.body, 2)], 60)
    # 60 sts, 6 repeats of 10 to 16 with six yarn overs each
    assert {(s.kind, s.after, s.often) for s in second if s.stitch is not None} == {
        ("left-out", 95, 90), ("twice", 97, 102),
    }  # fmt: skip
    fourth = slips_of(plans[(lines[4].row.body, 4)], 96)
    assert {(s.stitch.key, s.after, s.often) for s in fourth if s.stitch is not None} == {
        ("ssk", 85, 90), ("k2tog", 85, 90),
    }  # fmt: skip
    text = page(class_sheet(proof).html()).text
    assert "95: a yo was left out" in text


def test_a_slip_after_which_the_row_does_not_come_out_is_not_offered() -> None:
    from chartc.sheets.slips import counted
    from chartc.vocabulary import load_vocabulary

    k, k2tog = load_vocabulary().get("k"), load_vocabulary().get("k2tog")
    row = [Done(k, Span(0, 0)), Done(k2tog, Span(0, 0))]
    assert counted(row, 3) == 2
    assert counted(row, 2) is None
    with pytest.raises(DoesNotFit):
        knit(2, [Plan("", 1, "RS", False, tuple(row), Span(0, 0))])
