"""The class sheet: what a teacher hands out."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from chartc.charting import ChartOptions, Grid, lay_out, make_legend
from chartc.charting.rowwords import reading_line
from chartc.fabric import Plan
from chartc.pattern import Fill, Mark, Repeat, Step, Work, walk
from chartc.proof import Proof
from chartc.sheets import pictures
from chartc.sheets.document import (
    Bit,
    Blank,
    Block,
    Box,
    Cell,
    Document,
    Figure,
    Group,
    Heading,
    Items,
    Line,
    Pairs,
    Para,
    Picture,
    Table,
    Tally,
    Ticks,
    cell,
    line,
    strong,
)
from chartc.sheets.gather import (
    Number,
    RowLine,
    RunOfRows,
    SectionPart,
    Telling,
    Window,
    longest_run,
    parts_of,
    planned_rows,
    size_indices,
    squeezed,
    window,
    worth_a_chart,
)
from chartc.sheets.options import SheetOptions, SheetProblem
from chartc.sheets.rowtrack import Verbatim, checkpoint, markers
from chartc.sheets.slips import Slip, slips_of
from chartc.sheets.wordbook import (
    cautions,
    foot,
    in_terms,
    in_usage,
    listed,
    marked,
    slip_words,
    sts,
    usage_of,
    with_a,
)
from chartc.source import Span
from chartc.stitch import Stitch
from chartc.vocabulary import load_vocabulary
from chartc.wording.style import HouseStyle

MOST_BOXES = 8  # boxes to tick beside a row; more go into a tally below
MOST_TALLY = 100
LEAST_BETWEEN = 5  # stitches between markers that are worth placing
OPEN_BOXES = 6  # beside a row worked "to the length you like"


@dataclass(frozen=True)
class SheetMatter:
    """A proved pattern and the choices for a sheet, with what several parts of it need.

    shown   the sizes shown (0-based); own the class's own, None when there is none
    drawn   the size charts and slips are worked for
    """

    proof: Proof
    options: SheetOptions
    usage: str
    parts: tuple[SectionPart, ...]
    shown: tuple[int, ...]
    own: int | None
    drawn: int

    @cached_property
    def windows(self) -> dict[int, Window]:
        """For each section whose rows make a chart, the window it is drawn on."""
        found = {}
        for part in self.parts:
            one = window(self.proof.pattern, part, self.drawn)
            if one is not None and worth_a_chart(one):
                found[part.index] = one
        return found

    @cached_property
    def grids(self) -> dict[int, Grid]:
        return {
            index: lay_out(one.fabric, options=ChartOptions(left_handed=self.options.left_handed))
            for index, one in self.windows.items()
        }

    @cached_property
    def plans(self) -> dict[int, dict[tuple[Span, int | None], Plan]]:
        """For each section the stitches of its rows as really worked in the size drawn."""
        return {
            part.index: planned_rows(self.proof, part.index, self.drawn) for part in self.parts
        }

    @property
    def style(self) -> HouseStyle:
        return HouseStyle(usage="uk" if self.usage == "uk" else "us", capital=False)

    @property
    def text(self) -> Verbatim:
        return Verbatim(self.proof.source.text)

    def plan(self, part: SectionPart, one: RowLine) -> Plan | None:
        return self.plans[part.index].get((one.row.body, one.number))

    def told(self, text: str) -> Line:
        """The author's words, in the usage asked for, the own size set off."""
        words = in_usage(text, self.options.usage)
        return marked(words, len(self.proof.pattern.sizes), self.own)

    def chart_options(self, prefix: str, cell_mm: float) -> ChartOptions:
        return pictures.chart_options(
            prefix=prefix, cell=cell_mm, contrast=self.options.contrast,
            left_handed=self.options.left_handed, usage=self.usage, large=self.options.large,
        )  # fmt: skip


def matter(proof: Proof, options: SheetOptions) -> SheetMatter:
    """The proof made ready for a sheet. Raises SheetProblem for a size that is not there or a
    pattern without rows."""
    proof = in_terms(proof, options)
    sizes = proof.pattern.sizes
    if not any(section.flow for section in proof.pattern.sections):
        raise SheetProblem(f"{proof.source.name}: there are no rows here to make a sheet of")
    try:
        shown = size_indices(proof.pattern, options.sizes)
        own = size_indices(proof.pattern, (options.own,))[0] if options.own else None
    except KeyError as error:
        known = ", ".join(name for name in sizes if name) or "there is one size only"
        raise SheetProblem(f"there is no size {error.args[0]}; the sizes: {known}") from None
    if own is not None and own not in shown:
        shown = tuple(sorted({*shown, own}))
    return SheetMatter(
        proof, options, usage_of(proof, options), parts_of(proof), shown, own,
        own if own is not None else shown[0],
    )  # fmt: skip


