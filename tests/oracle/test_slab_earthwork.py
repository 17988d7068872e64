"""Digging and filling for a slab with a thickened edge against plain sums over fine cells."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from gradework.earthwork.outline import Outline
from gradework.foundations.slab.design import design_slab
from gradework.foundations.slab.spec import SlabPrices, SlabSpec
from gradework.ground.surface import Surface
from gradework.units.display import METRIC

Floats = NDArray[np.float64]
Ground = Callable[..., Surface]
Inward = Callable[[Floats, Floats], Floats]

CELLS = 700
"""Cells along the longer side of the box; the sums then lie within some 1e-4 of the volumes."""


def box(x: Floats, y: Floats, low: tuple[float, float], high: tuple[float, float]) -> Floats:
    """Distance inward from the sides of an upright box [m], below 0 outside."""
    return np.minimum(np.minimum(x - low[0], high[0] - x), np.minimum(y - low[1], high[1] - y))


def el(x: Floats, y: Floats) -> Floats:
    """Two overlapping boxes: mitred inward, what is left is still two boxes."""
    return np.maximum(box(x, y, (2, 2), (9, 5)), box(x, y, (2, 2), (5, 9)))


def framed(x: Floats, y: Floats) -> Floats:
    return np.minimum(box(x, y, (1.5, 1.5), (10, 10)), -box(x, y, (4, 4), (7.5, 7)))


def clipped(x: Floats, y: Floats) -> Floats:
    """A square with one small corner cut off: that side ends within the edge."""
    return np.minimum(box(x, y, (2, 2), (8, 8)), (15.7 - x - y) / np.sqrt(2.0))


def turned(x: Floats, y: Floats) -> Floats:
    c, s = np.cos(np.radians(20.0)), np.sin(np.radians(20.0))
    return box(c * (x - 4) + s * (y - 2), c * (y - 2) - s * (x - 4), (0, 0), (5, 4))


SHAPES: dict[str, tuple[Outline, Inward]] = {
    "L": (Outline.polygon([(2, 2), (9, 2), (9, 5), (5, 5), (5, 9), (2, 9)]), el),
    "hole": (
        Outline.polygon([[(1.5, 1.5), (10, 1.5), (10, 10), (1.5, 10)], [(4, 4), (7.5, 4), (7.5, 7), (4, 7)]]),
        framed,
    ),
    "small corner": (Outline.polygon([(2, 2), (8, 2), (8, 7.7), (7.7, 8), (2, 8)]), clipped),
    "turned": (Outline.rectangle((4, 2), (5, 4), 20.0), turned),
}

SPECS = {
    "shallow edge": SlabSpec(edge_depth=0.18, edge_width=0.2, base=0.1),
    "deep edge": SlabSpec(edge_depth=0.6, edge_width=0.25, base=0.1),
    "sharp edge": SlabSpec(edge_depth=0.5, edge_width=0.0, base=0.05),
    "no base": SlabSpec(edge_depth=0.4, edge_width=0.3, base=0.0),
}


def bumpy() -> Floats:
    random = np.random.default_rng(7)
    xy = np.array([(x, y) for x in np.arange(0, 12.1, 2.0) for y in np.arange(0, 12.1, 2.0)])
    z = 10.0 + 0.09 * xy[:, 0] - 0.05 * xy[:, 1] + random.normal(0.0, 0.08, len(xy))
    return np.column_stack((xy, z))


def by_cells(surface: Surface, shape: str, spec: SlabSpec, level: float) -> dict[str, float]:
    """Sum over square cells, by the height of the ground and of the underside in the middle of each."""
    outline, inward = SHAPES[shape]
    low_x, low_y, high_x, high_y = outline.bounds
    step = max(high_x - low_x, high_y - low_y) / CELLS
    x, y = np.meshgrid(np.arange(low_x + step / 2, high_x, step), np.arange(low_y + step / 2, high_y, step))
    far = inward(x, y)
    x, y, far = x[far > 0], y[far > 0], far[far > 0]
    stripped = surface.elevation(np.column_stack((x, y))) - spec.strip
    edge = np.clip(spec.edge_depth - spec.thickness - np.maximum(far - spec.edge_width, 0.0), 0.0, None)
    under = level - spec.thickness - edge
    wanted = np.minimum(level - spec.thickness - spec.base, under)
    dug_to = np.minimum(stripped, wanted)
    cell = step * step
    return {
        "dig": float((stripped + spec.strip - dug_to).sum()) * cell,
        "stone": float((under - dug_to).sum()) * cell,
        "fill": float((wanted - dug_to).sum()) * cell,
        "edge": float(edge.sum()) * cell,
        "deepest": float((wanted - dug_to).max()),
    }


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("name", SPECS)
@pytest.mark.parametrize("above", [0.15, -0.2])
def test_volumes_equal_sums_over_cells(ground: Ground, shape: str, name: str, above: float) -> None:
    surface, spec = ground(bumpy()), replace(SPECS[name], freeboard=above)
    slab = design_slab(surface, SHAPES[shape][0], spec, SlabPrices(), METRIC)
    cells = by_cells(surface, shape, spec, slab.level)
    close = 2e-3 * slab.area * 0.3
    assert slab.dig == pytest.approx(cells["dig"], abs=close)
    assert slab.gravel == pytest.approx(cells["stone"], abs=close)
    assert slab.fill == pytest.approx(cells["fill"], abs=close)
    assert slab.rib == pytest.approx(cells["edge"], abs=close)
    assert slab.fill_most == pytest.approx(cells["deepest"], abs=0.01)
