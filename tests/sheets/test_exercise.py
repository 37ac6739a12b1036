"""The exercise sheet: every slip put in is found by the proof, and nothing depends on chance."""

from __future__ import annotations

import pytest

from chartc.findings import Severity
from chartc.proof import prove
from chartc.sheets import SheetOptions, SheetProblem, exercise_sheet
from chartc.sheets.exercise import KINDS, LEVELS, changed, plant
from chartc.source import Source
from tests.sheets.kit import of, page, sample, sound_samples, squeezed

# the third level takes many proofs: every other sample, without the longest one
HARD = [name for name in sound_samples()[::2] if name != "strandline-stole"]


@pytest.mark.parametrize(
    ("level", "name"),
    [(level, name) for level in LEVELS for name in (HARD if level == 3 else sound_samples())],
)
def test_every_slip_is_found_by_the_proof(level: int, name: str) -> None:
    proof = sample(name)
    kinds, many, _ = LEVELS[level]
    planted = plant(proof, seed=level, kinds=kinds, many=many)
    if not planted:
        pytest.skip("nothing in this pattern can go wrong in these ways")
    text = changed(proof.source.text, planted)
    again = prove(Source(proof.source.name, text))
    said = {f.message for f in proof.findings}
    grave = [
        f for f in again.findings if f.severity is not Severity.REMARK and f.message not in said
    ]
    for slip in planted:
        assert slip.finding in again.findings
        assert slip.finding in grave
        assert slip.old != slip.new
    # each in a row of its own
    assert len({slip.row_span for slip in planted}) == len(planted)
    assert len(planted) <= many


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_can_be_asked_for(kind: str) -> None:
    found = []
    for name in sound_samples():
        planted = plant(sample(name), 3, (kind,), 1)
        found += planted
        if len(found) >= 2:
            break
    assert found, f"no sample has room for {KINDS[kind]}"
    assert {slip.kind for slip in found} == {kind}


def test_the_printed_text_holds_the_slips_and_the_answers_mend_them() -> None:
    proof = sample("pea-nupps")
    sheet, answers = exercise_sheet(proof, seed=4, level=3)
    printed, told = squeezed(page(sheet.html()).text), squeezed(page(answers.html()).text)
    kinds, many, _ = LEVELS[3]
    planted = plant(proof, 4, kinds, many)
    assert len(planted) == 3
    text = changed(proof.source.text, planted)
    first = proof.source.locate(proof.pattern.sections[0].span.start)[0]
    for line in text.split("\n")[first - 1 :]:
        assert squeezed(line) in printed
    for slip in planted:
        right = squeezed(proof.source.at(slip.row_span))
        assert right in told and right not in printed
        assert squeezed(slip.finding.message[1:]) in told
        assert squeezed(slip.finding.message[1:]) not in printed


def test_the_seed_alone_chooses() -> None:
    proof = sample("lanternhead-hat")
    once, again = (exercise_sheet(proof, seed=9, level=2)[1].html() for _ in range(2))
    assert once == again
    others = {exercise_sheet(proof, seed=seed, level=2)[0].html() for seed in range(1, 7)}
    assert len(others) >= 4


def test_what_cannot_be_done_is_said_plainly() -> None:
    with pytest.raises(SheetProblem, match="wrong with this pattern already"):
        exercise_sheet(sample("creel-net-slip"))
    with pytest.raises(SheetProblem, match="the level is 1, 2 or 3"):
        exercise_sheet(sample("creel-net"), level=4)
    with pytest.raises(SheetProblem, match="no kind of slip upside-down"):
        exercise_sheet(sample("creel-net"), kinds=("upside-down",))
    plain = of("Cloth\n\nCloth\n\nCast on 36 sts.\nRow 1 (RS): Knit.\nBind off all sts.\n")
    with pytest.raises(SheetProblem, match="no place here for a bracket"):
        exercise_sheet(plain, kinds=("bracket",))


def test_versions_of_the_exercise() -> None:
    sheet, _ = exercise_sheet(sample("creel-net"), SheetOptions(large=True, owner="Saltmarsh"))
    assert "large print" in sheet.subtitle
    assert "Owner: Saltmarsh" in page(sheet.html()).text
