"""Stitches made of stitches, worked loop by loop."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chartc.composing import (
    ComposingError,
    FromHeld,
    Hold,
    InOne,
    PassNext,
    PassOver,
    Return,
    Step,
    Turn,
    define,
    held,
    into_one,
    sequence,
    stated,
    worked_back_and_forth,
)
from chartc.vocabulary import load_vocabulary

WORDS = load_vocabulary()
K, P, YO, SL, SLK = (WORDS.get(key) for key in ("k", "p", "yo", "sl", "slk"))
K2TOG, P2TOG, K5TOG, K3TOG, KTBL = (
    WORDS.get(key) for key in ("k2tog", "p2tog", "k5tog", "k3tog", "ktbl")
)
IN_ONE = InOne(((K, 1), (YO, 1), (K, 1), (YO, 1), (K, 1)))


@pytest.mark.parametrize(
    ("steps", "key"),
    [
        ([(K, 1), (YO, 1), (K, 1)], "kyok"),
        ([(K, 1), (P, 1), (K, 1)], "kpk"),
        ([(P, 1), (K, 1), (P, 1)], "pkp"),
        ([(K, 1), (P, 1)], "kp"),
        ([(P, 1), (K, 1)], "pk"),
        ([(K, 1), (YO, 1), (K, 1), (YO, 1), (K, 1)], "kyokyok"),
        ([(K, 1), (YO, 1), (K, 1), (YO, 1), (K, 1), (YO, 1), (K, 1)], "nupp7"),
    ],
)
def test_known_stitches_worked_into_one(steps: list[Step], key: str) -> None:
    assert into_one(steps) == WORDS.get(key)


def test_into_several_together() -> None:
    star = into_one([(K3TOG, 1), (YO, 1), (K3TOG, 1)], into=3)
    assert (star.uses, star.makes, star.heads) == (3, 3, ("k", "yo", "k"))
    assert sorted(star.front) == [0, 1, 2]
    assert WORDS.mirror(star) == star


@pytest.mark.parametrize(
    ("steps", "over", "key"),
    [
        ([(SLK, 1), (K, 1)], 1, "skp"),
        ([(SL, 1), (K, 1)], 1, "skp"),
        ([(SL, 1), (P, 1)], 1, "spp"),
        ([(SLK, 1), (K2TOG, 1)], 1, "sk2p"),
        ([(SL, 1), (P2TOG, 1)], 1, "sp2p"),
        ([(SLK, 2), (K, 1)], 2, "s2kp"),
        ([(SLK, 1), (K, 3)], 1, "sk3pass"),
        ([(SL, 1), (P, 2)], 1, "sp2pass"),
        ([(SL, 1), (WORDS.get("ssk"), 1)], 1, "ssskp"),
        ([(SL, 2), (K2TOG, 1)], 2, "s2k2p"),
        ([(SL, 1), (K, 1), (YO, 1)], 1, "skyp"),
        ([(YO, 1), (K, 2)], 1, "yok2pass"),
    ],
)
def test_passing_over(steps: list[Step], over: int, key: str) -> None:
    """Uses, makes and which loop lies in front come out as the listed stitch has them."""
    assert sequence(steps, pass_over=over).key == key


def test_worked_handed_back_and_passed_over() -> None:
    for first, key in ((K, "ksp"), (K2TOG, "k2sp"), (WORDS.get("ssk"), "ssksp"), (P, "psp"),
                       (P2TOG, "p2sp"), (WORDS.get("ssp"), "sspsp")):  # fmt: skip
        assert sequence([(first, 1), Return(), PassNext()]) == WORDS.get(key)


@pytest.mark.parametrize("count", [1, 2, 3, 5])
@pytest.mark.parametrize("other", [1, 2, 3])
def test_cables_agree_with_the_rule(count: int, other: int) -> None:
    front = held(count, "front", [(K, other)], [(K, count)])
    back = held(count, "back", [(K, other)], [(K, count)])
    assert front == WORDS.get(f"{count}/{other}lc")
    assert back == WORDS.get(f"{other}/{count}rc")
    purl = held(count, "front", [(P, other)], [(K, count)])
    assert purl == WORDS.get(f"{count}/{other}lpc")
    twisted = held(count, "back", [(KTBL, other)], [(P, count)])
    assert twisted == WORDS.get(f"{other}/{count}rc(ktbl,p)")


def test_bobbles() -> None:
    steps: list[Step] = [IN_ONE, Turn(), (P, 5), Turn(), (K5TOG, 1)]
    bobble = define("MB", steps, "(k1, yo, k1, yo, k1) in one st, turn, p5, turn, k5tog")
    assert (bobble.uses, bobble.makes, bobble.extra) == (1, 1, ("bobble",))
    assert bobble.key == "mb" and bobble.us == "MB" and bobble.kind == "own"
    assert bobble.how.startswith("(k1, yo") and bobble.how.endswith("k5tog.")
    same = worked_back_and_forth([[IN_ONE], [(P, 5)], [(K5TOG, 1)]])
    assert (same.uses, same.makes) == (1, 1)
    four = InOne(((K, 1), (P, 1), (K, 1), (P, 1)))
    lifted = define("knob", [four, PassNext(3)])
    assert (lifted.uses, lifted.makes, lifted.extra) == (1, 1, ("bobble",))
    closing = [IN_ONE, Turn(), (P, 5), Turn(), (SLK, 2), (K3TOG, 1), PassOver(2)]
    assert sequence(closing).makes == 1


def test_own_names_for_known_stitches_turn_and_mirror_like_them() -> None:
    twist = define("Tw2R", [Hold(1, "back"), (K, 1), FromHeld(K)], "knit 2nd st, then 1st st")
    assert (twist.lean, twist.strands) == ("right", (1, 0))
    assert WORDS.mirror(twist) == WORDS.get("lt")
    dec = define("dec R", [(K2TOG, 1)])
    assert dec.key == "decr" and dec.lean == "right" and WORDS.twin(dec) == P2TOG


def test_sequence_of_plain_stitches() -> None:
    shell = define("shell", [(K2TOG, 1), (YO, 1), (WORDS.get("ssk"), 1)])
    assert (shell.uses, shell.makes) == (4, 3)
    assert shell.front == (1, 0, 2, 3)


def test_stated_counts() -> None:
    tuft = stated("tuft", 3, 5, "whatever is done here")
    assert (tuft.uses, tuft.makes, tuft.front) == (3, 5, (0, 1, 2))
    assert tuft.how == "whatever is done here."
    for uses, makes in ((0, 0), (-1, 2), (10**9, 1)):
        with pytest.raises(ComposingError):
            stated("tuft", uses, makes)


@pytest.mark.parametrize(
    ("steps", "message"),
    [
        ([(K, 1), PassOver()], "none was slipped"),
        ([(SL, 1), (K, 1), PassOver(3)], "only 1 were slipped|none was slipped"),
        ([Hold(2, "front"), (K, 2), FromHeld(K, 1)], "1 stitch is left on the cable needle"),
        ([Hold(3, "front"), (K, 2), FromHeld(K, 1)], "2 stitches are left on the cable needle"),
        ([Hold(2, "back"), (K, 2), FromHeld(K, 3)], "than it holds"),
        ([Hold(2, "back"), Hold(1, "front")], "again before it is empty"),
        ([IN_ONE, Turn(), (P, 6), Turn()], "than there are before it"),
        ([IN_ONE, Turn(), (P, 5)], "not turned back"),
        ([Turn(), (K, 1)], "before anything is worked"),
        ([(K, 10**12)], "more than"),
        ([InOne(((K, 10**12),))], "more than"),
        ([InOne(())], "nothing is worked"),
        ([], "nothing is worked"),
        ([InOne(((K3TOG, 1),))], "k3tog needs 3 sts"),
        ([Return(2)], "more stitches are handed back"),
        ([(K, 2), PassNext(2)], "more stitches are passed over"),
    ],
)
def test_what_cannot_be_worked_is_said_in_trade_words(steps: list[Step], message: str) -> None:
    with pytest.raises(ComposingError, match=message) as told:
        sequence(steps)
    assert str(told.value)[0].islower() or str(told.value)[0].isdigit()
    assert not str(told.value).endswith(".")


_PLAIN = st.sampled_from(
    [WORDS.get(key) for key in ("k", "p", "yo", "sl", "k2tog", "ssk", "kfb", "m1l", "s2kp", "c4f")]
)
_STEP = st.one_of(
    st.tuples(_PLAIN, st.integers(0, 4)),
    st.builds(PassOver, st.integers(1, 3)),
    st.builds(PassNext, st.integers(1, 3)),
    st.builds(Return, st.integers(1, 3)),
    st.just(Turn()),
    st.builds(Hold, st.integers(1, 3), st.sampled_from(["front", "back"])),
    st.builds(FromHeld, _PLAIN, st.integers(1, 3)),
    st.builds(InOne, st.lists(st.tuples(_PLAIN, st.integers(1, 2)), max_size=4).map(tuple)),
)


@settings(max_examples=300, deadline=None)
@given(st.lists(_STEP, max_size=8))
def test_whatever_is_worked_holds_together_or_is_refused(steps: list[Step]) -> None:
    try:
        made = sequence(steps)
    except ComposingError:
        return
    assert len(made.heads) == made.makes
    assert sorted(made.front) == list(range(made.uses))
    assert not made.strands or sorted(made.strands) == list(range(made.uses))


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(_PLAIN, st.integers(0, 5)), min_size=1, max_size=6))
def test_in_sequence_counts_add_up(steps: list[tuple[object, int]]) -> None:
    try:
        made = sequence(steps)  # type: ignore[arg-type]
    except ComposingError:
        assert not any(times for _, times in steps)
        return
    assert made.uses == sum(stitch.uses * times for stitch, times in steps)  # type: ignore[attr-defined]
    assert made.makes == sum(stitch.makes * times for stitch, times in steps)  # type: ignore[attr-defined]
