"""How far levels may miss a mark: the published orders, by the root of the distance or of the set-ups."""

from __future__ import annotations

import pytest

from gradework.survey.levelling.tolerances import KINDS_OF_WORK


@pytest.mark.parametrize(
    ("kind", "section", "loop"),
    [
        # FGCC 1984, sec. 3.5, greatest misclosure of a section and of a loop, mm for the root of km (memory)
        ("first order I", 3, 4),
        ("first order II", 4, 5),
        ("second order I", 6, 6),
        ("second order II", 8, 8),
        ("third order", 12, 12),
    ],
)
@pytest.mark.parametrize("km", [1.0, 4.0, 2.25])
def test_published_orders(kind: str, section: float, loop: float, km: float) -> None:
    work = KINDS_OF_WORK[kind]
    of_root = 0.001 * km**0.5
    assert work.limit(setups=7, distance=1000.0 * km) == pytest.approx(section * of_root)
    assert work.limit(setups=7, distance=1000.0 * km, loop=True) == pytest.approx(loop * of_root)
    assert work.limit(setups=7) is None  # they have no rule by set-ups


def test_a_yard_and_a_building_site_go_by_set_ups() -> None:
    """0.02 ft and 0.025 ft for the root of the set-ups; the site by distance, 24 mm, where that is known."""
    yard, site = KINDS_OF_WORK["yard"], KINDS_OF_WORK["construction"]
    assert yard.limit(setups=4) == yard.limit(setups=4, distance=900.0) == pytest.approx(0.04 * 0.3048)
    assert site.limit(setups=9) == site.limit(setups=9, distance=0.0) == pytest.approx(0.075 * 0.3048)
    assert site.limit(setups=9, distance=250.0) == pytest.approx(0.012)
