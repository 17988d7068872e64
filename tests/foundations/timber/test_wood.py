"""Sizes as they are written, what a metric section counts as, and how strengths move with wood and water."""

from __future__ import annotations

import pytest

from gradework.foundations.timber.wood import (
    LEAST,
    SPECIES,
    US_SIZES,
    Section,
    Strength,
    Wood,
    section_of,
    sized,
    strength_of,
)
from gradework.units.amounts import KPA_PER_PSI
from gradework.units.numbers import QuantityError

INCH = 0.0254


@pytest.mark.parametrize(
    ("text", "width", "depth", "plies"),
    [
        ("4x4", 3.5 * INCH, 3.5 * INCH, 1),
        ("2 x 10", 1.5 * INCH, 9.25 * INCH, 1),
        ("3-2x8", 1.5 * INCH, 7.25 * INCH, 3),
        ("100x150", 0.1, 0.15, 1),
        ("2-45×145 mm", 0.045, 0.145, 2),
    ],
)
def test_sizes_are_nominal_inches_or_true_millimetres(
    text: str, width: float, depth: float, plies: int
) -> None:
    section = section_of(text)
    assert (section.width, section.depth, section.plies) == pytest.approx((width, depth, plies))
    assert section.breadth == pytest.approx(width * plies)


@pytest.mark.parametrize("text", ["", "4", "4x", "5x5", "2-4x4", "9x100", "400x100", "4x4x4", "four by four"])
def test_what_is_no_size_is_refused(text: str) -> None:
    with pytest.raises(QuantityError):
        section_of(text)


@pytest.mark.parametrize(
    ("metric", "us"),
    [("100x100", "4x4"), ("47x147", "2x6"), ("100x200", "4x6"), ("150x150", "6x6"), ("2-47x200", "2-2x6"),
     ("75x150", "2x6"), ("89x89", "4x4"), ("50x250", "2x8")],
)  # fmt: skip
def test_a_metric_section_counts_as_the_next_smaller(metric: str, us: str) -> None:
    """47 x 200 is 3 mm short of a 2x8 (38 x 184): it is one; 100 x 200 holds a 4x8 only from 184 mm on."""
    counted = section_of(metric).counted_as
    assert counted.width <= section_of(metric).width + 1e-6
    assert counted.depth <= section_of(metric).depth + 1e-6
    larger = [
        s for s in US_SIZES if s.width <= section_of(metric).width and s.depth <= section_of(metric).depth
    ]
    assert counted.modulus >= max(s.modulus for s in larger) - 1e-12 or counted.plies > 1
    if metric not in ("100x200", "2-47x200", "50x250"):
        assert counted.name == us


def test_a_section_below_every_known_one_has_no_strength() -> None:
    with pytest.raises(QuantityError, match="strengths"):
        _ = section_of("30x60").counted_as


def test_a_size_told_by_its_sides_has_its_name() -> None:
    assert sized(3.5 * INCH, 5.5 * INCH) == section_of("4x6")
    assert sized(0.0889, 0.15).name == "89x150"


@pytest.mark.parametrize("size", [size.name for size in US_SIZES])
def test_least_is_no_more_than_any_western_species(size: str) -> None:
    section = section_of(size)
    for wet in (False, True):
        least = strength_of(section, LEAST, wet=wet)
        for species in set(SPECIES) - {LEAST, "southern pine"}:
            own = strength_of(section, species, wet=wet)
            assert all(a <= b for a, b in zip(least, own, strict=True))


@pytest.mark.parametrize("species", sorted(set(SPECIES) - {LEAST}))
@pytest.mark.parametrize("size", [size.name for size in US_SIZES])
def test_water_and_cuts_never_make_wood_stronger(species: str, size: str) -> None:
    section = section_of(size)
    best = strength_of(section, species, wet=False, incised=False)
    for wet in (False, True):
        for incised in (False, True):
            worse = strength_of(section, species, wet=wet, incised=incised)
            assert all(a <= b + 1e-9 for a, b in zip(worse, best, strict=True))
    shared = strength_of(section, species, shared=True)
    assert shared.bending == pytest.approx(1.15 * strength_of(section, species).bending)


def test_fir_by_hand() -> None:
    """Douglas fir 2x6, wet and incised: 900 x 1.3 = 1170 > 1150, so x 0.85 x 0.80 = 795.6 psi."""
    fir = strength_of(section_of("2x6"), "douglas fir-larch")
    assert fir.bending / KPA_PER_PSI == pytest.approx(795.6)
    assert fir.shear / KPA_PER_PSI == pytest.approx(180 * 0.97 * 0.8)
    assert fir.stiffness / KPA_PER_PSI == pytest.approx(1.6e6 * 0.9 * 0.95)
    assert fir.bearing / KPA_PER_PSI == pytest.approx(625 * 0.67)


def test_own_strengths_take_the_section_as_it_is() -> None:
    own = Strength(7500.0, 800.0, 2000.0, 9e6)
    odd = Section("70x70", 0.07, 0.07)
    assert Wood(own=own).sized(odd) == (odd, own)
    counted, _ = Wood().sized(section_of("100x100"))
    assert counted == section_of("4x4")
