"""Many places of a building at once against one by one, on a yard of 100 shots and one of 1,600."""

from __future__ import annotations

import time
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from stopwatch import paired
from volumes import site

from gradework.earthwork.clip import clip
from gradework.earthwork.outline import Outline
from gradework.earthwork.siting.allowed import Allowed, rings
from gradework.earthwork.siting.placements import LevelRule, placements
from gradework.earthwork.siting.search import Aim, Search
from gradework.earthwork.volumes import cut_and_fill
from gradework.ground.surface import Surface, build_surface
from gradework.survey.stations import Stations

SIZE = (4.8768, 3.6576)
RULE = LevelRule(lowest=0.0, highest=-0.3556)
"""Least fill of a pad that may be cut in by 18 in, with 4 in of topsoil."""

MANY, FEW = 1024, 32

Floats = NDArray[np.float64]


def large() -> Surface:
    """A yard of 1,600 shots, 60 m wide."""
    rng = np.random.default_rng(5)
    xy = rng.random((1600, 2)) * 60.0
    z = 20.0 + np.sin(xy[:, 0] / 4) + 0.1 * rng.random(1600)
    names = [f"S{k}" for k in range(1600)]
    return build_surface(
        Stations(names, np.column_stack([xy, z]), np.full(1600, np.nan), np.arange(1600), "made up", "m")
    )


def places_on(surface: Surface, count: int) -> Floats:
    """Places drawn at random, all on the survey."""
    rng = np.random.default_rng(1)
    low, high = surface.hull_xy.min(axis=0) + 4.0, surface.hull_xy.max(axis=0) - 4.0
    xy = low + rng.random((count, 2)) * (high - low)
    return np.column_stack((xy, rng.uniform(0.0, np.pi, count)))


def one_by_one(surface: Surface, places: Floats) -> Floats:
    """Clip and integrate each by itself, at the same rule: cut and fill (n, 2)."""
    found = []
    for ring in rings(places, np.array(SIZE)):
        surface.looked_at.clear()  # what was cut before would be known
        pieces = clip(surface, Outline.polygon(ring))
        [one] = cut_and_fill(pieces, max(pieces.lowest, pieces.highest + RULE.highest))
        found.append((one.cut, one.fill))
    return np.array(found)


def lines() -> Iterator[str]:
    """Print the time for one place both ways, how far they differ, and a whole search."""
    for words, surface in (("100 shots", site()[0]), ("1,600 shots", large())):
        places = places_on(surface, MANY)
        found = placements(surface, SIZE, places, RULE)
        some = np.flatnonzero(found.inside)[:FEW]
        alone = one_by_one(surface, places[some])
        off = np.abs(alone - np.column_stack((found.cut, found.fill))[some]).max()

        def together(on: Surface = surface, at: Floats = places) -> object:
            return placements(on, SIZE, at, RULE)

        def apart(on: Surface = surface, at: Floats = places[some]) -> object:
            return one_by_one(on, at)

        own, its, _ = paired(together, apart, runs=7)
        each, other = own / MANY * 1e6, its / len(some) * 1e6
        yield f"{words}: {each:.0f} us a place together, {other:.0f} us one by one, ratio {other / each:.0f}"
        yield f"  cut and fill differ by {off:.1e} m³ at the most"
    surface = site()[0]
    search = Search(surface, Allowed(surface, SIZE, 0.3), RULE, Aim(fill=1.0, cut=0.01), np.zeros(3))
    start = time.process_time()
    *_, known = search.rounds()
    took, least = time.process_time() - start, known.values.min()
    yield f"a search of 100 shots, all turns: {known.looked:,} places, {took:.1f} s of processor time"
    yield f"  best {least:.3f} m³, none allowed below {known.bound:.3f} m³"
