"""What the layers of a plan share: the page, the map's window, the labels that stand, the legend so far."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gradework.drawings import ink
from gradework.drawings.engine import matplotlib
from gradework.drawings.labels import Box, Taken, box_around
from gradework.drawings.legend import Entry
from gradework.drawings.lettering import height_mm, width_mm, write
from gradework.drawings.page import MapWindow
from gradework.units import Display

Floats = NDArray[np.float64]
EDGE_MM = 1.5
"""No label comes nearer than this to the border of the map [mm]."""


@dataclass
class Board:
    """A plan in the making: layers draw on ``axes``, take room for labels in ``taken``, add ``entries``."""

    axes: Any
    window: MapWindow
    show: Display
    taken: Taken
    entries: list[Entry] = field(default_factory=list)

    @classmethod
    def start(cls, axes: Any, window: MapWindow, show: Display) -> Board:
        """Begin with nothing drawn; labels keep off the border."""
        left, bottom, right, top = window.box
        room = (left + EDGE_MM, bottom + EDGE_MM, right - EDGE_MM, top - EDGE_MM)
        return cls(axes, window, show, Taken(room))

    def lines(
        self,
        lines: list[Floats],
        *,
        color: str,
        width: float,
        dash: Any = ink.SOLID,
        zorder: float,
        **more: Any,
    ) -> Any:
        """Draw lines, each ``(k, 2)`` [mm] on the page, with one pen, cut off at the border."""
        collection = matplotlib.collections.LineCollection(
            lines, colors=color, linewidths=width, linestyles=[dash], zorder=zorder, capstyle="butt", **more
        )
        self.axes.add_collection(collection, autolim=False)
        return self.clip(collection)

    def region(self, rings: list[Floats], **style: Any) -> Any:
        """Draw one area bounded by rings, each ``(k, 2)`` [mm], as one path, cut off at the border."""
        patch = matplotlib.patches.PathPatch(ring_path(rings), **style)
        self.axes.add_patch(patch)
        return self.clip(patch)

    def clip(self, artist: Any) -> Any:
        """Cut an artist off at the border of the map."""
        left, bottom, right, top = self.window.box
        box = matplotlib.transforms.Bbox.from_extents(left, bottom, right, top)
        artist.set_clip_box(matplotlib.transforms.TransformedBbox(box, self.axes.transData))
        return artist

    def label(
        self,
        place: tuple[float, float],
        text: str,
        *,
        points: float,
        gap: float = 0.5,
        force: bool = False,
        **style: Any,
    ) -> bool:
        """Write ``text`` centred at ``place`` [mm] on white if that is free; tell whether it stands."""
        weight = style.get("weight", "normal")
        box = box_around(place, width_mm(text, points, weight), height_mm(points), gap)
        if not (self.taken.take_if_free(box) or force):
            return False
        if force:
            self.taken.take(box)
        self.halo([box])
        write(self.axes, place, text, points=points, ha="center", va="center_baseline", zorder=8, **style)
        return True

    def halo(self, boxes: list[Box], *, zorder: float = 7.5) -> None:
        """Clear a white ground for letters."""
        for left, bottom, right, top in boxes:
            self.axes.add_patch(
                matplotlib.patches.Rectangle(
                    (left, bottom),
                    right - left,
                    top - bottom,
                    facecolor="white",
                    edgecolor="none",
                    zorder=zorder,
                )
            )


def ring_path(rings: list[Floats]) -> Any:
    """Join closed rings, each ``(k, 2)`` and not repeating its first corner, into one path."""
    path = matplotlib.path.Path
    corners = [np.vstack([ring, ring[:1]]) for ring in rings]
    codes = [
        np.array([path.MOVETO, *[path.LINETO] * (len(ring) - 1), path.CLOSEPOLY], dtype=np.uint8)
        for ring in rings
    ]
    return path(np.vstack(corners), np.concatenate(codes))
