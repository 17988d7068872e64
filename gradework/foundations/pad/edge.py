"""The edge that holds a boxed pad, chosen by its height: boards with stakes, timbers with pins, or stop.

Told for one level of the pad: which parts it takes as bare amounts (for the cost of any level), and the edge
as it is built, piece by piece, with the checks that it has to pass (for the level that is chosen).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

from gradework.foundations.checks.check import COMMON, Check
from gradework.foundations.checks.limits import HELD, HELD_RULE
from gradework.units.amounts import KPA_PER_PSF, M_PER_FT, M_PER_IN

if TYPE_CHECKING:
    from gradework.foundations.pad.spec import PadSpec


# What pushes on an edge and how deep a stake has to stand against it.

FLUID = 30.0 * KPA_PER_PSF / M_PER_FT
"""Push of clean stone per depth [kPa/m]: 30 psf per ft, as of a fluid (derived; the edge gives a little)."""

EARTH_PRESSURE = 0.3
"""Part of a load on the pad that pushes sideways [-]: the active pressure of stone (common practice)."""

SURCHARGE = 50.0 * KPA_PER_PSF
"""Load of a building on the pad [kPa], 50 psf: a light one with what is stored in it (common practice)."""

LATERAL = 100.0 * KPA_PER_PSF / M_PER_FT
"""What soil bears sideways per depth [kPa/m]: 100 psf per ft, the least of the table of IBC 1806.2 for firm
soil. It is not doubled as for isolated poles: that holds for loads that pass, and stone pushes always."""

STAKE_FACE = 3.5 * M_PER_IN
"""Width of a 2 x 4 stake driven flat against the board [m] (PS 20; memory)."""

MOST_DRIVEN = 40.0 * M_PER_IN
"""Deepest that a stake is driven by hand [m] (common practice, no source)."""

LONG_STAKES = 30.0 * M_PER_IN
"""Stakes that stand deeper are told, with what spares driving them so deep [m] (judgement)."""

LEAST_DRIVEN = 18.0 * M_PER_IN
"""Stakes are driven at least so deep [m]: 18 to 24 in is usual (common practice, no source)."""

STAKE_STEP = 6.0 * M_PER_IN
"""Stakes are cut in steps of this length [m] (common practice, no source)."""


def push(height: float, load: float = 0.0) -> tuple[float, float]:
    """Push on 1 m of an edge [kN/m] that holds stone ``height`` [m] high, and its arm above the foot [m].

    ``load`` [kPa] stands on the stone within the height of the edge. 5.5 in of stone push with 3.15 lb/ft:

    >>> force, arm = push(5.5 * 0.0254)
    >>> round(force / 0.0145939, 2), round(arm / 0.3048, 3)
    (3.15, 0.153)
    """
    stone, beside = 0.5 * FLUID * height**2, EARTH_PRESSURE * load * height
    if stone + beside == 0.0:
        return 0.0, 0.0
    return stone + beside, (stone * height / 3.0 + beside * height / 2.0) / (stone + beside)


def stake_depth(force: float, arm: float, *, face: float = STAKE_FACE, lateral: float = LATERAL) -> float:
    """How deep a stake stands against ``force`` [kN] at ``arm`` [m] above the ground, in [m].

    The pole formula of IBC 1807.3 (from memory): d = A/2 (1 + sqrt(1 + 4.36 h/A)), A = 2.34 P/(S1 b), where
    S1 is what the soil bears sideways at a third of the depth.
    """
    if force <= 0.0:
        return 0.0
    low, high = 0.0, 10.0
    while high - low > 1e-6:  # A falls with the depth, so what is needed falls while the depth rises
        depth = 0.5 * (low + high)
        a = 2.34 * force / (lateral * depth / 3.0 * face)
        needed = 0.5 * a * (1.0 + math.sqrt(1.0 + 4.36 * arm / a))
        low, high = (depth, high) if needed > depth else (low, depth)
    return high


# Which kind of edge holds which height.

Kind = Literal["none", "boards", "timbers"]

SHAVING = 1e-4
"""[m] A height over full boards by less than this does not start another course."""

DESIGNED_NEAR, DESIGNED = HELD, 48.0 * M_PER_IN
"""Edges higher than this are designed [m]: with the building nearer than the height of the edge, and at any
distance. IRC R404.4 (2009) names 24 in; 48 in without other load is its later wording (memory)."""

HELD_LATER = "IRC R404.4 (2015 on, from memory)"

PIN_LENGTH, PIN_END = 24.0 * M_PER_IN, 12.0 * M_PER_IN
"""Pins of 1/2 in rebar through the lowest timber into the ground, and how far the first is from an end [m]
(how-to pages: 18 to 24 in long, 1 ft from ends)."""

SCREWS_APART = 2.0 * M_PER_FT
"""Screws from timber to timber [m] (how-to pages: 16 in to 4 ft)."""

SCREWS_A_STAKE = 2
"""Screws through each board into each stake (common practice, no source)."""

SET_BACK = 0.25 * M_PER_IN
"""Each course of timbers stands back from the one below [m] (how-to page; another: 1 in per foot)."""

TRENCH_WIDTH, TRENCH_STONE = 12.0 * M_PER_IN, 6.0 * M_PER_IN
"""Trench of the buried timber, and the clean stone under it [m] (how-to pages: 12 in wide, 4 to 6 in)."""

BEHIND = 12.0 * M_PER_IN
"""Clean stone behind timbers [m]: it lets the water to the gaps between them (how-to pages)."""

DEADMEN_APART, DEADMAN = 8.0 * M_PER_FT, 8.0 * M_PER_FT
"""Deadmen over 24 in where the building stands back: apart, and timber that each takes: 6 ft back and a cross
piece of 2 ft [m]. How-to pages disagree, so a professional decides."""


def board_step(spec: PadSpec) -> float:
    """Height [m] that one board holds with stakes 4 ft apart: 5 1/2 in, 150 mm; less of a lower board."""
    return min(spec.board, 0.15)


def near(height: float, spec: PadSpec) -> bool:
    """Whether the building stands nearer to the edge than the edge is high, so that it pushes on it."""
    return spec.margin < height - SHAVING


def tied_back(height: float, spec: PadSpec) -> bool:
    """Whether deadmen hold the edge: it is so high that a professional designs it, and the building stands
    back from it. A nearer building stops it, whatever holds it."""
    return height > DESIGNED_NEAR + SHAVING and not near(height, spec)


class Stakes(NamedTuple):
    """How stakes stand: ``apart`` at the most, ``depth`` in the ground [m]."""

    apart: float
    depth: float


def stakes_of(height: float, spec: PadSpec) -> Stakes:
    """Give how stakes stand along a stretch of boards up to ``height`` [m]."""
    apart = spec.stakes_apart * (1.0 if height <= board_step(spec) + SHAVING else 0.75)
    force, arm = push(height, SURCHARGE if near(height, spec) else 0.0)
    return Stakes(apart, max(LEAST_DRIVEN, stake_depth(force * apart, arm)))


def kind_at(greatest: float, spec: PadSpec) -> Kind:
    """Which edge holds a pad that stands so high above the ground outside [m]; one kind all round.

    Boards to two courses, as long as their stakes can be driven; then timbers.
    """
    if greatest <= SHAVING:
        return "none"
    step = board_step(spec)
    if spec.timber_edge or greatest > 2.0 * step + SHAVING:
        return "timbers"
    deepest = max(stakes_of(height, spec).depth for height in (_low(greatest, spec), greatest))
    return "boards" if deepest <= MOST_DRIVEN else "timbers"


def way_at(greatest: float, spec: PadSpec) -> tuple[Kind, bool, bool]:
    """What the cost of an edge jumps with: its kind, whether the building pushes on it, and deadmen."""
    return kind_at(greatest, spec), near(greatest, spec), tied_back(greatest, spec)


def pins_apart(greatest: float, spec: PadSpec) -> float:
    """How far apart the pins of the lowest timber stand [m]: 4 ft, closer where a building pushes too."""
    bare, _ = push(greatest)
    loaded, _ = push(greatest, SURCHARGE if near(greatest, spec) else 0.0)
    return spec.stakes_apart * bare / loaded


class EdgeRuns(NamedTuple):
    """How far the edge runs at one level: ``greatest`` height at the highest [m], ``face`` from the ground up
    [m²], length ``first`` that holds anything and ``high`` that holds more than one step [m], and that of
    each course of boards or timbers, the top one first [m]."""

    greatest: float
    face: float
    first: float
    high: float
    courses: tuple[float, ...]


class EdgeParts(NamedTuple):
    """What an edge takes, bare, before anything is rounded to whole pieces.

    boards, timbers : face [m²], the timbers with their buried course.  stakes, screws, pins, timber_screws :
    counts.  trench : dug for the buried course [m³ in place].  clean : clean stone under and behind the
    timbers [m³ compacted], of which ``behind`` takes the place of the pad's own gravel.
    """

    boards: float = 0.0
    stakes: float = 0.0
    screws: float = 0.0
    timbers: float = 0.0
    pins: float = 0.0
    timber_screws: float = 0.0
    trench: float = 0.0
    clean: float = 0.0
    behind: float = 0.0

    @property
    def brought(self) -> float:
        """Clean stone that comes on top of the pad's gravel [m³ compacted]."""
        return self.clean - self.behind


