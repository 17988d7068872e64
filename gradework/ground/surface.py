"""The surface: triangles with a station at each corner, straight between them, nothing outside.

It never extrapolates and never smooths: at a station the answer is that station's own elevation.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.errors import Finding
from gradework.ground.breaklines import LaidLine, lay_breaklines
from gradework.ground.cocircular import Folds, check_cover, fold_ties
from gradework.ground.levels import flat_site
from gradework.ground.locate import TOUCH, Locator, weights
from gradework.ground.triangulation import (
    Mesh,
    hull_loop,
    lay_grid,
    one_per_place,
    peel_slivers,
    refuse_turned_edge,
    triangulate,
)
from gradework.survey.stations import Stations
from gradework.units.display import METRIC


class Tilt(NamedTuple):
    """Ground turned about the place ``about`` (2,) [m], site: it rises by ``slope`` (2,) [-] from there."""

    slope: NDArray[np.float64]
    about: NDArray[np.float64]

    def rise(self, xy: NDArray[np.float64], origin: NDArray[np.float64]) -> NDArray[np.float64]:
        """How much higher [m] the ground then is at each ``xy`` (..., 2 or more), which count from origin."""
        rise: NDArray[np.float64] = (xy[..., :2] + (origin - self.about)) @ self.slope
        return rise


@dataclass(frozen=True)
class Surface:
    """Triangulated ground: straight between the stations, nothing outside them. ``build_surface`` makes it.

    Which stations are joined was decided on a grid of at most 0.1 mm, all figures use the true
    coordinates: a triangle thinner than that grid may have a signed area of zero or just below.

    Attributes
    ----------
    stations
        What it was made from.
    origin
        (2,) [m], the local origin in whole metres: site = local + origin.
    vertices
        (v, 3) [m], LOCAL x and y, and elevation: first the stations in their order, then where breaklines
        cross, then the centres added where the survey does not say how a square folds.
    triangles
        (t, 3), numbers of vertices, anticlockwise.
    neighbours
        (t, 3): edge k joins corners k and k + 1 of its triangle and leads to neighbour k, -1 at the hull.
    hull
        (h,), the vertices of the boundary, anticlockwise, starting at the lowest number.
    folds
        Where the survey does not say how the ground folds.
    findings
        What was noticed of the ground, besides those of the stations.
    before
        The surface that was tilted into this one, and how; None for one that was measured.
    breaklines
        The lines that no triangle reaches across: ``name``, and the numbers of their ``vertices`` in order.

    Examples
    --------
    >>> import numpy as np, gradework as gw
    >>> ground = gw.build_surface([(0, 0, 10.0), (8, 0, 10.4), (8, 6, 11.0), (0, 6, 10.6)])
    >>> ground
    <Surface: 4 stations, 48.0 m², elevations 10.000 m to 11.000 m>
    >>> ground.elevation(np.array([(4.0, 0.0), (99.0, 0.0)]))      # outside the shots nothing is known
    array([10.2,  nan])
    """

    stations: Stations
    origin: NDArray[np.float64]
    vertices: NDArray[np.float64]
    triangles: NDArray[np.int32]
    neighbours: NDArray[np.int32]
    hull: NDArray[np.int64]
    folds: Folds
    findings: tuple[Finding, ...]
    before: tuple[Surface, Tilt] | None = field(default=None, repr=False)
    breaklines: tuple[LaidLine, ...] = ()

    def __repr__(self) -> str:
        z = self.stations.xyz[:, 2]
        span = f"{METRIC.elevation(float(z.min()))} to {METRIC.elevation(float(z.max()))}"
        return f"<Surface: {len(self.stations)} stations, {METRIC.area(self.area)}, elevations {span}>"

    def elevation(self, xy: NDArray[np.float64]) -> NDArray[np.float64]:
        """Ground elevation (m,) [m] at ``xy`` (m, 2) [m], site frame.

        Exactly the station's own at every station; on edges and on the hull the common value. A point up
        to 1 mm outside the hull takes the value at the nearest point of the hull; farther out, or not
        finite: NaN.
        """
        local = np.asarray(xy, dtype=np.float64).reshape(-1, 2) - self.origin
        found = self._locator.locate(local)
        inside = np.flatnonzero(found >= 0)
        corners = self.triangles[found[inside]]
        share, depth = weights(self.vertices, corners, local[inside])
        answer = np.full(len(local), np.nan)
        answer[inside] = (share * self.vertices[corners, 2]).sum(axis=1)
        # triangles thinner than the grid may overlap, so a station may be found in one that is not its own
        near_side = inside[depth <= TOUCH]
        station = self._locator.station_at(local[near_side])
        known = station >= 0
        answer[near_side[known]] = self.vertices[station[known], 2]
        return answer

    def gradient(self, xy: NDArray[np.float64]) -> NDArray[np.float64]:
        """Rise per metre along x and along y, (m, 2) [-], at ``xy`` (m, 2) site; NaN outside.

        On an edge or at a station: that of one of the triangles that meet there.
        """
        found = self.locate(xy)
        answer = np.full((len(found), 2), np.nan)
        inside = found >= 0
        answer[inside] = self.triangle_gradients[found[inside]]
        return answer

    def locate(self, xy: NDArray[np.float64]) -> NDArray[np.int64]:
        """The triangle (m,) that holds each of ``xy`` (m, 2) [m], site; -1 over 1 mm outside the hull."""
        return self._locator.locate(np.asarray(xy, dtype=np.float64).reshape(-1, 2) - self.origin)

    def tilted(self, tilt: Tilt) -> Surface:
        """The same ground made steeper or flatter; breaks, humps and the doubt about folds stay.

        Which stations are joined hangs on their places only, and the centre of a fold lies on straight lines
        between stations, so nothing is triangulated again.
        """
        vertices, xyz = self.vertices.copy(), self.stations.xyz.copy()
        vertices[:, 2] += tilt.rise(vertices, self.origin)
        xyz[:, 2] += tilt.rise(xyz, np.zeros(2))
        vertices.setflags(write=False)
        xyz.setflags(write=False)
        stations = replace(self.stations, xyz=xyz)
        return replace(self, vertices=vertices, stations=stations, before=(self, tilt))

    def refolded(self, share: float) -> Surface:
        """The same ground with the centre of every fold ``share`` of its gap [-] higher (below zero: lower).

        With a half either way every square is folded along its other diagonal: up, or down.
        """
        vertices = self.vertices.copy()
        vertices[self.folds.centres, 2] += share * self.folds.gaps
        vertices.setflags(write=False)
        return replace(self, vertices=vertices, before=None)

    def along(self, line: LaidLine) -> NDArray[np.float64]:
        """Each station and crossing that a breakline passes, in its order (k, 3) [m], site frame."""
        passed = self.vertices[line.vertices]
        passed[:, :2] += self.origin
        return passed

    @cached_property
    def looked_at(self) -> dict[object, object]:
        """What was found under outlines, by their corners: asked for again once the ground is tilted."""
        return {}

    @cached_property
    def triangle_areas(self) -> NDArray[np.float64]:
        """Signed plan area of each triangle (t,) [m²]."""
        x, y = self.vertices[:, 0], self.vertices[:, 1]
        a, b, c = self.triangles[:, 0], self.triangles[:, 1], self.triangles[:, 2]
        area: NDArray[np.float64] = ((x[b] - x[a]) * (y[c] - y[a]) - (y[b] - y[a]) * (x[c] - x[a])) / 2
        area.setflags(write=False)
        return area

    @cached_property
    def triangle_gradients(self) -> NDArray[np.float64]:
        """Rise per metre along x and along y of each triangle (t, 2) [-]; NaN for one without area."""
        corner = self.vertices[self.triangles]
        u, v = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
        doubled = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
        doubled = np.where(doubled == 0, np.nan, doubled)
        east = (u[:, 2] * v[:, 1] - v[:, 2] * u[:, 1]) / doubled
        north = (v[:, 2] * u[:, 0] - u[:, 2] * v[:, 0]) / doubled
        gradient = np.column_stack([east, north])
        gradient.setflags(write=False)
        return gradient

    @property
    def triangle_slopes(self) -> NDArray[np.float64]:
        """Slope of each triangle (t,) as a fraction, rise over run [-]; NaN for one without area."""
        slope: NDArray[np.float64] = np.hypot(*self.triangle_gradients.T)
        return slope

    @property
    def triangle_downhill(self) -> NDArray[np.float64]:
        """Steepest descent of each triangle (t,) [°], anticlockwise from +x, 0 to 360; NaN where level."""
        east, north = self.triangle_gradients.T
        level = (east == 0) & (north == 0)
        degrees = np.degrees(np.arctan2(-north, -east)) % 360.0
        return np.where(level, np.nan, degrees)

    @property
    def area(self) -> float:
        """Plan area of the surveyed ground [m²]."""
        return float(self.triangle_areas.sum())

    @property
    def hull_xy(self) -> NDArray[np.float64]:
        """The boundary (h, 2) [m], site frame, anticlockwise, not closed."""
        return self.vertices[self.hull, :2] + self.origin

    @cached_property
    def _locator(self) -> Locator:
        return Locator(self.vertices, self.triangles, self.neighbours, self.hull, len(self.stations.xyz))


def build_surface(stations: Stations) -> Surface:
    """Triangulate the stations; the result does not depend on their order.

    Stations within 0.3 mm of each other that have one elevation count once, with a note (`double-shot`); the
    surface then has fewer ``stations`` than were given. No triangle reaches across their breaklines. Raises
    ``InputError`` when the shots cannot carry a surface (too few, all on a line, too wide, not finite, two
    elevations in one place, breaklines that disagree) and ``CheckError`` when the arithmetic disagrees with
    itself.
    """
    stations, doubled = one_per_place(stations)
    places, z, edges, lines = lay_breaklines(stations, lay_grid(stations))
    order = places.order
    by_place = np.column_stack([places.local[order], z[order]])
    edges = np.argsort(order)[edges] if len(edges) else edges
    mesh = peel_slivers(by_place, triangulate(places, edges), places.quantum)
    refuse_turned_edge(stations, order, by_place, mesh)
    folded = fold_ties(by_place, mesh, places.quantum, edges)
    check_cover(mesh, folded)
    number = np.concatenate([order, folded.folds.centres]).astype(np.int32)
    triangles = number[folded.mesh.triangles]
    vertices = folded.vertices.copy()
    vertices[number] = folded.vertices
    hull = hull_loop(Mesh(triangles, folded.mesh.neighbours))
    arrays = (places.origin, vertices, triangles, folded.mesh.neighbours, hull)
    folds = folded.folds
    low, high = float(stations.xyz[:, 2].min()), float(stations.xyz[:, 2].max())
    flat = flat_site(low, high, stations.show)
    for array in (*arrays, folds.centres, folds.gaps, folds.triangles, folds.starts):
        array.setflags(write=False)
    told = (*doubled, *(() if flat is None else (flat,)))
    return Surface(stations, *arrays, folds, told, breaklines=lines)
