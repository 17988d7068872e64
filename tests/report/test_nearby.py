"""What stands near, in words: each answer of each check."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.earthwork.nearby import Neighbour
from gradework.foundations.checks.check import COMMON, Check
from gradework.foundations.checks.nearby import NearLook
from gradework.report.nearby import near_lines
from gradework.units.display import Display

INCHES = Display("ft", "inches")
WALL = Neighbour("shed", "garage", np.array([(0.0, 0.0), (1.0, 0.0)]), False)

ANSWERS = [
    (Check("room to walk", 0.9, 0.6096, "m", COMMON, "least"), "yes, 35 3/8 in, at least 24 in"),
    (Check("room to walk", 0.45, None, "m", COMMON, "least"), "little, 17 3/4 in; finish"),
    (Check("room to walk", 0.2, 0.6096, "m", COMMON, "least"), "no, 7 7/8 in, at least 24 in"),
    (Check("setback", 1.0, None, "m", COMMON, "least"), "not known, no setback given"),
    (Check("setback", 1.0, 1.524, "m", COMMON, "least"), "no, 5' 0\" asked for"),
    (Check("own side", 0.0, 0.0, "m", COMMON), "stays clear of it: yes"),
    (Check("own side", 0.1, 0.0, "m", COMMON), "no, over by 3 7/8 in"),
    (Check("digging below 1:1", -0.3, 0.0, "m", COMMON), "yes, 11 3/4 in to spare (common practice)"),
    (Check("digging below 1:1", 0.3, 0.0, "m", COMMON), "no, 11 3/4 in below it"),
    (Check("digging below 1:1", None, 0.0, "m", COMMON), "not known"),
    (Check("water stays away", 0.0, None, "m", COMMON, "least"), "only if it is led away"),
    (Check("outlet runs clear", 9.144, 9.144, "m", COMMON, "least"), "no outlet runs toward it: yes"),
]


@pytest.mark.parametrize(("check", "said"), ANSWERS)
def test_each_answer_in_words(check: Check, said: str) -> None:
    lines = near_lines([NearLook(WALL, (("walls", 0.9),), (check,))], INCHES)
    text = " ".join(line.strip() for line in lines)
    assert text.startswith("shed (garage): walls 35 3/8 in")
    assert said in text
