"""The only door to the disk: files are read whole and bounded, results are written whole or not at all.

It knows nothing of yards or plans, never prints, and never makes a file name out of user text. A folder of
results carries ``manifest.json`` with the SHA-256 of every file, put in place last: what stands in it is ours
and may be replaced; anything else is refused unless forced.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gradework.files.reading import MOST_JOB, MOST_NOTES, read_bytes, read_standard_input

if TYPE_CHECKING:
    from gradework.files.folder import Written, safe_name, write_folder, write_log

__all__ = [
    "MOST_JOB",
    "MOST_NOTES",
    "Written",
    "read_bytes",
    "read_standard_input",
    "safe_name",
    "write_folder",
    "write_log",
]


def __getattr__(name: str) -> Any:
    """Load what writes when it is first asked for: digests and JSON, which reading does without."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from gradework.files import folder

    return getattr(folder, name)
