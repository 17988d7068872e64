"""Whether so many rolls are enough for strips, by every way to cut them in whole lengths."""

from __future__ import annotations

from collections.abc import Sequence

from gradework.foundations.buying.strips import LEAST_PIECE


def enough(runs: Sequence[int], roll: int, lap: int, rolls: int) -> bool:
    """Try every way to cut whole lengths from so many rolls: each strip of any pieces of any of them."""

    def laid(stock: tuple[int, ...], need: int, rest: tuple[int, ...], seen: set[object]) -> bool:
        if need <= lap and need < rest[0]:  # the piece before has covered the strip
            if len(rest) == 1:
                return True
            rest = rest[1:]
            need = rest[0]
        if (stock, need, len(rest)) in seen:
            return False
        seen.add((stock, need, len(rest)))
        least = min(int(LEAST_PIECE) * lap, rest[0], roll)
        for number, left in enumerate(stock):
            for piece in range(least, min(left, max(need, least)) + 1):
                others = (*stock[:number], left - piece, *stock[number + 1 :])
                if laid(tuple(sorted(others)), need - piece + lap, rest, seen):
                    return True
        return False

    order = tuple(sorted(runs, reverse=True))
    return sum(runs) <= rolls * roll and laid((roll,) * rolls, order[0], order, set())
