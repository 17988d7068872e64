"""Reference systems: distances on the ground, survey feet, swapped columns, and what is refused."""

from __future__ import annotations

import math
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.errors import InputError
from gradework.survey.levelling.water_and_laser import gnss_height_sd, plan_only
from gradework.survey.placing.crs import local_places

MILLIMETRE = 1e-3
TENTH = 1e-4
FTUS = 1200 / 3937


@settings(deadline=None, max_examples=30)
@given(
    st.floats(-179.9, 179.9),
    st.floats(-84, 84),
    st.lists(st.tuples(st.floats(-40, 40), st.floats(-40, 40)), min_size=2, max_size=5),
)
def test_degrees_give_the_distances_along_the_ellipsoid(lon, lat, offsets):
    from pyproj import Geod

    metres = 111_320.0
    east = [lon + x / metres / math.cos(math.radians(lat)) for x, _ in offsets]
    north = [lat + y / metres for _, y in offsets]
    local, frame = local_places(east, north, "EPSG:4326")
    geod = Geod(ellps="WGS84")
    for i in range(len(offsets)):
        _, _, line = geod.inv(east[0], north[0], east[i], north[i])
        assert math.dist(local[0], local[i]) == pytest.approx(line, abs=MILLIMETRE / 100)
    back = frame.longitude_latitude(local)
    assert back == pytest.approx(np.column_stack([east, north]), abs=1e-10)


def test_directions_are_east_and_north():
    local, _ = local_places([-93.0, -92.9999, -93.0], [45.0, 45.0, 45.0001], "EPSG:4326")
    east, north = local[1] - local[0], local[2] - local[0]
    assert east == pytest.approx(
        [7.884, 0], abs=0.01
    )  # 1e-4 degree at 45 N, radius of the parallel 4517.6 km
    assert north == pytest.approx([0, 11.113], abs=0.01)


def test_survey_feet_and_metres_of_one_state_plane_zone_agree():
    # EPSG:2230 is California zone 6 in US survey feet, EPSG:26946 the same zone in metres.
    rng = np.random.default_rng(4)
    east = 6_300_000.0 + rng.uniform(0, 150, 12).round(2)
    north = 1_850_000.0 + rng.uniform(0, 150, 12).round(2)
    feet, frame_feet = local_places(east, north, "EPSG:2230", unit="ftUS")
    metres, frame_metres = local_places(east * FTUS, north * FTUS, "EPSG:26946", unit="m")
    assert feet - feet[0] == pytest.approx(metres - metres[0], abs=TENTH / 100)
    there = frame_feet.longitude_latitude(feet)
    # The two zones differ by 0.1 mm themselves: the false origin in feet is rounded to a thousandth of a
    # foot.
    assert there == pytest.approx(frame_metres.longitude_latitude(metres), abs=2e-9)
    from pyproj import Geod

    _, _, line = Geod(ellps="GRS80").inv(*there[0], *there[5])
    assert math.dist(feet[0], feet[5]) == pytest.approx(line, abs=MILLIMETRE)


def test_the_map_scale_is_taken_out():
    # On the central meridian of a UTM zone the map is 0.9996 of the ground.
    local, frame = local_places([500_000.0, 500_099.96], [5_000_000.0, 5_000_000.0], "EPSG:32615")
    assert frame.scale == pytest.approx(0.9996, abs=1e-9)
    assert math.dist(*local) == pytest.approx(100.0, abs=1e-6)


@pytest.mark.parametrize(
    ("east", "north", "crs", "unit", "code"),
    [
        ([44.9], [-93.2], "EPSG:26915", "m", "coordinates-outside-area"),
        ([44.9, 44.9001], [-93.2, -93.2], "EPSG:4269", "m", "coordinates-swapped"),
        ([4_980_000.0], [480_000.0], "EPSG:26915", "m", "coordinates-swapped"),
        ([480_000.0], [4_980_000.0], "EPSG:26915", "ft", "crs-unit-differs"),
        ([6_300_000.0], [1_850_000.0], "EPSG:2230", "ft", "crs-unit-differs"),
        ([480_000.0], [4_980_000.0], "EPSG:4978", "m", "crs-not-plane"),
        ([480_000.0], [4_980_000.0], "EPSG:2065", "m", "crs-not-plane"),
        ([1.0], [1.0], "banana", "m", "crs-unknown"),
        ([1.0], [1.0], "", "m", "crs-unknown"),
        ([1.0], [1.0], "EPSG:999999", "m", "crs-unknown"),
        ([1.0], [math.nan], "EPSG:4326", "m", "place-not-finite"),
        ([1e300], [1e300], "EPSG:26915", "m", "coordinates-outside-area"),
        ([-93.0, -90.5], [45.0, 45.0], "EPSG:4326", "m", "site-too-wide"),
    ],
)
def test_what_cannot_be_placed_is_refused(east, north, crs, unit, code):
    with pytest.raises(InputError) as caught:
        local_places(east, north, crs, unit=unit, lines=list(range(2, 2 + len(east))))
    assert [f.code for f in caught.value.faults] == [code]


