"""What the notes gave rise to is told also when a later stage cannot go on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from gradework.errors import Finding, InputError


@contextmanager
def noticed(findings: Sequence[Finding]) -> Iterator[None]:
    """Let an ``InputError`` raised inside carry ``findings`` too, each once, before its own."""
    try:
        yield
    except InputError as problem:
        raise InputError(problem.faults, dict.fromkeys((*findings, *problem.findings))) from None
