"""Stations to a surface: triangulation, contours, slopes, high and low point, what is unknown between shots.

It never extrapolates: outside the surveyed ground there is no ground. It never reads a file, never
rounds an elevation, and never decides whether a plan is good.
"""

from __future__ import annotations

from gradework.ground.contours import Contour, trace
from gradework.ground.fans import Folds
from gradework.ground.gaps import find_gaps, median_spacing
from gradework.ground.levels import choose_interval, contour_levels, flat_site
from gradework.ground.shape import SiteShape, Spot, site_shape
from gradework.ground.surface import Surface, build_surface

__all__ = [
    "Contour",
    "Folds",
    "SiteShape",
    "Spot",
    "Surface",
    "build_surface",
    "choose_interval",
    "contour_levels",
    "find_gaps",
    "flat_site",
    "median_spacing",
    "site_shape",
    "trace",
]
