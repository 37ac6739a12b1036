"""A fitting as it is printed: for the terminal, as Markdown, as HTML, as plain data."""

from __future__ import annotations

from fractions import Fraction
from html import escape
from math import ceil

from chartc.fitting.fit import FitReport, Neighbour, SizeFit, show_ease
from chartc.fitting.gauge import RowsFor
from chartc.fitting.needles import show_circular, show_needle
from chartc.fitting.yarn import TailEstimate
from chartc.handbook import Origin
from chartc.measures import LengthUnit, from_mm, show_cm, show_decimal, show_in


def _rows(report: FitReport) -> list[tuple[str, list[str]]]:
    """The table: what, and its text for each size. One measure to a line, as patterns print
    their tables, so that many sizes stand side by side."""
    request = report.request
    sizes = report.sizes
    table: list[tuple[str, list[str]]] = []

    def both(name: str, lengths: list[Fraction]) -> None:
        table.append((f"{name}, cm", [_cm(mm) for mm in lengths]))
        table.append((f"{name}, in", [_in(mm) for mm in lengths]))

    plain = request.measure.removeprefix("finished ")
    asked = "To fit" if plain == request.measure else "Wanted:"
    both(f"{asked} {request.measure}", [size.wish.body_mm for size in sizes])
    eases = [size.wish.ease for size in sizes]
    # the word is never printed without its number: the editions differ
    table.append(("Ease wanted, cm", [_ease(_cm(one.mm), one.word) for one in eases]))
    table.append(("Ease wanted, in", [_ease(_in(one.mm), one.word) for one in eases]))
    table.append(("Cast on, sts", [str(size.stitches) for size in sizes]))
    both(f"Finished {plain}", [size.finished_mm for size in sizes])
    table.append(("Ease got, cm", [_ease(_cm(size.ease_mm)) for size in sizes]))
    table.append(("Ease got, in", [_ease(_in(size.ease_mm)) for size in sizes]))
    table.append(("Next fewer, sts", [_neighbour(size.fewer) for size in sizes]))
    table.append(("Next more, sts", [_neighbour(size.more) for size in sizes]))
    for at, section in enumerate(sizes[0].sections):
        fitted = [size.sections[at] for size in sizes]
        table.append((f"{section.name}, sts", [str(one.stitches) for one in fitted]))
        both(section.name, [one.width_mm for one in fitted])
    for at, (name, _) in enumerate(sizes[0].lengths):
        worked = [size.lengths[at][1] for size in sizes]
        table.append((f"{name}, rows", [_rows_told(one) for one in worked]))
        both(name, [one.length_mm for one in worked])
    for at, rib in enumerate(sizes[0].ribs):
        verb = "closes" if request.in_round else "ends as it begins"
        texts = ["yes" if size.ribs[at].fits else _rib_near(size, at) for size in sizes]
        table.append((f"{rib.label} {verb}", texts))
    if request.in_round:
        table.append(("Circular needle", [_needle(size) for size in sizes]))
    needs = [size.yarn for size in sizes]
    if any(need is not None for need in needs):
        table.append(("Yarn, g", [str(ceil(need.grams)) if need else "" for need in needs]))
        if request.ball is not None:
            if request.ball.metres is not None:
                lengths = [need.metres or Fraction(0) if need else None for need in needs]
                metres = ["" if one is None else str(ceil(one)) for one in lengths]
                yards = [
                    "" if one is None else str(ceil(from_mm(one * 1000, "yd"))) for one in lengths
                ]
                table += [("Yarn, m", metres), ("Yarn, yd", yards)]
            table.append(("Yarn, balls", [str(need.balls) if need else "" for need in needs]))
    tails = [size.tail for size in sizes if size.tail is not None]
    if tails:
        table.append(("Cast-on tail, m (estimate)", [_tail(one, "m") for one in tails]))
        table.append(("Cast-on tail, yd (estimate)", [_tail(one, "yd") for one in tails]))
    return table


def _cm(mm: Fraction) -> str:
    return show_cm(mm).removesuffix(" cm")


def _in(mm: Fraction) -> str:
    return show_in(mm).removesuffix(" in")


def _ease(shown: str, word: str = "") -> str:
    signed = shown if shown.startswith("-") or shown == "0" else f"+{shown}"
    return f"{signed} {word}" if word else signed


