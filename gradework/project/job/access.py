"""The ``door`` of ``[building]``, and the ``[days]`` table: how one gets in, who does the work and when."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from pydantic import Field, PlainValidator, model_validator

from gradework.foundations.buying.rates import CARRY, CARRY_METRIC
from gradework.project.job.bounds import CARRIED, OPENING, WORKDAY
from gradework.project.job.values import (
    SideLength,
    Table,
    Words,
    number,
    one_of,
    refuse,
    shown,
    sized,
    thick,
    within,
)
from gradework.sitework.access import RAMPS
from gradework.sitework.days import Crew
from gradework.units.amounts import M_PER_FT

SWINGS = ("in", "out")
WIDTH, WIDTH_METRIC = 3.0 * M_PER_FT, 0.9
"""Of a door that the job does not measure [m]."""


YEARS = range(2000, 2101)
"""Of a first day: the public holidays of these are known by rule."""


def _day(value: object) -> date:
    """Take a day, written as 2027-04-12 with quotes or without."""
    try:
        day = date.fromisoformat(value.strip()[:20]) if isinstance(value, str) else value
    except ValueError:
        day = None
    if type(day) is not date or day.year not in YEARS:
        refuse("job-value", variant="day", value=shown(value))
    return day


def _people(value: object) -> int:
    if value not in (1, 2) or isinstance(value, bool):
        refuse("job-value", variant="people", value=shown(value))
    return int(value)


Hours = Annotated[float, PlainValidator(lambda value: within(number(value, "hours"), WORKDAY, value))]


class DaysTable(Table):
    """Who does the work and when: how many ``people``, the first day, the hours they work in one, how far
    stone and soil are wheeled [m]."""

    people: Annotated[int, PlainValidator(_people)] | None = None
    start: Annotated[date, PlainValidator(_day)] | None = Field(default=None, examples=["2027-04-12"])
    hours: Hours | None = None
    carry: Annotated[float, sized(CARRIED)] | None = None

    def way(self, *, us: bool) -> float:
        """Give how far stone and soil are wheeled [m]."""
        return self.carry or (CARRY if us else CARRY_METRIC)

    def crew(self, country: str) -> Crew:
        """Say who works, in which country; "" where that is not known."""
        return Crew(self.people or Crew().people, self.hours or Crew().day, self.start, country)


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
