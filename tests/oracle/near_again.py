"""What stands near a building once more: room, whose ground is built on, digging beside it, outlets toward
it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import shapely
from asked_again import FT, IN, Asked, Seen


def near_seen(asked: Asked, plan: Any, digs: list[tuple[Any, float | None]], *, sure: bool) -> Iterator[Seen]:
    """What stands near: ``plan`` is all that is built; ``digs`` are shapes with the level of their bottom
    (None: as deep as the sod); not ``sure`` where side slopes or a swale reach farther than is known here."""
    walls = shapely.Polygon(asked.ring)
    eaves = walls.buffer(12 * IN if asked.us else 0.3, join_style="mitre")
    for name, shape in asked.near:
        gap = walls.distance(shape)
        least = 24 * IN if asked.us else 0.6
        yield Seen(
            "room to walk", gap, True if gap >= least - 1e-6 else None if gap >= 0.3 else False, where=name
        )
        over = shapely.union_all([plan, eaves]).intersects(shape)
        # side slopes and swales may reach over where what is known here does not
        yield Seen("own side", None, not over, where=name, lenient=not sure and not over)
        if shape.geom_type == "Polygon":
            below = max(_below_line(asked, shape, dig, bottom) for dig, bottom in digs)
            unsure = not sure and below <= 0.0
            yield Seen(
                "digging below 1:1", below, below <= 0.0, 0.05, name, verdict_only=True, lenient=unsure
            )


def _below_line(asked: Asked, house: Any, dig: Any, bottom: float | None) -> float:
    """How far a dig goes below the line 1:1 down from the ground at the foot of a house [m], in steps of 5
    cm."""
    foot = shapely.get_coordinates(house.exterior.segmentize(0.05))
    hull = shapely.convex_hull(asked.ground.edges).buffer(-1e-6)
    ends = shapely.get_coordinates(shapely.shortest_line(hull, shapely.points(foot))).reshape(-1, 2, 2)
    high = asked.ground.at(ends[:, 0])
    ring = shapely.get_coordinates(dig.exterior.segmentize(0.05))
    low = asked.ground.at(ring) - 0.1 if bottom is None else np.full(len(ring), bottom)
    away = np.hypot(*(foot[:, None, :] - ring[None, :, :]).transpose(2, 0, 1))
    return float(np.nanmax(high[:, None] - low[None, :] - away))


def gutters_seen(asked: Asked, option: Mapping[str, Any]) -> list[tuple[Any, Any]]:
    """Where the pipes of gutters come out, with the way each runs."""
    return [
        (pipe[-1, :2], pipe[-1, :2] - pipe[0, :2])
        for one in option["measures"]
        if one["kind"] == "gutter"
        for pipe in _pipes(one["line_m"])
    ]


def _pipes(told: Sequence[Sequence[float]]) -> list[np.ndarray]:
    """The pipes of a gutter, told one after another with a place every 5 ft; each falls by 1 % at least."""
    rows = np.array(told).reshape(-1, 3)
    step = np.diff(rows, axis=0)
    long = np.hypot(*step[:, :2].T)
    new = np.flatnonzero((long > 6.0 * FT + 1e-6) | (step[:, 2] > -0.01 * long + 1e-6)) + 1
    return [one for one in np.split(rows, new) if len(one)]


def spouts_seen(asked: Asked, option: Mapping[str, Any]) -> Iterator[Seen]:
    """Half of the roof of a rectangle runs in each gutter, 9 in of rain an hour, into a 4 in pipe at 1 %."""
    walls = shapely.Polygon(asked.ring)
    roof = walls.buffer(12 * IN if asked.us else 0.3, join_style="mitre").area
    most = math.pi * 0.1016**2 / 4.0 * (0.1016 / 4.0) ** (2.0 / 3.0) * 0.1 / 0.015
    for one in option["measures"]:
        if one["kind"] == "gutter" and one["line_m"]:
            flow = 0.95 * 0.2286 / 3600.0 * roof / 2.0 / len(_pipes(one["line_m"]))
            yield Seen("water carried", flow, flow <= most, where="wall")


def outlets_seen(
    asked: Asked,
    option: Mapping[str, Any],
    led: Sequence[Any] = (),
) -> Iterator[Seen]:
    """No outlet, of a swale, drain or gutter, runs at a house within 30 ft, 45° to both sides of its way and
    of the slope of the ground there."""
    dug = [np.array(m["line_m"]) for m in option["measures"] if m["kind"] in ("swale", "apron", "drain")]
    places = [(out[:2], line) for line in dug for told in led for out in told["outlets_m"]]
    ends = [
        (line[end, :2], line[end, :2] - line[after, :2])
        for place, line in places
        for end, after in ((0, 1), (-1, -2))
        if np.hypot(*(line[end, :2] - place)) < 1e-6
    ] + gutters_seen(asked, option)
    for name, shape in asked.near:
        if shape.geom_type != "Polygon" or not ends:
            continue
        clear = 30 * FT
        for place, way in ends:
            x, y = 0.01 * np.eye(2)
            down = -np.array([(asked.ground.at(place + d) - asked.ground.at(place - d))[0] for d in (x, y)])
            house = shapely.get_coordinates(shape.exterior.segmentize(0.05)) - place
            far = np.hypot(*house.T)
            for run in (way, down):
                straight = house @ run / np.maximum(far * np.hypot(*run), 1e-12) >= math.cos(math.pi / 4.0)
                clear = min([clear, *far[straight].tolist()])
        yield Seen("outlet runs clear", clear, clear >= 30 * FT - 1e-6, 0.1, name, verdict_only=True)
