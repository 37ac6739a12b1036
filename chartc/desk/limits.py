"""What the desk allows in one request, and for how long it works on it."""

from __future__ import annotations

MOST_BODY = 2_500_000  # bytes of a request
MOST_TEXT = 400_000  # characters of a pattern
MOST_FILE = 2_000_000  # bytes of a file that is opened
MOST_LISTED = 2_000  # files of a folder that are listed
MOST_DEEP = 5  # folders within folders that are looked into
MOST_STITCHES = 20_000  # stitches of a chart on the page
MOST_KEPT = 200  # unsaved texts kept aside

# Seconds. A newer text of the same page puts an older one out of work at once when the older
# one has had PATIENCE; nothing is worked on longer than the time for its kind.
PATIENCE = 1.0
TIMES = {"count": 15.0, "proof": 20.0, "chart": 15.0, "compare": 20.0, "take": 15.0, "export": 60.0}
