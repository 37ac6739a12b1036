"""The editor's report: the proof as a technical editor sends it back."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction

from chartc import showing
from chartc.counting import LedgerEntry
from chartc.findings import Severity
from chartc.measures import show_decimal
from chartc.proof import Proof
from chartc.sheets.classsheet import caution_box
from chartc.sheets.document import (
    Bit,
    Blank,
    Block,
    Box,
    Cell,
    Document,
    Group,
    Heading,
    Items,
    Line,
    Pairs,
    Para,
    Table,
    cell,
    line,
    strong,
)
from chartc.sheets.front import abbreviations_used, fact_lines
from chartc.sheets.gather import squeezed
from chartc.sheets.options import SheetOptions
from chartc.sheets.wordbook import foot, listed, usage_of
from chartc.vocabulary import load_vocabulary

_TITLES = {
    Severity.WRONG: "What is wrong",
    Severity.DOUBTFUL: "What is doubtful",
    Severity.REMARK: "Remarks",
}


def report(proof: Proof, options: SheetOptions | None = None) -> Document:
    """The report of a proved pattern, ready to print."""
    options = options or SheetOptions()
    usage = usage_of(proof, options)
    blocks: list[Block] = [Para(line(_verdict(proof)), "lead")]
    blocks += _findings(proof)
    blocks += _materials(proof)
    blocks += _measurements(proof)
    blocks += _words(proof)
    blocks += _ledger(proof)
    blocks += caution_box(proof, "report", usage)
    blocks.append(_sign_off(options))
    return Document(
        proof.pattern.title or "Pattern", "Editor's report", _subtitle(proof),
        foot(proof, options), tuple(blocks), options,
    )  # fmt: skip


def _subtitle(proof: Proof) -> str:
    sizes = [name for name in proof.pattern.sizes if name]
    rows = len(proof.counted.entries)
    parts = [f"{'Sizes ' + listed(sizes) if len(sizes) > 1 else 'One size'}"]
    parts.append(f"{rows} rows in the ledger")
    return "; ".join(parts)


def _verdict(proof: Proof) -> str:
    said = showing.summary(proof.findings)
    text = f"{said[:1].upper()}{said[1:]}."
    if proof.sound:
        many = len(proof.pattern.sizes) > 1
        return text + (" Every row comes out in every size." if many else " Every row comes out.")
    return text + " The pattern is not ready to publish."


# ------------------------------------------------------------------ findings


def _findings(proof: Proof) -> list[Block]:
    blocks: list[Block] = []
    number = 0
    for severity, title in _TITLES.items():
        here = [showing.shown(proof.source, f) for f in proof.findings if f.severity is severity]
        if not here:
            continue
        blocks.append(Heading(2, title))
        for one in here:
            number += 1
            finding = one.finding
            named = not finding.sizes or re.search(r"\bsizes?\b", finding.message)
            sizes = "" if named else f" (size {listed(list(finding.sizes))})"
            parts: list[Block] = [
                Para(line(
                    strong(f"{number}. Line {one.line}, column {one.column}: "),
                    finding.message[:1].upper() + finding.message[1:] + sizes + ".",
                ), "lines"),
                Para(_passage(one), "code"),
            ]  # fmt: skip
            if finding.hint:
                parts.append(Para(line(finding.hint[:1].upper() + finding.hint[1:] + ".")))
            if one.mends:
                parts.append(Para(line(strong("Mend: "), "; or ".join(one.mends) + ".")))
            parts.append(Para(line(Bit(f"Check: {finding.check}", "soft")), "small"))
            blocks.append(Group(tuple(parts)))
    if not blocks:
        blocks = [Heading(2, "Findings"), Para(line("None."))]
    return blocks


def _passage(one: showing.Shown) -> Line:
    """The line of the pattern with the passage set off."""
    start, end = showing._cut(one)
    text = one.text.strip()
    lead = len(one.text) - len(one.text.lstrip())
    start, end = max(0, start - lead), max(0, end - lead)
    bits = (Bit(text[:start]), Bit(text[start:end], "own"), Bit(text[end:]))
    return tuple(bit for bit in bits if bit.text)


# ------------------------------------------------------------------ materials and measures


def _materials(proof: Proof) -> list[Block]:
    facts = fact_lines(proof)
    facts += [
        ("Gauge", squeezed(f.value))
        for f in proof.pattern.facts
        if f.key == "gauge" and f.value.strip()
    ]
    wanted = {"Yarn", "Needles", "Also needed", "Gauge"}
    given = {name for name, _ in facts}
    missing = [] if "Materials" in given else sorted(wanted - given)
    blocks: list[Block] = [Heading(2, "Materials as given")]
    if facts:
        blocks.append(Pairs(tuple((name, line(value)) for name, value in facts)))
    if missing:
        blocks.append(Para(line(f"Not given: {listed([m.lower() for m in missing])}.")))
    return blocks


def _measurements(proof: Proof) -> list[Block]:
    """Stitches over gauge for every section's widest row, size by size."""
    fact = proof.pattern.fact("gauge")
    if fact is None:
        return []
    from chartc.facts import parse_gauge
    from chartc.fitting import FittingProblem, gauge_from

    found = parse_gauge(fact.value)
    if found is None or found.stitches is None:
        return []
    try:
        gauge = gauge_from(found)
    except FittingProblem:
        return []
    if gauge is None:
        return []
    inches = gauge.unit == "in"
    unit = "in" if inches else "cm"
    per = Fraction(254, 10) if inches else Fraction(10)
    sizes = proof.pattern.sizes
    rows: list[tuple[Cell, ...]] = []
    for index, counted in enumerate(proof.counted.sections):
        ends = list(_widest(counted.entries, index, len(sizes)))
        if not any(one for one in ends):
            continue
        cells = [cell(proof.pattern.sections[index].name or "Rows", head=True)]
        for one in ends:
            if one is None:
                cells.append(cell("–", right=True))
                continue
            value, key = one
            width = gauge.width_mm(value) / per
            cells.append(Cell((
                line(Bit(str(value), "", key), " sts"),
                line(strong(f"{show_decimal(width, 1)} {unit}")),
            ), right=True))  # fmt: skip
        rows.append(tuple(cells))
    if not rows:
        return []
    stitch = gauge.stitch_mm
    head = ("section", *(name or "width" for name in sizes))
    return [
        Heading(2, "Measurements against gauge"),
        Para(line(
            f"Widest row of each section, in stitches, times {show_decimal(stitch, 2)} mm a stitch "
            f"({squeezed(fact.value)}). An edge or a seam takes off a little; ease is not in it."
        ), "lines"),
        Table(head, tuple(rows), (2.0, *(1.0 for _ in sizes)), label="Widths by section and size",
              rights=tuple(range(1, len(head)))),
    ]  # fmt: skip


