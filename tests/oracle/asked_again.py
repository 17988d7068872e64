"""What a job asks for, read once more from its text, in metres; and a check as it comes out here."""

from __future__ import annotations

import math
import tomllib
from typing import Any, NamedTuple

import numpy as np
import shapely
from ground_again import Ground
from numpy.typing import NDArray

Floats = NDArray[np.float64]
IN, FT = 0.0254, 0.3048
EXACT = 1e-5
"""[m] How near a value comes that is exact."""


class Seen(NamedTuple):
    """One check as it comes out here: its value (None where it cannot be known here), whether it holds, how
    near the value is to the truth, whether only the verdict is known, and whether not even that
    (``lenient``)."""

    check: str
    value: float | None
    holds: bool | None
    near: float = EXACT
    where: str = ""
    verdict_only: bool = False
    lenient: bool = False


class Asked(NamedTuple):
    """What the job asks for, in metres, with the defaults of its pages."""

    job: dict[str, Any]
    us: bool
    per: float
    ring: Floats
    ground: Ground

    def length(self, table: str, key: str, feet: str, metres: str) -> float:
        """A quoted length of a table, or its default in jobs in feet and in metres."""
        return metres_of(self.job.get(table, {}).get(key, feet if self.us else metres))

    @property
    def sides(self) -> tuple[float, float]:
        """Length of the first side and of the second [m]."""
        one, two = self.ring[1] - self.ring[0], self.ring[2] - self.ring[1]
        return float(np.hypot(*one)), float(np.hypot(*two))

    @property
    def walls(self) -> list[tuple[Floats, Floats]]:
        """The corners of each wall, in order."""
        return [(self.ring[k], self.ring[(k + 1) % 4]) for k in range(4)]

    def grown(self, margin: float) -> Any:
        """The plan of the building, so much larger all round."""
        plan = shapely.Polygon(self.ring)
        return plan.buffer(margin, join_style="mitre") if margin > 0.0 else plan

    @property
    def near(self) -> list[tuple[str, Any]]:
        """What stands near: its kind and plan."""
        found = []
        for one in self.job.get("site", {}).get("near", []):
            places = self.per * np.array(one.get("outline") or one["line"])
            shape = shapely.Polygon(places) if "outline" in one else shapely.LineString(places)
            found.append((one["name"], shape))
        return found

    @property
    def bars(self) -> Any:
        """All walls and fences near, as lines."""
        faces = [shape.exterior if shape.geom_type == "Polygon" else shape for _, shape in self.near]
        return shapely.union_all(faces) if faces else None


def metres_of(text: str) -> float:
    """Read a quoted length: "4 in", "300 mm", "6 ft", "1.2 m"."""
    figure, unit = text.split()
    return float(figure) * {"in": IN, "ft": FT, "mm": 0.001, "m": 1.0}[unit]


def asked_of(job_text: str, notes: str) -> Asked:
    """Read job and notes once more."""
    job = tomllib.loads(job_text)
    us = job["units"] == "ft"
    per, building = (FT if us else 1.0), job["building"]
    long, wide = building["size"]
    c, s = (f(math.radians(building.get("turn", 0.0))) for f in (math.cos, math.sin))
    corners = np.array([(0, 0), (long, 0), (long, wide), (0, wide)], dtype=np.float64)
    ring = per * (np.array(building["corner"]) + corners @ np.array([[c, s], [-s, c]]))
    return Asked(job, us, per, ring, Ground(notes, per))


class Floor(NamedTuple):
    """What lies on a foundation [m]: depth of skids, of joists, boards; whether skids and joists are
    treated."""

    beam: float
    joists: float
    boards: float
    treated: bool | None


def floor_of(asked: Asked) -> Floor:
    """The floor that the job tells, or its default: 4x4 under 2x6 under 3/4 in."""
    own = asked.job.get("piers", {}).get("floor", {})
    deep = [
        own.get(key, size).rpartition("-")[2].split("x")[1]
        for key, size in (("skid", "4x4"), ("joist", "2x6"))
    ]
    true = {"4": 3.5 * IN, "6": 5.5 * IN, "8": 7.25 * IN, "10": 9.25 * IN, "12": 11.25 * IN}
    beam, joists = (true[one] if one in true else float(one) / 1000.0 for one in deep)
    return Floor(beam, joists, 0.75 * IN, own.get("treated") if "piers" in asked.job else None)
