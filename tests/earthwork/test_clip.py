"""Clipping: the pieces are the outline's ground, and an outline without ground is refused in useful words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from gradework.earthwork.clip import clip
from gradework.earthwork.outline import Outline
from gradework.errors import CheckError, InputError
from gradework.ground.surface import Surface, Tilt

Ground = Callable[..., Surface]


def bumpy(step: float = 2.0, size: float = 20.0, x0: float = 0.0, y0: float = 0.0) -> np.ndarray:
    x, y = (a.ravel() for a in np.meshgrid(np.arange(0, size + 0.1, step), np.arange(0, size + 0.1, step)))
    return np.column_stack((x + x0, y + y0, 0.05 * x - 0.03 * y + 0.2 * np.sin(x) * np.cos(0.7 * y)))


SHAPES = {
    "square": Outline.rectangle((4, 4), (6, 6)),
    "turned": Outline.rectangle((9, 3), (6, 5), turn=31.0),
    "on grid lines": Outline.rectangle((2, 4), (8, 6)),
    "whole survey": Outline.rectangle((0, 0), (20, 20)),
    "inside one triangle": Outline.rectangle((4.2, 4.9), (0.1, 0.2)),
    "triangle": Outline.polygon([(3, 3), (15, 4), (8, 17)]),
    "ell": Outline.polygon([(3, 3), (15, 3), (15, 8), (8, 8), (8, 17), (3, 17)]),
    "star": Outline.polygon(
        [(10, 2), (12, 8), (18, 8), (13, 12), (15, 18), (10, 14), (5, 18), (7, 12), (2, 8), (8, 8)]
    ),
    "with holes": Outline.polygon(
        [
            [(2, 2), (18, 2), (18, 18), (2, 18)],
            [(4, 4), (6, 4), (6, 7)],
            [(10, 10), (15, 11), (12, 15), (9, 14)],
        ]
    ),
    "straight corner": Outline.polygon([(3, 3), (9, 3), (15, 3), (15, 15), (3, 15)]),
}


@pytest.mark.parametrize("name", SHAPES)
def test_pieces_tile_the_outline_and_lie_on_the_surface(ground: Ground, name: str) -> None:
    surface, outline = ground(bumpy()), SHAPES[name]
    pieces = clip(surface, outline)
    assert pieces.areas.sum() == pytest.approx(outline.area, rel=1e-12)
    assert (pieces.areas > -1e-12).all()
    corners = pieces.corners.reshape(-1, 3)
    site = corners[:, :2] + pieces.origin
    np.testing.assert_allclose(surface.elevation(site), corners[:, 2], atol=1e-12)
    middle = pieces.corners[:, :, :2].mean(axis=1) + pieces.origin
    real = pieces.areas > 1e-9
    assert outline.contains(middle[real]).all()
    np.testing.assert_array_equal(surface.locate(middle[real]), pieces.source[real])
    assert not pieces.corners.flags.writeable


def test_many_triangles_are_filtered_by_their_boxes(ground: Ground) -> None:
    surface = ground(bumpy(step=0.5))
    assert len(surface.triangles) > 2000
    for outline in SHAPES.values():
        assert clip(surface, outline).areas.sum() == pytest.approx(outline.area, rel=1e-12)


def test_far_from_the_origin_nothing_is_lost(ground: Ground) -> None:
    near = clip(ground(bumpy()), Outline.rectangle((4, 4), (6, 6)))
    far = clip(ground(bumpy(x0=2_000_000, y0=-600_000)), Outline.rectangle((2_000_004, -599_996), (6, 6)))
    np.testing.assert_array_equal(near.areas, far.areas)
    assert near.mean == far.mean


def refused(surface: Surface, outline: Outline) -> list[str]:
    with pytest.raises(InputError) as caught:
        clip(surface, outline)
    return [str(fault) for fault in caught.value.faults]


def test_a_corner_outside_is_named_with_distance_area_and_mend(ground: Ground) -> None:
    [text] = refused(ground(bumpy()), Outline.polygon([(15, 5), (21.5, 10), (15, 15)]))
    assert "corner 2 of the outline (x 21.50 m, y 10.00 m) reaches 1.50 m outside the surveyed ground" in text
    assert "1.73 m² of 32.5 m² have no surveyed ground" in text
    assert "shoot more ground beyond corner 2" in text
    assert "[outline-outside-survey]" in text


@pytest.mark.parametrize(
    ("out", "unit", "words"),
    [
        (0.0015, "ft", "reaches under 1/8 in outside"),
        (0.0015, "m", "reaches 2 mm outside"),
        (0.05, "ft", "reaches 2 in outside"),
        (0.31, "ft", "reaches 1.0 ft outside"),
    ],
)
def test_a_short_reach_is_never_told_as_nothing(ground: Ground, out: float, unit: str, words: str) -> None:
    surface = ground(bumpy(), unit=unit)
    assert all(words in text for text in refused(surface, Outline.rectangle((12, 12), (4, 8 + out))))


def test_a_margin_that_reaches_outside_is_named(ground: Ground) -> None:
    building = Outline.rectangle((19, 12), (0.9, 3))
    texts = refused(ground(bumpy()), building.grown(0.3))
    assert "corner 2 of the outline with its margin of 300 mm (x 20.20 m, y 11.70 m)" in texts[0]


def test_every_corner_outside_is_named(ground: Ground) -> None:
    texts = refused(ground(bumpy()), Outline.rectangle((18, 18), (4, 4)))
    assert [text.split(" of the outline")[0].split("error: ")[1] for text in texts] == [
        "corner 3",
        "corner 2",
        "corner 4",
    ]


def test_a_wrong_origin_is_told_by_distance_and_direction(ground: Ground) -> None:
    [text] = refused(ground(bumpy()), Outline.rectangle((320, 5), (4, 4)))
    assert "300.00 m outside the surveyed ground, toward +x;" in text
    assert "[outline-far-from-survey]" in text
    assert "swapped" not in text


@pytest.mark.parametrize(
    ("corner", "way"),
    [((700, 5), "-x"), ((1300, 5), "+x"), ((1005, -300), "-y"), ((990, 8), "-x"), ((1008, -9), "-y")],
)
def test_the_direction_is_that_from_the_survey(ground: Ground, corner: tuple[float, float], way: str) -> None:
    [text] = refused(ground(bumpy(x0=1000.0)), Outline.rectangle(corner, (4, 4)))
    assert f"outside the surveyed ground, toward {way};" in text


def test_swapped_axes_are_asked_about(ground: Ground) -> None:
    long = bumpy()
    long[:, 0] *= 3
    [text] = refused(ground(long), Outline.rectangle((2, 40), (6, 6)))
    assert "would fit with x and y swapped" in text


@pytest.mark.parametrize("over", [1e-12, 1e-6, 0.0009])
def test_touching_the_hull_within_a_millimetre_is_inside(ground: Ground, over: float) -> None:
    pieces = clip(ground(bumpy()), Outline.rectangle((12, 12), (8 + over, 8 + over)))
    assert pieces.area == pytest.approx(64.0, abs=20 * over + 1e-12)
    assert pieces.areas.sum() == pytest.approx(pieces.area, rel=1e-9)


def test_over_a_millimetre_is_outside(ground: Ground) -> None:
    assert refused(ground(bumpy()), Outline.rectangle((12, 12), (8, 8.0015)))


def test_pieces_that_do_not_add_up_are_never_shown(ground: Ground, monkeypatch: pytest.MonkeyPatch) -> None:
    surface = ground(bumpy())
    holed = replace(surface, triangles=surface.triangles[20:], neighbours=surface.neighbours[20:])
    with pytest.raises(CheckError, match="pieces cover"):
        clip(holed, Outline.rectangle((0, 0), (20, 20)))


def test_fold_doubt_is_a_sixth_of_the_gap_over_whole_squares(ground: Ground) -> None:
    shots = [(0, 0, 0.0), (2, 0, 1.0), (2, 2, 0.0), (0, 2, 1.0)]  # the diagonals pass 1 m apart
    surface = ground(shots)
    assert clip(surface, Outline.rectangle((0, 0), (2, 2))).doubt == pytest.approx(4.0 / 6.0)
    for wide, deep in ((3.0, 3.0), (6.0, 3.0), (0.5, 4.0)):  # whatever the sides are long
        folded = ground([(wide / 2 * x, deep / 2 * y, z) for x, y, z in shots])
        whole = clip(folded, Outline.rectangle((0, 0), (wide, deep)))
        assert whole.doubt == pytest.approx(wide * deep / 6.0)
    # half the square holds half the doubt, a quarter of it round the centre holds more than its share
    assert clip(surface, Outline.rectangle((0, 0), (1, 2))).doubt == pytest.approx(2.0 / 6.0)
    assert clip(surface, Outline.rectangle((0.5, 0.5), (1, 1))).doubt > 1.0 / 6.0


def test_no_fold_no_doubt(ground: Ground) -> None:
    rng = np.random.default_rng(2)
    shots = np.column_stack((rng.random((40, 2)) * 20, rng.random(40)))
    assert clip(ground(shots), Outline.rectangle((8, 8), (3, 3))).doubt == 0.0


def test_an_outline_within_a_millimetre_of_a_sharp_corner_is_outside(ground: Ground) -> None:
    surface = ground([(0.0, 0.0, 1.0), (10.0, 2.03, 1.0), (10.0, -2.03, 1.0)])
    with pytest.raises(InputError) as caught:
        clip(surface, Outline.rectangle((-0.0022, -0.00055), (0.0011, 0.0011)))
    assert {fault.code for fault in caught.value.faults} <= {
        "outline-outside-survey",
        "outline-far-from-survey",
    }


@pytest.mark.parametrize("name", ["turned", "ell", "whole survey", "with holes"])
@pytest.mark.parametrize("rounded", [False, True])
def test_tilted_ground_is_what_tilted_shots_make(ground: Ground, name: str, rounded: bool) -> None:
    """Places to 0.01 ft make no exact squares; the stations are joined alike all the same, and fold alike."""
    shots = bumpy()
    if rounded:
        shots[:, :2] = np.round(shots[:, :2] / 0.003048) * 0.003048
    tilt = Tilt(np.array([0.07, -0.02]), np.array([9.0, 3.5]))
    surface, outline = ground(shots), SHAPES[name]
    steep = surface.tilted(tilt)
    by_shots = shots + np.array([0.0, 0.0, 1.0]) * tilt.rise(shots, np.zeros(2))[:, None]
    again = ground(by_shots)
    assert np.array_equal(again.triangles, steep.triangles)
    np.testing.assert_allclose(steep.vertices, again.vertices, atol=1e-12)
    np.testing.assert_allclose(steep.stations.xyz, again.stations.xyz, atol=1e-12)
    np.testing.assert_allclose(steep.folds.gaps, again.folds.gaps, atol=1e-12)
    under, expected = clip(steep, outline), clip(again, outline)
    np.testing.assert_allclose(under.corners, expected.corners, atol=1e-12)
    assert (under.area, under.doubt) == pytest.approx((expected.area, expected.doubt))
    assert np.ptp(under.corners[:, :, 2]) != pytest.approx(np.ptp(clip(surface, outline).corners[:, :, 2]))
    bare = clip(steep.refolded(0.5), outline)
    np.testing.assert_allclose(bare.corners, clip(again.refolded(0.5), outline).corners, atol=1e-12)


def test_what_was_cut_once_is_not_cut_again(ground: Ground) -> None:
    surface, outline = ground(bumpy()), SHAPES["ell"]
    assert clip(surface, outline) is clip(surface, replace(outline, title="pad"))
    assert clip(surface, outline) is not clip(surface, SHAPES["turned"])
