"""How sure the quantities of a pad are: each likely ground dug and filled to the level that was chosen.

Three things are not known before the pad is built: the ground between the shots, how deep the topsoil really
lies, and how dense the stone gets. The first is drawn from the shots; the others have stated priors
(``foundations.unsure``).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.likely import Band, band_of, figure_of
from gradework.ground.spread.next_shots import next_shots

if TYPE_CHECKING:
    from gradework.earthwork.likely import Likely
    from gradework.foundations.pad.design import Pad
    from gradework.foundations.pad.quantities import PadGround
    from gradework.foundations.pad.spec import PadSpec
    from gradework.foundations.unsure import Unsure

Floats = NDArray[np.float64]

EDGE_LEVELS = 9
"""The slopes of a battered pad are worked out at so many levels, and taken straight between them."""


NARROW, WIDE = 0.05, 0.15
"""[-] Up to the first part of the gravel the ground between the shots is known well enough; over the second
the order should wait for more shots."""

MOST_SHOTS, LITTLE = 4, 0.01
"""So many shots are named at the most, and none that saves less than this part of the gravel."""


@dataclass(frozen=True, slots=True)
class Worth:
    """A place to shoot [m], and the gravel [m³] that the order then takes less, likely."""

    x: float
    y: float
    saves: float


@dataclass(frozen=True, slots=True)
class PadSpread:
    """The 10, 50 and 90 % figures of a pad at its level.

    cut, fill, net : against the plain level, as of ``CutFill`` [m³]; excavation in place and gravel compacted
    [m³], with the edge; gravel_mass dry [kg]; boards : face of the edge of a boxed pad [m²], zero of a
    battered one. ``sure`` [-] is the chance that the order suffices, ``wanted`` [m³] the compacted gravel
    that it takes for that, at the usual density; never less than the shots alone tell. ``open`` [-] is what
    the ground alone adds to the gravel, as a part of it; ``shots`` would narrow that most, in their order:
    none where it is narrow enough.
    """

    cut: Band
    fill: Band
    net: Band
    excavation: Band
    gravel: Band
    gravel_mass: Band
    boards: Band
    sure: float
    wanted: float
    open: float
    shots: tuple[Worth, ...]

    @property
    def gravel_tonnes(self) -> Band:
        """The dry mass of the gravel in tonnes."""
        mass = self.gravel_mass
        return Band(mass.p10 / 1000.0, mass.p50 / 1000.0, mass.p90 / 1000.0)


def pad_spread(pad: Pad, likely: Likely, unsure: Unsure) -> PadSpread:
    """Dig and fill every likely ground to the level of the pad.

    Raises ``CheckError`` where a volume disagrees with itself.
    """
    spec, level, area = pad.spec, pad.chosen.level, pad.pieces.area
    count = len(likely.grounds)
    strip, denser = unsure.strips(spec.strip, count), unsure.densities(count)
    cut, fill = likely.cut_and_fill(level)
    dug, filled, under = _edge(pad.ground, likely, level)
    below, above = (
        inside + beside
        for inside, beside in zip(
            likely.cut_and_fill(level + strip - spec.gravel), (dug, filled), strict=True
        )
    )
    excavation = strip * area + below + strip * under
    gravel = spec.gravel * area + strip * under + _brought(spec, below, above)
    mass = gravel * spec.density * denser
    # the ground alone
    below, above = likely.cut_and_fill(level + spec.strip - spec.gravel)
    only = spec.strip * under + _brought(spec, below + dug, above + filled)
    more = figure_of(only, unsure.chance) - figure_of(only, 50.0)
    planned = pad.chosen.gravel
    return PadSpread(
        cut=band_of(cut),
        fill=band_of(fill),
        net=band_of(cut - fill),
        excavation=band_of(excavation),
        gravel=band_of(gravel),
        gravel_mass=band_of(mass),
        boards=band_of(_face(pad, likely)),
        sure=unsure.sure,
        wanted=max(figure_of(mass, unsure.chance) / spec.density, planned),
        open=more / planned,
        shots=_worth(likely, only, more, planned) if more > NARROW * planned else (),
    )


def _brought(spec: PadSpec, below: Floats, above: Floats) -> Floats:
    """Fill (g,) that gravel makes [m³], of all fill ``above``: what is dug ``below`` may go back first."""
    if not spec.native_fill:
        return above
    return np.asarray(above - np.minimum(spec.compaction * below, above), dtype=np.float64)


def _worth(likely: Likely, filled: Floats, more: float, planned: float) -> tuple[Worth, ...]:
    """The shots that would narrow the gravel most, and what each saves of the ``more`` [m³] ordered."""
    before, found = 1.0, []
    for shot in next_shots(likely.mesh.points, likely.grounds, filled, likely.error, MOST_SHOTS):
        saves, before = more * (before - shot.left), shot.left
        if saves < LITTLE * planned:
            break
        found.append(Worth(shot.x, shot.y, saves))
    return tuple(found)


def _edge(ground: PadGround, likely: Likely, level: float) -> tuple[Floats, Floats, Floats]:
    """Dug and filled [m³], and the area filled [m²], outside the outline of a battered pad: (g,) each.

    Ground that stands higher along the edge than the shots tell is like a pad that stands lower by as much.
    """
    if ground.batter is None:
        nothing = np.zeros(len(likely.grounds))
        return nothing, nothing, nothing
    told, points = _told_along(ground, likely)
    higher = (likely.grounds[:, points] - told).mean(axis=1)
    levels = level - np.linspace(higher.max(), higher.min(), EDGE_LEVELS)
    edge = ground.edge_at(levels)
    lower = level - higher
    return (
        np.interp(lower, levels, edge.dug),
        np.interp(lower, levels, edge.filled),
        np.interp(lower, levels, edge.fill_area),
    )


ON_SIDE = 1e-5
"""[m] A point of the mesh this close to a side lies on it."""


def _told_along(ground: PadGround, likely: Likely) -> tuple[Floats, NDArray[np.intp]]:
    """The ground along the sides as the shots tell it (k,) [m], at those points (k,) of the mesh."""
    told, points = [], []
    for side, on_it in zip(ground.sides, _on_sides(ground, likely), strict=True):
        own = np.flatnonzero(on_it)
        along = np.hypot(*(likely.mesh.points[own] - np.array(side.point(0.0))).T)
        told.append(np.interp(along, side.along, side.ground))
        points.append(own)
    return np.concatenate(told), np.concatenate(points)


def _on_sides(ground: PadGround, likely: Likely) -> NDArray[np.bool_]:
    """Which points of the mesh lie on each side: (sides, m)."""
    rows = []
    for side in ground.sides:
        start, end = (np.array(side.point(at)) for at in (0.0, side.length))
        way = (end - start) / side.length
        off = likely.mesh.points - start
        along, across = off @ way, off @ np.array([-way[1], way[0]])
        rows.append((np.abs(across) < ON_SIDE) & (along > -ON_SIDE) & (along < side.length + ON_SIDE))
    return np.array(rows)


def _face(pad: Pad, likely: Likely) -> Floats:
    """Face of the edge that stands above each likely ground (g,) [m²]; none of a battered pad."""
    face = np.zeros(len(likely.grounds))
    if pad.ground.batter is not None:
        return face
    for side, on_it in zip(pad.ground.sides, _on_sides(pad.ground, likely), strict=True):
        points = np.flatnonzero(on_it)
        off = likely.mesh.points[points] - np.array(side.point(0.0))
        along = np.hypot(off[:, 0], off[:, 1])
        order = along.argsort()
        held = pad.chosen.level - likely.grounds[:, points[order]]
        low, high = np.minimum(held[:, :-1], held[:, 1:]), np.maximum(held[:, :-1], held[:, 1:])
        # straight from point to point, and cut off at nothing
        part = np.where(low < 0.0, np.maximum(high, 0.0) ** 2 / np.maximum(high - low, ON_SIDE), low + high)
        face += 0.5 * part @ np.diff(along[order])
    return face
