"""One pier seen from the side: hole, bed, courses and the ground around it, to scale on the page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.drawings import ink
from gradework.drawings.engine import matplotlib
from gradework.drawings.legend import Entry, area_entry, line_entry
from gradework.drawings.page import Page, Scale, ring_path
from gradework.foundations.pier_layout import Frame, building_frame
from gradework.foundations.pier_stacks import pieces_in_course

if TYPE_CHECKING:  # the types only
    from gradework.earthwork import Outline
    from gradework.foundations.piers import Pier, Piers
    from gradework.foundations.units_on_hand import BlockUnit
    from gradework.ground import Surface
    from gradework.units import Display

Floats = NDArray[np.float64]

SOLID_TINT = "#D6D6D6"
EARTH_TINT = "#F3EEE6"
_EARTH_HATCH, _BED_HATCH = "\\\\\\", "ooo"
_CELL = (0.18, 0.45, 0.55, 0.82)  # where the hidden sides of open cells stand in the width of a block
_SAMPLES = 201


@dataclass(frozen=True)
class PierSheet:
    """What the pier drawings show: the piers as planned, on which ground, under which building."""

    title: str
    source: str
    show: Display
    surface: Surface
    building: Outline
    piers: Piers

    @property
    def frame(self) -> Frame:
        """The building's own directions; the drawings look across, with ``along`` to the right."""
        return building_frame(self.building, self.piers.spec.layout.along)

    def local(self, pier: Pier) -> tuple[float, float]:
        """Give the middle of a pier along and across [m]."""
        along, across = self.frame.to_local(np.array([[pier.x, pier.y]]))[0].tolist()
        return along, across

    def profile(self, low: float, high: float, across: float) -> Floats:
        """Give the ground (k, 2) [m: along, elevation] between two places along; only where it is known."""
        along = np.linspace(low, high, _SAMPLES)
        site = self.frame.to_site(np.column_stack([along, np.full(_SAMPLES, across)]))
        ground = self.surface.elevation(site)
        known = np.isfinite(ground)
        found: Floats = np.column_stack([along[known], ground[known]])
        return found


@dataclass(frozen=True, slots=True)
class SideView:
    """Where a side view stands: ``place`` [mm] is where ``along`` and ``level`` [m] come to lie."""

    place: tuple[float, float]
    along: float
    level: float
    scale: Scale

    def to_page(self, points: Floats) -> Floats:
        """Turn points (k, 2) [m: along, elevation] into places (k, 2) [mm]."""
        away = np.asarray(points, dtype=float) - [self.along, self.level]
        page: Floats = np.asarray(self.place) + away * self.scale.mm_per_m
        return page

    def x(self, along: float) -> float:
        """Turn a distance along [m] into a place from the left of the page [mm]."""
        return self.place[0] + (along - self.along) * self.scale.mm_per_m

    def y(self, level: float) -> float:
        """Turn an elevation [m] into a height on the page [mm]."""
        return self.place[1] + (level - self.level) * self.scale.mm_per_m


def course_width(unit: BlockUnit, piers: Piers) -> tuple[int, float]:
    """Give how many of a unit lie side by side in a course, and the width of each along the row [m]."""
    return pieces_in_course(unit, piers.spec.across), unit.least_side


def draw_ground(page: Page, view: SideView, profile: Floats, *, depth: float) -> None:
    """Draw the ground below ``profile`` (k, 2) [m: along, elevation] down to the level ``depth`` [m]."""
    if len(profile) < 2:
        return
    low = np.array([[profile[-1, 0], depth], [profile[0, 0], depth]])
    earth = view.to_page(np.vstack([profile, low]))
    page.axes.add_artist(_area(earth, EARTH_TINT, _EARTH_HATCH, ink.FAINT, zorder=1.0))
    line = view.to_page(profile)
    page.strokes([line], color=ink.EARTH, width=ink.INDEX, zorder=4.0, gid="ground")


def draw_hole(page: Page, view: SideView, pier: Pier, half: float, along: float, profile: Floats) -> None:
    """Cut the hole out of the ground and lay the bed; ``half`` [m] is half its length along the row."""
    left, right = along - half, along + half
    inside = profile[(profile[:, 0] > left) & (profile[:, 0] < right)]
    ends = np.interp([left, right], *profile.T) if len(profile) else [pier.ground_high] * 2
    rim = np.vstack([[left, ends[0]], inside, [right, ends[1]]])
    hole = view.to_page(np.vstack([rim, [right, pier.bottom], [left, pier.bottom]]))
    page.axes.add_artist(_area(hole, "white", "", "white", zorder=1.5))
    walls = view.to_page(
        np.array([[left, ends[0]], [left, pier.bottom], [right, pier.bottom], [right, ends[1]]])
    )
    page.strokes([walls], color=ink.EARTH, width=ink.RULE, zorder=3.0, gid=f"hole {pier.name}")
    before = view.to_page(rim)
    page.strokes([before], color="white", width=ink.INDEX * 1.6, zorder=4.1)
    page.strokes([before], color=ink.EARTH, width=ink.FINE, dash=ink.EVEN_DASH, zorder=4.2)
    bed = _rectangle(left, pier.bottom, 2.0 * half, pier.bed)
    page.axes.add_artist(_area(view.to_page(bed), "white", _BED_HATCH, ink.SOFT, zorder=4.5, line=ink.FINE))


