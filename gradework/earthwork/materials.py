"""What the ground and the pad are made of, by name: soils that swell when dug, stone that settles.

Figures are defaults with range, source and status (``docs/materials.md`` shows them all); a supplier's or a
laboratory's own figure is better. Nothing here orders anything.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import replace
from typing import Literal, TypeVar

from gradework.earthwork.conditions import Figure
from gradework.earthwork.material_figures import GRAVELS, SOILS
from gradework.earthwork.material_kinds import OWN_FIGURE_SLACK, Gravel, MaterialError, Soil
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
    "own_factor",
    "with_factors",
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


def own_factor(name: Literal["swell", "compaction"], value: float) -> Figure:
    """Take a user's own soil factor [-]: a volume over the same soil's volume in place.

    A figure more than 5 % outside everything published for any soil raises ``MaterialError``: the usual cause
    is a change in per cent, or a shrinkage that was counted from the fill.
    """
    figures = [getattr(soil, name) for soil in SOILS.values()]
    least = min(figure.low for figure in figures) * (1.0 - OWN_FIGURE_SLACK)
    most = max(figure.high for figure in figures) * (1.0 + OWN_FIGURE_SLACK)
    if not least <= value <= most:
        state, example = ("loose", "1.25 for a quarter more") if name == "swell" else ("compacted", "0.9")
        raise MaterialError(
            f"{value:g} as the {name} of a soil",
            f"{least:.2f} to {most:.2f}",
            f"give the {state} volume over the volume in place, such as {example}",
        )
    return Figure(value, value, value, "given by the user", "judgement")


def with_factors(soil: Soil, swell: float | None = None, compaction: float | None = None) -> Soil:
    """Give the same soil with the user's own factors [-]; None keeps the default. See ``own_factor``.

    >>> with_factors(DEFAULT_SOIL, swell=1.3).swell.value
    1.3
    """
    if swell is not None:
        soil = replace(soil, swell=own_factor("swell", swell))
    if compaction is not None:
        soil = replace(soil, compaction=own_factor("compaction", compaction))
    return soil
