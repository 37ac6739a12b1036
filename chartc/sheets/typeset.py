"""A handout set on paper: PDF with its fonts inside, tagged (PDF/UA-1), by typst.

The only module that uses typst; it comes with the extra "print".
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

from chartc.charting.lettering import xml_safe
from chartc.sheets.document import (
    Bit,
    Blank,
    Block,
    Box,
    Break,
    Cell,
    Document,
    Figure,
    Group,
    Heading,
    Items,
    Line,
    Pairs,
    Para,
    Part,
    Picture,
    Table,
    Tally,
    Ticks,
)
from chartc.sheets.options import PAPERS, SheetProblem

FONT = "Libertinus Serif"  # comes inside typst: the same on every machine


def as_pdf(document: Document, paper: str = "") -> bytes:
    """The document as PDF. Raises SheetProblem without typst."""
    try:
        import typst
    except ImportError:
        raise SheetProblem(
            "PDF needs the print extra, which is not installed; "
            "install it with: pip install 'chartc[print]' (a web page needs nothing more)"
        ) from None
    if paper:
        if paper not in PAPERS:
            raise SheetProblem(f"the paper is a4 or letter, not {paper}")
        document = replace(document, options=replace(document.options, paper=paper))
    compiler: Any = typst.Compiler(
        typst_source(document).encode("utf-8"),
        font_paths=typst.Fonts(include_system_fonts=False),
        ignore_system_fonts=True,
    )
    # the date is fixed so that the same text gives the same file
    made = compiler.compile(format="pdf", pdf_standards=["ua-1"], timestamp=0)
    assert isinstance(made, bytes)
    return made


def quoted(text: str) -> str:
    """A text as a string of the typesetter."""
    text = xml_safe(text).replace("\\", "\\\\").replace('"', '\\"')
    return '"' + text.replace("\n", "\\n").replace("\r", " ").replace("\t", "\\t") + '"'


def _colours(contrast: bool) -> dict[str, str]:
    from chartc.sheets.html import _COLOURS

    return _COLOURS[contrast]


def typst_source(document: Document) -> str:
    """The document in the typesetter's language."""
    setter = _Setter(document)
    body = [setter.block(block) for block in document.blocks]
    return "\n".join([*setter.opening(), *setter.pictures, *body]) + "\n"


