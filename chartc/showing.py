"""The proof as it is shown: for the terminal, as Markdown, as HTML.

A proof is first put into plain tables and lines (`told`), which each format then only sets.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from html import escape
from typing import Literal

from chartc.counting import LedgerEntry, SectionCount, WholeText, Works
from chartc.evenly import spelled_out
from chartc.findings import Finding, Repair, Severity
from chartc.proof import Proof
from chartc.source import Source

Ledger = Literal["full", "short", "none"]

TAB = 4
MOST_LINE = 110  # signs of a line shown with a finding
MOST_LABEL = 44
UNKNOWN = "?"
MOST_MULTIPLE = 2000  # a larger one is chance, and tells nothing


@dataclass(frozen=True)
class Table:
    """A table: `head` names the columns; `right` says which are set to the right; a row with
    one cell only runs across the whole width."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[bool, ...]


@dataclass(frozen=True)
class Shown:
    """A finding with its text: the line, and where in it the passage stands (in columns of
    the line as shown, from 0)."""

    finding: Finding
    line: int
    column: int
    text: str
    start: int
    width: int
    mends: tuple[str, ...]


@dataclass(frozen=True)
class SectionTold:
    """A section: its name, what it works for, its ledger (None when not wanted)."""

    name: str
    statements: tuple[str, ...]
    table: Table | None


@dataclass(frozen=True)
class Told:
    """A whole proof in words and tables."""

    name: str
    title: str
    summary: str
    findings: tuple[Shown, ...]
    sections: tuple[SectionTold, ...]


def told(proof: Proof, ledger: Ledger = "short", evenly: bool = False) -> Told:
    """A proof put into lines and tables; `evenly`: with where evenly spread stitches fall."""
    sections = []
    for at, counted in enumerate(proof.counted.sections):
        section = proof.pattern.sections[at]
        table = None if ledger == "none" else ledger_table(proof, counted, ledger)
        sections.append(
            SectionTold(
                section.name or "Rows",
                (*statements(proof, at), *(spelled_out(proof, at) if evenly else ())),
                table,
            )
        )
    return Told(
        proof.source.name,
        proof.pattern.title,
        summary(proof.findings),
        tuple(shown(proof.source, one) for one in proof.findings),
        tuple(sections),
    )


# ------------------------------------------------------------------ findings


def summary(findings: Sequence[Finding]) -> str:
    """ "2 wrong, 1 doubtful", or "nothing wrong"."""
    parts = []
    for severity in Severity:
        n = sum(f.severity is severity for f in findings)
        if n:
            word = severity.value + ("s" if severity is Severity.REMARK and n > 1 else "")
            parts.append(f"{n} {word}")
    if not any(f.severity is Severity.WRONG for f in findings):
        parts.insert(0, "nothing wrong")
    return ", ".join(parts)


def shown(source: Source, finding: Finding) -> Shown:
    """A finding with the line it stands in."""
    line, column = source.locate(finding.span.start)
    span = source.line_span(line)
    text = source.text[span.start : span.end].rstrip("\r")
    before = finding.span.start - span.start
    end = min(max(finding.span.end, finding.span.start + 1), span.start + len(text))
    part, lead, width = _window(text, before, max(1, end - finding.span.start))
    return Shown(
        finding, line, column, part, lead, width, tuple(mend(source, r) for r in finding.repairs)
    )


