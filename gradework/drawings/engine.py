"""The one place that starts matplotlib, quietly and with its own settings, whatever the user's machine says.

matplotlib wants a folder for its list of fonts. Without a home folder, or with one that cannot be written,
it makes a new folder at every start, says so on stderr and lists all fonts again. So a folder that lasts is
named here before the first import. Every other file of this room imports this one first.
"""

from __future__ import annotations

import logging
import os
import stat
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

_FOLDER = "MPLCONFIGDIR"


def _writable(folder: Path) -> bool:
    """Tell whether ``folder``, or the nearest folder above it that exists, can be written."""
    while not folder.exists():
        if folder.parent == folder:
            return False
        folder = folder.parent
    return folder.is_dir() and os.access(folder, os.W_OK | os.X_OK)


def _usual_folders() -> list[Path]:
    """List the folders that matplotlib would use by itself; empty when there is no home."""
    try:
        home = Path.home()
    except RuntimeError:
        return []
    if sys.platform.startswith(("linux", "freebsd")):
        return [
            Path(os.environ.get("XDG_CONFIG_HOME") or home / ".config") / "matplotlib",
            Path(os.environ.get("XDG_CACHE_HOME") or home / ".cache") / "matplotlib",
        ]
    return [home / ".matplotlib"]


def _own_folder() -> Path | None:
    """Make a folder that lasts and that nobody else can write; None where that fails."""
    user = os.getuid() if hasattr(os, "getuid") else "user"
    folder = Path(tempfile.gettempdir()) / f"gradework-fonts-{user}"
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
        state = folder.lstat()
    except OSError:
        return None
    if not stat.S_ISDIR(state.st_mode) or not _writable(folder):
        return None
    if hasattr(os, "getuid") and (state.st_uid != os.getuid() or state.st_mode & 0o022):
        return None  # somebody else put it there: leave it alone
    return folder


def _settle_folder() -> None:
    named = os.environ.get(_FOLDER)
    wanted = [Path(named)] if named else _usual_folders()
    if wanted and all(_writable(folder) for folder in wanted):
        return
    own = _own_folder()
    if own is not None:
        os.environ[_FOLDER] = str(own)


@contextmanager
def _muted() -> Iterator[None]:
    """Keep matplotlib's talk about folders and fonts off stderr while it starts."""
    log = logging.getLogger("matplotlib")
    before = log.level
    log.setLevel(logging.CRITICAL)
    try:
        yield
    finally:
        log.setLevel(before)


if "matplotlib" not in sys.modules:
    _settle_folder()
with _muted():
    import matplotlib

    # the list of fonts is read (or made) at these imports, so they belong inside the silence
    import matplotlib.figure
    from matplotlib import font_manager

__all__ = ["FAMILY", "font_manager", "matplotlib", "steady"]

FAMILY = "DejaVu Sans"
"""The lettering of every drawing: it comes with matplotlib, so drawings look the same everywhere."""

_OWN: dict[str, object] = {
    "font.family": FAMILY,
    "font.size": 8.0,
    "text.parse_math": False,
    "text.hinting": "no_hinting",
    "text.hinting_factor": 1,
    "hatch.linewidth": 0.45,
    "svg.hashsalt": "gradework",
    "svg.fonttype": "none",
    "pdf.fonttype": 3,
    "path.simplify": False,
    "lines.scale_dashes": False,
    "axes.unicode_minus": True,
    "axes.formatter.use_locale": False,
    "savefig.bbox": None,
    "figure.dpi": 100.0,
}
_PLACES = {"backend", "backend_fallback"}  # reading "backend" would start a window system


def _steady_values() -> dict[str, Any]:
    standard: Any = matplotlib.rcParamsDefault
    values = {k: v for k, v in dict.items(standard) if k not in _PLACES}
    known = {k: v for k, v in _OWN.items() if k in values}
    return values | known


@contextmanager
def steady() -> Iterator[None]:
    """Draw with matplotlib's own defaults and ours on top; a settings file of the user's changes nothing."""
    parameters: Any = matplotlib.rcParams
    before = dict(dict.items(parameters))
    dict.update(parameters, _steady_values())
    try:
        yield
    finally:
        dict.update(parameters, before)
