"""The rows of a section on a class sheet: the chart, words and counts side by side, boxes to tick,
checkpoints, and where markers go."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from chartc.charting import Grid
from chartc.fabric import Plan
from chartc.pattern import Fill, Mark, Repeat, Row, Step, Work, walk
from chartc.sheets import pictures
from chartc.sheets.countoff import rows_together
from chartc.sheets.document import (
    Bit,
    Block,
    Cell,
    Figure,
    Group,
    Heading,
    Items,
    Line,
    Para,
    Picture,
    Table,
    Tally,
    Ticks,
    cell,
    line,
    strong,
)
from chartc.sheets.gather import Number, RowLine, RunOfRows, SectionPart, Telling
from chartc.sheets.matter import SheetMatter
from chartc.sheets.rowtrack import checkpoint, markers
from chartc.sheets.wordbook import listed, sts

MOST_BOXES = 8  # boxes to tick beside a row; more go into a tally below
MOST_TALLY = 100
LEAST_BETWEEN = 5  # stitches between markers that are worth placing
OPEN_BOXES = 6  # beside a row worked "to the length you like"


def section_part(held: SheetMatter, part: SectionPart) -> list[Block]:
    section = part.section
    title = part.name
    if section.multiple is not None:
        plus = f" + {section.multiple.plus}" if section.multiple.plus else ""
        title += f" (multiple of {section.multiple.of} sts{plus})"
    blocks: list[Block] = [Heading(2, title)]
    grid = held.grids.get(part.index)
    if not part.pieces:
        return []
    markers_told = markers_part(held, part)
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
    boxes = OPEN_BOXES if open_ and not known else often
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
    tallied: dict[int, list[RowLine]] = {}  # rows worked too often for boxes beside them
    for number, one in enumerate(run.lines):
        count = boxes if often else one.times.get(held.drawn, 0)
        if count > MOST_BOXES:
            tallied.setdefault(count, []).append(one)
            count = 1
        tick = Ticks(max(1, count), f"to tick for {one.name}")
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
        cells = [
            cell(tick),
            cell(one.label, *([Bit(one.side, "soft")] if one.side else []), head=True),
        ]
        if strips:
            strip = strips.get(number)
            cells.append(
                cell(strip) if strip is not None else cell(Bit("(not in the chart)", "soft"))
            )
        if words or not held.options.symbols_only or not strips:
            cells.append(cell(*words) if words else cell(""))
        elif held.options.symbols_only:
            cells.append(cell(""))
        cells.append(Cell((counted,), right=True))
        rows.append(tuple(cells))
    wide = held.options.text_mm[0]
    letter = held.options.letters_pt / 10.5
    tick_w = min(20.0, 4.2 * min(most_boxes, 4) + 4) * letter
    longest_label = max(len(one.label) for one in run.lines)
    label_w = min(30.0, max(17.0, longest_label * 2.0 + 4)) * letter
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
    about = "about " if open_ else ""
    for count, lines in tallied.items():
        if count <= MOST_TALLY:
            told = f"{rows_together(lines)}, {about}{count} times:"
            label = f"{count} boxes, one for each time through"
            blocks.append(Tally(line(Bit(told, "soft")), Ticks(count, label)))
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
    if all_plain(one):
        return ()
    style = held.style
    if "\u00a0" in one.words or re.search(r"\b(?:knit|purl) (?:one|two|three|\d)", one.words, re.I):
        style = replace(style, words="spelled")
    found = checkpoint(one.row, plan, before[0].value, held.drawn, style, held.text)
    if found is None:
        return ()
    then = f", then {found.then}" if found.then else ""
    size = ""
    if len(held.shown) > 1 and has_sizes(one.row.steps):
        size = f" (size {held.proof.pattern.sizes[held.drawn]})"
    return line(Bit(f"{sts(found.left)} left{size}: one more {found.once}{then}.", "soft"))


def all_plain(one: RowLine) -> bool:
    """Whether the row is knit and purl stitches only: ribs need no checkpoint."""
    worked = [step.stitch for step in walk(one.row.steps) if isinstance(step, Work | Fill)]
    return all(stitch is not None and stitch.key in ("k", "p") for stitch in worked)


def has_sizes(steps: Sequence[Step]) -> bool:
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


def markers_part(held: SheetMatter, part: SectionPart) -> list[Block]:
    told: list[Line] = []
    for piece in part.pieces:
        if isinstance(piece, Telling) and re.search(
            r"\b(?:pm|place (?:a )?marker)", piece.text, re.I
        ):
            if re.search(r"\bbeg|\bjoin|start of", piece.text, re.I):
                told.append(line("One marker for the beginning of the round."))
            continue
        if isinstance(piece, RunOfRows):
            for one in piece.lines:
                marks = [s for s in walk(one.row.steps) if isinstance(s, Mark) and s.op == "place"]
                if marks:
                    told.append(
                        line(f"{one.name} places {_markers_word(len(marks))} as its words say.")
                    )
    rows: list[tuple[Row, Plan, int]] = []
    for one in part.lines():
        plan = held.plan(part, one)
        before = one.before.get(held.drawn)
        if plan is None or not before or before[0].value is None:
            rows = []
            break
        rows.append((one.row, plan, before[0].value))
    ribbed = all(all_plain(one) for one in part.lines())
    found = markers(rows) if rows and not ribbed else None
    if found is not None and found.every >= LEAST_BETWEEN:
        size = ""
        if len(held.shown) > 1 and any(has_sizes(one.row.steps) for one in part.lines()):
            size = f" (size {held.proof.pattern.sizes[held.drawn]})"
        first = part_first(part)
        text = (
            f"Between the repeats{size}: on {first} put a marker after {sts(found.first)}"
            if found.first != found.every
            else f"Between the repeats{size}: on {first} put a marker"
        )
        text += (
            f"{' and then' if found.first != found.every else ''} after every {sts(found.every)}."
        )
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
