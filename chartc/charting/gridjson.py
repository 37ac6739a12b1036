"""The grid as JSON and back: what an SVG chart carries so that it can be read again."""

from __future__ import annotations

import json
from dataclasses import asdict, fields
from typing import Any, cast

from chartc.charting.frames import Edge, Frame
from chartc.charting.grid import Cell, CellKind, Grid, GridRow, LeftOut
from chartc.fabric import Pass
from chartc.source import Span
from chartc.stitch import Stitch

VERSION = 2
_KINDS: tuple[CellKind, ...] = ("stitch", "none", "rest")


class NoGrid(ValueError):
    """The text holds no chart grid, or not one this version can read."""


def to_json(grid: Grid) -> str:
    """The grid in one line of JSON; the same grid gives the same text."""
    table: dict[Stitch, int] = {}

    numbers: dict[int, int] = {}  # by identity: the same few objects fill the cells

    def number(stitch: Stitch | None) -> int:
        if stitch is None:
            return -1
        found = numbers.get(id(stitch))
        if found is None:
            found = numbers[id(stitch)] = table.setdefault(stitch, len(table))
        return found

    rows = [
        {
            "index": row.index, "label": row.label, "number": row.number, "side": row.side,
            "round": row.in_round, "from_left": row.from_left, "section": row.section,
            "shift": row.shift, "span": [row.span.start, row.span.end],
            "cells": [
                [
                    cell.column, cell.width, _KINDS.index(cell.kind), number(cell.stitch),
                    number(cell.worked), int(cell.wrong_side) + 2 * int(cell.outside),
                    list(cell.over), cell.order, cell.span.start, cell.span.end,
                    [[m.repeat, m.number, int(m.last) + 2 * int(m.open)] for m in cell.passes],
                ]
                for cell in row.cells
            ],
        }
        for row in grid.rows
    ]  # fmt: skip
    left_out = [
        {
            "labels": list(left.labels), "numbers": list(left.numbers), "side": left.side,
            "worked": number(left.worked),
        }
        for left in grid.left_out
    ]  # fmt: skip
    data = {
        "version": VERSION, "width": grid.width, "in_round": grid.in_round, "shift": grid.shift,
        "left_handed": grid.left_handed, "as_worked": grid.as_worked,
        "background": grid.background, "rows": rows,
        "frames": [
            [int(frame.inner), [[e.row, e.right, e.left] for e in frame.edges]]
            for frame in grid.frames
        ],
        "left_out": left_out,
        "stitches": [_stitch_data(stitch) for stitch in table],
    }  # fmt: skip
    return json.dumps(data, separators=(",", ":"), ensure_ascii=True)


def _stitch_data(stitch: Stitch) -> dict[str, Any]:
    data = asdict(stitch)
    data["over"] = sorted(stitch.over)
    plain = asdict(Stitch(stitch.key, stitch.uses, stitch.makes))
    plain["over"] = []
    return {
        name: value
        for name, value in data.items()
        if name in ("key", "uses", "makes") or value != plain[name]
    }


def _stitch(data: dict[str, Any]) -> Stitch:
    known = {field.name for field in fields(Stitch)}
    values = {name: value for name, value in data.items() if name in known}
    for name, value in values.items():
        if isinstance(value, list):
            values[name] = frozenset(value) if name == "over" else tuple(value)
    return Stitch(**values)


def from_json(text: str) -> Grid:
    """The grid again. Raises NoGrid when the text is not one."""
    try:
        data = json.loads(text)
        if data["version"] != VERSION:
            raise NoGrid("this chart was written by another version")
        stitches = [_stitch(entry) for entry in data["stitches"]]
        return _grid(data, stitches)
    except (ValueError, KeyError, TypeError, IndexError) as error:
        if isinstance(error, NoGrid):
            raise
        raise NoGrid("the chart's own record of its grid is damaged") from error


def _grid(data: dict[str, Any], stitches: list[Stitch]) -> Grid:
    def named(number: int) -> Stitch | None:
        return None if number < 0 else stitches[number]

    rows = tuple(
        GridRow(
            row["index"], row["label"], row["number"], row["side"], row["round"],
            row["from_left"],
            tuple(
                Cell(
                    column, width, _KINDS[kind], named(stitch), named(worked), bool(marks & 1),
                    bool(marks & 2), tuple(over), order, Span(start, end),
                    tuple(Pass(r, n, bool(m & 1), bool(m & 2)) for r, n, m in passes),
                )
                for column, width, kind, stitch, worked, marks, over, order, start, end, passes
                in row["cells"]
            ),
            row["section"], row["shift"], Span(*row["span"]),
        )
        for row in data["rows"]
    )  # fmt: skip
    return Grid(
        rows, data["width"], data["in_round"], data["shift"],
        tuple(
            Frame(tuple(Edge(*edge) for edge in edges), bool(inner))
            for inner, edges in data["frames"]
        ),
        tuple(
            LeftOut(
                tuple(left["labels"]), tuple(left["numbers"]), left["side"],
                cast(Stitch, named(left["worked"])),
            )
            for left in data["left_out"]
        ),
        data["left_handed"], data["as_worked"], data["background"],
    )  # fmt: skip