def _neighbour(found: Neighbour | None) -> str:
    return "none" if found is None else f"{found.stitches} ({show_cm(found.finished_mm)})"


def _rows_told(found: RowsFor) -> str:
    step = found.rows - found.extra
    if step == found.repeats:
        return str(found.rows)
    extra = f" + {found.extra}" if found.extra else ""
    return f"{found.rows} ({found.repeats} x {step // found.repeats}{extra})"


def _rib_near(size: SizeFit, at: int) -> str:
    found = size.ribs[at]
    return f"no: {found.fewer}, {found.more}" if found.fewer else f"no: {found.more}"


def _needle(size: SizeFit) -> str:
    if size.needle is None or size.needle.double_pointed:
        return "double-pointed"
    best = size.needle.best_mm
    return "two circular" if best is None else show_circular(best)


def _tail(found: TailEstimate, unit: LengthUnit) -> str:
    if found.sample_mm is not None:
        return f"{show_decimal(from_mm(found.sample_mm, unit), 1)} (sample)"
    low, high = (from_mm(mm, unit) for mm in (found.low_mm, found.high_mm))
    return f"{show_decimal(low, 1)} to {show_decimal(high, 1)}"


def _head(report: FitReport) -> list[str]:
    request = report.request
    lines = [f"Gauge: {request.gauge}"]
    sets = dict.fromkeys(str(one) for one in request.working)
    lines += [f"Counts that work: {one}" for one in sets]
    if request.needle_mm is not None:
        lines.append(f"Needle: {show_needle(request.needle_mm)}")
    return lines


def as_text(report: FitReport, width: int) -> str:
    """Sizes across, as a pattern prints them; as many to a table as `width` holds."""
    rows = _rows(report)
    first = max(len(name) for name, _ in rows)
    columns = [
        max(len(size.wish.name), *(len(texts[at]) for _, texts in rows))
        for at, size in enumerate(report.sizes)
    ]
    lines = [report.request.title, ""] if report.request.title else []
    lines += _head(report)
    at = 0
    while at < len(columns):
        stop, used = at + 1, first + 2 + columns[at]
        while stop < len(columns) and used + 2 + columns[stop] <= width:
            used += 2 + columns[stop]
            stop += 1
        lines.append("")
        names = [report.sizes[i].wish.name.ljust(columns[i]) for i in range(at, stop)]
        lines.append("  ".join(["Size".ljust(first), *names]).rstrip())
        for name, texts in rows:
            cells = [texts[i].ljust(columns[i]) for i in range(at, stop)]
            lines.append("  ".join([name.ljust(first), *cells]).rstrip())
        at = stop
    lines.append("")
    lines += _wrapped(report.notes, width)
    lines += _wrapped(tuple(f"Source: {origin}" for origin in report.sources), width)
    return "\n".join(lines) + "\n"


def _wrapped(notes: tuple[str, ...], width: int) -> list[str]:
    from textwrap import wrap

    lines: list[str] = []
    for note in notes:
        lines += wrap(note, max(40, width), initial_indent="- ", subsequent_indent="  ")
    return lines


def as_markdown(report: FitReport) -> str:
    """A table in GitHub's manner, the notes as a list."""

    def cell(text: str) -> str:
        for mark in "\\`*_[]<>|":
            text = text.replace(mark, "\\" + mark)
        return " ".join(text.split())

    names = [cell(size.wish.name) for size in report.sizes]
    lines = [f"## {cell(report.request.title)}", ""] if report.request.title else []
    lines += [f"{cell(line)}  " for line in _head(report)]
    lines += ["", "| " + " | ".join(["Size", *names]) + " |"]
    lines.append("|" + " --- |" * (len(names) + 1))
    for name, texts in _rows(report):
        lines.append("| " + " | ".join([cell(name), *(cell(text) for text in texts)]) + " |")
    lines.append("")
    lines += [f"- {cell(note)}" for note in report.notes]
    lines += [f"- Source: {cell(str(origin))}" for origin in report.sources]
    return "\n".join(lines) + "\n"


