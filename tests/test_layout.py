"""How the project is put together, held by reading its own files.

- every part of the package knows the parts before it and none after it
- the base install needs lark and svgwrite alone; everything else is imported when it is used
- help comes at once: what it may import is counted
- the top level holds only what belongs there
- our own files name no folder of anybody's machine and reach for no address
- what the front pages say is true: commands, files, output
"""

from __future__ import annotations

import ast
import fnmatch
import json
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from readme_output import cut, printed, shown

from chartc import cli
from chartc.proof import prove
from chartc.source import Source

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "chartc"
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))

# First to last: a part may use any part of a line above its own, and none of its own line.
LAYERS = """
    source trouble measures stitch phrasetree plaintoml resources writing
    findings handbook stitchrules
    facts vocabulary
    fabric pattern composing fitting
    alignment counting charting reading
    knitting
    checks wording
    tables
    proof
    drawing evenly matching wishes
    showing
    termlist
    turning
    sheets
    desk
    commands
    cli
    __main__
"""
LAYER = {
    part: number for number, line in enumerate(LAYERS.strip().splitlines()) for part in line.split()
}
BASE = {"lark", "svgwrite"}
# the one part whose modules may need an extra as soon as they are imported, with its `serve`
NEEDS_EXTRA = {"desk": {"starlette", "uvicorn"}}
# libraries that stand behind one door each
DOORS = {
    "lark": {"reading/rows.py"},
    "svgwrite": {"charting/svg.py"},
    "typst": {"charting/printing.py", "sheets/typeset.py"},
    "resvg_py": {"charting/printing.py"},
}


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def part_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imports(path: Path) -> Iterator[tuple[str, bool]]:
    """Every module a file imports, and whether it does so as soon as it is imported itself."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    late: set[ast.AST] = set()
    for node in ast.walk(tree):
        typing_only = isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)
        if typing_only or isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            late.update(ast.walk(node))
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield alias.name, node not in late
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}: imports by full name only"
            if node.module == "chartc":
                for alias in node.names:
                    yield f"chartc.{alias.name}", node not in late
            else:
                yield node.module or "", node not in late


# ------------------------------------------------------------------ direction of dependency


def test_every_part_of_the_package_has_its_place() -> None:
    parts = {part_of(path) for path in modules()} - {"__init__"}
    assert parts == set(LAYER)


def test_every_part_is_told_of() -> None:
    told = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert not {part for part in LAYER if f"`{part}`" not in told and f"`{part}/`" not in told} - {
        "__main__"
    }


@pytest.mark.parametrize("path", modules(), ids=lambda path: str(path.relative_to(PACKAGE)))
def test_a_part_knows_only_the_parts_before_it(path: Path) -> None:
    own = part_of(path)
    if own == "__init__":
        return  # the front door hands on what the parts offer
    for name, _ in imports(path):
        if not name.startswith("chartc."):
            continue
        other = name.split(".")[1]
        if other == own or other not in LAYER:
            continue
        assert LAYER[other] < LAYER[own], f"{path.relative_to(ROOT)} imports {name}"


# ------------------------------------------------------------------ what is installed


def test_the_base_install_is_lark_and_svgwrite() -> None:
    named = {re.split(r"[<>=\[; ]", line)[0] for line in PROJECT["project"]["dependencies"]}
    assert named == BASE
    everything = [
        *PROJECT["project"]["dependencies"],
        *(line for lines in PROJECT["project"]["optional-dependencies"].values() for line in lines),
    ]
    for line in everything:
        assert line.startswith("chartc[") or ">=" in line, f"{line} has no lower bound"


@pytest.mark.parametrize("path", modules(), ids=lambda path: str(path.relative_to(PACKAGE)))
def test_libraries_stand_behind_one_door_and_extras_wait(path: Path) -> None:
    inside = str(path.relative_to(PACKAGE).as_posix())
    for name, at_once in imports(path):
        library = name.split(".")[0]
        if library == "chartc" or library in sys.stdlib_module_names:
            continue
        if library in DOORS:
            assert inside in DOORS[library], f"{inside} imports {library}"
        if at_once and library not in BASE:
            assert library in NEEDS_EXTRA.get(part_of(path), ()), f"{inside} imports {name} at once"


BARE = """
import sys
class Refuse:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in {refused!r}:
            raise ModuleNotFoundError(f"No module named {{name!r}}", name=name)
