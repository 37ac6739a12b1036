"""The stitches known from grammar/stitches.toml, and the phrases that name them.

How the reader finds stitches in a row
--------------------------------------
1. It makes *atoms* of the text: lower case; a run of letters is one atom, a run of digits
   is one atom, any other mark is an atom of its own; hyphens and "&" between word characters
   are dropped, and so are full stops in "y.o."; a number in words ("two", "twenty-one") is
   its digits.
2. It replaces each atom found in `canonical_words` by what stands there ("knit" -> "k").
3. It replaces the longest run found in `canonical_phrases` at each place, left to right, by
   what stands there (("yarn", "over") -> ("yo",)). Atoms in SKIPPABLE may stand between the
   words of a run ("through *the* back loop"). `fold` does steps 2 and 3 and says which of the
   atoms given each atom of the result came from. No other folding may come before: phrases
   are matched against exactly what `fold` gives.
4. At each place where a stitch may begin it calls `match`, which gives the longest phrase
   there, the numbers read, where they stand and where the phrase ends. Within a phrase "#"
   stands for any number (an atom of digits, or the atom "#" for a number known only to the
   reader, as of a size list; it reads as 0) and "," for any run of SEPARATORS, or none. Atoms
   in SKIPPABLE may be passed over between words, and so may "st" after a number, after "sl"
   and after such a word. A "st" right after the number a phrase ends with belongs to it
   ("k3 sts"). Of two phrases equally long the one with more exact words wins.

A match's meaning gives the stitch outright (`stitch`) or a function of the numbers read
(`rule`); `count_at` says which number is the times to work it, None meaning once.
`Match.stitch` does both; it is None when the numbers make no stitch ("sl 2 to cn, hold in
front, k2, k3 from cn"), which is worth a finding.
"k to end" matches ("k",): what follows the match is the reader's business.

A pattern's own stitches come first: `with_own` gives a vocabulary in which their names are
phrases too, and win over the common ones when equally long.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property
from itertools import product
from typing import Any, NamedTuple

from chartc.phrasetree import STEP_END, Phrase, PhraseTree, Place, expand, folded
from chartc.plaintoml import read_toml
from chartc.resources import grammar_folder
from chartc.stitch import HeadForm, Lean, Stitch
from chartc.stitchrules import (
    FORMED_RULES,
    NUMBER_WORDS,
    RULES,
    SWAPPED,
    Build,
    form_words,
    from_key,
)

__all__ = [
    "SEPARATORS",
    "SKIPPABLE",
    "SWAPPED",
    "Folded",
    "HeadForm",
    "Lean",
    "Match",
    "Phrase",
    "PhraseMeaning",
    "Rule",
    "Stitch",
    "Term",
    "Vocabulary",
    "load_vocabulary",
]

Rule = Build

SEPARATORS = frozenset({",", ";", "and", "then"})
SKIPPABLE = frozenset(
    {"the", "a", "an", "of", "next", "your", "this", "these", "following", "its", "their"}
)
# words that go on from a whole step: how often, how far, over which stitches
_AFTER_A_STEP = frozenset(
    {"once", "twice", "thrice", "to", "until", "till", "rep", "in", "into", "(", "[", "{", "across", "around"}
)
_STEP_ENDS = frozenset({"", ",", ";", ".", ":", ")", "]", "}", "*", "and", "then"})


@dataclass(frozen=True, slots=True)
class PhraseMeaning:
    """What a phrase names.

    stitch    the stitch itself, or None when the numbers decide it
    rule      given the numbers at the "#" places, the stitch, or None when there is none
    count_at  which "#" (from 0) is the number of times to work it; None: once
    doubt     a remark to make on this reading ("inc" means different things); "" for most
    closed    the phrase holds only where the step ends after it ("sl1k" but not "sl1 k2")
    """

    stitch: Stitch | None = None
    rule: Rule | None = None
    count_at: int | None = None
    doubt: str = ""
    closed: bool = False

    def resolve(self, numbers: Sequence[int]) -> Stitch | None:
        """The stitch for the numbers read; None when no such stitch can be worked."""
        return self.rule(tuple(numbers)) if self.rule is not None else self.stitch


class Match(NamedTuple):
    """A phrase found: its meaning, the numbers at its "#" places, the place after it, and the
    places of those numbers among the atoms."""

    meaning: PhraseMeaning
    numbers: tuple[int, ...]
    end: int
    places: tuple[int, ...] = ()

    @property
    def stitch(self) -> Stitch | None:
        return self.meaning.resolve(self.numbers)

    @property
    def times(self) -> int:
        """The times to work the stitch; 0 where the number is known only to the reader."""
        at = self.meaning.count_at
        return 1 if at is None else self.numbers[at]


class Folded(NamedTuple):
    """An atom after folding, and the atoms given that it stands for: `first` up to `end`."""

    atom: str
    first: int
    end: int


@dataclass(frozen=True, slots=True)
class Term:
    """A term that is no stitch: its abbreviation, its other spellings, what it means."""

    abbreviation: str
    also: tuple[str, ...]
    meaning: str


class _Found(NamedTuple):
    end: int
    exact: int
    meaning: PhraseMeaning
    numbers: tuple[int, ...]
    places: tuple[int, ...]


class _Named(NamedTuple):
    """A "words" entry of the data: what it means and under which name it stands there."""

    name: str
    words: str
    meaning: PhraseMeaning


class Vocabulary:
    """All stitches that have a name, and the phrases that name them.

    stitches         key -> stitch, those listed (rule-made ones: `find`)
    canonical_words  word -> atom ("knit" -> "k")
    skippable        atoms that may stand between the words of a phrase
    """

    def __init__(self, data: Mapping[str, Any], terms: Mapping[str, Any] | None = None) -> None:
        self.skippable = SKIPPABLE
        self.canonical_words: dict[str, str] = {}
        self.stitches: dict[str, Stitch] = {}
        self._named: list[_Named] = []
        self._made: dict[str, Stitch] = {}
        self._own: dict[str, Stitch] = {}
        # a set of terms comes first, so that its words win over the common ones
        self._parts = (terms, data) if terms else (data,)
        for part in reversed(self._parts):
            for atom, words in part.get("words", {}).items():
                for word in words.split():
                    self.canonical_words[word] = atom
        self._folds: PhraseTree[Phrase] = PhraseTree(self.canonical_words)
        for part in self._parts:
            for result, words in part.get("phrases", {}).items():
                self._folds.add(words, tuple(result.split()))
        self._tree: PhraseTree[PhraseMeaning] = PhraseTree(self.canonical_words)
        self._own_tree: PhraseTree[PhraseMeaning] = PhraseTree(self.canonical_words)
        self._list(data)
        for name, words in data["rules"].items():
            self._add_rule(name, words, RULES[name], None)
        for name, words in data["rules_counted"].items():
            self._add_rule(name, words, RULES[name], 0)
        # wordings by the hundred that few patterns use wait until their word turns up
        self._late: dict[str, list[tuple[str, str]]] = {}
        for name, words in data["rules_formed"].items():
            self._late.setdefault(FORMED_RULES[name].needs, []).append((name, words))

    # -------------------------------------------------------------- building

    def _list(self, data: Mapping[str, Any]) -> None:
        """Make the stitches listed; twins and mirror images are named at one of the two."""
        entries = {
            key: (kind, entry)
            for table, kind in _KINDS.items()
            for key, entry in data[table].items()
        }
        partners: dict[str, dict[str, str]] = {"twin": {}, "mirror": {}}
        for key, (_, entry) in entries.items():
            for what, known in partners.items():
                other = entry.get(what)
                if other is not None:
                    known[key] = key if other == "=" else other
                    known.setdefault(known[key], key)
        for key, (kind, entry) in entries.items():
            stitch = _stitch(key, kind, entry, data["sources"], partners)
            self.stitches[key] = stitch
            if "words" in entry:
                count_at = 0 if stitch.counted else None
                meaning = PhraseMeaning(stitch, None, count_at, entry.get("doubt", ""))
                self._name(key, entry["words"], meaning)

    def _name(self, name: str, words: str, meaning: PhraseMeaning) -> None:
        self._named.append(_Named(name, words, meaning))
        self._tree.add(words, meaning)

    def _add_rule(self, name: str, words: str, build: Build, count_at: int | None) -> None:
        listed = self.stitches

        def rule(numbers: tuple[int, ...]) -> Stitch | None:
            stitch = build(numbers)
            return None if stitch is None else listed.get(stitch.key, stitch)

        self._name(name, words, PhraseMeaning(None, rule, count_at))

    def _add_late(self, word: str) -> None:
        for name, words in self._late.pop(word, ()):
            rule = FORMED_RULES[name]
            for forms in product(_STRANDS, repeat=words.count("{}")):
                phrase = words.format(*(form_words(form, rule.counted) for form in forms))
                self._add_rule(name, phrase, rule.build(forms), None)

    def with_own(self, own: Iterable[tuple[str, Stitch]]) -> Vocabulary:
        """This vocabulary with a pattern's own stitches, each with its name as printed.

        A later one of the same name takes the place of an earlier one.
        """
        other = object.__new__(Vocabulary)
        other.__dict__.update(self.__dict__)
        other._own = dict(self._own)
        other._own_tree = PhraseTree({})
        for name, stitch in own:
            other._own[name] = stitch
        for name, stitch in reversed(other._own.items()):
            words = self.atoms(name)
            if words:
                other._own_tree.add_phrase(tuple(words), PhraseMeaning(stitch))
        return other

    # -------------------------------------------------------------- looking up

    def phrases(self) -> Iterable[tuple[Phrase, PhraseMeaning]]:
        """Every phrase and what it means, all choices written out."""
        return self._written_out.items()

    @cached_property
    def _written_out(self) -> dict[Phrase, PhraseMeaning]:
        phrases: dict[Phrase, PhraseMeaning] = {}
        for word in tuple(self._late):
            self._add_late(word)
        for named in self._named:
            for phrase, closed in folded(expand(named.words), self.canonical_words):
                meaning = named.meaning
                if "#" not in phrase:
                    meaning = replace(meaning, count_at=None)
                phrases.setdefault(phrase, replace(meaning, closed=closed) if closed else meaning)
        return phrases

    @cached_property
    def canonical_phrases(self) -> dict[Phrase, Phrase]:
        """Run of atoms -> run of atoms (("yarn", "over") -> ("yo",)), written out."""
        phrases: dict[Phrase, Phrase] = {}
        for part in self._parts:
            for result, words in part.get("phrases", {}).items():
                for phrase, _ in folded(expand(words), self.canonical_words):
                    phrases.setdefault(phrase, tuple(result.split()))
        return phrases

    def clashes(self) -> list[tuple[Phrase, str, str]]:
        """Phrases given to two stitches, with both names: none in sound data."""
        names: dict[Phrase, str] = {}
        found = []
        for word in tuple(self._late):
            self._add_late(word)
        for named in self._named:
            for phrase, _ in folded(expand(named.words), self.canonical_words):
                other = names.setdefault(phrase, named.name)
                if other != named.name:
                    found.append((phrase, other, named.name))
        return found

    def get(self, key: str) -> Stitch:
        """The stitch of that key, listed or made by rule ("k5tog", "c6f", "2/1lpc", "yo3").

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
            found = from_key(key)
            if found is not None:
                found = self.stitches.get(found.key, found)
                if len(self._made) < _MOST_KEPT:
                    self._made[key] = found
        return found

    def twin(self, stitch: Stitch) -> Stitch | None:
        """The stitch that looks the same when worked on the other side; None if there is none."""
        return stitch if stitch.twin == stitch.key else self._find_if_named(stitch.twin)

    def mirror(self, stitch: Stitch) -> Stitch | None:
        """The mirror image; None if there is none."""
        return stitch if stitch.mirror == stitch.key else self._find_if_named(stitch.mirror)

    def _find_if_named(self, key: str) -> Stitch | None:
        return self.find(key) if key else None

    def customary(self, stitch: Stitch, used: Iterable[str] = ()) -> Stitch:
        """The stitch to print for this one: it leans and counts the same.

        `used` are the keys the pattern already uses; one of them that does the same work is
        taken first (skp where the pattern has skp, not ssk). Otherwise a stitch that is never
        printed ("knit one, hand it back, pass the next over") gives the usual one (k2tog).
        """
        keys = sorted(used)
        if stitch.key in keys or stitch.kind != "decrease":
            return stitch
        work = _work(stitch)
        for key in keys:
            other = self.find(key)
            if other is not None and _work(other) == work:
                return other
        return (self.find(stitch.like) if stitch.like else None) or stitch

    def alike(self, stitch: Stitch, prefer: Iterable[str] = ()) -> Stitch | None:
        """The listed or rule-made stitch that is the same knot as this one, or None; of
        several the first of `prefer` (keys)."""
        structure = _structure(stitch)
        for key in prefer:
            other = self.find(key)
            if other is not None and _structure(other) == structure:
                return other
        found = self._by_structure.get(structure)
        if found is not None:
            return found
        for key in _rule_keys(stitch):
            other = self.find(key)
            if other is not None and _structure(other) == structure:
                return other
        return None

    @cached_property
    def _by_structure(self) -> dict[tuple[object, ...], Stitch]:
        """Listed stitches by their knot; of several alike the one usually printed."""
        known: dict[tuple[object, ...], Stitch] = {}
        for stitch in self.stitches.values():
            if not stitch.asks and not (stitch.like and _structure(stitch) in known):
                known.setdefault(_structure(stitch), stitch)
        return known

    # -------------------------------------------------------------- reading

    def fold(self, atoms: Sequence[str]) -> list[Folded]:
        """The atoms with every word and run of words replaced by what it means."""
        words = self.canonical_words
        plain = [words.get(atom, atom) for atom in atoms]
        folded_atoms: list[Folded] = []
        at, total = 0, len(plain)
        while at < total:
            result: Phrase = (plain[at],)
            end = at + 1
            place: Place[Phrase] | None = self._folds.root.then(plain[at])
            here = at + 1
            while place is not None:
                if place.meaning is not None:
                    result, end = place.meaning, here
                following = None
                stop = min(total, here + _MOST_BETWEEN)
                while here < stop:
                    following = place.then(plain[here])
                    if following is not None or plain[here] not in SKIPPABLE:
                        break
                    here += 1
                place = following
                here += 1
            for atom in result:
                folded_atoms.append(Folded(atom, at, end))
                if atom in self._late:
                    self._add_late(atom)
            at = end
        return folded_atoms

    def match(self, atoms: Sequence[str], start: int = 0) -> Match | None:
        """The longest phrase that begins at `start` in folded atoms, or None."""
        best: _Found | None = None
        for tree in (self._own_tree, self._tree):
            if tree:
                found = _longest(atoms, start, tree.root)
                if found is not None and (best is None or found[:2] > best[:2]):
                    best = found
        if best is None:
            return None
        end, meaning = best.end, best.meaning
        if meaning.count_at is not None and meaning.count_at >= len(best.numbers):
            meaning = replace(meaning, count_at=None)
        if _after(atoms, end) in ("st", "time") and _is_number(atoms[end - 1]):
            end += 1
        return Match(meaning, best.numbers, end, best.places)

    def atoms(self, text: str) -> list[str]:
        """The folded atoms of a short text, such as a name."""
        words = _ATOM.findall(text.lower())
        return [item.atom for item in self.fold([NUMBER_WORDS.get(word, word) for word in words])]

    # -------------------------------------------------------------- people looking things up

    def search(self, text: str) -> list[Stitch]:
        """The stitches whose key, abbreviation, title or how-sentence holds all the words."""
        wanted = text.lower().split()
        found = [
            stitch
            for stitch in (*self._own.values(), *self.stitches.values())
            if all(
                word in f"{stitch.key} {stitch.us} {stitch.uk} {stitch.title} {stitch.how}".lower()
                for word in wanted
            )
        ]
        named = self.named(text)
        if named is not None:
            found = [named, *(stitch for stitch in found if stitch.key != named.key)]
        return found

    def named(self, text: str) -> Stitch | None:
        """The stitch a text names as a whole ("C4F", "slip, slip, knit"), or None."""
        atoms = self.atoms(text)
        match = self.match(atoms)
        return match.stitch if match is not None and match.end == len(atoms) else None

    def nearest(self, word: str, most: int = 3) -> list[str]:
        """The abbreviations nearest to a word mistyped, the likeliest first."""
        from difflib import get_close_matches

        typed = "".join(word.lower().split())
        numbers = re.findall(r"\d+", typed)
        names: dict[str, str] = {}
        for stitch in (*self._own.values(), *self.stitches.values()):
            for printed in (stitch.us, stitch.uk, stitch.key):
                names.setdefault("".join(printed.lower().split()), stitch.us)
        for phrase, meaning in self.phrases():
            if len(phrase) > 4 or "," in phrase or phrase.count("#") > len(numbers):
                continue
            left = iter(numbers)
            spelled = "".join(next(left) if atom == "#" else atom for atom in phrase)
            if meaning.rule is not None or len(phrase) == 1:
                shown = meaning.stitch.us if meaning.stitch is not None else spelled
                names.setdefault(spelled, shown)
        # two letters that changed places are the commonest slip
        swapped = [
            typed[:place] + typed[place + 1] + typed[place] + typed[place + 2 :]
            for place in range(len(typed) - 1)
        ]
        found = [name for name in swapped if name in names]
        found += get_close_matches(typed, sorted(names), most * 3, 0.6)
        return list(dict.fromkeys(names[name] for name in found))[:most]

    def glossary(self) -> tuple[Term, ...]:
        """The terms of the trade that are no stitches (RS, rep, w&t, ...)."""
        return _load_glossary()


