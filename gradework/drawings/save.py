"""Figures to bytes: PNG for the screen, SVG for zooming, PDF for paper; the same figure gives the same bytes.

It never writes a file and never shows a window.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Mapping
from contextlib import ExitStack
from typing import Any, Literal, get_args

from gradework.drawings.engine import FAMILY, matplotlib, steady
from gradework.drawings.lettering import letters_as_text

Kind = Literal["png", "svg", "pdf"]

DOTS_PER_INCH = 160
"""Of a PNG: a page of 190 mm is 1197 dots wide, three dots for each of a phone's 390 points."""

SCREEN_MARGIN_MM = 5.0
"""White around a PNG or SVG [mm]: a screen has no paper edge. A PDF has none, the printer adds its own."""

_DATELESS: Mapping[str, Mapping[str, str | None]] = {
    "png": {"Software": "gradework"},
    "svg": {"Creator": "gradework", "Date": None},
    "pdf": {"Creator": "gradework", "Producer": "gradework", "CreationDate": None},
}

# In an SVG the words stay words; where the font is missing, the first of these that is there has like widths.
_NAMED_FONT = f"'{FAMILY}'".encode()
_LIKE_FONTS = f"'{FAMILY}', Verdana, sans-serif".encode()


def figure_bytes(
    figure: matplotlib.figure.Figure, kind: Kind, *, dots_per_inch: float = DOTS_PER_INCH
) -> bytes:
    """Turn a figure into the bytes of a file.

    Parameters
    ----------
    figure
        Any ``matplotlib.figure.Figure``; never one that pyplot keeps.
    kind
        "png", "svg" or "pdf".
    dots_per_inch
        Of a PNG [dots per inch].

    Returns
    -------
    bytes
        The same for the same figure, on the same machine, at any time of day: no date goes in. Letters that
        the font does not have are boxes, without a warning; ``lettering.letters_not_drawn`` lists them.

    Raises
    ------
    ValueError
        An unknown ``kind``.
    """
    if kind not in get_args(Kind):
        raise ValueError(f"no drawing of the kind {kind!r}; there are: {', '.join(get_args(Kind))}")
    sink = io.BytesIO()
    with ExitStack() as stack:
        stack.enter_context(steady())
        stack.enter_context(warnings.catch_warnings())
        if kind != "png":
            stack.enter_context(letters_as_text())
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        warnings.filterwarnings("ignore", message="Matplotlib currently does not support .* natively")
        # on line drawings the third level packs closer than the default sixth, in half the time
        packed: dict[str, Any] = {"pil_kwargs": {"compress_level": 3}} if kind == "png" else {}
        box = None if kind == "pdf" else figure.bbox_inches.padded(SCREEN_MARGIN_MM / 25.4)
        dateless = dict(_DATELESS[kind])
        figure.savefig(sink, format=kind, dpi=dots_per_inch, metadata=dateless, bbox_inches=box, **packed)
    return sink.getvalue().replace(_NAMED_FONT, _LIKE_FONTS) if kind == "svg" else sink.getvalue()
