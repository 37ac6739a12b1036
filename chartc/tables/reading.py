"""A chart from a spreadsheet, read into the same pattern that words are read into."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from chartc.pattern import (
    CastOn,
    Fact,
    Fill,
    Instruction,
    Num,
    Own,
    Pattern,
    Reach,
    Remark,
    Repeat,
    Row,
    Section,
    Step,
    Target,
    Unread,
    Work,
)
from chartc.source import Source, Span
from chartc.stitch import Stitch
from chartc.tables.cells import named
from chartc.tables.fields import Field, split_lines
from chartc.tables.layout import ChartLine, Layout, lay_out_lines
from chartc.vocabulary import Vocabulary, load_vocabulary

_NO_STITCH = frozenset({"no stitch", "no st", "nostitch"})
_CHECK = "not-understood"


def looks_like_table(name: str) -> bool:
    """Whether a file of this name holds a chart kept in a spreadsheet."""
    return name.lower().endswith((".csv", ".tsv", ".tab"))


def read_table(source: Source) -> Pattern:
    """The pattern a table holds (see the package for what a table may look like).

    Never raises for what the table says: what cannot be read is a remark of the pattern, and
    the cell is a step that could not be read.
    """
    return _Table(source).pattern()


@dataclass(frozen=True, slots=True)
class _Placed:
    """A cell read: the columns it takes, and what is worked there (None: no stitch)."""

    column: int
    width: int
    step: Step | None


class _Table:
    def __init__(self, source: Source) -> None:
        self.source = source
        self.layout: Layout = lay_out_lines(split_lines(source))
        self.remarks: list[Remark] = []
        self.own: list[Own] = []
        self.marks: dict[str, Stitch] = {}
        self.used: dict[str, Span] = {}
        self.vocabulary: Vocabulary = load_vocabulary()
        self._read_key()
        self.background = self._stitch_of("background", "k")
        self.no_stitch = {
            mark for mark in re.split(r"[,\s]+", self._value("no stitch").lower()) if mark
        }
        self.as_worked = "worked" in self._value("cells").lower()
        self.merged = not any(
            cell.text == "<" for row in self.layout.rows for cell in row.cells
        )  # a spreadsheet's merged cells: empty ones after the first

    # -------------------------------------------------------------- headings and key

    def _value(self, name: str) -> str:
        heading = self.layout.heading(name)
        return heading.value if heading else ""

    def _remark(self, span: Span, message: str) -> None:
        self.remarks.append(Remark(_CHECK, span, message))

    def _stitch_of(self, name: str, otherwise: str) -> Stitch:
        heading = self.layout.heading(name)
        if heading is not None:
            stitch = self.vocabulary.named(heading.value.rstrip("."))
            if stitch is not None and (stitch.uses, stitch.makes) == (1, 1):
                return stitch
            self._remark(heading.value_span, f"“{heading.value}” is no stitch for whole rows; "
                         "write knit or purl")  # fmt: skip
        return self.vocabulary.get(otherwise)

    def _read_key(self) -> None:
        owned: list[tuple[str, Stitch]] = []
        for line in self.layout.key:
            mark = line.mark.lower()
            stitch = self.vocabulary.named(line.words)
            if stitch is None:
                stitch = self._own_stitch(line.mark, line.words)
                self.own.append(Own(line.mark, stitch, line.span, line.words))
                if stitch is None:
                    self._remark(line.words_span, f"it is not clear how “{line.mark}” is worked")
                else:
                    owned.append((line.mark, stitch))
            if stitch is not None:
                self.marks[mark] = stitch
        if owned:
            self.vocabulary = self.vocabulary.with_own(owned)

    def _own_stitch(self, mark: str, words: str) -> Stitch | None:
        """A stitch explained in the key, worked out as from a written explanation."""
        from chartc.reading import read

        explained = read(Source(self.source.name, f"Key\n\nSpecial stitches:\n{mark}: {words}\n"))
        return next((own.stitch for own in explained.own if own.stitch is not None), None)

    # -------------------------------------------------------------- rows

    def pattern(self) -> Pattern:
        layout = self.layout
        for span, message in layout.troubles:
            self._remark(span, message)
        if not layout.rows:
            self._remark(Span(0, min(1, len(self.source.text))), "there is no chart in this table")
        self._remark_dropped()
        in_round = self._in_round()
        upward = self._upward()
        ordered = list(reversed(layout.rows)) if upward else list(layout.rows)
        rows: list[Row] = []
        for place, line in enumerate(ordered):
            number = line.label.number if line.label else None
            if number is None and not any(r.label and r.label.number for r in ordered):
                number = place + 1
            side = "" if in_round else self._side(line, number, place)
            rows.append(self._row(line, number, side, in_round))
        rows = self._with_other_rows(rows)
        title = self._value("title")
        flow: list[Instruction] = list(rows)
        starts = "free"
        cast_on = layout.heading("cast on")
        if cast_on is not None:
            figure = re.search(r"\d+", cast_on.value)
            if figure is None:
                self._remark(cast_on.span, "the number of stitches to cast on is missing")
            else:
                starts = "cast on"
                count = Num((int(figure[0]),), cast_on.value_span)
                flow.insert(0, CastOn(count, "cast on", cast_on.span, join=in_round))
        whole = Span(0, len(self.source.text))
        section = Section("", whole, tuple(flow), starts, in_round, written=tuple(rows))
        facts = tuple(
            Fact(h.name, h.value, h.span, h.value_span) for h in layout.headings if not h.known
        )
        self.remarks.sort(key=lambda remark: remark.span)
        return Pattern(
            title, ("",), "round" if in_round else "flat", (section,), facts, tuple(self.own), (),
            tuple(self.remarks), self.used, {line.mark: line.span for line in layout.key},
        )  # fmt: skip

    def _remark_dropped(self) -> None:
        left, right = self.layout.dropped
        first = self.layout.rows[0].line.span if self.layout.rows else Span(0, 0)
        if left:
            self._remark(first, f"{_columns(left)} at the left edge left out as empty; "
                         "a line “Columns: ” with their number makes them stitches")  # fmt: skip
        del right  # spreadsheets add empty columns at the right: nothing to say
        if self.layout.dropped_rows:
            self._remark(first, "empty lines above or below the chart left out; "
                         "number the rows to make them rows")  # fmt: skip

    def _in_round(self) -> bool:
        said = self._value("worked").lower()
        if said:
            return "round" in said
        return any(row.label and row.label.in_round for row in self.layout.rows)

    def _upward(self) -> bool:
        said = self._value("read").lower()
        if "down" in said:
            return False
        if "up" in said:
            return True
        numbers = [r.label.number for r in self.layout.rows if r.label and r.label.number]
        return len(numbers) < 2 or numbers[0] > numbers[-1]

    def _side(self, line: ChartLine, number: int | None, place: int) -> str:
        label = line.label
        if label and label.side:
            return label.side
        rows = self.layout.rows
        first = self._value("first row").upper()
        sides = {row.label.at_right for row in rows if row.label}
        if len(sides) == 2 and label:
            return "RS" if label.at_right else "WS"
        said = [
            (row.label.number, row.label.side)
            for row in rows
            if row.label and row.label.number is not None and row.label.side
        ]
        if number is not None and said and not first:
            odd = said[0][1] == ("RS" if said[0][0] % 2 else "WS")
            return "RS" if (number % 2 == 1) == odd else "WS"
        steps = number - 1 if number is not None else place
        rightly = steps % 2 == 0
        return "RS" if rightly != first.startswith("WS") else "WS"

    def _row(self, line: ChartLine, number: int | None, side: str, in_round: bool) -> Row:
        placed = self._placed(line, side)
        rightward = side == "WS" and not in_round
        steps = self._steps(line, placed, rightward)
        cells = [cell.span for cell in line.cells] or [line.line.span]
        body = Span(min(s.start for s in cells), max(s.end for s in cells))
        head = line.label.field.span if line.label else Span(body.start, body.start)
        word = "Rnd" if in_round else "Row"
        label = f"{word} {number}" if number is not None else ""
        readable = not any(isinstance(step, Unread) for step in _flat(steps))
        return Row(label, number, side, in_round, steps, (), line.line.span, head, body, readable)

    # -------------------------------------------------------------- cells

    def _placed(self, line: ChartLine, side: str) -> list[_Placed]:
        """The cells of a row from left to right, those that span columns taken together."""
        found: list[_Placed] = []
        cells = line.cells
        at = 0
        while at < len(cells):
            cell = cells[at]
            step, spans = self._cell(cell, side, line, at)
            end = at + 1
            while end < len(cells) and cells[end].text == "<":
                end += 1
            wide = spans > 1 and isinstance(step, Work) and step.times.values[0] == 1
            if wide and self.merged and end == at + 1:
                while end < len(cells) and end < at + spans and not cells[end].text:
                    end += 1
                if end != at + spans:
                    end = at + 1
            if isinstance(step, Work) and step.times.values[0] > 1:
                times = step.times.values[0]
                if end - at != times:
                    self._remark(cell.span, f"{self._where(line, at)}: “{cell.text}” is {times} "
                                 "stitches in one cell; a cell holds one stitch")  # fmt: skip
            span = cell.span if end == at + 1 else cell.span.join(cells[end - 1].span)
            if step is not None and not isinstance(step, Unread):
                step = replace(step, span=span)
            found.append(_Placed(at, end - at, step))
            at = end
        return found

    def _where(self, line: ChartLine, column: int) -> str:
        name = f"row {line.label.number}" if line.label and line.label.number else (
            f"line {line.line.number}"
        )  # fmt: skip
        return f"{name}, column {column + 1}"

    def _cell(
        self, cell: Field, side: str, line: ChartLine, column: int
    ) -> tuple[Step | None, int]:
        """What is worked in a cell, and the columns a stitch of its kind spans."""
        text = cell.text
        if text == "<":
            self._remark(cell.span, f"{self._where(line, column)}: “<” has no stitch at its left "
                         "to belong to")  # fmt: skip
            return Unread(cell.span, text), 1
        folded = " ".join(text.lower().split())
        if not text:
            return self._worked(self.background, 1, cell, side, line, column)
        if folded in _NO_STITCH or folded in self.no_stitch:
            return None, 1
        stitch = self.marks.get(folded)
        if stitch is not None:
            return self._worked(stitch, 1, cell, side, line, column)
        on_ws = folded.startswith("ws ")
        if on_ws:
            text = text[2:].strip()
        stitch, times = self._named(text)
        if stitch is None:
            self._unknown(cell, line, column)
            return Unread(cell.span, cell.text), 1
        return self._worked(stitch, times, cell, "" if on_ws else side, line, column)

    def _named(self, text: str) -> tuple[Stitch | None, int]:
        stitch = self.marks.get(text.lower())
        if stitch is not None:
            return stitch, 1
        return named(text, self.vocabulary) or (None, 1)

    def _unknown(self, cell: Field, line: ChartLine, column: int) -> None:
        where = self._where(line, column)
        if cell.text in ("-", "–", "—", "x", "X", "×", "#", "."):
            self._remark(
                cell.span,
                f"{where}: “{cell.text}” is no stitch by itself; if it means that there is none "
                f"here, write “No stitch: {cell.text}” above the chart, else "
                f"“{cell.text} = ” and the stitch",
            )
            return
        near = self.vocabulary.nearest(cell.text, 1)
        hint = f"; is it “{near[0]}”?" if near else f"; say what it is: “{cell.text} = ...”"
        self._remark(cell.span, f"{where}: “{cell.text}” is not understood{hint}")

    def _worked(
        self, stitch: Stitch, times: int, cell: Field, side: str, line: ChartLine, column: int
    ) -> tuple[Step | None, int]:
        """The stitch as it is worked on its side; a chart shows it from the right side."""
        spans = stitch.makes if stitch.strands else 1
        if side == "WS" and not self.as_worked:
            twin = self.vocabulary.twin(stitch)
            if twin is None:
                self._remark(
                    cell.span,
                    f"{self._where(line, column)}: nothing worked on the wrong side looks like "
                    f"“{cell.text}” on the right side; if it is worked there, write "
                    f"“WS {cell.text}”",
                )
                return Unread(cell.span, cell.text), 1
            stitch = twin
        self.used.setdefault(stitch.key, cell.span)
        return Work(stitch, Num((times,)), cell.span), spans

    # -------------------------------------------------------------- steps

    def _steps(
        self, line: ChartLine, placed: Sequence[_Placed], rightward: bool
    ) -> tuple[Step, ...]:
        working = list(placed) if rightward else list(reversed(placed))
        if line.repeat is None:
            return tuple(item.step for item in working if item.step is not None)
        start, end = line.repeat
        for item in placed:
            inside = start <= item.column < end
            if inside != (start < item.column + item.width <= end):
                cell = line.cells[item.column]
                self._remark(cell.span, f"{self._where(line, item.column)}: “{cell.text}” reaches "
                             "across the edge of the repeat")  # fmt: skip
        before: list[Step] = []
        body: list[Step] = []
        after: list[Step] = []
        for item in working:
            if item.step is None:
                continue
            if start <= item.column < end:
                body.append(item.step)
            else:
                ahead = item.column < start if rightward else item.column >= end
                (before if ahead else after).append(item.step)
        if not body:
            return (*before, *after)
        span = body[0].span.join(body[-1].span)
        tail = sum(_uses(step) for step in after)
        target = Target(Reach.LAST, Num((tail,))) if tail else Target(Reach.END)
        return (*before, Repeat(tuple(body), None, target, span), *after)

    def _with_other_rows(self, rows: list[Row]) -> list[Row]:
        """The rows the chart leaves out, where a heading says what they are."""
        heading = self.layout.heading("other rows")
        numbers = [row.number for row in rows if row.number is not None]
        if heading is None or len(numbers) != len(rows) or not rows:
            return rows
        stitch = self._stitch_of("other rows", "p")
        self.used.setdefault(stitch.key, heading.value_span)
        every = {row.number: row for row in rows}
        last = max(numbers) + (1 if len({n % 2 for n in numbers}) == 1 and max(numbers) % 2 else 0)
        sided = next((row for row in rows if row.side), None)
        found: list[Row] = []
        for number in range(min(1, *numbers), last + 1):
            row = every.get(number)
            if row is None:
                in_round = rows[0].in_round
                side = ""
                if sided is not None and sided.number is not None:
                    same = (number - sided.number) % 2 == 0
                    side = sided.side if same else {"RS": "WS", "WS": "RS"}[sided.side]
                step = Fill(stitch, Target(Reach.END), heading.value_span)
                row = Row(f"{'Rnd' if in_round else 'Row'} {number}", number, side, in_round,
                          (step,), (), heading.span, heading.span, heading.value_span)  # fmt: skip
            found.append(row)
        return found


def _columns(count: int) -> str:
    return "1 column" if count == 1 else f"{count} columns"


def _uses(step: Step) -> int:
    return step.stitch.uses * step.times.values[0] if isinstance(step, Work) else 1


def _flat(steps: Sequence[Step]) -> list[Step]:
    found: list[Step] = []
    for step in steps:
        found.extend(step.body if isinstance(step, Repeat) else (step,))
    return found
