"""Phrases with choices in them, read as one automaton.

The "words" of the vocabulary data are written with choices: phrases parted by "|", a word or
bracket followed by "?" may be missing, a bracket holds alternatives, "!" says that the step
must end there. `expand` writes the choices out; `PhraseTree` matches them without doing so,
which is some ten times cheaper to build.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Generic, TypeVar

T = TypeVar("T")
Phrase = tuple[str, ...]

STEP_END = "!"

_TOKEN = re.compile(r"[()|]\??|[^\s()|]+")


def expand(words: str) -> list[Phrase]:
    """Every phrase a "words" entry stands for, "!" kept where it stood.

    Raises ValueError when a bracket is not closed or not opened.
    """
    tokens = _TOKEN.findall(words)
    phrases, end = _choice(tokens, 0, words)
    if end != len(tokens):
        raise ValueError(f"a bracket is closed but not opened in {words!r}")
    return [phrase for phrase in phrases if phrase]


def _choice(tokens: list[str], at: int, words: str) -> tuple[list[Phrase], int]:
    """The phrases from `at` to the end of the bracket, and the place of its end."""
    chosen: list[Phrase] = []
    phrases: list[Phrase] = [()]
    while at < len(tokens):
        token = tokens[at]
        if token[0] == ")":
            break
        if token == "|":
            chosen += phrases
            phrases = [()]
        elif token == "(":
            inner, at = _choice(tokens, at + 1, words)
            if at == len(tokens):
                raise ValueError(f"a bracket is not closed in {words!r}")
            longer = [before + after for before in phrases for after in inner]
            phrases = phrases + longer if tokens[at] == ")?" else longer
        elif token[-1] == "?" and len(token) > 1:
            phrases = phrases + [(*phrase, token[:-1]) for phrase in phrases]
        else:
            phrases = [(*phrase, token) for phrase in phrases]
        at += 1
    return chosen + phrases, at


class Place(Generic[T]):
    """A place in the tree: what the words so far mean, and where each next word leads.

    Found as it is first needed and kept; the states behind it are those the words may lead to.
    """

    __slots__ = ("_following", "_states", "_tree", "is_last", "meaning")

    def __init__(self, tree: PhraseTree[T], states: tuple[int, ...]) -> None:
        self._tree = tree
        self._states = states
        self._following: dict[str, Place[T] | None] = {}
        accepted = [tree.accepted[state] for state in states if state in tree.accepted]
        self.meaning: T | None = min(accepted, key=_order)[1] if accepted else None
        self.is_last = not any(tree.steps[state] for state in states)

    def then(self, word: str) -> Place[T] | None:
        """The place after one more word, or None when no phrase goes on so."""
        if word in self._following:
            return self._following[word]
        steps = self._tree.steps
        states = {
            after for state in self._states if word in steps[state] for after in steps[state][word]
        }
        place = self._tree.place(tuple(sorted(states))) if states else None
        if len(self._following) < _MOST_KEPT:
            self._following[word] = place
        return place


def _order(accepted: tuple[int, object]) -> int:
    return accepted[0]


_MOST_KEPT = 512  # words remembered at one place; a page has no more that matter


class PhraseTree(Generic[T]):
    """Phrases and their meanings; of two with the same words the one added first holds."""

    def __init__(self, fold: Mapping[str, str]) -> None:
        self.steps: list[dict[str, list[int]]] = [{}]
        self.accepted: dict[int, tuple[int, T]] = {}
        self._fold = fold
        self._places: dict[tuple[int, ...], Place[T]] = {}
        self._count = 0

    def add(self, words: str, meaning: T) -> None:
        """Add every phrase of a "words" entry; words are folded by the tree's table."""
        self._places.clear()
        ends, _ = self._extend(_TOKEN.findall(words), 0, [0])
        self._count += 1
        for state in ends:
            if state:
                self.accepted.setdefault(state, (self._count, meaning))

    def add_phrase(self, phrase: Phrase, meaning: T) -> None:
        """Add one phrase, its words taken as they are."""
        self._places.clear()
        state = 0
        for word in phrase:
            self.steps[state].setdefault(word, []).append(len(self.steps))
            state = len(self.steps)
            self.steps.append({})
        self._count += 1
        self.accepted[state] = (self._count, meaning)

    def _extend(self, tokens: list[str], at: int, starts: list[int]) -> tuple[list[int], int]:
        """Add the phrases from `at` to the end of the bracket after the states given; the
        states they end in, and the place of the bracket's end."""
        steps, fold = self.steps, self._fold
        chosen: list[int] = []
        states = starts
        while at < len(tokens):
            token = tokens[at]
            if token[0] == ")":
                break
            if token == "|":
                chosen += states
                states = starts
            elif token == "(":
                inner, at = self._extend(tokens, at + 1, states)
                states = states + inner if tokens[at] == ")?" else inner
            else:
                maybe = token[-1] == "?" and len(token) > 1
                word = token[:-1] if maybe else token
                word = fold.get(word, word)
                state = len(steps)
                steps.append({})
                for before in states:
                    following = steps[before]
                    if word in following:
                        following[word].append(state)
                    else:
                        following[word] = [state]
                states = [*states, state] if maybe else [state]
            at += 1
        return (chosen + states if chosen else states), at

    @property
    def root(self) -> Place[T]:
        return self.place((0,))

    def place(self, states: tuple[int, ...]) -> Place[T]:
        found = self._places.get(states)
        if found is None:
            found = self._places[states] = Place(self, states)
        return found

    def begins(self, word: str) -> bool:
        """Whether any phrase begins with the word."""
        return word in self.steps[0]

    def __bool__(self) -> bool:
        return bool(self.steps[0])


def folded(phrases: list[Phrase], fold: Mapping[str, str]) -> Iterator[tuple[Phrase, bool]]:
    """Each phrase with its words folded and "!" taken out, and whether it held one."""
    for phrase in phrases:
        words = tuple([fold.get(word, word) for word in phrase if word != STEP_END])
        if words:
            yield words, STEP_END in phrase
