"""From gauge, body and ease to numbers that work, for every size.

`fit` takes plain numbers only: the exact sets of counts that work come from the counting stage.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from chartc.fitting.gauge import Gauge, RibFit, RowsFor, rib, rows_for, stitches_for
from chartc.fitting.needles import CircularAdvice, circular_for
from chartc.fitting.numbers import (
    ANY_COUNT,
    MOST_MM,
    MOST_SIZES,
    MOST_STITCHES,
    FittingProblem,
    Towards,
    Working,
    number,
    positive,
)
from chartc.fitting.yarn import Ball, Swatch, TailEstimate, YarnNeed, cast_on_tail, yarn_for
from chartc.handbook import EaseClass, Origin, body_table, ease_classes, yarn_rules
from chartc.measures import (
    LengthUnit,
    Number,
    from_mm,
    round_to,
    show_cm,
    show_decimal,
    show_in,
    show_number,
    to_mm,
)

MEASURE_YOUR_GAUGE = (
    "Every figure here rests on the gauge given. Knit a swatch in the stitch pattern, wash and "
    "block it as the piece will be, measure it, and work the figures out again if yours differs."
)


def show_ease(mm: Fraction) -> str:
    """Ease with its sign, both ways: "+5 cm (+2 in)", "-2.5 cm (-1 in)"."""
    cm = round_to(from_mm(mm, "cm"), Fraction(1, 2))
    inches = round_to(from_mm(mm, "in"), Fraction(1, 4))
    return f"{_signed(show_decimal(cm))} cm ({_signed(show_number(inches))} in)"


def _signed(shown: str) -> str:
    return shown if shown.startswith("-") or shown == "0" else f"+{shown}"


@dataclass(frozen=True, slots=True)
class Ease:
    """Garment minus body, in mm. `word` and `edition` when it was asked for by a word; the
    word is never printed without its number, for the editions differ."""

    mm: Fraction
    word: str = ""
    edition: str = ""

    @classmethod
    def of(cls, value: Number, unit: LengthUnit = "cm") -> Ease:
        """An ease given as a number; negative for a garment smaller than the body."""
        return cls(to_mm(number(value, "the ease"), unit))

    @classmethod
    def named(cls, word: str, edition: str = "B") -> Ease:
        """The middle of a class of ease: "classic", "close fitting", "hat". Edition "B" is the
        present wording, "A" the older one; "hat" has one of its own.

        Raises FittingProblem, naming the words known, when there is no such class.
        """
        found = ease_named(word, edition)
        return cls(found.middle_mm, found.word, found.edition)

    def __str__(self) -> str:
        shown = show_ease(self.mm)
        return f"{shown}, {self.word}" if self.word else shown


def ease_named(word: str, edition: str = "B") -> EaseClass:
    """The class of ease of that name. Raises FittingProblem naming the words there are."""
    wanted = " ".join(word.split()).casefold().removesuffix(" fit")
    for found in ease_classes():
        if found.edition not in (edition, "hats"):
            continue
        names = {found.word, *found.also, found.word.removesuffix(" fitting")}
        if wanted in names:
            return found
    known = ", ".join(c.word for c in ease_classes() if c.edition in (edition, "hats"))
    if edition not in {found.edition for found in ease_classes()}:
        raise FittingProblem(f"there is no edition {edition} of the ease classes, only A and B")
    raise FittingProblem(f"there is no ease called {word}; known are {known}")


def ease_words(mm: Fraction) -> str:
    """What the editions call an ease: the number first, then the words with their edition."""
    words = [
        f"{found.word} ({found.edition})"
        for found in ease_classes()
        if found.edition != "hats" and found.holds(mm)
    ]
    return f"{show_ease(mm)}: {', '.join(words)}" if words else show_ease(mm)


@dataclass(frozen=True, slots=True)
class SizeWish:
    """A size: its name, the body measure in mm and the ease wanted."""

    name: str
    body_mm: Fraction
    ease: Ease

    @classmethod
    def of(
        cls,
        name: str,
        body: Number,
        unit: LengthUnit = "cm",
        ease: Ease | Number = Fraction(0),
    ) -> SizeWish:
        """`ease` a number is in the same unit as the body measure. Raises FittingProblem."""
        body_mm = to_mm(positive(body, f"the body measure of {name}"), unit)
        if body_mm > MOST_MM:
            raise FittingProblem(f"the body measure of {name} is too large; check the number")
        return cls(name, body_mm, ease if isinstance(ease, Ease) else Ease.of(ease, unit))

    @property
    def wanted_mm(self) -> Fraction:
        """The finished measure wanted: body and ease."""
        return self.body_mm + self.ease.mm


@dataclass(frozen=True, slots=True)
class SectionWish:
    """A section whose width is to be told: its stitches are `times` the cast-on plus `plus`,
    or `counts`, one for each size. `share` as in FitRequest."""

    name: str
    times: Fraction = Fraction(1)
    plus: int = 0
    counts: tuple[int, ...] = ()
    share: Fraction = Fraction(1)


@dataclass(frozen=True, slots=True)
class LengthWish:
    """A length to be worked in whole repeats of `repeat` rows and `extra` rows once; `mm` has
    one value for each size, or one for all."""

    name: str
    mm: tuple[Fraction, ...]
    repeat: int = 1
    extra: int = 0
    way: Towards = "nearest"


@dataclass(frozen=True, slots=True)
class FitRequest:
    """What is to be fitted. Lengths in mm, areas in square mm.

    working     the counts that work: one set for all sizes, or one for each
    measure     what is measured ("bust", "head")
    way         nearest, above (never smaller than wanted) or below
    share       the part of the measure the stitches go round: 1 in the round, 1/2 for a front
    edge_sts    stitches taken into seams, beside those that show
    ribs        (knit, purl) of the ribs to check
    areas_mm2   knitted area for each size; without it finished measure x the lengths summed,
                times `area_times` (3/2 for a body with sleeves)
    margin      share of yarn added; None for the trade's tenth
    sample      (stitches, mm of yarn they took) for the tail
    """

    gauge: Gauge
    sizes: tuple[SizeWish, ...]
    working: tuple[Working, ...] = (ANY_COUNT,)
    measure: str = "finished measure"
    title: str = ""
    way: Towards = "nearest"
    in_round: bool = True
    share: Fraction = Fraction(1)
    edge_sts: int = 0
    sections: tuple[SectionWish, ...] = ()
    lengths: tuple[LengthWish, ...] = ()
    ribs: tuple[tuple[int, int], ...] = ()
    needle_mm: Fraction | None = None
    needle_lengths_mm: tuple[Fraction, ...] | None = None
    swatch: Swatch | None = None
    ball: Ball | None = None
    margin: Fraction | None = None
    areas_mm2: tuple[Fraction, ...] = ()
    area_times: Fraction = Fraction(1)
    tail: bool = True
    fine: bool = False
    sample: tuple[Fraction, Fraction] | None = None


@dataclass(frozen=True, slots=True)
class SectionFit:
    """Stitches and width (mm) of a section in one size."""

    name: str
    stitches: int
    width_mm: Fraction


@dataclass(frozen=True, slots=True)
class Neighbour:
    """A neighbouring count that works and the finished measure (mm) it gives."""

    stitches: int
    finished_mm: Fraction


@dataclass(frozen=True, slots=True)
class SizeFit:
    """One size, fitted. Lengths in mm.

    stitches       to cast on
    finished_mm    what they measure; `ease_mm` what that leaves over the body
    fewer, more    the next counts that work either side, with what they give
    """

    wish: SizeWish
    stitches: int
    finished_mm: Fraction
    fewer: Neighbour | None
    more: Neighbour | None
    sections: tuple[SectionFit, ...] = ()
    lengths: tuple[tuple[str, RowsFor], ...] = ()
    ribs: tuple[RibFit, ...] = ()
    needle: CircularAdvice | None = None
    yarn: YarnNeed | None = None
    tail: TailEstimate | None = None

    @property
    def ease_mm(self) -> Fraction:
        return self.finished_mm - self.wish.body_mm

    @property
    def off_mm(self) -> Fraction:
        """What is got, less what was wanted."""
        return self.finished_mm - self.wish.wanted_mm


@dataclass(frozen=True)
class FitReport:
    """Every size fitted, and what the knitter is to be told besides. See `text`, `markdown`,
    `html` and `as_dict`."""

    request: FitRequest
    sizes: tuple[SizeFit, ...]
    notes: tuple[str, ...]
    sources: tuple[Origin, ...] = ()

    def text(self, width: int = 100) -> str:
        """A table for the terminal, no wider than `width` where the names allow it."""
        from chartc.fitting.report import as_text

        return as_text(self, width)

    def markdown(self) -> str:
        from chartc.fitting.report import as_markdown

        return as_markdown(self)

    def html(self) -> str:
        """One `<section>` with a table: no style, every text escaped."""
        from chartc.fitting.report import as_html

        return as_html(self)

    def as_dict(self) -> dict[str, object]:
        """Plain numbers and texts, ready for JSON; lengths in cm and in, to two decimals."""
        from chartc.fitting.report import as_dict

        return as_dict(self)


def wishes_from_table(
    key: str,
    ease: Ease,
    sizes: Sequence[str] | None = None,
    at: str = "middle",
) -> tuple[SizeWish, ...]:
    """Sizes from a published body table ("women bust", "heads"), with an ease.

    sizes   the names wanted, in order; all of them without
    at      "low", "middle" or "high" end of the range printed for the size
    Raises FittingProblem when there is no such table or size.
    """
    try:
        table = body_table(key)
    except KeyError as error:
        raise FittingProblem(str(error.args[0])) from None
    wanted = [row.size for row in table.rows] if sizes is None else list(sizes)
    wishes = []
    for name in wanted:
        row = table.row(name)
        if row is None:
            known = ", ".join(one.size for one in table.rows)
            raise FittingProblem(f"the table {table.key} has no size {name}; it has {known}")
        ends = {"low": row.low_mm, "middle": row.middle_mm, "high": row.high_mm}
        if at not in ends:
            raise FittingProblem("take the low, the middle or the high end of a size")
        wishes.append(SizeWish(row.size, ends[at], ease))
    return tuple(wishes)


def fit(request: FitRequest) -> FitReport:
    """Cast-on numbers that truly work for each size, and what follows from them.

    The cost grows with the number of sizes only. Raises FittingProblem, in plain words, when
    the numbers are silly or no count works.
    """
    _check(request)
    sizes = tuple(_fit_size(request, index) for index in range(len(request.sizes)))
    return FitReport(request, sizes, _notes(request, sizes), _sources(request))


def _check(request: FitRequest) -> None:
    count = len(request.sizes)
    if not count:
        raise FittingProblem("give at least one size to fit")
    if count > MOST_SIZES:
        raise FittingProblem(f"{count} sizes are too many; the most taken is {MOST_SIZES}")
    if len(request.working) not in (1, count):
        raise FittingProblem("give one set of counts that work for all sizes, or one for each")
    if not 0 < request.share <= 1:
        raise FittingProblem("the share of the measure must be more than 0 and at most 1")
    if request.edge_sts < 0 or request.edge_sts > MOST_STITCHES:
        raise FittingProblem("the stitches for the seams must be 0 or a few")
    if request.area_times <= 0:
        raise FittingProblem("the area must be taken some times over, not 0")
    for wish in request.lengths:
        if len(wish.mm) not in (1, count):
            raise FittingProblem(
                f"{wish.name} has {len(wish.mm)} lengths for {count} sizes; give one or {count}"
            )
    for section in request.sections:
        if section.counts and len(section.counts) not in (1, count):
            raise FittingProblem(
                f"{section.name} has {len(section.counts)} counts for {count} sizes"
            )
    if request.areas_mm2 and len(request.areas_mm2) not in (1, count):
        raise FittingProblem(f"give one area for all sizes, or {count}")


def _per_size(values: Sequence[Fraction], index: int) -> Fraction:
    return values[0] if len(values) == 1 else values[index]


def _measured_mm(request: FitRequest, stitches: int, share: Fraction) -> Fraction:
    """The whole measure that so many stitches give, when they go round `share` of it."""
    return request.gauge.width_mm(stitches - request.edge_sts) / share


def _fit_size(request: FitRequest, index: int) -> SizeFit:
    wish = request.sizes[index]
    if wish.wanted_mm <= 0:
        raise FittingProblem(
            f"size {wish.name}: body {show_cm(wish.body_mm)} and ease {show_ease(wish.ease.mm)} "
            "leave nothing to knit"
        )
    working = request.working[0 if len(request.working) == 1 else index]
    gauge = request.gauge
    # seam stitches come on top: look for the count that works round the wish plus the seams
    wide = wish.wanted_mm * request.share + gauge.width_mm(request.edge_sts)
    try:
        stitches = stitches_for(wide, gauge, working, request.way)
    except FittingProblem as problem:
        raise FittingProblem(f"size {wish.name}: {problem}") from None
    if stitches <= request.edge_sts:
        raise FittingProblem(f"size {wish.name}: all its {stitches} sts would go into the seams")
    finished = _measured_mm(request, stitches, request.share)
    lengths = tuple(
        (
            length.name,
            rows_for(_per_size(length.mm, index), gauge, length.repeat, length.extra, length.way),
        )
        for length in request.lengths
    )
    return SizeFit(
        wish,
        stitches,
        finished,
        _neighbour(request, working.below(stitches - 1)),
        _neighbour(request, working.above(stitches + 1)),
        tuple(_section(request, section, index, stitches) for section in request.sections),
        lengths,
        tuple(rib(stitches, k, p, in_round=request.in_round) for k, p in request.ribs),
        circular_for(stitches, gauge, request.needle_lengths_mm) if request.in_round else None,
        _yarn(request, index, finished, lengths),
        cast_on_tail(stitches, gauge, request.needle_mm, fine=request.fine, sample=request.sample)
        if request.tail
        else None,
    )


def _neighbour(request: FitRequest, stitches: int | None) -> Neighbour | None:
    if stitches is None or stitches <= request.edge_sts:
        return None
    return Neighbour(stitches, _measured_mm(request, stitches, request.share))


def _section(request: FitRequest, wish: SectionWish, index: int, cast_on: int) -> SectionFit:
    if wish.counts:
        count = Fraction(wish.counts[0 if len(wish.counts) == 1 else index])
    else:
        count = wish.times * cast_on + wish.plus
    if count.denominator != 1 or count < 0 or count > MOST_STITCHES:
        raise FittingProblem(
            f"{wish.name}: {show_number(count)} sts in size {request.sizes[index].name} "
            "cannot be knitted"
        )
    if wish.share <= 0:
        raise FittingProblem(f"{wish.name}: its share of the measure must be more than 0")
    return SectionFit(wish.name, int(count), request.gauge.width_mm(count) / wish.share)


def _yarn(
    request: FitRequest,
    index: int,
    finished: Fraction,
    lengths: tuple[tuple[str, RowsFor], ...],
) -> YarnNeed | None:
    if request.swatch is None:
        return None
    if request.areas_mm2:
        area = _per_size(request.areas_mm2, index)
    elif lengths:
        area = finished * sum((one.length_mm for _, one in lengths), Fraction(0))
        area *= request.area_times
    else:
        return None
    return yarn_for(area, request.swatch, request.ball, request.margin)


def _notes(request: FitRequest, sizes: tuple[SizeFit, ...]) -> tuple[str, ...]:
    notes = [MEASURE_YOUR_GAUGE]
    seen: dict[int, str] = {}
    for size in sizes:
        if size.stitches in seen:
            notes.append(
                f"Sizes {seen[size.stitches]} and {size.wish.name} come out on the same "
                f"{size.stitches} sts: the counts that work lie too far apart to tell them apart."
            )
        seen.setdefault(size.stitches, size.wish.name)
        # an inch is the half of a class of ease (+2 to +4): beyond it the fit is another one
        if abs(size.off_mm) >= to_mm(1, "in"):
            way = "larger" if size.off_mm > 0 else "smaller"
            off = abs(size.off_mm)
            notes.append(
                f"Size {size.wish.name} comes out {show_cm(off)} ({show_in(off)}) {way} than "
                "wanted: no nearer count works. A slightly different gauge or a smaller repeat "
                "would bring it closer."
                if request.way == "nearest"
                else f"Size {size.wish.name} comes out {show_cm(off)} ({show_in(off)}) {way} "
                "than wanted."
            )
    for size in sizes:
        for found in size.ribs:
            if not found.fits:
                notes.append(f"Size {size.wish.name}: {found}.")
    if request.swatch is not None and any(size.yarn is None for size in sizes):
        notes.append("Yarn is not told: give the lengths to be knitted, or the area.")
    if any(size.yarn is not None for size in sizes):
        share = yarn_rules().margin if request.margin is None else request.margin
        notes.append(
            f"Yarn is reckoned from the swatch, with {show_number(share * 100)} % over; what is "
            "not in the area (collars, seams, a second swatch) comes on top."
        )
    if request.tail:
        notes.append(
            "The tail of the cast-on is an estimate: the published rules differ threefold. Cast "
            "on 10, unravel and measure them to do better."
        )
    if request.gauge.rows is None and request.lengths:
        notes.append("The gauge gives no rows: lengths cannot be told.")
    return tuple(notes)


def _sources(request: FitRequest) -> tuple[Origin, ...]:
    rules = yarn_rules()
    found: list[Origin] = []
    if request.swatch is not None and request.margin is None:
        found.append(rules.margin_origin)
    if request.swatch is not None and request.area_times == rules.with_sleeves:
        found.append(rules.with_sleeves_origin)
    for wish in request.sizes:
        if wish.ease.word:
            origin = ease_named(wish.ease.word, wish.ease.edition).origin
            if origin not in found:
                found.append(origin)
    return tuple(found)
