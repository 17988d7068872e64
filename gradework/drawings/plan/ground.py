"""The ground on a plan: contours with their labels, spot elevations, the high and the low point."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gradework.drawings import pens
from gradework.drawings.engine import matplotlib
from gradework.drawings.labels import Box, Taken, box_around, corners_of, label_places, slanted_boxes
from gradework.drawings.lettering import Style, height_mm, name, tight, width_mm
from gradework.drawings.page import Entry, MapWindow, Page, line_entry, mark_entry, ring_path, text_entry
from gradework.errors import Finding
from gradework.ground.contours import Contour, SiteShape
from gradework.units.display import Display

# What the layers of a plan share: the page, the map's window, the labels that stand, the legend so far.

Floats = NDArray[np.float64]
EDGE_MM = 1.5
"""No label comes nearer than this to the border of the map [mm]."""

_CELL_MM = 3.0


@dataclass
class PlanCanvas:
    """A plan in the making: layers draw on ``page``, take room for labels in ``taken``, add ``entries``.

    ``ground`` shows measured ground; ``lettered`` holds the boxes of the lettering alone, without lines;
    ``findings`` tell what found no room.
    """

    page: Page
    window: MapWindow
    show: Display
    ground: Display
    taken: Taken
    lettered: Taken
    entries: list[Entry] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)

    @classmethod
    def start(cls, page: Page, window: MapWindow, show: Display, ground: Display | None = None) -> PlanCanvas:
        """Begin with nothing drawn; labels keep off the border."""
        left, bottom, right, top = window.box
        room = (left + EDGE_MM, bottom + EDGE_MM, right - EDGE_MM, top - EDGE_MM)
        return cls(page, window, show, ground or show, Taken(room), Taken(room))

    def lines(self, lines: list[Floats], **pen: Any) -> Any:
        """Draw lines, each ``(k, 2)`` [mm] on the page, cut off at the border."""
        return self.clip(self.page.strokes(lines, **pen))

    def region(self, rings: list[Floats], **style: Any) -> Any:
        """Draw one area bounded by rings, each ``(k, 2)`` [mm], as one path, cut off at the border."""
        return self.clip(self.page.axes.add_artist(matplotlib.patches.PathPatch(ring_path(rings), **style)))

    def clip(self, artist: Any) -> Any:
        """Cut an artist off at the border of the map."""
        left, bottom, right, top = self.window.box
        box = matplotlib.transforms.Bbox.from_extents(left, bottom, right, top)
        artist.set_clip_box(matplotlib.transforms.TransformedBbox(box, self.page.axes.transData))
        return artist

    def label(
        self,
        text: str,
        place: tuple[float, float],
        style: Style,
        *,
        gap: float = 0.4,
        degrees: float = 0.0,
        force: bool = False,
        avoid: Taken | None = None,
        role: str = "",
    ) -> bool:
        """Write ``text`` centred at ``place`` [mm] on white if that is free; tell whether it stands.

        ``avoid`` holds further boxes to keep off; ``force`` writes it in any case.
        """
        width, height = (
            width_mm(text, style.points, style.weight) + 2 * gap,
            height_mm(style.points) + 2 * gap,
        )
        upright = [box_around(place, width, height)]
        boxes = slanted_boxes(place, width, height, degrees) if degrees else upright
        if avoid is not None and not all(avoid.is_free(box) for box in boxes):
            return False
        if not self.taken.take_if_free(*boxes):
            if not force:
                return False
            for box in boxes:
                self.taken.take(box)
        for box in boxes:
            self.lettered.take(box)
        self.page.clear_ground(_turned_box(place, width, height, degrees))
        self.page.write(text, place, style, across="center", up="center", degrees=degrees, role=role)
        return True

    def keep_off_line(self, ring: Floats, *, width: float = 1.0) -> None:
        """Let no label stand on the closed line ``ring`` ``(k, 2)`` [mm]."""
        for start, end in zip(ring, np.roll(ring, -1, axis=0), strict=True):
            run = end - start
            length = float(np.hypot(*run))
            if length > 0:
                middle = (start + end) / 2
                place = (float(middle[0]), float(middle[1]))
                for box in slanted_boxes(place, length, width, math.degrees(math.atan2(run[1], run[0]))):
                    self.taken.take(box)

    def keep_out(self, rings: list[Floats]) -> None:
        """Let no further label stand inside ``rings`` ``(k, 2)`` [mm]."""
        left, bottom, right, top = self.window.box
        low, high = rings[0].min(axis=0), rings[0].max(axis=0)
        xs = np.arange(max(left, low[0]) + _CELL_MM / 2, min(right, high[0]), _CELL_MM)
        ys = np.arange(max(bottom, low[1]) + _CELL_MM / 2, min(top, high[1]), _CELL_MM)
        cells = np.array([(x, y) for x in xs for y in ys]).reshape(-1, 2)
        for x, y in cells[ring_path(rings).contains_points(cells)].tolist():
            self.taken.take(box_around((x, y), _CELL_MM, _CELL_MM))


def _turned_box(place: tuple[float, float], width: float, height: float, degrees: float) -> Floats:
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * [width / 2, height / 2]
    turned: Floats = corners @ np.array([[c, s], [-s, c]]) + place
    return turned


_INDEX_LABEL = Style(points=8.5, weight="bold", color=pens.EARTH)
_LABEL = Style(points=8, color=pens.EARTH)
_SPOT = Style(points=8)
_NAME = Style(points=6.5, color=pens.SOFT)
_FEW_LEVELS = 2
_LABEL_EVERY_MM = 110.0
_MOST_TICKED = 60
_SPOT_GAP_MM = 0.2
_DOT_MM = 0.8
_DOT_ROOM_MM = 2.2
_MOST_SPOTS_TRIED = 5_000


def index_every(interval: float) -> int:
    """Every how manieth contour is heavier: the first of 5, 4, 6 that gives a round step.

    >>> index_every(0.2), index_every(0.25), index_every(1 / 6)
    (5, 4, 6)
    """
    for count in (5, 4, 6):
        step = interval * count
        mantissa = step / 10.0 ** math.floor(math.log10(step) + 1e-9)
        if any(abs(mantissa - good) < 1e-6 for good in (1.0, 2.0, 2.5, 5.0)):
            return count
    return 5


def decimals_for(interval: float) -> int:
    """How many decimals tell contours ``interval`` apart: 0.25 needs two, an inch in feet two.

    >>> decimals_for(0.5), decimals_for(0.25), decimals_for(1.0), decimals_for(1 / 12)
    (1, 2, 0, 2)
    """
    for decimals in range(4):
        if abs(round(interval, decimals) - interval) < 1e-9:
            return decimals
    return 2


@dataclass(frozen=True, slots=True)
class _Drawn:
    level: float
    page: Floats
    closed: bool
    index: bool
    finished: bool


def draw_contours(
    canvas: PlanCanvas,
    contours: Sequence[Contour],
    interval: float,
    xyz: Floats,
    finished: Sequence[Contour] = (),
) -> None:
    """Draw contours ``interval`` [m] apart, every fifth or so heavier and labelled.

    Labels stand on their contour, upright, off the border, off what stands already, and beside the lettering
    of the shots ``xyz`` ``(n, 3)`` [m] if they can. Where no more than two heavier levels cross the site, the
    light ones carry their level too. Closed hollows get ticks inside. Where there are ``finished`` ones,
    those of the survey are dashed beside them.
    """
    every = index_every(interval / canvas.show.metres_per_unit)
    lines = [
        _Drawn(c.level, _page_line(canvas, c), c.closed, round(c.level / interval) % every == 0, after)
        for after, each in ((False, contours), (True, finished))
        for c in each
    ]
    widths = (pens.INDEX, pens.CONTOUR)
    surveyed: tuple[str, str, object, tuple[float, float]]
    surveyed = ("Contour as surveyed", pens.EARTH, pens.EVEN_DASH, widths)
    if not finished:
        surveyed = ("Contour", pens.EARTH, pens.SOLID, widths)
    made = ("Contour of finished ground", pens.BLACK, pens.SOLID, (pens.PAD, pens.RULE))
    for after, (name_of, color, dash, widths) in ((False, surveyed), (True, made)):
        for index, width in zip((True, False), widths, strict=True):
            chosen = [line.page for line in lines if line.index is index and line.finished is after]
            words = f"{name_of}, every {every}th" if index and every != 1 else name_of
            if chosen:
                canvas.lines(chosen, color=color, width=width, dash=dash, zorder=2.0 + 0.2 * after, gid=words)
                canvas.entries.append(line_entry(words, color=color, width=width, dash=dash))
    _draw_hollows(canvas, [line for line in lines if not line.finished])
    few = len({line.level for line in lines if line.index}) <= _FEW_LEVELS
    decimals = decimals_for(interval / canvas.show.metres_per_unit)
    spots = Taken(canvas.taken.window)
    for _, _, box, _ in _spots_shown(canvas, xyz):
        spots.take(box)
    for line in sorted(lines, key=lambda line: (not line.finished, not line.index, -len(line.page))):
        if line.index or few:
            _label_contour(canvas, line, canvas.show.contour(line.level, decimals), spots)


def _page_line(canvas: PlanCanvas, contour: Contour) -> Floats:
    """A contour on the page ``(k, 2)`` [mm], a closed one with its first point again at the end."""
    page = canvas.window.to_page(contour.xy)
    return np.vstack([page, page[:1]]) if contour.closed else page


def _label_contour(canvas: PlanCanvas, line: _Drawn, text: str, spots: Taken) -> None:
    """Put a contour's level on it, once for about every 110 mm; beside the spots' lettering if it can."""
    style = _INDEX_LABEL if line.index else _LABEL
    if line.finished:
        style = replace(style, color=pens.BLACK)
    length = float(np.hypot(*np.diff(line.page, axis=0).T).sum())
    wanted = max(1, round(length / _LABEL_EVERY_MM))
    places = label_places(line.page, width_mm(text, style.points, style.weight) + 1.0)
    stood: list[tuple[float, float]] = []
    for avoid in (spots, None):
        for place in places:
            middle = (place.x, place.y)
            if any(math.dist(middle, other) < _LABEL_EVERY_MM / 2 for other in stood):
                continue
            role = f"contour {line.level!r}"
            if canvas.label(text, middle, style, degrees=place.degrees, avoid=avoid, role=role):
                stood.append(middle)
            if len(stood) == wanted:
                return


def _draw_hollows(canvas: PlanCanvas, lines: Sequence[_Drawn]) -> None:
    """Set ticks on the inner side of closed contours that go down inside: those that run clockwise."""
    ticks: list[Floats] = []
    for line in [line for line in lines if line.closed][:_MOST_TICKED]:
        ring = line.page
        x, y = (ring - ring[0]).T
        along = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
        if float((x[:-1] * y[1:] - x[1:] * y[:-1]).sum()) >= 0.0 or along[-1] < 6.0:
            continue
        start = np.arange(2.0, along[-1] - 1.0, 5.0)
        at, ahead = (
            np.column_stack([np.interp(s, along, ring[:, 0]), np.interp(s, along, ring[:, 1])])
            for s in (start, start + 0.2)
        )
        inward = (ahead - at)[:, ::-1] * [1.0, -1.0]
        inward /= np.maximum(np.hypot(*inward.T), 1e-12)[:, None]
        ticks += [np.array([a, a + 1.3 * n]) for a, n in zip(at, inward, strict=True)]
    if ticks:
        canvas.lines(ticks, color=pens.EARTH, width=pens.CONTOUR, zorder=2.0, gid="hollow ticks")
        canvas.entries.append(Entry("Hollow: ticks point down into it", _hollow_sample))


def _hollow_sample(page: Page, x: float, y: float) -> object:
    ticks = [((x + d, y + 0.6), (x + d, y - 0.7)) for d in (2.0, 6.0, 10.0)]
    return page.strokes([((x, y + 0.6), (x + 12, y + 0.6)), *ticks], color=pens.EARTH, width=pens.CONTOUR)


def spot_box(place: tuple[float, float], text: str) -> Box:
    """The box of a spot's lettering whose decimal point, or foot mark, is on ``place`` [mm]."""
    whole, point, _ = text.partition(_spot_mark(text))
    left = place[0] - width_mm(whole, _SPOT.points) - width_mm(point, _SPOT.points) / 2
    right = left + width_mm(text, _SPOT.points)
    top = place[1] + height_mm(_SPOT.points)
    return (left - _SPOT_GAP_MM, place[1] - 0.4, right + _SPOT_GAP_MM, top + _SPOT_GAP_MM)


