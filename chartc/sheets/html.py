"""A handout as one web page: no script, no file beside it, fit for print and for the ear."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import escape as _escape

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

SERIF = "'Libertinus Serif','Linux Libertine O','Iowan Old Style','Palatino Linotype'," \
    "Palatino,Georgia,'Liberation Serif',serif"  # fmt: skip

_COLOURS = {
    False: {"ink": "#1c1f1e", "deep": "#17504c", "soft": "#4d5654", "rule": "#8f9a97",
            "hair": "#c5cdca", "tint": "#eef3f1", "own": "#d9e7e3", "paper": "#ffffff"},
    True: {"ink": "#000000", "deep": "#000000", "soft": "#000000", "rule": "#000000",
           "hair": "#000000", "tint": "#ffffff", "own": "#ffffff", "paper": "#ffffff"},
}  # fmt: skip


def escape(text: str) -> str:
    return _escape(xml_safe(text), quote=True)


def _css_string(text: str) -> str:
    """A text as a CSS string that cannot end before its time."""
    return '"' + "".join(
        sign if sign.isascii() and (sign.isalnum() or sign in " .,:-()") else f"\\{ord(sign):x} "
        for sign in xml_safe(text).replace("\n", " ")
    ) + '"'  # fmt: skip


def _mm(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") + "mm"


def _style(document: Document) -> str:
    options = document.options
    colour = _COLOURS[options.contrast]
    width, height = options.page_mm
    margin = options.margin_mm
    text = options.letters_pt
    thin, heavy = ("0.8pt", "2pt") if options.contrast else ("0.4pt", "1.2pt")
    foot = f"font: {text * 0.8:.1f}pt {SERIF}; color: {colour['soft']}; vertical-align: top; " \
        "padding-top: 2.5mm"  # fmt: skip
    columns = ""
    if options.two_up:
        columns = (
            f"@media print {{ body {{ max-width: none; columns: 2; column-gap: {_mm(options.gutter_mm)}; "
            "column-fill: auto } .break { break-before: column } }"
        )
    return f"""
@page {{ size: {_mm(width)} {_mm(height)}; margin: {_mm(margin)} {_mm(margin)} {_mm(margin + 3)};
 @bottom-left {{ content: {_css_string(document.foot)}; {foot}; text-align: left; width: 80% }}
 @bottom-right {{ content: "Page " counter(page) " of " counter(pages); {foot}; text-align: right }}
}}
* {{ box-sizing: border-box }}
html {{ background: {colour["paper"]}; color: {colour["ink"]};
 font: {text}pt/1.33 {SERIF}; -webkit-print-color-adjust: exact; print-color-adjust: exact }}
body {{ margin: 0 auto; max-width: {_mm(options.text_mm[0])}; font-variant-numeric: lining-nums;
 overflow-wrap: break-word }}
@media print {{ body {{ max-width: none }} }}
@media screen {{ body {{ padding: 10mm 4mm; max-width: {_mm(options.text_mm[0] + 8)} }} }}
header {{ border-bottom: {heavy} solid {colour["deep"]}; padding-bottom: 2mm; margin-bottom: 4mm }}
header .kind {{ margin: 0; font-size: .95em; letter-spacing: .04em; color: {colour["deep"]};
 font-weight: bold }}
h1 {{ font-size: 2.1em; line-height: 1.1; margin: .5mm 0 1mm; font-weight: bold; text-wrap: balance }}
header .sub {{ margin: 0; color: {colour["soft"]} }}
h2 {{ font-size: 1.4em; line-height: 1.15; margin: 7mm 0 2mm; color: {colour["deep"]};
 border-bottom: {thin} solid {colour["rule"]}; padding-bottom: .8mm; text-wrap: balance }}
