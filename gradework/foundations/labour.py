"""Hours of hand work for each thing that a foundation takes, and what is paid for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

LABOUR: Mapping[str, tuple[float, float]] = {
    "digging": (1.5, 3.0),
    "gravel": (1.0, 2.0),
    "earth fill": (1.0, 2.0),
    "blocks": (0.06, 0.15),
    "concrete from bags": (4.0, 7.0),
    "concrete from a truck": (1.5, 3.0),
    "form boards": (1.0, 2.0),
    "timber frame": (1.0, 2.0),
    "edge stakes": (0.1, 0.25),
    "edge timbers": (2.0, 4.0),
    "drain pipe": (0.2, 0.5),
    "ground cover": (0.06, 0.15),
    "vapor barrier": (0.02, 0.05),
    "welded wire mesh": (0.03, 0.08),
}
"""Hours of one person by hand, least and most: per m³ of digging in place, of gravel or earth compacted and
of concrete, per block laid, per stake driven, per 10 ft of pipe, per m² of board face, timber face (pins and
screws too), ground cover, vapor barrier and mesh. Common practice, no source; the range is the honest
part."""


@dataclass(frozen=True, slots=True)
class Amount:
    """What an option takes of one thing: ``amount`` in m³, m² or pieces, ``price`` each, ``extra`` money.

    >>> Amount(2.0, 30.0, 5.0).money
    65.0
    """

    amount: float
    price: float
    extra: float = 0.0

    @property
    def money(self) -> float:
        """Give the money for it."""
        return self.amount * self.price + self.extra
