"""What a stitch is: the record every other stage works with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

# What a loop made by a stitch looks like from the side it is worked on.
#   k, p        a knit or a purl loop          ktbl, ptbl  the same, twisted
#   yo          a strand laid over the needle  sl, slf     slipped, yarn behind / in front
#   m, mp       a lifted strand worked knit / purl, twisted shut
HeadForm = Literal["k", "p", "ktbl", "ptbl", "yo", "sl", "slf", "m", "mp"]
Lean = Literal["left", "right", "centre"]


@dataclass(frozen=True, slots=True)
class Stitch:
    """One stitch as a knot: the loops it uses, the loops it makes, how they lie.

    key       unique, lower case, as a designer would abbreviate it ("k2tog")
    uses      loops taken from the left-hand needle (0 or more)
    makes     loops left on the right-hand needle (0 or more)
    kind      family, for the glossary: "plain", "slip", "increase", "decrease", "yarn over",
              "cable", "bobble", "bind off", "cast on", "drop", "brioche", "own"
    heads     one form per loop made, in the order they are made
    front     indices of the loops used, the one that lies in front first; index 0 is the loop
              worked first (the right-most as the worker sees it). Always a permutation of
              range(uses)
    strands   for cables: for each loop made, in the order they are made, the index of the
              loop used it comes from; () for other stitches. For k2/2 held in front:
              (2, 3, 0, 1)
    over      for cables: the indices of loops used that pass in front
    lean      the way a decrease (or a lifted increase, or a cable's front strands) leans,
              as the worker sees it
    wraps     times the yarn goes round the needle beyond once (elongated stitches)
    extra     marks for things the counts do not show: "bobble" worked back and forth, "below"
              worked in the row below, "pass" a loop passed over several, "wrap" worked with
              its short-row wrap, "drop" let go, "yarn over" slipped with its yarn over,
              "brioche" worked with it
    title     the stitch in words, US usage ("knit two together")
    us, uk    the abbreviation to print in each usage
    how       one plain sentence on how to work it
    twin      key of the stitch that, worked on the other side, looks the same as this one
              looks from this side ("k2tog" <-> "p2tog"); "" when there is none
    mirror    key of the mirror image ("k2tog" <-> "ssk"); its own key when symmetrical
    source    where the term is published, or "common practice, no source"
    like      key of the stitch usually printed instead of this one ("ksp" is like "k2tog");
              "" for most
    counted   the abbreviation with "#" where the number of times goes ("k# tbl"); "" when
              the times are written after it
    asks      what a pattern must say before this stitch is fully known ("how the bobble is
              worked"); "" when nothing
    """

    key: str
    uses: int
    makes: int
    kind: str = "plain"
    heads: tuple[HeadForm, ...] = ()
    front: tuple[int, ...] = ()
    strands: tuple[int, ...] = ()
    over: frozenset[int] = frozenset()
    lean: Lean | None = None
    wraps: int = 0
    extra: tuple[str, ...] = ()
    title: str = ""
    us: str = ""
    uk: str = ""
    how: str = ""
    twin: str = ""
    mirror: str = ""
    source: str = ""
    like: str = ""
    counted: str = ""
    asks: str = ""

    @property
    def net(self) -> int:
        """Loops gained (positive) or lost (negative)."""
        return self.makes - self.uses
