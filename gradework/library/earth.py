"""How the ground lies and what a level plane takes: surface, outline, cut and fill."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, overload

import numpy as np

from gradework.earthwork import clip as clipping
from gradework.earthwork import volumes
from gradework.earthwork.outline import Outline
from gradework.errors import Fault, InputError, fault
from gradework.ground import profile as profiles
from gradework.ground import surface as surfaces
from gradework.ground.surface import Surface
from gradework.library.survey import as_stations
from gradework.survey.stations import Breakline

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from gradework.earthwork.clip import Pieces
    from gradework.earthwork.volumes import CutFill
    from gradework.survey.stations import Stations
    from gradework.units.lengths import Unit


def build_surface(
    stations: Stations | ArrayLike,
    unit: Unit = "m",
    *,
    breaklines: Mapping[str, Sequence[str | int]] | Sequence[Sequence[str | int]] | None = None,
) -> Surface:
    """Triangulate stations into ground; the result does not depend on their order.

    Parameters
    ----------
    stations
        ``Stations``, or rows of x, y and elevation (n, 3) [unit].
    unit
        "m", "cm", "mm", "ft", "in" or "ftUS": the unit of an array; stations know their own.
    breaklines
        Lines along which the ground breaks, such as top and toe of a bank: for each, by its name or without
        one, the stations it runs through, by name or by row from 0. They stand beside those of ``stations``.

    Returns
    -------
    Surface
        Straight between the stations, exact at each, nothing outside them; no triangle reaches across a
        breakline. Where two cross without a station, it is as high as the weighted mean of both.

    Raises
    ------
    InputError
        Where the shots cannot carry a surface: fewer than three, all on a line, a site over 15 km wide, two
        in one place, NaN; for an array also its shape and unit. ``breakline-unknown-station``;
        ``breaklines-disagree`` where two cross more than three standard errors apart in height.
    CheckError
        When the arithmetic disagrees with itself; nothing is given then.

    Examples
    --------
    >>> import gradework as gw
    >>> ground = gw.build_surface([(0, 0, 10.0), (8, 0, 10.4), (8, 6, 11.0), (0, 6, 10.6)])
    >>> round(ground.area, 9)
    48.0
    >>> ridge = gw.build_surface([(0, 0, 1.0), (4, 0, 2), (4, 4, 1), (0, 4, 2)], breaklines={"ridge": [1, 3]})
    >>> ridge.elevation([(2.0, 2.0)]).tolist()              # the mean of all four without it: 1.5
    [2.0]
    """
    found = as_stations(stations, unit)
    if breaklines:
        found = replace(found, breaklines=(*found.breaklines, *_lines(found, breaklines)))
    return surfaces.build_surface(found)


def _lines(
    stations: Stations, told: Mapping[str, Sequence[str | int]] | Sequence[Sequence[str | int]]
) -> list[Breakline]:
    """Breaklines by the names of their stations; raises ``InputError`` for a row that is not there."""
    by_name = told if isinstance(told, Mapping) else {f"line {k}": one for k, one in enumerate(told, start=1)}
    lines = []
    for name, passed in by_name.items():
        wrong = [one for one in passed if not isinstance(one, str) and not 0 <= one < len(stations)]
        if wrong:
            raise InputError([fault("breakline-unknown-station", breakline=name, name=f"row {wrong[0]}")])
        stops = (one if isinstance(one, str) else stations.names[one] for one in passed)
        lines.append(Breakline(name, tuple(stops)))
    return lines


def as_surface(ground: Surface | Stations | ArrayLike) -> Surface:
    """Take a surface as it is; triangulate anything else."""
    return ground if isinstance(ground, Surface) else build_surface(ground)


def as_outline(outline: Outline | ArrayLike) -> Outline:
    """Take an outline as it is, and corners (k, 2) [m] as an outline."""
    return outline if isinstance(outline, Outline) else Outline.polygon(outline)


def clip(ground: Surface | Stations | ArrayLike, outline: Outline | ArrayLike) -> Pieces:
    """Cut the ground by an outline, convex or not, also with holes.

    Parameters
    ----------
    ground
        A ``Surface``, ``Stations``, or rows of x, y and elevation (n, 3) [m].
    outline
        An ``Outline``, or its corners (k, 2) [m].

    Returns
    -------
    Pieces
        The ground under the outline as triangles: ``corners`` (k, 3, 3) [m], ``areas`` (k,) [m²], ``area``
        [m²], ``lowest``, ``mean``, ``highest`` [m].

    Raises
    ------
    InputError
        Where the outline reaches more than 1 mm outside the surveyed ground, or is none.
    CheckError
        Where the pieces do not add up to the outline.

    Examples
    --------
    >>> import gradework as gw
    >>> slope = [(0, 0, 10.0), (8, 0, 10.4), (8, 6, 10.4), (0, 6, 10.0)]
    >>> under = gw.clip(slope, [(1, 1), (5, 1), (5, 4), (1, 4)])
    >>> round(under.area, 9), round(under.lowest, 9), round(under.highest, 9)
    (12.0, 10.05, 10.25)
    """
    return clipping.clip(as_surface(ground), as_outline(outline))


@overload
def cut_and_fill(pieces: Pieces, levels: float) -> CutFill: ...


@overload
def cut_and_fill(pieces: Pieces, levels: Sequence[float] | NDArray[np.float64]) -> tuple[CutFill, ...]: ...


def cut_and_fill(
    pieces: Pieces, levels: float | Sequence[float] | NDArray[np.float64]
) -> CutFill | tuple[CutFill, ...]:
    """Cut and fill of the ground under an outline against one level plane or several: closed form.

    Parameters
    ----------
    pieces
        The ground under an outline, as ``clip`` gives it.
    levels
        One elevation [m], or several (m,).

    Returns
    -------
    CutFill or tuple of CutFill
        One for a single level, else one for each in the order given. ``cut`` is soil in place, ``fill``
        space to be filled [m³]; neither is ever negative.

    Raises
    ------
    InputError
        A level that is no finite number (``array-not-a-number``), or levels of another shape.
    CheckError
        Where two ways to the same volume disagree.

    Examples
    --------
    >>> import gradework as gw
    >>> slope = [(0, 0, 10.0), (8, 0, 10.4), (8, 6, 10.4), (0, 6, 10.0)]        # rises 1 in 20 along x
    >>> under = gw.clip(slope, [(1, 1), (5, 1), (5, 4), (1, 4)])
    >>> [(round(one.cut, 6), round(one.fill, 6)) for one in gw.cut_and_fill(under, [10.05, 10.15, 10.25])]
    [(1.2, 0.0), (0.3, 0.3), (0.0, 1.2)]
    """
    try:
        wanted = np.asarray(levels, dtype=np.float64)
    except (ValueError, TypeError):
        wanted = np.zeros((0, 0))
    if wanted.ndim > 1:
        raise InputError([fault("array-shape", what="levels", wanted="one number, or shape (m,)")])
    bad = np.flatnonzero(~np.isfinite(wanted))
    if len(bad):
        raise InputError([fault("array-not-a-number", what="levels", count=len(bad), row=int(bad[0]))])
    answers = volumes.cut_and_fill(pieces, wanted)
    return answers if wanted.ndim else answers[0]


def balance_level(pieces: Pieces, compaction: float = 1.0) -> float:
    """The level at which what is cut fills what has to be filled.

    Parameters
    ----------
    pieces
        The ground under an outline, as ``clip`` gives it.
    compaction
        Compacted fill per volume dug in place [-], such as 0.9; with 1 the answer is the mean elevation.

    Returns
    -------
    float
        The level [m] at which cut times ``compaction`` equals fill, exact to about 1e-10 m.

    Raises
    ------
    InputError
        A ``compaction`` that is not a finite number above zero.

    Examples
    --------
    >>> import gradework as gw
    >>> slope = [(0, 0, 10.0), (8, 0, 10.4), (8, 6, 10.4), (0, 6, 10.0)]
    >>> under = gw.clip(slope, [(1, 1), (5, 1), (5, 4), (1, 4)])
    >>> round(gw.balance_level(under), 6), gw.balance_level(under, compaction=0.9) < 10.15
    (10.15, True)
    """
    try:
        return volumes.balance_level(pieces, compaction)
    except (ValueError, TypeError):
        wanted = "a finite number above zero, such as 0.9"
        raise InputError([fault("array-shape", what=f"compaction {compaction}", wanted=wanted)]) from None


def profile(ground: Surface | Stations | ArrayLike, start: ArrayLike, end: ArrayLike) -> NDArray[np.float64]:
    """The ground along a straight line, at every place where it bends.

    Parameters
    ----------
    ground
        A ``Surface``, such as ``plan.surface`` or ``plan.finished``, ``Stations``, or rows of x, y and
        elevation (n, 3) [m].
    start, end
        Both ends (2,) [m], site frame.

    Returns
    -------
    (k, 4)
        Distance from the start, x, y and elevation [m]: straight from row to row. Two rows at one distance
        are a step; a row whose elevation is NaN stands where the survey has a gap. Empty where there is no
        ground.

    Raises
    ------
    InputError
        Ends that are not two finite numbers each (``array-shape``, ``array-not-a-number``), or one place.

    Examples
    --------
    >>> import gradework as gw
    >>> tent = [(0, 0, 1.0), (10, 0, 1.0), (10, 8, 1.0), (0, 8, 1.0), (5, 4, 3.0)]
    >>> gw.profile(tent, (0, 4), (10, 4))[:, [0, 3]].round(6).tolist()
    [[0.0, 1.0], [5.0, 3.0], [10.0, 1.0]]
    """
    ends = [_end("start", start), _end("end", end)]
    wrong = [one for one in ends if isinstance(one, Fault)]
    if wrong:
        raise InputError(wrong)
    places = np.array(ends)
    length = float(np.hypot(*(places[1] - places[0])))
    if length == 0.0:
        raise InputError([fault("array-shape", what="end", wanted="another place than start")])
    along = (places[1] - places[0]) / length
    lines = profiles.as_lines(profiles.cut_along(as_surface(ground), places[0], along, 0.0, length))
    rows: list[NDArray[np.float64]] = []
    for line in lines:
        rows += [np.array([[line[0, 0], np.nan]])] if rows else []
        rows.append(line[np.concatenate(([True], np.abs(np.diff(line, axis=0)).max(axis=1) > 0.0))])
    found = np.concatenate(rows) if rows else np.empty((0, 2))
    return np.column_stack((found[:, 0], places[0] + found[:, :1] * along, found[:, 1]))


def _end(what: str, given: ArrayLike) -> NDArray[np.float64] | Fault:
    """One end, or what is wrong with it."""
    try:
        place = np.asarray(given, dtype=np.float64)
    except (ValueError, TypeError):
        place = np.empty(0)
    if place.shape != (2,):
        return fault("array-shape", what=what, wanted="x and y, shape (2,)")
    if not np.isfinite(place).all():
        bad = int(np.flatnonzero(~np.isfinite(place))[0])
        return fault("array-not-a-number", what=what, count=1, row=bad)
    return place
