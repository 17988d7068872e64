"""String, water level, straightedge and laser: exact recovery, errors that hold, and what is refused."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.errors import InputError
from gradework.fieldnotes.heights import Difference, Drop, RodReading, Step, WaterPair
from gradework.survey.levelling.given import String
from gradework.survey.levelling.string_and_straightedge import below_string, step_profile
from gradework.survey.levelling.water_and_laser import below_laser, from_differences, from_pairs

level = st.floats(-20, 20)


@settings(deadline=None, max_examples=40)
@given(st.lists(st.tuples(level, st.floats(0, 1)), min_size=1, max_size=8), level, level, st.floats(0, 0.05))
def test_drops_below_a_sagging_sloping_string_give_the_ground_back(ground, first, second, sag):
    span = 12.0

    def string_at(t):
        return first + (second - first) * t - sag * (1 - (2 * t - 1) ** 2)  # a parabola through both ends

    drops = [Drop(f"S{i}", string_at(t) - z, t * span) for i, (z, t) in enumerate(ground)]
    found = below_string(drops, String(first, second, span, sag))
    assert found.elevation == pytest.approx([z for z, _ in ground], abs=1e-9)
    assert found.findings == ()


def test_a_long_or_tilted_string_is_pointed_at():
    codes = [f.code for f in below_string([Drop("A", 0.5)], String(30.0, 30.2, span=12.0)).findings]
    assert codes == ["string-not-level", "string-sag-unknown"]
    assert below_string([Drop("A", 0.5)], String(30.0, 30.0, span=8.0)).findings == ()


@pytest.mark.parametrize(
    ("drop", "string", "code"),
    [
        (Drop("A", float("nan")), String(1, 1, 5), "string-drop-unusable"),
        (Drop("A", 1, 6.0), String(1, 1, 5), "string-drop-unusable"),
        (Drop("A", 1, 2.0), String(1, 1), "string-drop-unusable"),
        (Drop("A", 1), String(1, float("inf")), "string-unusable"),
        (Drop("A", 1), String(1, 1, 0.0), "string-unusable"),
    ],
)
def test_strings_that_cannot_be_used_are_refused(drop, string, code):
    with pytest.raises(InputError) as caught:
        below_string([drop], string)
    assert [f.code for f in caught.value.faults] == [code]


@pytest.mark.parametrize(("count", "told"), [(2, "S0, S1"), (6, "S5"), (8, "S5 and 2 more")])
def test_drops_without_a_place_on_a_string_that_sags_are_named_six_at_most(count, told):
    drops = [Drop("placed", 0.5, 3.0, 2), *(Drop(f"S{i}", 0.5, None, i + 3) for i in range(count))]
    with pytest.raises(InputError) as caught:
        below_string(drops, String(30.0, 30.0, 12.0, 0.02))
    (fault,) = caught.value.faults
    assert (fault.code, fault.line) == ("string-sag-unplaced", 3)
    words = str(fault)
    assert told in words
    assert "placed," not in words
    assert (re.search(r"and -?\d+ more", words) is not None) == (count > 6)


@settings(deadline=None, max_examples=40)
@given(st.lists(level, min_size=2, max_size=7), st.floats(0, 2))
def test_water_pairs_give_the_ground_back(truth, water):
    pairs = [
        WaterPair(f"P{i}", water, f"P{i + 1}", water - (truth[i + 1] - truth[i]))
        for i in range(len(truth) - 1)
    ]
    pairs.append(WaterPair("P0", water, f"P{len(truth) - 1}", water - (truth[-1] - truth[0])))
    found = from_pairs(pairs, {"P0": truth[0]})
    got = dict(zip(found.names, found.elevation, strict=True))
    assert got == pytest.approx({f"P{i}": z for i, z in enumerate(truth) if i}, abs=1e-9)


def test_water_differences_and_a_bad_one():
    assert from_differences([Difference("A", -0.1)], 30.0).elevation.tolist() == [29.9]
    with pytest.raises(InputError, match="water-level-unusable"):
        from_differences([Difference("A", float("nan"), 3)], 30.0)
    with pytest.raises(InputError, match="network-unjoined"):
        from_pairs([WaterPair("A", 1, "B", 1)], {})


def test_steps_shared_to_a_closing_mark_hold_their_errors():
    rng = np.random.default_rng(7)
    rises = rng.normal(-0.05, 0.02, 6)
    truth = 30 + np.cumsum(rises)
    squares = []
    for _ in range(400):
        noisy = rises + rng.normal(0, 0.0015, 6)
        found = step_profile(
            [Step(f"S{i}", 2.0, float(r)) for i, r in enumerate(noisy)], 30.0, known={"S5": float(truth[-1])}
        )
        squares.append((found.elevation - truth)[:-1] ** 2 / found.sd[:-1] ** 2)
        assert found.sd[-1] == 0
        assert found.elevation[-1] == pytest.approx(truth[-1])
    assert np.mean(squares, axis=0) == pytest.approx(1, abs=4 * np.sqrt(2 / 400))


def test_open_steps():
    found = step_profile([Step("A", 2.0, 0.1, 4), Step("B", 1.5, 0.2, 5)], 10.0)
    assert found.checks == ()
    assert found.sd == pytest.approx(0.0015 * np.sqrt([1, 2]))
    for steps in ([], [Step("A", 0.0, 0.1)], [Step("A", 1.0, float("inf"))]):
        with pytest.raises(InputError, match="steps-unusable"):
            step_profile(steps, 10.0)


def test_errors_of_steps_grow_with_the_root_of_the_steps_from_the_nearest_mark():
    """Held at C and F: A and B lie before, D and E a third and two thirds of the way, G and H after."""
    steps = [Step(name, 2.0, 0.1) for name in "ABCDEFGH"]
    found = step_profile(steps, None, known={"C": 10.3, "F": 10.6})
    between = np.sqrt(1 * (2 / 3) ** 2 + 2 * (1 / 3) ** 2)  # one step at two thirds, two at a third
    wanted = [np.sqrt(2), 1, 0, between, between, 0, 1, np.sqrt(2)]
    assert found.sd == pytest.approx(0.0015 * np.array(wanted))
    (check,) = found.checks
    assert check.over == "3 steps"
    assert step_profile(steps[:2], 10.0, known={"A": 10.1}).checks[0].over == "1 step"


def test_laser():
    found = below_laser([RodReading("A", 1.2, 5)], 31.0)
    assert found.elevation.tolist() == [29.8]
    assert found.lines == (5,)
    with pytest.raises(InputError, match="laser-reading-unusable"):
        below_laser([RodReading("A", float("nan"))], 31.0)


def test_pairs_of_a_water_level_that_contradict_each_other_are_pointed_at():
    def web(last):
        return [
            WaterPair("BM", 1.20, "A", 1.32, 2),
            WaterPair("A", 1.15, "B", 1.335, 3),
            WaterPair("BM", 1.20, "B", last, 4),
        ]

    assert from_pairs(web(1.507), {"BM": 30.0}).findings == ()
    (told,) = from_pairs(web(1.707), {"BM": 30.0}).findings
    assert (told.code, told.severity) == ("routes-disagree", "warning")
    # one triangle: each of the three may be the wrong one
    assert all(f"on line {line}" in told.advice for line in (2, 3, 4))
