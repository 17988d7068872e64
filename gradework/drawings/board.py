"""What the layers of a plan share: the page, the map's window, the labels that stand, the legend so far."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gradework.drawings.engine import matplotlib
from gradework.drawings.labels import Taken, box_around, slanted_boxes
from gradework.drawings.legend import Entry
from gradework.drawings.lettering import Style, height_mm, width_mm
from gradework.drawings.page import MapWindow, Page, ring_path
from gradework.errors import Finding
from gradework.units import Display

Floats = NDArray[np.float64]
EDGE_MM = 1.5
"""No label comes nearer than this to the border of the map [mm]."""

_CELL_MM = 3.0


@dataclass
class Board:
    """A plan in the making: layers draw on ``page``, take room for labels in ``taken``, add ``entries``.

    ``lettered`` holds the boxes of the lettering alone, without lines; ``findings`` tell what found no room.
    """

    page: Page
    window: MapWindow
    show: Display
    taken: Taken
    lettered: Taken
    entries: list[Entry] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)

    @classmethod
    def start(cls, page: Page, window: MapWindow, show: Display) -> Board:
        """Begin with nothing drawn; labels keep off the border."""
        left, bottom, right, top = window.box
        room = (left + EDGE_MM, bottom + EDGE_MM, right - EDGE_MM, top - EDGE_MM)
        return cls(page, window, show, Taken(room), Taken(room))

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
