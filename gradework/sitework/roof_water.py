"""Where the rain of the roof goes: off each eave into a gutter with a solid outlet, or onto clean stone.

A gutter is hung where the job asks for one, or where the drops would run to another's wall. Elsewhere they
fall on stone: that of the pad or under the floor where it reaches out below the eave, else on a strip of its
own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.earthwork.grading.capacity import RAIN, ROOF, flow_in_pipe, rational_flow
from gradework.earthwork.grading.outlet import FALL
from gradework.earthwork.grading.pipe_run import FARTHEST
from gradework.earthwork.nearby import WALLS, polygon_of
from gradework.errors import Finding, finding
from gradework.foundations.checks.check import COMMON, ONE_READING, Check
from gradework.foundations.checks.near_water import Outlet, spare_beside
from gradework.foundations.checks.wall_strips import walls_named
from gradework.sitework.roof_pipes import FROM_WALL, HAIR, PIPE, Beside, Spout, spouts_of
from gradework.units.amounts import flow_words

if TYPE_CHECKING:
    from gradework.earthwork.grading.capacity import Flow
    from gradework.earthwork.nearby import Nearby
    from gradework.foundations.checks.eaves import Eave
    from gradework.ground.surface import Surface
    from gradework.units.display import Display

Floats = NDArray[np.float64]

Wish = Literal["gutter", "drip strip"]
Kind = Literal["gutter", "drip strip", "own stone"]

STRIP, STRIP_METRIC = 0.3048, 0.3
"""[m] A drip strip is 12 in wide, its middle below the edge of the eave: wind carries drops to both sides
(common practice, no source)."""

DEEP, DEEP_METRIC = 0.1016, 0.1
"""[m] Clean stone in it, 4 in on fabric, its top level with the ground (common practice, no source)."""

SLIVER = 1e-6
"""[m²] Stone over less is none."""


@dataclass(frozen=True, eq=False)
class EaveWater:
    """What becomes of the rain off one ``eave``.

    ``strip``: ground (shapely) under clean stone, beyond what is built, none unless it is a drip strip;
    ``line`` (2, 3) where its drops fall, on the ground [m]; ``spouts`` of a gutter, None for an end that no
    pipe leads away from; ``asked``: the job says so; ``toward``: the names of those whose wall it would run
    to.
    """

    eave: Eave
    kind: Kind
    strip: Any = None
    line: Floats = field(default_factory=lambda: np.empty((0, 3)))
    spouts: tuple[Spout | None, ...] = ()
    asked: bool = False
    toward: tuple[str, ...] = ()

    @property
    def led(self) -> tuple[Spout, ...]:
        """Give the downspouts whose water is led away."""
        return tuple(one for one in self.spouts if one is not None)

    @property
    def lost(self) -> bool:
        """Say whether nothing leads the water of its gutter away."""
        return self.kind == "gutter" and None in self.spouts

    @property
    def flow(self) -> Flow:
        """How the design rain off it runs in the pipe of each downspout."""
        share = self.eave.roof / max(len(self.spouts), 1)
        return flow_in_pipe(rational_flow(RAIN, (ROOF, share)), PIPE, FALL)

    @property
    def cut(self) -> float:
        """What is dug for its pipes, which goes back [m³ in place]."""
        return sum(one.cut for one in self.led)

    @property
    def pipe(self) -> float:
        """Solid pipe [m]."""
        return sum(one.pipe for one in self.led)

    @property
    def check(self) -> Check | None:
        """Check that its pipes carry it."""
        if self.kind != "gutter" or self.lost:
            return None
        flow = self.flow
        return Check("water carried", flow.flow, flow.most, "m3/s", COMMON, where=self.eave.wall.name)


@dataclass(frozen=True, eq=False)
class RoofWater:
    """Where the rain of a roof goes, eave by eave; ``deep`` [m] is the stone of drip strips, ``out`` how far
    the eaves stand out, ``off`` how far from the walls outlets end at the least [m]."""

    eaves: tuple[EaveWater, ...]
    deep: float
    out: float = 0.0
    off: float = FROM_WALL

    def of(self, kind: Kind) -> tuple[EaveWater, ...]:
        """Give the eaves that are led so."""
        return tuple(one for one in self.eaves if one.kind == kind)

    def walls(self, kind: Kind) -> str:
        """Name the walls whose eaves are led so: "walls (corners 1-2 and 3-4)"."""
        return walls_named([one.eave.wall.name for one in self.of(kind)])

    @property
    def area(self) -> float:
        """Give the ground under drip strips [m²]."""
        return float(sum(one.strip.area for one in self.of("drip strip")))

    @property
    def stone(self) -> float:
        """Give the clean stone of the strips [m³], as much as is dug for it."""
        return self.area * self.deep

    @property
    def cut(self) -> float:
        """Give all that is dug for strips and pipes [m³ in place]."""
        return self.stone + self.back

    @property
    def back(self) -> float:
        """Give what of it goes back over the pipes [m³ in place]."""
        return sum(one.cut for one in self.eaves)

    @property
    def gutter(self) -> float:
        """Give the length of all gutters [m]."""
        return sum(one.eave.length for one in self.of("gutter"))

    @property
    def spouts(self) -> int:
        """Count the downspouts."""
        return sum(len(one.spouts) for one in self.eaves)

    @property
    def pipe(self) -> float:
        """Give the solid pipe from all of them [m]."""
        return sum(one.pipe for one in self.eaves)

    @property
    def pipes(self) -> tuple[Spout, ...]:
        """Give the downspouts whose water is led away, of all eaves."""
        return tuple(spout for one in self.eaves for spout in one.led)

    @property
    def outlets(self) -> tuple[Outlet, ...]:
        """Give where gutters come out."""
        return tuple(spout.outlet for spout in self.pipes)

    @property
    def drips(self) -> Any:
        """Give below which edges drops fall, as one shape: all but those of gutters."""
        return _edges([one.eave for one in self.eaves if one.kind != "gutter"])

    @property
    def unled(self) -> Any:
        """Give the edges over gutters that nothing leads away, as one shape."""
        return _edges([one.eave for one in self.eaves if one.lost])

    @property
    def checks(self) -> tuple[Check, ...]:
        """Give the checks of its pipes."""
        return tuple(one.check for one in self.eaves if one.check is not None)


def _edges(eaves: Sequence[Eave]) -> Any:
    lines = [shapely.LineString(one.line) for one in eaves]
    return shapely.union_all(lines) if lines else shapely.Polygon()


def lead_roof(
    surface: Surface, nearby: Nearby, eaves: Sequence[Eave], beside: Beside, wish: Wish | None, *, us: bool
) -> RoofWater:
    """Say where the rain off each of the ``eaves`` goes, and design what takes it there.

    A ``wish`` of the job holds for all of them; without one each has what it needs.
    """
    wide = STRIP if us else STRIP_METRIC
    found = []
    for eave in eaves:
        toward = tuple(_toward(surface, nearby, eave, beside.level))
        own = shapely.LineString(eave.line).within(beside.stone.buffer(HAIR, join_style="mitre"))
        kind: Kind = wish or ("gutter" if toward else "drip strip")
        if kind == "gutter":
            spouts = spouts_of(nearby, eave, beside)
            found.append(EaveWater(eave, kind, spouts=spouts, asked=wish is not None, toward=toward))
            continue
        walls = polygon_of(nearby.building)
        strip = eave.band(eave.out - 0.5 * wide, eave.out + 0.5 * wide).difference(
            shapely.union_all([beside.built, beside.stone, walls])
        )
        if strip.area <= SLIVER or (own and wish is None):
            found.append(EaveWater(eave, "own stone", asked=wish is not None, toward=toward))
        else:
            line = _on_ground(surface, eave, beside.level)
            found.append(EaveWater(eave, kind, strip, line, asked=wish is not None, toward=toward))
    return RoofWater(tuple(found), DEEP if us else DEEP_METRIC, eaves[0].out if eaves else 0.0)


def _on_ground(surface: Surface, eave: Eave, level: float | None) -> Floats:
    """The line below the edge of an eave (2, 3), on surveyed ground; an end off the survey is as high as the
    other, and with none both are as high as what is built, or as the lowest shot."""
    height = surface.elevation(eave.line)
    usual = float(surface.stations.xyz[:, 2].min()) if level is None else level
    seen = height[np.isfinite(height)]
    height = np.where(np.isfinite(height), height, seen.mean() if len(seen) else usual)
    return np.column_stack((eave.line, height))


def _toward(surface: Surface, nearby: Nearby, eave: Eave, level: float | None) -> Iterator[str]:
    """The names of those to the foot of whose wall the drops off an eave would run."""
    edge = _edges([eave])
    for one in nearby.neighbours:
        if one.kind in WALLS:
            spare = spare_beside(surface, one, edge, level)
            if spare is not None and spare < ONE_READING:
                yield one.name


def roof_findings(roof: RoofWater | None, show: Display) -> Iterator[Finding]:
    """Tell of each gutter that nothing leads away, and of one that brings more than its pipe carries."""
    for one in () if roof is None else roof.of("gutter"):
        wall = one.eave.wall.name
        if one.lost:
            yield finding(
                "gutter-no-outlet", "warning", wall, wall=wall, far=show.distance(FARTHEST),
                off=show.distance(FROM_WALL), dialect=show.dialect,
            )  # fmt: skip
        elif one.flow.flow > one.flow.most:
            yield finding(
                "gutter-overflows", "warning", wall, one.flow.flow, one.flow.most, wall=wall,
                flow=flow_words(one.flow.flow, us=show.us), carries=flow_words(one.flow.most, us=show.us),
                dialect=show.dialect,
            )  # fmt: skip


def roof_steps(roof: RoofWater | None, show: Display) -> Iterator[str]:
    """Say what is to be done about the rain of the roof, for the sheet of setting out: a step for each pipe
    and one for all strips."""
    for one in () if roof is None else roof.of("gutter"):
        for spout in one.led:
            start, end = (
                f"{show.elevation(z)} at {show.place(x, y)}" for x, y, z in spout.rows[[0, -1]].tolist()
            )
            yield (
                f"Lay the solid pipe of the gutter on the {one.eave.wall.name} from its outlet up: its "
                f"bottom is {end}, and {start} where it goes into the ground. Its stakes stand beside it, "
                "marked for the bottom of the pipe."
            )
    if roof is not None and roof.of("drip strip"):
        yield (
            f"Below the eaves of the {roof.walls('drip strip')} dig the drip "
            f"strip {show.depth(roof.deep)} deep, line it with fabric, and fill it with clean stone up to "
            "the ground."
        )
