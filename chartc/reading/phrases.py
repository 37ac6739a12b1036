"""The turns of phrase of written rows: grammar/phrases.toml as a tree of words.

A phrase file line is a list of tokens: a word; "#" for a number; `word?` when it may be
missing; `(a|b c)` for alternatives, `(a|b)?` when they may be missing; `.*` for anything up to
the next separator or bracket.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from chartc.resources import grammar_folder

_TOKEN = re.compile(r"\((?P<alts>[^()]*)\)(?P<maybe>\?)?|(?P<word>\S+)")
ANYTHING = ".*"
STOPS = frozenset(",;.:()[]{}*")


@dataclass(frozen=True, slots=True)
class Found:
    """A phrase found: `kind` and `sub` ("target", "last"), where it ends, and the indices of
    the number words in it."""

    kind: str
    sub: str
    end: int
    numbers: tuple[int, ...]


class Phrases:
    """The phrases as one automaton, and the folding of its words.

    State 0 is the start; `_steps[state][word]` are the states a word leads to.
    """

    def __init__(self, data: dict[str, Any], extra: dict[str, Any] | None = None) -> None:
        self.fold_words: dict[str, str] = {}
        self.prose: frozenset[str] = frozenset(data["prose"]["words"].split())
        self._steps: list[dict[str, list[int]]] = [{}]
        self._accept: dict[int, tuple[str, str]] = {}
        for part in (data, extra or {}):
            for atom, words in part.get("fold", {}).items():
                for word in words.split():
                    self.fold_words[word] = atom
            for kind, entry in part.items():
                if kind in ("fold", "prose") or not isinstance(entry, dict):
                    continue
                if isinstance(entry.get("words"), list):
                    self._add(kind, "", entry["words"])
                else:
                    for sub, inner in entry.items():
                        if isinstance(inner, dict) and "words" in inner:
                            self._add(kind, sub, inner["words"])

    def _add(self, kind: str, sub: str, patterns: list[str]) -> None:
        for pattern in patterns:
            for state in self._extend(pattern, [0]):
                if state:
                    self._accept.setdefault(state, (kind, sub))

    def _extend(self, pattern: str, states: list[int]) -> list[int]:
        """Add the pattern after the given states; the states it ends in."""
        for token in _TOKEN.finditer(pattern):
            if token["alts"] is not None:
                ends: list[int] = list(states) if token["maybe"] else []
                for alternative in token["alts"].split("|"):
                    ends += self._extend(alternative, states)
                states = ends
                continue
            word = token["word"]
            maybe = len(word) > 1 and word.endswith("?")
            state = len(self._steps)
            self._steps.append({})
            for before in states:
                self._steps[before].setdefault(word[:-1] if maybe else word, []).append(state)
            states = [*states, state] if maybe else [state]
        return states

    def fold(self, word: str) -> str:
        return self.fold_words.get(word, word)

    def match(self, words: Sequence[str], at: int) -> Found | None:
        """The longest phrase that begins at word `at`; numbers in `words` are "#" words."""
        best: tuple[int, int] | None = None
        current = [0]
        place = at
        total = len(words)
        while current and place < total:
            word = words[place]
            following: list[int] = []
            for state in current:
                steps = self._steps[state]
                if word in steps:
                    following += steps[word]
                if ANYTHING in steps and state:
                    stop = place
                    while stop < total and words[stop] not in STOPS:
                        stop += 1
                    for end in steps[ANYTHING]:
                        if end in self._accept and (best is None or stop > best[0]):
                            best = (stop, end)
            place += 1
            for state in following:
                if state in self._accept and (best is None or place > best[0]):
                    best = (place, state)
            current = following
        if best is None:
            return None
        end, state = best
        kind, sub = self._accept[state]
        numbers = tuple(i for i in range(at, end) if words[i] == "#")
        return Found(kind, sub, end, numbers)


@cache
def load_phrases(terms: str = "") -> Phrases:
    """The phrase tree; with `terms` the words of that set (grammar/terms/NAME.toml) as well."""
    import tomllib

    folder = grammar_folder()
    with (folder / "phrases.toml").open("rb") as file:
        data = tomllib.load(file)
    extra = None
    if terms:
        with (folder / "terms" / f"{terms}.toml").open("rb") as file:
            extra = tomllib.load(file)
    return Phrases(data, extra)
