"""What leads water past a pad, whatever it is: a line of bottoms that falls to an outlet, and what it takes.

Each kind (a swale, a pipe drain) is designed in a file of its own and gives all of this; whoever checks,
orders, stakes, draws and records it asks for nothing else.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import TYPE_CHECKING, Literal, NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from gradework.earthwork.grading.faces import Shapes
    from gradework.earthwork.grading.finished import CutOff, Finished

Floats = NDArray[np.float64]
Kind = Literal["swale", "apron", "plain_apron", "drain"]

NAMES: Mapping[str, str] = {
    "swale": "swale",
    "apron": "apron",
    "plain_apron": "plain apron",
    "drain": "pipe drain",
    "gutter": "gutter pipe",
    "outlet": "pipe out of the stone",
}
"""Each kind as a builder calls it."""

STAKE = 1.524
"""[m] Inverts are told every 5 ft."""

LEAST = 0.2
"""[-] No place is told nearer to the next bend than this part of a step."""

TOUCH = 1e-6
"""[m] Places and heights that differ by no more are one."""

SHOTS = (1.524, 3.048, 6.096)
"""[m] Beyond the survey's edge, on the line: 5, 10 and 20 ft."""


class Station(NamedTuple):
    """A place along the line: x, y and the bottom there [m]; the direction straight out from the pad; the
    sides of the pad that it lies beside, by number: two at a corner, none past the pad."""

    place: tuple[float, float, float]
    outward: tuple[float, float]
    sides: tuple[int, ...]


class Staked(Protocol):
    """What is dug in a line to a bottom that falls, as far as stakes and profiles ask; ``Led`` says what each
    of it is. The solid pipe of a gutter and that out of the stone of a pad are such too, though they lead no
    water past."""

    @property
    def kind(self) -> Kind | Literal["gutter", "outlet"]: ...
    @property
    def bends(self) -> tuple[Floats, ...]: ...
    @property
    def bottoms(self) -> Floats: ...

    def stations(self, step: float) -> Iterator[Station]:
        """Where to stake it: at each bend and end of what is dug, and every ``step`` [m] from there."""
        ...


class Led(Protocol):
    """What is dug beside a pad to lead water past it, site frame [m].

    ``line`` (n, 3): x, y and bottom at every bend and every ``STAKE`` between, the foot of soil that is only
    heaped; ``bends``: for each stretch that is dug (m, 3), the same only where it bends or its fall changes;
    ``offset`` of the line from the edge of the pad; ``deepest``: the most that the bottom lies below the
    ground; ``catches`` (k, 2, 2): where water that comes down to it gets in; ``outlets`` (k, 3) where it
    comes out; ``more_shots`` (k, 2): where to shoot for the ground that the survey lacks, where it does not
    come out on it.
    ``shapes``, ``dug``, ``ground``: what the surface is dug down and filled up to, local, along which lines,
    and the finished ground with it alone; ``bottoms`` (k, 3, 3): triangles that all of it is dug down to.
    ``cut``, ``fill``: besides the pad, in place [m³]; ``stone`` [m³] put in, ``pipe`` with and ``solid``
    without holes [m], ``fabric`` and ``bare`` ground [m²]. ``start``: the height of the ground at the edge of
    the pad where it begins [m]; ``heaped_to``: the same where soil is heaped to there, None where none is.
    """

    @property
    def kind(self) -> Kind: ...
    @property
    def line(self) -> Floats: ...
    @property
    def bends(self) -> tuple[Floats, ...]: ...
    @property
    def offset(self) -> float: ...
    @property
    def length(self) -> float: ...
    @property
    def deepest(self) -> float: ...
    @property
    def catches(self) -> Floats: ...
    @property
    def outlets(self) -> Floats: ...
    @property
    def more_shots(self) -> Floats: ...
    @property
    def daylights(self) -> bool: ...
    @property
    def bank_leaves(self) -> CutOff | None: ...
    @property
    def shapes(self) -> Shapes: ...
    @property
    def dug(self) -> Floats: ...
    @property
    def ground(self) -> Finished: ...
    @property
    def bottoms(self) -> Floats: ...
    @property
    def cut(self) -> float: ...
    @property
    def fill(self) -> float: ...
    @property
    def stone(self) -> float: ...
    @property
    def pipe(self) -> float: ...
    @property
    def solid(self) -> float: ...
    @property
    def fabric(self) -> float: ...
    @property
    def bare(self) -> float: ...
    @property
    def start(self) -> float: ...
    @property
    def heaped_to(self) -> float | None: ...

    def stations(self, step: float) -> Iterator[Station]:
        """Where to stake it: at each bend and end of what is dug, and every ``step`` [m] from there."""
        ...


def shaped_bottoms(ground: Finished) -> Floats:
    """The triangles (k, 3, 3), site, that the surface is dug and filled to."""
    plan = ground.shaped
    heights = ground.surface.elevation(plan.reshape(-1, 2)).reshape(*plan.shape[:2], 1)
    return np.concatenate([plan, heights], axis=2)


def strips(rows: Floats, width: float) -> Floats:
    """Both halves of a strip ``width`` wide along a line (n, 3), as triangles (k, 3, 3)."""
    found = []
    for a, b in pairwise(rows):
        run = b[:2] - a[:2]
        length = float(np.hypot(*run))
        if length > TOUCH:
            side = np.array([-run[1], run[0], 0.0]) / length * 0.5 * width
            found += [(a - side, b - side, b + side), (a - side, b + side, a + side)]
    return np.array(found).reshape(-1, 3, 3)
