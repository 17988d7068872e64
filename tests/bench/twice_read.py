"""How often a single blunder is found and named where every point was read twice: printed, not asserted.

Yards are invented, as in ``blunders``, with smooth ground. Each of 48 pegs is read from two set-ups (or twice
against one mark), each set-up ends on the benchmark again, and one reading is spoiled by 0.03 ft or more: a
smaller slip is no larger than what two sound readings differ by. Readings are good to 0.5 mm, 1 mm or 3 mm
(one standard error) before they are rounded to 0.01 ft or 1 mm.
"""

from __future__ import annotations

from collections.abc import Iterator

import blunders
import numpy as np

from gradework.survey.levelling.readings import Reading, Written
from gradework.survey.outliers import levels_by_ground
from gradework.survey.repeat_findings import Doubt, doubted, find_doubts

FOOT = blunders.FOOT
LEAST = 0.025  # feet
READING = (0.0005, 0.001, 0.003)


def take(
    rng: np.random.Generator, heights: np.ndarray, unit: str, sense: int, sd: float
) -> tuple[np.ndarray, float]:
    """One round, written in the unit of the notes: all stations and the closing shot; and the backsight."""
    size, places = (FOOT, 2) if unit == "ft" else (1.0, 3)
    plane = heights.max() + rng.uniform(0.5, 1.5)
    true = np.append(plane - heights, plane) if sense < 0 else np.append(heights, 0.0)
    read = np.round((true + rng.normal(0, sd, len(true))) / size, places)
    return read, float(np.round((plane + rng.normal(0, sd)) / size, places))


def readings_at(rounds: list[tuple[np.ndarray, float]], size: float, sense: int) -> list[Reading]:
    """Both rounds as looks; the line tells the round (100 to a round)."""
    found: list[Reading] = []
    for number, (values, back) in enumerate(rounds):
        setup, plane = (number, back * size) if sense < 0 else (0, 0.0)
        line = 100 * number
        if sense < 0:
            found.append(Reading("BM", setup, 0.0, Written(back * size, -1, line + 1), False, back=True))
        for i, value in enumerate(values.tolist()):
            name, closing = f"S{i}", i == len(values) - 1
            if closing and sense > 0:
                break
            written = Written(value * size, sense, line + i + 2)
            found.append(
                Reading("BM" if closing else name, setup, plane + sense * value * size, written, not closing)
            )
    return found


def search(readings: list[Reading], unit: str, xyz: np.ndarray) -> tuple[Doubt, ...]:
    """The doubts, with what the ground says of the stations in doubt."""
    doubts, _ = find_doubts(readings, unit, 0.003)
    names = [f"S{i}" for i in range(len(xyz))]
    doubtful = doubted(doubts, readings)
    if not doubtful:
        return doubts
    mean = [np.mean([reading.level for reading in readings if reading.station == name]) for name in names]
    ground = levels_by_ground(names, np.column_stack([xyz[:, :2], mean]), doubtful)
    return find_doubts(readings, unit, 0.003, ground)[0]


def trial(rng: np.random.Generator, kind: str | None, sd: float) -> tuple[bool, bool, int]:
    """Found; kind and line named first; how many other stations were pointed at."""
    unit = "m" if kind == "a whole decimetre" else "ft"
    size = FOOT if unit == "ft" else 1.0
    sense = 1 if kind == "a missing minus" else -1
    xyz = blunders.make_yard(rng, *blunders.YARDS["smooth"])
    rounds = [take(rng, xyz[:, 2], unit, sense, sd) for _ in range(2)]
    touched: tuple[int, int | None] = (-1, None)
    which = int(rng.integers(2))
    while kind is not None:
        values = rounds[which][0][:-1].copy()
        touched = blunders.plant(rng, kind, values)
        if abs(values[touched[0]] - rounds[which][0][touched[0]]) * size / FOOT >= LEAST:
            rounds[which][0][:-1] = values
            break
    readings = readings_at(rounds, size, sense)
    doubts = search(readings, unit, xyz)
    stations = {f"S{i}" for i in touched if i is not None}
    mine = [d for d in doubts if doubted([d], readings) & stations]
    named = bool(mine) and _named(mine[0], readings, kind, stations, which)
    return bool(mine), named, len(doubts) - len(mine)


def _named(doubt: Doubt, readings: list[Reading], kind: str | None, stations: set[str], which: int) -> bool:
    if kind == "exchanged":
        pair = [readings[i] for i in doubt.exchanged[0]] if doubt.exchanged else []
        return {reading.station for reading in pair} == stations and pair[0].written.line // 100 == which
    if not doubt.suspects or doubt.suspects[0].slip is None:
        return False
    first = doubt.suspects[0]
    return first.slip.kind == kind and readings[first.reading].written.line // 100 == which


def lines(count: int = 200) -> Iterator[str]:
    """Print for each reading error and each slip how often it is found and named first; seeds are fixed."""
    for number, sd in enumerate(READING):
        clean = [trial(np.random.default_rng([13, number, k]), None, sd)[2] for k in range(count)]
        alarms = sum(n > 0 for n in clean)
        yield (
            f"read twice to {1000 * sd:g} mm: false alarms in {alarms} of {count} clean yards "
            f"({100 * alarms / count:.1f} %)"
        )
        for k, kind in enumerate(blunders.KINDS):
            trials = [trial(np.random.default_rng([17, number, k, i]), kind, sd) for i in range(count)]
            found, named = (100 * np.mean([t[i] for t in trials]) for i in (0, 1))
            others = 100 * np.mean([t[2] > 0 for t in trials])
            yield f"  {kind:34} found {found:5.1f} %  named {named:5.1f} %  others pointed at {others:4.1f} %"