_KINDS = {
    "plain": "plain",
    "slip": "slip",
    "decrease": "decrease",
    "increase": "increase",
    "yarnover": "yarn over",
    "bobble": "bobble",
    "drop": "drop",
    "brioche": "brioche",
    "bindoff": "bind off",
    "caston": "cast on",
}
_STRANDS: tuple[HeadForm, ...] = ("k", "p", "ktbl", "ptbl")
_MOST_KEPT = 4096  # rule-made stitches remembered
_MOST_DIGITS = 15  # a longer number is no count of stitches
_ATOM = re.compile(r"[^\W\d_]+|\d+|[^\w\s&-]")


_MOST_BETWEEN = 8  # words passed over between two words of a phrase
_MARKS = frozenset({"#", ",", STEP_END})  # what the tree itself uses


def _is_number(atom: str) -> bool:
    return (atom.isdecimal() and len(atom) <= _MOST_DIGITS) or atom == "#"


def _after(atoms: Sequence[str], place: int) -> str:
    return atoms[place] if place < len(atoms) else ""


def _step_ends(atoms: Sequence[str], place: int) -> bool:
    """Whether a step may be over before this place."""
    if place >= len(atoms) or atoms[place] in _STEP_ENDS or atoms[place] in _AFTER_A_STEP:
        return True
    return _is_number(atoms[place]) and _after(atoms, place + 1) == "time"


