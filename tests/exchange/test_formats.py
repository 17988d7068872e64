"""GeoJSON and LandXML: read by others they give the same places, heights and volumes."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
import trimesh
from pyproj import Geod, Transformer

from gradework.exchange.formats import format_files, geojson, landxml
from gradework.ground.surface import Surface
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.sitework.past_walls import led

EAST, NORTH = 484_200.0, 4_971_850.0  # of UTM zone 15 north, a place in the woods
SYSTEM = "EPSG:26915"
METRES = {"meter": 1.0, "foot": 0.3048, "USSurveyFoot": 1200 / 3937}
DEMO = Path(__file__).parents[2] / "data" / "spring-pump-house"
SPACE = {"x": "http://www.landxml.org/schema/LandXML-1.2"}


def job(unit: str = "m", survey: str = "", size: str = "[3, 2.5]") -> bytes:
    return (
        f'name = "Cut & <fill>"\nunits = "{unit}"\nbuild = "pad"\n[survey]\nnotes = "yard.csv"\n{survey}'
        f"[building]\nsize = {size}\ncorner = [5, 5]\n[pad]\nlevel = 19.2\n"
    ).encode()


def notes(east: float = 0.0, north: float = 0.0, feet: float = 1.0) -> bytes:
    """A plane that falls 1 in 20 along x with a dip across, in a grid of 2 m."""
    head = "station,east,north,elevation" if east else "station,x,y,elevation"
    rows = [
        f"S{i}{j},{east + 2 * i * feet},{north + 2 * j * feet},{(20 - 0.1 * i + 0.01 * j * j) * feet:.3f}"
        for i in range(8)
        for j in range(8)
    ]
    return "\n".join([head, *rows, ""]).encode()


@lru_cache
def placed() -> Plan:
    survey = f'crs = "{SYSTEM}"\norigin = "S00"\nreceiver = "survey-grade"\nheight_sd = "1 cm"\n'
    return plan(read_job(job(survey=survey)), notes(EAST, NORTH))


@lru_cache
def features() -> list[dict[str, Any]]:
    made: list[dict[str, Any]] = json.loads(geojson(placed()))["features"]
    return made


def of(what: str) -> list[dict[str, Any]]:
    return [one for one in features() if one["properties"]["what"] == what]


def test_shots_lie_where_the_system_has_them() -> None:
    """By pyproj, from the coordinates of the notes; NAD 83 is taken for WGS 84 where no shift is known."""
    there = Transformer.from_crs(SYSTEM, "EPSG:4326", always_xy=True)
    shots = of("shot")
    assert len(shots) == 64
    for number, shot in enumerate(shots):
        i, j = divmod(number, 8)
        wanted = there.transform(EAST + 2 * i, NORTH + 2 * j)
        assert shot["geometry"]["coordinates"] == pytest.approx(wanted, abs=2e-9)
        assert shot["properties"]["elevation_m"] == placed().stations.xyz[number, 2]


def test_the_figures_of_the_yard_stand_beside_the_places_in_full() -> None:
    again = [[shot["properties"][key] for key in ("x_m", "y_m", "elevation_m")] for shot in of("shot")]
    assert again == placed().stations.xyz.tolist()


def test_outlines_are_as_large_on_the_earth_as_they_are_dug() -> None:
    """The area on the ellipsoid by another road; 1 part in 1,000 for rounding and the height of the site."""
    earth = Geod(ellps="WGS84")
    for what, outline in (("building", placed().building), ("pad", placed().foundations.pad.outline)):
        (one,) = of(what)
        shape = shapely.from_geojson(json.dumps(one))
        area, _ = earth.geometry_area_perimeter(shape)
        assert area == pytest.approx(outline.area, rel=1e-3)  # above zero: anticlockwise, as RFC 7946 asks
        assert shapely.is_valid(shape)


def test_a_yard_of_its_own_has_no_place_on_earth() -> None:
    files, told = format_files(plan(read_job(job()), notes()))
    assert set(files) == {"ground.xml"}
    assert [one.code for one in told] == ["formats-no-system"]
    files, told = format_files(placed())
    assert set(files) == {"ground.xml", "yard.geojson"}
    assert not told


def read_surfaces(data: bytes) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Points (v, 3) x, y, z [m] and triangles (t, 3) of each surface, from the text of the file alone."""
    root = ElementTree.fromstring(data)
    units = root.find("x:Units", SPACE)
    assert units is not None
    assert len(units) == 1
    per = METRES[units[0].attrib["linearUnit"]]
    found = {}
    for surface in root.iterfind(".//x:Surface", SPACE):
        points = {
            p.attrib["id"]: list(map(float, (p.text or "").split()))
            for p in surface.iterfind(".//x:P", SPACE)
        }
        rows = {name: row for row, name in enumerate(points)}
        faces = [[rows[name] for name in (f.text or "").split()] for f in surface.iterfind(".//x:F", SPACE)]
        xyz = np.array(list(points.values()))[:, [1, 0, 2]] * per  # the format has northing first
        found[surface.attrib["name"]] = (xyz, np.array(faces))
    return found


