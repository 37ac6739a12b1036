"""Every number on a sheet is the ledger's, and every row of the ledger is on the sheet.

The counts themselves are checked against those worked out by hand beside the samples
(tests/expected), which owe nothing to the counting.
"""

from __future__ import annotations

import re

import pytest

from chartc.pattern import Row
from chartc.sheets import SheetOptions, class_sheet, cue_card
from chartc.sheets.gather import parts_of, window, worth_a_chart
from tests.sheets.kit import Node, expected, of, page, sample, sample_names, sound_samples


def ledger_number(name: str, key: str) -> int | None:
    section, entry, size, part = key.split(".")
    counted = sample(name).counted.sections[int(section)].entries[int(entry)]
    one = next(one for one in counted.sizes if one.size_index == int(size))
    value: int | None = getattr(one, part)
    return value


def test_enough_samples_are_sound() -> None:
    assert len(sound_samples()) >= 12


@pytest.mark.parametrize("name", sample_names())
def test_numbers_of_the_class_sheet_are_the_ledgers(name: str) -> None:
    tree = page(class_sheet(sample(name)).html())
    numbers = tree.all("data")
    assert numbers, "a sheet without a count"
    for node in numbers:
        value = ledger_number(name, node.attrs["data-ledger"])
        assert node.text == ("?" if value is None else str(value))
        assert node.attrs["value"] == node.text


@pytest.mark.parametrize("name", sound_samples())
def test_numbers_of_the_cue_card_are_the_ledgers(name: str) -> None:
    sizes = sample(name).pattern.sizes
    for size in sizes:
        tree = page(cue_card(sample(name), SheetOptions(own=size)).html())
        for node in tree.all("data"):
            key = node.attrs["data-ledger"]
            assert int(key.split(".")[2]) == sizes.index(size)
            assert node.text == str(ledger_number(name, key))


@pytest.mark.parametrize("name", sound_samples())
@pytest.mark.parametrize("words_only", [False, True])
def test_no_row_is_missing(name: str, words_only: bool) -> None:
    """Each row of the text has its line, with the count after it in every size."""
    proof = sample(name)
    tree = page(class_sheet(proof, SheetOptions(words_only=words_only)).html())
    keys = {node.attrs["data-ledger"] for node in tree.all("data")}
    for part in parts_of(proof):
        for one in part.lines():
            for numbers in one.after.values():
                assert numbers[0].key in keys
    for section, counted in enumerate(proof.counted.sections):
        # shaping told in prose ("dec 1 st at each end of every row") stands between the rows
        rows = {
            (it.span, it.number)
            for it in proof.pattern.sections[section].flow
            if isinstance(it, Row)
        }
        told = rows & {
            (entry.row.span, entry.row.number) for entry in counted.entries if entry.row is not None
        }
        lines = [one for part in parts_of(proof) if part.index == section for one in part.lines()]
        assert told <= {(one.row.span, one.number) for one in lines}


@pytest.mark.parametrize("name", [n for n in sound_samples() if expected(n)["sections"]])
def test_counts_as_worked_out_by_hand(name: str) -> None:
    """The first count of each row, against tests/expected."""
    proof = sample(name)
    found: dict[tuple[str, int | None, int], list[int | None]] = {}
    for part in parts_of(proof):
        for one in part.lines():
            line = proof.source.locate(one.row.head.start)[0]
            if "holder" in one.words:
                continue  # the hand counted what waits as well
            first = [one.after[i][0].value for i in sorted(one.after)]
            found.setdefault((part.section.name, one.number, line), first)
    compared = 0
    for section in expected(name)["sections"]:
        seen: set[tuple[str, int | None, int]] = set()
        for row in section["rows"]:
            number = re.search(r"\d+", row["label"])
            key = (section["name"], int(number[0]) if number else None, row["line"])
            if key in seen or key not in found or row.get("pass", 1) != 1:
                continue
            seen.add(key)
            worked = [count for count in row["counts_after"] if count is not None]
            if len(worked) == len(found[key]):
                assert found[key] == worked, key
                compared += 1
    assert compared >= 1


def test_own_size_is_set_off_in_every_list() -> None:
    tree = page(class_sheet(sample("lanternhead-hat"), SheetOptions(own="Adult Small")).html())
    own = [node for node in tree.all("strong") if node.attrs.get("class") == "own"]
    counts = [node for node in own if node.all("data")]
    assert counts
    assert all(node.all("data")[0].attrs["data-ledger"].split(".")[2] == "1" for node in counts)
    assert "88" in {node.text for node in own}  # CO 80 (88, 100), in the words of the pattern
    assert not {node.text for node in own} & {"84", "108", "120", "180"}  # those of other sizes


def test_only_the_sizes_asked_for() -> None:
    options = SheetOptions(sizes=("Adult Large", "Child"))
    tree = page(class_sheet(sample("lanternhead-hat"), options).html())
    sizes = {node.attrs["data-ledger"].split(".")[2] for node in tree.all("data")}
    assert sizes == {"0", "2"}


def table_row(tree: Node, label: str) -> Node:
    return next(
        row for row in tree.all("tr")
        if any(th.text.startswith(label) and th.attrs.get("scope") == "row" for th in row.all("th"))
    )  # fmt: skip


def test_counts_that_change_each_time_are_all_told() -> None:
    proof = of(
        "Wedge\n\nPanel\n\nCast on 20 sts.\nRow 1 (RS): K1, k2tog, k to last 3 sts, ssk, k1.\n"
        "Row 2 (WS): Purl.\nRep rows 1 and 2 five more times. 8 sts\n"
    )
    assert proof.sound
    tree = page(class_sheet(proof).html())
    table = next(t for t in tree.all("table") if "each time through" in t.text)
    firsts = [
        row.all("data")[0].text for row in table.all("tr")[1:] if row.text.startswith("Row 1")
    ]
    assert firsts == ["18", "16", "14", "12", "10", "8"]


def test_ticks_for_every_time_through() -> None:
    tree = page(class_sheet(sample("lanternhead-hat"), SheetOptions(own="Adult Large")).html())
    row = next(
        row for row in tree.all("tr") if "k3, ssk, k1, k2tog, k3, yo" in row.text.replace("\xa0", " ")
    )  # fmt: skip
    boxes = next(node for node in row.all("span") if node.attrs.get("class") == "ticks")
    assert len(boxes.all("i")) == 4  # "a total of 3 (3, 4) times"


@pytest.mark.parametrize("name", sound_samples())
def test_swatch_is_the_smallest_with_two_repeats(name: str) -> None:
    proof = sample(name)
    for part in parts_of(proof):
        one, two = (window(proof.pattern, part, 0, n) for n in (1, 2))
        if one is None or two is None or not worth_a_chart(one) or one.works.multiple < 2:
            continue
        assert two.works.holds(two.cast_on)
        fewest = [
            min((most_times(plan) for plan in w.plans if most_times(plan)), default=0)
            for w in (one, two)
        ]
        if fewest[1]:
            assert fewest[1] >= 2
        assert two.cast_on - one.cast_on in (0, one.works.multiple, 2 * one.works.multiple)


def most_times(plan: object) -> int:
    passes = [p.number for done in plan.stitches for p in done.passes if p.open]  # type: ignore[attr-defined]
    return max(passes, default=0)
