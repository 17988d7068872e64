"""Spans against the stresses they stand for, what governs them, and how they move with load and size."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.foundations.timber.spans import LineLoad, end_stress, longest_span, wall_stresses
from gradework.foundations.timber.wood import US_SIZES, Strength, section_of, strength_of

sizes = st.sampled_from(US_SIZES)


@settings(max_examples=60, deadline=None)
@given(sizes, st.floats(0.5, 40.0), st.floats(0.0, 1.0))
def test_at_the_longest_span_one_limit_is_met_and_none_is_broken(
    size: object, total: float, part: float
) -> None:
    section = section_of(size.name)  # type: ignore[attr-defined]
    strength = strength_of(section)
    load = LineLoad(total, part * total)
    span, governs = longest_span(section, strength, load)
    bending = total * span**2 / 8 / (section.breadth * section.depth**2 / 6)
    shear = 1.5 * total * (span / 2 - section.depth) / (section.breadth * section.depth)
    inertia = section.breadth * section.depth**3 / 12
    sag = 5 * load.live * span**4 / (384 * strength.stiffness * inertia)
    used = {
        "bending": bending / strength.bending,
        "shear": shear / strength.shear,
        "deflection": sag / (span / 360),
    }
    assert used[governs] == pytest.approx(1.0, rel=1e-9)
    assert max(used.values()) <= 1.0 + 1e-9


@settings(max_examples=40, deadline=None)
@given(sizes, st.floats(0.5, 40.0), st.floats(1.01, 3.0))
def test_more_load_never_spans_farther(size: object, total: float, more: float) -> None:
    section = section_of(size.name)  # type: ignore[attr-defined]
    strength = strength_of(section)
    near = longest_span(section, strength, LineLoad(total * more, 0.8 * total * more))
    assert near.length < longest_span(section, strength, LineLoad(total, 0.8 * total)).length


def test_without_load_there_is_no_end() -> None:
    section = section_of("4x4")
    assert longest_span(section, strength_of(section), LineLoad(0.0, 0.0)).length == math.inf


def test_a_cantilever_by_hand() -> None:
    """2 kN/m over 0.5 m and 1 kN at the end: 0.25 + 0.5 = 0.75 kNm; a 100 x 100 has 166.67e-6 m³."""
    assert end_stress(section_of("100x100"), 2.0, 1.0, 0.5) == pytest.approx(0.75 / 166.6667e-6, rel=1e-6)


@pytest.mark.parametrize(("at", "part"), [(0.0, 0.0), (0.025, 0.25), (0.05, 0.5), (0.1, 1.0), (0.4, 1.0)])
def test_a_wall_near_a_support_goes_into_it_in_proportion(at: float, part: float) -> None:
    """Within the depth of a 100 x 100 a load counts by its distance over the depth, at the end near to it."""
    section = section_of("100x100")
    near, far = part * 6.0 * (1.5 - at) / 1.5, 6.0 * at / 1.5
    for place in (at, 1.5 - at):
        bending, shear = wall_stresses(section, 0.0, 1.5, [(place, 6.0)])
        assert shear * section.area / 1.5 == pytest.approx(max(near, far))
        assert bending * section.modulus == pytest.approx(6.0 * at * (1.5 - at) / 1.5)


def test_walls_at_both_ends_do_not_add_up_in_one_place() -> None:
    """2 kN/m on 1.5 m: 1.5 kN less 0.2 kN within the depth; of 6 kN each 5.2 and 0.8 kN go to either end."""
    section = section_of("100x100")
    _, shear = wall_stresses(section, 2.0, 1.5, [(0.2, 6.0), (1.3, 6.0)])
    assert shear * section.area / 1.5 == pytest.approx(1.3 + 6.0)


def test_short_heavy_members_end_in_shear() -> None:
    section = section_of("4x6")
    weak = Strength(1e6, 500.0, 1e6, 1e9)
    assert longest_span(section, weak, LineLoad(50.0, 1.0)).governs == "shear"