def _longest(atoms: Sequence[str], start: int, root: Place[PhraseMeaning]) -> _Found | None:
    """The longest phrase of the tree that the atoms from `start` on begin with."""
    total = len(atoms)
    best: tuple[int, int] = (start, 0)
    found: _Found | None = None
    # place, next atom, exact words so far, word before, numbers and where they stand
    paths: list[tuple[Place[PhraseMeaning], int, int, str, tuple[int, ...], tuple[int, ...]]] = [
        (root, start, 0, "", (), ())
    ]
    while paths:
        place, at, exact, before, numbers, places = paths.pop()
        if place.meaning is not None and (at, exact) > best:
            best = (at, exact)
            found = _Found(at, exact, place.meaning, numbers, places)
        if place.is_last:
            continue
        then = place.then
        closed = then(STEP_END)
        if closed is not None and _step_ends(atoms, at):
            paths.append((closed, at, exact, before, numbers, places))
        comma = then(",")
        if comma is not None:
            here = at
            if here < total and atoms[here] == "st" and _is_number(before):
                here += 1
            stop = min(total, here + _MOST_BETWEEN)
            while here < stop and atoms[here] in SEPARATORS:
                here += 1
            paths.append((comma, here, exact, ",", numbers, places))
        for here in range(at, min(total, at + _MOST_BETWEEN)):
            atom = atoms[here]
            if _is_number(atom):
                number = then("#")
                if number is not None:
                    value = 0 if atom == "#" else int(atom)
                    paths.append(
                        (number, here + 1, exact, atom, (*numbers, value), (*places, here))
                    )
            if atom not in _MARKS:
                following = then(atom)
                if following is not None:
                    paths.append((following, here + 1, exact + 1, atom, numbers, places))
            if not before:
                break
            if atom in SKIPPABLE:
                before = atom
            elif atom != "st" or not (before == "sl" or before in SKIPPABLE or _is_number(before)):
                break
    return found


