"""The editor's report says everything the proof says."""

from __future__ import annotations

import pytest

from chartc import showing
from chartc.sheets import SheetOptions, report
from tests.sheets.kit import of, page, sample, sample_names, squeezed


@pytest.mark.parametrize("name", sample_names())
def test_all_findings_and_the_whole_ledger(name: str) -> None:
    proof = sample(name)
    tree = page(report(proof).html())
    text = squeezed(tree.text)
    for finding in proof.findings:
        line, column = proof.source.locate(finding.span.start)
        assert f"Line{line},column{column}" in text
        assert squeezed(finding.message[1:]) in text
        assert finding.check in text
    told = [one for one in showing.told(proof, "short").sections if one.table is not None]
    tables = [t for t in tree.all("table") if t.attrs.get("aria-label", "").startswith("Ledger of")]
    assert len(tables) == len(told)
    for section, table in zip(told, tables, strict=True):
        assert section.table is not None
        assert table.attrs["aria-label"] == f"Ledger of {section.name}"
        for row, shown in zip(section.table.rows, table.all("tr")[1:], strict=True):
            cells = [c for c in row if c] if len(row) == len(section.table.head) else []
            assert [n.text for n in shown.walk() if n.tag in ("td", "th") and n.text] == cells or (
                not cells
            )


def test_terms_used_and_whether_they_are_explained() -> None:
    tree = page(report(sample("pea-nupps")).html())
    table = next(t for t in tree.all("table") if t.attrs.get("aria-label") == "Terms used")
    rows = {row.all("th")[0].text: row.all("td")[-1].text for row in table.all("tr")[1:]}
    assert rows["nupp"] == "yes" and rows["p5tog"] == "yes" and rows["K2"] == "no"


def test_widths_are_stitches_over_gauge() -> None:
    """20 sts at 16 sts to 10 cm are 12.5 cm: arithmetic."""
    proof = of(
        "Band\n\nSizes: S (M)\nGauge: 16 sts and 22 rows = 10 cm\n\nBand\n\n"
        "Cast on 20 (24) sts.\nRow 1 (RS): Knit.\nRow 2 (WS): Purl.\nBind off all sts.\n"
    )
    text = page(report(proof).html()).text
    assert "12.5 cm" in text and "15 cm" in text


def test_sign_off_and_verdict() -> None:
    sound = page(report(sample("creel-net"), SheetOptions(owner="Saltmarsh")).html()).text
    assert "Sign-off" in sound and "Signed:" in sound and "Owner of the pattern: Saltmarsh" in sound
    assert "not ready to publish" not in sound
    assert "not ready to publish" in page(report(sample("creel-net-slip")).html()).text