def _widest(
    entries: tuple[LedgerEntry, ...], section: int, sizes: int
) -> Iterator[tuple[int, str] | None]:
    for size in range(sizes):
        best: tuple[int, str] | None = None
        for place, entry in enumerate(entries):
            for one in entry.sizes:
                if one.size_index == size and one.after is not None and (
                    best is None or one.after > best[0]
                ):  # fmt: skip
                    best = (one.after, f"{section}.{place}.{size}.after")
        yield best


# ------------------------------------------------------------------ words


def _words(proof: Proof) -> list[Block]:
    pattern, source = proof.pattern, proof.source
    vocabulary = load_vocabulary()
    text = "\n".join(
        source.at(row.span)
        for section in pattern.sections
        for row in section.flow
        if hasattr(row, "body")
    )
    explained = {key.lower() for key in pattern.explained}
    used: list[tuple[str, str, bool]] = []
    for key in pattern.used_terms:
        own = next((o for o in pattern.own if o.name.lower() == key), None)
        stitch = own.stitch if own is not None else vocabulary.find(key)
        meaning = stitch.title if stitch is not None else ""
        printed = squeezed(source.at(pattern.used_terms[key]))
        used.append((printed, meaning, key in explained or printed.lower() in explained))
    for name, meaning in abbreviations_used(text):
        used.append((name, meaning.rstrip("."), name.lower() in explained))
    used.sort(key=lambda one: one[0].lower())
    names = {name.lower() for name, _, _ in used} | set(pattern.used_terms)
    rows = tuple(
        (cell(name, head=True), cell(meaning), cell("yes" if said else "no"))
        for name, meaning, said in used
    )
    blocks: list[Block] = [Heading(2, "Terms used")]
    if rows:
        blocks.append(Table(("as printed", "meaning", "explained in the text"), rows,
                            (36.0, 100.0, 34.0), label="Terms used"))  # fmt: skip
    idle = sorted(
        squeezed(source.at(span)) for key, span in pattern.explained.items()
        if key.lower() not in names
    )  # fmt: skip
    if idle:
        blocks.append(Para(line(
            strong("Explained, and not met in a row: "), ", ".join(idle),
            ". Some of these may stand between the rows.",
        )))  # fmt: skip
    return blocks


# ------------------------------------------------------------------ the ledger


def _ledger(proof: Proof) -> list[Block]:
    told = showing.told(proof, "short")
    blocks: list[Block] = [Heading(2, "Ledger")]
    for section in told.sections:
        if not section.statements and section.table is None:
            continue
        blocks.append(Heading(3, section.name))
        blocks += [
            Para(line(text[:1].upper() + text[1:] + "."), "lines") for text in section.statements
        ]
        table = section.table
        if table is None:
            continue
        keep = [
            i for i in range(len(table.head))
            if any(len(row) == len(table.head) and row[i] for row in table.rows)
        ]  # fmt: skip
        rows = []
        for row in table.rows:
            if len(row) != len(table.head):
                text = row[0].strip(". ")
                rows.append(
                    (cell(Bit(text[:1].upper() + text[1:], "em")), *(cell("") for _ in keep[1:]))
                )
                continue
            cells = [cell(row[i], right=table.right[i], head=n == 0) for n, i in enumerate(keep)]
            rows.append(tuple(cells))
        wide = {"row": 3.4, "side": 0.7, "change": 1.5, "each repeat": 1.2}
        widths = tuple(wide.get(table.head[i], 1.0) for i in keep)
        blocks.append(Table(
            tuple(table.head[i] for i in keep), tuple(rows), widths,
            label=f"Ledger of {section.name}",
            rights=tuple(n for n, i in enumerate(keep) if table.right[i]),
        ))  # fmt: skip
    return blocks


def _sign_off(options: SheetOptions) -> Box:
    blocks: list[Block] = [
        Items((
            (line("Every finding above mended or answered"),),
            (line("Chart and words compared"),),
            (line("Measurements and yarn amounts checked with the designer"),),
            (line("Abbreviations complete"),),
        ), ticks=True),
        Blank(("Editor:", "Date:", "Signed:")),
    ]  # fmt: skip
    if options.owner:
        blocks.insert(0, Para(line(strong("Owner of the pattern: "), options.owner)))
    if options.licence:
        blocks.insert(0, Para(line(strong("Licence: "), options.licence)))
    return Box("Sign-off", tuple(blocks), "form")
