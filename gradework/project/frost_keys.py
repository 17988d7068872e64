"""Depth of frost and height of the eaves hold for every foundation of a job: each stands in one place."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

PLACES = (("frost", "site"), ("eave", "building"))
"""Each key, and the table that holds it for the whole job; [piers] may hold it in its place."""


def frost_clashes(document: Mapping[str, Any]) -> Iterator[tuple[tuple[str, str], str, str, str]]:
    """Find keys told twice: where, what was found, what is expected, the mend."""
    piers = document.get("piers")
    for key, table in PLACES:
        here = document.get(table)
        if isinstance(piers, Mapping) and isinstance(here, Mapping) and key in piers and key in here:
            yield (
                ("piers", key),
                f"{key} in [piers] beside {key} in [{table}]",
                f"one {key} for the whole job",
                f"take the line out of [piers]; that of [{table}] holds for the slab too",
            )
