"""House style: how a designer or a magazine likes its rows worded. One small TOML each."""

from __future__ import annotations

from dataclasses import dataclass, fields
from pathlib import Path
from typing import Literal, get_args, get_origin, get_type_hints

from chartc.plaintoml import read_toml
from chartc.resources import grammar_folder
from chartc.source import CannotRead


@dataclass(frozen=True, slots=True)
class HouseStyle:
    """How rows are worded.

    usage       abbreviations of US or UK usage
    words       "short" (k2, yo), "spelled" (knit 2, yarn over), "spoken" (for reading aloud)
    rounds      the word for a round: "Rnd" or "Round"
    capital     the first word of a row has a capital letter
    brackets    round or square brackets around an inner repeat
    sides       which rows say RS or WS: the first of each side, all, or none
    merge       rows worked alike are told once ("Rows 2, 4 and 6")
    counts      the number of stitches after a row: "none", after rows that change it
                ("changed"), or after "all" rows
    name_ribs   rows of rib are named ("1x1 rib") in their label
    """

    usage: Literal["us", "uk"] = "us"
    words: Literal["short", "spelled", "spoken"] = "short"
    rounds: Literal["Rnd", "Round"] = "Rnd"
    capital: bool = True
    brackets: Literal["round", "square"] = "round"
    sides: Literal["first", "all", "none"] = "first"
    merge: bool = True
    counts: Literal["none", "changed", "all"] = "none"
    name_ribs: bool = True


def house_styles() -> list[str]:
    """The names of the styles that come with the program."""
    return sorted(path.stem for path in (grammar_folder() / "house").glob("*.toml"))


def load_style(name: str = "us") -> HouseStyle:
    """A style by its name, or from a TOML file of one's own (a name that ends in .toml).

    Raises CannotRead, in plain words, when there is no such style or it says what it cannot.
    """
    own = name.endswith(".toml")
    path = Path(name) if own else grammar_folder() / "house" / f"{name}.toml"
    if not path.is_file():
        known = ", ".join(house_styles())
        raise CannotRead(f"there is no house style {name}; there are: {known}")
    try:
        data = read_toml(path)
    except (ValueError, UnicodeDecodeError) as error:
        raise CannotRead(f"{path.name}: not a house style file ({error})") from None
    hints = get_type_hints(HouseStyle)
    allowed = {field.name: hints[field.name] for field in fields(HouseStyle)}
    for key, value in data.items():
        if key not in allowed:
            raise CannotRead(f"{path.name}: there is no setting {key}; there are: "
                             f"{', '.join(allowed)}")  # fmt: skip
        kind = allowed[key]
        choices = get_args(kind) if get_origin(kind) is Literal else (True, False)
        if not any(value is choice or (value == choice and isinstance(choice, str))
                   for choice in choices):  # fmt: skip
            shown = " or ".join(str(c).lower() if isinstance(c, bool) else c for c in choices)
            raise CannotRead(f"{path.name}: {key} must be {shown}")
    return HouseStyle(**data)
