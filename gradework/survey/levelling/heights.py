"""Elevations of named points, however they were measured: one entry per point, repeats brought together."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from gradework.errors import Finding, finding, visible
from gradework.survey.levelling.readings import book_readings
from gradework.survey.levelling.tolerances import NO_MISS, Allowance, is_within
from gradework.survey.levelling.ways import Method
from gradework.survey.stations import located
from gradework.units.display import Display
from gradework.units.form import Form, form_in_force

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from numpy.typing import NDArray

    from gradework.survey.levelling.field_book import BookLine, FieldBook
    from gradework.survey.levelling.readings import Reading
    from gradework.units.lengths import Unit


# What known marks that were read say of heights found without a level book: computed minus known.
#
# A level book closes by its own rules; the simple ways meet a mark in passing, and the allowances here say
# how far they may miss it (``ways``). Nothing here decides what is shared out.


@dataclass(frozen=True, slots=True)
class MarkCheck:
    """One reading at a mark: ``computed`` elevation, the ``known`` one, and by how much what was measured
    since the mark before misses (``misclosure``, computed minus known) [m].

    ``over`` says what was measured ("3 steps"), ``rule`` whose allowance counts; ``allowable`` [m] is None
    where that has none. ``again``: no known mark, but a point met a second time.
    """

    station: str
    line: int
    computed: float
    known: float
    misclosure: float
    allowable: float | None
    over: str
    rule: str
    again: bool = False

    @property
    def within(self) -> bool | None:
        """Whether the miss is allowed; None for a miss without a rule."""
        return is_within(self.misclosure, self.allowable)


def mark_check(
    station: str,
    line: int,
    computed: float,
    known: float,
    allowance: Allowance,
    *,
    parts: int = 1,
    over: str,
    missed: float = 0.0,
) -> MarkCheck:
    """Check one reading at a mark. ``parts``: the hops, strings, steps or set-ups since the mark before,
    which ``missed`` its own elevation by so much [m]."""
    rule = allowance.kind if allowance.kind.startswith("a ") else f"{allowance.kind} work"
    total = computed - known
    return MarkCheck(
        station, line, computed, known, total - missed, allowance.limit(setups=parts), over, rule
    )


def agree(checks: Iterable[MarkCheck]) -> bool:
    """Whether every check is within its allowance."""
    return all(check.within for check in checks)


def check_findings(checks: Iterable[MarkCheck], show: Display, way: Method) -> list[Finding]:
    """One finding for each check, in the order of the notes.

    Codes as for level books: `misclosure`, `misclosure-too-large`, `misclosure-without-rule`.
    """
    return [_finding(check, show, way) for check in checks]


def _finding(check: MarkCheck, show: Display, way: Method) -> Finding:
    where, value, limit = located(check.station, check.line), check.misclosure, check.allowable
    name, miss = visible(check.station), show.elevation(abs(value))
    side = "high" if value > 0 else "low"
    if check.within:
        exact = abs(value) <= NO_MISS
        return finding(
            "misclosure",
            "note",
            where,
            value,
            limit,
            variant=("again-exact" if exact else "again") if check.again else "met-exact" if exact else "met",
            name=name,
            miss=miss,
            side=side,
            over=check.over,
        )
    if limit is None:
        return finding(
            "misclosure-without-rule",
            "warning",
            where,
            value,
            variant="met",
            name=name,
            miss=miss,
            side=side,
            over=check.over,
            rule=check.rule,
        )
    return finding(
        "misclosure-too-large",
        "warning",
        where,
        value,
        limit,
        variant="again" if check.again else way,
        name=name,
        miss=miss,
        side=side,
        over=check.over,
        allowed=show.elevation(limit),
        rule=check.rule,
    )


@dataclass(frozen=True, slots=True)
class Heights:
    """Elevations of ``n`` named points. ``elevation``, ``raw`` (unadjusted), ``sd``: (n,) [m], read-only.

    ``sd`` is NaN where nothing is known about it. ``lines``: the line of the notes that gave each.
    ``readings``: every reading that went into them, in the order of the notes; ``findings`` say nothing of
    how those agree. ``checks``: known marks that were read, outside a level book; ``shared``: how what they
    miss was spread: "no", "marks" (the mean of what they say), "runs" (along the steps), "network".
    ``spare``: readings that others check by another route.
    """

    names: tuple[str, ...]
    elevation: NDArray[np.float64]
    raw: NDArray[np.float64]
    sd: NDArray[np.float64]
    lines: tuple[int, ...]
    file: str
    unit: Unit
    findings: tuple[Finding, ...] = ()
    readings: tuple[Reading, ...] = ()
    checks: tuple[MarkCheck, ...] = ()
    shared: str = "no"
    spare: int = 0
    form: Form = field(default_factory=form_in_force)

    @property
    def show(self) -> Display:
        """How values are shown back to whoever wrote the notes."""
        return Display(self.unit, self.form)

    @property
    def worst(self) -> MarkCheck | None:
        """The check that misses most for what it is allowed; None without any."""
        return max(self.checks, key=lambda c: abs(c.misclosure) / (c.allowable or 1.0), default=None)

    def adjusted(
        self, raw: Sequence[float], checks: Sequence[MarkCheck], shared: str, *, spare: int = 0
    ) -> Heights:
        """The same heights, which came of these ``raw`` ones (n,) [m] by what marks and routes say."""
        return replace(self, raw=_fixed(raw), checks=tuple(checks), shared=shared, spare=spare)


def make_heights(
    names: Sequence[str],
    elevation: Sequence[float],
    sd: Sequence[float],
    lines: Sequence[int],
    *,
    file: str,
    unit: Unit,
    findings: Sequence[Finding] = (),
) -> Heights:
    """Heights whose raw and final elevations are the same, as methods without an adjustment give them."""
    level = _fixed(elevation)
    return Heights(tuple(names), level, level, _fixed(sd), tuple(lines), file, unit, tuple(findings))


def one_each(heights: Heights) -> Heights:
    """One elevation for each name: the mean where a station was read more than once, its own error that of
    the mean."""
    order = dict.fromkeys(heights.names)
    if len(order) == len(heights.names):
        return heights
    rows = {name: [i for i, other in enumerate(heights.names) if other == name] for name in order}
    return replace(
        heights,
        names=tuple(order),
        elevation=_fixed([float(heights.elevation[i].mean()) for i in rows.values()]),
        raw=_fixed([float(heights.raw[i].mean()) for i in rows.values()]),
        sd=_fixed([float(heights.sd[i].mean()) / len(i) ** 0.5 for i in rows.values()]),
        lines=tuple(heights.lines[i[0]] for i in rows.values()),
    )


def on_known_marks(
    heights: Heights, known: Mapping[str, float], allowance: Allowance, *, over: str, way: Method
) -> Heights:
    """Check readings from a plane of given elevation on the ``known`` marks [m] among them.

    The plane stays as given, so nothing is shared out; a mark that was read keeps its own elevation.
    """
    read = [i for i, name in enumerate(heights.names) if name in known]
    checks = tuple(
        mark_check(
            heights.names[i],
            heights.lines[i],
            float(heights.raw[i]),
            known[heights.names[i]],
            allowance,
            over=over,
        )
        for i in read
    )
    level, sd = np.array(heights.elevation), np.array(heights.sd)
    level[read] = [known[heights.names[i]] for i in read]
    sd[read] = 0.0
    return replace(
        heights,
        elevation=_fixed(level.tolist()),
        sd=_fixed(sd.tolist()),
        checks=(*heights.checks, *checks),
        findings=(*heights.findings, *check_findings(checks, heights.show, way)),
    )


def book_heights(book: FieldBook) -> Heights:
    """One elevation per point of a reduced level book, in the order they first appear.

    A known or assumed mark keeps its own. A point read more than once gets the mean (its ``sd`` that of the
    mean of independent readings of equal weight, so a little hopeful where they share a set-up); in a book
    adjusted as a network they are one already.
    """
    groups: dict[str, list[BookLine]] = {}
    for line in book.lines:
        groups.setdefault(line.row.station, []).append(line)
    known = {line.row.station: line.row.known for line in book.lines if line.row.known is not None}
    if book.assumed:
        known[book.benchmark] = book.lines[0].raw
    level, raw, sd = [], [], []
    for name, lines in groups.items():
        read = _determined(lines)
        raw.append(math.fsum(x.raw for x in read) / len(read))
        if name in known:
            level.append(known[name])
            sd.append(0.0)
            continue
        level.append(math.fsum(x.elevation for x in read) / len(read))
        if book.shared == "network":
            sd.append(read[0].sd)
            continue
        sd.append(math.sqrt(math.fsum(x.sd**2 for x in read)) / len(read))
    return Heights(
        tuple(groups),
        _fixed([float(v) for v in level]),
        _fixed(raw),
        _fixed(sd),
        tuple(lines[0].row.line for lines in groups.values()),
        book.file,
        book.unit,
        book.findings,
        book_readings(book),
    )


def _determined(lines: list[BookLine]) -> list[BookLine]:
    """The lines that measured the point; all of them where none did."""
    read = [x for x in lines if x.rise is not None]
    return read or lines


def _fixed(values: Sequence[float]) -> NDArray[np.float64]:
    array = np.array(values, dtype=float)
    array.setflags(write=False)
    return array