def _spot_mark(text: str) -> str:
    return "'" if "'" in text else "."


def draw_spots(canvas: PlanCanvas, xyz: Floats, names: Sequence[str]) -> int:
    """Write the elevation of each station with its decimal point on the spot; return how many stand.

    Where labels would overlap, the earlier station keeps its own; the later one gets a dot, and the legend
    says how many such there are (the table of stations has them all). Names stand below the elevations where
    there is room.
    """
    standing: list[tuple[int, tuple[float, float]]] = []
    bare: list[tuple[float, float]] = []
    for i, place, box, text in _spots_shown(canvas, xyz):
        if not canvas.taken.take_if_free(box):
            bare.append(place)
        else:
            canvas.lettered.take(box)
            canvas.page.clear_ground(corners_of(box))
            canvas.page.write(text, (box[0] + _SPOT_GAP_MM, place[1]), _SPOT, role="spot")
            standing.append((i, place))
    named = [i for i, place in standing if _write_name(canvas, place, names[i])]
    if standing:
        said = (canvas.ground.elevation_number(float(xyz[i, 2])) for i, _ in standing)
        example = min(said, key=lambda text: width_mm(text, _SPOT.points))  # it stands in a narrow column
        mark = "decimal point" if _spot_mark(example) == "." else "foot mark"
        words = f"Shot: its {mark} is the spot" + (", station below" if named else "")
        canvas.entries.append(text_entry(words, example, _SPOT))
    if bare:
        _draw_bare(canvas, bare, len(standing) + len(bare))
    return len(standing)


