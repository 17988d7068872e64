"""Plans that the sections and profiles are drawn of, each made once."""

from __future__ import annotations

from pathlib import Path

import pytest

from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan

DATA = Path(__file__).parents[3] / "data"

FENCE = '[[site.near]]\nname = "fence"\nkind = "fence"\nline = [[-6.02, 6.47], [13.30, 11.64]]\n'
"""2.2 m beyond the uphill edge of the pump house's pad: too near for the bank of a swale."""


def planned(name: str, *, more: str = "", first: str = "") -> Plan:
    folder = DATA / name
    job = read_job((first + (folder / "job.toml").read_text() + more).encode(), "job.toml")
    return plan(job, (folder / job.survey.notes).read_bytes())


@pytest.fixture(scope="package")
def swaled() -> Plan:
    """A battered pad with a swale on two sides, in metres, turned by 15 degrees."""
    return planned("spring-pump-house")


@pytest.fixture(scope="package")
def drained() -> Plan:
    """The same with a pipe drain, and a slab to compare."""
    return planned("spring-pump-house", more=FENCE + "[slab]\n")


@pytest.fixture(scope="package")
def boxed() -> Plan:
    """A pad in boards on a hump, in feet, without anything beside it."""
    return planned("tight-yard")
