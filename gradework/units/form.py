"""In which form lengths are said: feet and inches, decimals of a foot, metres or millimetres."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Literal, cast

Form = Literal["inches", "tenths", "m", "mm"]
"""How lengths are said: feet and inches, decimals of a foot, metres, or millimetres where they are short."""

FORMS: tuple[Form, ...] = ("inches", "tenths", "m", "mm")

_saying: ContextVar[Form | None] = ContextVar("saying", default=None)


@contextmanager
def saying(form: Form | None) -> Iterator[None]:
    """Say lengths in ``form`` in what is made inside, whatever the unit of the notes; None changes nothing.

    The records of a survey, and the findings on the way to them, are made in forty places from a unit alone,
    which only the notes decide. Each takes the form in force where it was made and keeps it; nothing that was
    made before changes. It is no argument, since each reader and reduction would have to hand it on, and one
    that did not would say feet and inches in decimals unseen. It stays within the reading of notes
    (``project/stations``): what comes after is handed a ``Display``.

    >>> with saying("inches"):
    ...     form_of("ft")
    'inches'
    >>> form_of("ft"), form_of("mm")
    ('tenths', 'mm')
    """
    token = _saying.set(form or _saying.get())
    try:
        yield
    finally:
        _saying.reset(token)


AS_THE_UNIT = cast("Form", "")
"""Stands for the form that goes with the unit, where none is asked for."""

_USUAL: dict[str, Form] = {"m": "m", "cm": "mm", "mm": "mm", "in": "inches"}


def form_in_force() -> Form:
    """The form of the nearest ``saying`` around; outside of any, whatever goes with the unit."""
    return _saying.get() or AS_THE_UNIT


def form_of(unit: str) -> Form:
    """The form to say lengths in for notes in ``unit``: the one in force, else what goes with the unit."""
    return _saying.get() or _USUAL.get(unit, "tenths")
