"""chartc: the compiler and proof-reader for written knitting."""

from __future__ import annotations

__version__ = "0.1.0"
