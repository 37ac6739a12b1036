"""Counting: every row of a pattern in every size, exactly, without unrolling.

`count` is the one way in. See `ledger` for what it returns and `events` for what it tells.
"""

from __future__ import annotations

from chartc.counting.events import Event
from chartc.counting.ledger import (
    Counted,
    LedgerEntry,
    Net,
    RepeatBalance,
    SectionCount,
    SizeCount,
    WholeText,
    Works,
)
from chartc.counting.whole import count

__all__ = [
    "Counted", "Event", "LedgerEntry", "Net", "RepeatBalance", "SectionCount", "SizeCount",
    "WholeText", "Works", "count",
]  # fmt: skip
