"""What several rooms' tests need: a surface straight from numbers, and a small job on a plane."""

from __future__ import annotations

import os
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import HealthCheck, settings
from numpy.typing import ArrayLike

from gradework.ground.surface import Surface, build_surface
from gradework.survey.stations import Stations

# The same cases on every run, so that a commit that passed still passes. HYPOTHESIS_PROFILE=wander draws new
# ones (docs/testing.md); what it finds becomes a test of its own.
settings.register_profile(
    "settled",
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.filter_too_much],
)
settings.register_profile("wander", deadline=None, print_blob=True)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "settled"))

Ground = Callable[..., Surface]

JOB = """\
name = "Tool store"
units = "m"
[survey]
notes = "yard.csv"
[building]
size = [4, 3]
corner = [4, 4]
[pad]
level = "least fill"
margin = "500 mm"
strip = "100 mm"
gravel = "100 mm"
freeboard = "0 mm"
"""


@pytest.fixture(scope="session")
def stations_at() -> Callable[..., Stations]:
    """Return a function that makes stations S1, S2 ... of shots (n, 3) [m]."""

    def make(xyz: ArrayLike, unit: str = "m") -> Stations:
        shots = np.array(xyz, dtype=np.float64).reshape(-1, 3)
        names = [f"S{number}" for number in range(1, len(shots) + 1)]
        return Stations(
            names, shots, np.full(len(shots), np.nan), np.arange(len(shots)) + 2, "yard.csv", unit
        )

    return make


@pytest.fixture(scope="session")
def ground(stations_at: Callable[..., Stations]) -> Ground:
    """Return a function that makes a surface of shots (n, 3) [m]."""

    def make(xyz: ArrayLike, unit: str = "m") -> Surface:
        return build_surface(stations_at(xyz, unit))

    return make


@pytest.fixture(scope="session")
def volume() -> Callable[[Surface], float]:
    """Return a function that gives the ground above elevation 0 over a whole surface [m³]."""

    def above_zero(surface: Surface) -> float:
        return float((surface.triangle_areas * surface.vertices[surface.triangles, 2].mean(axis=1)).sum())

    return above_zero


@pytest.fixture
def plane_job() -> bytes:
    """A small job on the yard of ``plane_notes``."""
    return JOB.encode()


@pytest.fixture
def plane_notes() -> bytes:
    """A yard that a person can work out: a plane that falls 1 in 10 along x, in metres."""
    rows = [f"S{i}{j},{2 * i},{2 * j},{20 - 0.2 * i:.3f}" for i in range(8) for j in range(8)]
    return "\n".join(["station,x,y,elevation", *rows, ""]).encode()
