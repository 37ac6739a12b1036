"""How far the counting goes before it says so and stops."""

from __future__ import annotations

LIMIT = 10_000_000  # stitches; no needle holds more
FOLLOWED = 400  # times through followed one by one when the changes never settle
MOST_PASSES = 5000  # times through a bracket that has to be followed time by time
MOST_BRANCHES = 48  # cases followed side by side
DEEPEST = 60  # brackets within brackets; nobody knits deeper
MOST_VARIANTS = 24  # ways to read one row
