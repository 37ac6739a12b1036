"""The cue card for filming: every row as it is said, paced by its repeat, with the numbers on
the needle; and captions with times made from it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from chartc.fabric import Plan
from chartc.pattern import Change, Off, On, Step, Unread, walk
from chartc.proof import Proof
from chartc.sheets.classsheet import caution_box, owner_box, version_words
from chartc.sheets.document import (
    Bit,
    Block,
    Cell,
    Document,
    Heading,
    Items,
    Line,
    Para,
    Table,
    Ticks,
    cell,
    line,
    strong,
)
from chartc.sheets.gather import Number, RowLine, SectionPart, Telling, planned_rows
from chartc.sheets.matter import SheetMatter, matter
from chartc.sheets.options import SheetOptions, SheetProblem
from chartc.sheets.rowtrack import Pace, pace, words_of
from chartc.sheets.wordbook import aloud, foot, in_usage, listed, own_only
from chartc.wording.naming import in_words
from chartc.wording.style import HouseStyle

MOST_LISTED = 24  # running counts listed one by one in a row

WORDS_A_SECOND = 2.4  # how fast a row is read out: common practice, no source
LEAST_SECONDS = 1.6  # a caption is never shown shorter


@dataclass(frozen=True, slots=True)
class Cue:
    """One thing said.

    kind     "row" the row is named, "once" stitches outside the repeat, "repeat" one time
             through, "count" the number to check, "told" a passage between rows
    said     the words
    made     stitches on the right-hand needle when it has been done, None where not counted
    stitches worked while it is shown
    number   the count out of the ledger, for "count"
    """

    kind: str
    said: str
    made: int | None = None
    stitches: int = 0
    number: Number | None = None


@dataclass(frozen=True, slots=True)
class RowCue:
    """A row as it is said, in one size. `pace` None when it is said in one piece."""

    line: RowLine | None
    name: str
    cues: tuple[Cue, ...]
    pace: Pace | None = None
    made: tuple[int, ...] = ()
    first: str = ""
    once: str = ""
    last: str = ""


def spoken(held: SheetMatter) -> HouseStyle:
    """Words for the ear."""
    return HouseStyle(
        usage="uk" if held.usage == "uk" else "us", words="spoken", rounds="Round", capital=False
    )


def _said_name(one: RowLine) -> str:
    """ "Row five, right side"."""
    word = "Round" if one.in_round else "Row"
    head = one.label
    if one.number is not None:
        head = f"{word} {in_words(one.number)}"
    else:
        head = head.replace("rnd", "round").replace("Rnd", "Round")
    side = {"RS": ", right side", "WS": ", wrong side"}.get(one.side, "")
    return head + side


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


def row_cue(held: SheetMatter, part: SectionPart, one: RowLine, size: int) -> RowCue:
    """A row, paced by its repeat where it has one."""
    plan = held.plan(part, one) if size == held.drawn else _plan(held, part, one, size)
    name = _said_name(one)
    cues = [Cue("row", name + ".")]
    found = pace(one.row, plan) if plan is not None else None
    style = spoken(held)

    def words(steps: Sequence[Step]) -> str:
        return words_of(steps, style, one.in_round, size, held.text)

    after = one.after.get(size, ())
    end = _after_cue(after[0] if after else None)
    if found is None or len(found.passes) < 2 or found.repeat.cut:
        own = any(isinstance(step, Change | Unread | Off | On) for step in walk(one.row.steps))
        if one.row.steps and not one.row.as_set and not own:
            said = words(one.row.steps)
        else:
            said = aloud(own_only(one.words, len(held.proof.pattern.sizes), size))
        total = sum(d.stitch.makes for d in plan.stitches) if plan is not None else None
        cues.append(Cue("once", _upper(said.rstrip(".")) + ".", total,
                        len(plan.stitches) if plan is not None else 0))  # fmt: skip
        return RowCue(one, name, (*cues, *end))
    at = one.row.steps.index(found.repeat)
    first, last = words(one.row.steps[:at]), words(one.row.steps[at + 1 :])
    once = words(found.repeat.body)
    ending = words(found.repeat.last) if found.repeat.last is not None else once
    made = found.made()
    if first:
        cues.append(Cue("once", _upper(first) + ".", made[0], len(found.first)))
    for number, stitches in enumerate(found.passes, 1):
        said = once if number < len(found.passes) else ending
        cues.append(Cue("repeat", _upper(said) + ".", made[number], len(stitches)))
    if last:
        end_count = made[-1] + sum(done.stitch.makes for done in found.last)
        cues.append(Cue("once", _upper(last) + ".", end_count, len(found.last)))
    return RowCue(one, name, (*cues, *end), found, made, first, once, last)


def _plan(held: SheetMatter, part: SectionPart, one: RowLine, size: int) -> Plan | None:
    return planned_rows(held.proof, part.index, size).get((one.row.body, one.number))


def _after_cue(number: Number | None) -> tuple[Cue, ...]:
    if number is None or number.value is None:
        return ()
    word = "stitch" if number.value == 1 else "stitches"
    return (Cue("count", f"You should have {number.value} {word}.", number.value, 0, number),)


def cues_of(held: SheetMatter, size: int) -> Iterator[tuple[SectionPart, RowCue]]:
    """Everything said, section by section, in working order."""
    for part in held.parts:
        for piece in part.pieces:
            if isinstance(piece, Telling):
                number = piece.after.get(size)
                sizes = len(held.proof.pattern.sizes)
                said = aloud(own_only(in_usage(piece.text, held.options.usage), sizes, size))
                if number is not None and number.value == 0:
                    number = None
                yield part, RowCue(None, "", (Cue("told", said), *_after_cue(number)))
            else:
                for one in piece.lines:
                    yield part, row_cue(held, part, one, size)


def _filming_size(proof: Proof, options: SheetOptions) -> SheetOptions:
    """One size at a time: the class's own, or the first asked for, or the first there is."""
    if options.own or len(proof.pattern.sizes) == 1:
        return options
    name = options.sizes[0] if options.sizes else proof.pattern.sizes[0]
    return replace(options, own=name)


