"""The key of a chart: the symbols used and nothing else, each with what it means."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from chartc.charting.grid import Grid
from chartc.charting.options import Usage
from chartc.charting.symbols import lettered
from chartc.stitch import Stitch


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a symbol means on one side: "RS", "WS" or "" (both, or rounds)."""

    side: str
    name: str
    title: str
    how: str


@dataclass(frozen=True, slots=True)
class Entry:
    """A symbol of the chart. `letters` is set in the cell where the rules alone cannot tell
    two stitches apart; `behind` marks a stitch worked on the wrong side without a partner."""

    stitch: Stitch
    behind: bool
    letters: str
    meanings: tuple[Meaning, ...]


@dataclass(frozen=True, slots=True)
class Legend:
    """Entries in the order met, and which other signs the chart uses."""

    entries: tuple[Entry, ...]
    no_stitch: bool = False
    resting: bool = False
    frame: bool = False
    usage: Usage = "us"
    letters: dict[tuple[str, bool], str] = field(default_factory=dict)


_SIDES = ("RS", "", "WS")
_BRITISH = (("bind off", "cast off"), ("Bind off", "Cast off"), ("bound off", "cast off"))


def in_usage(text: str, usage: Usage) -> str:
    """A sentence of the vocabulary (US usage) as it is said there."""
    if usage == "uk":
        for us, uk in _BRITISH:
            text = text.replace(us, uk)
    return text


def abbreviation(stitch: Stitch, usage: Usage = "us") -> str:
    """The abbreviation to print."""
    return (stitch.uk if usage == "uk" else stitch.us) or stitch.us or stitch.key


def make_legend(
    grid: Grid,
    usage: Usage = "us",
    *,
    hatched: bool = True,
    beside: Iterable[tuple[Stitch, bool]] = (),
) -> Legend:
    """The key for a grid. `beside` are stitches of other charts under the same key, so that
    letters agree between them; `hatched` tells whether missing stitches are drawn."""
    shown = grid.stitches()
    letters = lettered([*shown, *beside], lambda stitch: abbreviation(stitch, usage))
    meanings: dict[tuple[Stitch, bool], dict[tuple[str, Stitch], None]] = {}
    seen: set[tuple[int, int, bool, str]] = set()  # by identity
    for row in grid.rows:
        side = "" if row.in_round else row.side
        for cell in row.working():
            if cell.stitch is not None and cell.worked is not None:
                mark = (id(cell.stitch), id(cell.worked), cell.wrong_side, side)
                if mark in seen:
                    continue
                seen.add(mark)
                worked = meanings.setdefault((cell.stitch, cell.wrong_side), {})
                worked.setdefault((side, cell.worked))
    entries = []
    # The plain stitches first, then the others as they are met.
    for stitch, behind in sorted(shown, key=lambda pair: pair[0].kind != "plain" or pair[1]):
        met = sorted(meanings[(stitch, behind)], key=lambda pair: _SIDES.index(pair[0]))
        alike = len({pair[1] for pair in met}) == 1
        told = []
        for side, stitch_worked in met[:1] if alike else met:
            # A symbol with one meaning says its side only when that is the wrong side.
            says = "" if alike and (len(met) > 1 or side != "WS") else side
            told.append(
                Meaning(
                    says,
                    abbreviation(stitch_worked, usage),
                    in_usage(stitch_worked.title or stitch_worked.key, usage),
                    in_usage(stitch_worked.how, usage),
                )
            )
        entries.append(Entry(stitch, behind, letters.get((stitch.key, behind), ""), tuple(told)))
    cells = [cell for row in grid.rows for cell in row.cells]
    return Legend(
        tuple(entries),
        no_stitch=any(cell.kind == "none" and (hatched or not cell.outside) for cell in cells),
        resting=any(cell.kind == "rest" for cell in cells),
        frame=bool(grid.frames),
        usage=usage,
        letters=letters,
    )