def class_sheet(proof: Proof, options: SheetOptions | None = None) -> Document:
    """The class sheet of a proved pattern."""
    held = matter(proof, options or SheetOptions())
    proof, options = held.proof, held.options
    blocks: list[Block] = []
    if not proof.sound:
        blocks.append(_not_sound(proof))
    blocks += _opening(held)
    blocks += _gauge(held)
    blocks += caution_box(proof, "class", held.usage)
    if held.windows and not options.words_only:
        blocks += _how_to_read(held)
    blocks += _abbreviations(held)
    blocks += _stitches(held)
    off: list[Block] = []
    for part in held.parts:
        blocks += _section(held, part)
        off += _count_off(held, part)
    if off:
        blocks += [Heading(2, "When the count is off"), *_count_off_words(held), *off]
        blocks += _mending(held)
    blocks += _swatches(held)
    blocks.append(owner_box(options))
    return Document(
        proof.pattern.title or "Pattern", "Class sheet", _subtitle(held),
        foot(proof, options), tuple(blocks), options,
    )  # fmt: skip


def _subtitle(held: SheetMatter) -> str:
    names = held.proof.pattern.sizes
    parts = []
    if len(names) > 1:
        shown = [names[i] for i in held.shown]
        parts.append(f"{'Size' if len(shown) == 1 else 'Sizes'} {listed(shown)}")
        if held.own is not None and len(shown) > 1:
            parts.append(f"this class knits size {names[held.own]}")
    parts += version_words(held.options)
    text = "; ".join(parts)
    return text[:1].upper() + text[1:]


def version_words(options: SheetOptions) -> list[str]:
    """What version of the sheet this is, for the line under the title."""
    said = (
        (options.large, "large print"),
        (options.contrast, "high contrast"),
        (options.left_handed, "for left-handed knitters"),
        (options.words_only, "words only"),
        (options.symbols_only, "symbols only"),
        (options.usage == "uk", "UK terms"),
        (options.usage == "us", "US terms"),
    )
    return [words for on, words in said if on]


def _not_sound(proof: Proof) -> Box:
    count = len(proof.wrong)
    things = "1 thing is" if count == 1 else f"{count} things are"
    return Box(
        "Not ready to hand out",
        (Para(line(f"The proof says that {things} wrong with this pattern. Counts shown as “?” "
                   "are not known. Mend the pattern first: chartc proof tells where.")),),
        "caution",
    )  # fmt: skip


def owner_box(options: SheetOptions) -> Box:
    """Whose pattern it is."""
    blocks: list[Block] = [
        Para(line(
            "A published pattern belongs to whoever made it. Hand out copies only with the "
            "owner's leave."
        ))
    ]  # fmt: skip
    blanks = []
    for label, value in (("Owner", options.owner), ("Licence", options.licence)):
        if value:
            blocks.append(Para(line(strong(f"{label}: "), value)))
        else:
            blanks.append(f"{label}:")
    if blanks:
        blocks.append(Blank(tuple(blanks)))
    return Box("Whose pattern this is", tuple(blocks), "form")


def caution_box(proof: Proof, kind: str, usage: str) -> list[Block]:
    """The cautions that belong on a sheet of this kind, in one frame."""
    found = cautions(proof, kind, usage)
    if not found:
        return []
    told = tuple(Para(line(strong(f"{one.title}. "), one.text)) for one in found)
    return [Box("Take care", told, "caution")]


# ------------------------------------------------------------------ opening


_SHOWN_FACTS = (
    ("sizes", "Sizes"), ("to fit", "To fit"), ("finished", "Finished size"), ("yarn", "Yarn"),
    ("needles", "Needles"), ("notions", "Also needed"), ("worked", "Worked"),
    ("multiple", "Multiple"),
)  # fmt: skip


def _intro(proof: Proof) -> list[str]:
    """The paragraphs in front that are neither title nor facts."""
    pattern, text = proof.pattern, proof.source.text
    end = pattern.sections[0].span.start if pattern.sections else len(text)
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


def fact_lines(proof: Proof, told: bool = True) -> list[tuple[str, str]]:
    """The facts in front of the pattern as name and value, in a fixed order."""
    found: list[tuple[str, str]] = []
    for key, name in _SHOWN_FACTS:
        for fact in proof.pattern.facts:
            if fact.key != key:
                continue
            value = squeezed(fact.value)
            label = name
            if key == "finished":
                whole = squeezed(proof.source.at(fact.span))
                head = whole.split(":")[0].strip()
                if re.match(r"[^\d:]{2,40}:", value):
                    label, _, value = (piece.strip() for piece in value.partition(":"))
                elif head and len(head) < 40 and head[0].isupper() and ":" in whole:
                    label = head
            if value and value not in (other for _, other in found):
                found.append((label, value))
    if not any(name == "Sizes" for name, _ in found) and len(proof.pattern.sizes) > 1:
        names = proof.pattern.sizes
        found.insert(0, ("Sizes", f"{names[0]} ({', '.join(names[1:])})"))
    return found


