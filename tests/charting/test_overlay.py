"""Findings marked on the cells they concern, and how the fabric leans."""

from __future__ import annotations

from chartc.charting import Flag, draw, flags_from, lay_out
from chartc.charting.overlay import column_leans, flagged_runs, furthest, leans, repeat_starts
from chartc.findings import Finding, Severity
from chartc.source import Span

from .fabrics import flat, rounds


def test_a_flag_marks_the_cells_of_its_text_in_every_repeat() -> None:
    grid = lay_out(flat(10, ["k [ yo ssk ] k", "p:10"], times=4))
    runs = flagged_runs(grid, [Flag(Span(4, 6), "the yo"), Flag(Span(7, 10), "the ssk")])
    assert [(run.flag, run.row, run.right, run.left) for run in runs if run.row == 0] == [
        *[(0, 0, column, column + 1) for column in (1, 3, 5, 7)],
        *[(1, 0, column, column + 1) for column in (2, 4, 6, 8)],
    ]


def test_neighbours_are_marked_together_and_text_without_stitches_marks_the_row() -> None:
    grid = lay_out(flat(10, ["k [ yo ssk ] k"], times=4))
    runs = flagged_runs(
        grid, [Flag(Span(0, 14), "all"), Flag(Span(2, 3), "the bracket"), Flag(Span(90, 91), "no")]
    )
    assert [(run.flag, run.right, run.left) for run in runs] == [(0, 0, 10), (1, 0, 0)]


def test_findings_become_flags_and_are_written_out() -> None:
    finding = Finding("x", Severity.WRONG, Span(4, 6), "this yo has no decrease")
    (flag,) = flags_from([finding])
    assert flag == Flag(Span(4, 6), "this yo has no decrease")
    svg = draw(lay_out(flat(10, ["k [ yo ssk ] k"], times=4)), flags=[flag])
    assert "This yo has no decrease." in svg and 'id="chart-findings"' in svg
    assert 'id="chart-findings"' not in draw(lay_out(flat(3, ["k:3"])), flags=[flag])


def test_stitches_between_a_yarn_over_and_its_decrease_lean() -> None:
    """yo k3 k2tog: the three knit stitches come over one column to the left."""
    grid = lay_out(rounds(7, ["k yo k:3 k2tog k", "k:7"]))
    assert [(lean.row, lean.middle, lean.by) for lean in leans(grid)] == [
        (0, 2.5, 1.0), (0, 3.5, 1.0), (0, 4.5, 1.0),
    ]  # fmt: skip
    assert furthest(grid) == [(1, 0), (0, 0)]


def test_columns_add_up_their_lean() -> None:
    grid = lay_out(rounds(7, ["k yo k:3 k2tog k"] * 2))
    by_column = dict(column_leans(grid))
    assert by_column[0] == 0 and by_column[6] == 0
    assert by_column[3] == 1  # row 2 leans over row 1, which stands on the foot of the chart
    assert 1 not in by_column  # it begins at a yarn over


def test_where_repeats_begin() -> None:
    grid = lay_out(flat(10, ["k [ yo ssk ] k", "p [ p:2 ] p"], times=4))
    assert repeat_starts(grid.rows[0]) == [1, 3, 5, 7]
    assert repeat_starts(grid.rows[1]) == [9, 7, 5, 3]
