"""The ``door`` of ``[building]``, and the ``[days]`` table: how one gets in, who does the work and when."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from gradework.project.job.bounds import OPENING
from gradework.project.job.values import SideLength, Table, Words, one_of, refuse, thick
from gradework.sitework.access import RAMPS
from gradework.units.amounts import M_PER_FT

SWINGS = ("in", "out")
WIDTH, WIDTH_METRIC = 3.0 * M_PER_FT, 0.9
"""Of a door that the job does not measure [m]."""


class DoorTable(Table):
    """A door: the corners of its wall, how far its middle is from the first of them, how wide it is [m].

    ``ramp`` asks for a ramp in place of steps and says what for; ``swings`` which way it opens.
    """

    side: Words = Field(examples=['"1-2"'])
    at: SideLength | None = None
    width: Annotated[float, thick(OPENING)] | None = None
    ramp: Annotated[str, one_of(*RAMPS)] | None = None
    swings: Annotated[str, one_of(*SWINGS)] | None = None

    @model_validator(mode="after")
    def _swings_over_steps(self) -> DoorTable:
        """Which way it swings decides on a landing of steps; a ramp has its own."""
        if self.ramp is not None and self.swings is not None:
            refuse("job-value", variant="both-ways", one="ramp", other="swings")
        return self

    def opening(self, *, us: bool) -> float:
        """Give how wide it is [m]."""
        return self.width or (WIDTH if us else WIDTH_METRIC)