def edge_parts(runs: EdgeRuns, spec: PadSpec) -> EdgeParts:
    """Give the bare amounts of the edge at one level."""
    kind = kind_at(runs.greatest, spec)
    if kind == "none":
        return EdgeParts()
    if kind == "boards":
        low_stakes = (runs.first - runs.high) / stakes_of(_low(runs.greatest, spec), spec).apart
        high_stakes = runs.high / stakes_of(runs.greatest, spec).apart
        screws = SCREWS_A_STAKE * (low_stakes + 2.0 * high_stakes)
        return EdgeParts(boards=runs.face, stakes=low_stakes + high_stakes, screws=screws)
    side, upper = spec.timber, math.fsum(runs.courses)
    deadmen = runs.first / DEADMEN_APART if tied_back(runs.greatest, spec) else 0.0
    trench = runs.first * TRENCH_WIDTH * (side + TRENCH_STONE)
    behind = BEHIND * runs.face
    return EdgeParts(
        timbers=(upper + runs.first + deadmen * DEADMAN) * side,
        pins=runs.first / pins_apart(runs.greatest, spec),
        timber_screws=upper / SCREWS_APART,
        trench=trench,
        clean=trench - runs.first * side**2 + behind,
        behind=behind,
    )


def _low(greatest: float, spec: PadSpec) -> float:
    """The height that the stakes of the low stretches hold [m]."""
    return min(greatest, board_step(spec))