h3 {{ font-size: 1.12em; line-height: 1.2; margin: 4.5mm 0 1.2mm }}
h2, h3 {{ break-after: avoid; break-inside: avoid }}
h2 + h3 {{ margin-top: 2.5mm }}
p {{ margin: 0 0 1.5mm; orphans: 2; widows: 2 }}
p.lead {{ font-size: 1.1em; margin-bottom: 3mm }}
p.small {{ font-size: .9em; color: {colour["soft"]} }}
p.lines {{ break-after: avoid }}
p.code {{ white-space: pre-wrap; border-left: {heavy} solid {colour["rule"]}; padding-left: 3mm }}
ul, ol {{ margin: 0 0 2mm; padding-left: 1.4em }}
ul.todo {{ list-style: none; padding-left: 1.7em }}
ul.todo > li {{ position: relative }}
ul.todo > li > .ticks {{ position: absolute; left: -1.7em; top: .2em }}
li {{ margin: 0 0 1mm; break-inside: avoid }}
li p {{ margin: .4mm 0 0 }}
dl {{ margin: 0 0 2mm; display: block }}
dl.two {{ columns: 2; column-gap: 8mm }}
dl div {{ break-inside: avoid; margin: 0 0 .8mm; display: grid;
 grid-template-columns: var(--names, 6em) 1fr }}
dt {{ font-weight: bold }}
dt, dd {{ margin: 0; min-width: 0 }}
table {{ border-collapse: collapse; width: 100%; table-layout: fixed; margin: 0 0 3mm }}
caption {{ text-align: left; padding: 0 0 1mm; break-after: avoid; color: {colour["soft"]} }}
thead {{ display: table-header-group }}
tr {{ break-inside: avoid }}
th, td {{ text-align: left; vertical-align: top; padding: 1.1mm 2mm 1.1mm 0;
 border-bottom: {thin} solid {colour["hair"]} }}
th:last-child, td:last-child {{ padding-right: 0 }}
thead th {{ border-bottom: {thin} solid {colour["ink"]}; font-size: .88em; color: {colour["soft"]};
 font-weight: normal; vertical-align: bottom }}
tbody th {{ font-weight: bold }}
td p, th p {{ margin: 0 }}
td p + p, td svg + p, td p + svg {{ margin-top: .6mm }}
.r {{ text-align: right }}
.n, .r {{ font-variant-numeric: lining-nums tabular-nums }}
.marked {{ background: {colour["own"]} }}
.own {{ font-weight: bold; background: {colour["own"]}; padding: 0 .1em; margin: 0 -.02em; border-radius: .15em;
 {"outline: 1.4pt solid #000;" if options.contrast else ""} }}
.soft {{ color: {colour["soft"]} }}
.row {{ hyphens: none }}
.ticks {{ display: inline-flex; flex-wrap: wrap; gap: .9mm; vertical-align: -0.05em }}
.ticks i {{ width: .86em; height: .86em; border: {"1.2pt" if options.contrast else ".7pt"} solid
 {colour["ink"]}; display: inline-block; border-radius: .12em }}
.ticks i:nth-child(5n) {{ margin-right: 1.4mm }}
.tally {{ display: flex; gap: 3mm; align-items: baseline; margin: 0 0 2.5mm; break-inside: avoid }}
.tally p {{ margin: 0; flex: none; max-width: 55% }}
.across {{ display: flex; gap: 1.6mm; align-items: center; flex-wrap: wrap }}
.across > * {{ margin: 0 !important; flex: none }}
figure {{ margin: 2mm 0 3.5mm; break-inside: avoid; text-align: center }}
figcaption {{ text-align: left; font-size: .9em; color: {colour["soft"]}; margin-top: 1.5mm }}
svg {{ max-width: 100%; height: auto; display: inline-block; vertical-align: middle }}
td svg {{ display: block; max-width: none }}
figure svg {{ break-inside: avoid }}
section.box {{ border: {thin} solid {colour["rule"]}; background: {colour["tint"]};
 padding: 2.5mm 3.5mm 1.5mm; margin: 3mm 0 4mm; break-inside: avoid; border-radius: 1mm }}
