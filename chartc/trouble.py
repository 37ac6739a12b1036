"""What the person at the keyboard has to put right, and the exit codes."""

FINE, WRONG, FAILED = 0, 1, 2


class Trouble(Exception):
    """Something the person at the keyboard has to put right; said in plain words."""
