"""Stations to a surface: triangulation, contours, slopes, high and low point, what is unknown between shots.

It never extrapolates: outside the surveyed ground there is no ground. It never reads a file, never
rounds an elevation, and never decides whether a plan is good.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
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

_HOMES = {
    "Contour": "contours",
    "Folds": "fans",
    "SiteShape": "shape",
    "Spot": "shape",
    "Surface": "surface",
    "build_surface": "surface",
    "choose_interval": "levels",
    "contour_levels": "levels",
    "find_gaps": "gaps",
    "flat_site": "levels",
    "median_spacing": "gaps",
    "site_shape": "shape",
    "trace": "contours",
}


def __getattr__(name: str) -> Any:
    """Load a public name when it is first asked for: plain cut and fill draws no contours."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    import importlib  # part of the start anyway

    return getattr(importlib.import_module(f"{__name__}.{_HOMES[name]}"), name)
