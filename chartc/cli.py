"""The command line: what may be asked for, and what went wrong, in plain words.

What a command does is in `chartc.commands`; nothing is imported before it is needed, so that
help comes at once.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import sys
from collections.abc import Sequence
from typing import NoReturn

from chartc.trouble import FAILED, FINE, Trouble

COMMANDS = {
    "proof": "proof-read patterns: every row counted in every size",
    "draw": "draw the chart of a pattern",
    "words": "write tidy rows, from words or from a chart in a spreadsheet",
    "table": "write a section as a chart for a spreadsheet",
    "match": "compare two patterns, or a pattern and a chart, stitch by stitch",
    "turn": "flat into the round and back, mirrored, the start of the round moved",
    "fit": "cast-on numbers that work for gauge, body and ease",
    "sheet": "make a handout: class sheet, cue card, exercise or editor's report",
    "desk": "open the desk: a page that proofs while one types",
    "terms": "show the stitches and terms that can be read",
    "explain": "explain a check, or list them all",
}


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        raise Trouble(_plain(message, self.prog))



def _plain(message: str, prog: str) -> str:
    """What the parser complains of, in plain words."""
    import re

    if unknown := re.match(r"argument (?:command|COMMAND): invalid choice: '(.*?)'", message):
        near = _nearest(unknown[1], list(COMMANDS), 0.4)
        hint = f"; did you mean “{near}”?" if near else ""
        return f"there is no command “{unknown[1]}”{hint} (chartc --help lists the commands)"
    if stray := re.match(r"unrecognized arguments: (.*)", message):
        word = stray[1].split()[0]
        if not word.startswith("-"):
            return f"“{word}” is one word too many here ({prog} --help tells more)"
        near = _nearest(word.split("=")[0], _options(), 0.5)
        hint = f"; did you mean {near}?" if near else ""
        return f"there is no option {word}{hint} (--help after a command lists its options)"
    if missing := re.match(r"the following arguments are required: (.*)", message):
        wanted = missing[1].split(", ")
        words = {"FILE": "a file", "FIRST": "a first file", "SECOND": "a second file"}
        named = " and ".join(words.get(one, one) for one in wanted)
        return f"{named} is missing ({prog} --help tells more)"
    if choice := re.match(r"argument (\S+): invalid choice: '(.*?)' \(choose from (.*)\)", message):
        known = choice[3].replace("'", "")
        return f"{choice[1].split('/')[-1]} cannot be “{choice[2]}”; it is one of {known}"
    if number := re.match(r"argument (\S+): invalid (?:int|float) value: '(.*?)'", message):
        return f"{number[1].split('/')[-1]} wants a number, not “{number[2]}”"
    if lacking := re.match(r"argument (\S+): expected (?:one|at least one) argument", message):
        return f"{lacking[1].split('/')[-1]} wants something after it ({prog} --help tells what)"
    if explicit := re.match(r"argument (\S+): ignored explicit argument '(.*?)'", message):
        return f"{explicit[1].split('/')[-1]} takes nothing after it"
    return message


def _nearest(word: str, known: Sequence[str], cutoff: float) -> str:
    import difflib

    found = difflib.get_close_matches(word, known, 1, cutoff)
    return found[0] if found else ""


def _options() -> list[str]:
    found: list[str] = []
    for action in _parser()._actions:
        if isinstance(action, argparse._SubParsersAction):
            for sub in action.choices.values():
                for one in sub._actions:
                    found.extend(one.option_strings)
    return sorted(set(found))


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="chartc",
        usage="chartc COMMAND [FILE ...]",
        description="The compiler and proof-reader for written knitting: plain trade words in; a "
        "proof, a chart and tidy words out.",
        epilog="“chartc COMMAND --help” tells more about a command.",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="store_true", help="show the version")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", parser_class=_Parser)

    def command(name: str) -> argparse.ArgumentParser:
        return commands.add_parser(
            name, help=COMMANDS[name], description=f"{COMMANDS[name].capitalize()}.",
            prog=f"chartc {name}", allow_abbrev=False,
        )  # fmt: skip

    def one_file(sub: argparse.ArgumentParser) -> None:
        sub.add_argument("file", metavar="FILE", help="a pattern, or - for standard input")

    def terms_option(sub: argparse.ArgumentParser) -> None:
        sub.add_argument("--terms", default="", metavar="NAME", help="read the words of older books: older")

    def out_option(sub: argparse.ArgumentParser, what: str = "write to this file, not to the screen") -> None:
        sub.add_argument("-o", "--out", metavar="FILE", help=what)

    def part_options(sub: argparse.ArgumentParser, size: bool = True) -> None:
        sub.add_argument("--section", metavar="NAME", help="the part of the pattern (default: the first with rows)")
        if size:
            sub.add_argument("--size", metavar="NAME", help="the size (default: the first)")

    proof = command("proof")
    proof.epilog = "Ends with 0 when nothing is wrong, 1 when something is, 2 when a file cannot be read."
    proof.add_argument("files", nargs="+", metavar="FILE", help="a pattern, a folder of them, or - for standard input")
    proof.add_argument("--json", action="store_true", help="the same as --format json")
    proof.add_argument("--format", choices=["text", "markdown", "html", "json"], default="text",
                       help="how the proof is set (default: text)")  # fmt: skip
    proof.add_argument("--ledger", choices=["full", "short", "none"], default="short",
                       help="how much of the counts row by row (default: short)")  # fmt: skip
    proof.add_argument("--evenly", action="store_true",
                       help="spell out where stitches to be spread evenly fall")  # fmt: skip
    proof.add_argument("--report", metavar="FILE", help="also write the editor's report (.html or .pdf)")
    terms_option(proof)
    out_option(proof)

    draw = command("draw")
    one_file(draw)
    out_option(draw, "the chart: .svg, .png or .pdf; without it SVG goes to the screen")
    part_options(draw)
    draw.add_argument("--whole", action="store_true", help="every stitch of the size, not only edges and two repeats")
    draw.add_argument("--pattern-rows", action="store_true", help="leave out plain rows, and say so in words")
    draw.add_argument("--left-handed", action="store_true", help="the mirror image, for knitting from left to right")
    draw.add_argument("--as-worked", action="store_true", help="stitches as they are worked, not as they look from the right side")
    draw.add_argument("--gauge", action="store_true", help="cells in the proportion of the gauge")
    draw.add_argument("--every", type=int, default=0, metavar="N", help="a heavier line every N stitches and rows")
    draw.add_argument("--numbers", action="store_true", help="number the stitches")
    draw.add_argument("--usage", choices=["us", "uk"], default="us", help="abbreviations of the key (default: us)")
    draw.add_argument("--large", action="store_true", help="large print")
    draw.add_argument("--highlight", action="store_true", help="tint the repeat")
    draw.add_argument("--with-findings", action="store_true", help="mark the stitches that findings are about")
    draw.add_argument("--drift", action="store_true", help="show where repeats start and how far stitches lean")
    draw.add_argument("--dpi", type=float, default=300, metavar="N", help="dots per inch of a .png (default: 300)")
    draw.add_argument("--paper", choices=["a4", "letter"], default="a4", help="paper of a .pdf (default: a4)")
    terms_option(draw)

    words = command("words")
    one_file(words)
    out_option(words)
    words.add_argument("--style", default="us", metavar="NAME", help="house style: us, uk, spelled, spoken, or a .toml file of one's own")
    words.add_argument("--counts", choices=["none", "changed", "all"], help="state the count after rows that change it, or after all")
    words.add_argument("--diff", action="store_true", help="show only what changes")

    table = command("table")
    one_file(table)
    out_option(table)
    part_options(table, size=False)
    table.add_argument("--tabs", action="store_true", help="separate the cells with tabs, not commas")

    match = command("match")
    match.epilog = "Ends with 0 when both are the same knitting, 1 when they are not."
    match.add_argument("first", metavar="FIRST", help="a pattern (.knit) or a chart (.csv, .tsv)")
    match.add_argument("second", metavar="SECOND", help="another")
    match.add_argument("--section", metavar="NAME", help="compare only this part")
    match.add_argument("--size", metavar="NAME", action="append", default=[],
                       help="the size of both; given twice, of the first and of the second")  # fmt: skip
    match.add_argument("--format", choices=["text", "json"], default="text", help="how it is set (default: text)")
    match.add_argument("--chart", metavar="FILE", help="also draw the first as SVG, marked where rows begin to differ")
    out_option(match)

    turn = command("turn")
    one_file(turn)
    out_option(turn)
    turn.add_argument("--to", choices=["round", "flat"], default="", help="what it is to be worked as")
    turn.add_argument("--mirror", action="store_true", help="the mirror image")
    turn.add_argument("--start", type=int, metavar="N", help="move the start of the round N stitches to the left")
    turn.add_argument("--best-start", action="store_true", help="move the start to where no decrease reaches across it")
    turn.add_argument("--edge", type=int, metavar="N", help="edge stitches to add when it becomes flat")
    turn.add_argument("--style", default="us", metavar="NAME", help="house style of the rows")
    part_options(turn, size=False)

    fit = command("fit")
    one_file(fit)
    out_option(fit)
    fit.add_argument("--gauge", default="", metavar="TEXT", help="“20 sts and 28 rows = 10 cm” (default: as the text says)")
    fit.add_argument("--body", default="", metavar="TEXT", help="body measures, “81 (89, 97) cm” (default: as the text says)")
    fit.add_argument("--ease", default="", metavar="TEXT", help="“5 cm”, “-2.5 cm” or a word such as classic")
    fit.add_argument("--table", default="", metavar="NAME", help="a published body table, such as “women bust”")
    fit.add_argument("--swatch", default="", metavar="TEXT", help="“15 x 15 cm, 9 g”: a swatch weighed, for the yarn")
    fit.add_argument("--format", choices=["text", "markdown", "html", "json"], default="text",
                     help="how it is set (default: text)")  # fmt: skip
    terms_option(fit)

    sheet = command("sheet")
    one_file(sheet)
    out_option(sheet, "the handout: .html or .pdf (a cue card also .vtt); without it HTML goes to the screen")
    sheet.add_argument("--kind", choices=["class", "cue", "exercise", "answers", "report"], default="class",
                       help="what is made (default: class)")  # fmt: skip
    sheet.add_argument("--sizes", default="", metavar="NAMES", help="sizes shown, with commas between (default: all)")
    sheet.add_argument("--own", default="", metavar="NAME", help="the size the class knits")
    sheet.add_argument("--large", action="store_true", help="large print")
    sheet.add_argument("--contrast", action="store_true", help="black on white only")
    sheet.add_argument("--left-handed", action="store_true", help="charts for knitting from left to right")
    sheet.add_argument("--words-only", action="store_true", help="no charts")
    sheet.add_argument("--symbols-only", action="store_true", help="charts in place of words")
    sheet.add_argument("--usage", choices=["us", "uk"], default="", help="terms (default: as written)")
    sheet.add_argument("--paper", choices=["a4", "letter"], default="a4", help="paper (default: a4)")
    sheet.add_argument("--two-up", action="store_true", help="two pages to a sheet")
    sheet.add_argument("--owner", default="", metavar="TEXT", help="who owns the pattern")
    sheet.add_argument("--licence", default="", metavar="TEXT", help="under what terms it is handed out")
    sheet.add_argument("--level", type=int, default=1, choices=[1, 2, 3], help="of an exercise")
    sheet.add_argument("--slips", default="", metavar="KINDS", help="of an exercise: kinds of slips, with commas between (default: those of the level)")
    sheet.add_argument("--choice", type=int, default=1, metavar="N", help="of an exercise: another number, other slips")
    sheet.add_argument("--pace", type=float, default=1.5, metavar="SECONDS", help="of captions: seconds for a stitch")
    terms_option(sheet)

    desk = command("desk")
    desk.add_argument("file", nargs="?", metavar="FILE", help="a pattern or a folder (default: this folder)")
    desk.add_argument("--port", type=int, default=0, metavar="N", help="port on this machine (default: any free one)")
    desk.add_argument("--no-browser", action="store_true", help="only print the address")

    terms = command("terms")
    terms.add_argument("words", nargs="*", metavar="WORDS", help="only terms with these words")

    explain = command("explain")
    explain.add_argument("name", nargs="?", metavar="NAME", help="the name of a check")
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; gives the exit code: 0 fine, 1 something is wrong with the text,
    2 cannot be read or asked for wrongly. Never raises for anything a person does."""
    try:
        code = _run(list(sys.argv[1:] if arguments is None else arguments))
        sys.stdout.flush()
        return code
    except BrokenPipeError:
        # whoever reads us has had enough; nothing more can be printed
        _silence()
        return FINE
    except KeyboardInterrupt:
        return 130
    except Trouble as trouble:
        _say(f"chartc: {trouble}")
        return FAILED
    except RecursionError:
        _say("chartc: something in this text is nested too deep to be followed")
        return FAILED
    except MemoryError:
        _say("chartc: there is not memory enough for this")
        return FAILED
    except OSError as error:
        _say(f"chartc: {(error.strerror or str(error)).lower()}")
        return FAILED


def _say(message: str) -> None:
    """To standard error, whatever it can print."""
    try:
        print(message, file=sys.stderr, flush=True)
    except UnicodeEncodeError:
        plain = message.encode("ascii", "replace").decode("ascii")
        print(plain, file=sys.stderr, flush=True)
    except OSError:
        pass


def _silence() -> None:
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _run(arguments: list[str]) -> int:
    for stream in (sys.stdout, sys.stderr):
        # quotes and dashes in any locale; what cannot be shown is shown as "?"
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    parser = _parser()
    try:
        options = parser.parse_args(arguments)
    except SystemExit as stop:  # --help
        return int(stop.code or 0)
    if options.version:
        from chartc import __version__

        print(f"chartc {__version__}")
        return FINE
    if options.command is None:
        parser.print_help(sys.stderr)
        return FAILED
    from chartc import commands

    return commands.run(options)