def as_html(report: FitReport) -> str:
    """A section with one table: row and column heads marked as such for screen readers."""
    title = report.request.title or "Fitting"
    lines = ['<section class="fit">', f"<h2>{escape(title)}</h2>"]
    lines += [f"<p>{escape(line)}</p>" for line in _head(report)]
    lines.append("<table>")
    lines.append("<caption>Numbers for each size</caption>")
    names = "".join(f'<th scope="col">{escape(size.wish.name)}</th>' for size in report.sizes)
    lines.append(f'<thead><tr><th scope="col">Size</th>{names}</tr></thead>')
    lines.append("<tbody>")
    for name, texts in _rows(report):
        cells = "".join(f"<td>{escape(text)}</td>" for text in texts)
        lines.append(f'<tr><th scope="row">{escape(name)}</th>{cells}</tr>')
    lines += ["</tbody>", "</table>", "<ul>"]
    lines += [f"<li>{escape(note)}</li>" for note in report.notes]
    lines += [f"<li>Source: {escape(str(origin))}</li>" for origin in report.sources]
    lines += ["</ul>", "</section>"]
    return "\n".join(lines) + "\n"


def _measure(mm: Fraction) -> dict[str, object]:
    return {
        "cm": round(float(from_mm(mm, "cm")), 2),
        "in": round(float(from_mm(mm, "in")), 2),
        "shown": f"{show_cm(mm)} ({show_in(mm)})",
    }


def _origin(origin: Origin) -> dict[str, object]:
    return {"source": origin.source, "trust": origin.trust, "note": origin.note}


def as_dict(report: FitReport) -> dict[str, object]:
    """Plain data, ready for JSON."""
    request = report.request
    gauge = request.gauge
    return {
        "title": request.title,
        "measure": request.measure,
        "gauge": {
            "stitches": float(gauge.stitches),
            "rows": None if gauge.rows is None else float(gauge.rows),
            "over_mm": float(gauge.over_mm),
            "shown": str(gauge),
        },
        "working": [str(one) for one in request.working],
        "sizes": [_size(size) for size in report.sizes],
        "notes": list(report.notes),
        "sources": [_origin(origin) for origin in report.sources],
    }


def _size(size: SizeFit) -> dict[str, object]:
    found: dict[str, object] = {
        "name": size.wish.name,
        "body": _measure(size.wish.body_mm),
        "ease_wanted": {**_measure(size.wish.ease.mm), "shown": str(size.wish.ease)},
        "cast_on": size.stitches,
        "finished": _measure(size.finished_mm),
        "ease": {**_measure(size.ease_mm), "shown": show_ease(size.ease_mm)},
        "fewer": _beside(size.fewer),
        "more": _beside(size.more),
        "sections": [
            {"name": one.name, "stitches": one.stitches, "width": _measure(one.width_mm)}
            for one in size.sections
        ],
        "lengths": [
            {
                "name": name,
                "rows": one.rows,
                "repeats": one.repeats,
                "extra_rows": one.extra,
                "length": _measure(one.length_mm),
                "wanted": _measure(one.wish_mm),
            }
            for name, one in size.lengths
        ],
        "ribs": [
            {"knit": one.knit, "purl": one.purl, "fits": one.fits, "shown": str(one)}
            for one in size.ribs
        ],
    }
    if size.needle is not None:
        best = size.needle.best_mm
        found["needle"] = {
            "shown": str(size.needle),
            "circular": None if best is None else show_circular(best),
            "double_pointed": size.needle.double_pointed,
        }
    if size.yarn is not None:
        need = size.yarn
        found["yarn"] = {
            "grams": round(float(need.grams), 1),
            "metres": None if need.metres is None else round(float(need.metres), 1),
            "balls": need.balls,
            "margin_percent": float(need.margin * 100),
            "shown": str(need),
        }
    if size.tail is not None:
        found["tail"] = {
            "estimate": True,
            "least": _measure(size.tail.low_mm),
            "most": _measure(size.tail.high_mm),
            "shown": str(size.tail),
            "rules": [
                {
                    "rule": guess.rule.text,
                    "least": _measure(guess.low_mm),
                    "most": _measure(guess.high_mm),
                    **_origin(guess.rule.origin),
                }
                for guess in size.tail.guesses
            ],
        }
    return found


def _beside(found: Neighbour | None) -> dict[str, object] | None:
    if found is None:
        return None
    return {"stitches": found.stitches, "finished": _measure(found.finished_mm)}
