"""The command line. What a command needs is imported inside it, so that help comes at once."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, NoReturn

if TYPE_CHECKING:
    from chartc.proof import Proof
    from chartc.source import Source

FINE, WRONG, FAILED = 0, 1, 2

COMMANDS = {
    "proof": "proof-read patterns: every row counted in every size",
    "draw": "draw the chart of a pattern as SVG",
    "terms": "show the stitches and terms that can be read",
    "explain": "explain a check, or list them all",
}


class Trouble(Exception):
    """Something the person at the keyboard has to put right; said in plain words."""


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        raise Trouble(_plain(message, self.prog))


def _plain(message: str, prog: str) -> str:
    """What argparse complains of, in plain words."""
    import difflib
    import re

    if unknown := re.match(r"argument (?:command|COMMAND): invalid choice: '(.*?)'", message):
        near = difflib.get_close_matches(unknown[1], COMMANDS, 1, 0.4)
        hint = f"; did you mean “{near[0]}”?" if near else ""
        return f"there is no command “{unknown[1]}”{hint} (chartc --help lists the commands)"
    if stray := re.match(r"unrecognized arguments: (.*)", message):
        word = stray[1].split()[0]
        near = difflib.get_close_matches(word, _options(), 1, 0.5) if word[0] == "-" else []
        hint = f"; did you mean {near[0]}?" if near else ""
        kind = "option" if word.startswith("-") else "word"
        return f"the {kind} {word} is not known here{hint} ({prog} --help lists them)"
    if missing := re.match(r"the following arguments are required: (.*)", message):
        wanted = missing[1].replace("command", "a command").replace("FILE", "a file")
        return f"{wanted} is missing ({prog} --help tells more)"
    if choice := re.match(r"argument (\S+): invalid choice: '(.*?)' \(choose from (.*)\)", message):
        return f"{choice[1]} cannot be “{choice[2]}”; it is one of {choice[3]}".replace("'", "")
    if lacking := re.match(r"argument (\S+): expected (?:one|at least one) argument", message):
        return f"{lacking[1].split('/')[0]} needs a value after it"
    return message


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
        description="The compiler and proof-reader for written knitting.",
        epilog="“chartc COMMAND --help” tells more about a command.",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="store_true", help="show the version")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", parser_class=_Parser)

    def command(name: str) -> argparse.ArgumentParser:
        return commands.add_parser(
            name, help=COMMANDS[name], description=COMMANDS[name], allow_abbrev=False
        )

    proof = command("proof")
    proof.add_argument("files", nargs="+", metavar="FILE", help="a pattern, a folder, or - for standard input")
    proof.add_argument("--json", action="store_true", help="the same as --format json")
    proof.add_argument("--format", choices=["text", "markdown", "html", "json"], default="text",
                       help="how the proof is set (default: text)")  # fmt: skip
    proof.add_argument("--ledger", choices=["full", "short", "none"], default="short",
                       help="how much of the row-by-row counts to show (default: short)")  # fmt: skip
    proof.add_argument("--terms", default="", metavar="NAME",
                       help="the usage the text is written in: old")  # fmt: skip
    proof.add_argument("-o", "--out", metavar="FILE", help="write to a file")

    draw = command("draw")
    draw.add_argument("files", nargs=1, metavar="FILE", help="a pattern, or - for standard input")
    draw.add_argument("-o", "--out", metavar="FILE", help="where to write the chart; else it is printed")
    draw.add_argument("--section", metavar="NAME", help="the section to draw (default: the first with rows)")
    draw.add_argument("--size", metavar="NAME", help="the size to draw (default: the first)")
    draw.add_argument("--terms", default="", metavar="NAME", help="the usage the text is written in: old")

    terms = command("terms")
    terms.add_argument("words", nargs="*", metavar="WORDS", help="show only terms with these words")

    explain = command("explain")
    explain.add_argument("name", nargs="?", metavar="NAME", help="the name of a check")
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; the exit code. Never raises for anything a person does."""
    try:
        code = _run(list(sys.argv[1:] if arguments is None else arguments))
        sys.stdout.flush()
        return code
    except BrokenPipeError:
        # whoever reads us has had enough; nothing more can be printed
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FINE
    except KeyboardInterrupt:
        return 130
    except Trouble as trouble:
        print(f"chartc: {trouble}", file=sys.stderr)
        return FAILED


def _run(arguments: list[str]) -> int:
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
        parser.print_help()
        return FAILED
    work = {"proof": _proof, "draw": _draw, "terms": _terms, "explain": _explain}
    return work[options.command](options)


# ------------------------------------------------------------------ files


def _paths(given: Sequence[str]) -> list[str]:
    """The files named, a folder standing for the patterns in it."""
    from pathlib import Path

    out: list[str] = []
    for name in given:
        path = Path(name)
        if name != "-" and path.is_dir():
            inside = sorted(str(one) for one in path.rglob("*.knit") if one.is_file())
            if not inside:
                raise Trouble(f"{name}: there is no .knit file in this folder")
            out.extend(inside)
        else:
            out.append(name)
    return out


def _load(name: str) -> Source:
    from chartc.source import CannotRead, load

    try:
        return load(name)
    except CannotRead as error:
        raise Trouble(str(error)) from None


def _put(text: str, out: str | None) -> None:
    """Print, or write to a file."""
    if out is None or out == "-":
        sys.stdout.write(text)
        return
    from chartc.writing import CannotWrite, write

    try:
        write(out, text)
    except CannotWrite as error:
        raise Trouble(str(error)) from None


def _known_terms(name: str) -> str:
    from chartc.vocabulary import load_vocabulary

    del load_vocabulary
    return name


# ------------------------------------------------------------------ commands


def _proof(options: argparse.Namespace) -> int:
    from chartc.proof import document, prove

    form = "json" if options.json else options.format
    paths = _paths(options.files)
    terms = _known_terms(options.terms)
    failed = False
    proofs: list[Proof] = []
    watch = len(paths) > 3 and sys.stderr.isatty()
    for number, path in enumerate(paths, 1):
        if watch:
            print(f"\r{number} of {len(paths)}", end="", file=sys.stderr, flush=True)
        try:
            proofs.append(prove(_load(path), terms))
        except Trouble as trouble:
            failed = True
            print(f"chartc: {trouble}", file=sys.stderr)
    if watch:
        print("\r\x1b[K", end="", file=sys.stderr, flush=True)
    if form == "json":
        _put(document(proofs), options.out)
    elif proofs:
        from chartc import showing

        told = [showing.told(one, options.ledger) for one in proofs]
        if form == "html":
            _put(showing.as_html(told), options.out)
        elif form == "markdown":
            _put("\n".join(showing.as_markdown(one) for one in told), options.out)
        else:
            bold = options.out is None and sys.stdout.isatty() and "NO_COLOR" not in os.environ
            _put("\n".join(showing.as_text(one, bold=bold) for one in told), options.out)
    if failed:
        return FAILED
    return FINE if all(one.sound for one in proofs) else WRONG


def _draw(options: argparse.Namespace) -> int:
    raise Trouble("draw is not ready yet")


def _terms(options: argparse.Namespace) -> int:
    raise Trouble("terms is not ready yet")


def _explain(options: argparse.Namespace) -> int:
    raise Trouble("explain is not ready yet")
