"""Time two ways in turn, so that a machine whose speed drifts slows both."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable


def paired(
    ours: Callable[[], object], other: Callable[[], object], *, runs: int = 15
) -> tuple[float, float, float]:
    """Run both in turn; return the medians [s] of ours and the other, and the median ratio other / ours."""
    ours(), other()
    own, its = [], []
    for _ in range(runs):
        start = time.perf_counter()
        ours()
        middle = time.perf_counter()
        other()
        own.append(middle - start)
        its.append(time.perf_counter() - middle)
    ratios = [b / a for a, b in zip(own, its, strict=True)]
    return statistics.median(own), statistics.median(its), statistics.median(ratios)


def told(what: str, figures: tuple[float, float, float], *, slower: bool = True) -> str:
    """One line: what was compared, both medians in milliseconds, the ratio."""
    own, its, ratio = figures
    times = f"{own * 1e3:.2f} ms against {its * 1e3:.2f} ms"
    return f"{what}: {times}, ratio {ratio:.1f}" if slower else f"{what}: {times}, ratio {1 / ratio:.2f}"
