"""Four drops in words: however many kinds of stack there are, what to buy stays on the screen."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.errors import Finding
from gradework.foundations.piers.plan import stack_words
from gradework.project.corners import Measured, plan_corners
from gradework.project.plan import Plan
from gradework.report.answer import MOST
from gradework.report.corners import corners_text
from gradework.report.text import as_wide_as
from gradework.sitework.order import Order, OrderLine

FT, IN = 0.3048, 0.0254
MEASURED = Measured("ft", (24 * FT, 16 * FT), (0.0, 14 * IN, 40 * IN, 9 * IN))
MOST_TOLD = MOST - 11
"""Beside verdict, tops, four lines of piers, dig, unknown, taken, care and files so much has a line."""


@lru_cache
def steep() -> Plan:
    """33 piers of 21 kinds."""
    return plan_corners(MEASURED)


def thing(number: int) -> OrderLine:
    return OrderLine(f"thing {number}, blue", 2.0, "pieces", 2.0, 2.0, 1.0, "none", "", 10.0 * number)


def warning(number: int) -> Finding:
    return Finding(f"odd-{number}", "warning", "here", 1.0, 2.0, f"Odd thing {number} is seen. Mend it soon.")


@given(st.integers(1, 33), st.integers(0, MOST_TOLD), st.integers(0, MOST_TOLD), st.integers(60, 100))
@settings(deadline=None, max_examples=60)
def test_the_order_stays_on_the_screen(count: int, things: int, warnings: int, width: int) -> None:
    things = min(things, MOST_TOLD - warnings)
    plan = steep()
    piers = plan.foundations.piers
    assert piers is not None
    asked = replace(
        plan,
        findings=tuple(map(warning, range(warnings))),
        orders={"piers": Order(tuple(map(thing, range(things))))},
        foundations=replace(plan.foundations, piers=replace(piers, piers=piers.piers[:count])),
    )
    with as_wide_as(width):
        lines = corners_text(asked, MEASURED, "24 ft x 16 ft", files="corners").splitlines()
    assert len(lines) <= MOST
    assert max(map(len, lines)) <= width
    for number in range(things):
        assert any(f"thing {number}" in line for line in lines)
    for number in range(warnings):
        assert any(f"[odd-{number}]" in line for line in lines)
    assert lines[0].startswith("24 ft x 16 ft: block piers can be built, if ")
    for label in ("Piers", "Dig", "Unknown", "Taken", "Care", "Files"):
        assert sum(line.startswith(label) for line in lines) == 1


def test_piers_that_are_not_told_are_counted() -> None:
    piers = steep().foundations.piers
    assert piers is not None
    kinds = {stack_words(pier.laid, pier.across, "block") for pier in piers.piers}
    text = corners_text(steep(), MEASURED, "24 ft x 16 ft")
    told = [kind for kind in kinds if any(line.endswith(f"  {kind}") for line in text.splitlines())]
    left = [pier for pier in piers.piers if stack_words(pier.laid, pier.across, "block") not in told]
    assert 2 < len(told) < len(kinds)
    assert f"{len(left)} more piers" in text
    assert f"{len(kinds) - len(told)} other stacks, all on the sheet" in text
