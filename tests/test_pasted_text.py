"""Text nobody planned for: pasted from a word processor or a PDF, lists of steps, rows run
together, stitch patterns called by name. Layouts are common practice, no source."""

from __future__ import annotations

from chartc.counting import count
from chartc.pattern import Again, Instruction, Pattern, Plain, Repeat, Row, Work
from chartc.reading import read
from chartc.source import Source

QUIET = {"length-rows", "split", "across-marker", "already-there"}


def sound(text: str) -> tuple[Pattern, list[Instruction]]:
    pattern = read(Source("x", text))
    assert not pattern.remarks, pattern.remarks
    events = [e for e in count(pattern).events if e.kind not in QUIET]
    assert not events, events
    return pattern, [i for s in pattern.sections for i in s.flow]


def afters(pattern: Pattern) -> list[int | None]:
    return [e.sizes[0].after for e in count(pattern).entries if e.row is not None]


def test_a_list_of_steps_is_no_list_of_rows() -> None:
    _, flow = sound(
        "Saltmarsh Sampler\n\n1. Cast on 21 sts.\n2. Row 1 (RS): K1, *yo, k2tog; rep from * to end.\n"
        "3. Row 2: Purl.\n4. Repeat rows 1 and 2 four more times.\n5. Knit 2 rows.\n6. Bind off all sts.\n"
    )
    assert [i.number for i in flow if isinstance(i, Row)] == [1, 2]
    assert [i.times.values for i in flow if isinstance(i, Again) and i.times] == [(4,)]
    assert [i.rows.values for i in flow if isinstance(i, Plain) and i.rows] == [(2,)]


def test_numbered_rows_without_labels() -> None:
    _, flow = sound(
        "Saltmarsh Edge\n\nCast on 12 sts.\n1. K2, *yo, k2tog; rep from * to end.\n2. Purl.\n3. *K2tog, yo; rep from * to last 2 sts, k2.\n4. Purl.\n"
    )
    assert [i.number for i in flow if isinstance(i, Row)] == [1, 2, 3, 4]


def test_rows_run_together_in_one_paragraph() -> None:
    pattern, flow = sound(
        "Saltmarsh Band\nCast on 24 sts. Row 1 (RS): *K2, p2; rep from * to end. Row 2: *K2, p2; rep "
        "from * to end. Row 3: K2, *yo, k2tog; rep from * to last 2 sts, k2. Row 4: Purl. Repeat rows "
        "1-4 3 more times. Bind off in pattern.\n"
    )
    assert [i.number for i in flow if isinstance(i, Row)] == [1, 2, 3, 4]
    assert set(afters(pattern)) == {24}


def test_words_broken_at_the_end_of_a_line() -> None:
    pattern, flow = sound(
        "Saltmarsh Cuff\n\nCast on 23 sts.\nRow 1 (RS): K1, *sl 1, k1, pass slip-\nped st over, yo; re-\npeat from * to end.\n"
        "Row 2: Purl to the last stitch, pur-\nling that one.\n"
    )
    row = next(i for i in flow if isinstance(i, Row))
    assert any(isinstance(s, Repeat) for s in row.steps)
    assert set(afters(pattern)) == {23}


def test_page_numbers_between_and_inside_rows() -> None:
    pattern, flow = sound(
        "Saltmarsh Scarf\n\nCast on 20 sts.\nRow 1 (RS): K5, k2tog, yo,\n- 2 -\nk to last 7 sts, yo, ssk, k5.\n"
        "Row 2: Purl.\nPage 3 of 8\nRow 3: Knit.\n"
    )
    assert [i.number for i in flow if isinstance(i, Row)] == [1, 2, 3]
    assert set(afters(pattern)) == {20}


def test_panels_written_after_the_rows_that_call_them() -> None:
    _, flow = sound(
        "Saltmarsh Panel\n\nCast on 30 sts.\nRow 1 (RS): P2, work row 1 of Ladder panel, p4, work row 1 of Rope panel, p to end.\n\n"
        "Ladder panel (worked over 6 sts)\nRow 1: K2, yo, k2tog, k2.\nRow 2: Purl.\n\n"
        "Rope panel (worked over 8 sts)\nRow 1: C4F, k4.\nRow 2: Purl.\n"
    )
    row = next(i for i in flow if isinstance(i, Row))
    assert "c4f" in [s.stitch.key for s in row.steps if isinstance(s, Work)]


def test_a_panel_is_repeated_over_its_stitches() -> None:
    pattern, flow = sound(
        "Saltmarsh Wrap\n\nShell patt (multiple of 11 sts)\n"
        "Row 1 (RS): *(K2tog) twice, (yo, k1) 3 times, yo, (k2tog) twice; rep from * to end.\nRow 2: Purl.\n\n"
        "Wrap\nCast on 30 sts.\nRow 1 (RS): K4, work Row 1 of Shell patt over next 22 sts, k4.\n"
        "Row 2: K4, work Row 2 of Shell patt over next 22 sts, k4.\n"
        "Work Rows 1 and 2 of Shell patt over centre 22 sts, keeping 4 sts at each edge in garter st, 5 times.\nBind off.\n"
    )
    again = next(i for i in flow if isinstance(i, Again))
    assert again.times is not None and again.times.values == (5,)
    assert set(afters(pattern)[2:]) == {30}
