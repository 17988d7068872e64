"""Airborne ground as it comes: three formats of one ground agree, units and systems are told, and no file
that claims what it does not hold does harm."""

from __future__ import annotations

import importlib
import struct
import sys
import tracemalloc
from typing import Any

import air_files
import numpy as np
import pytest
from air_files import EAST, NORTH, grid, las_bytes, tif_bytes
from pyproj import Transformer

from gradework.errors import InputError
from gradework.survey.airborne import read
from gradework.survey.airborne.read import Airborne, read_airborne, thinned
from gradework.survey.placing.crs import GroundFrame, local_places

WINDOW = (np.array([(0.0, 0.0), (24.0, 24.0)]), 30.0)
X, Y = grid(-40.0, 64.0, 2.0)
Z = 137.2 + 0.05 * X - 0.02 * Y
POINTS = np.column_stack((X.ravel() + EAST, Y.ravel() + NORTH, Z.ravel()))
INSIDE = 42**2
"""Places of the grid in the window, -30 to 54 by 2, less those that the map's scale moves out of it."""


def frame_of(crs: str = "EPSG:26915", unit: Any = "m") -> GroundFrame:
    """A yard whose places were read in a system; x and y are zero at its first place."""
    there = Transformer.from_crs("EPSG:26915", crs, always_xy=True)
    east, north = there.transform([EAST, EAST + 24.0], [NORTH, NORTH + 24.0])
    return local_places(east, north, crs, unit=unit)[1]


def ground_of(data: bytes, **more: Any) -> Airborne:
    return read_airborne(data, "air", more.pop("frame", frame_of()), WINDOW, **more)


def fault_of(data: bytes, **more: Any) -> str:
    with pytest.raises(InputError) as caught:
        ground_of(data, **more)
    (told,) = caught.value.faults
    assert told.file == "air"
    assert told.fix
    return f"{told.found}; expected {told.expected}"