def _work(stitch: Stitch) -> tuple[object, ...]:
    """What decreases have in common that may stand for one another."""
    face = stitch.heads[0][:1] if stitch.heads else ""
    return stitch.kind, stitch.uses, stitch.makes, stitch.lean, face


def _structure(stitch: Stitch) -> tuple[object, ...]:
    """The knot itself, whatever it is called."""
    return (
        stitch.uses,
        stitch.makes,
        stitch.heads,
        stitch.front,
        stitch.strands,
        stitch.over,
        stitch.wraps,
        stitch.extra,
    )


def _rule_keys(stitch: Stitch) -> list[str]:
    """The keys a rule-made stitch of this shape would have."""
    uses, makes, heads = stitch.uses, stitch.makes, stitch.heads
    if stitch.strands:
        behind_first = uses - stitch.strands[0]  # strands that come first off the needle
        if not 1 <= behind_first < uses:
            return []
        first, last = heads[0], heads[-1]
        return [
            f"{uses - behind_first}/{behind_first}lc({last},{first})",
            f"{behind_first}/{uses - behind_first}rc({first},{last})",
        ]
    letter = heads[0][0] if heads else "k"
    if makes == 1:
        ways = ("tog", "togtbl", "togturned")
        return [
            *(f"{letter}{uses}{way}" for way in ways),
            "s" * min(uses, 40) + letter,
            *(f"s{slipped}k{uses - slipped}p" for slipped in range(1, min(uses, 40))),
        ]
    if uses == makes + 1:
        return [f"s{letter}{makes}pass"]
    if uses == 0:
        return [f"yo{makes}"]
    if uses == 1:
        return [f"nupp{makes}"]
    return [f"yok{makes}pass"] if uses == makes else []


