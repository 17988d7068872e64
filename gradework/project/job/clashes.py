"""Keys of the job that are each in order but contradict or miss each other, found in the raw document."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from gradework.errors import visible
from gradework.project.job.bounds import MOST_CORNERS
from gradework.project.job.site import near_clashes
from gradework.project.job.toml_text import Path
from gradework.project.stations.forms import find_clashes


class Clash(NamedTuple):
    """The place of a key that does not go with another, and what is said about it in ``messages.toml``."""

    path: Path
    code: str
    variant: str
    values: Mapping[str, Any]


def clash(*path: str, variant: str = "", **values: Any) -> Clash:
    """Two keys that say different things, or one that says nothing without another."""
    return Clash(path, "job-clash", variant, values)


def clashes(document: Mapping[str, Any]) -> Iterator[Clash]:
    """Find keys that contradict or miss each other in the raw ``document``."""
    build = document.get("build")
    if build in ("piers", "slab") and build not in document:
        yield clash("build", variant="build", build=build)
    survey, pad, building = (document.get(name) for name in ("survey", "pad", "building"))
    if isinstance(survey, Mapping):
        yield from _of_survey(survey)
    yield from _of_frost(document)
    yield from _of_floor(document)
    if isinstance(building, Mapping):
        yield from list(_of_ties(building)) or _of_outline(building)
        yield from _of_corners(building)
    for found in near_clashes(document):
        yield Clash(*found)
    yield from _of_place(document)
    if isinstance(pad, Mapping) and "batter" in pad and pad.get("edge", "boxed") == "boxed":
        yield clash("pad", "batter", variant="batter")


def _of_place(document: Mapping[str, Any]) -> Iterator[Clash]:
    """A line that the walls run along has to stand in the job; it counts with square turns only."""
    place, site = document.get("place"), document.get("site")
    near = site.get("near", ()) if isinstance(site, Mapping) else ()
    if isinstance(site, Mapping) and "setback" in site and "boundary" not in site:
        yield clash("site", "setback", variant="missing", key="setback", other="boundary",
                    add="boundary = [[0, 0], [60, 0], [60, 80], [0, 80]]")  # fmt: skip
    if not isinstance(place, Mapping) or "square_to" not in place:
        return
    names = [one.get("name") for one in near if isinstance(one, Mapping)] if isinstance(near, list) else []
    if place.get("turns") != "square":
        yield clash("place", "square_to", variant="missing", key="square_to", other="turns",
                    add='turns = "square"')  # fmt: skip
    if place["square_to"] not in names:
        yield clash("place", "square_to", variant="square-to", name=visible(str(place["square_to"])))


_EXAMPLES: Mapping[str, str] = {
    "receiver": 'receiver = "survey-grade"',
    "crs": 'crs = "EPSG:4326"',
    "seat": "seat = [0, 0]",
    "places": 'places = "ties.csv"',
}


def _of_survey(survey: Mapping[str, Any]) -> Iterator[Clash]:
    for key, other, kind, ways in find_clashes(survey):
        if kind == "way":
            listed = " or ".join(f'"{one}"' for one in ways)
            yield clash("survey", key, variant="way", key=key, other=other, way=survey[other], ways=listed)
        elif kind == "missing":
            yield clash("survey", key, variant="missing", key=key, other=other, add=_EXAMPLES[other])
        else:
            yield clash("survey", key, variant="apart", key=key, other=other)


def _of_frost(document: Mapping[str, Any]) -> Iterator[Clash]:
    """Depth of frost and height of the eaves hold for every foundation, so each stands in one place."""
    piers = document.get("piers")
    for key, table in (("frost", "site"), ("eave", "building")):
        here = document.get(table)
        if isinstance(piers, Mapping) and isinstance(here, Mapping) and key in piers and key in here:
            yield clash("piers", key, variant="frost", key=key, table=table)


def _of_floor(document: Mapping[str, Any]) -> Iterator[Clash]:
    """The size of a skid or joist is told whole or by its depth, not both."""
    piers = document.get("piers")
    floor = piers.get("floor") if isinstance(piers, Mapping) else None
    for key, other in (("beam", "skid"), ("joists", "joist")):
        if isinstance(floor, Mapping) and key in floor and other in floor:
            yield clash("piers", "floor", key, key=key, other=other)


def _of_ties(building: Mapping[str, Any]) -> Iterator[Clash]:
    """Keys that contradict a first corner that was taped, or that need one."""
    if "ties" not in building:
        for key in ("second_ties", "side"):
            if key in building:
                yield clash("building", key, variant="no-ties", key=key)
        return
    for key in ("corner", "outline"):
        if key in building:
            yield clash("building", key, key=key, other="ties")
    if "second_ties" in building and "turn" in building:
        yield clash("building", "turn", key="turn", other="second_ties")


def _of_corners(building: Mapping[str, Any]) -> Iterator[Clash]:
    """Corners are counted before any outline is looked at: each pair of its sides is."""
    outline, holes = building.get("outline"), building.get("holes")
    rings = [outline, *(holes if isinstance(holes, list) else [])]
    corners = sum(len(ring) for ring in rings if isinstance(ring, list))
    if corners > MOST_CORNERS:
        of_holes = " with those of the holes" if len(rings) > 1 else ""
        values = {"count": corners, "of_holes": of_holes, "most": MOST_CORNERS}
        yield Clash(("building", "outline"), "job-out-of-range", "corners", values)


def _of_outline(building: Mapping[str, Any]) -> Iterator[Clash]:
    """A rectangle needs size and corner; a polygon needs neither."""
    if "outline" in building:
        for key in ("size", "corner", "turn"):
            if key in building:
                yield clash("building", key, variant="outline", key=key)
        return
    for key, example in (("size", "[16, 12]"), ("corner", "[0, 0]")):
        if key not in building and not (key == "corner" and "ties" in building):
            values = {"key": key, "add": f"{key} = {example}"}
            yield Clash(("building",), "job-missing-key", "building", values)
    if "holes" in building:
        yield clash("building", "holes", variant="holes")
