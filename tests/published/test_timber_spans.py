"""Skids, beams and joists against published span tables, from the formulas and strengths in the house.

DCA6: AWC Prescriptive Residential Wood Deck Construction Guide, Table 2, seen. IRC Table R502.3.1(2), quoted.
The worked figures without a table are derived by the same formulas apart from the program.
"""

from __future__ import annotations

import math

import pytest

from gradework.foundations.timber.spans import LineLoad, bearing_stress, longest_span
from gradework.foundations.timber.wood import section_of, strength_of

INCH = 0.0254
FOOT = 0.3048
POUND = 4.4482216152605e-3  # kN
PSF = POUND / FOOT**2
PSI = POUND / INCH**2
PLF = POUND / FOOT


def inches(size: str, species: str, load: LineLoad, **how: bool) -> float:
    section = section_of(size)
    return longest_span(section, strength_of(section, species, **how), load).length / INCH


def feet(text: str) -> int:
    whole, rest = text.split("-")
    return 12 * int(whole) + int(rest)


DECK = {
    ("southern pine", "2x6"): ["9-11", "9-0", "7-7"],
    ("southern pine", "2x8"): ["13-1", "11-10", "9-8"],
    ("least", "2x6"): ["9-6", "8-4", "6-10"],
    ("least", "2x8"): ["12-6", "11-1", "9-1"],
}


@pytest.mark.parametrize(("species", "size"), sorted(DECK))
def test_deck_joists(species: str, size: str) -> None:
    """DCA6 Table 2: 40 + 10 psf, wet, L/360, at 12, 16 and 24 in; the table rounds to a whole inch."""
    for apart, printed in zip((12, 16, 24), DECK[species, size], strict=True):
        load = LineLoad(50 * PSF * apart * INCH, 40 * PSF * apart * INCH)
        assert inches(size, species, load, shared=True) == pytest.approx(feet(printed), abs=0.55)


@pytest.mark.parametrize(
    ("size", "row"), [("2x6", ["10-3", "9-4", "8-1"]), ("2x8", ["13-6", "12-3", "10-3"])]
)
def test_dry_floor_joists(size: str, row: list[str]) -> None:
    """IRC Table R502.3.1(2), spruce-pine-fir No 2, 40 + 10 psf, dry: 6 quoted cells."""
    for apart, printed in zip((12, 16, 24), row, strict=True):
        load = LineLoad(50 * PSF * apart * INCH, 40 * PSF * apart * INCH)
        span = inches(size, "spruce-pine-fir", load, wet=False, incised=False, shared=True)
        assert span == pytest.approx(feet(printed), abs=0.55)


# Derived, 80 % of the load live, rounded down: southern pine / least of the western species, treated and wet.
SKIDS = {
    "4x4": "6-7/6-4 5-1/4-6 4-2/3-8 3-7/3-2 3-2/2-10 2-11/2-7",
    "4x6": "10-5/9-8 7-8/6-10 6-3/5-7 5-5/4-10 4-10/4-3 4-5/3-11",
    "6x6": "11-11/9-7 8-10/6-9 7-2/5-6 6-3/4-9 5-7/4-3 5-1/3-11",
    "2-2x6": "9-10/8-11 7-1/6-4 5-9/5-2 5-0/4-5 4-5/4-0 4-1/3-7",
    "2-2x8": "12-8/11-11 9-0/8-5 7-4/6-10 6-4/5-11 5-8/5-4 5-2/4-10",
}


@pytest.mark.parametrize("size", sorted(SKIDS))
def test_skids_between_piers(size: str) -> None:
    for plf, cell in zip(range(100, 700, 100), SKIDS[size].split(), strict=True):
        load = LineLoad(plf * PLF, 0.8 * plf * PLF)
        for species, span in zip(("southern pine", "least"), cell.split("/"), strict=True):
            assert math.floor(inches(size, species, load)) == feet(span)


