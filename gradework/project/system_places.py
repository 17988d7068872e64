"""A table of coordinates in a reference system as places of the yard, with the elevations beside them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from gradework.errors import Fault, Finding, InputError, visible
from gradework.fieldnotes.coordinates import read_system
from gradework.survey.gnss import RECEIVERS
from gradework.survey.positions import Places, make_places

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gradework.fieldnotes.dialect import DecimalMark
    from gradework.survey.projected import GroundFrame
    from gradework.units import Unit


class SystemPlaces(NamedTuple):
    """``places`` in the yard's own x and y; ``levels``: the elevation of each [m] or None; ``degrees``:
    whether the system counts in longitude and latitude."""

    places: Places
    levels: tuple[float | None, ...]
    degrees: bool

    @property
    def asked(self) -> Places:
        """The places with a note that asks what they were read with."""
        return replace(self.places, findings=(*self.places.findings, _which_receiver(self)))


def system_places(
    data: bytes,
    file: str,
    crs: str | None,
    *,
    unit: Unit | None,
    origin: str | None = None,
    decimal: DecimalMark | None = None,
) -> SystemPlaces:
    """Read coordinates of the system ``crs``; x and y are zero at the station ``origin``, if it is named.

    Raises ``InputError`` with every fault.
    """
    from gradework.survey.projected import local_places  # loads pyproj

    if crs is None:
        raise InputError(
            [
                Fault(
                    "places-key-missing",
                    "longitudes and latitudes without their reference system",
                    "crs under [survey], or --crs",
                    'add the line crs = "EPSG:4326" for degrees of a satellite receiver, or --crs EPSG:4326',
                    file,
                )
            ]
        )
    notes = read_system(data, file, unit=unit, decimal=decimal)
    rows = notes.rows
    local, frame = local_places(
        [r.east for r in rows],
        [r.north for r in rows],
        crs,
        unit=notes.unit,
        names=[r.station for r in rows],
        lines=[r.line for r in rows],
        file=file,
    )
    names = [r.station for r in rows]
    zero = "the middle of the survey" if frame.degrees else f"{frame.origin[0]:.0f}, {frame.origin[1]:.0f}"
    xy = local
    if origin is not None:
        at = _named(origin, names, file)
        xy, zero = local - local[at], visible(origin)
    advice = (
        f"x runs east and y north from {zero}, in {visible(crs)}, on the ground (not the map's scale). "
        f"{_on_earth(frame, local)}Places in the job are meant so; stations.csv lists every station."
    )
    told = Finding("places-in-system", "note", file, None, None, advice)
    places = make_places(
        names,
        xy,
        [math.nan] * len(rows),
        [r.line for r in rows],
        file=file,
        unit=notes.unit,
        findings=(*notes.findings, told),
    )
    return SystemPlaces(places, tuple(r.elevation for r in rows), frame.degrees)


def refuse_unsaid_receiver(found: SystemPlaces, file: str) -> None:
    """A fault for elevations beside degrees: nearly always a satellite receiver read them, and which kind it
    was decides whether they can serve."""
    listed = ", ".join(f'"{word}"' for word in RECEIVERS)
    raise InputError(
        [
            Fault(
                "receiver-not-said",
                "elevations beside longitude and latitude, and nothing that says what read them",
                f"the kind of receiver, one of {listed}",
                'say receiver = "survey-grade" and the height_sd of its report (options --receiver and '
                "--height-sd); heights of a phone or hand-held receiver do not serve. Elevations found "
                "with a level go into the notes, the coordinates alone into a table that places names",
                file,
                line=next(
                    line
                    for line, level in zip(found.places.lines, found.levels, strict=True)
                    if level is not None
                ),
            )
        ]
    )


def _which_receiver(found: SystemPlaces) -> Finding:
    heights = " and heights" if any(level is not None for level in found.levels) else ""
    advice = (
        f"Nothing says what these places{heights} were read with. If it was a satellite receiver, say "
        f"receiver and its kind ({', '.join(RECEIVERS)}): a phone is out by about 5 m or 16 ft in plan, and "
        "its heights do not serve."
    )
    return Finding("receiver-asked", "note", found.places.file, None, None, advice)


def _on_earth(frame: GroundFrame, local: NDArray[np.float64]) -> str:
    """Where on earth the middle of the places is, so that exchanged columns are seen."""
    if not len(local):
        return ""
    ((lon, lat),) = frame.longitude_latitude(np.median(local, axis=0)).tolist()
    ns, ew = "south" if lat < 0 else "north", "west" if lon < 0 else "east"
    return (
        f"Their middle lies at {abs(lat):.3f}° {ns}, {abs(lon):.3f}° {ew}: look whether that is your yard. "
    )


def _named(name: str, names: Sequence[str], file: str) -> int:
    if name in names:
        return names.index(name)
    raise InputError(
        [
            Fault(
                "places-origin-unknown",
                f"the origin {visible(name)}, which is no station",
                "the name of a station in the table",
                "write the name as in the table, or leave origin out",
                file,
            )
        ]
    )