sys.meta_path.insert(0, Refuse())
from chartc.cli import main
code = main({arguments!r})
sys.stderr.write("\\nIMPORTED " + " ".join(sys.modules))
sys.exit(code)
"""


def bare(arguments: list[str], refused: list[str]) -> tuple[int, str, set[str]]:
    """Run a command where some libraries are not to be had: exit code, output, modules."""
    run = subprocess.run(
        [sys.executable, "-c", BARE.format(refused=refused, arguments=arguments)],
        capture_output=True, text=True, encoding="utf-8", cwd=ROOT, timeout=120,
    )  # fmt: skip
    said, _, loaded = run.stderr.partition("\nIMPORTED ")
    assert "Traceback" not in said, said
    return run.returncode, run.stdout, set(loaded.split())


EXTRAS = ["typst", "resvg_py", "starlette", "uvicorn", "playwright", "pypdf", "httpx", "anyio"]


def test_proof_and_chart_need_no_extra(tmp_path: Path) -> None:
    code, out, _ = bare(["proof", "samples/withy-swirl.knit"], EXTRAS)
    assert code == 0 and "nothing wrong" in out
    chart = tmp_path / "chart.svg"
    code, _, _ = bare(["draw", "samples/withy-swirl.knit", "-o", str(chart)], EXTRAS)
    assert code == 0 and chart.read_text(encoding="utf-8").startswith("<?xml")


def test_help_comes_at_once() -> None:
    """Help needs the standard library's option reader and our command line, nothing more."""
    reader = "import sys, argparse; argparse.ArgumentParser().format_help(); print(*sys.modules)"
    plain = subprocess.run(
        [sys.executable, "-c", reader], capture_output=True, text=True, check=True, cwd=ROOT
    )
    code, out, loaded = bare(["--help"], [])
    assert code == 0 and "proof" in out
    extra = loaded - set(plain.stdout.split())
    assert {name for name in extra if name.startswith("chartc")} <= {
        "chartc",
        "chartc.cli",
        "chartc.trouble",
    }
    assert len(extra) <= 10, sorted(extra)


@pytest.mark.parametrize("command", ["proof", "terms", "explain"])
def test_a_command_imports_no_more_than_it_needs(command: str) -> None:
    _, _, loaded = bare([command, *(["samples/ebb-cloth.knit"] if command == "proof" else [])], [])
    assert not loaded & {"svgwrite", "typst", "resvg_py", "starlette", "uvicorn", "asyncio"}
    assert not {name for name in loaded if name.startswith(("chartc.desk", "chartc.sheets"))}


def test_the_wheel_carries_the_language_and_the_samples() -> None:
    wheel = PROJECT["tool"]["hatch"]["build"]["targets"]["wheel"]
    assert wheel["force-include"] == {"grammar": "chartc/grammar", "samples": "chartc/samples"}
    assert PROJECT["project"]["scripts"] == {"chartc": "chartc.cli:main"}


# ------------------------------------------------------------------ the top level

TOP = {
    ".ci", ".gitignore", "DEVELOPERS.md", "README.md",
    "chartc", "grammar", "pyproject.toml", "samples", "tests",
}  # fmt: skip


def ignored() -> tuple[set[str], set[str]]:
    """What git ignores: names anywhere, and places from the top."""
    lines = (ROOT / ".gitignore").read_text(encoding="utf-8").splitlines()
    lines = [line.rstrip("/") for line in lines if line and not line.startswith("#")]
    return {line for line in lines if "/" not in line}, {
        line.lstrip("/") for line in lines if "/" in line
    }


def kept(path: Path) -> bool:
    """Not ignored. Its folder is taken to be kept."""
    anywhere, places = ignored()
    inside = path.relative_to(ROOT).as_posix()
    return not (
        any(fnmatch.fnmatch(path.name, one) for one in anywhere)
        or any(
            fnmatch.fnmatch(inside, one) for one in places if inside.count("/") == one.count("/")
        )
    )


def test_the_top_level_holds_what_belongs_there() -> None:
    assert {path.name for path in ROOT.iterdir() if kept(path)} - {".git"} == TOP


@cache
def files() -> tuple[Path, ...]:
    """Every file of the project, in order."""

    def below(folder: Path) -> Iterator[Path]:
        for path in sorted(folder.iterdir()):
            if kept(path):
                yield from below(path) if path.is_dir() else (path,)

    return tuple(one for one in below(ROOT) if one.relative_to(ROOT).parts[0] in TOP)


@cache
def lines() -> tuple[tuple[str, int, str], ...]:
    """Every line of every text file: place, number, text."""
    found: list[tuple[str, int, str]] = []
    for path in files():
        if path.suffix in (".png", ".pdf"):
            continue
        place = path.relative_to(ROOT).as_posix()
        text = path.read_text(encoding="utf-8", errors="replace")
        found.extend((place, number, line) for number, line in enumerate(text.splitlines(), 1))
    return tuple(found)


def lines_with(pattern: re.Pattern[str], below: str = "") -> list[str]:
    return [
        f"{place}:{number}: {line.strip()[:100]}"
        for place, number, line in lines()
        if place.startswith(below) and pattern.search(line)
    ]


# ------------------------------------------------------------------ origin