def test_beams_of_a_deck_are_near_the_table() -> None:
    """IRC 2024 Table R507.5(1), southern pine, joists of 12 ft, quoted; one to three plies.

    The formula is up to 5 % shorter for more plies (no credit for sharing) and 1 in longer for a single 2x6.
    """
    load = LineLoad(300 * PLF, 240 * PLF)
    for size, row in (("2x6", ("4-0", "5-11", "7-5")), ("2x8", ("5-1", "7-7", "9-6"))):
        for plies, printed in enumerate(row, start=1):
            name = size if plies == 1 else f"{plies}-{size}"
            span = inches(name, "southern pine", load)
            assert 0.94 * feet(printed) < span < 1.03 * feet(printed)


def test_least_species_beams_of_a_deck() -> None:
    """IRC 2021 Table R507.5(1), least species, 2-2x6 and 2-2x8 for joists of 6, 8, 10, 12 ft (quoted)."""
    for size, row in (("2-2x6", "5-5 4-9 4-3 3-10"), ("2-2x8", "6-10 6-0 5-4 4-11")):
        for joist, printed in zip((6, 8, 10, 12), row.split(), strict=True):
            load = LineLoad(25 * joist * PLF, 20 * joist * PLF)
            assert inches(size, "least", load) >= 0.93 * feet(printed)


def test_spacing_of_piers_under_the_worked_building() -> None:
    """529 plf: a 4x4 of southern pine every 3 ft 1 in, a 4x6 every 4 ft 8 in."""
    load = LineLoad(529 * PLF, 0.8 * 529 * PLF)
    assert math.floor(inches("4x4", "southern pine", load)) == feet("3-1")
    assert math.floor(inches("4x6", "southern pine", load)) == feet("4-8")


def test_a_skid_that_fails() -> None:
    """340 plf over 6 ft: 1 530 lb ft, 2 569 psi in a 4x4 against 1 100; at 300 plf it may span 4 ft 2 in."""
    skid = section_of("4x4")
    strength = strength_of(skid, "southern pine")
    moment = 340 * PLF * (6 * FOOT) ** 2 / 8
    assert moment / (POUND * FOOT) == pytest.approx(1530)
    assert moment / skid.modulus / PSI == pytest.approx(2569, abs=1)
    assert strength.bending / PSI == pytest.approx(1100)
    span = longest_span(skid, strength, LineLoad(340 * PLF, 272 * PLF)).length
    assert (6 * FOOT / span) ** 2 == pytest.approx(2569 / 1100, rel=1e-3)
    assert math.floor(inches("4x4", "southern pine", LineLoad(300 * PLF, 240 * PLF))) == feet("4-2")


def test_bearing_of_a_skid() -> None:
    """2 821 lb on a 4x4: 106 psi on a block of 7 5/8 in, 202 psi on 4 in of shims, against 378 and 271."""
    skid = section_of("4x4")
    assert bearing_stress(skid, 2821 * POUND, 7.625 * INCH) / PSI == pytest.approx(106, abs=0.5)
    assert bearing_stress(skid, 2821 * POUND, 4 * INCH) / PSI == pytest.approx(202, abs=0.6)
    assert strength_of(skid, "southern pine").bearing / PSI == pytest.approx(378, abs=1)
    assert strength_of(skid, "hem-fir").bearing / PSI == pytest.approx(271, abs=1)


def test_sections() -> None:
    """Section modulus [in³] and second moment [in⁴], arithmetic on true sizes."""
    known = {
        "2x6": (7.5625, 20.797), "2x8": (13.141, 47.635), "4x4": (7.146, 12.505), "4x6": (17.646, 48.526),
        "6x6": (27.729, 76.255), "2-2x6": (15.125, 41.594), "2-2x8": (26.281, 95.27),
    }  # fmt: skip
    for name, (modulus, inertia) in known.items():
        section = section_of(name)
        assert section.modulus / INCH**3 == pytest.approx(modulus, abs=1e-3)
        assert section.inertia / INCH**4 == pytest.approx(inertia, abs=1e-3)
