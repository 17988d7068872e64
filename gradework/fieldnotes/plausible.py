"""Whether the figures of a file can be what they are said to be: degrees, dates, feet for inches."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from gradework.errors import Faults, Finding
from gradework.fieldnotes.gather import Gathered
from gradework.units import METRES_PER, Unit

_DEGREE_SPAN = 0.02
"""Units: a yard whose shots lie within this of each other both ways is one in degrees, or no yard."""

_FAR = 100_000.0
"""Units: from here on the survey foot and the foot differ by more than 0.2 ft (2 parts in a million)."""

_STEP_RATIOS = (
    (12.0, "12, so one column may be in inches"),
    (1 / 0.3048, "3.28, so one column may be in metres"),
)
_SAME_RATIO = 0.001
_FEW_ENOUGH = 20_000
_SERIAL = (36_526, 73_050)  # 2000-01-01 and 2100-01-01 as the day numbers of spreadsheets


def doubts(gathered: Gathered, unit: Unit, form: str, faults: Faults) -> list[Finding]:
    """Check the gathered shots; what cannot be is a fault, what is unlikely a finding."""
    metres = float(METRES_PER[unit])
    _degrees(gathered, metres, faults)
    _dates(gathered, metres, faults)
    found: list[Finding] = []
    if form != "lettered":
        found += _which_foot(gathered, unit, metres)
        found += _step_ratio(gathered)
    return found


def _span(values: Sequence[float]) -> float:
    return max(values) - min(values) if values else 0.0


def _degrees(gathered: Gathered, metres: float, faults: Faults) -> None:
    if len(gathered) < 3:
        return
    few = slice(None, None, max(1, len(gathered) // 8))
    if max(_span(gathered.x[few]), _span(gathered.y[few])) >= _DEGREE_SPAN * metres:
        return
    spans = _span(gathered.x) / metres, _span(gathered.y) / metres
    reach = max(map(abs, (*gathered.x[:1], *gathered.y[:1]))) / metres
    if 0 < max(spans) < _DEGREE_SPAN and 1 < reach <= 180:
        faults.add(
            "notes-degrees",
            f"x and y that look like degrees: all shots within {max(spans):.6f} of each other",
            "x and y as lengths",
            "give projected coordinates, or say which system the degrees are in (crs)",
        )


def _dates(gathered: Gathered, metres: float, faults: Faults) -> None:
    """A whole day number among small elevations is a date that a spreadsheet made of a fraction."""
    low, high = _SERIAL
    values = gathered.elevation
    if not values or max(values) < low * metres or len(values) < 3:
        return
    middle = sorted(values)[len(values) // 2]
    if abs(middle) * 10 > low * metres:
        return
    for i, value in enumerate(values):
        number = value / metres
        if low <= number <= high and abs(number - round(number)) < 1e-6:
            faults.add(
                "notes-cell",
                f"elevation '{round(number)}', the number by which a spreadsheet counts days",
                "an elevation like the others",
                "the spreadsheet turned what was typed into a date: format the column as text, type it again",
                line=gathered.lines()[i],
            )


def _which_foot(gathered: Gathered, unit: Unit, metres: float) -> list[Finding]:
    if unit != "ft" or not gathered.x:
        return []
    # A yard far from its origin is far with every shot, so the first one tells.
    reach = max(abs(gathered.x[0]), abs(gathered.y[0])) / metres
    if reach <= _FAR:
        return []
    advice = (
        f"Coordinates reach {reach:,.0f} ft. State-plane coordinates are often in US survey feet, which "
        f"differ there by {reach * 2e-6:.1f} ft; inside the yard it does not matter. If they are, "
        'say units = "ftUS".'
    )
    return [
        Finding("notes-which-foot", "warning", gathered.notes.file, reach * metres, _FAR * metres, advice)
    ]


def _step_ratio(gathered: Gathered) -> list[Finding]:
    if not 3 < len(gathered) <= _FEW_ENOUGH:
        return []
    across, along = _median_step(gathered.x), _median_step(gathered.y)
    if not across or not along:
        return []
    ratio = max(across, along) / min(across, along)
    for suspect, words in _STEP_RATIOS:
        if abs(ratio / suspect - 1) < _SAME_RATIO:
            larger = "x" if across > along else "y"
            advice = (
                f"The steps between the {larger} positions are {ratio:.2f} times those of the other: "
                f"that is {words} of these notes while the other is not. Check both columns."
            )
            return [Finding("notes-step-ratio", "warning", gathered.notes.file, ratio, suspect, advice)]
    return []


def _median_step(values: Sequence[float]) -> float:
    """The middle gap [m] between neighbouring different positions; 0 if there are fewer than three."""
    different = sorted(set(values))
    gaps = sorted(b - a for a, b in pairwise(different) if b - a > 1e-6)
    return gaps[len(gaps) // 2] if len(gaps) >= 2 else 0.0
