"""The ``[place]`` table: what the best place of the building is the least of, and how it may be turned."""

from __future__ import annotations

from typing import Annotated

from gradework.earthwork.siting.search import WHATS
from gradework.project.job.values import Table, Words, one_of

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
