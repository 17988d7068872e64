"""The page in millimetres: its size, a standard scale, and the way from the yard to the paper.

The page is 190 by 259 mm, which A4 and Letter both print at 100 % with room for the printer's margins.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gradework.drawings.engine import matplotlib
from gradework.drawings.lettering import Letters, Line, Style, set_line
from gradework.units import Display

Floats = NDArray[np.float64]

WIDTH_MM, HEIGHT_MM = 190.0, 259.0
MM_PER_INCH = 25.4

_PLAIN = Style()
_GROUND_ZORDER = 7.0

# scales on a tape marked in sixteenths and on an engineer's rule
_FEET_TO_THE_INCH = (1, 2, 4, 5, 8, 10, 16, 20, 30, 40, 50, 60)
_RULE_FRACTIONS = {1: "1", 2: "1/2", 4: "1/4", 8: "1/8", 16: "1/16"}
_ONE_TO = (10, 20, 25, 50, 75, 100, 125, 200, 250)


@dataclass(frozen=True, slots=True)
class Scale:
    """A standard scale. ``ratio`` is metres in the yard for one metre on paper [-]; ``words`` say it."""

    ratio: float
    words: str

    @property
    def mm_per_m(self) -> float:
        """Millimetres on paper for one metre in the yard [mm/m]."""
        return 1000.0 / self.ratio


def _feet_scale(feet: int, show: Display) -> Scale:
    ratio = feet * show.metres_per_unit / 0.0254
    words = f"1 in = {feet} ft"
    if feet > 1 and feet in _RULE_FRACTIONS:
        words += f" ({_RULE_FRACTIONS[feet]} in = 1 ft)"
    return Scale(ratio, words)


def standard_scales(show: Display) -> Iterator[Scale]:
    """Run through the standard scales of the user's system, the largest drawing first, without end."""
    if show.us:
        yield from (_feet_scale(feet, show) for feet in _FEET_TO_THE_INCH)
        tens = 100
        while True:
            yield from (_feet_scale(feet * tens, show) for feet in (1, 2, 3, 4, 5, 6))
            tens *= 10
    yield from (Scale(float(n), f"1:{n}") for n in _ONE_TO)
    tens = 100
    while True:
        yield from (Scale(float(n * tens), f"1:{n * tens}") for n in (5, 10, 20, 25))
        tens *= 10


def choose_scale(size_m: tuple[float, float], room_mm: tuple[float, float], show: Display) -> Scale:
    """Choose the largest standard scale at which something of ``size_m`` [m] fits into ``room_mm`` [mm].

    >>> choose_scale((13.7, 12.5), (178, 170), Display("m")).words
    '1:100'
    """
    for scale in standard_scales(show):
        if all(size * scale.mm_per_m <= room for size, room in zip(size_m, room_mm, strict=True)):
            return scale
    raise AssertionError("the scales have no end")  # pragma: no cover - the loop is endless


