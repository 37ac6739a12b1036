"""The first pages of a class sheet: what is made, what with, the gauge, how to read the chart, the
words used and how each stitch is worked."""

from __future__ import annotations

import re

from chartc.charting import make_legend
from chartc.charting.rowwords import reading_line
from chartc.proof import Proof
from chartc.sheets import pictures
from chartc.sheets.document import (
    Bit,
    Blank,
    Block,
    Cell,
    Group,
    Heading,
    Items,
    Line,
    Pairs,
    Para,
    Picture,
    Table,
    cell,
    line,
    strong,
)
from chartc.sheets.gather import RunOfRows, is_front, squeezed
from chartc.sheets.matter import SheetMatter
from chartc.sheets.wordbook import sts
from chartc.source import Span
from chartc.stitch import Stitch
from chartc.vocabulary import load_vocabulary

_SHOWN_FACTS = {
    "sizes": "Sizes",
    "to fit": "To fit",
    "finished": "Finished size",
    "materials": "Materials",
    "yarn": "Yarn",
    "needles": "Needles",
    "notions": "Also needed",
    "worked": "Worked",
    "multiple": "Multiple",
}
_OWN_LABELS = {"sizes", "to fit", "finished"}  # what the text itself calls the measure


def _intro(proof: Proof) -> list[str]:
    """The paragraphs in front that are neither title nor facts."""
    pattern, text = proof.pattern, proof.source.text
    worked = [section for section in pattern.sections if not is_front(section)]
    end = worked[0].span.start if worked else len(text)
    first = text.find("\n", len(text) - len(text.lstrip()))
    start = 0 if first < 0 or not pattern.title else first
    facts = [fact.span for fact in pattern.facts]
    told = []
    for piece in re.finditer(r"(?:[^\n]*\S[^\n]*\n?)+", text[start:end]):
        span = Span(start + piece.start(), start + piece.end())
        if any(span.start < f.end and f.start < span.end for f in facts):
            continue
        words = squeezed(piece[0])
        if any(span.start <= note.start < span.end for note in pattern.notes):
            told.append(words)
    return told


def fact_lines(proof: Proof) -> list[tuple[str, str]]:
    """The facts in front of the pattern as name and value, in a fixed order."""
    found: list[tuple[str, str]] = []
    for key, name in _SHOWN_FACTS.items():
        for fact in proof.pattern.facts:
            value = squeezed(fact.value)
            if fact.key != key or not value:
                continue
            label = name
            if key in _OWN_LABELS:
                nested = re.match(r"([^\d:]{2,40}):\s*(.+)", value)
                head = re.match(r"([A-Za-z][^\d:]{2,39}):", squeezed(proof.source.at(fact.span)))
                if nested:
                    label, value = nested[1].strip(), nested[2]
                elif head:
                    label = head[1].strip()
                    label = label.capitalize() if label.isupper() else label
            if (label, value) not in found:
                found.append((label, value))
    if (
        not any(fact.key == "sizes" for fact in proof.pattern.facts)
        and len(proof.pattern.sizes) > 1
    ):
        names = proof.pattern.sizes
        found.insert(0, ("Sizes", f"{names[0]} ({', '.join(names[1:])})"))
    return found


def opening(held: SheetMatter) -> list[Block]:
    blocks: list[Block] = []
    intro = _intro(held.proof)
    for i, text in enumerate(intro):
        blocks.append(Para(held.told(text), "lead" if i == 0 else ""))
    facts = fact_lines(held.proof)
    if facts:
        pairs = Pairs(tuple((name, held.told(value)) for name, value in facts))
        blocks.append(Group((Heading(2, "What you need"), pairs)))
    return blocks


def gauge_part(held: SheetMatter) -> list[Block]:
    word = "Tension" if held.usage == "uk" else "Gauge"
    facts = [f for f in held.proof.pattern.facts if f.key == "gauge" and f.value.strip()]
    if not facts:
        return [
            Heading(2, word),
            Para(line(
                f"The pattern gives no {word.lower()}. Choose needles with which you like the "
                "feel of the fabric, and note here what you measure."
            )),
            Blank(("Stitches and rows over 10 cm (4 in):",)),
        ]  # fmt: skip
    from chartc.facts import parse_gauge

    found = parse_gauge(facts[0].value)
    rows_word = "rounds" if found is not None and found.in_round else "rows"
    over = str(found.over) if found is not None and found.over is not None else "10 cm"
    steps = [
        f"Knit a swatch half as wide again as {over} and as long, with the needle and the "
        f"stitch pattern of the piece{', in the round' if rows_word == 'rounds' else ''}.",
        "Wash and dry it as the piece will be washed and dried, and let it lie for some hours.",
        f"Lay a ruler across the middle, away from the edges, and mark {over} with pins. Count "
        "the stitches between the pins, half stitches too.",
        f"Do the same upwards and count the {rows_word}.",
        "More stitches than given: try a thicker needle. Fewer: try a thinner one. The number on "
        "the needle does not matter, the count does.",
    ]
    blocks: list[Block] = [
        Heading(2, word),
        *(Para((strong(squeezed(fact.value)),), "lines") for fact in facts),
        Items(tuple((line(step),) for step in steps), ordered=True),
    ]
    return blocks


