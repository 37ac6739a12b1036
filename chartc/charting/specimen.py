"""The drawn table of all symbols: `python -m chartc.charting.specimen FILE.svg`."""

from __future__ import annotations

import sys
from pathlib import Path

from chartc.charting.svg import draw_table
from chartc.stitch import Stitch
from chartc.vocabulary import Vocabulary, load_vocabulary

# Some of the stitches that are given by rule rather than by list.
BY_RULE = (
    ("Together, by rule", "k4tog p4tog k5tog k4togtbl"),
    ("Yarn overs, by rule", "yo2 yo3"),
    ("Crossed, by rule", "c4f c4b 1/1lc 1/1rc 2/1lc 2/1rc 1/2lc 1/2rc 1/1lpc 1/1rpc 2/1lpc "
     "2/1rpc 2/2lpc 2/2rpc 3/1lc 3/1rc c6f c6b"),
)  # fmt: skip
_HEADINGS = {
    "plain": "Plain", "slip": "Slipped", "decrease": "Decreases", "increase": "Increases",
    "yarn over": "Yarn overs", "bobble": "Bobbles and nupps", "brioche": "Brioche",
    "drop": "Dropped", "bind off": "Ended", "cast on": "Begun", "cable": "Crossed",
}  # fmt: skip


def groups(vocabulary: Vocabulary) -> list[tuple[str, list[Stitch]]]:
    """Every listed stitch by family, then some given by rule."""
    families: dict[str, list[Stitch]] = {}
    for stitch in vocabulary.stitches.values():
        heading = _HEADINGS.get(stitch.kind, stitch.kind.capitalize())
        families.setdefault(heading, []).append(stitch)
    found = list(families.items())
    listed = set(vocabulary.stitches)
    for heading, keys in BY_RULE:
        made = [vocabulary.find(key) for key in keys.split() if key not in listed]
        found.append((heading, [stitch for stitch in made if stitch is not None]))
    return [(heading, stitches) for heading, stitches in found if stitches]


def table() -> str:
    """The table as the text of an SVG file."""
    return draw_table("Chart symbols", groups(load_vocabulary()))


def main() -> None:
    target = Path(sys.argv[1])
    fresh = target.with_suffix(".new")
    fresh.write_text(table(), encoding="utf-8")
    fresh.replace(target)


if __name__ == "__main__":
    main()