section.caution {{ border-left: {"3pt" if options.contrast else "2.2pt"} solid {colour["deep"]} }}
section.form {{ background: {colour["paper"]} }}
section.box > h2, section.box > h3 {{ font-size: 1.12em; line-height: 1.2; margin: 0 0 1.2mm;
 padding: 0; border: 0; color: {colour["ink"]} }}
div.keep {{ break-inside: avoid }}
.blank {{ display: flex; gap: 2mm; margin: 0 0 2.5mm; align-items: end; min-height: 2.1em }}
.blank span:last-child {{ flex: 1; border-bottom: {thin} solid {colour["rule"]}; height: 1.7em }}
.break {{ break-before: page; height: 0; margin: 0 }}
{columns}
"""


def as_html(document: Document) -> str:
    """The page as text; the same document gives the same bytes."""
    setter = _Setter(document)
    title = f"{document.title}: {document.kind.lower()}"
    out = [
        "<!DOCTYPE html>",
        '<html lang="en">',
        "<head>",
        '<meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        '<meta name="generator" content="chartc">',
        f"<title>{escape(title)}</title>",
        f"<style>{_style(document)}</style>",
        "</head>",
        "<body>",
        "<header>",
        f'<p class="kind">{escape(document.kind)}</p>',
        f"<h1>{escape(document.title)}</h1>",
    ]
    if document.subtitle:
        out.append(f'<p class="sub">{escape(document.subtitle)}</p>')
    out.append("</header>")
    out.append("<main>")
    for block in document.blocks:
        out.extend(setter.block(block))
    out += ["</main>", "</body>", "</html>"]
    return "\n".join(out) + "\n"


class _Setter:
    """Sets blocks; keeps the ids of headings apart."""

    def __init__(self, document: Document) -> None:
        self.document = document
        self.taken: set[str] = set()
        self.level = 1  # of the heading last set: none may be skipped

    def ident(self, text: str) -> str:
        base = re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-") or "part"
        ident, n = f"h-{base}", 2
        while ident in self.taken:
            ident, n = f"h-{base}-{n}", n + 1
        self.taken.add(ident)
        return ident

    def block(self, block: Block, inside: bool = False) -> Iterator[str]:
        if isinstance(block, Heading):
            self.level = min(block.level, self.level + 1)
            level = f"h{self.level}"
            yield f'<{level} id="{self.ident(block.text)}">{escape(block.text)}</{level}>'
        elif isinstance(block, Para):
            kind = f' class="{block.kind}"' if block.kind else ""
            yield f"<p{kind}>{_line(block.text)}</p>"
        elif isinstance(block, Items):
            yield from self.items(block)
        elif isinstance(block, Pairs):
            two = ' class="two"' if block.columns > 1 and len(block.pairs) > 3 else ""
            longest = max((len(name) for name, _ in block.pairs), default=1)
            room = min(13.0, max(3.2, longest * 0.53 + 1.0))
            yield f'<dl{two} style="--names:{room:.2f}em">'
            for name, meaning in block.pairs:
                yield f"<div><dt>{escape(name)}</dt> <dd>{_line(meaning)}</dd></div>"
            yield "</dl>"
        elif isinstance(block, Table):
            yield from self.table(block)
        elif isinstance(block, Figure):
            yield "<figure>"
            yield _picture(block.picture)
            if block.caption:
                yield f"<figcaption>{_line(block.caption)}</figcaption>"
            yield "</figure>"
        elif isinstance(block, Box):
            ident = self.ident(block.title)
            yield f'<section class="box {block.kind}" aria-labelledby="{ident}">'
            level = f"h{min(3, self.level + 1)}"
            yield f'<{level} id="{ident}">{escape(block.title)}</{level}>'
            for one in block.blocks:
                yield from self.block(one, True)
            yield "</section>"
        elif isinstance(block, Group):
            yield '<div class="keep">'
            for one in block.blocks:
                yield from self.block(one, inside)
            yield "</div>"
        elif isinstance(block, Blank):
            for label in block.labels:
                yield f'<div class="blank"><span>{escape(label)}</span><span></span></div>'
        elif isinstance(block, Tally):
            yield f'<div class="tally"><p>{_line(block.label)}</p>{_ticks(block.ticks)}</div>'
        elif isinstance(block, Break):
            yield '<div class="break"></div>'

    def items(self, block: Items) -> Iterator[str]:
        kind = "ol" if block.ordered else "ul"
        todo = ' class="todo"' if block.ticks else ""
        yield f"<{kind}{todo}>"
        for item in block.items:
            box = _ticks(Ticks(1, "")) if block.ticks else ""
            first, *more = item
            text = "".join(f"<p>{_line(one)}</p>" for one in more)
            yield f"<li>{box}{_line(first)}{text}</li>"
        yield f"</{kind}>"

    def table(self, block: Table) -> Iterator[str]:
        label = f' aria-label="{escape(block.label)}"' if block.label and not block.caption else ""
        yield f"<table{label}>"
        if block.caption:
            yield f"<caption>{escape(block.caption)}</caption>"
        total = sum(block.widths)
        yield "<colgroup>" + "".join(
            f'<col style="width:{100 * width / total:.1f}%">' if width else '<col style="width:1%">'
            for width in block.widths
        ) + "</colgroup>"  # fmt: skip
        yield "<thead><tr>" + "".join(
            f'<th scope="col"{_classes(i in block.rights, i == block.marked)}>{escape(name)}</th>'
            for i, name in enumerate(block.head)
        ) + "</tr></thead>"  # fmt: skip
        yield "<tbody>"
        for row in block.rows:
            cells = []
            for i, one in enumerate(row):
                tag, scope = ("th", ' scope="row"') if one.head else ("td", "")
                classes = _classes(one.right, i == block.marked)
                cells.append(f"<{tag}{scope}{classes}>{_cell(one)}</{tag}>")
            yield f"<tr>{''.join(cells)}</tr>"
        yield "</tbody></table>"


def _classes(right: bool, marked: bool) -> str:
    names = [name for name, on in (("r", right), ("marked", marked)) if on]
    return f' class="{" ".join(names)}"' if names else ""


def _cell(given: Cell) -> str:
    if len(given.parts) == 1:
        return _part(given.parts[0])
    inner = "".join(
        f"<p>{_line(part)}</p>" if isinstance(part, tuple) else _part(part) for part in given.parts
    )
    return f'<div class="across">{inner}</div>' if given.across else inner


def _part(part: Part) -> str:
    if isinstance(part, Picture):
        return _picture(part)
    if isinstance(part, Ticks):
        return _ticks(part)
    return _line(part)


def _line(given: Line) -> str:
    return "".join(_bit(bit) for bit in given)


def _bit(bit: Bit) -> str:
    text = escape(bit.text).replace("\n", "<br>\n")
    if bit.count:
        text = f'<data value="{escape(bit.text)}" data-ledger="{escape(bit.count)}">{text}</data>'
    if bit.style == "own":
        # the weight is told to the ear as well
        return f'<strong class="own">{text}</strong>'
    if bit.style in ("strong", "em"):
        return f"<{bit.style}>{text}</{bit.style}>"
    if bit.style:
        return f'<span class="{bit.style}">{text}</span>'
    return text


def _ticks(ticks: Ticks) -> str:
    boxes = "<i></i>" * ticks.count
    if not ticks.label:
        return f'<span class="ticks" aria-hidden="true">{boxes}</span>'
    return f'<span class="ticks" role="img" aria-label="{escape(ticks.label)}">{boxes}</span>'


def _picture(picture: Picture) -> str:
    """The drawing inside the page, at its true size."""
    if picture.alt:
        told = f'role="img" aria-label="{escape(picture.alt)}"'
    else:
        told = 'aria-hidden="true"'
    width = _mm(picture.width_mm)
    return picture.svg.replace(
        "<svg ", f'<svg {told} style="width:{width};aspect-ratio:{picture.width_mm:.3f}/'
        f'{picture.height_mm:.3f}" ', 1
    ).replace("\n", "")  # fmt: skip