VIENNA = [(16.37 + 1e-4 * i, 48.2 + 1e-4 * (i % 3)) for i in range(6)]
VIRGINIA = [(-78.5 + 1e-4 * i, 38.0 + 1e-4 * (i % 3)) for i in range(6)]
UTM = [(484_200.0 + 5 * i, 4_971_870.0 + 5 * (i % 3)) for i in range(6)]


@pytest.mark.parametrize(
    ("places", "crs"),
    [(VIENNA, "EPSG:4326"), (VIRGINIA, "EPSG:4326"), (VIRGINIA, "EPSG:4269"), (UTM, "EPSG:26915")],
)
@pytest.mark.parametrize("wrong", [0, 4])
def test_one_row_with_its_two_numbers_exchanged_is_named(places, crs, wrong):
    rows = [(b, a) if i == wrong else (a, b) for i, (a, b) in enumerate(places)]
    names = [f"P{i}" for i in range(6)]
    with pytest.raises(InputError) as caught:
        local_places(*zip(*rows, strict=True), crs, names=names, lines=list(range(2, 8)))
    (fault,) = caught.value.faults
    assert (fault.code, fault.line) == ("coordinates-swapped", wrong + 2)
    assert f"P{wrong} at " in fault.found
    assert f"{places[wrong][0]:.10g}" in fault.expected


def test_columns_under_exchanged_names_are_told_so():
    with pytest.raises(InputError) as caught:
        local_places(*zip(*[(b, a) for a, b in UTM], strict=True), "EPSG:26915")
    (fault,) = caught.value.faults
    assert "all 6 places" in fault.found
    assert "swap the words east and north in the header" in fault.fix


def test_a_site_that_is_too_wide_names_the_place_that_is_away():
    rows = [*VIENNA, (16.9, 48.2)]
    with pytest.raises(InputError) as caught:
        local_places(*zip(*rows, strict=True), "EPSG:4326", names="abcdefg", lines=list(range(2, 9)))
    (fault,) = caught.value.faults
    assert (fault.code, fault.line) == ("site-too-wide", 8)
    assert fault.fix.endswith("start at g")


@pytest.mark.parametrize("said", ["Valid PROJ data directory not found", "no database context specified"])
def test_a_missing_database_is_named(monkeypatch, said):
    import pyproj
    from pyproj.exceptions import CRSError, DataDirError

    def missing(_):
        raise DataDirError(said) if "directory" in said else CRSError(said)

    monkeypatch.setattr(pyproj.CRS, "from_user_input", missing)
    with pytest.raises(InputError, match="PROJ_DATA") as caught:
        local_places([1.0], [1.0], "EPSG:4326")
    assert [f.code for f in caught.value.faults] == ["crs-database-missing"]


def test_placing_without_a_reference_system_does_not_load_pyproj():
    code = "import sys, gradework.project.stations.placing; print('pyproj' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


@pytest.mark.parametrize("receiver", ["phone", "hand-held"])
def test_phone_heights_are_refused_with_figures(receiver):
    with pytest.raises(InputError, match="13 m or 43 ft for 95 %"):
        gnss_height_sd(receiver, 0.01)
    with pytest.raises(InputError, match="gnss-height-too-coarse"):
        gnss_height_sd(receiver, None, unit="ft")
    assert plan_only(receiver).severity == "warning"


def test_survey_grade_heights_carry_their_error():
    assert gnss_height_sd("survey-grade", 0.015) == 0.015
    for stated in (None, 0.2, math.nan, -0.01):
        with pytest.raises(InputError, match="survey-grade heights"):
            gnss_height_sd("survey-grade", stated)
    with pytest.raises(InputError, match="one of phone, hand-held, survey-grade"):
        gnss_height_sd("drone", 0.01)


def pegs(
    lon: float, lat: float, height: float, offsets: list[tuple[float, float]]
) -> list[tuple[float, float]]:
    """Longitude and latitude of pegs that stand ``offsets`` (east, north) [m] from a place at ``height`` [m].

    By way of coordinates from the centre of the earth, so that no map and no radius has a part in it.
    """
    from pyproj import Transformer

    to_centre = Transformer.from_crs("EPSG:4979", "EPSG:4978", always_xy=True)
    start = np.array(to_centre.transform(lon, lat, height))
    a, b = math.radians(lon), math.radians(lat)
    east = np.array([-math.sin(a), math.cos(a), 0.0])
    north = np.array([-math.sin(b) * math.cos(a), -math.sin(b) * math.sin(a), math.cos(b)])
    found = []
    for x, y in offsets:
        at = start + x * east + y * north
        found.append(to_centre.transform(*at.tolist(), direction="INVERSE")[:2])
    return found


