"""Pictures for the page: elements of SVG built as a tree, so that no word of a user is ever markup.

A picture has a window in metres; what is drawn is given in metres and stands in it at one scale.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING
from xml.etree.ElementTree import Element, SubElement, fromstring, tostring

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

PX = 1000.0
"""The width of every picture in its own units; the page gives it the width that there is."""


class Picture:
    """One picture: ``box`` (least x, least y, greatest x, greatest y) [m] as wide as ``PX``; y points up."""

    def __init__(self, box: tuple[float, float, float, float], *, title: str, told: str) -> None:
        left, low, right, high = box
        self.left, self.high, self.scale = left, high, PX / (right - left)
        self.height = (high - low) * self.scale
        self.root = Element(
            "svg",
            {
                "xmlns": "http://www.w3.org/2000/svg",
                "viewBox": f"0 0 {PX:.0f} {self.height:.0f}",
                "role": "img",
            },
        )
        SubElement(self.root, "title").text = title
        SubElement(self.root, "desc").text = told
        self.into = self.root

    def at(self, places: Floats | Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
        """Give places [m] in the picture."""
        return [((x - self.left) * self.scale, (self.high - y) * self.scale) for x, y in places]

    def line(self, places: Floats | Iterable[tuple[float, float]], pen: str) -> None:
        """Draw a line through places [m]."""
        points = " ".join(f"{x:.1f},{y:.1f}" for x, y in self.at(places))
        SubElement(self.into, "polyline", {"points": points, "class": pen})

    def area(self, *rings: Floats | Iterable[tuple[float, float]], pen: str) -> None:
        """Fill what lies inside rings [m]; a ring in another is a hole."""
        paths = [" L".join(f"{x:.1f} {y:.1f}" for x, y in self.at(ring)) for ring in rings]
        SubElement(self.into, "path", {"d": " ".join(f"M{one} Z" for one in paths), "class": pen})

    def words(
        self, place: tuple[float, float], text: str, pen: str = "", *, dx: float = 0.0, dy: float = 0.0
    ) -> None:
        """Write at a place [m], moved by so much of the picture's units."""
        [(x, y)] = self.at([place])
        marked = {"x": f"{x + dx:.1f}", "y": f"{y + dy:.1f}", **({"class": pen} if pen else {})}
        SubElement(self.into, "text", marked).text = text

    def arrow(
        self, start: tuple[float, float], end: tuple[float, float], pen: str, *, head: float = 22.0
    ) -> None:
        """Draw an arrow from one place to another [m]; its head is so long in the picture's units."""
        (ax, ay), (bx, by) = self.at([start, end])
        long = max(((bx - ax) ** 2 + (by - ay) ** 2) ** 0.5, 1e-9)
        ux, uy = (bx - ax) / long, (by - ay) / long
        cx, cy = bx - head * ux, by - head * uy
        half = 0.45 * head
        shaft = {"points": f"{ax:.1f},{ay:.1f} {cx:.1f},{cy:.1f}", "class": pen}
        SubElement(self.into, "polyline", shaft)
        corners = ((bx, by), (cx - half * uy, cy + half * ux), (cx + half * uy, cy - half * ux))
        points = " ".join(f"{x:.1f},{y:.1f}" for x, y in corners)
        SubElement(self.into, "polygon", {"points": points, "class": f"{pen} head"})

    def group(self, name: str) -> None:
        """Put what is drawn from here on into a group that a script knows by ``name``."""
        self.into = SubElement(self.root, "g", {"id": name})

    def patterns(self, patterns: Mapping[str, str]) -> None:
        """Let hatches be used by name: what each is made of, as markup of our own."""
        made = SubElement(self.root, "defs")
        for name, markup in patterns.items():
            made.append(fromstring(f'<pattern id="{name}" patternUnits="userSpaceOnUse" {markup}</pattern>'))

    def __str__(self) -> str:
        told: str = tostring(self.root, encoding="unicode")
        return told