def test_the_ground_comes_back_in_metres() -> None:
    ground = placed().surface
    points, faces = read_surfaces(landxml(placed()))["ground as surveyed"]
    assert points == pytest.approx(ground.vertices + np.append(ground.origin, 0.0), abs=1e-9)
    assert faces.tolist() == ground.triangles.tolist()


@pytest.mark.parametrize("unit", ["ft", "ftUS", "in"])
def test_the_ground_comes_back_in_feet(unit: str) -> None:
    feet = {"in": 39.37}.get(unit, 3.28)
    size = f"[{3 * feet}, {2.5 * feet}]"
    text = job(unit, size=size).replace(b"[5, 5]", f"[{5 * feet}, {5 * feet}]".encode())
    done = plan(read_job(text.replace(b"19.2", f"{19.2 * feet}".encode())), notes(feet=feet))
    points, _ = read_surfaces(landxml(done))["ground as surveyed"]
    ground = done.surface
    assert points == pytest.approx(ground.vertices + np.append(ground.origin, 0.0), abs=1e-9)


@lru_cache
def swaled() -> Plan:
    """A pad with a swale beside it, its yard set down in the woods."""
    done = plan(read_job((DEMO / "job.toml").read_bytes()), (DEMO / "shots.csv").read_bytes())
    return replace(done, stations=replace(done.stations, frame=placed().stations.frame))


def test_both_grounds_hold_as_much_by_another_library(volume: Callable[[Surface], float]) -> None:
    """Each ground by trimesh, as a body down to elevation 0."""
    read = read_surfaces(landxml(swaled()))
    assert set(read) == {"ground as surveyed", "finished ground"}
    for name, ground in (("ground as surveyed", swaled().surface), ("finished ground", swaled().finished)):
        points, faces = read[name]
        body = trimesh.Trimesh(points - [*points[:, :2].min(axis=0), 0.0], faces, process=False)
        held = float(body.area_faces @ (body.triangles_center[:, 2] * body.face_normals[:, 2]))
        assert held == pytest.approx(volume(ground), abs=1e-6)


def test_what_leads_water_past_is_a_line_with_its_bottoms() -> None:
    (made,) = led(swaled().measures)
    lines = [
        one for one in json.loads(geojson(swaled()))["features"] if one["geometry"]["type"] == "LineString"
    ]
    assert [one["properties"]["what"] for one in lines] == [made.kind] * len(made.bends)
    for one, bends in zip(lines, made.bends, strict=True):
        assert one["properties"]["elevations_m"] == bends[:, 2].tolist()
        assert len(one["geometry"]["coordinates"]) == len(bends)


def test_names_are_text_and_never_markup() -> None:
    root = ElementTree.fromstring(landxml(placed()))
    project = root.find("x:Project", SPACE)
    assert project is not None
    assert project.attrib["name"] == "Cut & <fill>"
    assert landxml(placed()) == landxml(placed())
