"""The command line: exit codes, plain words for every mistake, deterministic output.

Budgets of start-up are multiples of a bare `python -c pass` (measured, engineering notes).
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path
from xml.etree import ElementTree

import pytest

import chartc
from chartc.charting import Chart
from chartc.cli import main
from chartc.findings import Finding, Severity
from chartc.showing import shown
from chartc.source import Source, Span
from chartc.trouble import FAILED, FINE, WRONG
from chartc.writing import CannotWrite, write

ROOT = Path(__file__).parent.parent
SAMPLES = ROOT / "samples"
SOUND = str(SAMPLES / "dunlin-tracks.knit")
SLIP = str(SAMPLES / "dunlin-tracks-slip.knit")
Captured = pytest.CaptureFixture[str]


def run(*arguments: str, text: str | bytes = b"", **env: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "-m", "chartc", *arguments],
        input=text.encode() if isinstance(text, str) else text,
        capture_output=True, cwd=ROOT, env={**os.environ, **env}, check=False,
    )  # fmt: skip


# ------------------------------------------------------------------ proof


def test_exit_codes(capsys: Captured) -> None:
    assert main(["proof", SOUND]) == FINE
    assert main(["proof", SLIP]) == WRONG
    assert main(["proof", str(SAMPLES / "nothing-of-the-kind.knit")]) == FAILED
    assert main(["proof", SOUND, "nowhere.knit"]) == FAILED
    err = capsys.readouterr().err
    assert "nowhere.knit: there is no such file" in err and "Traceback" not in err


def test_a_finding_is_shown_with_its_line_and_a_mark_under_the_stitch(capsys: Captured) -> None:
    main(["proof", "--ledger", "none", SLIP])
    lines = capsys.readouterr().out.splitlines()
    at = next(i for i, line in enumerate(lines) if line.lstrip().startswith("^"))
    text, mark = lines[at - 1], lines[at]
    start, width = mark.index("^"), mark.count("^")
    assert "3rd row" in text
    assert text[start : start + width] in ("skpo", "k1", "k2tog", "yfwd")
    assert "line 30" in lines[at - 2] and "wrong" in lines[at - 2]
    assert any("yfwd" in line for line in lines[at:])


def test_wide_signs_and_tabs_keep_the_mark_in_place() -> None:
    text = "T\nRow 1:\tK2, \u6ce2\u6ce2, k\u0301 2.\n"
    source = Source("wide", text)

    def mark(words: str) -> tuple[str, int, int]:
        start = text.index(words)
        finding = Finding("x", Severity.WRONG, Span(start, start + len(words)), "")
        one = shown(source, finding)
        return one.text, one.start, one.width

    # "Row 1:" takes 6 columns, the tab goes on to the next multiple of 4
    assert mark("K2") == ("Row 1:  K2, \u6ce2\u6ce2, k\u0301 2.", 8, 2)
    assert mark("\u6ce2\u6ce2")[1:] == (12, 4)  # two columns each
    assert mark("k\u0301 2")[1:] == (18, 3)  # an accent takes none
    assert shown(source, Finding("x", Severity.WRONG, Span(len(text), len(text)), "")).width == 1


def test_the_ledger_tells_each_row(capsys: Captured) -> None:
    main(["proof", SOUND])
    out = capsys.readouterr().out
    assert "works for multiples of 8 plus 5, from 13" in out
    head = next(line for line in out.splitlines() if line.strip().startswith("row "))
    assert head.split()[:5] == ["row", "side", "before", "used", "made"]


def test_the_ledger_of_sizes_stands_side_by_side(capsys: Captured) -> None:
    path = str(SAMPLES / "lanternhead-hat.knit")
    main(["proof", path])
    short = capsys.readouterr().out
    main(["proof", "--ledger", "full", path])
    full = capsys.readouterr().out
    assert "Adult Small" in short and "84" in short and len(full) > len(short)
    main(["proof", "--ledger", "none", path])
    assert "Adult Small  " not in capsys.readouterr().out


def test_json_of_several_files_is_one_document(capsys: Captured) -> None:
    assert main(["proof", "--json", SLIP, SOUND]) == WRONG
    data = json.loads(capsys.readouterr().out)
    assert [f["path"] for f in data["files"]] == [SLIP, SOUND]


def test_markdown_and_html(capsys: Captured) -> None:
    main(["proof", "--format", "markdown", SLIP])
    markdown = capsys.readouterr().out
    assert markdown.startswith("# ") and "| row |" in markdown
    main(["proof", "--format", "html", SLIP])
    page = capsys.readouterr().out
    assert page.startswith("<!DOCTYPE html>") and "<mark>" in page and "<table>" in page


def test_text_of_the_pattern_is_escaped_in_html(tmp_path: Path, capsys: Captured) -> None:
    path = tmp_path / "odd.knit"
    path.write_text("<b>Odd</b> & co\nCast on 4 sts.\nRow 1 (RS): K2, <i>, k2.\n", "utf-8")
    main(["proof", "--format", "html", str(path)])
    page = capsys.readouterr().out
    assert "<b>Odd" not in page and "&lt;b&gt;Odd" in page


def test_standard_input() -> None:
    done = run("proof", "-", text="Creels\nCast on 4 sts.\nRow 1 (RS): K3.\n")
    assert done.returncode == WRONG and b"1 left over" in done.stdout


def test_a_folder_stands_for_its_patterns(tmp_path: Path, capsys: Captured) -> None:
    for name in ("b.knit", "a.knit", "c.txt"):
        (tmp_path / name).write_text("T\nCast on 4 sts.\nRow 1: K4.\n")
    assert main(["proof", "--json", str(tmp_path)]) == FINE
    files = [Path(f["path"]).name for f in json.loads(capsys.readouterr().out)["files"]]
    assert files == ["a.knit", "b.knit"]
    (tmp_path / "empty").mkdir()
    assert main(["proof", str(tmp_path / "empty")]) == FAILED


# ------------------------------------------------------------------ mistakes


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["prof", SOUND], "did you mean “proof”?"),
        (["proof", "--ledgr", "full", SOUND], "did you mean --ledger?"),
        (["proof", "--ledger", "long", SOUND], "one of full, short, none"),
        (["proof"], "a file is missing"),
        (["draw"], "a file is missing"),
        (["draw", SOUND, "--every", "x"], "wants a number"),
        (["draw", SOUND, "--section", "Sleeve"], "there is no section “Sleeve”"),
        (["draw", SOUND, "--size", "XL"], "one size only"),
        (["draw", SOUND, "-o", "chart.bmp"], ".svg, .png or .pdf"),
        (["proof", SOUND, "--terms", "norse"], "there is no set of terms “norse”"),
        (["explain", "too-few-stiches"], "did you mean too-few-stitches?"),
        (["terms", "zorkblatt"], "no term has"),
        (["fit", SOUND], "--body"),
        (["proof", SOUND, "-o"], "wants something after it"),
        (["draw", SOUND, SOUND], "one word too many"),
    ],
)
def test_mistakes_are_answered_in_plain_words(
    arguments: list[str], said: str, capsys: Captured
) -> None:
    assert main(arguments) == FAILED
    shown = capsys.readouterr()
    assert said in shown.err and shown.err.startswith("chartc: ")
    assert "Traceback" not in shown.err and "usage:" not in shown.err
    assert shown.err.count("\n") == 1


def test_unreadable_files(tmp_path: Path, capsys: Captured) -> None:
    binary = tmp_path / "picture.knit"
    binary.write_bytes(b"\x89PNG\x00\xff\xfe\x80")
    assert main(["proof", str(binary)]) == FAILED
    assert main(["draw", str(tmp_path), "-o", "x.svg"]) == FAILED
    err = capsys.readouterr().err
    assert "UTF-8" in err and "this is a folder" in err


def test_where_nothing_can_be_written(tmp_path: Path, capsys: Captured) -> None:
    assert main(["draw", SOUND, "-o", str(tmp_path)]) == FAILED
    assert main(["draw", SOUND, "-o", str(tmp_path / "no" / "chart.svg")]) == FAILED
    err = capsys.readouterr().err
    assert "folder" in err and "Traceback" not in err
    assert list(tmp_path.iterdir()) == []


def test_a_broken_pipe_is_no_error() -> None:
    with subprocess.Popen(
        [sys.executable, "-m", "chartc", "proof", "--ledger", "full", "samples"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT,
    ) as process:  # fmt: skip
        assert process.stdout is not None and process.stderr is not None
        process.stdout.read(10)
        process.stdout.close()
        err = process.stderr.read()
        process.wait(120)
    assert b"Traceback" not in err and b"Broken" not in err


def test_an_ascii_terminal_is_no_error() -> None:
    done = run("proof", SLIP, PYTHONIOENCODING="ascii", LC_ALL="C")
    assert done.returncode == WRONG and b"Traceback" not in done.stderr


def test_help_and_version(capsys: Captured) -> None:
    assert main(["--help"]) == FINE
    shown = capsys.readouterr().out
    assert all(name in shown for name in ("proof", "draw", "terms", "explain", "fit"))
    assert main(["proof", "--help"]) == FINE
    assert "--ledger" in capsys.readouterr().out
    assert main(["--version"]) == FINE
    assert chartc.__version__ in capsys.readouterr().out
    assert main([]) == FAILED


# ------------------------------------------------------------------ the other commands


def test_draw_writes_a_chart(tmp_path: Path, capsys: Captured) -> None:
    out = tmp_path / "chart.svg"
    assert main(["draw", SOUND, "-o", str(out)]) == FINE
    first = out.read_bytes()
    root = ElementTree.fromstring(first)
    assert root.tag.endswith("svg") and root.get("width", "").endswith("mm")
    assert main(["draw", SOUND, "-o", str(out)]) == FINE and out.read_bytes() == first
    assert main(["draw", SOUND]) == FINE
    assert capsys.readouterr().out.encode() == first
    assert [p.name for p in tmp_path.iterdir()] == ["chart.svg"]


def test_draw_says_when_the_text_is_wrong(tmp_path: Path, capsys: Captured) -> None:
    assert main(["draw", SLIP, "-o", str(tmp_path / "c.svg")]) == WRONG
    assert "1 thing is wrong" in capsys.readouterr().err
    assert (tmp_path / "c.svg").exists()


def test_draw_a_section_of_a_size(tmp_path: Path) -> None:
    path = str(SAMPLES / "lanternhead-hat.knit")
    one, two = tmp_path / "1.svg", tmp_path / "2.svg"
    assert main(["draw", path, "--section", "Crown", "--whole", "-o", str(one)]) == FINE
    assert main(["draw", path, "--section", "crown", "--size", "Adult Large", "--whole",
                 "-o", str(two)]) == FINE  # fmt: skip
    assert one.read_bytes() != two.read_bytes()


def test_terms_and_explain(capsys: Captured) -> None:
    assert main(["terms"]) == FINE
    everything = capsys.readouterr().out
    assert "k2tog" in everything and "pm: " in everything
    assert main(["terms", "sk2p"]) == FINE
    one = capsys.readouterr().out
    assert "uses 3 sts, makes 1 st" in one and "source:" in one
    assert main(["explain"]) == FINE
    assert "too-few-stitches" in capsys.readouterr().out
    assert main(["explain", "row-missing"]) == FINE
    told = capsys.readouterr().out
    assert "wrong:" in told and "right:" in told and "row 3 is missing" in told


def test_fit(capsys: Captured) -> None:
    path = str(SAMPLES / "withy-swirl.knit")
    assert main(["fit", path, "--body", "56 cm", "--ease", "-2 cm"]) == FINE
    out = capsys.readouterr().out
    assert "99" in out and "measure" in out  # 54 cm at 18 sts to 10 cm: 97.2; of 9s, 99
    assert main(["fit", path, "--format", "json"]) == FINE
    data = json.loads(capsys.readouterr().out)
    assert data


# ------------------------------------------------------------------ Python


def test_the_same_verbs_in_python() -> None:
    proof = chartc.prove(SLIP)
    assert not proof.sound and proof.wrong[0].check
    assert chartc.prove("T\nCast on 4 sts.\nRow 1: K4.\n").sound
    pattern = chartc.read(Path(SOUND))
    assert pattern.title == "DUNLIN TRACKS"
    chart = chartc.draw(chartc.prove(SOUND))
    assert isinstance(chart, Chart) and chart._repr_svg_().lstrip().startswith(("<?xml", "<svg"))
    with pytest.raises(chartc.CannotRead):
        chartc.prove("nowhere.knit")


def test_importing_chartc_loads_little() -> None:
    done = subprocess.run(
        [sys.executable, "-c", "import sys, chartc; print(*sorted(m for m in sys.modules if "
         "m.startswith(('chartc', 'lark', 'svgwrite', 'argparse', 're'))))"],
        capture_output=True, text=True, cwd=ROOT, check=True,
    )  # fmt: skip
    loaded = done.stdout.split()
    assert [m for m in loaded if m.startswith(("chartc.", "lark", "svgwrite"))] == []


def test_help_loads_nothing_of_the_work() -> None:
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "chartc", "--help"],
        capture_output=True, text=True, cwd=ROOT, check=True,
    )  # fmt: skip
    loaded = {line.rsplit("|", 1)[-1].strip() for line in done.stderr.splitlines()}
    heavy = {"lark", "svgwrite", "chartc.reading", "chartc.proof", "chartc.commands", "json"}
    assert not loaded & heavy


def _seconds(*command: str) -> float:
    """The quickest of several runs."""
    best = 60.0
    for _ in range(5):
        start = time.perf_counter()
        subprocess.run([sys.executable, *command], cwd=ROOT, capture_output=True, check=False)
        best = min(best, time.perf_counter() - start)
    return best


@pytest.mark.skipif("CHARTC_TIMES" not in os.environ, reason="asks for a quiet machine: CHARTC_TIMES=1")
@pytest.mark.parametrize(
    ("budget", "arguments"),
    [(4, ["--help"]), (10, ["proof", SOUND]), (16, ["draw", SOUND, "-o", os.devnull])],
)
def test_start_up_budget(budget: int, arguments: list[str]) -> None:
    bare = _seconds("-c", "pass")
    assert _seconds("-m", "chartc", *arguments) <= budget * bare


# ------------------------------------------------------------------ writing


def test_writing_is_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "out.txt"
    write(path, "one")
    path.chmod(0o640)
    write(path, b"two")
    assert path.read_bytes() == b"two" and path.stat().st_mode & 0o777 == 0o640

    def fail(self: Path, target: Path) -> Path:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", fail)
    with pytest.raises(CannotWrite, match="no space left"):
        write(path, "three")
    assert path.read_bytes() == b"two" and [p.name for p in tmp_path.iterdir()] == ["out.txt"]


def test_writing_through_a_link_keeps_the_link(tmp_path: Path) -> None:
    real, link = tmp_path / "real.txt", tmp_path / "link.txt"
    real.write_text("old")
    link.symlink_to(real)
    write(link, "new")
    assert link.is_symlink() and real.read_text() == "new"
