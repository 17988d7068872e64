"""Cut and fill against bodies with known volumes; each value stands beside its source."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest

from gradework.earthwork.clip import Pieces, clip
from gradework.earthwork.outline import Outline
from gradework.earthwork.room import room_ground
from gradework.earthwork.volumes import balance_level, cut_and_fill, prism_sums
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]

CUBIC_FEET_PER_YARD = 27.0


def lattice(
    xs: list[float], ys: list[float], height: Callable[[float, float], float]
) -> list[tuple[float, float, float]]:
    return [(x, y, height(x, y)) for x in xs for y in ys]


# ---- level pad on a sloping plane (derived in closed form: cut = fill = L S W²/8 at mid-level; W 20, L 30,
# S 0.08)


@pytest.mark.parametrize(
    ("raised", "cut", "fill"), [(0.0, 120.0, 120.0), (0.1, 91.875, 151.875), (-0.2, 187.5, 67.5)]
)
def test_pad_on_a_sloping_plane(ground: Ground, raised: float, cut: float, fill: float) -> None:
    surface = ground(lattice([-5, 0, 11, 35], [-4, 0, 9, 24], lambda _x, y: 0.08 * y))
    [result] = cut_and_fill(clip(surface, Outline.rectangle((0, 0), (30, 20))), 0.8 + raised)
    assert result.cut == pytest.approx(cut, rel=1e-12)
    assert result.fill == pytest.approx(fill, rel=1e-12)


def test_balanced_level_on_a_sloping_plane_when_compacted_over_in_place_is_0_9(ground: Ground) -> None:
    surface = ground(lattice([-5, 0, 11, 35], [-4, 0, 9, 24], lambda _x, y: 0.08 * y))
    pieces = clip(surface, Outline.rectangle((0, 0), (30, 20)))
    level = balance_level(pieces, 0.9)
    [result] = cut_and_fill(pieces, level)
    assert level - 0.8 == pytest.approx(-0.0210672, abs=5e-8)
    assert result.cut == pytest.approx(126.4034, abs=5e-5)
    assert result.fill == pytest.approx(113.7630, abs=5e-5)
    assert balance_level(pieces) == pytest.approx(0.8, abs=1e-12)


# ---- one borrow-pit cell: corners 87.6, 87.6, 87.6, 88.6 ft, 50 x 50 ft, fill to 90 ft: 199 yd³ (199.0741)
# http://www.expertsmind.com/questions/amount-of-borrow-needed-to-bring-area-to-elevation-of-90-ft-30170481.aspx


def test_one_cell_of_borrow_by_the_unit_area_rule(ground: Ground) -> None:
    surface = ground([(0, 0, 87.6), (50, 0, 87.6), (50, 50, 87.6), (0, 50, 88.6)])
    [result] = cut_and_fill(clip(surface, Outline.rectangle((0, 0), (50, 50))), 90.0)
    assert result.fill / CUBIC_FEET_PER_YARD == pytest.approx(199.0741, abs=5e-5)
    assert result.cut == 0.0


# ---- the same source's grid of four cells of 180 m²: corner weights 1-2-1/2-4-2/1-2-1, sum 25.3, net
# 1138.5 m³; by
# adding positive and negative corners of each cell apart (cell 1 cut 54 fill 405, cell 2 cut 603 fill
# 67.5, cell 3 cut
# 198; in all 1732.5 and 594.0) both are overstated. The nine heights are not at hand from that source: these
# were found by a search for heights that give all of its figures, and may not be the ones it prints. By
# triangles (recomputed): NW-SE cut 1526.5357 fill 416.5357, NE-SW 1593.2817 and 426.2817; bilinear surface
# (numeric) 1558.769 and 420.269.

FOUR_CELLS = np.array([[-4.8, -1.5, 5.6], [-2.7, 1.2, 6.6], [0.0, 3.2, 8.5]])


def four_cells(ground: Ground) -> Pieces:
    shots = [(12.0 * c, 15.0 * (2 - r), FOUR_CELLS[r, c]) for r in range(3) for c in range(3)]
    return clip(ground(shots), Outline.rectangle((0, 0), (24, 30)))


def test_four_cells_by_corner_weights(ground: Ground) -> None:
    [result] = cut_and_fill(four_cells(ground), 0.0)
    assert result.net == pytest.approx(1138.5, rel=1e-12)


def test_four_cells_by_either_diagonal_lie_inside_the_doubt(ground: Ground) -> None:
    [result] = cut_and_fill(four_cells(ground), 0.0)
    for corners, cut, fill in (
        ([(0, 1, 3), (0, 3, 2)], 1526.5357, 416.5357),  # NW-SE
        ([(0, 1, 2), (1, 3, 2)], 1593.2817, 426.2817),  # NE-SW
    ):
        cells = [FOUR_CELLS[r : r + 2, c : c + 2].ravel() for r in (0, 1) for c in (0, 1)]
        heights = np.sort(np.array([cell[list(triangle)] for cell in cells for triangle in corners]), axis=1)
        sums = prism_sums(heights, np.full(8, 90.0), np.zeros(1))
        assert sums.cut[0] == pytest.approx(cut, abs=5e-5)
        assert sums.fill[0] == pytest.approx(fill, abs=5e-5)
        assert abs(result.cut - cut) <= result.doubt
        assert abs(result.fill - fill) <= result.doubt
        assert abs(result.net - (cut - fill)) <= result.doubt


def test_four_cells_as_a_bilinear_surface_and_cell_by_cell(ground: Ground) -> None:
    [result] = cut_and_fill(four_cells(ground), 0.0)
    middles = (np.arange(1000) + 0.5) / 1000
    u, v = np.meshgrid(middles, middles)
    cut = fill = apart_cut = apart_fill = 0.0
    for r in (0, 1):
        for c in (0, 1):
            (nw, ne), (sw, se) = FOUR_CELLS[r : r + 2, c : c + 2]
            height = nw * (1 - u) * (1 - v) + ne * u * (1 - v) + sw * (1 - u) * v + se * u * v
            cut += 180.0 * float(np.maximum(height, 0).mean())
            fill += 180.0 * float(np.maximum(-height, 0).mean())
            apart_cut += 45.0 * sum(max(h, 0.0) for h in (nw, ne, sw, se))
            apart_fill += 45.0 * sum(max(-h, 0.0) for h in (nw, ne, sw, se))
    assert (cut, fill) == pytest.approx((1558.769, 420.269), abs=2e-3)
    assert (apart_cut, apart_fill) == pytest.approx((1732.5, 594.0))
    assert abs(result.cut - cut) <= result.doubt
    assert result.cut < apart_cut
    assert result.fill < apart_fill


# ---- unit-area (corner weight) rule V = cell/4 Σ N h, N = 1, 2, 3, 4 cells that meet at a corner:
# University of
# Melbourne, plane survey notes, http://www.sli.unimelb.edu.au/planesurvey/prot/topic/top08-05-01.html


@pytest.mark.parametrize(("columns", "rows"), [(2, 2), (3, 3), (5, 4), (9, 7)])
def test_corner_weights_are_reproduced_on_any_grid(ground: Ground, columns: int, rows: int) -> None:
    rng = np.random.default_rng(columns * 100 + rows)
    height = rng.uniform(-2, 2, (columns, rows))
    shots = [(3.0 * i, 2.5 * j, height[i, j]) for i in range(columns) for j in range(rows)]
    pieces = clip(ground(shots), Outline.rectangle((0, 0), (3.0 * (columns - 1), 2.5 * (rows - 1))))
    weight = np.full((columns, rows), 4.0)
    weight[[0, -1], :] /= 2
    weight[:, [0, -1]] /= 2
    [result] = cut_and_fill(pieces, 0.1)
    assert result.net == pytest.approx(3.0 * 2.5 / 4.0 * float((weight * (height - 0.1)).sum()), rel=1e-9)


# ---- pit with bottom a x b, depth d, sides m:1: V = a b d + (a + b) m d² + 4/3 m² d³; a 10, b 6, d 2, m
# 1.5: 240
# (closed form; end areas would give 252)


def test_pit_with_sloping_sides(ground: Ground) -> None:
    a, b, d, m = 10.0, 6.0, 2.0, 1.5
    rim = m * d
    shots = [(-rim, -rim, 0), (a + rim, -rim, 0), (a + rim, b + rim, 0), (-rim, b + rim, 0)]
    shots += [(0, 0, -d), (a, 0, -d), (a, b, -d), (0, b, -d)]
    # shots along the edges of the pit, so that straight triangles follow them
    shots += [(t * a, y, -d) for t in (0.25, 0.5, 0.75) for y in (0, b)]
    shots += [(x, t * b, -d) for t in (0.25, 0.5, 0.75) for x in (0, a)]
    shots += [(-rim + t * (a + 2 * rim), y, 0) for t in np.linspace(0, 1, 9)[1:-1] for y in (-rim, b + rim)]
    shots += [(x, -rim + t * (b + 2 * rim), 0) for t in np.linspace(0, 1, 9)[1:-1] for x in (-rim, a + rim)]
    shots += [(x * rim / 2, y * rim / 2, -d / 2) for x, y in ((-1, -1),)]
    shots += [
        (a + rim / 2, -rim / 2, -d / 2),
        (a + rim / 2, b + rim / 2, -d / 2),
        (-rim / 2, b + rim / 2, -d / 2),
    ]
    [result] = cut_and_fill(
        clip(ground(shots), Outline.rectangle((-rim, -rim), (a + 2 * rim, b + 2 * rim))), 0.0
    )
    assert result.fill == pytest.approx(a * b * d + (a + b) * m * d**2 + 4 / 3 * m**2 * d**3, rel=1e-12)
    assert result.fill == pytest.approx(240.0, rel=1e-12)


# ---- tank 6 x 4 above, 4 x 2 below, 6 deep: 92 m³ by the prismoidal formula (objective question; options
# seen, choice
# recomputed, https://topgradeessaywritings.com/what-is-the-volume-of-a-6-m-deep-tank-...)


def test_prismoidal_tank(ground: Ground) -> None:
    shots = [(0, 0, 6), (6, 0, 6), (6, 4, 6), (0, 4, 6), (1, 1, 0), (5, 1, 0), (5, 3, 0), (1, 3, 0)]
    [result] = cut_and_fill(clip(ground(shots), Outline.rectangle((0, 0), (6, 4))), 6.0)
    prismoidal = 6.0 / 6.0 * (6 * 4 + 4 * 5 * 3 + 4 * 2)
    assert result.fill == pytest.approx(prismoidal, rel=1e-12)
    assert result.fill == pytest.approx(92.0, rel=1e-12)


# ---- cone R 10, H 5: 523.5987756 (closed form); a pyramid on a regular polygon of n sides holds n/(2π)
# sin(2π/n) of it


def test_cone_by_a_pyramid_of_many_sides(ground: Ground) -> None:
    sides = 720
    angle = np.arange(sides) * 2 * math.pi / sides
    rim = np.column_stack((10 * np.cos(angle), 10 * np.sin(angle)))
    shots = np.vstack((np.column_stack((rim, np.zeros(sides))), [(0, 0, 5)]))
    pieces = clip(ground(shots), Outline.polygon(rim))
    [result] = cut_and_fill(pieces, 0.0)
    exact = 0.5 * sides * 100 * math.sin(2 * math.pi / sides) * 5 / 3
    assert result.cut == pytest.approx(exact, rel=1e-9)
    assert result.cut == pytest.approx(523.5987756, rel=2e-5)
    # contour areas at every metre, by the prismoidal formula over pairs of slices, exact for a cone
    area = [cut_and_fill(pieces, float(level))[0].cut_area for level in np.linspace(0, 5, 11)]
    simpson = sum(0.5 / 3 * (area[k] + 4 * area[k + 1] + area[k + 2]) for k in range(0, 10, 2))
    assert simpson == pytest.approx(exact, rel=1e-9)


# ---- reservoir contour areas 284 to 300 m (inputs seen, answers recomputed: end area 5,401,820, Simpson
# 5,395,760 m³)
# https://askfilo.com/user-question-answers-smart-solutions/calculate-the-volume-of-the-reservoir-using-the-end-area-...


def test_reservoir_between_contours(ground: Ground) -> None:
    """A round basin with the published area at each contour: areas come back, between them cone frustums."""
    levels = list(range(284, 302, 2))
    areas = [400, 31680, 50010, 98480, 241500, 506880, 693900, 708870, 738780]
    sides = 96
    angle = np.arange(sides) * 2 * math.pi / sides
    polygon = 0.5 * sides * math.sin(2 * math.pi / sides)  # area of a regular polygon of radius 1
    radius = [math.sqrt(area / polygon) for area in areas]
    rings = [
        np.column_stack((r * np.cos(angle), r * np.sin(angle), np.full(sides, z)))
        for r, z in zip(radius, levels, strict=True)
    ]
    pieces = clip(ground(np.vstack(rings)), Outline.polygon(rings[-1][:, :2]))
    got = cut_and_fill(pieces, [float(level) for level in levels])
    for result, area in zip(got[1:], areas[1:], strict=True):
        assert result.fill_area == pytest.approx(area, rel=1e-9)
    storage = got[-1].fill
    frustums = sum(2 / 3 * (a + b + math.sqrt(a * b)) for a, b in pairwise(areas))
    assert storage == pytest.approx(frustums, rel=1e-9)
    end_area = sum(a + b for a, b in pairwise(areas))
    simpson = 2 / 3 * sum(areas[k] + 4 * areas[k + 1] + areas[k + 2] for k in range(0, 8, 2))
    assert end_area == pytest.approx(5_401_820)
    assert simpson == pytest.approx(5_395_760)
    assert storage == pytest.approx(
        simpson, rel=0.03
    )  # the handbook rules bracket nothing; they agree to a few percent


def test_a_dig_with_room_and_a_face_at_45_degrees(ground: Ground) -> None:
    """Derived: one 16 ft side, 1 ft deep, 1 ft of room, 1:1: 24 ft³, and 2.333 ft³ at each of two corners:
    1.062 yd³ in all. A square of four such sides has four corners, a longer one only more side."""
    foot = 0.3048
    marks = [foot * n for n in range(0, 41, 5)]
    surface = ground([(x, y, 2.0) for x in marks for y in marks])
    square = Outline.rectangle((12 * foot, 12 * foot), (16 * foot, 16 * foot))
    [dug] = room_ground(surface, square, room=foot, slope=1.0).volumes(np.array([2.0 - foot]))
    longer = Outline.rectangle((8 * foot, 12 * foot), (24 * foot, 16 * foot))
    [more] = room_ground(surface, longer, room=foot, slope=1.0).volumes(np.array([2.0 - foot]))
    side = 16 * (more - dug) / (2 * 8) / foot**3
    corner = (dug / foot**3 - 4 * side) / 4
    assert (side, corner) == pytest.approx((24.0, 2.333), abs=5e-4)
    assert (side + 2 * corner) / CUBIC_FEET_PER_YARD == pytest.approx(1.062, abs=5e-4)
