"""How well the old books are read: `python -m tests.published.books.score FOLDER [PASSAGE ...]`.

FOLDER holds the passages as text, one folder for each book (lambert-1843/, dillmont-1886/).
For each book: the numbered rows, how many were read without a word left over, and how many
were read just as restated in rows.toml; then the patterns whose rows are complete, and for
each whether it is proved with the number the book prints or where it does not come out.
"""

from __future__ import annotations

import re
import sys
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from chartc.counting import Counted, count
from chartc.counting.events import Event
from chartc.pattern import (
    Again,
    CastOn,
    Change,
    Fill,
    Instruction,
    Off,
    Pattern,
    Repeat,
    Row,
    Step,
    Unread,
    Work,
    walk,
)
from chartc.reading import read
from chartc.source import Source

HERE = Path(__file__).parent
WRONG = frozenset(
    {"too-few", "too-many", "repeat-does-not-fit", "stated-differs", "repeat-uses-nothing",
     "net-not-zero-on-repetition", "cannot-spread", "nothing-fits"}
)  # fmt: skip


def facts() -> dict[str, dict[str, str]]:
    """Passage -> key of rows -> row as restated."""
    with (HERE / "rows.toml").open("rb") as file:
        return tomllib.load(file)


def numbers(key: str) -> list[int]:
    """The row numbers of a key: "1 3" or "1-23"."""
    found: list[int] = []
    for part in key.split():
        first, _, last = part.partition("-")
        found += range(int(first), int(last or first) + 1)
    return found


# ------------------------------------------------------------------ rows in one notation


def tokens(code: str) -> list[str]:
    """A restated row, one word for each stitch: brackets that are repeated a number of times
    written out, "[" and "]" round what is repeated to the end."""
    words = re.findall(r"\(|\)\d+|\[|\]|[^\s()\[\]]+", code)
    stack: list[list[str]] = [[]]
    for word in words:
        if word == "(":
            stack.append([])
        elif word[0] == ")":
            inner = stack.pop()
            stack[-1] += inner * int(word[1:])
        else:
            stack[-1] += _single(word)
    return stack[0]


def _single(word: str) -> list[str]:
    many = re.fullmatch(r"(k|p|sl|slf)(\d+)", word)
    return [many[1]] * int(many[2]) if many else [word]


def as_read(steps: Sequence[Step]) -> list[str]:
    """A row as chartc read it, in the same notation."""
    out: list[str] = []
    for step in steps:
        if isinstance(step, Work):
            out += [step.stitch.key] * step.times.values[0]
        elif isinstance(step, Repeat) and step.times is not None:
            out += as_read(step.body) * step.times.values[0]
        elif isinstance(step, Repeat):
            out += ["[", *as_read(step.body), "]"]
        elif isinstance(step, Fill):
            out.append(f"{step.stitch.key}*" if step.stitch is not None else "as set")
        elif isinstance(step, Off):
            out.append("off..." if step.count is None else f"off{step.count.values[0]}")
        elif isinstance(step, Change):
            out.append(f"k{step.by.values[0]:+d}")
        elif isinstance(step, Unread):
            out.append("?")
        else:
            out.append(type(step).__name__)
    return out


def _same(want: list[str], got: list[str]) -> bool:
    """Whether a row was read as restated. What a repeat that breaks off at the edge adds
    after it is not printed: there any beginning of the repeat may stand."""

    def one(a: str, b: str) -> bool:
        return a == b or (a == "edge" and b in ("k", "sl"))

    def run(a: list[str], b: list[str]) -> bool:
        return len(a) == len(b) and all(one(x, y) for x, y in zip(a, b, strict=True))

    if run(want, got):
        return True
    if "]" in want and "]" in got:
        cut, stop = want.index("]") + 1, got.index("]") + 1
        unit = want[want.index("[") + 1 : cut - 1]
        tail, added = want[cut:], got[stop:]
        extra = len(added) - len(tail)
        return (
            run(want[:cut], got[:stop])
            and extra > 0
            and run(tail, added[extra:])
            and run(unit[:extra], added[:extra])
        ) or (
            run(want[:cut], got[:stop])
            and not tail
            and _mirrored(got[: got.index("[")], unit, added)
        )
    return False


def _mirrored(head: list[str], unit: list[str], added: list[str]) -> bool:
    """Whether a row ends as it begins, reversed, after a part of the repeat."""
    rest = len(added) - len(head)
    return rest >= 0 and added[rest:] == head[::-1] and added[:rest] == (unit * 2)[:rest]


# ------------------------------------------------------------------ a passage


@dataclass
class Passage:
    """What came of one passage."""

    name: str
    rows: int = 0
    whole: int = 0  # read without a word left over
    right: int = 0  # read as restated
    complete: bool = False
    proved: bool = False
    printed: str = ""
    trouble: str = ""  # the first row that does not come out
    missed: list[str] = field(default_factory=list)


