"""What each command of the command line does."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from chartc.trouble import FAILED, FINE, WRONG, Trouble

if TYPE_CHECKING:
    from chartc.matching import Match
    from chartc.proof import Proof
    from chartc.source import Source


def run(options: argparse.Namespace) -> int:
    """Run the command asked for; the exit code."""
    work = {
        "proof": proof, "draw": draw, "words": words, "table": table, "match": match,
        "turn": turn, "fit": fit, "sheet": sheet, "desk": desk, "terms": terms,
        "explain": explain,
    }  # fmt: skip
    return work[options.command](options)


# ------------------------------------------------------------------ files


def paths(given: Sequence[str]) -> list[str]:
    """The files named, a folder standing for the patterns in it."""
    from pathlib import Path

    out: list[str] = []
    for name in given:
        path = Path(name)
        if name != "-" and path.is_dir():
            try:
                inside = sorted(str(one) for one in path.rglob("*.knit") if one.is_file())
            except PermissionError:
                raise Trouble(f"{name}: this folder may not be read by you") from None
            if not inside:
                raise Trouble(f"{name}: there is no .knit file in this folder")
            out.extend(inside)
        else:
            out.append(name)
    return out


def load(name: str) -> Source:
    """A pattern file. Raises Trouble."""
    from chartc.source import CannotRead
    from chartc.source import load as load_source

    try:
        return load_source(name)
    except CannotRead as error:
        raise Trouble(str(error)) from None


def put(data: str | bytes, out: str | None) -> None:
    """Print, or write to a file."""
    if out is None or out == "-":
        if isinstance(data, bytes):
            sys.stdout.buffer.write(data)
        else:
            sys.stdout.write(data)
        return
    from chartc.writing import CannotWrite, write

    try:
        write(out, data)
    except CannotWrite as error:
        raise Trouble(str(error)) from None


def known_terms(name: str) -> str:
    """A set of terms by name ("old" will do for "older"). Raises Trouble."""
    if not name:
        return ""
    from chartc.resources import grammar_folder

    known = sorted(
        path.stem for path in (grammar_folder() / "terms").glob("*.toml") if path.stem != "glossary"
    )
    found = [one for one in known if one == name.lower()] or [
        one for one in known if one.startswith(name.lower())
    ]
    if not found:
        raise Trouble(f"there is no set of terms “{name}”; there are: {', '.join(known)}")
    return found[0]


def ending(out: str | None) -> str:
    """The ending of a file to write, lower case, without the dot."""
    return "" if out is None or "." not in out else out.rsplit(".", 1)[1].lower()


def proved(name: str, terms_name: str) -> Proof:
    from chartc.proof import prove

    return prove(load(name), known_terms(terms_name))


# ------------------------------------------------------------------ commands


def proof(options: argparse.Namespace) -> int:
    from chartc.proof import document, prove

    form = "json" if options.json else options.format
    files = paths(options.files)
    wanted = known_terms(options.terms)
    if options.report and len(files) > 1:
        raise Trouble("a report is made of one file at a time")
    failed = False
    proofs: list[Proof] = []
    watch = len(files) > 3 and sys.stderr.isatty()
    for number, path in enumerate(files, 1):
        if watch:
            print(f"\r{number} of {len(files)}", end="", file=sys.stderr, flush=True)
        try:
            proofs.append(prove(load(path), wanted))
        except Trouble as trouble:
            failed = True
            print(f"{chr(13) if watch else ''}chartc: {trouble}", file=sys.stderr)
    if watch:
        print("\r\x1b[K", end="", file=sys.stderr, flush=True)
    if form == "json":
        put(document(proofs), options.out)
    elif proofs:
        put(_set(proofs, form, options), options.out)
    if options.report and proofs:
        _report(proofs[0], options.report)
    if failed:
        return FAILED
    return FINE if all(one.sound for one in proofs) else WRONG


def _set(proofs: Sequence[Proof], form: str, options: argparse.Namespace) -> str:
    from chartc import showing

    told = [showing.told(one, options.ledger, options.evenly) for one in proofs]
    if form == "html":
        return showing.as_html(told)
    if form == "markdown":
        return "\n".join(showing.as_markdown(one) for one in told)
    bold = options.out is None and sys.stdout.isatty() and "NO_COLOR" not in os.environ
    text = "\n".join(showing.as_text(one, bold=bold) for one in told)
    if len(told) > 1:
        wrong = sum(not one.sound for one in proofs)
        text += f"\n{len(told)} files, {wrong or 'none'} with something wrong\n"
    return text


def _report(one: Proof, out: str) -> None:
    from chartc.sheets import SheetProblem, report

    try:
        made = report(one)
        put(made.pdf() if ending(out) == "pdf" else made.html(), out)
    except SheetProblem as problem:
        raise Trouble(str(problem)) from None


def draw(options: argparse.Namespace) -> int:
    from chartc.charting import ChartOptions, flags_from
    from chartc.drawing import NoChart, chart_of

    form = ending(options.out) or "svg"
    if form not in ("svg", "png", "pdf"):
        raise Trouble(f"a chart is written as .svg, .png or .pdf, not .{form}")
    if not 0 <= options.every <= 1000:
        raise Trouble("--every wants a number of stitches from 0 to 1000")
    done = proved(options.file, options.terms)
    chosen = ChartOptions(
        view="as worked" if options.as_worked else "right side",
        pattern_rows=options.pattern_rows,
        left_handed=options.left_handed,
        usage=options.usage,
        every=options.every,
        numbers=options.numbers,
        large_print=options.large,
        drift=options.drift,
        highlight=options.highlight,
        proportion=_proportion(done) if options.gauge else 1.0,
    )
    try:
        chart = chart_of(
            done, section=options.section, size=options.size, whole=options.whole,
            options=chosen, flags=flags_from(done.findings) if options.with_findings else (),
        )  # fmt: skip
    except NoChart as reason:
        raise Trouble(f"{options.file}: {reason}") from None
    if form == "svg":
        put(chart.svg, options.out)
    else:
        from chartc.charting import CannotPrint, TooWide, to_pdf, to_png

        try:
            picture = to_png(chart.svg, options.dpi) if form == "png" else to_pdf(chart, options.paper)
        except (CannotPrint, TooWide) as reason:
            raise Trouble(str(reason)) from None
        put(picture, options.out)
    if not done.sound:
        count = len(done.wrong)
        things = "1 thing is" if count == 1 else f"{count} things are"
        print(
            f"chartc: {things} wrong with this text; “chartc proof {options.file}” tells what",
            file=sys.stderr,
        )
        return WRONG
    return FINE


def _proportion(done: Proof) -> float:
    """Height of a cell for a width of 1, from the gauge. Raises Trouble when there is none."""
    from chartc.facts import parse_gauges
    from chartc.fitting import gauge_from

    for fact in done.pattern.facts:
        for stated in (parse_gauges(fact.value) or ()) if fact.key == "gauge" else ():
            gauge = gauge_from(stated)
            if gauge is not None and gauge.rows is not None:
                return min(2.0, max(0.4, float(gauge.stitches / gauge.rows)))
    raise Trouble("the text gives no gauge in stitches and rows to draw the cells by")


def words(options: argparse.Namespace) -> int:
    from chartc.source import CannotRead
    from chartc.turning.commands import words_text

    try:
        put(
            words_text(load(options.file), options.style, counts=options.counts, diff=options.diff),
            options.out,
        )
    except CannotRead as reason:
        raise Trouble(str(reason)) from None
    return FINE


def table(options: argparse.Namespace) -> int:
    from chartc.drawing import NoChart, find_section
    from chartc.fabric import DoesNotFit
    from chartc.proof import read_any
    from chartc.tables import CannotTabulate
    from chartc.tables.making import table_of

    pattern = read_any(load(options.file))
    try:
        text = table_of(
            pattern, find_section(pattern, options.section), separator="\t" if options.tabs else ","
        )
    except (CannotTabulate, NoChart) as reason:
        raise Trouble(f"{options.file}: {reason}") from None
    except DoesNotFit:
        raise Trouble(
            f"{options.file}: a row does not come out; “chartc proof {options.file}” tells which"
        ) from None
    put(text, options.out)
    return FINE


def match(options: argparse.Namespace) -> int:
    import json

    from chartc.drawing import NoChart, find_size
    from chartc.matching import CannotMatch, match_json, match_text
    from chartc.matching import match as compare
    from chartc.proof import read_any
    from chartc.source import CannotRead

    first, second = load(options.first), load(options.second)
    if len(options.size) > 2:
        raise Trouble("--size is given once for both, or twice: of the first and of the second")
    try:
        one, other = read_any(first), read_any(second)
        sizes = [find_size(pattern, options.size[at] if len(options.size) > at else None)
                 for at, pattern in ((0, one), (len(options.size) - 1, other))] if options.size else [0, 0]  # fmt: skip
        found = compare(
            one, other, sections=(options.section, options.section), sizes=(sizes[0], sizes[1])
        )
    except (CannotMatch, CannotRead, NoChart) as reason:
        raise Trouble(str(reason)) from None
    if options.format == "json":
        data = json.dumps(match_json(found, first, second), ensure_ascii=False, indent=1)
        put(data + "\n", options.out)
    else:
        put(match_text(found, first, second), options.out)
    if options.chart:
        _match_chart(found, first, second, options.chart)
    return FINE if found.same else WRONG


def _match_chart(found: Match, first: Source, second: Source, out: str) -> None:
    """The first of two as a chart, the stitches marked at which rows begin to differ."""
    from chartc.charting import Flag
    from chartc.drawing import NoChart, chart_of
    from chartc.matching import row_text
    from chartc.proof import prove

    flags = [
        Flag(row.one.span, row_text(row, first, second))
        for section in found.sections
        for row in section.rows
        if row.status != "same" and row.one is not None
    ]
    try:
        chart = chart_of(prove(first), section=found.sections[0].name or None, flags=flags)
    except NoChart as reason:
        raise Trouble(f"{first.name}: {reason}") from None
    put(chart.svg, out)


def turn(options: argparse.Namespace) -> int:
    from chartc.source import CannotRead
    from chartc.turning import CannotTurn
    from chartc.turning.commands import turn_text

    try:
        turned = turn_text(
            load(options.file), to=options.to, mirrored=options.mirror, by=options.start,
            best=options.best_start, edge=options.edge, section=options.section or "",
            style=options.style,
        )  # fmt: skip
    except (CannotTurn, CannotRead) as reason:
        raise Trouble(str(reason)) from None
    put(turned.text, options.out)
    for note in turned.notes:
        print(f"chartc: {note}", file=sys.stderr)
    return FINE


def fit(options: argparse.Namespace) -> int:
    import json
    import shutil

    from chartc.fitting import FittingProblem
    from chartc.fitting import fit as work_out
    from chartc.wishes import fit_request

    done = proved(options.file, options.terms)
    try:
        request = fit_request(
            done, gauge=options.gauge, body=options.body, ease=options.ease, table=options.table,
            swatch=options.swatch,
        )  # fmt: skip
        found = work_out(request)
    except (FittingProblem, ValueError) as problem:
        raise Trouble(f"{options.file}: {problem}") from None
    if options.format == "json":
        put(json.dumps(found.as_dict(), ensure_ascii=False, indent=1) + "\n", options.out)
    elif options.format == "html":
        put(found.html() + "\n", options.out)
    elif options.format == "markdown":
        put(found.markdown(), options.out)
    else:
        wide = sys.stdout.isatty() and options.out is None
        put(found.text(shutil.get_terminal_size().columns if wide else 100) + "\n", options.out)
    return FINE


def sheet(options: argparse.Namespace) -> int:
    from chartc.sheets import (
        SheetOptions,
        SheetProblem,
        captions,
        class_sheet,
        cue_card,
        exercise_sheet,
        report,
    )

    form = ending(options.out) or "html"
    if form not in ("html", "htm", "pdf", "vtt"):
        raise Trouble(f"a handout is written as .html or .pdf, not .{form}")
    if form == "vtt" and options.kind != "cue":
        raise Trouble("captions (.vtt) are made of a cue card: --kind cue")
    done = proved(options.file, options.terms)
    try:
        chosen = SheetOptions(
            sizes=tuple(one.strip() for one in options.sizes.split(",") if one.strip()),
            own=options.own, large=options.large, contrast=options.contrast,
            left_handed=options.left_handed, words_only=options.words_only,
            symbols_only=options.symbols_only, usage=options.usage, paper=options.paper,
            two_up=options.two_up, owner=options.owner, licence=options.licence,
        )  # fmt: skip
        if form == "vtt":
            put(captions(done, chosen, seconds_a_stitch=options.pace), options.out)
            return FINE
        if options.kind in ("exercise", "answers"):
            exercise, answers = exercise_sheet(
                done, chosen, seed=options.choice, level=options.level,
                kinds=[one.strip() for one in options.slips.split(",") if one.strip()],
            )  # fmt: skip
            made = exercise if options.kind == "exercise" else answers
        elif options.kind == "cue":
            made = cue_card(done, chosen)
        elif options.kind == "report":
            made = report(done, chosen)
        else:
            made = class_sheet(done, chosen)
        put(made.pdf() if form == "pdf" else made.html(), options.out)
    except SheetProblem as problem:
        raise Trouble(f"{options.file}: {problem}") from None
    return FINE


def desk(options: argparse.Namespace) -> int:
    from chartc.desk import main as open_desk

    return open_desk(options.file, port=options.port, open_browser=not options.no_browser)


def terms(options: argparse.Namespace) -> int:
    from chartc.termlist import terms_text

    text = terms_text(" ".join(options.words))
    if not text:
        from chartc.vocabulary import load_vocabulary

        asked = " ".join(options.words)
        near = load_vocabulary().nearest(asked)
        hint = f"; the nearest are {', '.join(near)}" if near else ""
        raise Trouble(f"no term has “{asked}” in it{hint}")
    put(text, None)
    return FINE


def explain(options: argparse.Namespace) -> int:
    from chartc.termlist import check_text, checks_text

    if options.name is None:
        put(checks_text(), None)
        return FINE
    text = check_text(options.name)
    if not text:
        from difflib import get_close_matches

        from chartc.checks import REGISTRY

        near = get_close_matches(options.name, list(REGISTRY), 1, 0.4)
        hint = f"; did you mean {near[0]}?" if near else ""
        raise Trouble(f"there is no check “{options.name}”{hint} (chartc explain lists them)")
    put(text, None)
    return FINE
