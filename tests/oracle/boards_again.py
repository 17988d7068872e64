"""The least boards for runs in whole feet, by every way to join and to cut them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from itertools import product

STOCK = (5, 6, 8)
LEAST = 2  # ft


@cache
def bought(pieces: tuple[int, ...]) -> int:
    """The least length of boards for pieces, longest first: each bar by every subset that it can hold."""
    if not pieces:
        return 0
    first, rest = pieces[0], pieces[1:]
    best = 10**9
    for stock in STOCK:
        for chosen in product((False, True), repeat=len(rest)):
            if first + sum(p for p, c in zip(rest, chosen, strict=True) if c) <= stock:
                left = tuple(p for p, c in zip(rest, chosen, strict=True) if not c)
                best = min(best, stock + bought(left))
    return best


def ways(run: int) -> Iterator[tuple[int, ...]]:
    """Every way to make a run of the fewest pieces, whole feet."""
    count = -(-run // STOCK[-1])
    if count == 1:
        yield (run,)
        return
    for pieces in product(range(LEAST, STOCK[-1] + 1), repeat=count):
        if sum(pieces) == run and list(pieces) == sorted(pieces):
            yield pieces


def by_brute_force(runs: Sequence[int]) -> int:
    """With whole feet everywhere the best joints lie on whole feet: what is shared out is a flow."""
    every = product(*(list(ways(run)) for run in runs))
    return min(bought(tuple(sorted((p for way in one for p in way), reverse=True))) for one in every)
