"""The ledger as a list: the rows of all sizes side by side, long repetitions folded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from chartc.counting.flow import Piece
from chartc.counting.ledger import LedgerEntry, RepeatBalance, SizeCount
from chartc.counting.limits import DEEPEST
from chartc.counting.records import Key, Record
from chartc.counting.rows import survey
from chartc.pattern import Change, Num, Off, On, Repeat, Row, Step, Work
from chartc.source import Span

MOST_ENTRIES = 600  # a section's ledger lists every time through up to this length


def list_entries(pieces: Sequence[Piece], section: int) -> tuple[LedgerEntry, ...]:
    """The ledger of a section."""
    lists: list[list[Record]] = []
    longest = 0
    for piece in pieces:
        records = [r for r in piece.records if r.key[0] == section]
        lists.append(records)
        between = [b for b in piece.between if b.section == section]
        longest = max(longest, len(records) + sum(len(b) for b in between))
    fold = longest > MOST_ENTRIES
    if not fold:
        for piece, records in zip(pieces, lists, strict=True):
            between = [b for b in piece.between if b.section == section]
            for b in between:
                records.extend(b.every())
            if between:
                records.sort(key=lambda r: r.key)
    balances = _Balances()
    if len(pieces) == 1:
        size = pieces[0].size
        keys = [r.key for r in lists[0]]
        out = [_entry(section, [(size, r)], balances) for r in lists[0]]
    else:
        table: dict[Key, list[tuple[int, Record]]] = {}
        for piece, records in zip(pieces, lists, strict=True):
            for r in records:
                table.setdefault(r.key, []).append((piece.size, r))
        keys = sorted(table)
        out = [_entry(section, table[key], balances) for key in keys]
    return _folded(out, keys) if fold else tuple(out)


def _entry(section: int, records: list[tuple[int, Record]], balances: _Balances) -> LedgerEntry:
    first = records[0][1]
    sizes = tuple(SizeCount(s, r.before, r.used, r.made, r.after) for s, r in records)
    repeats = () if first.row is None else balances.of(first.row, records)
    return LedgerEntry(
        section, first.label, first.row, first.span, first.side, first.pass_number, sizes, repeats
    )


@dataclass(slots=True)
class _Sum:
    """A repeat of a row: what one time through does, in one size."""

    ident: int
    span: Span
    times: Num | None
    sums: tuple[int, int, int, int]


class _Balances:
    """The repeats of rows with their sums, worked out once for each row."""

    def __init__(self) -> None:
        self._known: dict[tuple[int, int], list[_Sum]] = {}

    def of(self, row: Row, records: list[tuple[int, Record]]) -> tuple[RepeatBalance, ...]:
        key = (id(row.steps), records[0][0])
        found = self._known.get(key)
        if found is None:
            found = self._known[key] = _sums(row.steps, records[0][0])
        if not found:
            return ()
        return tuple(
            RepeatBalance(
                one.ident, one.span, tuple(_times(one, s, r) for s, r in records), *one.sums
            )
            for one in found
        )


def _times(one: _Sum, size: int, record: Record) -> int | None:
    found = record.times.get(one.ident) if record.times is not None else None
    if found is None and one.times is not None:
        return one.times.at(size)
    return found if isinstance(found, int) else None


def _sums(steps: Sequence[Step], size: int) -> list[_Sum]:
    stack: list[Repeat] = [s for s in reversed(steps) if isinstance(s, Repeat)]
    if not stack or survey(steps).depth > DEEPEST:
        return []
    out: list[_Sum] = []
    while stack:
        step = stack.pop()
        out.append(_Sum(step.ident, step.span, step.times, body_sums(step.body, size)))
        stack.extend(s for s in reversed(step.body) if isinstance(s, Repeat))
    return out


def body_sums(body: Sequence[Step], size: int) -> tuple[int, int, int, int]:
    """Loops used, made, added and taken by some steps, brackets within included."""
    uses = makes = ups = downs = 0
    for step in body:
        if isinstance(step, Work):
            n = step.times.at(size)
            stitch = step.stitch
            uses += n * stitch.uses
            makes += n * stitch.makes
            net = stitch.net
            if net > 0:
                ups += n * net
            else:
                downs -= n * net
        elif isinstance(step, Repeat):
            n = step.times.at(size) if step.times is not None else 1
            u, m, a, b = body_sums(step.body, size)
            uses, makes, ups, downs = uses + n * u, makes + n * m, ups + n * a, downs + n * b
        elif isinstance(step, On):
            makes += step.count.at(size)
            ups += step.count.at(size)
        elif isinstance(step, Off) and step.count is not None:
            uses += step.count.at(size)
            downs += step.count.at(size)
        elif isinstance(step, Change):
            ups += max(0, step.by.at(size))
            downs -= min(0, step.by.at(size))
    return uses, makes, ups, downs


def _folded(entries: list[LedgerEntry], keys: list[Key]) -> tuple[LedgerEntry, ...]:
    """Only the first, second and last time through of each block."""
    last: dict[Key, int] = {}
    for key in keys:
        for at in range(2, len(key), 2):
            prefix = key[:at]
            last[prefix] = max(last.get(prefix, 0), key[at])
    out: list[LedgerEntry] = []
    before: dict[Key, int] = {}
    for entry, key in zip(entries, keys, strict=True):
        jumped = 0
        for at in range(2, len(key), 2):
            prefix, number = key[:at], key[at]
            if 2 < number < last[prefix]:
                break
            was = before.get(prefix)
            if was is not None and number > was + 1:
                jumped = number - was - 1
        else:
            for at in range(2, len(key), 2):
                before[key[:at]] = key[at]
            out.append(replace(entry, folded=jumped) if jumped else entry)
    return tuple(out)
