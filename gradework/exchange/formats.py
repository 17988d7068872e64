"""The yard for other programs: its ground as LandXML 1.2, what stands and lies on it as GeoJSON (RFC 7946).

Both are open formats. LandXML is written after what the standard is known to ask for; it was not checked
against the schema, and says so itself.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

import numpy as np
from numpy.typing import NDArray

from gradework import __version__
from gradework.errors import CheckError, Finding, finding
from gradework.sitework.past_walls import led

if TYPE_CHECKING:
    from gradework.ground.surface import Surface
    from gradework.project.plan import Plan

GEOJSON, LANDXML = "yard.geojson", "ground.xml"
"""The names of the files."""

_DECIMALS = 9
"""Of a degree: 0.1 mm. RFC 7946 asks for six at least, to save room; a stake wants more."""

Floats = NDArray[np.float64]


def format_files(plan: Plan) -> tuple[dict[str, bytes], tuple[Finding, ...]]:
    """Write both, GeoJSON only for a yard in a reference system; a finding says why it is missing."""
    files = {LANDXML: landxml(plan)}
    if plan.stations.frame is None:
        return files, (finding("formats-no-system", "note", plan.stations.file),)
    return {**files, GEOJSON: geojson(plan)}, ()


def geojson(plan: Plan) -> bytes:
    """Write shots, building, what is built and what leads water as features, longitude before latitude.

    Elevations are properties and no third figure of a place, which would be above the ellipsoid; ``x_m`` and
    ``y_m`` of a shot are those of the yard, in full. Raises ``CheckError`` for a yard in no reference system.
    """
    if plan.stations.frame is None:
        raise CheckError("a yard in no reference system has no place on earth")
    features = list(_features(plan))
    document = {"type": "FeatureCollection", "features": features}
    return (json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode()


def _features(plan: Plan) -> Iterator[dict[str, Any]]:
    frame = plan.stations.frame
    assert frame is not None

    def feature(kind: str, rings: Iterable[Floats], what: str, **more: Any) -> dict[str, Any]:
        at = [np.round(frame.world(np.asarray(ring)[:, :2]), _DECIMALS).tolist() for ring in rings]
        if kind == "Polygon":
            at = [[*ring, ring[0]] for ring in at]
        coordinates = at if kind == "Polygon" else at[0] if kind == "LineString" else at[0][0]
        properties = {"what": what, **more}
        return {
            "type": "Feature",
            "geometry": {"type": kind, "coordinates": coordinates},
            "properties": properties,
        }

    for name, (x, y, z) in zip(plan.stations.names, plan.stations.xyz.tolist(), strict=True):
        yield feature("Point", [np.array([[x, y]])], "shot", station=name, elevation_m=z, x_m=x, y_m=y)
    yield feature("Polygon", plan.building.rings, "building", name=plan.job.name)
    found = plan.foundations
    if found.chosen == "pad":
        yield feature("Polygon", found.pad.outline.rings, "pad", level_m=found.pad.chosen.level)
    elif found.chosen == "slab" and found.slab is not None:
        yield feature("Polygon", found.slab.outline.rings, "slab", level_m=found.slab.level)
    elif found.piers is not None:
        for pier in found.piers.piers:
            place = np.array([[pier.x, pier.y]])
            yield feature("Point", [place], "pier", name=pier.name, top_m=pier.top, bottom_m=pier.bottom)
    for made in led(plan.measures):
        for line in made.bends:
            yield feature("LineString", [line[:, :2]], made.kind, elevations_m=line[:, 2].tolist())
        if not made.bends:
            foot = made.line
            yield feature("LineString", [foot[:, :2]], f"{made.kind}_foot", elevations_m=foot[:, 2].tolist())


_FIGURES = 9  # decimals of a foot or a metre: below what binary figures make of 102.43
_NAMESPACE = "http://www.landxml.org/schema/LandXML-1.2"
_LINEAR = {"ft": "foot", "ftUS": "USSurveyFoot", "m": "meter"}


def landxml(plan: Plan) -> bytes:
    """Write the surveyed ground and, where it is another, the finished one as triangles.

    Each point is northing, easting, elevation in the user's unit, to a billionth. The date that the format
    asks for is that of nothing, so that the same job gives the same bytes.
    """
    show = plan.job.show
    root = ElementTree.Element(
        "LandXML",
        {"xmlns": _NAMESPACE, "version": "1.2", "date": "1970-01-01", "time": "00:00:00", "readOnly": "true"},
    )
    root.append(ElementTree.Comment(" not validated against the schema; the date stands for none "))
    units = ElementTree.SubElement(root, "Units")
    metric = show.length_unit == "m"
    ElementTree.SubElement(
        units,
        "Metric" if metric else "Imperial",
        {
            "linearUnit": _LINEAR[show.length_unit],
            "areaUnit": "squareMeter" if metric else "squareFoot",
            "volumeUnit": "cubicMeter" if metric else "cubicYard",
            "temperatureUnit": "celsius" if metric else "fahrenheit",
            "pressureUnit": "milliBars" if metric else "inchHG",
        },
    )
    ElementTree.SubElement(root, "Project", {"name": plan.job.name})
    ElementTree.SubElement(root, "Application", {"name": "gradework", "version": __version__})
    surfaces = ElementTree.SubElement(root, "Surfaces")
    _add(surfaces, "ground as surveyed", plan.surface, show.metres_per_unit)
    if plan.finished is not plan.surface:
        _add(surfaces, "finished ground", plan.finished, show.metres_per_unit)
    ElementTree.indent(root, " ")
    text: bytes = ElementTree.tostring(root, encoding="utf-8", xml_declaration=True)
    return text + b"\n"


def _add(surfaces: ElementTree.Element, name: str, ground: Surface, metres: float) -> None:
    surface = ElementTree.SubElement(surfaces, "Surface", {"name": name})
    definition = ElementTree.SubElement(surface, "Definition", {"surfType": "TIN"})
    points = ElementTree.SubElement(definition, "Pnts")
    places = ground.vertices + np.append(ground.origin, 0.0)
    if not np.isfinite(places).all():
        raise CheckError("a point of the ground has no place")
    for number, (x, y, z) in enumerate(np.round(places / metres, _FIGURES).tolist(), start=1):
        ElementTree.SubElement(points, "P", {"id": str(number)}).text = f"{y} {x} {z}"
    faces = ElementTree.SubElement(definition, "Faces")
    for corners in (ground.triangles + 1).tolist():
        ElementTree.SubElement(faces, "F").text = " ".join(map(str, corners))