def _stitch(
    key: str,
    kind: str,
    entry: Mapping[str, Any],
    sources: Mapping[str, str],
    partners: Mapping[str, Mapping[str, str]],
) -> Stitch:
    """The record for an entry of the data, the values left out filled in."""
    uses, makes = entry.get("uses", 1), entry.get("makes", 1)
    heads = tuple(entry.get("heads", "k").split())
    if len(heads) == 1:
        heads *= makes
    front = tuple(entry.get("front", range(uses)))
    lean = entry.get("lean")
    if lean is None and kind == "decrease":
        lean = {0: "left", uses - 1: "right"}.get(front[0], "centre")
    mirror = partners["mirror"].get(key, "")
    if not mirror and uses <= 1 and makes <= 1:
        mirror = key
    us = entry.get("us", key)
    extra = entry.get("extra", "")
    return Stitch(
        key=key,
        uses=uses,
        makes=makes,
        kind=kind,
        heads=heads,
        front=front,
        lean=lean,
        extra=(extra,) if extra else (),
        title=entry["title"],
        us=us,
        uk=entry.get("uk", us),
        how=entry["how"],
        twin=partners["twin"].get(key, ""),
        mirror=mirror,
        source=sources[entry.get("source", "cp")],
        like=entry.get("like", ""),
        counted=entry.get("counted", ""),
        asks=entry.get("asks", ""),
    )


def _read(name: str) -> dict[str, Any]:
    return read_toml(grammar_folder() / name)


@cache
def load_vocabulary(terms: str = "") -> Vocabulary:
    """The vocabulary of grammar/stitches.toml, read once; with `terms` read by the words of
    that set ("older": grammar/terms/older.toml) as well.

    Raises FileNotFoundError when there is no such set of terms.
    """
    return Vocabulary(_read("stitches.toml"), _read(f"terms/{terms}.toml") if terms else None)


@cache
def _load_glossary() -> tuple[Term, ...]:
    data = _read("terms/glossary.toml")
    return tuple(
        Term(abbreviation, tuple(data["also"].get(abbreviation, "").split()), meaning)
        for abbreviation, meaning in data["terms"].items()
    )
