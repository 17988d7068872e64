"""Cut and fill of one outline: consistent answers, flat ground, doubtful input, and the checks that stop."""

from __future__ import annotations

import warnings
from collections.abc import Callable

import numpy as np
import pytest

from gradework.earthwork import volumes
from gradework.earthwork.clip import Pieces, clip
from gradework.earthwork.outline import Outline
from gradework.earthwork.volumes import PrismSums, balance_level, cut_and_fill, prism_sums
from gradework.errors import CheckError
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]


@pytest.fixture(scope="module")
def pieces(ground: Ground) -> Pieces:
    rng = np.random.default_rng(5)
    shots = np.column_stack((rng.random((60, 2)) * 20, 100 + rng.random(60)))
    return clip(ground(shots), Outline.rectangle((5, 6), (9, 7), turn=10))


def test_areas_add_up_and_net_is_the_mean_depth(pieces: Pieces) -> None:
    for result in cut_and_fill(pieces, [99.0, 100.4, 100.5, 102.0]):
        assert result.cut_area + result.fill_area + result.grade_area == pytest.approx(63.0, rel=1e-12)
        assert result.net == pytest.approx((pieces.mean - result.level) * 63.0, rel=1e-9, abs=1e-11)
        assert result.mean_depth == pytest.approx(pieces.mean - result.level, abs=1e-12)
        assert min(result.cut, result.fill, result.cut_area, result.fill_area) >= 0.0


def test_one_level_or_several_in_any_order(pieces: Pieces) -> None:
    alone = [cut_and_fill(pieces, level)[0] for level in (100.7, 100.2, 100.5)]
    together = cut_and_fill(pieces, [100.7, 100.2, 100.5])
    for one, other in zip(alone, together, strict=True):
        assert one.level == other.level
        assert one.cut == pytest.approx(other.cut, rel=1e-13)
    assert cut_and_fill(pieces, []) == ()


def test_below_and_above_all_ground_one_side_is_exactly_nothing(pieces: Pieces) -> None:
    below, above = cut_and_fill(pieces, [90.0, 110.0])
    assert below.fill == 0.0
    assert below.fill_area == 0.0
    assert above.cut == 0.0
    assert above.cut_area == 0.0


def test_flat_ground_at_the_level_has_neither_cut_nor_fill(ground: Ground) -> None:
    shots = [(x, y, 30.48) for x in range(4) for y in range(4)]
    flat = clip(ground(shots), Outline.rectangle((0.3, 0.4), (2.1, 1.7), turn=5))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        [result] = cut_and_fill(flat, 30.48)
    assert (result.cut, result.fill, result.cut_area, result.fill_area) == (0.0, 0.0, 0.0, 0.0)
    assert str(result.net) == "0.0"
    assert result.grade_area == pytest.approx(2.1 * 1.7)
    assert balance_level(flat) == pytest.approx(30.48, abs=1e-14)
    assert balance_level(flat, 0.8) == pytest.approx(30.48, abs=1e-9)
    [above] = cut_and_fill(flat, 30.5)
    assert above.fill_area == pytest.approx(2.1 * 1.7)
    assert above.grade_area == 0.0


def test_a_terrace_at_the_level_is_on_grade_and_the_rest_is_not(ground: Ground) -> None:
    shots = [(x, y, max(0.0, x - 5.0)) for x in (0.0, 2.5, 5.0, 7.5, 10.0) for y in (0.0, 5.0, 10.0)]
    [result] = cut_and_fill(clip(ground(shots), Outline.rectangle((0, 0), (10, 10))), 0.0)
    assert result.grade_area == pytest.approx(50.0)
    assert result.cut_area == pytest.approx(50.0)
    assert result.fill_area == 0.0
    assert result.cut == pytest.approx(0.5 * 5 * 5 * 10)


@pytest.mark.parametrize("level", [float("nan"), float("inf"), -float("inf")])
def test_levels_that_are_no_numbers_are_refused(pieces: Pieces, level: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        cut_and_fill(pieces, [100.0, level])


@pytest.mark.parametrize("compaction", [0.0, -1.0, float("nan"), float("inf")])
def test_compaction_must_be_a_factor(pieces: Pieces, compaction: float) -> None:
    with pytest.raises(ValueError, match="compaction"):
        balance_level(pieces, compaction)


@pytest.mark.parametrize("compaction", [1e-6, 0.3, 0.72, 0.9, 1.0, 1.3, 1e6])
def test_balance_balances(pieces: Pieces, compaction: float) -> None:
    level = balance_level(pieces, compaction)
    [result] = cut_and_fill(pieces, level)
    # the level is exact to 1e-10 m, so the surplus is at most that times the area it moves
    assert compaction * result.cut - result.fill == pytest.approx(
        0.0, abs=1e-10 * max(1.0, compaction) * 63.0
    )


def broken(name: str, by: float) -> Callable[..., PrismSums]:
    true_sums = prism_sums

    def wrong(*args: object) -> PrismSums:
        right = true_sums(*args)  # type: ignore[arg-type]
        return right._replace(**{name: getattr(right, name) + by})

    return wrong


@pytest.mark.parametrize("name", ["cut", "fill", "cut_area", "fill_area"])
def test_a_sum_that_disagrees_is_never_shown(
    pieces: Pieces, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    monkeypatch.setattr(volumes, "prism_sums", broken(name, 1e-5))
    with pytest.raises(CheckError):
        cut_and_fill(pieces, 100.5)


def test_a_volume_that_is_not_a_number_is_never_shown(
    pieces: Pieces, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(volumes, "prism_sums", broken("cut", float("nan")))
    with pytest.raises(CheckError, match="finite"):
        cut_and_fill(pieces, 100.5)
