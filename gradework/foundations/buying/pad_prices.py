"""What the parts of a gravel pad cost, as far as prices are known, for the search of its level."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class EdgePrices:
    """Money for what holds an edge besides boards, each; timbers per m² of face; pipe each 10 ft.

    The defaults are invented.
    """

    stakes: float = 3.0
    screws: float = 0.12
    timbers: float = 66.0
    pins: float = 4.0
    timber_screws: float = 2.0
    pipe: float = 14.0


# None stands for a price that the job does not give: then no cost is told, and no level is the cheapest.


@dataclass(frozen=True, slots=True)
class PadPrices:
    """Money per unit, in the user's own currency; None is a price not known.

    dig per m³ in place, haul per m³ loose, gravel per kg (dry) delivered, boards per m² of face.
    """

    dig: float | None = None
    haul: float | None = None
    gravel: float | None = None
    boards: float | None = None
    edge: EdgePrices = EdgePrices()

    def missing(self, edge: str) -> tuple[str, ...]:
        """Names of the prices that a cost would need; boards only for a boxed edge."""
        wanted = ["dig", "haul", "gravel"] + (["boards"] if edge == "boxed" else [])
        return tuple(name for name in wanted if getattr(self, name) is None)