class _Setter:
    def __init__(self, document: Document) -> None:
        self.document = document
        self.colour = _colours(document.options.contrast)
        self.pictures: list[str] = []
        self.known: dict[str, str] = {}
        self.level = 1  # of the heading last set: none may be skipped
        self.size = document.options.letters_pt
        self.thin = "0.8pt" if document.options.contrast else "0.4pt"
        self.heavy = "2pt" if document.options.contrast else "1.2pt"

    def opening(self) -> list[str]:
        document, colour = self.document, self.colour
        options = document.options
        width, height = options.page_mm
        margin = options.margin_mm
        title = f"{document.title}: {document.kind.lower()}"
        soft = f'rgb("{colour["soft"]}")'
        columns = ", columns: 2" if options.two_up else ""
        gutter = f"#set columns(gutter: {options.gutter_mm}mm)" if options.two_up else ""
        sub = ""
        if document.subtitle:
            sub = f"#block(above: 1.2mm, below: 0mm, text(fill: {soft})[#{quoted(document.subtitle)}])"
        return [
            f"#set document(title: {quoted(title)}, date: none)",
            f'#set text(font: "{FONT}", size: {self.size}pt, lang: "en", '
            f'fill: rgb("{colour["ink"]}"), number-type: "lining", fallback: true, '
            "hyphenate: false)",
            f"#set page(width: {width}mm, height: {height}mm, margin: (x: {margin}mm, "
            f"top: {margin}mm, bottom: {margin + 3}mm){columns}, footer-descent: 4mm, "
            f"footer: context [#set text(size: 0.8em, fill: {soft})\n"
            f"#grid(columns: (1fr, auto), column-gutter: 6mm, [#{quoted(document.foot)}], "
            "[Page #counter(page).display() of #counter(page).final().first()])])",
            gutter,
            "#set par(leading: 0.58em, spacing: 0.8em, justify: false)",
            "#set block(spacing: 0.8em)",
            f'#show heading: set text(fill: rgb("{colour["deep"]}"))',
            "#show heading.where(level: 1): it => block(above: 1mm, below: 0mm, "
            f"text(size: {self.size * 2.1:.1f}pt, fill: rgb(\"{colour['ink']}\"), it.body))",
            "#show heading.where(level: 2): it => block(above: 6mm, below: 2.6mm, sticky: true, "
            f"width: 100%, inset: (bottom: 1mm), stroke: (bottom: {self.thin} + "
            f"rgb(\"{colour['rule']}\")), text(size: {self.size * 1.4:.1f}pt, it.body))",
            "#show heading.where(level: 3): it => block(above: 4mm, below: 1.8mm, sticky: true, "
            f"text(size: {self.size * 1.12:.1f}pt, fill: rgb(\"{colour['ink']}\"), it.body))",
            f"#let tick = box(width: 0.78em, height: 0.78em, baseline: 0.06em, radius: 0.1em, "
            f"stroke: {'1.2pt' if options.contrast else '0.7pt'} + rgb(\"{colour['ink']}\"))",
            "#let ticks(n) = range(n).map(i => tick + if calc.rem(i, 5) == 4 "
            "{ h(1.6mm, weak: false) } else { h(0.9mm) } + sym.zws).join()",
            f"#let own(body) = box(fill: rgb(\"{colour['own']}\"), inset: (x: 0.12em), outset: (y: 0.2em), "
            f"radius: 0.15em, stroke: {'1.2pt + black' if options.contrast else 'none'}, "
            "strong(body))",
            f"#let soft(body) = text(fill: {soft}, body)",
            f"#let blank(label) = block(breakable: false, height: 2.1em, spacing: 0.5em, "
            "grid(columns: (auto, 1fr), column-gutter: 2mm, align: bottom, "
            f"label, line(length: 100%, stroke: {self.thin} + rgb(\"{colour['rule']}\"))))",
            f"#block(below: 5mm, width: 100%, inset: (bottom: 2.4mm), stroke: (bottom: {self.heavy}"
            f" + rgb(\"{colour['deep']}\")))[",
            f"#block(below: 0mm, text(size: 0.95em, weight: \"bold\", fill: "
            f"rgb(\"{colour['deep']}\"), tracking: 0.03em)[#{quoted(document.kind)}])",
            f"#block(above: 2.4mm, below: 2mm)[#heading(level: 1, {quoted(document.title)})]",
            sub,
            "]",
        ]  # fmt: skip

    # -- text

    def line(self, given: Line) -> str:
        """A line as content."""
        return "".join(self.bit(bit) for bit in given) or "[]"

    def content(self, given: Line) -> str:
        return "[" + "".join(f"#{self.bit(bit)}" for bit in given) + "]"

    def bit(self, bit: Bit) -> str:
        text = quoted(bit.text)
        if "\n" in bit.text:
            pieces = [f"#{quoted(piece)}" for piece in bit.text.split("\n")]
            inner = "[" + "\\\n".join(pieces) + "]"
        else:
            inner = f"[#{text}]"
        if bit.style == "own":
            return f"own({inner})"
        if bit.style == "strong":
            return f"strong({inner})"
        if bit.style == "em":
            return f"emph({inner})"
        if bit.style == "soft":
            return f"soft({inner})"
        return f"text({inner})"

    def picture(self, picture: Picture) -> str:
        name = self.known.get(picture.svg)
        if name is None:
            name = self.known[picture.svg] = f"pic-{len(self.known) + 1}"
            svg = re.sub(r'font-family="[^"]*"', f'font-family="{FONT}"', picture.svg)
            self.pictures.append(f"#let {name} = bytes({quoted(svg)})")
        size = f"width: {picture.width_mm:g}mm, height: {picture.height_mm:g}mm"
        drawn = f'image({name}, format: "svg", {size}, alt: {quoted(picture.alt)})'
        if not picture.alt:
            return f'pdf.artifact(image({name}, format: "svg", {size}))'
        return drawn

    def part(self, part: Part) -> str:
        if isinstance(part, Picture):
            return self.picture(part)
        if isinstance(part, Ticks):
            return f"pdf.artifact(ticks({part.count}))"
        return self.content(part)

    def cell(self, given: Cell) -> str:
        parts = [self.part(part) for part in given.parts]
        if len(parts) == 1:
            inner = parts[0]
        elif given.across:
            columns = ", ".join(["auto"] * len(parts))
            inner = (
                f"grid(columns: ({columns}), column-gutter: 1.6mm, align: horizon, "
                f"{', '.join(parts)})"
            )
        else:
            inner = f"stack(spacing: 0.55em, {', '.join(parts)})"
        if given.head:
            inner = f"strong({inner})"
        return inner

    # -- blocks

    def block(self, block: Block) -> str:
        return "#" + self.call(block)

    def join(self, blocks: Iterable[Block]) -> str:
        return "{" + "\n".join(self.call(block) for block in blocks) + "}"

    def call(self, block: Block) -> str:
        if isinstance(block, Heading):
            self.level = min(block.level, self.level + 1)
            return f"heading(level: {self.level}, {quoted(block.text)})"
        if isinstance(block, Para):
            return self.para(block)
        if isinstance(block, Items):
            return self.items(block)
        if isinstance(block, Pairs):
            return self.pairs(block)
        if isinstance(block, Table):
            return self.table(block)
        if isinstance(block, Figure):
            drawn = f"align(center, {self.picture(block.picture)})"
            told = ""
            if block.caption:
                told = (
                    f"block(above: 1.5mm, soft(text(size: 0.9em, {self.content(block.caption)})))"
                )
            return (
                f"block(breakable: false, above: 3mm, below: 4mm, width: 100%, {{{drawn}\n{told}}})"
            )
        if isinstance(block, Box):
            return self.box(block)
        if isinstance(block, Group):
            first = block.blocks[0] if block.blocks else None
            above = {2: "6mm", 3: "4mm"}.get(first.level, "") if isinstance(first, Heading) else ""
            above = f"above: {above}, " if above else ""
            return f"block(breakable: false, {above}width: 100%, {self.join(block.blocks)})"
        if isinstance(block, Blank):
            return "{" + "\n".join(f"blank({quoted(label)})" for label in block.labels) + "}"
        if isinstance(block, Tally):
            return (
                "block(breakable: false, grid(columns: (auto, 1fr), column-gutter: 3mm, "
                f"{self.content(block.label)}, pdf.artifact(ticks({block.ticks.count}))))"
            )
        assert isinstance(block, Break)
        return "colbreak(weak: true)" if self.document.options.two_up else "pagebreak(weak: true)"

    def para(self, block: Para) -> str:
        inner = self.content(block.text)
        if block.kind == "lead":
            return f"block(below: 4mm, text(size: 1.1em, {inner}))"
        if block.kind == "small":
            return f"block(soft(text(size: 0.9em, {inner})))"
        if block.kind == "lines":
            return f"block(sticky: true, {inner})"
        if block.kind == "code":
            return (
                f"block(inset: (left: 3mm), stroke: (left: {self.heavy} + "
                f'rgb("{self.colour["rule"]}")), {inner})'
            )
        return f"par({inner})"

    def items(self, block: Items) -> str:
        made = []
        for item in block.items:
            first, *more = item
            lead = f"pdf.artifact(box(ticks(1) + h(0.8mm))); " if block.ticks else ""  # noqa: F541
            extra = "\n".join(
                f"block(above: 0.5em, below: 0.5em, {self.content(one)})" for one in more
            )
            body = f"{{{lead}{self.content(first)}\n{extra}}}"
            made.append(f"block(breakable: false, {body})")
        kind = "enum" if block.ordered else "list"
        marker = ", marker: []" if block.ticks and kind == "list" else ""
        return f"{kind}(tight: false, spacing: 0.55em{marker}, {', '.join(made)})"

    def pairs(self, block: Pairs) -> str:
        longest = max((len(name) for name, _ in block.pairs), default=1)
        room = min(13.0, max(3.2, longest * 0.53 + 1.0))

        def terms(pairs: Sequence[tuple[str, Line]]) -> str:
            items = ", ".join(
                f"terms.item(box(width: {room:.2f}em, {quoted(name)}), {self.content(meaning)})"
                for name, meaning in pairs
            )
            return (
                f"terms(tight: false, spacing: 0.5em, hanging-indent: {room:.2f}em, "
                f"separator: [], {items})"
            )

        if block.columns > 1 and len(block.pairs) > 3:
            half = (len(block.pairs) + 1) // 2
            return (
                f"grid(columns: (1fr, 1fr), column-gutter: 7mm, {terms(block.pairs[:half])}, "
                f"{terms(block.pairs[half:])})"
            )
        return terms(block.pairs)

    def table(self, block: Table) -> str:
        columns = ", ".join(f"{width:g}fr" if width else "auto" for width in block.widths)
        rows = []
        for row in block.rows:
            cells = []
            for i, one in enumerate(row):
                extra = ", align: right" if one.right else ""
                if i == block.marked:
                    extra += f', fill: rgb("{self.colour["own"]}")'
                cells.append(f"table.cell(breakable: false{extra}, {self.cell(one)})")
            rows.append(", ".join(cells))
        head = ", ".join(
            f"table.cell(align: {'right' if i in block.rights else 'left'} + bottom, "
            f"soft(text(size: 0.88em, [#{quoted(name)}])))"
            for i, name in enumerate(block.head)
        )
        hair, ink = self.colour["hair"], self.colour["ink"]
        caption = ""
        if block.caption:
            caption = f"block(sticky: true, below: 1.6mm, soft([#{quoted(block.caption)}]))"
        sep = ",\n"
        table = (
            f"table(columns: ({columns},), align: left + top, stroke: (x, y) => (bottom: "
            f'if y == 0 {{ {self.thin} + rgb("{ink}") }} else {{ {self.thin} + rgb("{hair}") }}), '
            "inset: (x, y) => (left: 0mm, right: 2mm, y: 1.3mm), "
            f"table.header(repeat: true, {head}), {sep.join(rows)})"
        )
        return "{" + caption + f"\nblock(below: 4.5mm, breakable: true, {table})}}"

    def box(self, block: Box) -> str:
        colour = self.colour
        fill = colour["paper"] if block.kind == "form" else colour["tint"]
        edge = f'{self.thin} + rgb("{colour["rule"]}")'
        left = f'2.2pt + rgb("{colour["deep"]}")' if block.kind == "caution" else edge
        level = min(3, self.level + 1)
        title = (
            "{show heading: it => block(above: 0mm, below: 1.8mm, sticky: true, text(size: "
            f'{self.size * 1.12:.1f}pt, fill: rgb("{colour["ink"]}"), it.body))\n'
            f"heading(level: {level}, {quoted(block.title)})}}"
        )
        return (
            f"block(breakable: false, width: 100%, above: 4mm, below: 5mm, inset: (x: 3.5mm, "
            f'top: 3mm, bottom: 2.5mm), radius: 1mm, fill: rgb("{fill}"), '
            f"stroke: (left: {left}, rest: {edge}), {{\n{title}\n"
            f"{self.join(block.blocks)}}})"
        )
