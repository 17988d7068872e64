"""In what condition a volume stands - in place, loose, compacted - and densities that fit only one condition.

A cubic metre of stone in a truck is not a cubic metre of stone under a plate compactor: the same stone
takes about a quarter more room when it lies loose. A density that holds loose must never meet a volume that
is compacted. So each condition has a type of its own, and a density takes only the volume of its own
condition; anything else is refused while the program runs, not only by the type checker. The way from one
condition to another leads through a material (``materials.py``), which knows the two densities.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

Status = Literal["seen", "quoted", "title seen", "memory", "derived", "judgement"]

STATUS_MEANS: dict[Status, str] = {
    "seen": "read in the document itself or on the page of the body that issues it",
    "quoted": "read only where somebody else quotes it; the edition may differ",
    "title seen": "the document was found, its table was not reached; the figure is from memory",
    "memory": "from memory, nothing read; check before relying on it",
    "derived": "worked out here from figures that were read",
    "judgement": "our judgement; no published figure was found",
}
"""What each status says about a figure, in plain words."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A default figure with the range it is published in, where it comes from and how well that was checked.

    ``low`` and ``high`` enclose ``value`` and are equal to it where no range was found. Raises
    ``ValueError`` when they do not, or when a figure is not finite and above zero.
    """

    value: float
    low: float
    high: float
    source: str
    status: Status

    def __post_init__(self) -> None:
        finite = all(math.isfinite(v) for v in (self.value, self.low, self.high))
        if not (finite and 0.0 < self.low <= self.value <= self.high):
            raise ValueError(
                "a figure must be finite, above 0 and inside its range: "
                f"{self.low} <= {self.value} <= {self.high}"
            )


@dataclass(frozen=True, slots=True)
class _Volume:
    """Cubic metres in one condition; never negative, never NaN."""

    m3: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.m3) and self.m3 >= 0.0):
            raise ValueError(f"a volume must be finite and not negative, not {self.m3}")


@dataclass(frozen=True, slots=True)
class BankVolume(_Volume):
    """Soil as it lies in the ground before digging [m³]."""


@dataclass(frozen=True, slots=True)
class LooseVolume(_Volume):
    """Soil or stone as tipped, in a heap, a truck bed or a wheelbarrow [m³]."""


@dataclass(frozen=True, slots=True)
class CompactedVolume(_Volume):
    """Stone or soil in its finished place after compaction [m³]."""


def _demand(volume: object, wanted: type[_Volume], density: str) -> float:
    """Return the cubic metres of a volume in the wanted condition; refuse every other."""
    if type(volume) is not wanted:
        raise TypeError(
            f"a {density} density needs a {wanted.__name__}, not {type(volume).__name__}: "
            "convert the volume through its material first"
        )
    return volume.m3


@dataclass(frozen=True, slots=True)
class BankDensity(Figure):
    """Mass of soil per volume in place [kg/m³]."""

    def mass(self, volume: BankVolume) -> float:
        """Give the mass [kg] of a volume in place; any other volume raises ``TypeError``."""
        return self.value * _demand(volume, BankVolume, "bank")


@dataclass(frozen=True, slots=True)
class LooseDensity(Figure):
    """Mass of dry stone per loose volume [kg/m³]."""

    def mass(self, volume: LooseVolume) -> float:
        """Give the mass [kg] of a loose volume; any other volume raises ``TypeError``."""
        return self.value * _demand(volume, LooseVolume, "loose")


@dataclass(frozen=True, slots=True)
class CompactedDensity(Figure):
    """Mass of dry stone per compacted volume [kg/m³]."""

    def mass(self, volume: CompactedVolume) -> float:
        """Give the mass [kg] of a compacted volume; any other volume raises ``TypeError``.

        >>> CompactedDensity(2195, 2017, 2314, "WSDOT", "seen").mass(CompactedVolume(2.0))
        4390.0
        """
        return self.value * _demand(volume, CompactedVolume, "compacted")
