"""What a stitch is, and the stitches known from grammar/stitches.toml.

One `Stitch` is one entry of the vocabulary data. Everything else (counting, symbols,
legend, mirror image, the way it is worked from the other side) is derived from it.

How the reader finds stitches in a row
--------------------------------------
1. It makes *atoms* of the text: lower case; a run of letters is one atom, a run of digits
   is one atom, any other mark is an atom of its own; hyphens and "&" between word characters
   are dropped, and so are full stops in "y.o."; a number in words ("two", "twenty-one") is
   its digits.
2. It replaces each atom found in `canonical_words` by what stands there ("knit" -> "k").
3. It replaces the longest run found in `canonical_phrases` at each place, left to right, by
   what stands there (("yarn", "over") -> ("yo",)). Atoms in `skippable` may stand between the
   words of a run ("through *the* back loop"). `fold` does steps 2 and 3 and says which of the
   atoms given each atom of the result came from.
4. At each place where a stitch may begin it calls `match`, which gives the longest phrase
   there, the numbers read and where it ends. Within a phrase "#" stands for any number and
   "," for any run of separators (`SEPARATORS`), or none; atoms in `skippable` may be passed
   over between words, and so may "st" after a number, after "sl" and after such a word.
   A "st" right after the number a phrase ends with belongs to it ("k3 sts").

A match's meaning gives the stitch outright (`stitch`) or a function of the numbers read
(`rule`); `count_at` says which number is the times to work it, `None` meaning once.
"k to end" matches ("k",): what follows the match is the reader's business.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, NamedTuple

from chartc.resources import grammar_folder
from chartc.stitch import HeadForm, Lean, Stitch
from chartc.stitchrules import KEY_RULES, PHRASE_RULES

__all__ = [
    "SEPARATORS",
    "SKIPPABLE",
    "Folded",
    "HeadForm",
    "Lean",
    "Match",
    "Phrase",
    "PhraseMeaning",
    "Rule",
    "Stitch",
    "Vocabulary",
    "load_vocabulary",
]
Rule = Callable[[tuple[int, ...]], Stitch | None]
Phrase = tuple[str, ...]

SEPARATORS = frozenset({",", ";", "and", "then"})
SKIPPABLE = frozenset({"the", "a", "an", "of", "next", "your", "this", "these", "following"})


@dataclass(frozen=True, slots=True)
class PhraseMeaning:
    """What a phrase names.

    stitch    the stitch itself, or None when the numbers decide it
    rule      given the numbers at the "#" places, the stitch, or None when there is none
    count_at  which "#" (from 0) is the number of times to work it; None: once
    doubt     a remark to make on this reading ("inc" means different things); "" for most
    """

    stitch: Stitch | None = None
    rule: Rule | None = None
    count_at: int | None = None
    doubt: str = ""

    def resolve(self, numbers: Sequence[int]) -> Stitch | None:
        """The stitch for the numbers read; None when no such stitch can be worked."""
        return self.rule(tuple(numbers)) if self.rule is not None else self.stitch


class Match(NamedTuple):
    """A phrase found: its meaning, the numbers at its "#" places, and the place after it."""

    meaning: PhraseMeaning
    numbers: tuple[int, ...]
    end: int

    @property
    def stitch(self) -> Stitch | None:
        return self.meaning.resolve(self.numbers)

    @property
    def times(self) -> int:
        at = self.meaning.count_at
        return 1 if at is None else self.numbers[at]


class Folded(NamedTuple):
    """An atom after folding, and the atoms given that it stands for: `first` up to `end`."""

    atom: str
    first: int
    end: int


class _Node:
    """A place in the tree of phrases."""

    __slots__ = ("meaning", "next")

    def __init__(self) -> None:
        self.next: dict[str, _Node] = {}
        self.meaning: PhraseMeaning | None = None


class Vocabulary:
    """All stitches that have a name, and the phrases that name them.

    canonical_words    word -> atom ("knit" -> "k")
    canonical_phrases  run of atoms -> run of atoms (("yarn", "over") -> ("yo",))
    skippable          atoms that may stand between the words of a phrase
    """

    def __init__(self, data: Mapping[str, Any]) -> None:
        self.skippable = SKIPPABLE
        self.canonical_words: dict[str, str] = {
            word: atom for atom, words in data["words"].items() for word in words.split()
        }
        self.canonical_phrases: dict[Phrase, Phrase] = {}
        for result, phrases in data["phrases"].items():
            target = tuple(result.split())
            for phrase in phrases.split("|"):
                self.canonical_phrases[self._folded_words(phrase)] = target
        self._folds: dict[str, list[tuple[Phrase, Phrase]]] = {}
        for phrase, target in self.canonical_phrases.items():
            self._folds.setdefault(phrase[0], []).append((phrase, target))
        for folds in self._folds.values():
            folds.sort(key=lambda fold: (-len(fold[0]), fold))
        self.stitches: dict[str, Stitch] = {}
        self._made: dict[str, Stitch] = {}
        self._phrases: dict[Phrase, PhraseMeaning] = {}
        sources = data["sources"]
        for kind, entries in data.items():
            if kind in ("sources", "words", "phrases", "doubts"):
                continue
            for key, entry in entries.items():
                stitch = _stitch(key, _KINDS.get(kind, kind), entry, sources)
                self.stitches[key] = stitch
                for words in entry.get("words", "").split("|"):
                    self._name(words, stitch, entry.get("doubt", ""))
        for words, count_at, rule in PHRASE_RULES:
            for phrase in _variants(self._folded_words(words)):
                self._phrases.setdefault(phrase, PhraseMeaning(None, self._rule(rule), count_at))
        self._root = _Node()
        for phrase, meaning in self._phrases.items():
            node = self._root
            for token in phrase:
                node = node.next.setdefault(token, _Node())
            node.meaning = meaning

    def _folded_words(self, text: str) -> Phrase:
        words = self.canonical_words
        return tuple(words.get(word, word) for word in text.split())

    def _name(self, words: str, stitch: Stitch, doubt: str) -> None:
        for phrase in _variants(self._folded_words(words)):
            count_at = 0 if "#" in phrase else None
            self._phrases.setdefault(phrase, PhraseMeaning(stitch, None, count_at, doubt))

    def _rule(self, build: Callable[[tuple[int, ...]], Stitch | None]) -> Rule:
        """The rule, giving the listed stitch of the same key where there is one."""

        def rule(numbers: tuple[int, ...]) -> Stitch | None:
            stitch = build(numbers)
            return None if stitch is None else self.stitches.get(stitch.key, stitch)

        return rule

    def phrases(self) -> Iterable[tuple[Phrase, PhraseMeaning]]:
        """Every phrase and what it means."""
        return self._phrases.items()

    def get(self, key: str) -> Stitch:
        """The stitch of that key, listed or made by rule ("k5tog", "c6f", "yo3").

        Raises KeyError when there is no such stitch.
        """
        found = self.find(key)
        if found is None:
            raise KeyError(key)
        return found

    def find(self, key: str) -> Stitch | None:
        """As `get`, but None when there is no such stitch."""
        found = self.stitches.get(key) or self._made.get(key)
        if found is None:
            for pattern, build in KEY_RULES:
                parts = pattern.fullmatch(key)
                if parts is not None and (found := build(*parts.groups())) is not None:
                    found = self.stitches.get(found.key, found)
                    if len(self._made) < _MOST_KEPT:
                        self._made[key] = found
                    break
        return found

    def twin(self, stitch: Stitch) -> Stitch | None:
        """The stitch that looks the same when worked on the other side; None if there is none."""
        return self.find(stitch.twin) if stitch.twin else None

    def mirror(self, stitch: Stitch, among: Iterable[str] = ()) -> Stitch | None:
        """The mirror image; None if there is none. Of stitches alike, one in `among` (keys the
        pattern already uses: "skp" rather than "ssk") is preferred."""
        image = self.find(stitch.mirror) if stitch.mirror else None
        if image is None:
            return None
        keys = sorted(among)
        if image.key not in keys:
            for key in keys:
                other = self.find(key)
                if other is not None and other.like == image.key:
                    return other
        return image

    def fold(self, atoms: Sequence[str]) -> list[Folded]:
        """The atoms with every word and run of words replaced by what it means."""
        words = self.canonical_words
        plain = [words.get(atom, atom) for atom in atoms]
        folded: list[Folded] = []
        at = 0
        while at < len(plain):
            for phrase, target in self._folds.get(plain[at], ()):
                end = self._run(plain, at, phrase)
                if end:
                    folded.extend(Folded(atom, at, end) for atom in target)
                    at = end
                    break
            else:
                folded.append(Folded(plain[at], at, at + 1))
                at += 1
        return folded

    def _run(self, atoms: Sequence[str], at: int, phrase: Phrase) -> int:
        """Where the run of words ends that begins at `at`; 0 when it is not there."""
        for place, word in enumerate(phrase):
            while place and at < len(atoms) and atoms[at] != word and atoms[at] in SKIPPABLE:
                at += 1
            if at >= len(atoms) or atoms[at] != word:
                return 0
            at += 1
        return at

    def match(self, atoms: Sequence[str], start: int = 0) -> Match | None:
        """The longest phrase that begins at `start` in folded atoms, or None."""
        best: Match | None = None
        for node, numbers, end in self._walk(atoms, start, self._root, (), ""):
            if node.meaning is not None and (best is None or end > best.end):
                best = Match(node.meaning, numbers, end)
        if best is None:
            return None
        end = best.end
        if end < len(atoms) and atoms[end] == "st" and atoms[end - 1].isdigit():
            best = best._replace(end=end + 1)
        return best

    def _walk(
        self, atoms: Sequence[str], at: int, node: _Node, numbers: tuple[int, ...], before: str
    ) -> Iterator[tuple[_Node, tuple[int, ...], int]]:
        """Every place in the tree that the atoms from `at` on can reach. Exact words come
        before "#", so that of two phrases equally long the more exact one is met first."""
        if node.meaning is not None:
            yield node, numbers, at
        here = at
        while here < len(atoms):
            atom = atoms[here]
            following = node.next.get(atom)
            if following is not None:
                yield from self._walk(atoms, here + 1, following, numbers, atom)
            if atom.isdigit() and len(atom) <= _MOST_DIGITS and "#" in node.next:
                yield from self._walk(atoms, here + 1, node.next["#"], (*numbers, int(atom)), atom)
            if before and (
                atom in SKIPPABLE
                or (atom == "st" and (before.isdigit() or before == "sl" or before in SKIPPABLE))
            ):
                before = atom if atom in SKIPPABLE else before
                here += 1
                continue
            break
        comma = node.next.get(",")
        if comma is not None:
            here = at
            if here < len(atoms) and atoms[here] == "st" and before.isdigit():
                here += 1
            while here < len(atoms) and atoms[here] in SEPARATORS:
                here += 1
            yield from self._walk(atoms, here, comma, numbers, ",")

    def search(self, text: str) -> list[Stitch]:
        """The stitches whose key, abbreviation, title or how-sentence holds all the words."""
        wanted = text.lower().split()
        return [
            stitch
            for stitch in self.stitches.values()
            if all(
                word in f"{stitch.key} {stitch.us} {stitch.uk} {stitch.title} {stitch.how}".lower()
                for word in wanted
            )
        ]

    def nearest(self, word: str, most: int = 3) -> list[str]:
        """The abbreviations nearest to a word mistyped, the likeliest first."""
        from difflib import get_close_matches

        names = {stitch.us.lower().replace(" ", ""): stitch.us for stitch in self.stitches.values()}
        for key in self.stitches:
            names.setdefault(key, self.stitches[key].us)
        found = get_close_matches(word.lower().replace(" ", ""), sorted(names), most, 0.6)
        return list(dict.fromkeys(names[name] for name in found))


_KINDS = {"yarnover": "yarn over", "bindoff": "bind off", "caston": "cast on"}
_MOST_KEPT = 4096  # rule-made stitches remembered
_MOST_DIGITS = 12  # a longer number is no count of stitches


def _stitch(key: str, kind: str, entry: Mapping[str, Any], sources: Mapping[str, str]) -> Stitch:
    """The record for an entry of the data, the values left out filled in."""
    uses, makes = entry.get("uses", 1), entry.get("makes", 1)
    heads = tuple(entry.get("heads", "k").split())
    if len(heads) == 1:
        heads *= makes
    front = tuple(entry.get("front", range(uses)))
    lean = entry.get("lean")
    if lean is None and kind == "decrease":
        lean = {0: "left", uses - 1: "right"}.get(front[0], "centre")
    own = {"=": key}
    twin, mirror = entry.get("twin", ""), entry.get("mirror", "")
    if not mirror and uses <= 1 and makes <= 1:
        mirror = key
    us = entry.get("us", key)
    source = entry.get("source", "cp")
    return Stitch(
        key=key,
        uses=uses,
        makes=makes,
        kind=kind,
        heads=heads,
        front=front,
        lean=lean,
        wraps=entry.get("wraps", 0),
        extra=tuple(entry.get("extra", "").split()),
        title=entry["title"],
        us=us,
        uk=entry.get("uk", us),
        how=entry["how"],
        twin=own.get(twin, twin),
        mirror=own.get(mirror, mirror),
        source=sources.get(source, source),
        like=entry.get("like", ""),
        counted=entry.get("counted", ""),
        asks=entry.get("asks", ""),
    )


def _variants(template: Phrase) -> Iterator[Phrase]:
    """The phrases a template stands for: a word ending in "?" may be there or not."""
    for place, word in enumerate(template):
        if word.endswith("?"):
            before, after = template[:place], template[place + 1 :]
            yield from _variants((*before, word[:-1], *after))
            yield from _variants((*before, *after))
            return
    if template:
        yield template


@cache
def load_vocabulary() -> Vocabulary:
    """The vocabulary of grammar/stitches.toml, read once."""
    import tomllib

    with (grammar_folder() / "stitches.toml").open("rb") as file:
        return Vocabulary(tomllib.load(file))