# ------------------------------------------------------------------ the card


def cue_card(proof: Proof, options: SheetOptions | None = None) -> Document:
    """The cue card of a proved pattern: for one size, or one after the other for those asked
    for by `sizes`."""
    options = options or SheetOptions()
    sizes = options.sizes or ((options.own,) if options.own else proof.pattern.sizes[:1])
    blocks: list[Block] = []
    held = matter(proof, _filming_size(proof, options))
    names = held.proof.pattern.sizes
    blocks.append(Para(line(
        "Read the words aloud; work while the camera runs. The small numbers are the stitches on "
        "the right-hand needle when that part is done."
    )))  # fmt: skip
    for name in sizes:
        one = matter(proof, replace(options, sizes=(), own=name)) if name else held
        if len(sizes) > 1:
            blocks.append(Heading(2, f"Size {name}"))
        blocks += _card(one, 3 if len(sizes) > 1 else 2)
    blocks += caution_box(proof, "cue", held.usage)
    blocks.append(owner_box(options))
    parts = []
    if len(names) > 1:
        parts.append(f"{'Sizes' if len(sizes) > 1 else 'Size'} {listed(list(sizes))}")
    parts += version_words(options)
    text = "; ".join(parts)
    return Document(
        proof.pattern.title or "Pattern", "Cue card for filming", text[:1].upper() + text[1:],
        foot(proof, options), tuple(blocks), options,
    )  # fmt: skip


def _card(held: SheetMatter, level: int) -> list[Block]:
    blocks: list[Block] = []
    now: SectionPart | None = None
    rows: list[tuple[Cell, ...]] = []
    items: list[tuple[Line, ...]] = []

    def close() -> None:
        if rows:
            letter = held.options.letters_pt / 10.5
            wide = held.options.text_mm[0]
            blocks.append(Table(
                ("", "row", "say", "then you have"), tuple(rows),
                (8.0, 24.0 * letter, wide - 8 - 44 * letter, 20.0 * letter),
                label=f"{now.name if now is not None else ''}: rows as they are said",
                rights=(3,),
            ))  # fmt: skip
            rows.clear()
        if items:
            blocks.append(Items(tuple(items), ticks=True))
            items.clear()

    for part, one in cues_of(held, held.drawn):
        if part is not now:
            close()
            now = part
            blocks.append(Heading(level, part.name))
        if one.line is None:
            close()
            said = one.cues[0].said
            count = next((cue for cue in one.cues if cue.kind == "count"), None)
            extra: tuple[Bit, ...] = ()
            if count is not None and count.number is not None:
                extra = (Bit(" Then you have ", "soft"),
                         Bit(str(count.number.value), "strong", count.number.key), Bit("."))  # fmt: skip
            blocks.append(Para(line(said, *extra)))
            continue
        parts = _said(one)
        number = next((cue.number for cue in one.cues if cue.kind == "count"), None)
        if held.options.words_only:
            count_line: tuple[Line, ...] = ()
            if number is not None:
                count_line = (line("Then you have ", Bit(str(number.value), "strong", number.key),
                                   " stitches."),)  # fmt: skip
            items.append((line(strong(one.name + ". "), parts[0]), *parts[1:], *count_line))
            continue
        have = (
            line(Bit(str(number.value), "strong", number.key)) if number is not None else line("?")
        )
        rows.append((
            cell(Ticks(1, f"to tick for {one.name}")), cell(one.name, head=True),
            Cell(tuple(parts)), Cell((have,), right=True),
        ))  # fmt: skip
    close()
    return blocks


