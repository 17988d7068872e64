"""What things cost, in the user's own money: the ``[prices]`` table, each amount per a unit he names."""

from __future__ import annotations

import re
from typing import Annotated

from pydantic import PlainValidator, ValidationInfo

from gradework.project.bounds import CONCRETE_BAG, MONEY
from gradework.project.fields import Table, Words, number, price, refuse, shown, within
from gradework.units import QuantityError, bulk, parse_mass

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


def _mass(value: object, info: ValidationInfo) -> float:
    return price(value, _PER_MASS, "38 per short ton", info)


def _volume(value: object, info: ValidationInfo) -> float:
    return price(value, _PER_VOLUME, "60 per yd3", info)


def _area(value: object, info: ValidationInfo) -> float:
    return price(value, _PER_AREA, "3.50 per sq ft", info)


def _money(value: object, info: ValidationInfo) -> float:
    amount = number(value, "an amount of money, such as 120")
    if amount < 0:
        refuse("job-value", shown(value), "an amount of money, such as 120", "leave out the minus sign")
    return within(amount, MONEY, value, info)


_BAG = re.compile(r"\s*(?P<money>[0-9]+(?:\.[0-9]+)?)\s+(?:per|a|an|/)\s+(?P<mass>[0-9].*?)(?:\s+bag)?\s*")


def _bag(value: object, info: ValidationInfo) -> tuple[float, float]:
    """Take money and mass [kg] of one bag, such as "6.80 per 80 lb"."""
    expected = 'money per bag of a weight, such as "6.80 per 80 lb"'
    match = _BAG.fullmatch(value) if isinstance(value, str) and len(value) <= 200 else None
    if match is None:
        refuse(
            "job-value", shown(value), expected, "write the amount, per, and the weight of a bag, in quotes"
        )
    try:
        kilograms = float(parse_mass(match["mass"]))
    except QuantityError as problem:
        refuse("job-value", problem.found, expected, problem.mend)
    within(kilograms, CONCRETE_BAG, value, info)
    return within(float(match["money"]), MONEY, value, info), kilograms


PerMass = Annotated[float, PlainValidator(_mass)]
PerVolume = Annotated[float, PlainValidator(_volume)]
PerArea = Annotated[float, PlainValidator(_area)]


Money = Annotated[float, PlainValidator(_money)]
PerBag = Annotated[tuple[float, float], PlainValidator(_bag)]


class Prices(Table):
    """Money per kilogram, cubic metre or square metre; None is a price not given.

    ``earth`` is loose, delivered; ``concrete`` is ready-mix, ``short_load`` what a small load costs on top,
    ``concrete_bag`` money and mass [kg] of a bag of premix. ``date`` says from when, and from where, the
    prices are.
    """

    gravel: PerMass | None = None
    dig: PerVolume | None = None
    haul: PerVolume | None = None
    earth: PerVolume | None = None
    boards: PerArea | None = None
    fabric: PerArea | None = None
    forms: PerArea | None = None
    film: PerArea | None = None
    mesh: PerArea | None = None
    concrete: PerVolume | None = None
    short_load: Money | None = None
    concrete_bag: PerBag | None = None
    date: Words | None = None
    currency: Words | None = None
