"""Ribs known by name."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from chartc.stitch import Stitch

_OTHER = {"k": "p", "p": "k"}


def shown_faces(facing: Sequence[Stitch], rightward: bool) -> str:
    """How a row of knit and purl looks from the right side, from the right edge: "kpkp"; ""
    where it holds any other stitch. `facing` are the stitches as they are worked."""
    keys = [stitch.key for stitch in facing]
    if any(key not in _OTHER for key in keys):
        return ""
    return "".join(_OTHER[key] if rightward else key for key in keys)


def rib_name(faces: str) -> str:
    """ "1x1 rib" for alternate columns of knit and purl of even widths; "" for anything else,
    and for a row too narrow to tell."""
    columns = [(face, len(list(group))) for face, group in groupby(faces)]
    inner = columns[1:-1]
    widths = {face: {n for f, n in inner if f == face} for face in "kp"}
    if len(inner) < 2 or any(len(found) != 1 for found in widths.values()):
        return ""
    limits = {face: next(iter(found)) for face, found in widths.items()}
    if any(n > limits[face] for face, n in (columns[0], columns[-1])):
        return ""
    return f"{limits['k']}x{limits['p']} rib"


def rib_names(rows: Sequence[str]) -> list[str]:
    """The name for each row of faces that is a rib and goes on as the row below or above it:
    the same faces shifted by one from row to row are moss stitch, not rib."""
    names: list[str] = []
    for i, faces in enumerate(rows):
        neighbours = [rows[j] for j in (i - 1, i + 1) if 0 <= j < len(rows)]
        names.append(rib_name(faces) if faces and faces in neighbours else "")
    return names