# Put together from halves, so that this file does not hold what it looks for.
ELSEWHERE = {
    "a folder of somebody's machine": "|".join(
        (
            r"/wo" r"rk/(?:main|shared|venv)",
            r"/ho" r"me/\w",
            r"/Us" r"ers/\w",
            r"/ro" r"ot/",
            r"[A-Z]:" r"\\Users",
            r"/op" r"t/\w",
            r"(?<![\w.])/tm" r"p/\w",
        )
    ),
    "a package index": r"(?:--|\b)(?:extra-)?index-" r"url|python" r"hosted|py" r"pi\.",
    "how the text was made": r"\b(?:Cla"
    r"ude|Chat"
    r"GPT|Cop"
    r"ilot|Open"
    r"AI|Anth"
    r"ropic|L"
    r"LM)\b"
    r"|\bA"
    r"I\b[- ](?:assist|generat)|language mod"
    r"el",
}
# The only addresses the package itself may hold: names of XML vocabularies, and this machine.
ADDRESS = re.compile(
    r"https?:" r"//(?!www\.w3\.org/|127\.0\.0\.1|localhost|\[::1\]|[{\\(\s\"'<)]|$)"
)


@pytest.mark.parametrize("what", ELSEWHERE)
def test_our_files_speak_of_the_project_alone(what: str) -> None:
    found = lines_with(re.compile(ELSEWHERE[what]))
    assert not found, what + "\n" + "\n".join(found)


def test_the_package_reaches_for_no_address() -> None:
    found = lines_with(ADDRESS, "chartc/")
    assert not found, "\n".join(found)


def test_no_file_is_too_large_or_not_text() -> None:
    for path in files():
        if path.suffix in (".png", ".pdf"):
            continue
        data = path.read_bytes()
        assert len(data) < 1_500_000, f"{path.relative_to(ROOT)} has {len(data)} bytes"
        data.decode("utf-8")


# ------------------------------------------------------------------ the front pages

PAGES = [
    ROOT / "README.md", ROOT / "DEVELOPERS.md", ROOT / "grammar" / "README.md",
    ROOT / "tests" / "published" / "README.md",
]  # fmt: skip
BLOCK = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def blocks(path: Path, language: str) -> list[str]:
    return [
        body for name, body in BLOCK.findall(path.read_text(encoding="utf-8")) if name == language
    ]


@pytest.mark.parametrize("page", PAGES, ids=lambda path: str(path.relative_to(ROOT)))
def test_links_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)\s]+)\)", page.read_text(encoding="utf-8")):
        if re.match(r"https?:", target):
            continue
        name = target.split("#")[0]
        assert not name or (page.parent / name).exists(), f"{page.name}: {target}"


@pytest.mark.parametrize("page", PAGES, ids=lambda path: str(path.relative_to(ROOT)))
def test_commands_named_are_commands(page: Path) -> None:
    for command in re.findall(r"\bchartc ([a-z]{3,})\b", "\n".join(code(page))):
        assert command in cli.COMMANDS, f"{page.name}: chartc {command}"


def code(page: Path) -> list[str]:
    text = page.read_text(encoding="utf-8")
    return [
        *(body for _, body in BLOCK.findall(text)),
        *re.findall(r"`([^`\n]+)`", BLOCK.sub("", text)),
    ]


@pytest.mark.parametrize(
    ("command", "output"), list(shown()), ids=lambda text: text.partition("\n")[0]
)
def test_the_readme_shows_what_comes_out(command: str, output: str) -> None:
    """`python tests/readme_output.py` writes the outputs anew."""
    assert cut(printed(command), output) == output


def test_the_readme_s_chart_is_the_one_that_is_drawn(tmp_path: Path) -> None:
    (shown,) = re.findall(r"!\[[^]]*\]\((\S+)\)", (ROOT / "README.md").read_text(encoding="utf-8"))
    sample, made = ROOT / "samples" / f"{Path(shown).stem}.knit", tmp_path / "chart.svg"
    assert cli.main(["draw", str(sample), "-o", str(made)]) == 0
    assert made.read_bytes() == (ROOT / shown).read_bytes()


@pytest.mark.parametrize(
    "text",
    [body for page in PAGES for body in blocks(page, "knit")],
    ids=lambda text: text.splitlines()[0],
)
def test_patterns_shown_come_out(text: str) -> None:
    found = prove(Source("shown", text)).findings
    assert not found, [(one.check, one.message) for one in found]


def test_readme_has_the_two_commands() -> None:
    commands = blocks(ROOT / "README.md", "sh")[:2]
    assert len(commands) == 2
    for command in commands:
        assert command.strip().count("\n") == 0, "one line, to be copied as it stands"
    first, second = commands
    assert "chartc proof samples/" in first and "chartc draw samples/" in first
    assert ".[test]" in second and "pytest" in second


def test_ci_runs_the_readmes_second_command() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "README.md" in script and "```sh" in script
    for part in ("ruff check", "mypy --strict chartc", "-m build --wheel"):
        assert part in script


def test_every_sample_is_told_of() -> None:
    told = (ROOT / "samples" / "README.md").read_text(encoding="utf-8")
    names = {re.sub(r"-slip$", "", path.stem) for path in (ROOT / "samples").glob("*.knit")}
    assert not {name for name in names if name not in told}


def test_every_golden_grid_is_json() -> None:
    for path in (ROOT / "tests" / "golden").glob("*.json"):
        json.loads(path.read_text(encoding="utf-8"))
