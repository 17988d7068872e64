"""Wood above the ground: IRC R317.1 as quoted (2009 to 2021), worked on a pad with skids of 4x4 (3 1/2 in).

Siding 6 in above the ground, joists 18 in and girders or skids 12 in, unless treated for contact with it. The
worked figures are derived: with the pad's top 2 in above the ground outside the underside of the joists is
5 1/2 in above it, with the pad flush 3 1/2 in.
"""

from __future__ import annotations

import pytest

from gradework.foundations.checks.clearance import framing_clear, siding_clear
from gradework.units.amounts import M_PER_IN

SKID = 3.5 * M_PER_IN


@pytest.mark.parametrize(("pad", "short"), [(2.0, 0.5), (0.0, 2.5)])
def test_siding_from_the_underside_of_the_joists_is_short_by_so_much(pad: float, short: float) -> None:
    check = siding_clear(pad * M_PER_IN + SKID)
    assert check.value is not None
    assert check.limit is not None
    assert check.holds is False
    assert (check.limit - check.value) / M_PER_IN == pytest.approx(short)
    assert check.source == "IRC R317.1(5) (2009 to 2021)"


def test_just_that_much_higher_it_holds() -> None:
    assert siding_clear(2.5 * M_PER_IN + SKID).holds is True


def test_joists_and_skids_there_must_be_treated() -> None:
    for name, height in (("joists", 2.0 * M_PER_IN + SKID), ("skids", 2.0 * M_PER_IN)):
        assert framing_clear(name, height, treated=False).holds is False
        assert framing_clear(name, height, treated=True).holds is True
        assert framing_clear(name, height, treated=None).holds is None
    assert framing_clear("joists", 18.0 * M_PER_IN, treated=False).holds is True
    assert framing_clear("skids", 12.0 * M_PER_IN, treated=False).holds is True
