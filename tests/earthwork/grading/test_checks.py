"""The checks of the finished ground: each fault that is planted in how it is made is refused."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from gradework.earthwork.grading import finished, foot
from gradework.earthwork.grading.finished import Finished
from gradework.earthwork.grading.route import SwaleSpec
from gradework.earthwork.grading.swale import design_swale
from gradework.errors import CheckError
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]

PAD = np.array([(12, 10), (18, 10), (18, 14), (12, 14)], dtype=float)

bends, crossings, faces, reached, sums = (
    finished.bends,
    finished.crossings_with,
    finished.faces_at,
    finished._reached,
    finished.prism_sums,
)


def no_lines(*_: Any) -> np.ndarray:
    return np.empty((0, 2, 2))


def lowered(shape: Any, xy: np.ndarray) -> np.ndarray:
    return faces(shape, xy) - np.array([0.0, 0.0, 0.5])


def shape_lowered(*args: Any, **shapes: Any) -> Finished:
    """All of the swale half a metre low, its lines too: only the bottom that is told gives it away."""
    cut = shapes["cut"]
    low = type(cut)(tuple(part_lowered(part) for part in cut.parts))
    return finished.finished_ground(*args, **{**shapes, "cut": low})


def part_lowered(part: Any) -> Any:
    return part.raised(-0.5) if hasattr(part, "raised") else type(part)(tuple(map(part_lowered, part.parts)))


def raised_sums(*args: Any) -> Any:
    found = sums(*args)
    return found._replace(cut=found.cut + 5.0, fill=found.fill + 5.0)


PLANTED: dict[str, tuple[Any, str, Callable[..., Any]]] = {
    "no bends": (finished, "bends", no_lines),
    "every other bend": (finished, "bends", lambda *args: bends(*args)[::2]),
    "no daylight lines": (finished, "crossings_with", no_lines),
    "every other daylight line": (finished, "crossings_with", lambda *args: crossings(*args)[::2]),
    "faces too low": (finished, "faces_at", lowered),
    "the whole swale too low": (foot, "finished_ground", shape_lowered),
    "triangles left out": (
        finished,
        "_reached",
        lambda work, wet, *rest: reached(work, wet, *rest) & (np.arange(len(wet)) % 2 == 0),
    ),
    "nothing dug": (finished, "_reached", lambda *args: np.zeros_like(args[1])),
    "cut and fill both 5 m³ over": (finished, "prism_sums", raised_sums),
}


def designed(ground: Ground) -> Finished:
    places = [(x, y) for x in (0.0, 11.0, 19.0, 30.0) for y in (0.0, 9.0, 16.0, 30.0)]
    surface = ground([(x, y, 10.3 + 0.12 * (y - 14.0)) for x, y in places])
    swale = design_swale(surface, PAD, 10.0, (2, 2), SwaleSpec())
    assert swale is not None
    return swale.ground


def test_without_a_fault_it_is_made(ground: Ground) -> None:
    assert designed(ground).cut > 0.0


@pytest.mark.parametrize("name", PLANTED)
def test_a_planted_fault_is_refused(ground: Ground, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    where, what, wrong = PLANTED[name]
    monkeypatch.setattr(where, what, wrong)
    with pytest.raises(CheckError):
        designed(ground)
