"""Cautions: those of every plan are always there; a plan's own figures add theirs."""

from __future__ import annotations

from gradework.sitework.cautions import CAUTIONS, KNEE_DEEP, cautions


def test_every_plan_carries_what_the_design_asks_for() -> None:
    text = " ".join(cautions())
    ground = ("Retaining edges", "clay that swells", "springs", "knee")
    for words in ("buried services", "permit", "setback", "frost", "engineer", *ground, "23 kg", "dust"):
        assert words in text


def test_own_figures_add_their_caution_once_over_the_limit() -> None:
    assert cautions(deepest_dig=KNEE_DEEP) == CAUTIONS
    assert len(cautions(deepest_dig=KNEE_DEEP + 0.01)) == len(CAUTIONS) + 1
    assert len(cautions(deepest_dig=1.0, retained=1.0, clay=True)) == len(CAUTIONS) + 3
