"""From a proved text to its chart: the rows of a section knitted and laid out.

`chart_of` is the one way in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from chartc.counting import Works, count
from chartc.fabric import DoesNotFit, Fabric, Plan, knit
from chartc.knitting import TooManyStitches, plans
from chartc.pattern import Again, Instruction, Pattern, Plain, Row
from chartc.proof import Proof, row_gauge

if TYPE_CHECKING:
    from chartc.charting import Chart, ChartOptions, Flag

MOST_STITCHES = 60_000  # of a chart; no paper holds more
MOST_NARROW = 60  # stitches: an edge and two repeats no wider than this are shown by default


class NoChart(Exception):
    """There is nothing to draw; the message says why, in plain words."""


@dataclass(frozen=True)
class Knitted:
    """A section knitted for its chart.

    cast_on   stitches the first row is worked on
    narrow    shown on its edges and two repeats, not on all stitches of a size
    broken    why it ends before its last row, else ""
    """

    fabric: Fabric
    cast_on: int
    narrow: bool
    broken: str = ""


def chart_of(
    proof: Proof,
    *,
    section: str | int | None = None,
    size: str | int | None = None,
    whole: bool = False,
    options: ChartOptions | None = None,
    flags: Sequence[Flag] = (),
) -> Chart:
    """The chart of a section.

    section   its name or 0-based index; None: the first with rows
    size      name or 0-based index; None: the first
    whole     all stitches of the size; else the edges and two repeats, where the section works
              on any number of repeats
    options   how it is drawn
    flags     passages whose stitches are marked

    Rows from the first on that does not come out are left out, and a note says so. Raises
    NoChart when there is nothing to draw, or no such section or size.
    """
    from chartc.charting import ChartOptions, make_chart

    index = find_section(proof.pattern, section)
    knitted = knit_section(proof, index, find_size(proof.pattern, size), whole)
    name = proof.pattern.sections[index].name
    title = proof.pattern.title
    if name and name.casefold() != title.casefold() and len(proof.pattern.sections) > 1:
        title = f"{title}: {name}" if title else name
    notes = (knitted.broken,) if knitted.broken else ()
    return make_chart(
        knitted.fabric, title=title, options=options or ChartOptions(), notes=notes, flags=flags
    )


def has_rows(pattern: Pattern, section: int) -> bool:
    """Whether a section has rows of its own to draw."""
    stack: list[Instruction] = list(pattern.sections[section].flow)
    while stack:
        it = stack.pop()
        if isinstance(it, Row) and it.steps:
            return True
        if isinstance(it, Plain) and (it.steps or it.rhythm):
            return True
        if isinstance(it, Again):
            stack.extend(it.rows)
    return False


def find_section(pattern: Pattern, wanted: str | int | None) -> int:
    """A section by name or index. Raises NoChart, naming the sections there are."""
    drawable = [i for i in range(len(pattern.sections)) if has_rows(pattern, i)]
    if wanted is None:
        if not drawable:
            raise NoChart("there are no rows to draw in this text")
        # rows with numbers make a chart sooner than a few told by the way
        numbered = [
            i for i in drawable
            if sum(isinstance(it, Row) and it.number is not None for it in pattern.sections[i].flow) > 1
        ]  # fmt: skip
        return (numbered or drawable)[0]
    if isinstance(wanted, int):
        if 0 <= wanted < len(pattern.sections):
            return wanted
        raise NoChart(f"there is no section {wanted + 1}; there are {len(pattern.sections)}")
    folded = " ".join(wanted.split()).casefold()
    names = [" ".join(s.name.split()).casefold() for s in pattern.sections]
    found = [i for i, name in enumerate(names) if name == folded]
    found = found or [i for i, name in enumerate(names) if folded and folded in name]
    if not found:
        known = ", ".join(f"“{pattern.sections[i].name or 'Rows'}”" for i in drawable)
        raise NoChart(f"there is no section “{wanted}”; there are {known or 'none with rows'}")
    return next((i for i in found if i in drawable), found[0])


def find_size(pattern: Pattern, wanted: str | int | None) -> int:
    """A size by name or index. Raises NoChart, naming the sizes there are."""
    if wanted is None:
        return 0
    if isinstance(wanted, int):
        if 0 <= wanted < len(pattern.sizes):
            return wanted
        raise NoChart(f"there is no size {wanted + 1}; there are {len(pattern.sizes)}")
    for at, name in enumerate(pattern.sizes):
        if name.casefold() == wanted.strip().casefold():
            return at
    if len(pattern.sizes) < 2:
        raise NoChart("the text has one size only")
    raise NoChart(f"there is no size “{wanted}”; there are {', '.join(pattern.sizes)}")


def knit_section(proof: Proof, section: int, size: int = 0, whole: bool = False) -> Knitted:
    """The rows of a section as a fabric. Raises NoChart."""
    pattern = proof.pattern
    if not whole:
        found = _narrow(proof, pattern, section, size)
        if found is not None:
            return found
    try:
        cast_on, planned = plans(
            pattern, section, size, row_gauge=row_gauge(pattern), limit_stitches=MOST_STITCHES
        )
    except TooManyStitches as error:
        raise NoChart(f"more than {error.limit} stitches are too many for a chart") from None
    return _knitted(proof, cast_on, planned, narrow=False)


def _narrow(proof: Proof, pattern: Pattern, section: int, size: int) -> Knitted | None:
    """The section on its edges and two repeats; None when it has no repeat of its own."""
    works: Works | None
    if pattern.sections[section].starts == "goes on":
        # alone, and on any number that suits it, it tells what its own repeat is
        own = replace(pattern.sections[section], starts="free")
        pattern, section = replace(pattern, sections=(own,)), 0
        works = count(pattern, row_gauge(pattern)).sections[0].works
    else:
        works = proof.counted.sections[section].works
    if works is None or works.multiple < 1 or not works.holds(works.least):
        return None
    try:
        cast_on, planned = plans(
            pattern, section, size, cast_on=_two_repeats(works), row_gauge=row_gauge(pattern),
            limit_stitches=MOST_STITCHES,
        )  # fmt: skip
        if not planned:
            return None
        return Knitted(knit(cast_on, planned), cast_on, True)
    except (TooManyStitches, DoesNotFit):
        return None


def _two_repeats(works: Works) -> int:
    """Stitches of the edges and two repeats; some more where any number works."""
    if works.multiple == 1:
        return max(works.least, 12) if works.most is None else min(works.most, works.least + 12)
    number = works.least + works.multiple
    return number if number <= MOST_NARROW and works.holds(number) else works.least


def _knitted(proof: Proof, cast_on: int, planned: Sequence[Plan], *, narrow: bool) -> Knitted:
    if not planned:
        raise NoChart("there are no rows to draw in this part")
    try:
        return Knitted(knit(cast_on, planned), cast_on, narrow)
    except DoesNotFit as error:
        plan = planned[error.row]
        line = proof.source.locate(plan.span.start)[0]
        name = plan.label.strip().rstrip(":") or "the row"
        missing = "1 st more is" if error.short == 1 else f"{error.short} sts more are"
        why = f"{name} (line {line}) does not come out: {missing} needed than there are"
        if not error.row:
            raise NoChart(why) from None
        return Knitted(
            knit(cast_on, planned[: error.row]), cast_on, narrow, f"The chart ends here: {why}."
        )