def _window(text: str, start: int, length: int, most: int = MOST_LINE) -> tuple[str, int, int]:
    """The line (or, when it is long, the part round the passage) made fit to print, and the
    columns of the passage in it."""
    if len(text) > most:
        low = max(0, min(start - most // 3, len(text) - most))
        if low:
            low = text.rfind(" ", 0, low) + 1  # not within a word
        high = min(len(text), low + most)
        before, after = "\u2026 " if low else "", " \u2026" if high < len(text) else ""
        text = before + text[low:high] + after
        start += len(before) - low
        length = max(1, min(length, len(before) + high - low - start))
    out: list[str] = []
    columns = 0
    places = [0] * (len(text) + 1)
    for i, sign in enumerate(text):
        places[i] = columns
        if sign == "\t":
            fill = TAB - columns % TAB
            out.append(" " * fill)
            columns += fill
            continue
        if unicodedata.category(sign) in ("Cc", "Cs"):
            sign = "\ufffd"
        out.append(sign)
        columns += _columns(sign)
    places[len(text)] = columns
    start = min(start, len(text))
    stop = min(start + length, len(text))
    lead = places[start]
    return "".join(out), lead, max(1, places[stop] - lead)


def _columns(sign: str) -> int:
    if unicodedata.combining(sign) or unicodedata.category(sign) == "Cf":
        return 0
    return 2 if unicodedata.east_asian_width(sign) in "WF" else 1


def mend(source: Source, repair: Repair) -> str:
    """A repair in words."""
    old = " ".join(source.at(repair.span).split())
    new = " ".join(repair.text.split())
    if not old:
        return f"put in “{new.strip(' ,')}” {_beside(source, repair)}"
    if not new:
        return f"leave out “{old.strip(' ,')}”"
    return f"“{new}” for “{old}”"


def _beside(source: Source, repair: Repair) -> str:
    """Where something is put in: after what, or before what at the start of a row."""
    line = source.locate(repair.span.start)[0]
    span = source.line_span(line)
    before = source.text[span.start : repair.span.start].rstrip(" ,;")
    after = source.text[repair.span.start : span.end].lstrip(" ,;")
    words, following = before.split(), re.split(r"[,;\s]", after, maxsplit=1)[0]
    last = words[-1] if words else ""
    if repair.text.startswith((",", " ")) or not following:
        return f"after “{last.lstrip('*([')}”" if last else "here"
    return f"before “{following}”"


# ------------------------------------------------------------------ sections


def statements(proof: Proof, at: int) -> Iterator[str]:
    """What can be said of a section as a whole: the numbers it works for, and for each cast-on
    whether the printed ones do."""
    counted = proof.counted.sections[at]
    texts = [one for one in proof.counted.whole if one.section == at]
    sizes = proof.pattern.sizes
    works = proof.working[at]
    if works and works[0].multiple <= MOST_MULTIPLE and (works[0].multiple or len(sizes) < 2):
        yield works_words(works)
    elif counted.why_not is not None and not texts:
        yield "no number of stitches is known to work"
    for span in dict.fromkeys(one.span for one in texts):
        here = [one for one in texts if one.span == span]
        good = [one for one in here if one.fits]
        line = proof.source.locate(span.start)[0]
        if good:
            yield f"cast on in line {line}: {_printed(good)}"
        for one in here:
            if one.fits is not False:
                continue
            size = f"size {sizes[one.size_index]}: " if len(sizes) > 1 else ""
            near = [n for n in (one.below, one.above) if n is not None and n <= 4 * one.printed + 20]
            row = one.why_not.row if one.why_not is not None else None
            ruled = f"; {row.label} rules it out" if row is not None and row.label else ""
            hint = f"; the nearest that work: {' and '.join(map(str, near))}" if near else ""
            yield f"cast on in line {line}: {size}{one.printed} does not work{ruled}{hint}"


def _printed(good: Sequence[WholeText]) -> str:
    """ "84, 96, 108 work; so does every multiple of 12 from 36"."""
    numbers = list(dict.fromkeys(one.printed for one in good))
    verb = "works" if len(numbers) == 1 else "work"
    told = f"{', '.join(map(str, numbers))} {verb}"
    sets = list(dict.fromkeys(one.works for one in good))
    progressions = [w for works in sets for w in works if w.multiple]
    if not progressions:
        return f"{told}; no other number does" if all(sets) and len(sets) == 1 else told
    if len(sets) > 1:
        return told  # each size has its own
    return f"{told}; so do {_set_words(progressions)}"


def _set_words(works: Sequence[Works]) -> str:
    return " and ".join(_set(one) for one in works)


def _set(one: Works) -> str:
    if one.multiple == 0:
        return f"exactly {one.plus} sts"
    if one.multiple == 1:
        text = "any number"
    else:
        text = f"multiples of {one.multiple}"
        if one.plus:
            text += f" plus {one.plus}"
    if one.least > one.multiple + one.plus or (one.multiple == 1 and one.least > 1):
        text += f" from {one.least}"
    elif one.multiple > 1:
        text += f", from {one.least}"
    if one.most is not None:
        text += f" to {one.most}"
    return text


def works_words(works: Sequence[Works]) -> str:
    """ "works for multiples of 6 plus 3, from 9", "works on exactly 15 sts"."""
    if len(works) == 1 and works[0].multiple == 0:
        return f"works on exactly {works[0].plus} sts"
    return f"works for {_set_words(works)}"


# ------------------------------------------------------------------ the ledger


def ledger_table(proof: Proof, counted: SectionCount, ledger: Ledger) -> Table | None:
    """The rows of a section with their counts."""
    entries = counted.entries
    if not entries:
        return None
    sizes = proof.pattern.sizes
    many = len(sizes) > 1
    rows: list[tuple[str, ...]] = []
    for entry in _folded(entries) if ledger == "short" else _whole(entries):
        if isinstance(entry, str):
            rows.append((entry,))
            continue
        label = entry_label(proof.source, entry)
        if many:
            rows.extend(_by_size(entry, label, len(sizes), ledger))
        else:
            one = entry.sizes[0]
            rows.append(
                (
                    label,
                    entry.side,
                    _n(one.before),
                    _n(one.used),
                    _n(one.made),
                    _n(one.after),
                    _change([(one.before, one.after)]),
                    _repeats(entry),
                )
            )
    if many:
        head = ("row", "side", "", *sizes, "change", "each repeat")
        right = (False, False, False, *(True for _ in sizes), True, False)
    else:
        head = ("row", "side", "before", "used", "made", "after", "change", "each repeat")
        right = (False, False, True, True, True, True, True, False)
    return Table(head, tuple(rows), right)


def _by_size(
    entry: LedgerEntry, label: str, sizes: int, ledger: Ledger
) -> Iterator[tuple[str, ...]]:
    table = {one.size_index: one for one in entry.sizes}

    def cells(key: str) -> list[str]:
        return [
            _n(getattr(table[i], key)) if i in table else "\u2013" for i in range(sizes)
        ]

    change = _change([(one.before, one.after) for one in entry.sizes])
    if ledger == "full":
        yield (label, entry.side, "before", *cells("before"), "", "")
        yield ("", "", "used", *cells("used"), "", "")
        yield ("", "", "made", *cells("made"), "", "")
        yield ("", "", "after", *cells("after"), change, _repeats(entry))
    else:
        yield (label, entry.side, "", *cells("after"), change, _repeats(entry))


def _n(value: int | None) -> str:
    return UNKNOWN if value is None else str(value)


def _change(pairs: Sequence[tuple[int | None, int | None]]) -> str:
    changes = [None if a is None or b is None else b - a for a, b in pairs]
    if all(c == 0 for c in changes):
        return ""
    shown_ = [UNKNOWN if c is None else f"{c:+d}" for c in changes]
    if len(set(shown_)) == 1:
        return shown_[0]
    return f"{shown_[0]} ({', '.join(shown_[1:])})"


def _repeats(entry: LedgerEntry) -> str:
    """What one time through each repeat adds and takes: "+2 -2"."""
    parts = []
    for one in entry.repeats:
        if one.increases or one.decreases:
            parts.append(f"+{one.increases} -{one.decreases}")
    return "; ".join(parts)


def entry_label(source: Source, entry: LedgerEntry) -> str:
    """What a row of the ledger is called: its own number where its label names several."""
    label = entry.label
    row = entry.row
    if row is not None and row.number is not None and _names_several(label):
        word = re.search(r"\b(rnds?|rounds?|rows?)\b", label, re.IGNORECASE)
        name = word[0].rstrip("s") if word is not None else ("Rnd" if row.in_round else "Row")
        label = f"{name.capitalize()} {row.number}"
    elif not label or label == "row":
        label = " ".join(source.at(entry.span).split())
    if len(label) > MOST_LABEL:
        label = label[: MOST_LABEL - 1].rstrip() + "\u2026"
    return label if entry.pass_number < 2 else f"{label}, time {entry.pass_number}"


def _names_several(label: str) -> bool:
    return len(re.findall(r"\d+", label)) > 1 or bool(
        re.search(r"\b(?:all|every|each|alt|even|odd|rem|foll)", label, re.IGNORECASE)
    )


def _whole(entries: Iterable[LedgerEntry]) -> Iterator[LedgerEntry | str]:
    for entry in entries:
        if entry.folded:
            yield f"... {entry.folded} more times through, alike ..."
        yield entry


def _folded(entries: Sequence[LedgerEntry]) -> Iterator[LedgerEntry | str]:
    """The ledger with rows worked again gathered: only the last time through is told, and that
    only where the count has changed by then. A run of plain rows is told by its first and
    last."""
    at = 0
    while at < len(entries):
        end = at
        while end < len(entries) and entries[end].pass_number > 1:
            end += 1
        if end > at:
            run = entries[at:end]
            if all(_unchanged(entry) for entry in run):
                yield f"... {_rows(len(run))} more, alike ..."
            else:
                if len(run) > 1:
                    yield f"... {_rows(len(run) - 1)} more ..."
                yield run[-1]
            at = end
            continue
        while end < len(entries) and entries[end].pass_number < 2 and _plain(entries[end]):
            end += 1
        if end - at > 3:
            yield entries[at]
            yield f"... {_rows(end - at - 2)} alike ..."
            yield entries[end - 1]
            at = end
            continue
        yield from _whole(entries[at : max(end, at + 1)])
        at = max(end, at + 1)


def _rows(n: int) -> str:
    return "1 row" if n == 1 else f"{n} rows"


def _unchanged(entry: LedgerEntry) -> bool:
    return all(one.before == one.after for one in entry.sizes)


def _plain(entry: LedgerEntry) -> bool:
    return _unchanged(entry) and not _repeats(entry)


# ------------------------------------------------------------------ formats


def as_text(one: Told, *, bold: bool = False) -> str:
    """For the terminal. `bold` uses bold and dim letters (for a screen that has them)."""
    out: list[str] = []

    def strong(text: str) -> str:
        return f"\x1b[1m{text}\x1b[0m" if bold else text

    out.append(strong(f"{one.name}: {one.title}" if one.title else one.name))
    for item in one.findings:
        f = item.finding
        out.append("")
        out.append(f"  line {item.line}, column {item.column}: {strong(f.severity.value)} ({f.check})")
        out.append(f"      {item.text}")
        out.append(f"      {' ' * item.start}{'^' * item.width}")
        out.append(f"    {f.message}")
        if f.hint:
            out.append(f"    {f.hint}")
        if item.mends:
            out.append(f"    mend: {'; or '.join(item.mends)}")
    for section in one.sections:
        if not section.statements and section.table is None:
            continue
        out.append("")
        out.append("  " + strong(section.name))
        out.extend(f"    {line}" for line in section.statements)
        if section.table is not None:
            out.extend(f"    {line}" for line in _set_table(section.table))
    out.append("")
    out.append(f"  {one.summary}")
    return "\n".join(line.rstrip() for line in out) + "\n"


def _width(text: str) -> int:
    return sum(_columns(sign) for sign in text)


def _set_table(table: Table) -> Iterator[str]:
    rows = [table.head, *table.rows]
    count = len(table.head)
    keep = [
        any(len(row) == count and row[i] for row in table.rows) for i in range(count)
    ]
    widths = [max((_width(row[i]) for row in rows if len(row) == count), default=0)
              for i in range(count)]  # fmt: skip
    for row in rows:
        if len(row) != count:
            yield row[0]
            continue
        cells = []
        for i, cell in enumerate(row):
            if keep[i]:
                fill = " " * (widths[i] - _width(cell))
                cells.append(fill + cell if table.right[i] else cell + fill)
        yield "  ".join(cells).rstrip()


def as_markdown(one: Told) -> str:
    """As Markdown, with the ledgers as tables."""
    out = [f"# {_md(one.title or one.name)}", "", f"{_md(one.name)}: {one.summary}", ""]
    if one.findings:
        out += ["## Findings", ""]
        for item in one.findings:
            f = item.finding
            out.append(
                f"- line {item.line}, column {item.column}: **{f.severity.value}** ({f.check}): "
                f"{_md(f.message)}"
            )
            if f.hint:
                out.append(f"  {_md(f.hint)}")
            if item.mends:
                out.append(f"  mend: {_md('; or '.join(item.mends))}")
            out += ["", "  ```", f"  {item.text}", f"  {' ' * item.start}{'^' * item.width}", "  ```", ""]
    for section in one.sections:
        out += [f"## {_md(section.name)}", ""]
        out += [f"{_md(line)}  " for line in section.statements]
        if section.table is not None:
            if section.statements:
                out.append("")
            table = section.table
            out.append("| " + " | ".join(_md(cell) for cell in table.head) + " |")
            out.append("|" + "|".join("---:" if r else "---" for r in table.right) + "|")
            for row in table.rows:
                cells = row if len(row) == len(table.head) else (row[0], *[""] * (len(table.head) - 1))
                out.append("| " + " | ".join(_md(cell) for cell in cells) + " |")
        out.append("")
    return "\n".join(out).rstrip("\n") + "\n"


def _md(text: str) -> str:
    for sign in "\\`*_[]<>|#":
        text = text.replace(sign, "\\" + sign)
    return text


STYLE = """
body { font: 16px/1.45 Georgia, serif; color: #1a1a1a; background: #fff; margin: 2rem auto;
 max-width: 60rem; padding: 0 1rem; }
h1 { font-size: 1.6rem; } h2 { font-size: 1.2rem; margin-top: 2rem; }
pre { font: 14px/1.4 ui-monospace, monospace; white-space: pre-wrap; margin: .3rem 0; }
mark { background: none; color: inherit; text-decoration: underline 3px #a8321e; }
.wrong { font-weight: bold; color: #a8321e; } .doubtful { font-weight: bold; }
li { margin: 1rem 0; }
table { border-collapse: collapse; font-size: 14px; }
th, td { padding: .15rem .7rem; border-bottom: 1px solid #ccc; text-align: left; }
.n { text-align: right; font-variant-numeric: tabular-nums; }
.fold td { color: #555; font-style: italic; }
"""


def as_html(many: Sequence[Told]) -> str:
    """One HTML page for one proof or several, complete in itself."""
    title = many[0].title or many[0].name if many else "Proof"
    out = [
        "<!DOCTYPE html>",
        '<html lang="en">',
        '<head><meta charset="utf-8"><meta name="viewport" content="width=device-width">',
        f"<title>{escape(title)}</title>",
        f"<style>{STYLE}</style></head>",
        "<body>",
    ]
    for one in many:
        out.extend(_html(one))
    out.append("</body></html>")
    return "\n".join(out) + "\n"


def _html(one: Told) -> Iterator[str]:
    yield f"<h1>{escape(one.title or one.name)}</h1>"
    yield f"<p>{escape(one.name)}: {escape(one.summary)}</p>"
    if one.findings:
        yield "<ol>"
        for item in one.findings:
            f = item.finding
            yield (
                f'<li><span class="{f.severity.value}">{f.severity.value}</span>, '
                f"line {item.line}, column {item.column} ({escape(f.check)}): {escape(f.message)}"
            )
            a, b = _cut(item)
            yield (
                f"<pre>{escape(item.text[:a])}<mark>{escape(item.text[a:b])}</mark>"
                f"{escape(item.text[b:])}</pre>"
            )
            if f.hint:
                yield f"<p>{escape(f.hint)}</p>"
            if item.mends:
                yield f"<p>mend: {escape('; or '.join(item.mends))}</p>"
            yield "</li>"
        yield "</ol>"
    for section in one.sections:
        yield f"<h2>{escape(section.name)}</h2>"
        for line in section.statements:
            yield f"<p>{escape(line)}</p>"
        if section.table is None:
            continue
        table = section.table
        yield "<table><thead><tr>"
        yield "".join(
            f'<th scope="col"{_right(r)}>{escape(cell)}</th>'
            for cell, r in zip(table.head, table.right, strict=True)
        )
        yield "</tr></thead><tbody>"
        for row in table.rows:
            if len(row) != len(table.head):
                yield f'<tr class="fold"><td colspan="{len(table.head)}">{escape(row[0])}</td></tr>'
                continue
            cells = [
                f"<td{_right(r)}>{escape(cell)}</td>"
                for cell, r in zip(row, table.right, strict=True)
            ]
            yield f"<tr>{''.join(cells)}</tr>"
        yield "</tbody></table>"


def _right(right: bool) -> str:
    return ' class="n"' if right else ""


def _cut(item: Shown) -> tuple[int, int]:
    """The passage of a shown finding in characters of its text."""
    columns = 0
    start = stop = len(item.text)
    for i, sign in enumerate(item.text):
        if columns >= item.start and i < start:
            start = i
        if columns >= item.start + item.width:
            stop = i
            break
        columns += _columns(sign)
    return start, max(start, stop)