def _rows(flow: Sequence[Instruction]) -> Iterator[Row | Again]:
    for item in flow:
        if isinstance(item, Row):
            yield item
        elif isinstance(item, Again):
            yield item
            yield from _rows(item.rows)


def judge(name: str, text: str, told: dict[str, str]) -> Passage:
    """Read a passage and compare its rows with the facts."""
    found = Passage(name)
    pattern = read(Source(name, text), "older")
    counted = count(pattern)
    by_number: dict[int, list[Row]] = {}
    agains: set[int] = set()
    for section in pattern.sections:
        for item in _rows(section.flow):
            if isinstance(item, Again):
                if item.first is not None:
                    agains.add(item.first)
            elif item.number is not None:
                rows = by_number.setdefault(item.number, [])
                if all(item.span != r.span for r in rows):
                    rows.append(item)
    for key, code in told.items():
        for number in numbers(key):
            found.rows += 1
            again = re.fullmatch(r"as (\d+)", code)
            if again:
                ok = int(again[1]) in agains
                found.whole += ok
                found.right += ok
                if not ok:
                    found.missed.append(f"{number}: not begun again at {again[1]}")
                continue
            rows = by_number.get(number % 100, [])
            row = rows[number // 100] if number // 100 < len(rows) else None
            whole = row is not None and not any(isinstance(s, Unread) for s in walk(row.steps))
            right = whole and code != "?" and row is not None and _same(tokens(code), as_read(row.steps))
            found.whole += whole
            found.right += right
            if not right and row is not None:
                found.missed.append(f"{number}: {' '.join(as_read(row.steps))}")
            elif not right:
                found.missed.append(f"{number}: not there")
    found.complete = "?" not in told.values() and found.rows == found.whole
    _prove(found, pattern, counted)
    return found


def _prove(found: Passage, pattern: Pattern, counted: Counted) -> None:
    """Whether the number the book prints works."""
    ok: list[bool] = []
    for section, result in zip(pattern.sections, counted.sections, strict=True):
        cast = next((i for i in section.flow if isinstance(i, CastOn)), None)
        if section.multiple is not None:
            of, plus = section.multiple.of, section.multiple.plus
            found.printed = f"multiple of {of}" + (f" + {plus}" if plus else "")
            fits = [result.works, *result.more]
            ok.append(
                any(
                    w is not None and w.multiple and of % w.multiple == 0 and (plus - w.plus) % w.multiple == 0
                    for w in fits
                )
            )
        elif cast is not None:
            found.printed = str(cast.count.values[0])
    whole = [w.fits for w in counted.whole]
    if not found.printed:
        found.complete = False
    if whole:
        ok.append(all(whole))
    wrong = [e for e in counted.events if e.kind in WRONG]
    trouble = min(wrong, key=lambda e: (e.section, e.pass_number, e.span.start), default=None)
    found.proved = bool(ok) and all(ok)
    if not found.proved:
        why = trouble or next((s.why_not for s in counted.sections if s.why_not is not None), None)
        found.trouble = _told(why)
        for section, result in zip(pattern.sections, counted.sections, strict=True):
            if section.multiple is not None and result.works is not None:
                w = result.works
                found.trouble = f"comes out on multiples of {w.multiple} + {w.plus} only"


def _told(event: Event | None) -> str:
    if event is None:
        return "no one number works for all rows"
    where = event.row.label if event.row is not None else "rows told in prose"
    data = " ".join(f"{k} {v}" for k, v in event.data.items() if k in ("before", "takes", "left", "short", "a", "b", "c"))
    return f"{where}: {event.kind} ({data})"


def score(folder: Path, wanted: Sequence[str] = ()) -> list[Passage]:
    """All passages of a folder that rows.toml knows."""
    found: list[Passage] = []
    for name, told in facts().items():
        path = folder / f"{name}.txt"
        if path.is_file() and (not wanted or any(w in name for w in wanted)):
            found.append(judge(name, path.read_text(encoding="utf-8"), told))
    return found


def main(arguments: Sequence[str]) -> int:
    if not arguments:
        print(__doc__)
        return 2
    passages = score(Path(arguments[0]), arguments[1:])
    for book in dict.fromkeys(p.name.split("/")[0] for p in passages):
        mine = [p for p in passages if p.name.split("/")[0] == book]
        rows = sum(p.rows for p in mine)
        whole, right = sum(p.whole for p in mine), sum(p.right for p in mine)
        complete = [p for p in mine if p.complete]
        print(f"{book}: {len(mine)} passages, {rows} numbered rows, {whole} read ({whole / rows:.1%}), "
              f"{right} right ({right / rows:.1%}); {len(complete)} patterns complete, "
              f"{sum(p.proved for p in complete)} proved")  # fmt: skip
        for p in mine:
            state = "proved" if p.proved else p.trouble
            print(f"  {p.name.split('/')[1]}: {p.right}/{p.rows}"
                  f"{'' if p.complete else ' not complete'}; {p.printed or 'no number'}: {state}")  # fmt: skip
            for line in p.missed:
                print(f"      {line}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
