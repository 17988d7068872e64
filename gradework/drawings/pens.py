"""Pens and colours: lines are told apart by weight and dash first, colour last; all read in grey."""

from __future__ import annotations

from gradework.drawings.lettering import MM_PER_POINT


def pen(mm: float) -> float:
    """The width of a pen in the points that matplotlib counts in."""
    return mm / MM_PER_POINT


# Line weights that survive a laser printer [points].
FOOTPRINT = pen(0.7)
PAD = pen(0.5)
INDEX = pen(0.5)
CONTOUR = pen(0.25)
GRID = pen(0.15)
RULE = pen(0.35)
FINE = pen(0.2)

# Dashes [points on, points off, ...].
SOLID = "-"
PAD_DASH = (0, (7, 2.5))
DAYLIGHT_DASH = (0, (7, 2, 1.2, 2))
EVEN_DASH = (0, (3, 2))
BREAKLINE_DASH = (0, (9, 2, 1.2, 2, 1.2, 2))
DOTTED = (0, (1, 1.6))

# Text and lines: at least 5:1 against white, so that each also prints dark enough in grey.
BLACK = "#111111"
EARTH = "#643A0C"
WATER = "#174A86"
WARNING = "#8F2600"
SOFT = "#444444"
FAINT = "#8C8C8C"

# Tints under the hatches: light enough for black letters, the third sign after hatch and number.
CUT_TINT = "#FDEBD3"
FILL_TINT = "#EAE7F6"

# Hatches: cut and fill differ in kind, not in density alone.
CUT_HATCH = "////"
FILL_HATCH = "..."
