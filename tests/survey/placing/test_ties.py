"""Places by tape: crossings, least squares, sides, blunders named, and what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from gradework.errors import InputError
from gradework.fieldnotes.places import Offset, Ray, Tie
from gradework.survey.placing.tape import bearing, offset_places, ray_places
from gradework.survey.placing.tie_fit import circle_crossings, fit_ties, touching_point
from gradework.survey.placing.ties import tie_places
from gradework.units.display import FEET, Display

MARKS = {
    "barn A": (0.0, 0.0),
    "barn B": (12.0, 0.0),
    "oak": (5.0, 18.0),
    "gate": (20.0, 11.0),
    "well": (-6.0, 9.0),
}
coordinate = st.floats(-30, 30).map(lambda v: round(v, 3))
place = st.tuples(coordinate, coordinate)


def ties_to(station, xy, names, *, side=None, long=None, line=2):
    """Perfect ties; ``long`` = (mark, by how much its tie is too long)."""
    return [
        Tie(
            station,
            n,
            math.dist(xy, MARKS[n]) + (long[1] if long and long[0] == n else 0.0),
            side=side if i == 0 else None,
            line=line + i,
        )
        for i, n in enumerate(names)
    ]


@settings(deadline=None, max_examples=60)
@given(place, place, place)
def test_one_crossing_is_the_place_and_the_first_lies_on_the_left(p, a, b):
    def lean(q):
        return (b[0] - a[0]) * (q[1] - a[1]) - (b[1] - a[1]) * (q[0] - a[0])

    assume(math.dist(a, b) > 0.1 and abs(lean(p)) > 0.05 * math.dist(a, b))
    left, right = circle_crossings(a, math.dist(p, a), b, math.dist(p, b))
    assert lean(left) > 0 > lean(right)
    assert (left if lean(p) > 0 else right) == pytest.approx(p, abs=1e-6)


@settings(deadline=None, max_examples=60)
@given(place)
def test_two_perfect_ties_with_a_side_give_the_place_back(p):
    assume(abs(p[1]) > 0.5)
    side = "left" if p[1] > 0 else "right"  # barn A to barn B runs along +x
    found = tie_places(ties_to("S", p, ["barn A", "barn B"], side=side), MARKS)
    assert found.xy[0] == pytest.approx(p, abs=1e-6)
    again = tie_places(ties_to("S", p, ["barn A", "barn B"]), MARKS, side=side)
    assert again.xy[0] == pytest.approx(p, abs=1e-6)


@settings(deadline=None, max_examples=60)
@given(place)
def test_a_third_tie_names_the_side(p):
    assume(abs(p[1]) > 1)
    found = tie_places(ties_to("S", p, ["barn A", "barn B", "oak"]), MARKS)
    assert found.xy[0] == pytest.approx(p, abs=1e-6)
    assert "ties-disagree" not in [f.code for f in found.findings]


def test_spread_of_a_place_holds_over_many_draws():
    rng = np.random.default_rng(2)
    at = np.array(list(MARKS.values()))
    truth = np.array([7.0, 6.0])
    fits = [
        fit_ties(at, np.hypot(*(truth - at).T) + rng.normal(0, 0.006, len(at)), truth, sd=0.006)
        for _ in range(400)
    ]
    offs = np.array([f.xy - truth for f in fits])
    worst = np.sqrt(np.linalg.eigvalsh(np.cov(offs.T))[-1])
    assert worst == pytest.approx(fits[0].sd, rel=4 * np.sqrt(1 / 800))


def test_residuals_are_taped_minus_computed():
    fit = fit_ties([[0, 0], [0, 0], [10, 0]], [5.01, 4.99, math.hypot(7, 4)], [3, 3.9])
    assert fit.xy == pytest.approx([3, 4], abs=1e-4)
    assert fit.residuals[:2] == pytest.approx([0.01, -0.01], abs=1e-4)


@pytest.mark.parametrize("culprit", ["barn A", "barn B", "oak", "gate", "well"])
@pytest.mark.parametrize("error", [0.3048, -0.10, 0.5])
def test_one_wrong_tie_of_five_is_named(culprit, error):
    found = tie_places(ties_to("S", (7.0, 6.0), list(MARKS), long=(culprit, error)), MARKS)
    (finding,) = [f for f in found.findings if f.code == "ties-disagree"]
    assert culprit in finding.advice
    assert finding.where == f"S, line {2 + list(MARKS).index(culprit)}"
    assert ("long" if error > 0 else "short") in finding.advice


def test_a_whole_foot_among_three_ties_is_named_and_another_error_is_not():
    names = ["barn A", "barn B", "oak"]
    found = tie_places(ties_to("S", (4.0, 7.0), names, long=("oak", 0.3048)), MARKS, side="left", show=FEET)
    (finding,) = [f for f in found.findings if f.code == "ties-disagree"]
    assert "from oak, which is about 1.00 ft too long" in finding.advice
    found = tie_places(ties_to("S", (4.0, 7.0), names, long=("oak", 0.15)), MARKS, side="left")
    (finding,) = [f for f in found.findings if f.code == "ties-disagree"]
    assert "no single tie is to blame" in finding.advice


def test_flat_crossings_are_pointed_at():
    found = tie_places(ties_to("S", (6.0, 0.4), ["barn A", "barn B"], side="left"), MARKS)
    assert [f.code for f in found.findings] == ["ties-cross-flat"]
    # ties are good to 6 mm; a crossing three times worse is too flat, a square one is not
    square = tie_places(ties_to("S", (6.0, 6.0), ["barn A", "barn B"], side="left"), MARKS)
    assert not square.findings
    assert found.findings[0].value == pytest.approx(found.sd[0])
    assert found.findings[0].limit == pytest.approx(3.0 * 0.006)
    on_the_line = [Tie("S", "barn A", 5.0), Tie("S", "barn B", 6.99)]
    found = tie_places(on_the_line, MARKS)
    assert found.xy[0] == pytest.approx([5.005, 0.0], abs=1e-6)
    assert math.isinf(found.sd[0])


def test_slope_distances_are_reduced():
    p = (3.0, 4.0)
    level = [math.dist(p, MARKS[n]) for n in ("barn A", "barn B")]
    ties = [
        Tie("S", n, math.hypot(d, 1.2), rise=-1.2, side="left") for n, d in zip(MARKS, level, strict=False)
    ]
    assert tie_places(ties, MARKS).xy[0] == pytest.approx(p)


@pytest.mark.parametrize(
    ("ties", "code", "line"),
    [
        ([Tie("S", "shed", 5.0, line=4)], "tie-mark-unknown", 4),
        ([Tie("S", "oak", 5.0, line=4)], "tie-single", 4),
        ([Tie("S", "oak", 5.0, line=4), Tie("S", "oak", 5.01, line=5)], "tie-single", 4),
        ([Tie("S", "barn A", 7.0, line=4), Tie("S", "barn B", 7.0, line=5)], "tie-side-unknown", 4),
        ([Tie("S", "barn A", 5.0, line=4), Tie("S", "barn B", 6.0, line=5)], "ties-do-not-meet", 4),
        ([Tie("S", "barn A", 20.0, line=4), Tie("S", "barn B", 5.0, line=5)], "ties-do-not-meet", 4),
        ([Tie("S", "barn A", -1.0, line=4), Tie("S", "barn B", 6.0, line=5)], "distance-unusable", 4),
        ([Tie("S", "barn A", float("nan"), line=4), Tie("S", "barn B", 6.0, line=5)], "distance-unusable", 4),
        (
            [Tie("S", "barn A", 7.0, rise=7.0, line=4), Tie("S", "barn B", 6.0, line=5)],
            "distance-unusable",
            4,
        ),
    ],
)
def test_ties_that_cannot_be_used_are_refused(ties, code, line):
    with pytest.raises(InputError) as caught:
        tie_places(ties, MARKS)
    assert (code, line) in [(f.code, f.line) for f in caught.value.faults]


def test_three_marks_in_a_row_do_not_name_a_side():
    marks = {"a": (0.0, 0.0), "b": (5.0, 0.0), "c": (10.0, 0.0)}
    ties = [Tie("S", n, math.dist((4, 3), xy)) for n, xy in marks.items()]
    with pytest.raises(InputError, match="tie-side-unknown"):
        tie_places(ties, marks)
    assert tie_places(ties, marks, side="right").xy[0] == pytest.approx([4, -3])


ABC = {"A": (0.0, 0.0), "B": (30.0, 0.0), "C": (15.0, 40.0)}


def taped(xy, names, marks=ABC, *, side=None, station="S", line=2):
    return [
        Tie(station, n, math.dist(xy, marks[n]), side=side if i == 0 else None, line=line + i)
        for i, n in enumerate(names)
    ]


def test_a_station_said_to_lie_on_both_hands_is_refused():
    ties = [Tie("S", "A", 20.0, side="left", line=2), Tie("S", "B", 20.0, side="right", line=3)]
    with pytest.raises(InputError) as caught:
        tie_places(ties, ABC)
    (fault,) = caught.value.faults
    assert (fault.code, fault.line) == ("tie-sides-differ", 3)
    assert "on the right, but on the left on line 2" in fault.found


@pytest.mark.parametrize("third", [(15.0, 40.0), (15.0, 2.0)])
@pytest.mark.parametrize("own", [True, False])
def test_a_side_that_a_third_tie_contradicts_is_named(third, own):
    """S stands at (10, 12), left of A to B, whatever is said; with C near, the right has a fit of its own."""
    marks = {**ABC, "C": third}
    ties = taped((10, 12), "ABC", marks, side="right" if own else None)
    found = tie_places(ties, marks, side=None if own else "right")
    assert found.xy[0] == pytest.approx([10, 12], abs=1e-6)
    (finding,) = found.findings
    assert finding.code == "tie-other-hand"
    assert finding.where == "S, line 2"
    assert finding.value == pytest.approx(12.0)
    assert "right of A to B, but its 3 ties fit only left of A to B" in finding.advice
    agreed = tie_places(taped((10, 12), "ABC", marks, side="left"), marks)
    assert agreed.findings == ()


def test_a_side_stands_where_the_third_tie_is_the_one_that_is_off():
    ties = taped((10, 12), "AB", side="left")
    ties.append(Tie("S", "C", math.dist((10, 12), ABC["C"]) + 1.5, line=4))
    found = tie_places(ties, ABC)
    assert found.xy[0][1] > 0
    assert [f.code for f in found.findings] == ["ties-disagree"]


@pytest.mark.parametrize("pair", ["AC", "CA", "BC", "CB", "BA"])
def test_one_side_for_all_is_that_of_the_first_two_marks_whatever_marks_were_used(pair):
    """Left of A to B is y above 0; only there may a station tied from other marks be put."""
    for p in ((2.0, 5.0), (28.0, 4.0)):
        a, b = (np.array(ABC[n]) for n in pair)
        along = (b - a) / np.hypot(*(b - a))
        off = np.array(p) - a
        mirrored = a + 2 * (off @ along) * along - off
        if mirrored[1] > 0.1:  # both crossings lie on the left: the side says nothing
            with pytest.raises(InputError, match="and both places are left of A to B"):
                tie_places(taped(p, pair), ABC, side="left")
            continue
        found = tie_places(taped(p, pair), ABC, side="left")
        assert found.xy[0] == pytest.approx(p, abs=1e-6)
        other = tie_places(taped(p, pair), ABC, side="right")
        assert other.xy[0] == pytest.approx(mirrored, abs=1e-6)


def test_a_station_that_cannot_lie_on_the_side_of_all_is_refused():
    # from A and C, (10, 20) has its mirror at about (5.6, 21.6): both left of A to B
    with pytest.raises(InputError) as caught:
        tie_places(taped((10, 20), "AC"), ABC, side="right")
    assert [f.code for f in caught.value.faults] == ["tie-sides-differ"]
    assert "both crossings are left of A to B" in caught.value.faults[0].fix
    own = tie_places(taped((10, 20), "AC", side="right"), ABC, side="right")  # its own: right of A to C
    assert own.xy[0] == pytest.approx([10, 20])


def test_residuals_of_every_tie_to_spare_are_handed_on():
    ties = [*taped((7, 9), "ABC"), *taped((12, 5), "AB", side="left", station="T", line=9)]
    ties[2] = Tie("S", "C", ties[2].distance + 0.012, line=4)
    found = tie_places(ties, ABC)
    assert [(c.station, c.mark, c.line) for c in found.ties] == [("S", "A", 2), ("S", "B", 3), ("S", "C", 4)]
    for check in found.ties:
        away = math.dist(found.xy[0], ABC[check.mark])
        assert check.residual == pytest.approx(check.length - away, abs=1e-9)


@pytest.mark.parametrize(
    ("true", "wrong", "unit", "words"),
    [
        (15.42, 15.24, "ft", "swapped digits: 15.24 ft written for 15.42 ft"),
        (21.30, 20.30, "ft", "a whole foot: 20.30 ft written for 21.30 ft"),
        (7.30, 7.20, "m", "a whole decimetre: 7.200 m written for 7.300 m"),
    ],
)
def test_the_usual_slip_is_named_where_the_other_ties_agree(true, wrong, unit, words):
    size = 0.3048 if unit == "ft" else 1.0
    station = np.array(MARKS["oak"]) - np.array([true * size * 0.6, true * size * 0.8])
    ties = [
        Tie("S", n, wrong * size if n == "oak" else math.dist(station, MARKS[n]), line=2 + i)
        for i, n in enumerate(MARKS)
    ]
    (finding,) = (
        f for f in tie_places(ties, MARKS, show=Display(unit)).findings if f.code == "ties-disagree"
    )
    assert "from oak" in finding.advice
    assert f"Likely {words}." in finding.advice


def test_an_error_that_is_no_usual_slip_is_given_no_reason():
    found = tie_places(ties_to("S", (7.0, 6.0), list(MARKS), long=("oak", 0.46)), MARKS)
    assert "Likely" not in found.findings[0].advice


def test_touching_points():
    assert touching_point((0, 0), 5, (12, 0), 6) == pytest.approx((5.5, 0))
    assert touching_point((0, 0), 10, (2, 0), 7) == pytest.approx((9.5, 0))
    assert touching_point((0, 0), 7, (2, 0), 10) == pytest.approx((-7.5, 0))


@settings(deadline=None, max_examples=60)
@given(place, place, coordinate, coordinate)
def test_offsets_from_a_baseline_keep_lengths_and_hand(start, end, along, offset):
    length = math.dist(start, end)
    assume(length > 0.1)
    found = offset_places([Offset("S", along, offset)], start, end).xy[0]
    ahead, here = np.subtract(end, start) / length, found - start
    assert here @ ahead == pytest.approx(along, abs=1e-9)
    assert ahead[0] * here[1] - ahead[1] * here[0] == pytest.approx(offset, abs=1e-9)


@settings(deadline=None, max_examples=60)
@given(place, place, st.floats(-400, 400))
def test_rays_and_frames_give_the_place_back(p, seat, turn):
    assume(math.dist(p, seat) > 0.1)
    circle = (turn - bearing(seat, p)) % 360
    assert ray_places([Ray("S", circle, math.dist(p, seat))], seat, turn).xy[0] == pytest.approx(p, abs=1e-9)
    against = (bearing(seat, p) - turn) % 360
    found = ray_places([Ray("S", against, math.dist(p, seat))], seat, turn, clockwise=False)
    assert found.xy[0] == pytest.approx(p, abs=1e-9)


def test_baselines_and_rays_that_cannot_be_used_are_refused():
    with pytest.raises(InputError, match="baseline-unusable"):
        offset_places([Offset("S", 1, 1)], (1, 1), (1, 1))
    with pytest.raises(InputError, match="place-not-finite"):
        offset_places([Offset("S", float("nan"), 1)], (0, 0), (1, 1))
    with pytest.raises(InputError, match="distance-unusable"):
        ray_places([Ray("S", 10, 2.0, rise=3.0)], (0, 0), 0)


def test_a_name_filled_down_over_hundreds_of_ties_is_refused_at_once():
    names = ["barn A", "barn B", "oak", "gate"]
    enough = ties_to("S", (4.0, 5.0), names * 25)
    assert tie_places(enough, MARKS).xy[0].tolist() == pytest.approx([4.0, 5.0], abs=1e-6)
    with pytest.raises(InputError, match="104 ties to S; expected at most 100") as told:
        tie_places(ties_to("S", (4.0, 5.0), names * 26, line=7), MARKS)
    assert [(fault.code, fault.line) for fault in told.value.faults] == [("ties-too-many", 7)]
