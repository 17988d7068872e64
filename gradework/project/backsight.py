"""The line of sight that a reading on a known mark gives, read from a few words such as ``BM 4.62``."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gradework.errors import InputError, fault, visible
from gradework.project.benchmarks import known_levels
from gradework.sitework.setout import height_of_instrument
from gradework.survey.stations import name_key
from gradework.units.lengths import parse_length
from gradework.units.numbers import QuantityError

if TYPE_CHECKING:
    from gradework.project.job.model import Job
    from gradework.project.plan import Plan


@dataclass(frozen=True)
class Backsight:
    """A reading on a mark of known elevation [m]."""

    name: str
    elevation: float
    reading: float

    @property
    def instrument(self) -> float:
        """The line of sight [m]."""
        return height_of_instrument(self.elevation, self.reading)


def read_backsight(text: str, plan: Plan) -> Backsight:
    """Read ``BM 4.62`` or ``BM porch step 3' 11 1/4"``: a mark of known elevation and the reading on it.

    The longest known name that leaves a length behind it is the mark. Raises ``InputError``.
    """
    job, levels = plan.job, known_levels(plan.benchmarks, plan.stations)
    folded = {name_key(" ".join(name.split())): name for name in levels}
    words = " ".join(text.split())
    splits = [(words[:at], words[at + 1 :]) for at, letter in enumerate(words) if letter == " "][::-1]
    problem = None
    for head, tail in splits:
        name = folded.get(name_key(head))
        if name is None:
            continue
        try:
            return Backsight(name, levels[name], parse_length(tail, job.unit))
        except QuantityError as told:
            problem = problem or told
    if name_key(words) in folded:
        told_name, example = visible(folded[name_key(words)], 40), "4.62" if job.show.us else "1.405"
        raise InputError(
            [fault("setout-refused", variant="reading", file="--backsight", mark=told_name, example=example)]
        )
    if problem is not None:
        found, expected = problem.found, problem.expected
        raise InputError(
            [fault("setout-refused", variant="length", file="--backsight", found=found, expected=expected)]
        )
    wanted = _before_the_length(splits, job) or words
    near = difflib.get_close_matches(name_key(wanted), folded, n=1, cutoff=0.5)
    guess = f"did you mean {folded[near[0]]}? " if near else ""
    mark = f'"{visible(wanted, 40)}"'
    raise InputError([fault("setout-refused", variant="mark", file="--backsight", mark=mark, guess=guess)])


def _before_the_length(splits: list[tuple[str, str]], job: Job) -> str:
    """Give the words before the longest length that the text ends in; "" where it ends in none."""
    for head, tail in reversed(splits):
        try:
            parse_length(tail, job.unit)
        except QuantityError:
            continue
        return head
    return splits[0][0] if splits else ""
