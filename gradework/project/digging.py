"""What was dug or bedded against the plan: what is built on it now, what to buy, what to add or take."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from gradework.errors import Faults, Finding, InputError, fault, finding, visible, words
from gradework.foundations.piers.as_dug import AS_READ, AsRead, Rebuilt, Redesign, as_redesigned, redesign
from gradework.foundations.piers.plan import count_of
from gradework.project.asbuilt import by_pier, kind_of
from gradework.project.nearby import stakes_near
from gradework.project.setout import finished_level
from gradework.project.tops import plain_name
from gradework.sitework.asbuilt import allowed, apart, high_or_low
from gradework.units.amounts import M_PER_IN

if TYPE_CHECKING:
    from gradework.foundations.piers.plan import Piers
    from gradework.project.plan import Plan
    from gradework.project.tops import Tops
    from gradework.units.display import Display

Stage = Literal["dug", "bed"]

DUG_TOLERANCE = 0.5 * M_PER_IN
"""A subgrade may be off by this [m] (common practice, no source)."""

_ROCK = re.compile(r"\b(rock|bedrock|ledge|boulder)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class DugPoint:
    """One point of a pad or slab [m]: the level ``read`` and the one ``wanted``.

    ``at_stake`` is False for a point that is no stake of the plan: there only the highest level is known that
    leaves room for the least gravel. ``off``: above (+) the level wanted, so to be dug away, or below it.
    """

    name: str
    read: float
    wanted: float
    at_stake: bool
    wrong: bool

    @property
    def off(self) -> float:
        """How far it is above (+) or below (-) the level wanted [m]."""
        return self.read - self.wanted


@dataclass(frozen=True)
class AsDug:
    """The answer. For piers ``design`` holds every pier as it is built now; for a pad or slab ``points``.

    ``on_hand`` are the blocks of the order with their spares, by name; ``missing`` the piers not read, taken
    as planned; ``ignored`` names that are neither piers nor marks.
    """

    plan: Plan
    kind: str
    stage: Stage
    level: float
    tolerance: float
    design: Redesign | None
    points: tuple[DugPoint, ...]
    on_hand: Mapping[str, int]
    missing: tuple[str, ...]
    ignored: tuple[str, ...]
    findings: tuple[Finding, ...]

    @property
    def passed(self) -> bool:
        """True where the work can go on as planned: no other stack, nothing to dig, add, take or buy."""
        if self.design is None:
            return not any(point.wrong for point in self.points)
        changed = any(
            not one.kept or one.deeper > AS_READ or abs(one.gravel) > AS_READ for one in self.design.piers
        )
        return not (changed or self.design.buy or any(f.severity == "stop" for f in self.findings))


def check_dug(
    plan: Plan,
    tops: Tops,
    file: str,
    stage: Stage,
    *,
    kind: str | None = None,
    earlier: Tops | None = None,
    rock: Collection[str] = (),
    tolerance: float | None = None,
) -> AsDug:
    """Say what to build on what was dug.

    ``earlier``: the holes as dug, where the beds are read now. ``rock``: piers whose holes cannot go deeper;
    a remark that says rock, ledge or boulder does the same. ``tolerance`` [m] is what a subgrade may be off.
    Raises ``InputError``: readings on no mark, levels that no hole can have, piers that are not there.
    """
    kind = kind_of(plan, tops, kind)
    level = finished_level(plan, kind)
    if not (tops.tied and (earlier is None or earlier.tied)):
        raise InputError([fault("asdug-not-tied", file=file)])
    if kind == "piers":
        return _piers(plan, tops, file, stage, level, earlier, rock)
    return _surface(plan, tops, stage, kind, level, tolerance or DUG_TOLERANCE)


def _piers(
    plan: Plan,
    tops: Tops,
    file: str,
    stage: Stage,
    level: float,
    earlier: Tops | None,
    rock: Collection[str],
) -> AsDug:
    piers, show = plan.foundations.piers, plan.job.show
    assert piers is not None
    levels, ignored = by_pier(tops, piers, file)
    if not levels:
        raise InputError([fault("asbuilt-nothing-read", variant="piers", file=file)])
    stuck = _on_rock(piers, rock, tops, *(() if earlier is None else (earlier,)))
    on_hand = blocks_on_hand(plan)
    if stage == "bed" and earlier is not None:
        # the beds were laid for the stacks that the holes were given, not for those of the plan
        holes, _ = by_pier(earlier, piers, file)
        dug = {name: AsRead(bottom, stuck=name in stuck) for name, bottom in holes.items()}
        _refuse_impossible(piers, dug, file, show)
        design = redesign(piers, dug, on_hand)
        if design.top is None:
            # beds laid for no stack are held against nothing: the holes come first
            missing = tuple(pier.name for pier in piers.piers if pier.name not in dug)
            told = (*tops.findings, *_findings(design, missing, plan))
            return AsDug(plan, "piers", stage, level, 0.0, design, (), on_hand, missing, tuple(ignored), told)
        piers = as_redesigned(piers, design)
    read = {
        pier.name: AsRead(levels[pier.name], stuck=pier.name in stuck)
        if stage == "dug"
        else AsRead(pier.bottom, levels[pier.name], stuck=pier.name in stuck)
        for pier in piers.piers
        if pier.name in levels
    }
    _refuse_impossible(piers, read, file, show)
    design = redesign(piers, read, on_hand)
    missing = tuple(pier.name for pier in piers.piers if pier.name not in read)
    found = (*tops.findings, *_findings(design, missing, plan))
    return AsDug(plan, "piers", stage, level, 0.0, design, (), on_hand, missing, tuple(ignored), found)


def blocks_on_hand(plan: Plan) -> dict[str, int]:
    """Give how many of each block there are, by name: as counted on delivery, else as the order for the piers
    buys, spares included."""
    piers, order = plan.foundations.piers, plan.orders.get("piers")
    if piers is None or order is None:
        return {}
    names = {unit.name for unit in piers.spec.on_hand}
    bought = {line.item: round(line.quantity) for line in order.lines if line.item in names}
    counted = {unit.name: unit.delivered for unit in piers.spec.on_hand if unit.delivered is not None}
    return {**bought, **counted}


def _on_rock(piers: Piers, rock: Collection[str], *read: Tops) -> set[str]:
    """Give the names of the piers that cannot be dug deeper: those said, and those whose remark says so."""
    names = {pier.name.casefold(): pier.name for pier in piers.piers}
    found = set()
    for asked in rock:
        plain = plain_name(asked)
        if plain not in names:
            name, every = repr(visible(asked, 40)), ", ".join(names.values())
            raise InputError([fault("setout-refused", variant="rock", file="--rock", name=name, names=every)])
        found.add(names[plain])
    for tops in read:
        for name, remark in tops.notes.items():
            plain = plain_name(name)
            if plain in names and _ROCK.search(remark):
                found.add(names[plain])
    return found


def _refuse_impossible(piers: Piers, read: Mapping[str, AsRead], file: str, show: Display) -> None:
    """Refuse a bottom above the ground in its hole, and a bed below its bottom: something else was read."""
    faults = Faults(file)
    for pier in piers.piers:
        one = read.get(pier.name)
        if one is None:
            continue
        if one.bed_top is None and one.bottom > pier.ground_high:
            faults.note(
                "asdug-above-ground",
                pier=repr(pier.name),
                level=show.elevation(one.bottom),
                ground=show.elevation(pier.ground_high),
            )
        elif one.bed_top is not None and one.bed_top <= one.bottom:
            faults.note(
                "asdug-above-ground",
                variant="bed",
                pier=repr(pier.name),
                level=show.elevation(one.bed_top),
                ground=show.elevation(one.bottom),
            )
    faults.raise_if_any()


def _findings(design: Redesign, missing: tuple[str, ...], plan: Plan) -> Iterator[Finding]:
    show = plan.job.show
    blocked = ", ".join(design.blocked)
    if design.top is None:
        yield finding("asdug-no-top", "stop", blocked, planned=show.elevation(design.planned))
        return
    if design.moved:
        by = design.top - design.planned
        yield finding(
            "asdug-top-moves",
            "stop",
            blocked,
            by,
            names=blocked,
            planned=show.elevation(design.planned),
            top=show.elevation(design.top),
            by=f"{apart(abs(by), show)} {'higher' if by > 0 else 'lower'}",
        )
    if design.buy:
        what = " and ".join(count_of(count, unit.name) for unit, count in design.buy)
        yield finding("asdug-buy", "warning", "blocks", float(sum(n for _, n in design.buy)), what=what)
    shallow = [one for one in design.piers if _too_shallow(one, plan) > 0.0]
    if shallow:
        worst = max(shallow, key=lambda one: _too_shallow(one, plan))
        yield finding(
            "asdug-shallow",
            "warning",
            ", ".join(one.pier.name for one in shallow),
            _too_shallow(worst, plan),
            pier=worst.pier.name,
            short=show.depth(_too_shallow(worst, plan)),
            variant="rock" if worst.read.stuck else "",
        )
    if not design.proved:
        yield finding("asdug-not-proved", "note", "stacks")
    if missing:
        yield finding("asbuilt-not-read", "note", ", ".join(missing), float(len(missing)), 0.0, variant="dug")


def _too_shallow(one: Rebuilt, plan: Plan) -> float:
    """Give by how much a hole is shallower than the job asks for [m]; 0 within what a rod is read to."""
    piers = plan.foundations.piers
    assert piers is not None
    short = one.bottom - (one.pier.ground_low - piers.spec.hole_depth)
    return short if short > 0.25 * M_PER_IN else 0.0


# Pads and slabs: the level wanted at each stake, and what to add or take there.


def _surface(plan: Plan, tops: Tops, stage: Stage, kind: str, level: float, tolerance: float) -> AsDug:
    found = plan.foundations
    built = found.pad if kind == "pad" else found.slab
    assert built is not None
    if kind == "pad" and stage == "bed":
        raise InputError([fault("setout-refused", variant="beds", file="--stage")])
    subgrade = words(plan.job.show.dialect)["subgrade"]
    wanted = subgrade if stage == "dug" else "top of base course"
    at_stakes = {
        stake.name: dict(stake.worked_to)[wanted]
        for stake in stakes_near(plan.job, plan.surface, plan.nearby, built, level)
        if stake.kind == f"{kind} corner" and wanted in dict(stake.worked_to)
    }
    least = level - found.pad.spec.gravel
    if kind == "slab":
        assert found.slab is not None
        under = level - found.slab.spec.thickness
        least = under if stage == "bed" else under - found.slab.spec.base
    points = tuple(
        _point(name, read, at_stakes, kind, least, tolerance) for name, read in tops.levels.items()
    )
    off = [point for point in points if point.wrong]
    told = list(tops.findings)
    if off:
        worst, show = max(off, key=lambda point: abs(point.off)), plan.job.show
        told.append(
            finding(
                "asdug-level-off",
                "warning",
                ", ".join(visible(point.name) for point in off[:8]),
                worst.off,
                tolerance,
                name=visible(worst.name),
                off=high_or_low(worst.off, show),
                allowed=allowed(tolerance, show),
            )
        )
    missing = tuple(name for name in at_stakes if name not in {_stake_name(n, kind) for n in tops.levels})
    return AsDug(plan, kind, stage, level, tolerance, None, points, {}, missing, (), tuple(told))


def _stake_name(name: str, kind: str) -> str:
    """Give the name of the stake that is meant: a bare number is that of a corner.

    >>> _stake_name("2", "pad"), _stake_name("PAD 2", "pad"), _stake_name("middle", "pad")
    ('pad 2', 'pad 2', 'middle')
    """
    plain = " ".join(name.split()).casefold()
    return f"{kind} {plain}" if plain.isdigit() else plain


def _point(
    name: str, read: float, at_stakes: Mapping[str, float], kind: str, least: float, tolerance: float
) -> DugPoint:
    stake = at_stakes.get(_stake_name(name, kind))
    wanted = least if stake is None else stake
    off = read - wanted
    # away from the stakes the ground may lie deeper, so only what is too high is wrong
    wrong = off > tolerance + 1e-9 or (stake is not None and off < -tolerance - 1e-9)
    return DugPoint(name, read, wanted, stake is not None, wrong)
