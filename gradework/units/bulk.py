"""Bulk measures at the doors: cubic yards, pounds and tons, each factor exact by definition.

A volume of soil or gravel always has a state (in place, loose, compacted); the caller says which. A bare
"ton" is never shown: it is a short ton (2,000 lb), a long ton (2,240 lb) or a tonne (1,000 kg).
Source: NIST Handbook 44, appendix C (the yard is 0.9144 m and the pound 0.45359237 kg, exactly).
"""

from __future__ import annotations

from typing import Final

M_PER_FT: Final = 0.3048
M_PER_IN: Final = 0.0254
M2_PER_FT2: Final = 0.09290304
M3_PER_FT3: Final = 0.028316846592
M3_PER_YD3: Final = 0.764554857984
KG_PER_LB: Final = 0.45359237
KG_PER_SHORT_TON: Final = 907.18474
KG_PER_LONG_TON: Final = 1016.0469088
KG_PER_TONNE: Final = 1000.0
PA_PER_PSF: Final = 4.4482216152605 / 0.09290304
KPA_PER_PSF: Final = PA_PER_PSF / 1000.0


def cubic_yards(cubic_metres: float) -> float:
    """Turn cubic metres into cubic yards [yd³]; the state of the soil does not change.

    >>> cubic_yards(0.764554857984)
    1.0
    """
    return cubic_metres / M3_PER_YD3


def short_tons(kilograms: float) -> float:
    """Turn kilograms into short tons of 2,000 lb.

    >>> short_tons(907.18474)
    1.0
    """
    return kilograms / KG_PER_SHORT_TON


def tonnes(kilograms: float) -> float:
    """Turn kilograms into tonnes of 1,000 kg."""
    return kilograms / KG_PER_TONNE


def pounds(kilograms: float) -> float:
    """Turn kilograms into pounds [lb]."""
    return kilograms / KG_PER_LB


def pounds_per_cubic_foot(density: float) -> float:
    """Turn a density [kg/m³] into pounds per cubic foot.

    >>> round(pounds_per_cubic_foot(1000.0), 3)
    62.428
    """
    return density * M3_PER_FT3 / KG_PER_LB


def short_tons_per_cubic_yard(density: float) -> float:
    """Turn a density [kg/m³] into short tons per cubic yard (the state goes with the volume).

    >>> round(short_tons_per_cubic_yard(1000.0), 4)
    0.8428
    """
    return density * M3_PER_YD3 / KG_PER_SHORT_TON