# The edge as it is built, in whole pieces.


@dataclass(frozen=True, slots=True)
class StakeRow:
    """Stakes along all stretches of one height: so many, ``apart`` at the most, ``depth`` in the ground and
    ``length`` as cut [m]; ``boards`` one over the other on each."""

    count: int
    apart: float
    depth: float
    length: float
    boards: int


@dataclass(frozen=True, slots=True)
class EdgeBuilt:
    """The edge of a boxed pad as it is built.

    kind : "none" where the pad nowhere stands above the ground.  greatest : height at the highest [m].
    courses : boards or timbers above the ground, one on the other, at the highest.  runs : length of each run
    of boards or timbers [m], buried ones first.  stakes : by the height that they hold.  pins, pins_apart :
    rebar through the lowest timber.  buried : length of the buried course [m].  near : the building pushes on
    the edge.  parts : the bare amounts.
    """

    kind: Kind
    greatest: float
    courses: int
    runs: tuple[float, ...]
    stakes: tuple[StakeRow, ...]
    screws: int
    pins: int
    pins_apart: float
    timber_screws: int
    deadmen: int
    buried: float
    near: bool
    parts: EdgeParts
    checks: tuple[Check, ...]


def build_edge(sides: tuple[EdgeRuns, ...], spec: PadSpec, *, us: bool = True) -> EdgeBuilt:
    """Build the edge from what each side of the pad holds: whole stakes, pins and screws, side by side."""
    greatest = max(0.0, *(side.greatest for side in sides))
    kind = kind_at(greatest, spec)
    whole = EdgeRuns(
        greatest,
        math.fsum(side.face for side in sides),
        math.fsum(side.first for side in sides),
        math.fsum(side.high for side in sides),
        tuple(run for side in sides for run in side.courses),
    )
    held = () if kind == "none" else tuple(side for side in sides if side.first > SHAVING)
    above = [run for side in held for run in side.courses if run > SHAVING]
    stakes = _stake_rows(held, greatest, spec, us=us) if kind == "boards" else ()
    buried = [side.first for side in held] if kind == "timbers" else []
    whole_step = _whole(us=us)
    apart = whole_step * math.floor(pins_apart(greatest, spec) / whole_step + 1e-6) if buried else 0.0
    return EdgeBuilt(
        kind=kind,
        greatest=greatest,
        courses=max((sum(run > SHAVING for run in side.courses) for side in held), default=0),
        runs=(*buried, *above),
        stakes=stakes,
        screws=SCREWS_A_STAKE * sum(row.count * row.boards for row in stakes),
        pins=sum(max(2, math.ceil((run - 2.0 * PIN_END) / apart - 1e-9) + 1) for run in buried),
        pins_apart=apart,
        timber_screws=sum(math.ceil(run / SCREWS_APART - 1e-9) + 1 for run in above) if buried else 0,
        deadmen=sum(math.ceil(run / DEADMEN_APART - 1e-9) for run in buried)
        if tied_back(greatest, spec)
        else 0,
        buried=math.fsum(buried),
        near=near(greatest, spec),
        parts=edge_parts(whole, spec),
        checks=edge_checks(greatest, kind, spec),
    )


