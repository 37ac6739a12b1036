"""The class sheet: what a teacher hands out."""

from __future__ import annotations

from chartc.proof import Proof
from chartc.sheets.countoff import count_off, count_off_words, mending
from chartc.sheets.document import Blank, Block, Box, Document, Heading, Para, line, strong
from chartc.sheets.front import abbreviations, gauge_part, how_to_read, opening, stitch_table
from chartc.sheets.matter import SheetMatter, matter
from chartc.sheets.options import SheetOptions
from chartc.sheets.rowtables import section_part
from chartc.sheets.swatch import swatches
from chartc.sheets.wordbook import cautions, foot, listed


def class_sheet(proof: Proof, options: SheetOptions | None = None) -> Document:
    """The class sheet of a proved pattern."""
    held = matter(proof, options or SheetOptions())
    proof, options = held.proof, held.options
    blocks: list[Block] = []
    if not proof.sound:
        blocks.append(_not_sound(proof))
    blocks += opening(held)
    blocks += gauge_part(held)
    blocks += caution_box(proof, "class", held.usage)
    if held.windows and not options.words_only:
        blocks += how_to_read(held)
    blocks += abbreviations(held)
    blocks += stitch_table(held)
    off: list[Block] = []
    for part in held.parts:
        blocks += section_part(held, part)
        off += count_off(held, part)
    if off:
        blocks += [Heading(2, "When the count is off"), *count_off_words(held), *off]
        blocks += mending(held)
    blocks += swatches(held)
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
