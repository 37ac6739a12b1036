"""A swatch to practise on: the fewest stitches that show two repeats."""

from __future__ import annotations

from chartc.sheets.countoff import rows_together
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
from chartc.sheets.gather import longest_run, window
from chartc.sheets.matter import SheetMatter
from chartc.sheets.wordbook import sts


def swatches(held: SheetMatter) -> list[Block]:
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
        names = rows_together(lines)
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
