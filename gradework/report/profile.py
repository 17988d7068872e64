"""A profile in words: how the ground falls along the line, and a short table of it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from gradework.errors import visible
from gradework.report.text import columns, filled, named, text_table
from gradework.units.numbers import round_steps

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gradework.project.profile import End, Profile
    from gradework.units.display import Display

MOST_ROWS = 12
"""So many even distances are told on the screen."""

MOST_LINES = 40
"""Distances that were asked for are told in so many lines at the most; the table has them all."""

BUILT = {"pad": "the gravel pad", "piers": "the piers", "slab": "the slab"}


def profile_text(profile: Profile, job: str, show: Display, every: float | None = None) -> str:
    """Tell the fall of the ground along a line and a table at even distances, ``every`` [m] or round ones."""
    answer = f"{visible(job)}: {verdict(profile, show)}"
    lines = filled(answer, rest="  ", width=columns())
    if every is None or profile.length > MOST_LINES * every:
        every = round_step(profile.length, MOST_ROWS, show)
    at = even_distances(profile.length, every)
    heads = ["at", "ground", *(["finished", "up or down"] if profile.finished is not None else []), ""]
    lines += text_table(heads, [_row(profile, show, one) for one in at.tolist()])
    if profile.stations:
        told = (f"{visible(one.name)} at {show.taped(one.at)}" for one in profile.stations)
        lines += named("Passes", ", ".join(told), width=9)
    return "\n".join(lines)


def verdict(profile: Profile, show: Display) -> str:
    """The answer: how far, and how much the ground rises or falls on the way."""
    first, last = profile.ground[0, 0], profile.ground[-1, 1]
    fall, run = float(first[1] - last[1]), float(last[0] - first[0])
    way = f"{'falls' if fall > 0 else 'rises'} {show.elevation(abs(fall))} ({show.slope(abs(fall) / run)})"
    if show.is_rounding(fall):
        way = "ends as high as it begins"
    heights = profile.ground[:, :, 1]
    low, high = (show.elevation(float(one)) for one in (heights.min(), heights.max()))
    line = f"from {end_words(profile.first, show)} to {end_words(profile.last, show)}"
    built = "" if profile.foundation is None else f"; finished with {BUILT[profile.foundation]}"
    return f"{line}, {show.taped(profile.length)}: the ground {way}; lowest {low}, highest {high}{built}."


def end_words(end: End, show: Display) -> str:
    """Name an end: its station, or its place."""
    return visible(end.station) if end.station else show.place(end.x, end.y)


def _row(profile: Profile, show: Display, at: float) -> list[str]:
    """The figures at one distance; of a step those after it."""
    row = profile.rows(np.array([at]))[-1]
    ground = "no shots" if row.ground is None else show.elevation(row.ground)
    if profile.finished is None:
        return [show.taped(at), ground, ""]
    if row.ground is None or row.finished is None:
        return [show.taped(at), ground, "no shots", "", ""]
    off = row.finished - row.ground
    change = (
        "as it is" if show.is_rounding(off) else f"{show.elevation(abs(off))} {'up' if off > 0 else 'down'}"
    )
    return [show.taped(at), ground, show.elevation(row.finished), change, ""]


def even_distances(length: float, step: float) -> NDArray[np.float64]:
    """Every multiple of ``step`` [m] along a line, and its end.

    >>> even_distances(2.5, 1.0).tolist()
    [0.0, 1.0, 2.0, 2.5]
    """
    at = np.asarray(step * np.arange(math.floor(length / step + 1e-9) + 1), dtype=np.float64)
    return np.append(at, length) if length - at[-1] > 1e-6 else at


LEAST_STEP = 0.1
"""Rows stand no nearer than a tenth of the user's unit."""


def round_step(length: float, most: int, show: Display) -> float:
    """The least round step [m] (1, 2 or 5 of the user's units, or ten times that) with ``most`` in a length.

    >>> from gradework.units.display import METRIC
    >>> round_step(30.0, 12, METRIC)
    5.0
    """
    unit = show.metres_per_unit
    return max(round_steps(length / unit, most), LEAST_STEP) * unit