def _draw_bare(canvas: PlanCanvas, places: Sequence[tuple[float, float]], count: int) -> None:
    """Set a dot on shots without room for their elevation, of ``count`` on the map, and say how many.

    A dot within lettering could be read as a decimal point: there is none on shots under a label.
    """
    seen = [
        place for place in places if canvas.lettered.is_free(box_around(place, _DOT_ROOM_MM, _DOT_ROOM_MM))
    ]
    size = pens.pen(_DOT_MM)
    if seen:
        canvas.page.axes.plot(
            *np.array(seen).T,
            "o",
            color=pens.BLACK,
            markersize=size,
            markeredgewidth=0,
            zorder=3,
            gid="bare shots",
        )
    words = f"Shot whose elevation finds no room here ({len(places)} of {count}): stations.csv"
    canvas.entries.append(mark_entry(words, marker="o", size=size, face=pens.BLACK))


def _spots_shown(canvas: PlanCanvas, xyz: Floats) -> Iterator[tuple[int, tuple[float, float], Box, str]]:
    """The shots in the window, thinned if very many: number, place [mm], box of the lettering, lettering."""
    page = canvas.window.to_page(xyz[:, :2])
    inside = np.flatnonzero(canvas.window.contains(page, 1.0))
    inside = inside[:: max(1, math.ceil(len(inside) / _MOST_SPOTS_TRIED))]
    for i, place in zip(inside.tolist(), map(tuple, page[inside].tolist()), strict=True):
        text = canvas.ground.elevation_number(float(xyz[i, 2]))
        yield i, place, spot_box(place, text), text


