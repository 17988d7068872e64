"""Names of stations and marks as they are compared; they are shown as they were written."""

from __future__ import annotations


def name_key(name: str) -> str:
    """A name without regard to capitals and outer spaces: what joins heights and places.

    >>> name_key(" p4 ") == name_key("P4")
    True
    """
    return name.strip().casefold()


def spaceless(name: str) -> str:
    """A name without capitals and any spaces: two that differ only there are likely one, miswritten.

    >>> spaceless("BM 1") == spaceless("bm1")
    True
    """
    return "".join(name.split()).casefold()
