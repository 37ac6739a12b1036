"""Patterns turned: flat into the round and back, mirrored, the start moved.

`turn`, `mirror` and `rebase` each give a `Turned`: the new text and the pattern it reads as.
Where a thing cannot be done they raise `CannotTurn` with the reason.
"""

from chartc.turning.mirroring import mirror, mirror_pattern
from chartc.turning.rebasing import best_start, rebase
from chartc.turning.result import CannotTurn, Turned
from chartc.turning.sides import turn

__all__ = ["CannotTurn", "Turned", "best_start", "mirror", "mirror_pattern", "rebase", "turn"]