def sorted_rows(xyz: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    return xyz[np.lexsort(np.rint(xyz[:, :2].T * 100.0))]


def test_las_laz_and_geotiff_of_one_ground_are_one() -> None:
    las, laz = (ground_of(las_bytes(POINTS, squeezed=squeezed)) for squeezed in (False, True))
    tif = ground_of(tif_bytes(Z, (EAST - 40.0, NORTH - 40.0), 2.0))
    assert las.read == laz.read == tif.read
    assert las.square == 0.0
    assert sorted_rows(laz.xyz) == pytest.approx(sorted_rows(las.xyz), abs=1e-9)
    assert sorted_rows(tif.xyz) == pytest.approx(sorted_rows(las.xyz), abs=1e-3)  # LAS keeps millimetres
    # in the middle of the zone the map is 1 in 2,500 small: on the ground all is so much farther apart
    x, y, z = las.xyz.T
    assert np.abs(x * 0.9996 - np.rint(x * 0.9996 / 2.0) * 2.0).max() < 0.01
    assert z == pytest.approx(137.2 + 0.9996 * (0.05 * x - 0.02 * y), abs=1e-3)
    assert (las.unit, las.known) == ("m", "heights")


def test_a_turned_raster_lies_where_it_says() -> None:
    """Turned by 30 degrees about its corner; each cell has the height of its own place on the plane."""
    c, s = np.cos(np.pi / 6.0), np.sin(np.pi / 6.0)
    column, row = np.meshgrid(np.arange(80.0), np.arange(70.0))
    east, north = c * column - s * row, s * column + c * row
    found = ground_of(tif_bytes(50.0 + 0.1 * east + 0.03 * north, (EAST, NORTH), turn=30.0))
    x, y, z = found.xyz.T
    assert z == pytest.approx(50.0 + 0.9996 * (0.1 * x + 0.03 * y), abs=1e-6)


@pytest.mark.parametrize(
    ("crs", "metres", "unit", "known"),
    [
        ("EPSG:26915+5703", 1.0, "m", "heights"),
        ("EPSG:26915+6360", 1200.0 / 3937.0, "ftUS", "heights"),
        ("EPSG:26915+8228", 0.3048, "ft", "heights"),
        ("EPSG:26915", 1.0, "m", "places"),
        ("EPSG:4326", 1.0, "m", "places"),
        ("EPSG:2806", 1.0, "m", "places"),
    ],
)
@pytest.mark.parametrize("yard", [("EPSG:26915", "m"), ("EPSG:4269", "m")])
def test_another_system_and_another_unit_give_the_same_ground(
    crs: str, metres: float, unit: str, known: str, yard: tuple[str, str]
) -> None:
    """In the plane's own terms: through feet, longitude and latitude, the state's plane, both ways."""
    there = Transformer.from_crs("EPSG:26915", crs, always_xy=True)
    east, north = there.transform(POINTS[:, 0], POINTS[:, 1])
    points = np.column_stack((east, north, POINTS[:, 2] / metres))
    step = 1e-9 if abs(east[0]) < 400 else 1e-4
    found = ground_of(las_bytes(points, crs, step=step), frame=frame_of(*yard))
    assert (found.unit, found.known) == (unit, known)
    back = local_places([EAST, EAST + 24.0], [NORTH, NORTH + 24.0], "EPSG:26915")[1]
    middle = found.xyz[:, :2].mean(axis=0)
    assert len(found.xyz) == pytest.approx(INSIDE, abs=90)
    # a plane in any frame of the yard: as steep as it is, whichever way north lies there
    fit = np.linalg.lstsq(
        np.column_stack((found.xyz[:, :2] - middle, np.ones(len(found.xyz)))), found.xyz[:, 2]
    )
    assert float(np.hypot(*fit[0][:2])) == pytest.approx(back.scale * np.hypot(0.05, 0.02), rel=1e-4)
    assert np.abs(found.xyz[:, 2] - (found.xyz[:, :2] - middle) @ fit[0][:2] - fit[0][2]).max() < 2e-3


def test_the_job_says_the_unit_where_the_file_does_not() -> None:
    points = POINTS * (1.0, 1.0, 1.0 / 0.3048)
    found = ground_of(las_bytes(points, "EPSG:26915"), unit="ft")
    assert (found.unit, found.known) == ("ft", "said")
    assert found.xyz[:, 2].mean() == pytest.approx(137.2 + 0.03 * 12.0, abs=0.1)


def test_only_ground_counts() -> None:
    """Every other point is a treetop 9 m up; and cells without a height are none."""
    tall = POINTS.copy()
    tall[::2, 2] += 9.0
    found = ground_of(las_bytes(tall, kinds=np.where(np.arange(len(tall)) % 2, 2, 5)))
    assert found.xyz[:, 2].max() < 145.0
    assert 0.4 * INSIDE < found.read < 0.6 * INSIDE
    holes = Z.copy()
    holes[20:30, 20:30] = -9999.0
    corner = (EAST - 40.0, NORTH - 40.0)
    told, untold = (ground_of(tif_bytes(holes, corner, 2.0, **said)) for said in ({"nodata": -9999.0}, {}))
    assert told.read == untold.read == ground_of(tif_bytes(Z, corner, 2.0)).read - 100


def test_many_points_become_the_means_of_squares() -> None:
    """Of a plane they lie on it, at most so many, and none is lost between squares."""
    x, y = grid(-30.0, 54.0, 0.5)
    xyz = np.column_stack((x.ravel(), y.ravel(), 10.0 + 0.1 * x.ravel() + 0.02 * y.ravel()))
    kept, square = thinned(xyz)
    assert len(xyz) > read.MOST >= len(kept)
    assert square == 1.5
    assert kept[:, 2] == pytest.approx(10.0 + 0.1 * kept[:, 0] + 0.02 * kept[:, 1], abs=1e-9)
    assert len(thinned(np.repeat(xyz[:10], 2, axis=0))[0]) == 10


# Files that are not what they say.


def las_head(data: bytes, at: int, form: str, value: Any) -> bytes:
    changed = bytearray(data)
    struct.pack_into(form, changed, at, value)
    return bytes(changed)


def test_a_head_that_claims_more_points_than_the_file_holds_takes_no_memory() -> None:
    data = las_bytes(POINTS)
    tracemalloc.start()
    for count in (4_300_000_000, 400_000_000, len(POINTS) + 1):
        assert f"{count:,} points" in fault_of(las_head(data, 247, "<Q", count))
    assert tracemalloc.get_traced_memory()[1] < 5e6
    tracemalloc.stop()


@pytest.mark.parametrize("squeezed", [False, True])
@pytest.mark.parametrize("part", [0.0, 0.01, 0.3, 0.7, 0.999])
def test_a_scan_that_was_cut_off_is_told(squeezed: bool, part: float) -> None:
    rough = POINTS + np.random.default_rng(1).normal(0.0, 0.05, POINTS.shape)
    data = las_bytes(rough, squeezed=squeezed)
    assert "expected" in fault_of(data[: max(4, int(part * len(data)))])


@pytest.mark.parametrize(
    ("at", "form", "value", "told"),
    [
        (0, "<4s", b"LASX", "neither LAS"),
        (25, "<B", 9, "version 1.9"),
        (94, "<H", 12, "no sense"),
        (96, "<I", 2**31, "no sense"),
        (100, "<I", 2**31, "no sense"),
        (104, "<B", 63, "no sense"),
        (105, "<H", 3, "no sense"),
        (131, "<d", float("nan"), "no sense"),
        (131, "<d", 0.0, "no sense"),
        (155, "<d", float("inf"), "no sense"),
        (235, "<Q", 2**62, "no sense"),
        (247, "<Q", 0, "no points"),
    ],
)
def test_a_head_that_makes_no_sense_is_told(at: int, form: str, value: Any, told: str) -> None:
    data = las_head(las_bytes(POINTS), 243, "<I", 1) if at == 235 else las_bytes(POINTS)
    assert told in fault_of(las_head(data, at, form, value))


def test_a_scan_without_ground_is_told() -> None:
    assert "none of them classed as ground" in fault_of(las_bytes(POINTS, kinds=1))


def test_files_elsewhere_and_in_no_system_are_told() -> None:
    assert "where the yard lies" in fault_of(las_bytes(POINTS + np.array([5000.0, 0.0, 0.0])))
    assert "no reference system" in fault_of(las_bytes(POINTS, None))
    assert "no reference system" in fault_of(tif_bytes(Z, (EAST, NORTH), crs=None))
    assert "no heights" in fault_of(tif_bytes(np.full_like(Z, np.nan), (EAST - 40.0, NORTH - 40.0), 2.0))
    # its corners lie about the yard, all its points beyond the window
    ring = POINTS[(np.abs(X.ravel() - 12.0) > 48.0) & (np.abs(Y.ravel() - 12.0) > 48.0)]
    assert "no heights" in fault_of(las_bytes(ring))


def test_rasters_that_are_no_heights_are_told() -> None:
    assert "bands of uint8" in fault_of(tif_bytes(Z, (EAST, NORTH), dtype="uint8"))
    data = tif_bytes(Z, (EAST - 40.0, NORTH - 40.0), 2.0)
    for size in (4, 8, 100, len(data) // 2):
        assert "no sense" in fault_of(data[:size])
    assert "neither" in fault_of(b"<VRTDataset rasterXSize='1'/>")
    assert "neither" in fault_of(b"")


def test_a_raster_larger_than_any_is_refused_before_a_cell_is_read() -> None:
    """A sparse one of 9 thousand million cells takes some hundred kB; one block of it all is no better."""
    wide = {"sparse_ok": True, "tiled": True, "blockxsize": 4096, "blockysize": 4096}
    with air_files.MemoryFile() as held:
        told: dict[str, Any] = {"driver": "GTiff", "height": 95_000, "width": 95_000, "count": 1}
        with held.open(**told, dtype="float32", transform=air_files.Affine.scale(2.0), **wide):
            pass
        assert "95,000 by 95,000 cells" in fault_of(bytes(held.read()))
    with air_files.MemoryFile() as held:
        told = {"driver": "GTiff", "height": 20_000, "width": 20_000, "count": 1, "blockysize": 20_000}
        told |= {"compress": "deflate", "sparse_ok": True}
        with held.open(**told, dtype="float64", transform=air_files.Affine.scale(2.0)):
            pass
        assert "blocks of 3,052 MB" in fault_of(bytes(held.read()))


@pytest.mark.parametrize(("library", "extra"), [("laspy", "las"), ("rasterio", "tif")])
def test_without_its_library_a_file_tells_which_extra_to_install(
    library: str, extra: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = las_bytes(POINTS) if extra == "las" else tif_bytes(Z, (EAST, NORTH))
    monkeypatch.setitem(sys.modules, library, None)
    monkeypatch.delitem(sys.modules, f"gradework.survey.airborne.{extra}", raising=False)
    with pytest.raises(InputError) as caught:
        ground_of(data)
    assert f"'gradework[{extra}]'" in caught.value.faults[0].fix
    monkeypatch.undo()
    importlib.import_module(f"gradework.survey.airborne.{extra}")


@pytest.mark.parametrize("kind", ["las", "laz", "tif"])
@pytest.mark.parametrize("seed", range(12))
def test_bytes_changed_at_random_end_in_ground_or_a_fault(kind: str, seed: int) -> None:
    rough = POINTS + np.random.default_rng(1).normal(0.0, 0.05, POINTS.shape)
    corner = (EAST - 40.0, NORTH - 40.0)
    data = bytearray(tif_bytes(Z, corner, 2.0) if kind == "tif" else las_bytes(rough, squeezed=kind == "laz"))
    draws = np.random.default_rng(seed)
    for _ in range(1 + seed % 4):
        data[int(draws.integers(4, 600 if seed % 2 else len(data)))] = int(draws.integers(256))
    told: list[str] = []
    try:
        told += [str(value) for value in ground_of(bytes(data)).xyz.reshape(-1)]
    except InputError as problem:
        told += [one.fix for one in problem.faults]
    assert told
    assert len(told) <= 3 * read.MOST
    assert not {"nan", "inf", "-inf"} & set(told)
