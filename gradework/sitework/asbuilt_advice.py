"""What to do with one top that is high or low: shim, gravel, or another unit."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Literal

from gradework.foundations.pier_words import difference_in_words
from gradework.units.bulk import M_PER_IN

if TYPE_CHECKING:
    from gradework.foundations.pier_spec import PierSpec
    from gradework.foundations.piers import Pier
    from gradework.units import Display

SHIM_LIMIT = 1.0 * M_PER_IN
"""Shims in pairs fill at most this [m] (24 CFR 3285.304(c), quoted; Louisiana allows 1.5 in)."""


def advice_for(
    off: float, pier: Pier | None, spec: PierSpec | None, show: Display, *, shim: float = SHIM_LIMIT
) -> str:
    """Say how to bring a top to level that is ``off`` [m] above (+) or below (-) it.

    A low top is shimmed within the limit; otherwise the bed takes or gives gravel within its limits;
    otherwise one unit is swapped, and the bed makes up the rest. Without a pier only height and gravel are
    told.
    """
    size = show.depth(abs(off))
    if off < 0.0 and -off <= shim + 1e-9:
        return f"shim it up {size} with a pair of shims"
    gravel = f"take {size} of gravel out of the bed" if off > 0.0 else f"add {size} of gravel to the bed"
    if pier is None or spec is None:
        return gravel
    bed = pier.bed - off
    if spec.bed_least - 1e-9 <= bed <= spec.bed_most + 1e-9:
        return f"{gravel}, {show.depth(bed)} is left" if off > 0.0 else f"{gravel}, {show.depth(bed)} in all"
    swaps = sorted(_swaps(off, pier, spec), key=lambda swap: (swap[0], swap[2], swap[1]))
    if not swaps:
        if off > 0.0:
            return f"lower it {size}: the bed would get too thin, so dig the hole deeper"
        return f"raise it {size}: the bed would get too thick, so rebuild the stack"
    _, courses, changed = swaps[0]
    laid = [_count(pier, unit.name) for unit in spec.units]
    return difference_in_words(spec.units, laid, courses, changed, 0.0, show)


def surface_advice(off: float, built: Literal["pad", "slab"], show: Display) -> str:
    """Say how to bring a point of a pad or a slab to level that is ``off`` [m] above (+) or below (-) it.

    >>> from gradework.units import FEET
    >>> surface_advice(0.0127, "pad", FEET), surface_advice(-0.0127, "slab", FEET)
    ('rake 1/2 in of gravel off', 'raise the form 1/2 in; set concrete takes 1/2 in of levelling compound')
    """
    size = show.depth(abs(off))
    if built == "pad":
        return f"rake {size} of gravel off" if off > 0.0 else f"add {size} of gravel and compact it"
    if off > 0.0:
        return f"lower the form {size}; grind {size} off set concrete"
    return f"raise the form {size}; set concrete takes {size} of levelling compound"


def _count(pier: Pier, name: str) -> int:
    return sum(part.count for part in pier.stack if part.unit.name == name)


def _swaps(off: float, pier: Pier, spec: PierSpec) -> Iterator[tuple[float, tuple[int, ...], float]]:
    """Give (change of the bed, courses, bed thicker by) for one unit taken, added or swapped."""
    units = spec.units
    laid = [_count(pier, unit.name) for unit in units]
    for out in (None, *(k for k, count in enumerate(laid) if count)):
        for put in (None, *range(len(units))):
            if out == put:
                continue
            courses = list(laid)
            if out is not None:
                courses[out] -= 1
            if put is not None:
                courses[put] += 1
            if not _may_stand(courses, spec):
                continue
            grown = sum(u.thickness * (b - a) for u, a, b in zip(units, laid, courses, strict=True))
            thicker = -off - grown
            if spec.bed_least - 1e-9 <= pier.bed + thicker <= spec.bed_most + 1e-9:
                yield abs(thicker), tuple(courses), thicker


def _may_stand(courses: list[int], spec: PierSpec) -> bool:
    units = spec.units
    height = sum(u.thickness * c for u, c in zip(units, courses, strict=True))
    hollow = any(u.hollow and c for u, c in zip(units, courses, strict=True))
    capped = any(u.may_cap and not u.only_base and c for u, c in zip(units, courses, strict=True))
    few = all(u.most_in_stack is None or c <= u.most_in_stack for u, c in zip(units, courses, strict=True))
    return sum(courses) > 0 and (capped or not hollow) and few and height <= spec.stack_limit + 1e-9
