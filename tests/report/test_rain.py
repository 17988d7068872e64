"""The words for rain: where drops from uphill go, and how much ground drains to each wall."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np

from gradework.report.rain import catchment_lines, rain_lines
from gradework.sitework.drains import Catchment, drains_told, together
from gradework.sitework.rain import Run
from gradework.units.display import METRIC


def said(*, runs: tuple[tuple[Run, ...], ...] = (), catchments: Any = ((), ())) -> Any:
    rain = SimpleNamespace(runs=runs, uphill=6.0)
    return SimpleNamespace(rain=rain, job=SimpleNamespace(show=METRIC), catchments=catchments, airborne=None)


def test_where_nothing_is_known_of_then_only_now_is_told() -> None:
    """Once it is built no drop may start on known ground: the second set is empty."""
    drop = Run((np.array([(1.0, 2.0, 3.0), (0.0, 2.0, 2.5)]),), 0, True)
    lines = rain_lines(said(runs=((drop,), ())))
    assert lines[0].startswith("Rain now     of 1 drop from up to 6.00 m uphill")
    assert not any(line.startswith("Rain then") for line in lines)
    assert rain_lines(said(runs=((), (drop,)))) == []
    assert rain_lines(said()) == []


def test_a_line_for_each_wall_that_ground_drains_to() -> None:
    now = (
        Catchment("wall", "wall (corners 1-2)", 0.4, 0.0),
        Catchment("wall", "wall (corners 2-3)", 60.0, 6.0),
        Catchment("wall", "wall (corners 3-4)", 5.0, 0.0),
    )
    then = (
        Catchment("wall", "wall (corners 1-2)", 0.4, 0.0),
        Catchment("wall", "wall (corners 2-3)", 0.2, 0.0),
        Catchment("wall", "wall (corners 3-4)", 5.5, 0.0),
        Catchment("pad", "", 6.1, 0.0),
        Catchment("drain", "wall (corners 2-3)", 55.0, 0.0),
    )
    text = " ".join(" ".join(catchment_lines(said(catchments=(now, then)))).split())
    assert text == (
        "Drains to wall (corners 2-3): at least 60.0 m² as it is, next to nothing once it is built "
        "wall (corners 3-4): 5.00 m² as it is, 5.50 m² once it is built "
        "pipe drain past the wall (corners 2-3): 55.0 m² once it is built; "
        "at least, since more may come in over the edge of your survey"
    )
    piers = catchment_lines(said(catchments=(now[2:], ())))
    assert piers == ["Drains to    wall (corners 3-4): 5.00 m² as it is"]
    assert catchment_lines(said(catchments=(now[:1], ()))) == []


def test_what_is_told_nowhere_else_is_no_row() -> None:
    """Walls that ground drains to now or then, and what is dug; nothing of a pad as a whole."""
    little, much = Catchment("wall", "a", 0.4, 0.0), Catchment("wall", "b", 3.0, 1.0)
    then = (little._replace(area=2.0), much._replace(area=0.1, rim=0.0), Catchment("pad", "", 9.0, 0.0))
    rows = drains_told((little, much), (*then, Catchment("swale", "b", 7.0, 0.0)))
    assert [one.where for one in rows] == ["a", "b", "swale past the b"]
    assert [one.least for one in rows] == [False, True, False]
    assert [[has and has.words(METRIC) for has in one[1:]] for one in rows] == [
        ["next to nothing", "2.00 m²"], ["at least 3.00 m²", "next to nothing"], [None, "7.00 m²"]
    ]  # fmt: skip
    assert together((little, much)).words(METRIC) == "at least 3.40 m²"
    assert together(()).area == 0.0


def test_at_least_is_said_of_what_it_holds_for() -> None:
    """A wall that little is surveyed above, and more may come to; beside it one of which all is known."""
    open_ended = Catchment("wall", "wall (corners 1-2)", 0.4, 2.0)
    known = Catchment("wall", "wall (corners 3-4)", 5.0, 0.0)
    text = " ".join(" ".join(catchment_lines(said(catchments=((open_ended, known), ())))).split())
    assert "wall (corners 1-2): at least 0.4" in text
    assert "at least, since more may come in" in text
    unseen = Catchment("pad", "", 6.0, 2.0)
    assert "at least" not in " ".join(catchment_lines(said(catchments=((known,), (unseen,)))))
