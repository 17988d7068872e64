"""Yards drawn at random as builders meet them, each as the text of a job and of its notes. All invented.

One number draws one yard, always the same: how steep and which way it falls, humps and hollows, a tape grid
that is never quite square, a small building set square to the slope or not, and what its builder asks for.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np

import gradework

FT = 0.3048
SLOPES = (0.0, 0.04, 0.08, 0.12, 0.15)
"""Classes of slope [-], and the steepest."""

_SEED = 20261130
_SKIDS = {"ft": ("4x4", "4x6", "6x6", "2-2x6", "4x8"), "m": ("100x100", "100x150", "150x150", "2-47x197")}
_JOISTS = {"ft": ("2x6", "2x8"), "m": ("47x147", "47x197")}
_SPECIES = ("southern pine", "hem-fir", "douglas fir-larch", "spruce-pine-fir")


class Yard(NamedTuple):
    """A yard: its ``number``, how steep its ground falls on the whole [-], the texts of job and notes."""

    number: int
    slope: float
    job: str
    notes: str

    @property
    def steepness(self) -> str:
        """The class of its slope in words."""
        low = max(k for k, least in enumerate(SLOPES[:-1]) if self.slope >= least)
        return f"{SLOPES[low]:.0%} to {SLOPES[low + 1]:.0%}"


def yard(number: int) -> Yard:
    """Draw the yard of a number."""
    rng = np.random.default_rng((_SEED, number))
    unit = "ft" if rng.random() < 0.5 else "m"
    slope = float(rng.uniform(0.0, SLOPES[-1]))
    job, middle, size = _job(rng, number, unit)
    return Yard(number, slope, job, _notes(rng, unit, slope, middle, size))


def record_of(yard: Yard) -> dict[str, Any]:
    """Plan a yard as its builder does, and give the record, but for the comparison on steeper ground: that
    plans all foundations several times more."""
    plan = gradework.plan(gradework.read_job(yard.job.encode()), yard.notes.encode())
    return replace(plan, foundations=replace(plan.foundations, comparison=None)).record()


def _notes(
    rng: np.random.Generator, unit: str, slope: float, middle: tuple[float, float], size: tuple[float, float]
) -> str:
    """Shots every 5 to 8 ft, to 10 to 20 ft beyond the building, read to 0.01 ft or a few millimetres."""
    reach = 0.5 * float(np.hypot(*size)) + rng.uniform(3.3, 6.5)
    count = int(np.ceil(2.0 * reach / rng.uniform(1.5, 2.5))) + 1
    line = np.linspace(-reach, reach, count)
    xy = np.array([(x, y) for x in line for y in line]) + rng.normal(0.0, 0.03, (count * count, 2))
    turn = rng.uniform(0.0, 2.0 * np.pi)
    height = 30.0 + slope * (xy @ np.array([np.cos(turn), np.sin(turn)]))
    for _ in range(rng.integers(0, 5)):  # humps, hollows, an old bed
        at, wide, high = rng.uniform(-reach, reach, 2), rng.uniform(0.8, 4.0), rng.normal(0.0, 0.05)
        height += high * np.exp(-((xy - at) ** 2).sum(axis=1) / (2.0 * wide**2))
    per, read = (FT, 0.01) if unit == "ft" else (1.0, 0.002)
    height = np.round((height + rng.normal(0.0, 0.003, len(height))) / per / read) * read
    places = np.round((xy + middle) / per, 2)
    rows = [
        f"{k},{x:.2f},{y:.2f},{z:.3f}" for k, ((x, y), z) in enumerate(zip(places, height, strict=True), 1)
    ]
    return "\n".join(["station,x,y,elevation", *rows, ""])


def _job(
    rng: np.random.Generator, number: int, unit: str
) -> tuple[str, tuple[float, float], tuple[float, float]]:
    """The job, the middle of the building and its size [m]; what is left out has its default."""
    per = FT if unit == "ft" else 1.0
    length, width = rng.uniform(2.0, 8.0), rng.uniform(2.0, 5.0)
    long, wide = (round(max(side, 2.0) / per * 2.0) / 2.0 for side in (length, width))
    turn = float(rng.choice([0.0, round(rng.uniform(-90.0, 90.0), 1)]))
    corner = np.round(rng.uniform(9.0, 12.0, 2) / per, 1)
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    frame = np.array([[c, -s], [s, c]])
    middle = (corner + frame @ np.array([long, wide]) / 2.0) * per
    tables = [
        f'name = "Yard {number}, invented"\nunits = "{unit}"\n\n[survey]\nnotes = "yard.csv"',
        f"[building]\nsize = [{long}, {wide}]\ncorner = [{corner[0]}, {corner[1]}]\nturn = {turn}",
        _soil(rng),
        _pad(rng, unit),
        _piers(rng, unit),
        _slab(rng, unit),
        *_near(rng, frame, corner * per, (long * per, wide * per), per),
    ]
    return "\n\n".join(tables) + "\n", (float(middle[0]), float(middle[1])), (long * per, wide * per)


def _some(rng: np.random.Generator, **choices: tuple[float, tuple[object, ...]]) -> str:
    """Keys of a table, each with its share of the yards and one of its values, as lines of TOML."""
    lines = []
    for key, (share, values) in choices.items():
        value = values[int(rng.integers(len(values)))]
        if rng.random() < share:
            told = str(value).lower() if isinstance(value, bool) else f'"{value}"'
            lines.append(f"{key} = {told}")
    return "\n".join(lines)


def _soil(rng: np.random.Generator) -> str:
    return '[soil]\nground = "firm"\n' + _some(rng, kind=(0.6, ("loam", "sand", "clay", "clay")))


def _pad(rng: np.random.Generator, unit: str) -> str:
    margins = ("6 in", "18 in", "24 in") if unit == "ft" else ("200 mm", "450 mm", "600 mm")
    frees = ("1 in", "3 in", "4 in") if unit == "ft" else ("30 mm", "80 mm", "100 mm")
    return "[pad]\n" + _some(
        rng,
        margin=(0.3, margins),
        freeboard=(0.3, frees),
        edge=(0.25, ("battered",)),
        timber_edge=(0.1, (True,)),
        material=(0.2, ("clean stone",)),
        level=(0.1, ("balanced",)),
    )


def _piers(rng: np.random.Generator, unit: str) -> str:
    treated = str(rng.choice(["treated = true", "", "treated = false"], p=[0.85, 0.1, 0.05]))
    floor = f"[piers.floor]\n{treated}\n"
    if rng.random() < 0.7:
        skid, joist = (sizes[unit][int(rng.integers(len(sizes[unit])))] for sizes in (_SKIDS, _JOISTS))
        floor += f'skid = "{skid}"\njoist = "{joist}"\nspecies = "{rng.choice(_SPECIES)}"\n'
    rows = "rows = 2\n" if rng.random() < 0.05 else ""
    spacing = 'spacing = "6 ft"\n' if rng.random() < 0.05 else ""
    snow = f'\n[piers.loads]\nsnow = "{rng.choice([20, 30, 40])} psf"\n' if rng.random() < 0.3 else ""
    return f"[piers]\n{rows}{spacing}\n{floor}{snow}"


def _slab(rng: np.random.Generator, unit: str) -> str:
    depths = ("16 in", "20 in", "24 in") if unit == "ft" else ("400 mm", "500 mm", "600 mm")
    return "[slab]\n" + _some(rng, edge_depth=(0.4, depths), fill=(0.1, ("earth",)))


def _near(
    rng: np.random.Generator,
    frame: np.ndarray,
    corner: np.ndarray,
    size: tuple[float, float],
    per: float,
) -> list[str]:
    """A house along one side in some yards, a fence along the opposite one in some."""
    found, behind = [], bool(rng.random() < 0.5)
    (long, wide), gap = size, rng.uniform(0.4, 4.0)
    for kind, share, up in (("house", 0.15, behind), ("fence", 0.25, not behind)):
        own = gap if kind == "house" else rng.uniform(0.7, 4.0)
        near, far = (wide + own, wide + own + 5.0) if up else (-own, -own - 5.0)
        ends = [(-2.0, near), (long + 2.0, near), (long + 2.0, far), (-2.0, far)]
        if rng.random() < share:
            places = [np.round((corner + frame @ np.array(end)) / per, 2).tolist() for end in ends]
            shape = f"outline = {places}" if kind == "house" else f"line = {places[:2]}"
            found.append(f'[[site.near]]\nname = "{kind}"\nkind = "{kind}"\n{shape}')
    return found
