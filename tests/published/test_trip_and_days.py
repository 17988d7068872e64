"""Worked examples of what a trip and its days take: digging, wheeling, compacting, loads, steps, the call.

Each value stands beside where it comes from; "derived" is recomputed from published figures.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from gradework.foundations.buying.rates import (
    BARROW_LOAD,
    MILE,
    PLATE,
    TRIMMING,
    barrow_hours,
    by_hand,
    compacting,
)
from gradework.sitework.access import flight_of, ramp_run
from gradework.sitework.holidays import CALLS, call_by
from gradework.sitework.supplier import Carrier, Supplier, find_vehicle
from gradework.units.amounts import KG_PER_SHORT_TON, parse_mass, parse_volume

FT, IN, YD3 = 0.3048, 0.0254, 0.764554857984


def test_digging_clay_by_hand() -> None:
    """Derived: 6.73 yd³ = 5.145 m³ of clay at 0.46 m³/h (UK norms, quoted): 11.2 h by the book, 16 to 22 for
    an amateur."""
    volume = 6.73 * YD3
    assert volume == pytest.approx(5.145, abs=5e-4)
    assert volume / 0.46 == pytest.approx(11.19, abs=5e-3)
    assert [round(volume * hours) for hours in by_hand(0.46)] == [16, 22]


def test_trimming_the_bottom_of_a_pad() -> None:
    """20 m² an hour, 0 to 25 mm (UK norms, quoted): 18 x 14 ft is 23.4 m², 1.17 h by the book."""
    area = 18 * 14 * FT**2
    assert area / TRIMMING == pytest.approx(1.17, abs=5e-3)
    assert [area * hours for hours in by_hand(TRIMMING)] == pytest.approx([1.67, 2.34], abs=5e-3)


def test_a_barrow_over_100_feet() -> None:
    """Common practice: 4.53 minutes a load, 1.47 yd³ an hour; 7 yd³ are 63 loads of 3 cu ft and 4.8 h."""
    each = barrow_hours(100.0 * FT)
    assert each * BARROW_LOAD * 60.0 == pytest.approx(4.53, abs=5e-3)
    assert 1.0 / each / YD3 == pytest.approx(1.47, abs=5e-3)
    assert round(7.0 * YD3 / BARROW_LOAD) == 63
    assert 7.0 * YD3 * each == pytest.approx(4.8, abs=0.05)


def test_a_roller_of_the_road_book() -> None:
    """8 ft wide, 3 mph, 6 in layers, 50 minutes of the hour, 4 passes: 489 yd³ an hour (published)."""
    assert compacting(8 * FT, 3 * MILE, 6 * IN, 4, 50 / 60) / YD3 == pytest.approx(489, abs=0.5)


def test_a_plate_compacts_faster_than_anyone_wheels() -> None:
    """Derived: 18 in wide, 0.8 mph, 4 in layers, half of the time, 4 passes: 9.78 yd³ an hour."""
    assert pytest.approx(9.78, abs=5e-3) == PLATE / YD3
    assert barrow_hours(0.0) > 1.0 / PLATE


def test_ten_tons_are_one_load_of_a_tandem() -> None:
    """10 short tons, 7 yd³: one load of a tandem, which carries 12 to 16, not two of 7 (common practice)."""
    tandem, (volume, payload, _) = find_vehicle("tandem", us=True)
    carrier = Carrier(tandem, parse_volume(volume), parse_mass(payload))
    assert carrier.payload is not None
    assert 12.0 <= carrier.payload / KG_PER_SHORT_TON <= 16.0
    ten = {"loose_m3": 7 * YD3, "mass_kg": 10 * KG_PER_SHORT_TON}
    usual = Supplier.us()
    assert usual.tipped(**ten).count == 2
    assert replace(usual, trucks=(carrier,)).tipped(**ten).count == 1


def test_a_floor_18_inches_up() -> None:
    """18 in: three risers of 6 in, two treads, 20 in out (IRC R311.7.5, quoted); a ramp of 12 ft at 1:8 or
    18 ft at 1:12 (R311.8). 7.75 in is one step, 7.76 in two."""
    flight = flight_of(18.0 * IN)
    assert (flight.risers, flight.treads) == (3, 2)
    assert (flight.riser / IN, flight.out / IN) == (pytest.approx(6.0), pytest.approx(20.0))
    assert ramp_run(18.0 * IN, "hand") / FT == pytest.approx(12.0)
    assert ramp_run(18.0 * IN, "wheelchair") / FT == pytest.approx(18.0)
    assert [flight_of(rise * IN).risers for rise in (7.75, 7.76)] == [1, 2]


def test_call_by_tuesday_to_dig_on_the_second_monday_after_easter_2027() -> None:
    """Derived: three full working days between the call and digging on 2027-04-12, the day of the call not
    counted."""
    assert call_by(date(2027, 4, 12), CALLS["US"].lead, "US") == date(2027, 4, 6)