# ------------------------------------------------------------------ reading the chart


def how_to_read(held: SheetMatter) -> list[Block]:
    grids = list(held.grids.values())
    said = ["Every square is a stitch; every line of squares is a row or round.", *(
        dict.fromkeys(reading_line(grid) for grid in grids)
    )]  # fmt: skip
    said.append("The number of a row stands at the side from which it is read.")
    if any(grid.frames for grid in grids):
        said.append(
            "Work the squares outside the heavy frame once, and those inside it again and again."
        )
    if any(c.kind == "none" for grid in grids for row in grid.rows for c in row.cells):
        said.append(
            "A hatched square is no stitch: it keeps the squares above and below in line. "
            "Pass over it."
        )
    if any(grid.left_out for grid in grids):
        said.append("Rows not drawn are told below the chart.")
    if held.options.left_handed:
        said.append(
            "The words stay as they are. Knitting from left to right, everything comes out as "
            "the mirror image: what leans to the right for others leans to the left for you."
        )
    return [
        Group((Heading(2, "How to read the chart"), Items(tuple((line(one),) for one in said))))
    ]


# ------------------------------------------------------------------ words used


def used_stitches(held: SheetMatter) -> list[Stitch]:
    """The stitches of the pattern, each once, in the order met."""
    vocabulary = load_vocabulary()
    own = {o.name.lower(): o.stitch for o in held.proof.pattern.own if o.stitch is not None}
    own.update({o.stitch.key: o.stitch for o in held.proof.pattern.own if o.stitch is not None})
    found: dict[str, Stitch] = {}
    for key in held.proof.pattern.used_terms:
        stitch = own.get(key) or vocabulary.find(key)
        if stitch is not None:
            found.setdefault(stitch.key, stitch)
    return list(found.values())


def name_of(stitch: Stitch, usage: str) -> str:
    return (stitch.uk if usage == "uk" else stitch.us) or stitch.us or stitch.key


def words_printed(held: SheetMatter) -> str:
    """The author's words as the sheet prints them."""
    told: list[str] = []
    for part in held.parts:
        for piece in part.pieces:
            if isinstance(piece, RunOfRows):
                told.extend(f"{one.name} {one.words}" for one in piece.lines)
            else:
                told.append(piece.text)
    told.extend(value for _, value in fact_lines(held.proof))
    return "\n".join(told)


def abbreviations_used(text: str) -> list[tuple[str, str]]:
    """The trade's abbreviations that stand in a text, with their meaning."""
    found: list[tuple[str, str]] = []
    units = {"cm", "mm", "g", "in", "no", "m"}
    for term in load_vocabulary().glossary():
        if term.abbreviation in units or not term.abbreviation[:1].isalnum():
            continue
        names = (term.abbreviation, *term.also)
        for name in names:
            pattern = rf"(?<![\w-]){re.escape(name)}s?(?![\w-])"
            seen = re.search(pattern, text, re.IGNORECASE)
            if seen:
                shown = term.abbreviation
                if shown.lower() in ("rs", "ws", "lh", "rh", "mc", "cc"):
                    shown = shown.upper()
                meaning = term.meaning[:1].upper() + term.meaning[1:]
                found.append((shown, meaning + "."))
                break
    return found


def abbreviations(held: SheetMatter) -> list[Block]:
    pairs: list[tuple[str, Line]] = []
    words = words_printed(held)
    for stitch in used_stitches(held):
        name = name_of(stitch, held.usage)
        title = stitch.title or name
        if name.lower() != title.lower() and _stands(name, words):
            pairs.append((name, line(title[:1].upper() + title[1:] + ".")))
    pairs += [(name, line(meaning)) for name, meaning in abbreviations_used(words)]
    if not pairs:
        return []
    pairs.sort(key=lambda pair: pair[0].lower())
    columns = 1 if held.options.words_only or held.options.large else 2
    return _kept(
        [Heading(2, "Abbreviations"), Pairs(tuple(pairs), columns)],
        len(pairs) <= (10 if held.options.large else 24),
    )


def _kept(blocks: list[Block], short: bool) -> list[Block]:
    """Blocks kept on one page when they are short."""
    return [Group(tuple(blocks))] if short else blocks