DENVER = -104.99, 39.74
HUNDRED_FEET = 30.48


@pytest.mark.parametrize(
    ("crs", "unit"),
    [("EPSG:4326", "m"), ("EPSG:32613", "m"), ("EPSG:2231", "ftUS"), ("EPSG:6430", "ftUS")],
)
@pytest.mark.parametrize("turn", [0.0, 45.0, 90.0])
def test_pegs_100_ft_apart_a_mile_up_are_100_ft_apart(crs, unit, turn):
    from pyproj import Transformer

    height = 5280 * 0.3048
    along = HUNDRED_FEET * math.cos(math.radians(turn)), HUNDRED_FEET * math.sin(math.radians(turn))
    degrees = pegs(*DENVER, height, [(0.0, 0.0), along])
    there = Transformer.from_crs("EPSG:4326", crs, always_xy=True)
    east, north = zip(*[there.transform(*at) for at in degrees], strict=True)
    raised, _ = local_places(east, north, crs, unit=unit, height=height)
    assert math.dist(*raised) == pytest.approx(HUNDRED_FEET, abs=TENTH)
    low, _ = local_places(east, north, crs, unit=unit)
    assert math.dist(*low) / 0.3048 == pytest.approx(99.975, abs=0.001)  # at sea level


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:32613"])
def test_a_raised_frame_leads_back_to_its_coordinates(crs):
    from pyproj import Transformer

    degrees = pegs(*DENVER, 1609.0, [(0.0, 0.0), (20.0, 10.0), (-15.0, 30.0)])
    there = Transformer.from_crs("EPSG:4326", crs, always_xy=True)
    coordinates = zip(*[there.transform(*at) for at in degrees], strict=True)
    local, frame = local_places(*coordinates, crs, height=1609.0)
    assert frame.longitude_latitude(local) == pytest.approx(np.array(degrees), abs=1e-10)


@pytest.mark.parametrize(
    ("crs", "unit", "better"),
    [
        ("EPSG:3857", "m", "EPSG:32613 (WGS 84 / UTM zone 13N)"),
        ("EPSG:3857", "ft", "EPSG:4326"),
        ("EPSG:3857", "ftUS", "EPSG:6428 (NAD83(2011) / Colorado Central (ftUS))"),
        ("EPSG:8857", "m", "EPSG:32613 (WGS 84 / UTM zone 13N)"),  # the whole world, of equal areas
    ],
)
def test_maps_of_the_web_are_refused_with_a_better_system(crs, unit, better):
    from pyproj import Transformer

    there = Transformer.from_crs("EPSG:4326", crs, always_xy=True)
    east, north = there.transform(*DENVER)
    with pytest.raises(InputError) as caught:
        local_places([east], [north], crs, unit=unit)
    (fault,) = caught.value.faults
    assert (fault.code, fault.about) == ("crs-web-map", ("crs",))
    assert better in fault.expected
    taken = fault.fix.rpartition("such as ")[2]
    if taken != "EPSG:4326":
        east, north = Transformer.from_crs("EPSG:4326", taken, always_xy=True).transform(*DENVER)
        assert len(local_places([east], [north], taken, unit=unit)[0]) == 1


@pytest.mark.parametrize(
    ("crs", "unit", "lon", "lat"),
    [
        ("EPSG:2231", "ftUS", -105.0, 40.0),
        ("EPSG:27700", "m", -1.0, 52.0),
        ("EPSG:3416", "m", 14.0, 47.5),
        ("EPSG:2056", "m", 8.0, 47.0),
        ("EPSG:3395", "m", 11.0, 48.0),  # of the whole world, but alike in all directions
    ],
)
def test_systems_that_surveys_use_are_taken(crs, unit, lon, lat):
    from pyproj import CRS, Transformer

    own = CRS.from_user_input(crs).geodetic_crs
    east, north = Transformer.from_crs(own, crs, always_xy=True).transform([lon, lon + 1e-4], [lat, lat])
    local, _ = local_places(east, north, crs, unit=unit)
    parallel = 111_320.0 * math.cos(math.radians(lat)) * 1e-4  # of a globe: near enough to see a wrong system
    assert math.dist(*local) == pytest.approx(parallel, rel=0.004)
