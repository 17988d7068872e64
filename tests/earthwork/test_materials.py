"""Materials: a figure of one condition never meets a volume of another; names are found; figures are sane."""

from __future__ import annotations

from typing import Literal

import pytest

from gradework.earthwork.conditions import BankVolume, CompactedDensity, CompactedVolume, LooseVolume
from gradework.earthwork.materials import (
    DEFAULT_GRAVEL,
    GRAVELS,
    SOILS,
    Gravel,
    MaterialError,
    Soil,
    find_gravel,
    find_soil,
    own_factor,
)

LB_PER_YD3 = 0.45359237 / 0.9144**3  # kg/m³ in one lb/yd³, exact by definition


@pytest.mark.parametrize("volume", [LooseVolume(1.0), BankVolume(1.0)])
def test_a_compacted_density_refuses_other_volumes(volume: LooseVolume | BankVolume) -> None:
    with pytest.raises(TypeError, match="CompactedVolume"):
        DEFAULT_GRAVEL.compacted.mass(volume)  # type: ignore[arg-type]


@pytest.mark.parametrize("volume", [CompactedVolume(1.0), BankVolume(1.0)])
def test_the_trap_a_loose_density_refuses_compacted_volume(volume: CompactedVolume | BankVolume) -> None:
    with pytest.raises(TypeError, match="LooseVolume"):
        DEFAULT_GRAVEL.loose.mass(volume)  # type: ignore[arg-type]


def test_plain_numbers_are_refused_too() -> None:
    with pytest.raises(TypeError, match="float"):
        DEFAULT_GRAVEL.compacted.mass(2.7)  # type: ignore[arg-type]
    with pytest.raises(TypeError, match="float"):
        find_soil("clay").to_loose(2.7)  # type: ignore[arg-type]


@pytest.mark.parametrize("bad", [-1.0, float("nan"), float("inf")])
def test_a_volume_is_finite_and_not_negative(bad: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        CompactedVolume(bad)


def test_a_figure_stays_inside_its_range() -> None:
    with pytest.raises(ValueError, match="inside its range"):
        CompactedDensity(2195, 2200, 2300, "", "seen")


@pytest.mark.parametrize("tons_per_yd3", [1.40, 1.45, 1.50, 1.55])
def test_the_trap_a_loose_figure_is_refused_as_own_compacted_density(tons_per_yd3: float) -> None:
    for key in ("dense-graded", "fine-graded", "gravel-base", "ballast", "type-1", "crushed-stone"):
        with pytest.raises(MaterialError, match="about a fifth lower"):
            GRAVELS[key].with_compacted(tons_per_yd3 * 2000 * LB_PER_YD3)


def test_own_compacted_density_moves_the_loose_one_along() -> None:
    own = DEFAULT_GRAVEL.with_compacted(2250.0, "quarry test sheet")
    assert own.compacted.value == 2250.0
    assert own.compacted.source == "quarry test sheet"
    assert own.settle == pytest.approx(DEFAULT_GRAVEL.settle, rel=1e-12)


@pytest.mark.parametrize("gravel", GRAVELS.values(), ids=GRAVELS.keys())
def test_settling_keeps_the_mass_and_lies_in_its_published_range(gravel: Gravel) -> None:
    tipped = gravel.to_loose(CompactedVolume(3.0))
    assert gravel.loose.mass(tipped) == pytest.approx(gravel.compacted.mass(CompactedVolume(3.0)), rel=1e-12)
    assert gravel.to_compacted(tipped).m3 == pytest.approx(3.0, rel=1e-12)
    # to the third digit: densities are kept to the kilogram
    assert gravel.settle_low - 0.005 <= gravel.settle <= gravel.settle_high + 0.005


@pytest.mark.parametrize("soil", SOILS.values(), ids=SOILS.keys())
def test_soil_goes_to_each_condition_and_back(soil: Soil) -> None:
    bank = BankVolume(4.0)
    assert soil.to_bank(soil.to_loose(bank)).m3 == pytest.approx(4.0, rel=1e-12)
    assert soil.to_bank(soil.to_compacted(bank)).m3 == pytest.approx(4.0, rel=1e-12)
    assert soil.to_loose(bank).m3 > 4.0


@pytest.mark.parametrize(
    ("name", "least", "most", "volume", "example"),
    [
        # 5 % outside the published: 1.10 (sand) and 1.50 (rock) loose, 0.80 (clay) and 1.30 (rock) compacted
        ("swell", 1.045, 1.575, "loose", "1.25 for a quarter more"),
        ("compaction", 0.76, 1.365, "compacted", "0.9"),
    ],
)
def test_own_factors_far_outside_all_that_is_published_are_refused(
    name: Literal["swell", "compaction"], least: float, most: float, volume: str, example: str
) -> None:
    for value in (least + 1e-6, most - 1e-6):
        assert own_factor(name, value).value == value
    for value in (least - 0.001, most + 0.001):
        with pytest.raises(MaterialError) as refused:
            own_factor(name, value)
        assert refused.value.fix == f"give the {volume} volume over the volume in place, such as {example}"
        assert refused.value.expected == f"{least:g} to {most:g}"


@pytest.mark.parametrize(
    ("words", "key"),
    [
        ("dense-graded crushed stone", "dense-graded"),
        ("DENSE GRADED  crushed stone", "dense-graded"),
        ("road base", "dense-graded"),
        ("#57 stone", "clean"),
        ("crushed concrete", "recycled-concrete"),
    ],
)
def test_stone_is_found_by_plain_words(words: str, key: str) -> None:
    assert find_gravel(words).key == key


def test_a_near_miss_gets_the_nearest_name() -> None:
    with pytest.raises(MaterialError) as caught:
        find_gravel("dense graded crusht stone")
    assert caught.value.fix == "did you mean 'dense-graded crushed stone'?"
    with pytest.raises(MaterialError, match="did you mean 'clay'"):
        find_soil("cley")


def test_a_far_miss_lists_the_names_and_shows_no_control_characters() -> None:
    with pytest.raises(MaterialError) as caught:
        find_gravel("\x1b[2Jqqqq")
    assert "\x1b" not in str(caught.value)
    assert "clean crushed stone" in caught.value.expected
    assert caught.value.fix == "use one of these names"


@pytest.mark.parametrize("known", [GRAVELS, SOILS], ids=["gravels", "soils"])
def test_no_name_means_two_materials(known: dict[str, Gravel | Soil]) -> None:
    owners: dict[str, set[str]] = {}
    for material in known.values():
        for name in (material.key, material.name, *material.also):
            owners.setdefault(name.lower().replace("-", " "), set()).add(material.key)
    assert {name: keys for name, keys in owners.items() if len(keys) > 1} == {}