@dataclass(frozen=True, slots=True)
class MapWindow:
    """The part of the page that shows the yard: where it stands [mm], what is at its middle, at which scale.

    ``left, bottom, right, top`` are millimetres on the page; ``middle`` is the place [m] in the site frame
    that stands at the window's centre.
    """

    left: float
    bottom: float
    right: float
    top: float
    middle: tuple[float, float]
    scale: Scale

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, bottom, right, top [mm]."""
        return self.left, self.bottom, self.right, self.top

    def to_page(self, xy: Floats) -> Floats:
        """Turn places in the yard ``(n, 2)`` [m] into places on the page ``(n, 2)`` [mm]."""
        centre = np.array([(self.left + self.right) / 2, (self.bottom + self.top) / 2])
        page: Floats = centre + (np.asarray(xy, dtype=float) - np.asarray(self.middle)) * self.scale.mm_per_m
        return page

    def to_site(self, page: Floats) -> Floats:
        """Turn places on the page ``(n, 2)`` [mm] into places in the yard ``(n, 2)`` [m]."""
        centre = np.array([(self.left + self.right) / 2, (self.bottom + self.top) / 2])
        site: Floats = (
            np.asarray(self.middle) + (np.asarray(page, dtype=float) - centre) / self.scale.mm_per_m
        )
        return site

    def contains(self, page: Floats, margin: float = 0.0) -> NDArray[np.bool_]:
        """Tell which places on the page ``(n, 2)`` [mm] lie in the window, at least ``margin`` mm inside."""
        low = np.array([self.left, self.bottom]) + margin
        high = np.array([self.right, self.top]) - margin
        inside: NDArray[np.bool_] = np.all((page >= low) & (page <= high), axis=1)
        return inside


def round_steps(length: float, most: int = 5) -> float:
    """Choose a round step (1, 2 or 5 times a power of ten) that divides ``length`` into at most ``most``.

    >>> round_steps(23, 5), round_steps(0.9, 5)
    (5.0, 0.2)
    """
    rough = length / most
    power = 10.0 ** math.floor(math.log10(rough))
    for factor in (1.0, 2.0, 5.0, 10.0):
        step = float(f"{factor * power:.12g}")
        if step >= rough * (1 - 1e-9):
            return step
    return 10.0 * power  # pragma: no cover - ten powers exceed any rough step


class Page:
    """A page in the making: one set of axes that covers it and counts in millimetres, and the words so far.

    ``figure`` and ``axes`` are matplotlib's. Words and their white grounds are gathered and drawn together by
    ``finish``.
    """

    def __init__(self, width_mm: float = WIDTH_MM, height_mm: float = HEIGHT_MM) -> None:
        self.width, self.height = width_mm, height_mm
        size = (width_mm / MM_PER_INCH, height_mm / MM_PER_INCH)
        self.figure = matplotlib.figure.Figure(figsize=size, facecolor="white")
        self.axes: Any = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self.axes.set_axis_off()
        self.axes.set_xlim(0.0, width_mm)
        self.axes.set_ylim(0.0, height_mm)
        self.axes.set_autoscale_on(False)
        self._lines: dict[Style, list[Line]] = {}
        self._grounds: list[Floats] = []

    @property
    def written(self) -> list[Line]:
        """Every line of text so far, style by style."""
        return [line for lines in self._lines.values() for line in lines]

    def write(self, text: str, place: tuple[float, float], style: Style = _PLAIN, **how: Any) -> Line:
        """Write one line of text; ``how`` is that of ``lettering.set_line``."""
        line = set_line(text, place, style, **how)
        self._lines.setdefault(style, []).append(line)
        return line

    def clear_ground(self, corners: Floats) -> None:
        """Leave the quadrangle ``(4, 2)`` [mm] white under the words."""
        self._grounds.append(corners)

    def strokes(
        self,
        lines: Sequence[Any],
        *,
        color: str,
        width: float,
        dash: Any = "-",
        zorder: float = 2.0,
        **more: Any,
    ) -> Any:
        """Draw lines, each ``(k, 2)`` [mm], with one pen ``width`` points wide."""
        drawn = matplotlib.collections.LineCollection(
            lines, colors=color, linewidths=width, linestyles=[dash], zorder=zorder, capstyle="butt", **more
        )
        return self.axes.add_collection(drawn, autolim=False)

    def box(self, left: float, bottom: float, width: float, height: float, **style: Any) -> Any:
        """Draw a rectangle [mm]."""
        return self.axes.add_patch(matplotlib.patches.Rectangle((left, bottom), width, height, **style))

    def finish(self) -> matplotlib.figure.Figure:
        """Put the words and their grounds on the page and return the figure."""
        if self._grounds:
            white = matplotlib.patches.PathPatch(
                ring_path(self._grounds), facecolor="white", edgecolor="none", zorder=_GROUND_ZORDER
            )
            self.axes.add_artist(white)
        for style, lines in self._lines.items():
            self.axes.add_artist(Letters(lines, style))
        return self.figure


def ring_path(rings: Sequence[Floats]) -> Any:
    """Join rings, each ``(k, 2)`` and not repeating its first corner, into one closed path."""
    path = matplotlib.path.Path
    corners = [np.vstack([ring, ring[:1]]) for ring in rings]
    codes = [
        np.array([path.MOVETO, *[path.LINETO] * (len(ring) - 1), path.CLOSEPOLY], dtype=np.uint8)
        for ring in rings
    ]
    return path(np.vstack(corners), np.concatenate(codes))
