"""What nobody knows before the dig besides the ground: how deep the topsoil lies, how dense the stone gets.

Both are drawn as a mean over all that is built, from stated priors, and the same for the same job. The draws
go with the likely grounds, one with each.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SEED = 21
"""Topsoil and stone are drawn apart from the ground."""

MOST_STRIP = 0.5
"""[-] The standard error of the topsoil is at most this part of the depth that is planned."""


@dataclass(frozen=True, slots=True)
class Unsure:
    """What a builder does not know beforehand: standard errors of the mean depth of topsoil [m] and of the
    density of compacted stone [-] (common practice, no source); the chance [-] that the order suffices."""

    topsoil: float = 0.25 * 0.0254
    compaction: float = 0.01
    sure: float = 0.90

    @property
    def chance(self) -> float:
        """The chance that the order suffices [%]."""
        return 100.0 * self.sure

    def strips(self, strip: float, count: int) -> Floats:
        """Likely mean depths (count,) of topsoil [m] where ``strip`` is planned; never less than none.

        >>> Unsure().strips(0.0, 2).tolist()
        [0.0, 0.0]
        """
        off = min(self.topsoil, MOST_STRIP * strip)  # no topsoil, nothing to be wrong about
        drawn = np.random.default_rng([SEED, 0]).standard_normal(count)
        return np.asarray(np.maximum(strip + off * drawn, 0.0), dtype=np.float64)

    def densities(self, count: int) -> Floats:
        """How much denser (count,) than usual the stone likely gets, as a factor [-].

        >>> Unsure(compaction=0.0).densities(2).tolist()
        [1.0, 1.0]
        """
        drawn = np.random.default_rng([SEED, 1]).standard_normal(count)
        return np.asarray(np.exp(self.compaction * drawn), dtype=np.float64)
