"""Where the data files that come with the package are."""

from __future__ import annotations

from functools import cache
from pathlib import Path


@cache
def grammar_folder() -> Path:
    """The folder with stitches.toml and the other language data.

    In a checkout it stands beside the package; an installed wheel carries it inside.
    Raises FileNotFoundError, naming both places, when neither holds it.
    """
    package = Path(__file__).resolve().parent
    places = (package / "grammar", package.parent / "grammar")
    for place in places:
        if (place / "stitches.toml").is_file():
            return place
    raise FileNotFoundError(
        "the stitch vocabulary is missing from this installation: looked for stitches.toml in "
        + " and ".join(str(place) for place in places)
    )