def draw_stack(page: Page, view: SideView, pier: Pier, piers: Piers, along: float) -> None:
    """Draw every unit of the stack; solid ones tinted, open cells as hidden lines."""
    level = pier.bottom + pier.bed
    hidden = []
    for unit in pier.laid:
        count, width = course_width(unit, piers)
        for number in range(count):
            left = along + (number - count / 2) * width
            ring = view.to_page(_rectangle(left, level, width, unit.thickness))
            face = "white" if unit.hollow else SOLID_TINT
            page.axes.add_artist(_area(ring, face, "", ink.BLACK, zorder=5.0, line=ink.RULE))
            if unit.hollow:
                for part in _CELL:
                    x = left + part * width
                    hidden.append(view.to_page(np.array([[x, level], [x, level + unit.thickness]])))
        level += unit.thickness
    if hidden:
        page.strokes(hidden, color=ink.SOFT, width=ink.FINE, dash=ink.EVEN_DASH, zorder=5.5)


def entries(piers: Piers) -> list[Entry]:
    """Make the lines of the legend for what these piers hold."""
    laid = [unit for pier in piers.piers for unit in pier.laid]
    found = [
        line_entry("Ground as surveyed", color=ink.EARTH, width=ink.INDEX),
        line_entry("Ground dug away", color=ink.EARTH, width=ink.FINE, dash=ink.EVEN_DASH),
        area_entry("Ground left in place", face=EARTH_TINT, hatch=_EARTH_HATCH, edge=ink.FAINT),
        area_entry("Gravel bed, compacted", face="white", hatch=_BED_HATCH),
    ]
    if any(unit.hollow for unit in laid):
        found.append(Entry("Block with open cells", _hollow_sample))
    if any(not unit.hollow for unit in laid):
        found.append(area_entry("Solid block", face=SOLID_TINT, hatch="", edge=ink.BLACK))
    return found


def spread_out(wanted: Sequence[float], gap: float) -> list[float]:
    """Move labels apart so that neighbours stand at least ``gap`` [mm] from each other, as little as needed.

    The order stays; the middle of a crowded group stays where its labels' own middle was.

    >>> spread_out([0.0, 1.0, 10.0], 3.0)
    [-1.0, 2.0, 10.0]
    """
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    groups: list[list[float]] = []  # each: sum of (place - offset), count
    for index in order:
        groups.append([wanted[index], 1])
        while len(groups) > 1 and _end(groups[-2], gap) + gap > _start(groups[-1], gap) + 1e-9:
            total, count = groups.pop()
            groups[-1] = [groups[-1][0] + total, groups[-1][1] + count]
    places = [0.0] * len(wanted)
    at = iter(order)
    for group in groups:
        for number in range(int(group[1])):
            places[next(at)] = _start(group, gap) + number * gap
    return places


def _start(group: list[float], gap: float) -> float:
    return group[0] / group[1] - 0.5 * (group[1] - 1) * gap


def _end(group: list[float], gap: float) -> float:
    return group[0] / group[1] + 0.5 * (group[1] - 1) * gap


def _rectangle(left: float, bottom: float, width: float, height: float) -> Floats:
    return np.array(
        [[left, bottom], [left + width, bottom], [left + width, bottom + height], [left, bottom + height]]
    )


def _area(
    ring: Floats, face: str, hatch: str, edge: str, *, zorder: float, line: float = 0.0
) -> matplotlib.patches.PathPatch:
    return matplotlib.patches.PathPatch(
        ring_path([ring]), facecolor=face, hatch=hatch, edgecolor=edge, linewidth=line, zorder=zorder
    )


def _hollow_sample(page: Page, x: float, y: float) -> object:
    page.box(x, y - 1.7, 12.0, 3.4, facecolor="white", edgecolor=ink.BLACK, linewidth=ink.RULE)
    lines = [((x + 12.0 * part, y - 1.7), (x + 12.0 * part, y + 1.7)) for part in _CELL]
    return page.strokes(lines, color=ink.SOFT, width=ink.FINE, dash=ink.EVEN_DASH)
