"""Outlines, clipping, volumes of cut and fill, side slopes, and the materials they are made of.

It never reads a file, never prints and never decides what to build.
"""

from __future__ import annotations

from gradework.earthwork.clip import Pieces, clip
from gradework.earthwork.cutfill import CutFill, balance_level, cut_and_fill
from gradework.earthwork.outline import Outline

__all__ = ["CutFill", "Outline", "Pieces", "balance_level", "clip", "cut_and_fill"]
