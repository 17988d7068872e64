"""How often single blunders are found and named, and how often clean yards raise an alarm: printed, not
asserted.

Yards are invented: 48 shots near a 5 ft grid on a random slope of up to 12 %, with random swells, read to 3
mm (one standard error). "smooth": swells of 6 cm over lengths near 6 m; "ordinary": 10 cm over 4 m; "rough":
8 cm over 2 m, hardly longer than the grid, where a small blunder cannot be told from the ground by anyone. A
kind's small errors (a tenth read as an inch may be 5 mm) are kept, and shown apart by size.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import numpy as np

from gradework.survey.levelling.readings import Written
from gradework.survey.outliers import find_blunders

FOOT = 0.3048
YARDS = {"smooth": (0.06, 6.0), "ordinary": (0.10, 4.0), "rough": (0.08, 2.0)}
KINDS = (
    "a whole foot",
    "tenths taken for inches",
    "black bars counted as hundredths",
    "swapped digits",
    "exchanged",
    "a missing minus",
    "a whole decimetre",
)
SIZES = (0.0, 0.05, 0.10, 0.25, 99.0)  # feet


def make_yard(rng: np.random.Generator, swell: float, length: float) -> np.ndarray:
    """Stations (48, 3) [m], elevations near 0 as differences to a mark."""
    step = 5 * FOOT
    gx, gy = np.meshgrid(np.arange(8) * step, np.arange(6) * step)
    xy = np.column_stack([gx.ravel(), gy.ravel()]) + rng.uniform(-0.15, 0.15, (48, 2)) * step
    turn, slope = rng.uniform(0, 2 * np.pi), rng.uniform(0, 0.12)
    z = slope * ((xy - xy.mean(axis=0)) @ [np.cos(turn), np.sin(turn)])
    for _ in range(40):
        z += swell * np.sqrt(2 / 40) * np.cos(xy @ rng.normal(0, 1 / length, 2) + rng.uniform(0, 2 * np.pi))
    return np.column_stack([xy, z - z.mean()])


def book(rng: np.random.Generator, xyz: np.ndarray, unit: str, sense: int) -> np.ndarray:
    """What is written, in the unit of the notes: rod readings below a level plane, or differences to a
    mark."""
    size, places = (FOOT, 2) if unit == "ft" else (1.0, 3)
    height = xyz[:, 2].max() + rng.uniform(0.5, 1.5)
    true = (height - xyz[:, 2]) if sense < 0 else xyz[:, 2]
    return np.round((true + rng.normal(0, 0.003, len(true))) / size, places)


def plant(rng: np.random.Generator, kind: str, values: np.ndarray) -> tuple[int, int | None]:
    """Spoil one value (or exchange two) in place; the stations touched. Only slips that change something."""
    while True:
        i = int(rng.integers(len(values)))
        v = values[i]
        whole, tenth, hundredth = int(v // 1), int(round(v * 100) // 10 % 10), int(round(v * 100) % 10)
        if kind == "a whole foot":
            values[i] = v + rng.choice([-1.0, 1.0])
        elif kind == "a whole decimetre":
            values[i] = round(v + rng.choice([-0.1, 0.1]), 3)
        elif kind == "tenths taken for inches":
            values[i] = whole + round((tenth + hundredth / 10) / 12, 3)
        elif kind == "black bars counted as hundredths" and hundredth in (2, 4, 6, 8):
            values[i] = round(v - hundredth / 200, 2)
        elif kind == "swapped digits":
            values[i] = whole + hundredth / 10 + tenth / 100
        elif kind == "a missing minus" and v < 0:
            values[i] = -v
        elif kind == "exchanged":
            j = int(rng.integers(len(values)))
            values[i], values[j] = values[j], values[i]
            if abs(values[i] - values[j]) > 1e-9:
                return i, j
            continue
        if abs(values[i] - v) > 1e-9:
            return i, None


def trial(
    rng: np.random.Generator, kind: str | None, ground: tuple[float, float]
) -> tuple[float, bool, bool, int]:
    """Size of the error [ft], found, named first, and how many other shots were pointed at."""
    unit = "m" if kind == "a whole decimetre" else "ft"
    sense = 1 if kind == "a missing minus" else -1
    xyz = make_yard(rng, *ground)
    values = book(rng, xyz, unit, sense)
    clean = values.copy()
    touched: tuple[int, int | None] = (-1, None)
    if kind is not None:
        touched = plant(rng, kind, values)
    size = FOOT if unit == "ft" else 1.0
    noted = xyz.copy()
    noted[:, 2] = sense * values * size
    got = find_blunders(noted, unit, [Written(float(v) * size, sense) for v in values])
    mine = [b for b in got if b.station in touched]
    error = abs(values[touched[0]] - clean[touched[0]]) * size / FOOT if kind else 0.0
    named = False
    if mine:
        if kind == "exchanged":
            named = {mine[0].station, mine[0].exchanged_with} == set(touched)
        else:
            named = bool(mine[0].slips) and mine[0].slips[0].kind == kind
    return error, bool(mine), named, len(got) - len(mine)


def lines(count: int = 300) -> Iterator[str]:
    """Print for each kind of yard and of slip how often it is found and named first; seeds are fixed."""
    for number, (name, ground) in enumerate(YARDS.items()):
        rng = np.random.default_rng([7, number])
        alarms = sum(trial(rng, None, ground)[3] > 0 for _ in range(count))
        yield f"{name}: false alarms in {alarms} of {count} clean yards ({100 * alarms / count:.1f} %)"
        for k, kind in enumerate(KINDS):
            rng = np.random.default_rng([11, number, k])
            trials = [trial(rng, kind, ground) for _ in range(count)]
            found, named = (100 * np.mean([t[i] for t in trials]) for i in (1, 2))
            line = f"  {kind:34} found {found:5.1f} %  named {named:5.1f} %   by size:"
            for low, high in itertools.pairwise(SIZES):
                part = [t for t in trials if low < t[0] <= high]
                if part:
                    line += f"  {low:g}-{high:g} ft {100 * np.mean([t[1] for t in part]):.0f}/"
                    line += f"{100 * np.mean([t[2] for t in part]):.0f} % of {len(part)}"
            yield line
