"""What a run has written into a folder, by name and SHA-256: so that the next one knows what is ours."""

from __future__ import annotations

import hashlib
import json
import os
import re
import stat
from collections.abc import Mapping
from pathlib import Path

from gradework import __version__

MANIFEST = "manifest.json"

_MOST = 2**20  # bytes; a manifest of ours is a page

# A manifest may come with somebody else's folder and say anything: it is believed only for names that this
# program gives to results, plain ones, so that nothing beside them or outside the folder is ever touched.
_RESULT = re.compile(
    r"(?:(?:plan|order)(?:-(?:pad|piers|slab))?|curve|piers|pier-(?:rows|details)(?:-[0-9]{1,4})?"
    r"|stations|result|setout)\.(?:png|svg|pdf|csv|json)"
)


def is_result(name: str) -> bool:
    """Tell whether this program could have written a result of that name into a folder with a manifest.

    >>> is_result("pier-rows-2.png"), is_result("../plan.png"), is_result("yard.csv")
    (True, False, False)
    """
    return _RESULT.fullmatch(name) is not None


def manifest_of(files: Mapping[str, bytes]) -> bytes:
    content = {
        "made_by": "gradework",
        "version": __version__,
        "files": {name: {"sha256": digest(data), "bytes": len(data)} for name, data in sorted(files.items())},
    }
    return (json.dumps(content, indent=1) + "\n").encode("ascii")


def digests_in(manifest: bytes) -> dict[str, str]:
    """Read back a manifest of ours; anything else names no files, and no file but a result is named."""
    try:
        content = json.loads(manifest)
        if content["made_by"] != "gradework":
            return {}
        return {
            name: str(entry["sha256"]) for name, entry in content["files"].items() if is_result(str(name))
        }
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}


def read_if_small(path: Path) -> bytes:
    """The bytes of a file of at most a megabyte; nothing for a link, which we never write."""
    try:
        if not is_plain_file(path) or path.lstat().st_size > _MOST:
            return b""
        return path.read_bytes()
    except OSError:
        return b""


def is_plain_file(path: str | os.PathLike[str]) -> bool:
    """Tell whether a file stands there itself: no link, folder or device, and not nothing."""
    try:
        return stat.S_ISREG(os.lstat(path).st_mode)
    except OSError:
        return False


def digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def digest_of_file(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