def _opening(held: SheetMatter) -> list[Block]:
    blocks: list[Block] = []
    intro = _intro(held.proof)
    for i, text in enumerate(intro):
        blocks.append(Para(held.told(text), "lead" if i == 0 else ""))
    facts = fact_lines(held.proof)
    if facts:
        pairs = Pairs(tuple((name, held.told(value)) for name, value in facts))
        blocks.append(Group((Heading(2, "What you need"), pairs)))
    return blocks


def _gauge(held: SheetMatter) -> list[Block]:
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


def _how_to_read(held: SheetMatter) -> list[Block]:
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


def _used_stitches(held: SheetMatter) -> list[Stitch]:
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


def _name(stitch: Stitch, usage: str) -> str:
    return (stitch.uk if usage == "uk" else stitch.us) or stitch.us or stitch.key


def _printed(held: SheetMatter) -> str:
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


def _abbreviations(held: SheetMatter) -> list[Block]:
    pairs: list[tuple[str, Line]] = []
    printed = _printed(held)
    for stitch in _used_stitches(held):
        name = _name(stitch, held.usage)
        title = stitch.title or name
        if name.lower() != title.lower() and _stands(name, printed):
            pairs.append((name, line(title[:1].upper() + title[1:] + ".")))
    pairs += [(name, line(meaning)) for name, meaning in abbreviations_used(printed)]
    if not pairs:
        return []
    pairs.sort(key=lambda pair: pair[0].lower())
    columns = 1 if held.options.words_only or held.options.large else 2
    return _kept([Heading(2, "Abbreviations"), Pairs(tuple(pairs), columns)], len(pairs) <= (10 if held.options.large else 24))


def _kept(blocks: list[Block], short: bool) -> list[Block]:
    """Blocks kept on one page when they are short."""
    return [Group(tuple(blocks))] if short else blocks


def _stands(name: str, text: str) -> bool:
    """Whether the text abbreviates the stitch rather than spells it out."""
    bare = re.sub(r"\W|\d", "", name.lower())
    return any(
        re.sub(r"\W|\d", "", word.lower()) == bare
        for word in re.findall(r"[\w/]+(?:\s?tbl)?", text)
    ) or re.search(rf"(?<!\w){re.escape(name)}(?!\w)", text, re.IGNORECASE) is not None


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


