"""Charts kept in a spreadsheet: one cell per stitch, saved as CSV or TSV.

What such a table may look like
-------------------------------
Lines before or after the chart, one cell each, `Name: value`:

    Title: Sluice Eyelets
    Worked: flat                  or: in the round. Left out: the row labels tell, else flat
    Cast on: 35 sts               left out: the chart is a stitch pattern of its own
    Background: knit              the stitch of an empty cell (left out: knit)
    No stitch: x                  the mark of a cell without a stitch ("-", "x", any word);
                                  "no stitch" and "no st" always mean that
    Read: bottom up               or: top down. Left out: the row numbers tell, else bottom up
    Cells: as seen from the right side    or: as worked. Left out: as seen from the right side
    First row: RS                 or: WS. Left out: row numbers and their side tell, else RS
    Other rows: purl              rows whose numbers the chart leaves out are all this stitch,
                                  as it is worked
    Columns: 19                   how many columns are chart, where empty ones might be meant

and lines `mark = meaning`, for marks that are no trade abbreviation ("o = yo") and for the
designer's own stitches ("ML = (k1, yo, k1) in next st, turn, p3, turn, sk2p"). Any other
`Name: value` line is kept as a fact ("Gauge: ...").

Each other line is a row of the chart:

- a cell is a stitch in trade abbreviations, capitals or not; an empty cell is the background;
- a stitch that spans cells stands in the left one, `<` in each of the others. The empty cells a
  spreadsheet leaves of merged cells do as well after a cable, where no `<` is used anywhere;
- `WS kfb` in a right-side view is a stitch worked on the wrong side that has no name as it looks
  from the right side;
- row numbers stand in the first column, the last, or both (then those at the right are read
  from right to left, those at the left from left to right): `3`, `Row 3`, `Rnd 3`, `3 RS`;
- a line with nothing but `[` and `]` (or two `|`) marks the first and last column of the repeat.
  One such line is for the whole chart; of several, each is for the rows above it.

Columns run from left to right as the fabric is seen from the right side. Fields are separated
by commas, semicolons or tabs; fields may be quoted.
"""

from typing import TYPE_CHECKING

from chartc.tables.reading import looks_like_table, read_table

if TYPE_CHECKING:
    from chartc.tables.writing import CannotTabulate, write_table

__all__ = ["CannotTabulate", "looks_like_table", "read_table", "write_table"]


def __getattr__(name: str) -> object:
    # writing loads the charts, which a proof has no use for
    if name in ("CannotTabulate", "write_table"):
        from chartc.tables import writing

        return getattr(writing, name)
    raise AttributeError(f"module 'chartc.tables' has no attribute {name!r}")
