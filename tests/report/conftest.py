"""A small yard that a person can work out: a plane that falls 1 in 10 along x, in metres."""

from __future__ import annotations

import pytest

JOB = """\
name = "Tool store"
units = "m"
[survey]
notes = "yard.csv"
[building]
size = [4, 3]
corner = [4, 4]
[pad]
level = "least fill"
margin = "500 mm"
strip = "100 mm"
gravel = "100 mm"
freeboard = "0 mm"
"""


@pytest.fixture
def plane_job() -> bytes:
    return JOB.encode()


@pytest.fixture
def plane_notes() -> bytes:
    rows = [f"S{i}{j},{2 * i},{2 * j},{20 - 0.2 * i:.3f}" for i in range(8) for j in range(8)]
    return "\n".join(["station,x,y,elevation", *rows, ""]).encode()
