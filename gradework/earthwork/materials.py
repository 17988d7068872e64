"""What the ground and the pad are made of, by name: soils that swell when dug, stone that settles.

Figures are defaults with range, source and status (``docs/materials.md`` shows them all); a supplier's or a
laboratory's own figure is better. Nothing here orders anything.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from typing import TypeVar

from gradework.earthwork.material_figures import GRAVELS, SOILS
from gradework.earthwork.material_kinds import Gravel, MaterialError, Soil
from gradework.errors import visible

__all__ = [
    "DEFAULT_GRAVEL",
    "DEFAULT_SOIL",
    "GRAVELS",
    "SOILS",
    "Gravel",
    "MaterialError",
    "Soil",
    "find_gravel",
    "find_soil",
]

DEFAULT_GRAVEL = GRAVELS["dense-graded"]
DEFAULT_SOIL = SOILS["loam"]

_Kind = TypeVar("_Kind", bound=Gravel | Soil)


def _plain(words: str) -> str:
    return " ".join(words.lower().replace("-", " ").replace("#", "no. ").split())


def _by_name(words: str, known: Mapping[str, _Kind], kind: str) -> _Kind:
    names: dict[str, _Kind] = {}
    for material in known.values():
        names.update({_plain(name): material for name in (material.key, material.name, *material.also)})
    wanted = _plain(words)
    if wanted in names:
        return names[wanted]
    near = difflib.get_close_matches(wanted, names, n=1, cutoff=0.5)
    mend = f"did you mean {names[near[0]].name!r}?" if near else "use one of these names"
    raise MaterialError(
        f"the {kind} {visible(words)!r}", "one of: " + ", ".join(m.name for m in known.values()), mend
    )


def find_gravel(words: str) -> Gravel:
    """Find a stone by its name in plain words, its key, or one of its other names; letter case is free.

    Raises ``MaterialError`` with the nearest name when nobody knows it.

    >>> find_gravel("Crusher run").name
    'dense-graded crushed stone'
    """
    return _by_name(words, GRAVELS, "gravel")


def find_soil(words: str) -> Soil:
    """Find a soil by its name in plain words, its key, or one of its other names; letter case is free.

    Raises ``MaterialError`` with the nearest name when nobody knows it.

    >>> find_soil("topsoil").swell.value
    1.25
    """
    return _by_name(words, SOILS, "soil")
