"""What is asked of a gravel pad, what its parts cost, and the faults of it, all at once."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from gradework.earthwork.batter_facets import refuse_hollow
from gradework.earthwork.materials import DEFAULT_GRAVEL, DEFAULT_SOIL, LAYBACK, Gravel, Soil
from gradework.earthwork.volumes import refuse_far_level
from gradework.errors import Faults

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.earthwork.outline import Outline
    from gradework.foundations.buying.pad_prices import PadPrices
    from gradework.units.display import Display


# Every default stands beside its reason. Lengths in metres, money in whatever the prices are in.

Rule = Literal["least fill", "balanced", "least cost", "given"]
Edge = Literal["boxed", "battered"]

RULES: tuple[Rule, ...] = ("least fill", "balanced", "least cost", "given")


@dataclass(frozen=True, slots=True)
class PadSpec:
    """What is asked of a gravel pad: its layers, its edge, its limits, and the rule that sets its level.

    Attributes
    ----------
    margin
        Pad beyond the building all round [m], 12 in: room to compact to the wall and to catch roof drip
        (common practice, no source).
    strip
        Topsoil taken off everywhere [m], 4 in: 4 to 6 in is common and it should be measured (USDA-NRCS
        Urban Specification 752).
    gravel
        Least gravel [m], 4 in: the least base course of IRC R506.2.2, and one lift of a light plate.
    edge, batter
        "boxed" by boards or "battered" by a slope of so much run per rise [-], 2 (IBC J107.6 for fill).
    material, soil
        The stone bought, the ground dug.
    freeboard, drain
        Pad above the highest ground along its edge [m], 2 in: what IRC R317.1 asks between siding and a paved
        surface; with a drain along the uphill side the pad may stand lower.
    max_cut
        Deepest digging [m], 18 in: deeper than a knee needs care (OSHA's own limit is 5 ft).
    max_height
        Edge above the ground outside [m], 24 in: IRC R404.4 asks for an engineer over 24 in of unbalanced
        fill with extra load, and a building on the pad is one.
    most_gravel, most_native
        Gravel in place without an engineer [m], 24 in; earth fill, 8 in (IRC R506.2.1).
    native_fill
        Whether dug ground may replace gravel below the least gravel.
    rule, level
        "least fill", "balanced", "least cost" or "given"; ``level`` [m] belongs to "given", and is shown
        beside the others with any rule.
    board, lift
        Height of one edge board [m], 5 1/2 in (actual 2 x 6); most that is compacted at once [m], 4 in, the
        one figure every source allows for a light plate.
    room, layback
        Working room beside a boxed pad [m], 12 in (6 to 12 in, common practice), and the run per rise of the
        face beyond it [-], where the pad is cut in; None takes that of the soil, 0 stands straight up.
    lowest, cheapest
        The lowest level that can be built and the cheapest with what it takes [m], where these are known; the
        rules take them.
    timber_edge, timber, stakes_apart
        Whether timbers hold the edge at any height; height and width of one timber [m], 5 1/2 in (actual 6 x
        6); stakes of one board apart [m], 4 ft (common practice), three quarters of it at two boards.

    Examples
    --------
    >>> spec = PadSpec(margin=0.3, edge="battered", rule="balanced", native_fill=True)
    >>> spec.margin, spec.rule, round(spec.gravel, 4)
    (0.3, 'balanced', 0.1016)
    """

    margin: float = 0.3048
    strip: float = 0.1016
    gravel: float = 0.1016
    edge: Edge = "boxed"
    batter: float = 2.0
    material: Gravel = DEFAULT_GRAVEL
    soil: Soil = DEFAULT_SOIL
    freeboard: float = 0.0508
    drain: bool = False
    max_cut: float = 0.4572
    max_height: float = 0.6096
    most_gravel: float = 0.6096
    most_native: float = 0.2032
    native_fill: bool = False
    rule: Rule = "least fill"
    level: float | None = None
    board: float = 0.1397
    lift: float = 0.1016
    room: float = 0.3048
    layback: float | None = None
    timber_edge: bool = False
    timber: float = 0.1397
    stakes_apart: float = 1.2192
    lowest: float | None = None
    cheapest: float | None = None

    @classmethod
    def usual(cls, *, us: bool) -> PadSpec:
        """The defaults, round in inches (``us``) or in millimetres; the reasons are the same.

        >>> PadSpec.usual(us=False).freeboard, round(PadSpec.usual(us=True).freeboard / 0.0254, 9)
        (0.05, 2.0)
        """
        if us:
            return cls()
        return cls(
            margin=0.3,
            strip=0.1,
            gravel=0.1,
            freeboard=0.05,
            max_cut=0.45,
            max_height=0.6,
            most_gravel=0.6,
            most_native=0.2,
            board=0.15,
            lift=0.1,
            room=0.3,
            timber=0.15,
            stakes_apart=1.2,
        )

    @property
    def compaction(self) -> float:
        """Compacted fill per volume dug in place [-]."""
        return self.soil.compaction.value

    @property
    def swell(self) -> float:
        """Loose volume per volume dug in place [-]."""
        return self.soil.swell.value

    @property
    def face(self) -> float:
        """Run per rise of the face of a cut, laid back [-]."""
        return LAYBACK[self.soil.key] if self.layback is None else self.layback

    @property
    def density(self) -> float:
        """Dry mass of the compacted gravel [kg/m³]."""
        return self.material.compacted.value


_MAY_BE_ZERO = ("margin", "strip", "freeboard", "room", "layback")
_ABOVE_ZERO = (
    "gravel", "batter", "max_cut", "max_height", "most_gravel", "most_native", "board", "lift", "timber",
    "stakes_apart",
)  # fmt: skip


def check_spec(spec: PadSpec, prices: PadPrices, building: Outline, show: Display) -> None:
    """Raise InputError where the specification cannot be built or the rule lacks what it needs."""
    faults = Faults()
    for name in (*_MAY_BE_ZERO, *_ABOVE_ZERO):
        value = spec.face if name == "layback" else getattr(spec, name)
        if not math.isfinite(value) or value < 0.0 or (value == 0.0 and name in _ABOVE_ZERO):
            shown = (
                show.length(value)
                if math.isfinite(value) and name not in ("batter", "layback")
                else f"{value}"
            )
            least = "zero" if name in _MAY_BE_ZERO else "above"
            faults.note("pad-size", variant=least, measure=name.replace("_", " "), size=shown)
    if spec.rule == "given" and spec.level is None:
        faults.note("pad-level-missing", variant="none")
    if spec.level is not None and not math.isfinite(spec.level):
        faults.note("pad-level-missing", variant="number", level=spec.level)
    missing = prices.missing(spec.edge)
    if spec.rule == "least cost" and missing:
        faults.note("pad-prices-missing", parts=", ".join(missing))
    faults.raise_if_any()
    if spec.edge == "battered":
        refuse_hollow(building)


def check_level(spec: PadSpec, pieces: Pieces, show: Display) -> None:
    """Raise InputError ``level-far-from-ground`` for a given level that cannot belong to this ground."""
    if spec.level is not None:
        refuse_far_level(pieces, spec.level, show)