def _write_name(canvas: PlanCanvas, place: tuple[float, float], station: str) -> bool:
    text = name(station)
    width, height = width_mm(text, _NAME.points), height_mm(_NAME.points)
    middle = (place[0], place[1] - 1.0 - height / 2)
    box = box_around(middle, width + 0.4, height + 0.3)
    if not canvas.taken.take_if_free(box):
        return False
    canvas.lettered.take(box)
    canvas.page.clear_ground(corners_of(box))
    canvas.page.write(text, middle, _NAME, across="center", up="center", role="station")
    return True


def draw_high_and_low(canvas: PlanCanvas, shape: SiteShape) -> None:
    """Mark the highest and the lowest station with a triangle that points up or down."""
    for spot, marker, words in ((shape.high, "^", "Highest shot"), (shape.low, "v", "Lowest shot")):
        place = canvas.window.to_page(np.array([[spot.x, spot.y]]))
        if not canvas.window.contains(place)[0]:
            continue
        x, y = (float(c) for c in place[0])
        canvas.page.axes.plot(
            [x],
            [y - 2.6],
            marker,
            markersize=7,
            color=pens.BLACK,
            markerfacecolor="white",
            zorder=7.5,
            gid=words,
        )
        canvas.taken.take(box_around((x, y - 2.6), 2.6, 2.8))
        text = f"{words}: {name(spot.station)}, {tight(canvas.ground.elevation(spot.elevation))}"
        canvas.entries.append(mark_entry(text, marker=marker, size=7))
