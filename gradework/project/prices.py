"""What things cost, in the user's own money: the ``[prices]`` table, each amount per a unit he names."""

from __future__ import annotations

from typing import Annotated

from pydantic import PlainValidator

from gradework.project.fields import Table, Words, price
from gradework.units import bulk

_PER_MASS = {
    "short ton": bulk.KG_PER_SHORT_TON,
    "tonne": bulk.KG_PER_TONNE,
    "lb": bulk.KG_PER_LB,
    "kg": 1.0,
}
_PER_VOLUME = {
    "yd3": bulk.M3_PER_YD3,
    "yd³": bulk.M3_PER_YD3,
    "cubic yard": bulk.M3_PER_YD3,
    "m3": 1.0,
    "m³": 1.0,
    "cubic metre": 1.0,
    "cubic meter": 1.0,
}
_PER_AREA = {
    "sq ft": bulk.M2_PER_FT2,
    "square foot": bulk.M2_PER_FT2,
    "ft2": bulk.M2_PER_FT2,
    "ft²": bulk.M2_PER_FT2,
    "m2": 1.0,
    "m²": 1.0,
    "square metre": 1.0,
    "square meter": 1.0,
}


def _mass(value: object) -> float:
    return price(value, _PER_MASS, "38 per short ton")


def _volume(value: object) -> float:
    return price(value, _PER_VOLUME, "60 per yd3")


def _area(value: object) -> float:
    return price(value, _PER_AREA, "3.50 per sq ft")


PerMass = Annotated[float, PlainValidator(_mass)]
PerVolume = Annotated[float, PlainValidator(_volume)]
PerArea = Annotated[float, PlainValidator(_area)]


class Prices(Table):
    """Money per kilogram, cubic metre or square metre; None is a price not given."""

    gravel: PerMass | None = None
    dig: PerVolume | None = None
    haul: PerVolume | None = None
    boards: PerArea | None = None
    fabric: PerArea | None = None
    currency: Words | None = None
