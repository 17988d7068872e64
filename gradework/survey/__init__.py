"""Records from the yard to stations with x, y, elevation and spread, and the checks on them.

It never reads a file, never repairs a blunder by itself, and knows nothing of surfaces or plans.
"""

from __future__ import annotations

from gradework.survey.spot_stations import stations_from_spots
from gradework.survey.stations import Stations

__all__ = ["Stations", "stations_from_spots"]
