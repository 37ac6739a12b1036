"""The proof as data: the shape of the document, places, sizes, unknown numbers, order.

The counts are held against tests/expected (worked out loop by loop without the program), and
the numbers that work against the published multiples in tests/published.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from chartc.proof import Proof, document, prove
from chartc.source import Source, load

HERE = Path(__file__).parent
SAMPLES = HERE.parent / "samples"
PUBLISHED = HERE / "published" / "patterns"


def data(text: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(prove(Source("piece.knit", text)).to_json())
    return found


def test_the_document_has_its_shape() -> None:
    found = data(
        "Creels\nSizes: S (M)\nWorked: flat\n\nPanel\nCast on 12 (16) sts.\n"
        "Row 1 (RS): K1, *yo, k2tog; rep from * to last st, k1.\nRow 2: P12 (15).\n"
    )
    assert found["version"] == 1
    [file] = found["files"]
    assert {"path", "construction", "sections", "findings", "ledger"} <= set(file)
    assert file["path"] == "piece.knit" and file["construction"] == "flat"
    for section in file["sections"]:
        assert {"name", "line", "works_for", "net"} <= set(section)
        if section["works_for"] is not None:
            assert {"multiple", "plus", "least"} <= set(section["works_for"])
        if section["net"] is not None:
            assert set(section["net"]) == {"per_repeat", "fixed"}
    [finding] = file["findings"]
    assert {"check", "severity", "message", "sizes", "start", "end", "repairs"} <= set(finding)
    assert finding["severity"] == "wrong" and finding["sizes"] == ["M"]
    assert set(finding["start"]) == {"line", "column"} == set(finding["end"])
    assert finding["start"]["line"] == 8
    for repair in finding["repairs"]:
        assert {"start", "end", "text"} <= set(repair)
    for entry in file["ledger"]:
        assert {"section", "label", "line", "side", "pass", "sizes"} <= set(entry)
        for size in entry["sizes"]:
            assert set(size) == {"size", "before", "used", "made", "after"}
            assert size["size"] in ("S", "M")


def test_one_size_is_named_with_an_empty_string() -> None:
    [file] = data("Creels\nCast on 4 sts.\nRow 1 (RS): K4.\n")["files"]
    row = file["ledger"][-1]
    assert row["label"] == "Row 1 (RS)" and row["side"] == "RS" and row["pass"] == 1
    assert row["line"] == 3
    assert row["sizes"] == [{"size": "", "before": 4, "used": 4, "made": 4, "after": 4}]


def test_rounds_have_no_side() -> None:
    [file] = data(
        "Creels\nWorked: in the round\nCast on 4 sts and join in the round.\nRnd 1: K4.\n"
    )["files"]
    assert [e["side"] for e in file["ledger"] if e["label"] == "Rnd 1"] == [""]


def test_lines_and_columns_are_code_points_from_one() -> None:
    # a BOM does not count (it is no part of the text); other signs count one each
    text = "Füchse\r\nCast on 4 sts.\r\nRow 1 (RS): K2, \U0001d11e, k2.\r\n"
    [file] = data(text)["files"]
    places = [(f["start"]["line"], f["start"]["column"]) for f in file["findings"]]
    line = text.split("\n")[2]
    assert (3, line.index("\U0001d11e") + 1) in places


def test_a_byte_order_mark_shifts_nothing(tmp_path: Path) -> None:
    text = "Creels\nCast on 4 sts.\nRow 1 (RS): K3.\n"
    plain, marked = tmp_path / "a.knit", tmp_path / "b.knit"
    plain.write_bytes(text.encode())
    marked.write_bytes(b"\xef\xbb\xbf" + text.encode())
    one, two = (json.loads(prove(load(p)).to_json())["files"][0] for p in (plain, marked))
    assert one["findings"] == two["findings"] and one["ledger"] == two["ledger"]


def test_unknown_numbers_are_null() -> None:
    [file] = data("Creels\nCast on 4 sts.\nRow 1 (RS): K2, zork.\nRow 2: P4.\n")["files"]
    after = [e["sizes"][0]["after"] for e in file["ledger"] if e["label"] in ("Row 1 (RS)", "Row 2")]
    assert None in after
    assert [f["check"] for f in file["findings"]] == ["not-understood"]


def test_what_works_is_null_when_nothing_does() -> None:
    [file] = data(
        "Creels\nRow 1 (RS): K3, *k2; rep from * to end.\nRow 2: P4.\nRow 3: K5.\n"
    )["files"]
    assert file["sections"][0]["works_for"] is None


def test_exactly_one_number() -> None:
    [file] = data("Creels\nCast on 9 sts.\nRow 1 (RS): K4, yo, k1, yo, k4.\nRow 2: P11.\n")["files"]
    assert file["sections"][0]["works_for"] == {"multiple": 0, "plus": 9, "least": 9}
    assert file["sections"][0]["net"] == {"per_repeat": 0, "fixed": 2}


def test_several_files_in_the_order_given() -> None:
    proofs = [prove(load(SAMPLES / f"{name}.knit")) for name in ("withy-swirl", "creel-net")]
    found = json.loads(document(proofs))
    assert [Path(f["path"]).stem for f in found["files"]] == ["withy-swirl", "creel-net"]
    assert found["files"] == [json.loads(p.to_json())["files"][0] for p in proofs]


def test_findings_stand_in_the_order_of_the_text() -> None:
    proof = prove(load(HERE / "cases" / "pieces" / "creek-raglan-slip.knit"))
    starts = [f.span.start for f in proof.findings]
    assert starts == sorted(starts)


SOUND = [p for p in sorted((HERE / "expected").glob("*.json")) if not p.stem.endswith("slip")]


@pytest.mark.parametrize("path", SOUND, ids=lambda p: p.stem)
def test_sets_worked_out_without_the_program(path: Path) -> None:
    """tests/expected: for each section every number it works for, found there by trying all
    numbers up to 400."""
    expected = json.loads(path.read_text("utf-8"))
    file = json.loads(prove(load(SAMPLES / f"{path.stem}.knit")).to_json())["files"][0]
    sections = {s["line"]: s for s in file["sections"]}
    for section in expected["sections"]:
        if section.get("multiple") is None:
            continue
        works = sections[section["line"]]["works_for"]
        assert works is not None, section["name"]
        assert (works["multiple"], works["plus"]) == (section["multiple"], section["plus"])
        if path.stem != "strandline-stole":  # there the text itself asks for 60 sts at its end
            assert works["least"] == section["least"]


@pytest.mark.parametrize("path", sorted(PUBLISHED.glob("A*.json")), ids=lambda p: p.stem)
def test_published_multiples(path: Path) -> None:
    """The multiples printed with published stitch patterns; sources in the files themselves."""
    expected = json.loads(path.read_text("utf-8"))
    proof = prove(load(path.with_suffix(".knit")))
    found = [s for s in proof.counted.sections if s.works is not None]
    assert found, "no set of numbers that work"
    works = [found[0].works, *found[0].more]
    if expected["multiple"] == 0:
        assert any(w is not None and w.holds(expected["plus"]) for w in works)
    else:
        for k in (3, 4, 5):
            n = expected["multiple"] * k + expected["plus"]
            assert any(w is not None and w.holds(n) for w in works), n
            off = n + 1
            if expected["multiple"] > 2:
                assert not any(w is not None and w.holds(off) and w.multiple > 1 for w in works)


def test_same_bytes_under_any_hash_seed_and_locale() -> None:
    names = [str(SAMPLES / n) for n in ("estuary-yoke-slip.knit", "dunlin-tracks-slip.knit")]
    outputs = set()
    for seed, locale in (("0", "C"), ("7", "C.UTF-8")):
        env = {**os.environ, "PYTHONHASHSEED": seed, "LC_ALL": locale, "TZ": "Asia/Kathmandu"}
        done = subprocess.run(
            [sys.executable, "-m", "chartc", "proof", "--json", *names],
            capture_output=True, env=env, cwd=HERE.parent, check=False,
        )  # fmt: skip
        assert done.returncode == 1, done.stderr
        outputs.add(done.stdout)
    assert len(outputs) == 1


def test_a_proof_stays_plain_data() -> None:
    proof = prove(Source("t", "Creels\nCast on 4 sts.\nRow 1 (RS): K4.\n"))
    assert isinstance(proof, Proof) and proof.sound and proof.wrong == ()
    assert json.loads(json.dumps(proof.to_data())) == proof.to_data()
