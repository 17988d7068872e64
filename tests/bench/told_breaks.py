"""How often a slip of a foot is found on yards with a step, ditch, bank or mound, untold and told.

Yards are invented as in `blunders` (48 shots near a 5 ft grid, "smooth" and "ordinary" swells), with one
feature 0.3 to 0.9 m high and its own shots along the edges: five along each of the two lines of a step (run
5 to 10 cm) or a bank (0.6 to 1.5 m), along the three of a ditch, 8 and 4 round foot and top of a mound. One
grid shot is a foot out. "alarms": yards of which a sound shot is pointed at where no slip was made.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from blunders import FOOT, YARDS, book

from gradework.survey.breaklines import creases
from gradework.survey.levelling.readings import Written
from gradework.survey.outliers import find_blunders
from gradework.survey.stations import Breakline, Stations

FEATURES = ("none", "step", "ditch", "bank", "mound")
STEP = 5 * FOOT
WIDE, DEEP = 7 * STEP, 5 * STEP


def straight(rng: np.random.Generator, kind: str) -> tuple[list[np.ndarray], object]:
    """Places along each line, and the height of the feature at places (n, 2) [m]."""
    turn, rise = rng.uniform(-0.5, 0.5), rng.uniform(0.3, 0.9)
    run = rng.uniform(0.05, 0.1) if kind == "step" else rng.uniform(0.6, 1.5)
    off = np.array([np.cos(turn), np.sin(turn)])
    centre, along = np.array([rng.uniform(0.35, 0.65) * WIDE, DEEP / 2]), np.array([-off[1], off[0]])
    at = np.linspace(-DEEP / 2, DEEP / 2, 5)
    lines = [
        centre + np.outer(at + rng.uniform(-0.15, 0.15, 5) * STEP, along) + away * off
        for away in ([-run, 0.0, run] if kind == "ditch" else [0.0, run])
    ]

    def height(xy: np.ndarray) -> np.ndarray:
        share = (xy - centre) @ off / run
        return -rise * np.clip(1 - np.abs(share), 0, 1) if kind == "ditch" else rise * np.clip(share, 0, 1)

    return lines, height


def mound(rng: np.random.Generator) -> tuple[list[np.ndarray], object]:
    """The same for a round mound with a flat top."""
    centre = np.array([rng.uniform(0.3, 0.7) * WIDE, rng.uniform(0.35, 0.65) * DEEP])
    foot = rng.uniform(1.6, 2.6)
    top, rise = rng.uniform(0.3, 0.5) * foot, rng.uniform(0.3, 0.9)
    lines = []
    for radius, count in ((foot, 8), (top, 4)):
        turn = np.arange(count) * 2 * np.pi / count
        lines.append(centre + radius * np.column_stack([np.cos(turn), np.sin(turn)]))
    return lines, lambda xy: rise * np.clip((foot - np.hypot(*(xy - centre).T)) / (foot - top), 0, 1)


def make_yard(rng: np.random.Generator, kind: str, swell: float, length: float) -> Stations:
    """A yard with its breaklines: 48 shots of the grid, then those along the lines."""
    gx, gy = np.meshgrid(np.arange(8) * STEP, np.arange(6) * STEP)
    xy = np.column_stack([gx.ravel(), gy.ravel()]) + rng.uniform(-0.15, 0.15, (48, 2)) * STEP
    lines, height = ([], None) if kind == "none" else mound(rng) if kind == "mound" else straight(rng, kind)
    xy = np.vstack([xy, *lines])
    turn, slope = rng.uniform(0, 2 * np.pi), rng.uniform(0, 0.12)
    z = slope * ((xy - xy.mean(axis=0)) @ [np.cos(turn), np.sin(turn)])
    for _ in range(40):
        z += swell * np.sqrt(2 / 40) * np.cos(xy @ rng.normal(0, 1 / length, 2) + rng.uniform(0, 2 * np.pi))
    z += 0.0 if height is None else height(xy)
    names, told, at = [f"S{i}" for i in range(len(xy))], [], 48
    for number, line in enumerate(lines):
        passed = names[at : at + len(line)]
        told.append(Breakline(f"line {number}", (*passed, *(passed[:1] if kind == "mound" else ()))))
        at += len(line)
    xyz, none = np.column_stack([xy, z]), np.full(len(xy), np.nan)
    return Stations(names, xyz, none, np.zeros(len(xy), int), "yard.csv", "ft", breaklines=tuple(told))


def trial(
    rng: np.random.Generator, kind: str, ground: tuple[float, float], *, told: bool
) -> tuple[bool, bool]:
    """Whether a slip is found in a yard, and whether that yard without it raises an alarm."""
    yard = make_yard(rng, kind, *ground)
    values = book(rng, yard.xyz, "ft", -1)
    at, slip = int(rng.integers(48)), rng.choice([-1.0, 1.0])
    shapes = creases(yard) if told else None

    def pointed(noted: np.ndarray) -> set[int]:
        xyz = np.column_stack([yard.xyz[:, :2], -noted * FOOT])
        got = find_blunders(xyz, "ft", [Written(float(v) * FOOT, -1) for v in noted], shapes)
        return {one.station for one in got}

    alarm = bool(pointed(values))
    values[at] += slip
    return at in pointed(values), alarm


def lines(count: int = 200) -> Iterator[str]:
    """Print for each kind of yard and feature what is found, untold and told; seeds are fixed."""
    for number, name in enumerate(("smooth", "ordinary")):
        for kind in FEATURES:
            for told in (False, True)[: 1 if kind == "none" else 2]:
                rng = np.random.default_rng([13, number, FEATURES.index(kind)])
                found, alarm = zip(
                    *(trial(rng, kind, YARDS[name], told=told) for _ in range(count)), strict=True
                )
                said = "" if kind == "none" else ", told" if told else ", untold"
                yield (
                    f"{name}, {kind + said:13}: {100 * np.mean(found):5.1f} % of slips of 1 ft found, "
                    f"alarms in {100 * np.mean(alarm):.1f} % of {count} clean yards"
                )