def _whole(*, us: bool) -> float:
    """To what stakes and pins are measured [m]: an inch, or 10 mm."""
    return M_PER_IN if us else 0.01


def _stake_rows(
    held: tuple[EdgeRuns, ...], greatest: float, spec: PadSpec, *, us: bool
) -> tuple[StakeRow, ...]:
    """Stakes by the height that they hold, one row for each; one at both ends of each stretch.

    They are driven to the next whole inch, or 10 mm.
    """
    rows, whole = [], _whole(us=us)
    for boards, height, stretches in (
        (1, _low(greatest, spec), [side.first - side.high for side in held]),
        (2, greatest, [side.high for side in held]),
    ):
        apart, depth = stakes_of(height, spec)
        depth = whole * math.ceil(depth / whole - 1e-6)
        count = sum(math.ceil(run / apart - 1e-9) + 1 for run in stretches if run > SHAVING)
        length = STAKE_STEP * math.ceil((depth + height) / STAKE_STEP - 1e-9)
        rows.append(StakeRow(count, apart, depth, length, boards))
    return tuple(row for row in rows if row.count)


def edge_checks(greatest: float, kind: Kind, spec: PadSpec) -> tuple[Check, ...]:
    """What the gate asks of the edge: its height, its stakes, and a design where only that can hold it."""
    close = near(greatest, spec)
    back = not close and greatest > DESIGNED_NEAR
    limit, source = (DESIGNED, HELD_LATER) if back else (DESIGNED_NEAR, HELD_RULE)
    checks = [Check("held edge", greatest, limit, "m", source)]
    if kind == "boards":
        deepest = max(stakes_of(height, spec).depth for height in (_low(greatest, spec), greatest))
        checks.append(Check("stake depth", deepest, MOST_DRIVEN, "m", COMMON))
    elif back and greatest <= DESIGNED:
        # only who designs it knows: open, so that it may be built if a professional says how
        checks.append(Check("edge designed", None, None, "-", HELD_RULE))
    return tuple(checks)
