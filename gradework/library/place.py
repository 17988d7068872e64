"""Where a building stands best: a whole job, or many places of a rectangle on bare ground."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import TYPE_CHECKING, Any

import numpy as np

from gradework.earthwork.siting import placements as sums
from gradework.earthwork.siting.placements import LevelRule, Placements
from gradework.errors import InputError, fault
from gradework.exchange.yard_records import place_record
from gradework.library.earth import as_surface
from gradework.library.inputs import Source
from gradework.library.jobs import notes_of, read_job
from gradework.project import place as placing
from gradework.project.job.model import Job
from gradework.report.place import place_text, verdict

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from gradework.ground.surface import Surface
    from gradework.survey.stations import Stations


class Placing(placing.Placing):
    """Where a building stands best: ``best``, ``spots``, ``here``, ``missed``; all SI."""

    def summary(self) -> str:
        """The answer in words, in the units of the job, as ``gradework place JOB`` prints it."""
        return place_text(self, "JOB")

    def record(self) -> dict[str, Any]:
        """The same as ``gradework place JOB --json``: plain data, always SI."""
        return place_record(self)

    def __repr__(self) -> str:
        return f"<Placing of the {self.kind}: {verdict(self)}>"


def place(
    job: Job | Source | Mapping[str, Any],
    notes: Source | None = None,
    places: Source | None = None,
    *,
    breaklines: Source | None = None,
    least: str | None = None,
    foundation: str | None = None,
) -> Placing:
    """Find where the building of a job stands best: all x, y and turns that the yard allows.

    Parameters
    ----------
    job, notes, places, breaklines
        As ``plan`` takes them.
    least
        What is to be least: "gravel", "digging", "cost" or "fall"; "highest" for the highest ground. None:
        what the job says, else gravel.
    foundation
        "pad", "piers" or "slab"; None: the one to be built.

    Returns
    -------
    Placing
        ``spots`` are the best place and three that clearly differ, planned in full; ``missed`` is the most
        that an allowed place can be better than the best of them by the ground.

    Raises
    ------
    InputError
        With every fault of job or notes; ``place-rectangle`` for a building with an outline of its own.
    CheckError
        When the arithmetic disagrees with itself.

    Examples
    --------
    >>> import gradework as gw
    >>> notes = b"station,x,y,elevation\\n" + b"".join(
    ...     b"P%d%d,%d,%d,%.2f\\n" % (i, j, 2 * i, 2 * j, 50 + 0.1 * max(i - 3, 0))
    ...     for i in range(8) for j in range(5))                        # level up to x = 6
    >>> shed = {"name": "Shed", "units": "m", "survey": {"notes": "yard.csv"}, "build": "slab", "slab": {},
    ...         "building": {"size": [3, 2], "corner": [9, 3]}, "place": {"turns": "given"}}
    >>> found = gw.place(shed, notes=notes, least="fall")
    >>> round(found.here.fall, 3), round(found.spots[0].fall, 3)                # m
    (0.15, 0.0)
    """
    asked = job if isinstance(job, Job) else read_job(job)
    made = placing.place(asked, *notes_of(asked, notes, places, breaklines), least=least, kind=foundation)
    return Placing(**{one.name: getattr(made, one.name) for one in fields(made)})


def placements(
    ground: Surface | Stations | ArrayLike,
    size: tuple[float, float],
    middles: ArrayLike,
    turns: ArrayLike = 0.0,
    *,
    level: float | None = None,
    above_lowest: float | None = None,
    above_highest: float | None = None,
) -> Placements:
    """Cut and fill of a rectangle at many places at once: closed form, to the last digits as one by one.

    Parameters
    ----------
    ground
        A ``Surface``, ``Stations``, or rows of x, y and elevation (n, 3) [m].
    size
        Along and across [m].
    middles
        The middle of the rectangle at each place (n, 2) [m].
    turns
        Its turn there [degrees] anticlockwise, (n,) or one for all.
    level
        The level [m] at all places; without it each has its own, the lowest that keeps the next two.
    above_lowest, above_highest
        How far at least [m] above the lowest, and above the highest ground under the rectangle; with none of
        the three the level of each is its lowest ground: that of least fill.

    Returns
    -------
    Placements
        Arrays (n,): ``level``, ``lowest``, ``mean``, ``highest`` [m], ``cut``, ``fill`` [m³] and others;
        ``inside`` says which places lie on surveyed ground altogether.

    Raises
    ------
    InputError
        Arrays of another shape, a size that is not two lengths above zero, numbers that are not finite.
    CheckError
        Where cut less fill is not what the mean of the ground says.

    Examples
    --------
    >>> import gradework as gw
    >>> slope = [(0, 0, 10.0), (8, 0, 10.4), (8, 6, 10.4), (0, 6, 10.0)]        # rises 1 in 20 along x
    >>> found = gw.placements(slope, (4, 3), [(3, 2.5), (4, 3), (1, 1)], [0, 90, 0], above_highest=0.0)
    >>> found.fill.round(6)[:2], found.inside                    # it makes up half the rise under it
    (array([1.2, 0.9]), array([ True,  True, False]))
    """
    try:
        sides, xy = np.asarray(size, dtype=np.float64), np.asarray(middles, dtype=np.float64)
        degrees = np.broadcast_to(np.asarray(turns, dtype=np.float64), (len(xy),))
        places = np.column_stack((xy, np.radians(degrees)))
    except (ValueError, TypeError):
        sides, places = np.empty(0), np.empty((0, 0))
    if sides.shape != (2,) or places.ndim != 2 or places.shape[1] != 3:
        wanted = "size (along, across), middles (n, 2) and turns (n,) or one number"
        raise InputError([fault("array-shape", what="a place", wanted=wanted)])
    asked = [value for value in (level, above_lowest, above_highest) if value is not None]
    rows = np.flatnonzero(~np.isfinite(places).all(axis=1)).tolist()
    if not (np.isfinite(sides).all() and (sides > 0.0).all() and np.isfinite(asked).all()):
        raise InputError([fault("array-shape", what="size or level", wanted="finite, sides above zero")])
    if rows:
        raise InputError([fault("array-not-a-number", what="middles, turns", count=len(rows), row=rows[0])])
    never = -np.inf
    rule = LevelRule(
        lowest=(0.0 if not asked else never) if above_lowest is None else above_lowest,
        highest=never if above_highest is None else above_highest,
        given=never if level is None else level,
    )
    return sums.placements(as_surface(ground), (float(sides[0]), float(sides[1])), places, rule)
