"""What stands near, as the job tells it, held against what one foundation builds, digs, shapes and stakes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.earthwork.nearby import Nearby, polygon_of
from gradework.earthwork.outline import Outline
from gradework.errors import InputError
from gradework.foundations.checks.eaves import roof_over
from gradework.foundations.checks.footing import Dug, ring_edges, triangle_edges
from gradework.foundations.checks.near_water import outlets_of
from gradework.foundations.checks.nearby import NearLook, Works, near_looks
from gradework.foundations.pad.design import Pad
from gradework.foundations.pad.quantities import BatteredEdge
from gradework.foundations.piers.plan import Piers
from gradework.foundations.slab.design import Slab
from gradework.project.placed import leans_on, neighbour_of
from gradework.sitework.led_stakes import led_stakes
from gradework.sitework.setout import BATTER_BOARD_OFFSET
from gradework.sitework.staking import stakes_to_set

if TYPE_CHECKING:
    from gradework.earthwork.grading.led import Led, Staked
    from gradework.ground.surface import Surface
    from gradework.project.job.model import Job
    from gradework.sitework.roof_water import RoofWater
    from gradework.sitework.setout import Stake

Floats = NDArray[np.float64]


def nearby_of(job: Job, building: Outline) -> Nearby:
    """Give what the job says stands near the building. Raises ``InputError`` that points into the job: an
    outline that crosses itself or has no area."""
    found, leaned = [], leans_on(job)
    for number, table in enumerate(job.site.near):
        try:
            if table.outline is not None:
                Outline.polygon([table.outline], show=job.show)
        except InputError as problem:
            raise job.located(problem, ("site", "near", number, "outline")) from None
        found.append(neighbour_of(table, leaned=table.name in leaned))
    return Nearby(building, tuple(found))


def stakes_near(
    job: Job,
    surface: Surface,
    nearby: Nearby,
    built: Pad | Piers | Slab,
    level: float,
    *,
    string: float | None = None,
    laid: Iterable[Staked] = (),
) -> tuple[Stake, ...]:
    """Give the stakes of one foundation at its finished ``level`` [m], none beyond what bars the way;
    ``laid``: swales and pipes that lead water away from it."""
    building, near = nearby.building, nearby if nearby else None
    stakes = stakes_to_set(
        surface,
        building,
        built,
        level,
        string=string,
        offset=boards_off(job),
        dialect=job.show.dialect,
        nearby=near,
    )
    beside = led_stakes(surface, building, laid, us=job.show.us, nearby=near, of=_called(built))
    return (*stakes, *beside)


def _called(built: Pad | Piers | Slab) -> str:
    return "slab" if isinstance(built, Slab) else "pad"


def boards_off(job: Job) -> float:
    """How far off the corners batter boards stand [m]."""
    return job.setout.offset or BATTER_BOARD_OFFSET


def near_of(
    job: Job,
    surface: Surface,
    nearby: Nearby,
    built: Pad | Piers | Slab,
    measures: Iterable[Led],
    roof: RoofWater,
) -> tuple[NearLook, ...]:
    """Hold all that stands near against one foundation; ``measures`` lead water
    past it; ``roof``: where its rain goes."""
    if not nearby:
        return ()
    own = tuple(measures)
    stakes = stakes_near(
        job, surface, nearby, built, 0.0, laid=(*own, *roof.pipes)
    )  # where they stand, at any level
    works = works_of(surface, nearby.building, built, stakes, own, roof)
    return near_looks(surface, nearby, works, us=job.show.us)


def works_of(
    surface: Surface,
    building: Outline,
    built: Pad | Piers | Slab,
    stakes: Sequence[Stake],
    measures: Sequence[Led],
    roof: RoofWater,
) -> Works:
    """Say what one foundation does to the ground around it: its ``stakes`` and ``measures`` too, and where
    the rain of its ``roof`` goes."""
    beside = [made.bottoms for made in measures]
    what, own, digging, bottoms = _parts(surface, built)
    bottoms += tuple(
        Dug(made.kind, triangle_edges(bottom)) for made, bottom in zip(measures, beside, strict=True)
    )
    boards, others = _staked(stakes, boards=True), _staked(stakes, boards=False)
    plans = [(made.kind, shapely.polygons(one[:, :, :2])) for made, one in zip(measures, beside, strict=True)]
    led = tuple(
        (kind, _union(np.concatenate([plan for one, plan in plans if one == kind])))
        for kind in dict.fromkeys(one for one, _ in plans)
    )
    level = None if isinstance(built, Piers) else _top(built)
    outlets = (*(outlet for one in measures for outlet in outlets_of(one)), *roof.outlets)
    return Works(
        what, polygon_of(building), roof_over(building, roof.out), roof.drips, roof.unled, own, level,
        digging, led, boards, others, bottoms, outlets,
    )  # fmt: skip


def _top(built: Pad | Slab) -> float:
    return built.level if isinstance(built, Slab) else built.chosen.level


def _staked(stakes: Sequence[Stake], *, boards: bool) -> Floats:
    return np.array(
        [(one.x, one.y) for one in stakes if (one.kind == "batter board") is boards], dtype=np.float64
    ).reshape(-1, 2)


def _parts(surface: Surface, built: Pad | Piers | Slab) -> tuple[str, Any, Any, tuple[Dug, ...]]:
    if isinstance(built, Piers):
        holes = [polygon_of(pier.hole) for pier in built.piers]
        deep = [Dug(f"pier {one.name}", ring_edges(one.hole.rings[0], one.bottom)) for one in built.piers]
        whole = _union(holes)
        return "piers", whole, whole, tuple(deep)
    whole = polygon_of(built.outline)
    if isinstance(built, Slab):
        return "slab", whole, whole, tuple(_under_slab(built))
    digging, edge = whole, built.edge
    bottoms = list(_under_pad(built))
    if isinstance(edge, BatteredEdge):
        rings = edge.slopes.daylight
        digging = _union([shapely.Polygon(ring) for ring in rings])
        # the slopes rise toward where they end, and there only the strip is off
        bottoms += [
            Dug("slopes", ring_edges(ring, surface.elevation(ring) - built.spec.strip)) for ring in rings
        ]
    return "pad", whole, digging, tuple(bottoms)


def _under_pad(pad: Pad) -> Iterator[Dug]:
    """The subgrade is the lower of stripped ground and the underside of the least gravel: both count."""
    ground = _site(pad.pieces.corners, pad.pieces.origin)
    yield Dug("pad", triangle_edges(ground - np.array([0.0, 0.0, pad.spec.strip])))
    for ring in pad.outline.rings:
        yield Dug("pad", ring_edges(ring, pad.chosen.level - pad.spec.gravel))


def _under_slab(slab: Slab) -> Iterator[Dug]:
    spec, ground = slab.spec, _site(slab.ground.corners, slab.ground.origin)
    deepest = max(spec.thickness + spec.base, spec.edge_depth)
    yield Dug("slab", triangle_edges(ground - np.array([0.0, 0.0, spec.strip])))
    for ring in slab.outline.rings:
        yield Dug("slab", ring_edges(ring, slab.level - deepest))


def _site(corners: Floats, origin: Floats) -> Floats:
    moved: Floats = corners + np.array([*origin, 0.0])
    return moved


def _union(shapes: Any) -> Any:
    return shapely.union_all(shapes) if len(shapes) else shapely.Polygon()
