"""The vocabulary and the checks told for the terminal."""

from __future__ import annotations

import re
from collections.abc import Sequence
from textwrap import fill

from chartc.stitch import Stitch

WIDTH = 96


def terms_text(words: str = "") -> str:
    """The stitches and terms that have the words in them, or all of them; "" when none has."""
    from chartc.vocabulary import load_vocabulary

    vocabulary = load_vocabulary()
    if words.strip():
        stitches = vocabulary.search(words)
        low = words.strip().lower()
        others = [
            term
            for term in vocabulary.glossary()
            if low == term.abbreviation.lower()
            or re.search(rf"(?<![a-z]){re.escape(low)}", f"{term.abbreviation} {term.meaning}".lower())
        ]
        named = vocabulary.named(words)
        if named is None and len(stitches) <= 3:
            parts = [_whole(stitch) for stitch in stitches]
        else:
            rest = [one for one in stitches if named is None or one.key != named.key]
            parts = [_whole(named)] if named is not None else []
            parts += [_table(rest)] if rest else []
        if others:
            parts.append("\n".join(f"{t.abbreviation}: {t.meaning}" for t in others))
        return "\n\n".join(part for part in parts if part) + ("\n" if parts or others else "")
    kinds: dict[str, list[Stitch]] = {}
    for stitch in vocabulary.stitches.values():
        kinds.setdefault(stitch.kind, []).append(stitch)
    parts = [f"{kind}\n{_table(some)}" for kind, some in kinds.items()]
    parts.append("other terms\n" + "\n".join(f"  {t.abbreviation}: {t.meaning}" for t in vocabulary.glossary()))
    parts.append("Cables and travelling stitches of any width are read too: C6F, 2/2 LC, T3B, 2/1 RPC ...")
    return "\n\n".join(parts) + "\n"


def _table(stitches: Sequence[Stitch]) -> str:
    rows = [
        (stitch.us + (f", {stitch.uk}" if stitch.uk and stitch.uk != stitch.us else ""),
         f"{stitch.uses} > {stitch.makes}", stitch.title)
        for stitch in stitches
    ]  # fmt: skip
    wide = min(30, max(len(row[0]) for row in rows)) if rows else 0
    return "\n".join(f"  {a:<{wide}}  {b:<7}  {c}".rstrip() for a, b, c in rows)


def _whole(stitch: Stitch) -> str:
    from chartc.vocabulary import load_vocabulary

    vocabulary = load_vocabulary()
    names = stitch.us + (f" (UK {stitch.uk})" if stitch.uk and stitch.uk != stitch.us else "")
    lines = [f"{names}: {stitch.title}"]
    loops = f"uses {_sts(stitch.uses)}, makes {_sts(stitch.makes)}"
    lean = {"left": "leans left", "right": "leans right", "centre": "centred"}.get(stitch.lean or "")
    lines.append("  " + ", ".join(one for one in (loops, lean) if one))
    if stitch.how:
        lines.append(fill(stitch.how, WIDTH, initial_indent="  ", subsequent_indent="  "))
    mirror, twin = vocabulary.mirror(stitch), vocabulary.twin(stitch)
    if mirror is not None and mirror.key != stitch.key:
        lines.append(f"  mirror image: {mirror.us}")
    if twin is not None:
        lines.append(f"  worked on the other side as: {twin.us}")
    if stitch.asks:
        lines.append(f"  the pattern must say {stitch.asks}")
    if stitch.source:
        lines.append(f"  source: {stitch.source}")
    return "\n".join(lines)


def _sts(n: int) -> str:
    return "1 st" if n == 1 else f"{n} sts"


def checks_text() -> str:
    """All checks by family, each with its title."""
    from chartc.checks import REGISTRY

    families: dict[str, list[str]] = {}
    wide = max(len(name) for name in REGISTRY)
    for check in REGISTRY.values():
        families.setdefault(check.family, []).append(
            f"  {check.name:<{wide}}  {check.severity.value:<8}  {check.title}"
        )
    parts = [f"{family}\n" + "\n".join(sorted(lines)) for family, lines in families.items()]
    return "\n\n".join(parts) + "\n"


def check_text(name: str) -> str:
    """A check explained: why it matters, a wrong and a right example, and what it says of the
    wrong one. "" when there is no such check."""
    from chartc.checks import REGISTRY
    from chartc.proof import prove
    from chartc.showing import as_text, told
    from chartc.source import Source

    check = REGISTRY.get(name)
    if check is None:
        return ""
    lines = [f"{check.name} ({check.severity.value})", f"  {check.title}", ""]
    lines.append(fill(check.why, WIDTH, initial_indent="  ", subsequent_indent="  "))
    lines += ["", "  wrong:", *(f"      {line}" for line in check.wrong.splitlines())]
    shown = as_text(told(prove(Source("example", check.wrong)), "none")).splitlines()
    first = next((i for i, line in enumerate(shown) if line.startswith("  line ")), None)
    if first is not None:
        block = shown[first:]
        stop = next((i for i, line in enumerate(block) if not line.strip()), len(block))
        lines += ["", "  the proof says:", *(f"    {line}" for line in block[:stop])]
    lines += ["", "  right:", *(f"      {line}" for line in check.right.splitlines())]
    return "\n".join(line.rstrip() for line in lines) + "\n"
