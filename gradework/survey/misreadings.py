"""The usual misreadings: what the rod may really have said, for what was written down.

Each is a rule from the written value to a likely true one, in the unit of the notes. A rule never decides by
itself: ``explain`` weighs how well its error fits what the shots around it say, and how common the slip is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gradework.units.lengths import METRIC_UNITS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gradework.units.lengths import Unit


WITHIN = 3.0
"""A misreading explains an error that its own lies within so many standard errors of."""

_FAR = 0.15
"""Nor does one whose error is further off than this share of it: a foot does not explain eight inches."""

_COMMON = {
    "a whole foot": 0.0,
    "a whole metre": 0.0,
    "a whole decimetre": -0.5,
    "tenths taken for inches": -1.0,
    "inches taken for tenths": -1.5,
    "swapped digits": -1.0,
    "a missing minus": -3.0,
    "black bars counted as hundredths": -1.0,
    "a slipped decimal point": -2.0,
}
"""How common each slip is, as a logarithm against a whole foot; a judgement, no source."""

_SIGNED = 3.5
"""A missing minus is no slip of a rod, but a common one among values of both signs."""


_NO_INCHES = -1.5
"""Who reads inches notes inches, or thousandths of a foot: plain hundredths speak against it; a judgement."""


@dataclass(frozen=True, slots=True)
class Misreading:
    """One explanation: its ``kind`` in words, the ``likely`` true value [m], and how well it fits (higher
    better)."""

    kind: str
    likely: float
    score: float


def explain(
    written: float, error: float, sd: float, unit: Unit, *, signed: bool = False, rod: bool = True
) -> tuple[Misreading, ...]:
    """Misreadings that explain an ``error`` [m] (written minus true) in a ``written`` value [m], likeliest
    first.

    ``sd`` [m] is the standard error of that error; ``signed``: the notes hold values of both signs, so that a
    minus can go missing; ``rod``: the value was read, else worked out, and slips of reading inches or bars
    no longer show in its digits. Empty when no usual slip fits.

    >>> [m.kind for m in explain(5.73 * 0.3048, -0.03 * 0.3048, 0.001, "ft")]
    ['black bars counted as hundredths']
    """
    size = 1.0 if unit in METRIC_UNITS else 0.3048
    found: dict[str, Misreading] = {}
    for kind, true in _candidates(written / size, error / size, unit, rod=rod):
        off = (error - (written - true * size)) / sd
        own = abs(written - true * size)
        if own < 1e-9 or abs(off) > WITHIN or abs(off * sd) > max(_FAR * own, 2 * sd):
            continue
        score = _COMMON[kind] - 0.5 * off**2
        if signed and kind == "a missing minus":
            score += _SIGNED
        if kind == "tenths taken for inches" and not _noted_in_inches(written / size):
            score += _NO_INCHES
        if kind not in found or score > found[kind].score:
            found[kind] = Misreading(kind, true * size, score)
    return tuple(sorted(found.values(), key=lambda m: -m.score))


def _candidates(value: float, error: float, unit: Unit, *, rod: bool) -> Iterator[tuple[str, float]]:
    """Kind and likely true value, in the unit of the notes."""
    feet = unit not in METRIC_UNITS
    yield from _whole(value, error, feet=feet)
    if feet and rod:
        yield from _feet_and_inches(value)
        yield from _bars(value)
    yield from _swapped_digits(value, places=2 if feet else 3)
    yield "a missing minus", -value
    yield "a slipped decimal point", value * 10
    yield "a slipped decimal point", value / 10


def _whole(value: float, error: float, *, feet: bool) -> Iterator[tuple[str, float]]:
    for kind, step in (
        (("a whole foot", 1.0),) if feet else (("a whole metre", 1.0), ("a whole decimetre", 0.1))
    ):
        count = round(error / step)
        if count and abs(count) <= (3 if step == 1.0 else 9):
            yield kind, value - count * step


def _feet_and_inches(value: float) -> Iterator[tuple[str, float]]:
    """A rod in tenths noted as inches (5.6 as 5' 6", that is 5.5), and a rod in inches noted as tenths."""
    whole = math.floor(value)
    inches = (value - whole) * 12
    if inches < 9.995:
        yield "tenths taken for inches", whole + inches / 10
    yield "inches taken for tenths", whole + (value - whole) * 10 / 12


def _noted_in_inches(feet: float) -> bool:
    """Whether a value [ft] is whole quarters of an inch, or was worked out to more than hundredths."""
    hundredth = abs(feet * 100 - round(feet * 100)) < 0.05
    quarter = abs(feet * 48 - round(feet * 48)) < 0.05
    return quarter or not hundredth


def _bars(value: float) -> Iterator[tuple[str, float]]:
    """Bars and gaps of a rod are a hundredth each: n black bars end at 2n hundredths (NAVEDTRA 14081 p.
    15-25)."""
    hundredths = round(value * 100)
    bars = hundredths % 10
    if 1 <= bars <= 5 and abs(value * 100 - hundredths) < 0.05:
        yield "black bars counted as hundredths", value + bars / 100


def _swapped_digits(value: float, *, places: int) -> Iterator[tuple[str, float]]:
    """Two neighbouring digits exchanged."""
    whole = round(abs(value) * 10**places)
    digits = str(whole).zfill(places + 1)
    for i in range(len(digits) - 1):
        if digits[i] == digits[i + 1]:
            continue
        other = digits[:i] + digits[i + 1] + digits[i] + digits[i + 2 :]
        yield "swapped digits", math.copysign(int(other) / 10**places, value)