def _stitches(held: SheetMatter) -> list[Block]:
    """How each stitch is worked, with its symbol where charts are drawn."""
    signs, none = _signs(held)
    rows: list[tuple[Cell, ...]] = []
    for stitch in _used_stitches(held):
        name = _name(stitch, held.usage)
        title = stitch.title or name
        how = stitch.how or "As the pattern says."
        change = f"{stitch.uses} to {stitch.makes}"
        cells = [
            cell(strong(name), head=True),
            cell(line(*([] if says_no_more(how, title) else
                        [strong(title[:1].upper() + title[1:] + ". ")]), how)),
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
            (line(strong(f"{_name(s, held.usage)}, {s.title or s.key}. "),
                  f"{s.how or 'As the pattern says.'} It takes {sts(s.uses)} and leaves "
                  f"{sts(s.makes)}."),)
            for s in _used_stitches(held)
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


# ------------------------------------------------------------------ the rows


def _section(held: SheetMatter, part: SectionPart) -> list[Block]:
    section = part.section
    title = part.name
    if section.multiple is not None:
        plus = f" + {section.multiple.plus}" if section.multiple.plus else ""
        title += f" (multiple of {section.multiple.of} sts{plus})"
    blocks: list[Block] = [Heading(2, title)]
    grid = held.grids.get(part.index)
    if not part.pieces:
        return []
    markers_told = _markers(held, part)
    pieces = list(part.pieces)
    # what comes before the rows stands before the chart
    while pieces and isinstance(pieces[0], Telling):
        blocks += _telling(held, pieces.pop(0))  # type: ignore[arg-type]
    if grid is not None and not held.options.words_only:
        figure = _chart(held, part, grid)
        blocks.append(figure)
        if figure.picture.height_mm < held.options.text_mm[1] * 0.45:
            blocks = [Group(tuple(blocks))]
    blocks += markers_told
    for i, piece in enumerate(pieces):
        if isinstance(piece, Telling):
            blocks += _telling(held, piece)
        else:
            keys = {(one.row.span, one.number) for one in piece.lines}
            until = [
                later for later in pieces[i + 1 :]
                if isinstance(later, Telling) and later.open and keys & later.again
            ]  # fmt: skip
            blocks += _run(held, part, piece, bool(until), all(one.known for one in until))
    return blocks


def _chart(held: SheetMatter, part: SectionPart, grid: Grid) -> Figure:
    wide, high = held.options.text_mm
    cell_mm = 6.5 if held.options.large else 4.6
    cell_mm = min(cell_mm, (wide - 14) / grid.width, (high * 0.8) / max(1, len(grid.rows)))
    options = held.chart_options(f"chart{part.index}", cell_mm)
    picture = pictures.chart(grid, options, part.name)
    found = held.windows[part.index]
    works = found.works
    told = f"Drawn on {sts(found.cast_on)}"
    if works.multiple > 1:
        told += f": one repeat of {works.multiple}" if found.cast_on < 2 * works.multiple else ""
    left = [f" {text}" for text in _left_out(grid)]
    return Figure(pictures.scaled(picture, wide, high * 0.85), line(told + ".", *left))


def _left_out(grid: Grid) -> list[str]:
    from chartc.charting.rowwords import left_out_line

    return [left_out_line(one) for one in grid.left_out]


def _telling(held: SheetMatter, piece: Telling) -> list[Block]:
    if not piece.after and re.fullmatch(r"[A-Z][\w ,&'’-]{0,40}", piece.text):
        return [Heading(3, piece.text)]
    blocks: list[Block] = []
    words = piece.text if piece.text[-1:] in ".:!?)" else piece.text + "."
    counted = _counts(held, {i: (n,) for i, n in piece.after.items()})
    tally = _rows_of(held, piece)
    zero = all(n.value == 0 for n in piece.after.values())
    if piece.after and not zero:
        blocks.append(Para(line(held.told(words), " ", Bit("After this: ", "soft"), counted)))
    else:
        blocks.append(Para(held.told(words)))
    return blocks + tally


def _rows_of(held: SheetMatter, piece: Telling) -> list[Block]:
    """Boxes for the rows a passage comes to."""
    rows = piece.rows.get(held.drawn, 0)
    if rows < 2 or rows > MOST_TALLY or held.options.words_only or not piece.known:
        return []
    about = "about " if piece.open else ""
    kind = "rounds" if re.search(r"r(?:ou)?nds?\b", piece.text, re.I) else "rows"
    return [Tally(line(Bit(f"{about}{rows} {kind}:", "soft")),
                  Ticks(rows, f"{about}{rows} boxes, one for each"))]  # fmt: skip


def _counts(held: SheetMatter, numbers: dict[int, tuple[Number, ...]]) -> Line:
    """The counts of the sizes shown, as a list in the usual form: 84 (96, 108)."""
    bits: list[Bit] = []
    for n, size in enumerate(held.shown):
        if n == 1:
            bits.append(Bit(" ("))
        elif n > 1:
            bits.append(Bit(", "))
        found = numbers.get(size)
        if not found:
            bits.append(Bit("–"))
            continue
        one = found[0]
        text = "?" if one.value is None else str(one.value)
        style = "own" if size == held.own and len(held.shown) > 1 else "strong"
        if held.own is not None and size != held.own:
            bits.append(Bit(text, "", one.key))
        else:
            bits.append(Bit(text, style, one.key))  # type: ignore[arg-type]
    if len(held.shown) > 1:
        bits.append(Bit(")"))
    return tuple(bits)


def _changes(numbers: dict[int, tuple[Number, ...]]) -> bool:
    """Whether a row has another count each time it is worked."""
    return any(len({one.value for one in found}) > 1 for found in numbers.values())


def _run(
    held: SheetMatter, part: SectionPart, run: RunOfRows, open_: bool, known: bool
) -> list[Block]:
    """Rows one by one. `open_`: they go on until a length; `known`: the gauge tells how long."""
    times = {one.times.get(held.drawn, 0) for one in run.lines}
    often = times.pop() if len(times) == 1 else 0
    same = [one for one in run.lines if one.times.get(held.drawn, 0) != often]
    boxes = OPEN_BOXES if open_ and not known else often
    tally = boxes > MOST_BOXES and not same
    blocks: list[Block] = []
    points = {id(one): _checkpoint(held, part, one) for one in run.lines}
    if held.options.words_only:
        items = []
        for one in run.lines:
            said = [line(strong(f"{one.name}: "), held.told(one.words))]
            counted = _counts(held, one.after)
            if _changes(one.after):
                after = line("After it, the first time: ", counted, " stitches.")
            else:
                after = line("After it: ", counted, " stitches.")
            count = one.times.get(held.drawn, 0)
            if count > 1 and known:
                about = "about " if open_ else ""
                after = line(after, f" Worked {about}{count} times in all.")
            if points[id(one)]:
                said.append(points[id(one)])
            said.append(after)
            items.append(tuple(said))
        blocks.append(Items(tuple(items), ticks=True))
        return blocks + _counts_by_time(held, run)
    strips = _strips(held, part, run)
    rows = []
    most_boxes = 1
    for number, one in enumerate(run.lines):
        count = boxes if often else one.times.get(held.drawn, 0)
        tick = Ticks(1 if tally else max(1, min(count, MOST_BOXES)), f"to tick for {one.name}")
        words: list[Line | Picture] = []
        if held.options.symbols_only and strips.get(number) is not None:
            pass
        else:
            words.append(held.told(one.words))
        if points[id(one)] and not (held.options.symbols_only and strips.get(number)):
            words.append(points[id(one)])
        counted = _counts(held, one.after)
        if _changes(one.after):
            counted = line(counted, Bit(" the first time", "soft"))
        most_boxes = max(most_boxes, tick.count)
        cells = [cell(tick), cell(one.label, *([Bit(one.side, "soft")] if one.side else []), head=True)]
        if strips:
            strip = strips.get(number)
            cells.append(cell(strip) if strip is not None else cell(Bit("(not in the chart)", "soft")))
        if words or not held.options.symbols_only or not strips:
            cells.append(cell(*words) if words else cell(""))
        elif held.options.symbols_only:
            cells.append(cell(""))
        cells.append(Cell((counted,), right=True))
        rows.append(tuple(cells))
    wide = held.options.text_mm[0]
    letter = held.options.letters_pt / 10.5
    tick_w = min(20.0, 4.2 * min(most_boxes, 4) + 4) * letter
    label_w = 17.0 * letter
    strip_w = max((p.width_mm for p in strips.values()), default=0.0) + 4 if strips else 0.0
    letter_mm = held.options.letters_pt * 0.353
    longest = max((len(_bare(_counts(held, one.after))) for one in run.lines), default=4)
    count_w = min(34.0 if strips else 56.0, max(13.0, longest * letter_mm * 0.5 + 4))
    word_w = max(20.0, wide - tick_w - label_w - strip_w - count_w)
    head = ["", "row", "chart", "in words", "stitches after"]
    widths = [tick_w, label_w, strip_w, word_w, count_w]
    if not strips:
        del head[2], widths[2]
    elif word_w < 50 * letter and "in words" in head and not held.options.symbols_only:
        # too narrow for both: the words stand under the squares
        rows = [
            (*row[:2], Cell((*row[2].parts, *row[3].parts)), *row[4:]) for row in rows
        ]  # fmt: skip
        head[2:4] = ["chart and words"]
        widths[2:4] = [strip_w + word_w]
    kind = "rounds" if all(one.in_round for one in run.lines) else "rows"
    if held.options.symbols_only and strips and all(i in strips for i in range(len(run.lines))):
        # the words' column falls away
        at = head.index("in words")
        del head[at], widths[at]
        rows = [(*row[:at], *row[at + 1 :]) for row in rows]
        widths[at - 1] += word_w
    blocks.append(Table(tuple(head), tuple(rows), tuple(widths),
                        label=f"{part.name}: the {kind} one by one",
                        rights=(len(head) - 1,)))  # fmt: skip
    if tally and often <= MOST_TALLY:
        about = "about " if open_ else ""
        what = "this row" if len(run.lines) == 1 else f"these {kind}"
        blocks.append(Tally(line(Bit(f"Times through {what} ({about}{often}):", "soft")),
                            Ticks(often, f"{often} boxes, one for each time through")))  # fmt: skip
    return blocks + _counts_by_time(held, run)


def _bare(given: Line) -> str:
    return "".join(bit.text for bit in given)


def _strips(held: SheetMatter, part: SectionPart, run: RunOfRows) -> dict[int, Picture]:
    """The chart's line for each row of a run, all with cells of the same size; none where they
    would be too small to read."""
    grid = held.grids.get(part.index)
    if grid is None:
        return {}
    wide = held.options.text_mm[0]
    room = wide * (0.62 if held.options.symbols_only else 0.36)
    most = 5.0 if held.options.large or held.options.symbols_only else 3.6
    cell_mm = min(most, room / grid.width)
    least = 2.2 if not held.options.large else 3.2
    if cell_mm < least:
        return {}
    plans = {(p.span, p.number): i for i, p in enumerate(held.windows[part.index].plans)}
    places = {row.index: place for place, row in enumerate(grid.rows)}
    found: dict[int, Picture] = {}
    for number, one in enumerate(run.lines):
        index = plans.get((one.row.body, one.number))
        place = places.get(index) if index is not None else None
        if place is None:
            continue
        options = held.chart_options(f"line{part.index}-{one.row.body.start}-{place}", cell_mm)
        found[number] = pictures.strip(grid, place, options, held.options.symbols_only)
    return found


def _checkpoint(held: SheetMatter, part: SectionPart, one: RowLine) -> Line:
    plan = held.plan(part, one)
    before = one.before.get(held.drawn)
    if plan is None or not before or before[0].value is None:
        return ()
    if _all_plain(one):
        return ()
    style = held.style
    if "\u00a0" in one.words or re.search(r"\b(?:knit|purl) (?:one|two|three|\d)", one.words, re.I):
        style = replace(style, words="spelled")
    found = checkpoint(one.row, plan, before[0].value, held.drawn, style, held.text)
    if found is None:
        return ()
    then = f", then {found.then}" if found.then else ""
    size = ""
    if len(held.shown) > 1 and _sized(one.row.steps):
        size = f" (size {held.proof.pattern.sizes[held.drawn]})"
    return line(Bit(f"{sts(found.left)} left{size}: one more {found.once}{then}.", "soft"))


def _all_plain(one: RowLine) -> bool:
    """Whether the row is knit and purl stitches only: ribs need no checkpoint."""
    worked = [step.stitch for step in walk(one.row.steps) if isinstance(step, Work | Fill)]
    return all(stitch is not None and stitch.key in ("k", "p") for stitch in worked)


def _sized(steps: Sequence[Step]) -> bool:
    """Whether any number in the steps is another in another size."""
    for step in walk(tuple(steps)):
        if isinstance(step, Work) and step.times.sized:
            return True
        if isinstance(step, Fill | Repeat) and step.target is not None and step.target.n.sized:
            return True
        if isinstance(step, Repeat) and step.times is not None and step.times.sized:
            return True
    return False


def _counts_by_time(held: SheetMatter, run: RunOfRows) -> list[Block]:
    """A table of the counts each time through, where they are not the same each time."""
    moving = [one for one in run.lines if _changes(one.after)]
    if not moving:
        return []
    sizes = held.proof.pattern.sizes
    most = max(len(n) for one in moving for n in one.after.values())
    rows = []
    for time in range(most):
        for one in moving:
            cells = [cell(f"{one.name}, time {time + 1}", head=True)]
            for size in held.shown:
                found = one.after.get(size, ())
                if time < len(found):
                    number = found[time]
                    text = "?" if number.value is None else str(number.value)
                    style = "own" if size == held.own and len(held.shown) > 1 else ""
                    cells.append(Cell((line(Bit(text, style, number.key)),), right=True))  # type: ignore[arg-type]
                else:
                    cells.append(cell("–", right=True))
            rows.append(tuple(cells))
    if len(rows) > 48:
        return []
    head = ("row", *(sizes[i] or "stitches after" for i in held.shown))
    rights = tuple(range(1, len(head)))
    if held.options.words_only:
        items = []
        for row in rows:
            said: list[Bit | str] = [strong(_bare(row[0].parts[0]) + ": ")]  # type: ignore[arg-type]
            for i, one_cell in enumerate(row[1:]):
                name = sizes[held.shown[i]]
                said.append(f"{', ' if i else ''}{f'size {name} ' if name else ''}")
                said.extend(one_cell.parts[0])  # type: ignore[arg-type]
            items.append((line(*said, "."),))
        return [Heading(3, "Stitches after each time through"), Items(tuple(items))]
    return [
        Table(head, tuple(rows), (3.0, *(1.0 for _ in held.shown)),
              caption="Stitches after each time through", rights=rights)
    ]  # fmt: skip


# ------------------------------------------------------------------ markers


def _markers(held: SheetMatter, part: SectionPart) -> list[Block]:
    told: list[Line] = []
    for piece in part.pieces:
        if isinstance(piece, Telling) and re.search(r"\b(?:pm|place (?:a )?marker)", piece.text, re.I):
            if re.search(r"\bbeg|\bjoin|start of", piece.text, re.I):
                told.append(line("One marker for the beginning of the round."))
            continue
        if isinstance(piece, RunOfRows):
            for one in piece.lines:
                marks = [s for s in walk(one.row.steps) if isinstance(s, Mark) and s.op == "place"]
                if marks:
                    told.append(line(f"{one.name} places {_markers_word(len(marks))} as its words say."))
    rows = []
    for one in part.lines():
        plan = held.plan(part, one)
        before = one.before.get(held.drawn)
        if plan is None or not before or before[0].value is None:
            rows = []
            break
        rows.append((one.row, plan, before[0].value))
    ribbed = all(_all_plain(one) for one in part.lines())
    found = markers(rows) if rows and not ribbed else None
    if found is not None and found.every >= LEAST_BETWEEN:
        size = ""
        if len(held.shown) > 1 and any(_sized(one.row.steps) for one in part.lines()):
            size = f" (size {held.proof.pattern.sizes[held.drawn]})"
        first = part_first(part)
        text = (
            f"Between the repeats{size}: on {first} put a marker after {sts(found.first)}"
            if found.first != found.every
            else f"Between the repeats{size}: on {first} put a marker"
        )
        text += f"{' and then' if found.first != found.every else ''} after every {sts(found.every)}."
        if found.stay:
            text += " They stay where they are on every row."
        elif found.moves[0] == rows[-1][1].label:
            text += f" They stay where they are until {found.moves[0]}, where they come out."
        else:
            moved = listed(list(dict.fromkeys(found.moves))[:6])
            text += (
                f" They do not stay in place: by {moved} a repeat begins elsewhere, or a stitch "
                "reaches across. Take them out before that row and put them in again after it."
            )
        told.append(line(text))
    if not told:
        return []
    unique = list(dict.fromkeys(told))
    return [Group((Heading(3, "Where markers go"), Items(tuple((one,) for one in unique))))]


def part_first(part: SectionPart) -> str:
    for one in part.lines():
        return one.name
    return "the first row"


def _markers_word(count: int) -> str:
    return "a marker" if count == 1 else f"{count} markers"


# ------------------------------------------------------------------ when the count is off


def _phrase(kind: str, names: Sequence[str]) -> str:
    said, _ = slip_words(kind)
    together = listed([with_a(name) for name in names], "or")
    return said.replace("{a}", together).replace("{name}", listed(list(names), "or"))


def _off_by(held: SheetMatter, slips: Sequence[Slip], right: int) -> list[tuple[int, str]]:
    """How far off, and what happened: the nearest first."""
    table: dict[tuple[int, bool], dict[str, list[str]]] = {}
    for slip in slips:
        name = _name(slip.stitch, held.usage) if slip.stitch is not None else ""
        table.setdefault((slip.after - right, False), {}).setdefault(slip.kind, []).append(name)
        if slip.often is not None and slip.stitch is not None and abs(slip.often - right) > 2:
            often = table.setdefault((slip.often - right, True), {})
            often.setdefault(slip.kind, []).append(name)
    found: dict[int, list[str]] = {}
    for (by, every), kinds in table.items():
        for kind, names in kinds.items():
            unique = list(dict.fromkeys(name for name in names if name))
            said = _phrase(kind, unique) + (" in every repeat" if every else "")
            found.setdefault(by, []).append(said)
    return [(by, "; or ".join(found[by])) for by in sorted(found, key=lambda n: (abs(n), n))]


def _count_off(held: SheetMatter, part: SectionPart) -> list[Block]:
    """A table for a section: rows alike told together."""
    groups: dict[tuple[tuple[int, str], ...], list[tuple[RowLine, Number]]] = {}
    for one in part.lines():
        plan = held.plan(part, one)
        before, after = one.before.get(held.drawn), one.after.get(held.drawn)
        if plan is None or not before or not after:
            continue
        if before[0].value is None or after[0].value is None or plan.skip:
            continue
        slips = slips_of(plan, before[0].value)
        if not any(slip.stitch is not None for slip in slips):
            continue
        if any(slip.stitch is not None and slip.after == after[0].value for slip in slips):
            continue
        off = tuple(_off_by(held, slips, after[0].value))
        groups.setdefault(off, []).append((one, after[0]))
    if not groups:
        return []
    rows: list[tuple[Cell, ...]] = []
    items: list[tuple[Line, ...]] = []
    for off, members in groups.items():
        names = _together([one for one, _ in members])
        rights = {number.value for _, number in members}
        should = line(
            *_comma([line(Bit(str(n.value), "strong", n.key)) for n in _distinct(members)])
        )
        told = []
        for by, happened in off:
            have = _have(by, rights)
            told.append(line(strong(have), f": {happened}."))
            items.append((line(strong(f"After {names} you have {have}: "), f"{happened}."),))
        rows.append((cell(names, head=True), Cell((should,)), Cell(tuple(told))))
    title = Heading(3, part.name)
    if held.options.words_only:
        return [title, Items(tuple(items))]
    return [
        title,
        Table(("after", "you should have", "you have, and what most likely happened"),
              tuple(rows), (36.0, 28.0, 110.0), label=f"{part.name}: when the count is off"),
    ]  # fmt: skip


def _distinct(members: Sequence[tuple[RowLine, Number]]) -> list[Number]:
    found: dict[int | None, Number] = {}
    for _, number in members:
        found.setdefault(number.value, number)
    return list(found.values())


def _comma(lines: Sequence[Line]) -> Iterator[Line | str]:
    for i, one in enumerate(lines):
        if i:
            yield ", "
        yield one


def _have(by: int, rights: set[int | None]) -> str:
    if len(rights) == 1:
        (value,) = rights
        assert value is not None
        return str(value + by)
    return f"{abs(by)} {'more' if by > 0 else 'fewer'}"


def _together(lines: Sequence[RowLine]) -> str:
    """ "Rnds 1, 3 and 5"."""
    words: dict[str, list[str]] = {}
    for one in lines:
        if one.number is None:
            words.setdefault(one.label, [])
        else:
            words.setdefault(one.label.split()[0], []).append(str(one.number))
    told = []
    for word, numbers in words.items():
        numbers = list(dict.fromkeys(numbers))
        if not numbers:
            told.append(word)
        elif len(numbers) == 1:
            told.append(f"{word} {numbers[0]}")
        else:
            told.append(f"{word}s {listed(numbers)}")
    return listed(told)


def _count_off_words(held: SheetMatter) -> list[Block]:
    size = held.proof.pattern.sizes[held.drawn]
    of = f" The numbers are those of size {size}." if size and len(held.proof.pattern.sizes) > 1 else ""
    return [
        Para(line(
            "Each slip below was tried on the row, one at a time, and the row counted again."
            f"{of} Count one repeat at a time: the one with the wrong number is the place to "
            "look. On any row a stitch that dropped leaves you one short, and a strand caught on "
            "the needle one over."
        ), "lines")
    ]  # fmt: skip


def _mending(held: SheetMatter) -> list[Block]:
    kinds: dict[str, None] = {}
    for part in held.parts:
        for one in part.lines():
            plan = held.plan(part, one)
            before = one.before.get(held.drawn)
            if plan is not None and before and before[0].value is not None:
                for slip in slips_of(plan, before[0].value):
                    kinds.setdefault(slip.kind)
    pairs = []
    for kind in kinds:
        said, mend = slip_words(kind)
        said = said.replace("{a}", "a stitch").replace("{name}", "loop")
        pairs.append((line(strong(said[:1].upper() + said[1:] + ": "), mend[:1].lower() + mend[1:]),))
    return [Group((Heading(3, "Putting it right"), Items(tuple(pairs))))]


# ------------------------------------------------------------------ a swatch


def _swatches(held: SheetMatter) -> list[Block]:
    rows: list[tuple[Cell, ...]] = []
    items: list[tuple[Line, ...]] = []
    rounds = flat = False
    for part in held.parts:
        if part.index not in held.windows:
            continue
        found = window(held.proof.pattern, part, held.drawn, 2)
        if found is None or found.works.multiple < 2:
            continue
        counts = [found.cast_on]
        for plan in found.plans:
            counts.append(counts[-1] + sum(done.stitch.net for done in plan.stitches))
        if counts[-1] != counts[0]:
            continue  # shaping, not a pattern to try
        rounds = rounds or all(plan.in_round for plan in found.plans)
        flat = flat or not all(plan.in_round for plan in found.plans)
        n, works = found.cast_on, found.works
        edges = n - 2 * works.multiple
        made = f"two repeats of {works.multiple}"
        if edges > 0:
            made += f" and {sts(edges)} at the edges"
        lines = [one for one in part.lines() if (one.row.span, one.number) in longest_run(part)]
        labels = {(one.row.body, one.number): one.label for one in lines}
        told = "; ".join(
            f"{labels.get((plan.span, plan.number), plan.label)}: {count}"
            for plan, count in zip(found.plans, counts[1:], strict=True)
        )
        if len(set(counts)) == 1:
            told = f"{n} after every one"
        names = _together(lines)
        rows.append((
            cell(part.name, head=True),
            cell(line(strong(sts(n))), Bit(made, "soft")),
            cell(strong(sts(n + 4))),
            cell(f"{names}. Stitches after each: {told}."),
        ))  # fmt: skip
        items.append((
            line(strong(f"{part.name}: "), f"cast on {sts(n)}, {made}; with edges added "
                 f"{sts(n + 4)}. Work {names}. Stitches after each, without the added edges: "
                 f"{told}."),
        ))  # fmt: skip
    if not rows:
        return []
    said = []
    if flat:
        said.append("Flat: add two stitches at either edge and knit them on every row, and knit "
                    "two rows before and after, so that it does not curl.")  # fmt: skip
    if rounds:
        said.append("In the round: use double-pointed or small circular needles.")
        said.append("A piece for the round tried flat: do not turn. At the end of each row slide "
                    "the stitches back, leave a long loose strand behind the work, and begin "
                    "again on the right side; two stitches at either edge are knitted on every "
                    "row.")  # fmt: skip
    what: Block = Table(
        ("pattern", "cast on", "with edges", "work"), tuple(rows), (26.0, 42.0, 22.0, 84.0),
        label="Swatches",
    )  # fmt: skip
    if held.options.words_only:
        what = Items(tuple(items))
    return [
        Group((
            Heading(2, "A swatch to practise on"),
            Para(line("The fewest stitches that show two repeats side by side."), "lines"),
            what,
            Items(tuple((line(one),) for one in said)),
        ))
    ]  # fmt: skip
