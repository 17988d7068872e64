"""Another rule or level than the job's own, to see what it would give without changing the job."""

from __future__ import annotations

from gradework.errors import visible
from gradework.project.job import RULES, Job
from gradework.units import LengthError, QuantityError, parse_length


def with_level(job: Job, text: str) -> Job:
    """Put a rule ("balanced") or an elevation in the unit of the job in place of the pad's level.

    Raises ``QuantityError`` for anything else, and for a job that asks for no pad.
    """
    if "pad" not in job.asked:
        raise QuantityError("a level for a pad", "a job with a table [pad]", "add the line [pad] to the job")
    words = " ".join(text.lower().split())
    level: str | float = words
    if words not in RULES:
        try:
            level = parse_length(text, job.unit)
        except LengthError as problem:
            expected = f"an elevation in {job.unit}, or one of: {', '.join(RULES)}"
            raise QuantityError(f"'{visible(text)}'", expected, problem.mend) from None
    other = job.model_copy(update={"pad": job.pad.model_copy(update={"level": level})})
    return other.given_by({("pad", "level"): "--level"})
