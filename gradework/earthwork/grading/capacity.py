"""What a swale carries: the rain that comes to it by the rational method, its depth and speed by Manning.

SI throughout: with n and metres Manning's factor is 1 (1.486 with feet); the rational method is exact,
where the trade's Q = C i A in cfs, in/h and acres takes 1.008 as 1.
"""

from __future__ import annotations

import math
from typing import NamedTuple

MM_PER_HOUR = 0.001 / 3600.0
"""[m/s]"""

RAIN = 228.6 * MM_PER_HOUR
"""[m/s] 9 in/h for 5 minutes: the most that falls once in 10 years anywhere in the US, where it is 4 to 9
(memory; NOAA Atlas 14 has it for each place)."""

LAWN = 0.35
"""[-] Lawn on heavy soil over 7 %, the most of 0.25 to 0.35 (University of Illinois TSM352, quoted)."""

ROOF = 0.95
"""[-] The most of 0.75 to 0.95 (same)."""

GRASS, BARE = 0.05, 0.025
"""Manning's n of a swale with grass (depth), and of bare earth or short grass (speed), quoted: Winchester,
Indiana, table 4 (FHWA), and UDFCD 1990 table 2-4."""

FASTEST = 0.762
"""[m/s] 2.5 ft/s: red fescue or redtop on soil that washes easily, 0 to 5 % (SCS-TP-61, quoted)."""

SOLID_PIPE = 0.015
"""Manning's n of a 4 in corrugated pipe (0.015 to 0.017; derived from the trade's flows)."""


class Flow(NamedTuple):
    """Rain that runs in a swale: ``flow`` [m³/s], ``depth`` [m] where the swale falls least, ``speed`` [m/s]
    where it falls most; ``most`` that it carries [m³/s]. In a pipe neither depth nor speed matters: both 0.
    """

    flow: float
    depth: float
    speed: float
    most: float


def rational_flow(rain: float, *areas: tuple[float, float]) -> float:
    """Run-off [m³/s] from areas of (run-off coefficient [-], area [m²]) under a rain [m/s]."""
    return rain * math.fsum(coefficient * area for coefficient, area in areas)


def v_flow(depth: float, fall: float, side: float, roughness: float) -> float:
    """What a V with sides ``side``:1 carries [m³/s], ``depth`` [m] deep, falling by ``fall`` [-]; Manning.

    Area z y², wetted length 2 y sqrt(1 + z²).
    """
    area = side * depth**2
    radius = side * depth / (2.0 * math.sqrt(1.0 + side**2))
    return area * math.pow(radius, 2.0 / 3.0) * math.sqrt(fall) / roughness


def v_depth(flow: float, fall: float, side: float, roughness: float) -> float:
    """How deep a flow [m³/s] runs in a V [m]: what it carries grows with the depth to the power 8/3."""
    return float((flow / v_flow(1.0, fall, side, roughness)) ** 0.375)


def flow_in(flow: float, *, near: float, far: float, side: float, deep: float) -> Flow:
    """Depth on the least and speed on the greatest of two falls [-]: each the worse of the two; ``deep`` [m]
    the swale is at the least."""
    depth = v_depth(flow, min(near, far), side, GRASS)
    fast = v_depth(flow, max(near, far), side, BARE)
    speed = flow / (side * fast**2) if flow > 0.0 else 0.0
    return Flow(flow, depth, speed, v_flow(deep, min(near, far), side, GRASS))


def flow_in_pipe(flow: float, diameter: float, fall: float) -> Flow:
    """A flow [m³/s] in a pipe."""
    return Flow(flow, 0.0, 0.0, pipe_flow(diameter, fall))


def pipe_flow(diameter: float, fall: float, roughness: float = SOLID_PIPE) -> float:
    """What a pipe carries when it runs full [m³/s]; ``diameter`` [m], ``fall`` [-]; Manning."""
    area = math.pi * diameter**2 / 4.0
    return area * math.pow(diameter / 4.0, 2.0 / 3.0) * math.sqrt(fall) / roughness
