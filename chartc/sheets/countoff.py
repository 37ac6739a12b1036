"""What to do when the count is off: each slip tried on the row, and the number it leaves."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from chartc.sheets.document import (
    Bit,
    Block,
    Cell,
    Group,
    Heading,
    Items,
    Line,
    Para,
    Table,
    cell,
    line,
    strong,
)
from chartc.sheets.front import name_of
from chartc.sheets.gather import Number, RowLine, SectionPart
from chartc.sheets.matter import SheetMatter
from chartc.sheets.slips import Slip, slips_of
from chartc.sheets.wordbook import listed, slip_words, with_a


def _phrase(kind: str, names: Sequence[str]) -> str:
    said, _ = slip_words(kind)
    together = listed([with_a(name) for name in names], "or")
    return said.replace("{a}", together).replace("{name}", listed(list(names), "or"))


def _off_by(held: SheetMatter, slips: Sequence[Slip], right: int) -> list[tuple[int, str]]:
    """How far off, and what happened: the nearest first."""
    table: dict[tuple[int, bool], dict[str, list[str]]] = {}
    for slip in slips:
        name = name_of(slip.stitch, held.usage) if slip.stitch is not None else ""
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


def count_off(held: SheetMatter, part: SectionPart) -> list[Block]:
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
        names = rows_together([one for one, _ in members])
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


def rows_together(lines: Sequence[RowLine]) -> str:
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


def count_off_words(held: SheetMatter) -> list[Block]:
    size = held.proof.pattern.sizes[held.drawn]
    of = (
        f" The numbers are those of size {size}."
        if size and len(held.proof.pattern.sizes) > 1
        else ""
    )
    return [
        Para(line(
            "Each slip below was tried on the row, one at a time, and the row counted again."
            f"{of} Count one repeat at a time: the one with the wrong number is the place to "
            "look. On any row a stitch that dropped leaves you one short, and a strand caught on "
            "the needle one over."
        ), "lines")
    ]  # fmt: skip


def mending(held: SheetMatter) -> list[Block]:
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
        pairs.append(
            (line(strong(said[:1].upper() + said[1:] + ": "), mend[:1].lower() + mend[1:]),)
        )
    return [Group((Heading(3, "Putting it right"), Items(tuple(pairs))))]