def _said(one: RowCue) -> list[Line]:
    """A row on the card."""
    if one.pace is None:
        return [line(cue.said) for cue in one.cues if cue.kind == "once"]
    out: list[Line] = []
    if one.first:
        out.append(line(_upper(one.first) + ". ", Bit(str(one.made[0]), "soft")))
    times = len(one.pace.passes)
    out.append(line(strong(f"{_upper(in_words(times))} times: "), one.once + "."))
    out.append(line(Bit(f"after each: {_running(one.made[1:])}", "soft")))
    ending = one.pace.repeat.last
    if ending is not None:
        last = next(cue.said for cue in reversed(one.cues) if cue.kind == "repeat")
        out.append(line("The last time: ", last[:1].lower() + last[1:]))
    if one.last:
        total = one.made[-1] + sum(done.stitch.makes for done in one.pace.last)
        out.append(line(_upper(one.last) + ". ", Bit(str(total), "soft")))
    return out


def _running(counts: Sequence[int]) -> str:
    if len(counts) <= MOST_LISTED:
        return ", ".join(str(n) for n in counts)
    head, tail = counts[: MOST_LISTED // 2], counts[-4:]
    return f"{', '.join(map(str, head))} … {', '.join(map(str, tail))}"


# ------------------------------------------------------------------ captions


def captions(
    proof: Proof, options: SheetOptions | None = None, *, seconds_a_stitch: float = 1.5
) -> str:
    """The cue card as captions (WebVTT): each part is shown while it is read out or worked,
    whichever takes longer.

    seconds_a_stitch   how fast the stitches are worked before the camera, 0.1 to 60
    Raises SheetProblem for a pace out of that range.
    """
    if not 0.1 <= seconds_a_stitch <= 60:
        raise SheetProblem("the pace is a number of seconds for a stitch, from 0.1 to 60")
    options = options or SheetOptions()
    held = matter(proof, _filming_size(proof, options))
    size = held.proof.pattern.sizes[held.drawn]
    title = _vtt(held.proof.pattern.title or "Pattern")
    out = ["WEBVTT", "", f"NOTE {title}{f', size {_vtt(size)}' if size else ''}", ""]
    at = 0
    number = 0
    now: SectionPart | None = None
    for part, row in cues_of(held, held.drawn):
        said: list[tuple[str, int, str]] = []
        if part is not now:
            now = part
            said.append((part.name, 0, ""))
        times = len(row.pace.passes) if row.pace is not None else 0
        through = 0
        for cue in row.cues:
            note = ""
            if cue.kind == "repeat":
                through += 1
                note = f"{through} of {times}: {cue.made} stitches"
            elif cue.kind == "once" and cue.made is not None and row.pace is not None:
                note = f"{cue.made} stitches"
            said.append((cue.said, cue.stitches, note))
        for words, stitches, note in said:
            number += 1
            seconds = max(
                LEAST_SECONDS, len(words.split()) / WORDS_A_SECOND, stitches * seconds_a_stitch
            )
            end = at + round(seconds * 1000)
            out.append(str(number))
            out.append(f"{_clock(at)} --> {_clock(end)}")
            out.append(_vtt(words))
            if note:
                out.append(_vtt(note))
            out.append("")
            at = end
    return "\n".join(out)


def _clock(ms: int) -> str:
    seconds, ms = divmod(ms, 1000)
    minutes, seconds = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02d}:{minutes:02d}:{seconds:02d}.{ms:03d}"


def _vtt(text: str) -> str:
    """Text for a caption: in one line, with the signs that mean something there made plain."""
    text = " ".join(text.split())
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
