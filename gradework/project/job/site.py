"""``[site]``: north, frost, what is near; ``[place]``: what a good place is; where soil is spread."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import Field, PlainValidator, TypeAdapter, model_validator

from gradework.earthwork.grading.sides import STRAIGHT
from gradework.earthwork.nearby import KINDS, POINTS, WATERS, Kind, WaterKind
from gradework.earthwork.rings import half_turns, is_thin, ring_area
from gradework.errors import visible
from gradework.foundations.checks.drainage_rules import COUNTRIES
from gradework.project.job import values
from gradework.project.job.bounds import (
    AIRBORNE,
    FILE_PLACE,
    MOST_CORNERS,
    MOST_MARKS,
    MOST_NEAR,
    SETBACK,
    WIND,
)
from gradework.project.job.toml_text import Path
from gradework.project.job.values import (
    Angle,
    Flag,
    Height,
    Place,
    Table,
    Words,
    at_most,
    one_of,
    quoted,
    refuse,
    shown,
    thick,
    thin,
    within,
)
from gradework.units.amounts import parse_speed

Corners = Annotated[tuple[Place, ...], at_most(MOST_CORNERS, "corners")]
SHORTEST = 0.01
"""[m] A line shorter than this is one place written twice."""


def _speed(value: object) -> float:
    return within(quoted(value, parse_speed, "speed"), WIND, value)


Speed = Annotated[float, PlainValidator(_speed)]


_PLACES = TypeAdapter(Annotated[tuple[Place, ...], at_most(MOST_CORNERS, "corners")])


def _spread(value: object) -> bool | tuple[tuple[float, float], ...]:
    """Take true, false, or the corners of an area without inward corners; they run anticlockwise then."""
    if isinstance(value, bool):
        return value
    if not isinstance(value, list | tuple) or len(value) < 3:
        refuse("job-value", variant="spread", value=shown(value))
    ring = np.array(_PLACES.validate_python(value))
    if is_thin(ring):
        refuse("job-value", variant="spread", value="corners in one line")
    ring = ring if ring_area(ring) > 0.0 else ring[::-1]
    turns = half_turns(ring)  # all the way round once: no corner turns inward, none is passed twice
    if (turns < STRAIGHT).any() or not math.isclose(2.0 * float(np.arctan(turns).sum()), math.tau):
        refuse("job-value", variant="spread-hollow")
    return tuple((x, y) for x, y in ring.tolist())


Spread = Annotated[Any, PlainValidator(_spread)]
"""Whether soil is spread: true, false, or the corners [m] of the area that it is spread on."""


class NearTable(Table):
    """One thing that stands near: its ``outline``, or a ``line`` along it (one place for a tree or a well).

    ``setback`` [m]: how far to keep from it by the local rule; None where the job does not say it.
    """

    name: Words = Field(examples=['"garage of number 12"'])
    kind: Annotated[Kind, one_of(*KINDS)] = Field(examples=['"garage"'])
    line: Annotated[Corners, Field(min_length=1)] | None = None
    outline: Annotated[Corners, Field(min_length=3)] | None = None
    setback: Annotated[float, thin(SETBACK)] | None = None

    @model_validator(mode="after")
    def _has_length(self) -> NearTable:
        if self.line is None:
            return self
        spans = [max(across) - min(across) for across in zip(*self.line, strict=True)]
        if max(spans) < SHORTEST and self.kind not in POINTS:
            refuse("job-value", variant="near-line", kind=self.kind, points=" or ".join(POINTS))
        return self


class WaterTable(Table):
    """One place at which water comes out gathered; ``led``: it is led past the building."""

    name: Words = Field(examples=['"downspout of the house"'])
    kind: Annotated[WaterKind, one_of(*WATERS)] = Field(examples=['"downspout"'])
    place: Place = Field(examples=["[10, 40]"])
    led: Flag = False


def _file_place(value: object) -> tuple[float, float]:
    """Take two bare numbers: where something lies in a file, in the file's own unit."""
    if not isinstance(value, list | tuple) or len(value) != 2:
        refuse("job-value", variant="coordinate", value=shown(value))
    x, y = (within(values.number(one, "coordinate"), FILE_PLACE, one) for one in value)
    return x, y


FilePlace = Annotated[Any, PlainValidator(_file_place)]

HEIGHT_UNITS = ("m", "ft", "ftUS")
"""What heights from the air are in."""


class SiteTable(Table):
    """The yard: country, which way north lies, anticlockwise from the x axis, frost, design wind, what is
    near, where water comes out, airborne ground around.

    ``wind`` is in m/s. ``around``: a file of airborne ground, beside the job; ``around_at``:
    where stations lie in it, in its own unit; ``around_sd`` [m]: how far its
    heights may be off; ``around_unit``: what they are in, where the file does not say it.
    ``boundary``: the corners of the ground that may be built on, ``setback`` [m]: how far the walls keep off
    it; read where places are looked for (`gradework place`, the ``Place`` line of a plan).
    """

    country: Annotated[str, one_of(*COUNTRIES)] | None = None
    north: Angle | None = None
    frost: Height | None = None
    wind: Speed | None = None
    near: Annotated[tuple[NearTable, ...], at_most(MOST_NEAR, "neighbours")] = ()
    water: Annotated[tuple[WaterTable, ...], at_most(MOST_NEAR, "waters")] = ()
    around: Words | None = None
    around_at: Annotated[dict[str, FilePlace], at_most(MOST_MARKS, "stations")] | None = None
    around_sd: Annotated[float, thick(AIRBORNE)] | None = None
    around_unit: Annotated[str, one_of(*HEIGHT_UNITS)] | None = None
    boundary: Annotated[Corners, Field(min_length=3)] | None = None
    setback: Annotated[float, thin(SETBACK)] | None = None


What = Literal["gravel", "digging", "cost", "fall", "highest"]
WHATS: tuple[What, ...] = ("gravel", "digging", "cost", "fall", "highest")
"""What the best place is the least of; "highest" is the highest ground."""

TURNS = ("free", "square", "given")
"""Any turn; square to a line of the yard; as the building is turned already."""


class PlaceTable(Table):
    """Where the building may be put, beyond what ``[site]`` says, and which place of those is the best.

    ``least`` is what is to be least ("highest": the highest ground instead); ``square_to`` names the thing
    near whose sides the walls run along, with ``turns = "square"``: without it they keep the directions that
    they have.
    """

    least: Annotated[str, one_of(*WHATS)] | None = None
    turns: Annotated[str, one_of(*TURNS)] | None = None
    square_to: Words | None = None


def near_clashes(document: Mapping[str, Any]) -> Iterator[tuple[Path, str, str, dict[str, Any]]]:
    """Find what is near and has no place, two places, or the name of another: path, code, variant, values."""
    site = document.get("site")
    near = site.get("near") if isinstance(site, Mapping) else None
    names: set[str] = set()
    for number, one in enumerate(near if isinstance(near, list) else ()):
        if not isinstance(one, Mapping):
            continue
        here = ("site", "near", number)
        if "line" in one and "outline" in one:
            yield (*here, "line"), "job-clash", "", {"key": "line", "other": "outline"}
        elif "line" not in one and "outline" not in one:
            values = {"key": "line or outline", "add": "line = [[0, 0], [20, 0]]"}
            yield here, "job-missing-key", "near", values
        name = one.get("name")
        if isinstance(name, str) and " ".join(name.casefold().split()) in names:
            yield (*here, "name"), "job-clash", "near-name", {"name": visible(name)}
        elif isinstance(name, str):
            names.add(" ".join(name.casefold().split()))