def _stands(name: str, text: str) -> bool:
    """Whether the text abbreviates the stitch rather than spells it out."""
    bare = re.sub(r"\W|\d", "", name.lower())
    return (
        any(
            re.sub(r"\W|\d", "", word.lower()) == bare
            for word in re.findall(r"[\w/]+(?:\s?tbl)?", text)
        )
        or re.search(rf"(?<!\w){re.escape(name)}(?!\w)", text, re.IGNORECASE) is not None
    )


def _signs(
    held: SheetMatter,
) -> tuple[dict[str, list[tuple[str, Picture]]], Picture | None]:
    """The symbols of each stitch in the charts, with the side on which it looks so where the
    other side differs; and the sign for no stitch when a chart has it."""
    signs: dict[str, list[tuple[str, Picture]]] = {}
    seen: set[tuple[str, str, bool]] = set()
    none: Picture | None = None
    if held.options.words_only:
        return {}, None
    cell_mm = 7.0 if held.options.large else 5.0
    for index, grid in held.grids.items():
        hatched = any(row.in_round for row in grid.rows)
        legend = make_legend(grid, "uk" if held.usage == "uk" else "us", hatched=hatched)
        for place, entry in enumerate(legend.entries):
            for meaning in entry.meanings:
                key = (meaning.name, entry.stitch.key, entry.behind)
                if key in seen:
                    continue
                seen.add(key)
                options = held.chart_options(f"key{index}-{place}-{len(seen)}", cell_mm)
                drawn = pictures.sign(entry.stitch, entry.behind, grid, options, meaning.name)
                told = signs.setdefault(meaning.name, [])
                told.append((meaning.side, pictures.scaled(drawn, 26, 12)))
        if legend.no_stitch and none is None:
            none = pictures.no_stitch(held.chart_options(f"none{index}", cell_mm))
    for name, found in signs.items():
        if len(found) == 1:
            signs[name] = [("WS" if found[0][0] == "WS" else "", found[0][1])]
    return signs, none


def says_no_more(how: str, title: str) -> bool:
    """Whether "Knit the stitch." stands beside "knit"."""
    return len(how.split()) <= 3 and how.lower().startswith(title.lower())


def stitch_table(held: SheetMatter) -> list[Block]:
    """How each stitch is worked, with its symbol where charts are drawn."""
    signs, none = _signs(held)
    rows: list[tuple[Cell, ...]] = []
    for stitch in used_stitches(held):
        name = name_of(stitch, held.usage)
        title = stitch.title or name
        how = stitch.how or "As the pattern says."
        change = f"{stitch.uses} to {stitch.makes}"
        cells = [
            cell(strong(name), head=True),
            cell(
                line(
                    *(
                        []
                        if says_no_more(how, title)
                        else [strong(title[:1].upper() + title[1:] + ". ")]
                    ),
                    how,
                )
            ),
            cell(change, right=True),
        ]
        if signs:
            parts: list[Line | Picture] = []
            for side, sign in signs.get(name, ()):
                if side:
                    parts.append(line(Bit(side, "soft")))
                parts.append(sign)
            cells.insert(0, cell(*parts, across=True) if parts else cell(""))
        rows.append(tuple(cells))
    if none is not None and signs:
        rows.append((cell(none), cell("", head=True), cell(line(strong("No stitch. "),
                     "There is no stitch here: pass over this square.")), cell("")))  # fmt: skip
    if not rows:
        return []
    if held.options.words_only:
        items = tuple(
            (line(strong(f"{name_of(s, held.usage)}, {s.title or s.key}. "),
                  f"{s.how or 'As the pattern says.'} It takes {sts(s.uses)} and leaves "
                  f"{sts(s.makes)}."),)
            for s in used_stitches(held)
        )  # fmt: skip
        return [Heading(2, "How each stitch is worked"), Items(items)]
    letter = held.options.letters_pt / 10.5
    widest = max(
        (sum(p.width_mm + (8.5 * letter if side else 0) for side, p in found)
         for found in signs.values()), default=0.0,
    )  # fmt: skip
    sign_w = max(17.0 * letter, widest + 3)
    rest = held.options.text_mm[0] - sign_w - 36 * letter
    widths = (sign_w, 20.0 * letter, rest, 16.0 * letter) if signs else (22.0, 110.0, 16.0)
    head = ("symbol", "stitch", "how it is worked", "takes and leaves")
    return _kept([
        Heading(2, "How each stitch is worked"),
        Table(head if signs else head[1:], tuple(rows), widths,
              label="How each stitch is worked", rights=(3 if signs else 2,)),
    ], len(rows) <= 9)  # fmt: skip
