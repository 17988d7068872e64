"""Which of the two places where ties cross is meant: the one on the hand that was said, or that a third tie
fits.

A hand is a half-plane: left or right of the line from one known mark to another. Which marks those are does
not depend on the marks that a station happens to be tied from.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal, NamedTuple

from gradework.errors import visible

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gradework.fieldnotes.place_notes import Side, Tie
    from gradework.survey.tie_fit import TieFit

    Point = tuple[float, float]

ON_THE_LINE = 3.0
"""A place within so many standard errors of one tie of the line lies on either hand of it."""

AGREE = 4.0
"""Ties disagree when their misfit is more than this many standard errors of one tie."""


class Hand(NamedTuple):
    """The side that was said, seen from the mark ``start`` to the mark ``end``; places in ``line`` [m]."""

    side: Side
    start: str
    end: str
    line: tuple[Point, Point]

    @property
    def words(self) -> str:
        """``left of barn A to barn B``."""
        return f"{self.side} of {visible(self.start)} to {visible(self.end)}"

    @property
    def other(self) -> str:
        """The other hand, by the same two marks."""
        side: Side = "right" if self.side == "left" else "left"
        return self._replace(side=side).words

    def off(self, fit: TieFit) -> float:
        """How far a place lies from the line [m], positive on this hand."""
        (ax, ay), (bx, by) = self.line
        x, y = fit.xy
        left = ((bx - ax) * (y - ay) - (by - ay) * (x - ax)) / math.dist(*self.line)
        return float(left if self.side == "left" else -left)


class Choice(NamedTuple):
    """The place that is meant, None where that is open; ``reason`` says what stands against it."""

    fit: TieFit | None
    reason: Literal["", "other hand", "either", "both", "neither"] = ""


def hand_of(side: Side, names: Sequence[str], marks: Mapping[str, Point]) -> Hand | None:
    """The hand seen from the first of some marks to the next that stands elsewhere; None without such."""
    known = [name for name in names if name in marks]
    for name in known[1:]:
        if marks[name] != marks[known[0]]:
            return Hand(side, known[0], name, (marks[known[0]], marks[name]))
    return None


def own_hand(ties: Sequence[Tie], marks: Mapping[str, Point]) -> Hand | None:
    """The hand that the notes of one station say, seen from its first mark to its second."""
    said = next((t.side for t in ties if t.side is not None), None)
    return None if said is None else hand_of(said, [t.mark for t in ties], marks)


def choose(options: Sequence[TieFit], hand: Hand | None, sd: float) -> Choice:
    """Choose between one or two places that ties may mean.

    A third tie decides when the other place misses it by far more than a tape of standard error ``sd`` [m]
    can. Where the hand that was said is the other one, the ties count and the choice says "other hand", but
    only when they agree there. Else the hand decides, if exactly one place lies on it.
    """
    best, *rest = sorted(options, key=lambda fit: fit.misfit)
    alone = not rest or rest[0].misfit - best.misfit > max(6 * sd, 2 * best.misfit)
    if hand is None:
        return Choice(best) if alone else Choice(None, "either")
    slack = ON_THE_LINE * sd
    if alone and (not rest or best.misfit <= AGREE * sd):
        return Choice(best, "other hand" if hand.off(best) < -slack else "")
    fits = sorted(options, key=hand.off)
    if hand.off(fits[-1]) < -slack:
        return Choice(None, "neither")
    if len(fits) > 1 and hand.off(fits[0]) > slack:
        return Choice(None, "both")
    return Choice(fits[-1])
