"""What is given beside readings of a way of levelling: the ends of a string, the set-ups of a two-peg test.

A job or an option says them before the first reading is looked at, so nothing here loads a reduction.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PegSetup:
    """The rod readings on pegs A and B from one place, and how far each peg is from there, all [m].

    Two of them make a two-peg test: the first stands midway between the pegs, where the error of the line of
    sight cancels, the second close to one, where it does not.
    """

    reading_a: float
    reading_b: float
    distance_a: float
    distance_b: float

    @property
    def values(self) -> tuple[float, float, float, float]:
        """All four, as they are written one after the other in a job or an option."""
        return self.reading_a, self.reading_b, self.distance_a, self.distance_b


@dataclass(frozen=True, slots=True)
class String:
    """A string: the elevation of the string itself at each end [m], its span [m], the sag at its middle [m].

    ``span`` is needed where drops say how far along they were taken; ``sag`` is None where nobody measured
    it, which is told of a long string.
    """

    first: float
    second: float
    span: float | None = None
    sag: float | None = None
