"""The cue card and its captions.

The form of the captions follows the W3C candidate recommendation "WebVTT: The Web Video Text
Tracks Format", sections 4.1 and 4.2 (from memory): the signature line, blank lines between
cues, times as hours:minutes:seconds.milliseconds with two, two, two and three digits, no "-->"
and no bare "<" or "&" in what is shown, each cue ending no sooner than it begins.
"""

from __future__ import annotations

import itertools
import re

import pytest

from chartc.sheets import SheetOptions, SheetProblem, captions, cue_card
from tests.sheets.kit import of, page, sample, sound_samples

TIMES = re.compile(
    r"(\d{2,}):([0-5]\d):([0-5]\d)\.(\d{3}) --> (\d{2,}):([0-5]\d):([0-5]\d)\.(\d{3})"
)


def cues(text: str) -> list[tuple[int, int, str]]:
    """The cues of a file, read by the grammar of the format."""
    assert text.startswith("WEBVTT\n")
    blocks = [block for block in re.split(r"\n{2,}", text.rstrip("\n")) if block]
    found = []
    for block in blocks[1:]:
        lines = block.split("\n")
        if lines[0].startswith("NOTE"):
            assert "-->" not in block
            continue
        assert "-->" not in lines[0], "a cue without its number"
        times = TIMES.fullmatch(lines[1])
        assert times, lines[1]
        h1, m1, s1, f1, h2, m2, s2, f2 = map(int, times.groups())
        start = ((h1 * 60 + m1) * 60 + s1) * 1000 + f1
        end = ((h2 * 60 + m2) * 60 + s2) * 1000 + f2
        shown = "\n".join(lines[2:])
        assert "-->" not in shown
        assert not re.search(r"&(?!(?:amp|lt|gt|nbsp|lrm|rlm|#\d+);)", shown)
        assert "<" not in shown and shown.strip()
        found.append((start, end, shown))
    return found


@pytest.mark.parametrize("name", sound_samples())
def test_captions_are_in_form(name: str) -> None:
    found = cues(captions(sample(name)))
    assert len(found) > 3
    for (start, end, _), (then, _, _) in itertools.pairwise(found):
        assert start < end == then
    assert found[0][0] == 0


def test_captions_of_a_hostile_text() -> None:
    proof = of(
        "A --> B & <c>\n\nNet --> <b>&amp;\n\nCast on 8 sts & join --> in <i>.\n"
        "Row 1 (RS): Knit.\nBind off all sts.\n"
    )
    assert cues(captions(proof))


def test_each_time_through_has_its_running_count() -> None:
    found = [shown for _, _, shown in cues(captions(sample("cockle-fan")))]
    start = found.index("Round two.")
    passes = [shown.split("\n")[1] for shown in found[start + 1 : start + 7]]
    # each time through makes 16 of 10: 3 purls, six times k1 and yo, k1
    assert passes == [f"{n} of 6: {16 * n} stitches" for n in range(1, 7)]
    assert found[start + 7] == "You should have 96 stitches."


def test_the_pace_can_be_chosen() -> None:
    slow = cues(captions(sample("cockle-fan"), seconds_a_stitch=4.0))
    quick = cues(captions(sample("cockle-fan"), seconds_a_stitch=0.5))
    assert slow[-1][1] > 2 * quick[-1][1]
    for pace in (0, -1, 1000):
        with pytest.raises(SheetProblem, match="pace"):
            captions(sample("cockle-fan"), seconds_a_stitch=pace)


def test_rows_are_in_spoken_words() -> None:
    text = page(cue_card(sample("cockle-fan")).html()).text
    assert "Six times: purl three; slip slip knit; knit nine; knit two together." in text
    assert "after each: 14, 28, 42, 56, 70, 84" in text
    assert "Cast on 60 stitches, place marker and join in the round." in text
    assert not re.search(r"\b(?:k2tog|ssk|yo|rnd|sts)\b", text)


def test_one_size_at_a_time_or_one_after_the_other() -> None:
    hat = sample("lanternhead-hat")
    small = page(cue_card(hat, SheetOptions(own="Adult Small")).html()).text
    assert "cast on 88 stitches" in small and "80 (88" not in small
    both = page(cue_card(hat, SheetOptions(sizes=("Child", "Adult Large"))).html())
    names = [h.text for h in both.all("h2")]
    assert names == ["Size Child", "Size Adult Large"]


def test_a_size_is_spoken_with_its_own_numbers() -> None:
    text = captions(sample("lanternhead-hat"), SheetOptions(own="Adult Large"))
    assert "NOTE Lanternhead Hat, size Adult Large" in text
    assert "You should have 108 stitches." in text
    assert "You should have 84 stitches." not in text
