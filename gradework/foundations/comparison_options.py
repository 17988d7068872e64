"""Pad, piers and slab as options of a comparison, and the same ground made steeper."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from gradework.earthwork import Outline, Pieces
from gradework.earthwork.conditions import CompactedVolume
from gradework.earthwork.materials import DEFAULT_GRAVEL, Gravel
from gradework.earthwork.perimeter import sides
from gradework.foundations.comparison import CONCRETE_DENSITY, Amount, FloorHeight, Option
from gradework.foundations.gravelpad_edge import BoxedEdge
from gradework.foundations.gravelpad_plan import Pad
from gradework.foundations.gravelpad_spec import PadPrices
from gradework.foundations.pier_plan import Piers
from gradework.foundations.pier_spec import FloorBuildUp
from gradework.foundations.pier_words import count_of
from gradework.foundations.slab_plan import Slab
from gradework.ground import Surface, build_surface

if TYPE_CHECKING:
    from gradework.units import Display


def floor_heights(building: Outline, under: Pieces, floor: float) -> tuple[FloorHeight, ...]:
    """Give how high a floor [m] stands above the ground along each side of the building."""
    return tuple(
        FloorHeight(f"{s.start} to {s.end}", floor - float(s.ground.max()), floor - float(s.ground.min()))
        for s in sides(building, under)
    )


def option_of_piers(
    piers: Piers, building: Outline, show: Display, gravel: Gravel = DEFAULT_GRAVEL
) -> Option:
    """Give the piers as an option; without a common top it holds only the finding that says why."""
    if piers.top is None or piers.floor_level is None:
        return Option("block piers", None, None, {}, (), 0.0, (), piers.findings)
    prices = piers.prices
    bed = sum(pier.bed_volume for pier in piers.piers)
    kinds = {unit.name: unit for unit in piers.spec.units}
    counts = piers.units_by_kind()
    units_money = sum(kinds[name].price * count for name, count in counts.items())
    bed_mass = bed * gravel.compacted.value
    takes = {
        "digging": Amount(sum(pier.dig for pier in piers.piers), prices.digging),
        "gravel": Amount(bed, prices.gravel),
        "units": Amount(piers.units_total, units_money / max(1, piers.units_total)),
    }
    units = (count_of(count, name) for name, count in counts.items())
    buy = (*units, f"{show.mass(bed_mass)} of {gravel.name}")
    return Option(
        "block piers",
        piers.top,
        piers.floor_level,
        takes,
        buy,
        sum(pier.mass for pier in piers.piers) + bed_mass,
        floor_heights(building, piers.building, piers.floor_level),
        piers.findings,
    )


def option_of_pad(
    pad: Pad,
    prices: PadPrices,
    building: Outline,
    under: Pieces,
    show: Display,
    floor: FloorBuildUp | None = None,
) -> Option:
    """Give the pad as an option; the building stands on it with the floor build-up ``floor``, if any.

    A price not known counts as nothing. ``under`` is the ground of the building.
    """
    chosen, spec, edge = pad.chosen, pad.spec, pad.edge
    haul = (prices.haul or 0.0) * spec.swell * chosen.spoil
    takes = {
        "digging": Amount(chosen.excavation, prices.dig or 0.0, haul),
        "gravel": Amount(chosen.gravel, (prices.gravel or 0.0) * spec.density),
    }
    buy = [f"{show.mass(chosen.gravel_mass)} of {spec.material.name}"]
    if isinstance(edge, BoxedEdge):
        takes["edge boards"] = Amount(edge.face, prices.boards or 0.0)
        buy.append(f"{show.area(edge.face)} of edge boards")
    level = chosen.level + (floor.thickness if floor else 0.0)
    return Option(
        f"{edge.kind} gravel pad",
        chosen.level,
        level,
        takes,
        tuple(buy),
        chosen.gravel_mass,
        floor_heights(building, under, level),
        pad.findings,
    )


def option_of_slab(
    slab: Slab, building: Outline, under: Pieces, show: Display, gravel: Gravel = DEFAULT_GRAVEL
) -> Option:
    """Give the slab as an option, concrete bought the cheaper way; ``under``: the ground of the building."""
    prices, concrete = slab.prices, slab.concrete
    gravel_mass = slab.gravel * gravel.compacted.value
    soil = slab.spec.soil
    earth_mass = soil.bank.mass(soil.to_bank(CompactedVolume(slab.earth_brought)))
    saved = -slab.reused * prices.hauling  # what goes back as earth fill is not hauled away
    takes = {
        "digging": Amount(slab.dig, prices.digging, saved),
        "gravel": Amount(slab.gravel, prices.gravel),
    }
    if slab.earth > 0.0:
        takes["earth fill"] = Amount(slab.earth, slab.earth_loose * prices.earth / slab.earth)
    if concrete.cheaper == "bags":
        takes["concrete from bags"] = Amount(concrete.needed, concrete.bags_cost / concrete.needed)
        buy = [f"{concrete.bags} bags of {show.mass(prices.concrete.bag)} premix"]
        mass = concrete.bags_mass
    else:
        charge = prices.concrete.short_charge if concrete.short else 0.0
        takes["concrete from a truck"] = Amount(concrete.mix, prices.concrete.mix_price, charge)
        buy = [f"{show.volume(concrete.mix)} of ready-mix concrete"]
        mass = concrete.mix * CONCRETE_DENSITY
    for name, sheet, price in (("film", slab.film, prices.film), ("mesh", slab.mesh, prices.mesh)):
        if sheet is not None:
            takes[name] = Amount(sheet.area, price)
            buy.append(f"{sheet.pieces} x {sheet.kind.name}")
    face = sum(form.height * form.length for form in slab.forms)
    takes["form boards"] = Amount(face, prices.forms)
    if slab.earth_brought > 0.0:
        buy.append(f"{show.volume(slab.earth_loose)} of earth, loose")
    buy += [f"{show.mass(gravel_mass)} of {gravel.name}", f"{show.area(face)} of form boards"]
    return Option(
        "slab",
        slab.level,
        slab.level,
        takes,
        tuple(buy),
        mass + gravel_mass + earth_mass,
        floor_heights(building, under, slab.level),
        slab.findings,
    )


def steeper_ground(surface: Surface, under: Pieces, building: Outline, more: float) -> Surface:
    """Tilt the ground about the middle of the building so that it falls ``more`` [m] over the building's
    depth.

    It tilts the way it falls already; level ground tilts toward +x. Only the stations move, so breaks and
    humps stay.
    """
    points = under.corners.reshape(-1, 3)
    weight = np.repeat(under.areas / 3.0, 3)
    middle = (weight @ points) / weight.sum()
    spread = points - middle
    normal = (spread[:, :2] * weight[:, None]).T @ spread[:, :2]
    rise = np.linalg.solve(normal, (spread[:, :2] * weight[:, None]).T @ spread[:, 2])
    steep = float(np.hypot(*rise))
    up = rise / steep if steep > 1e-9 else np.array([-1.0, 0.0])
    depth = float(np.ptp(building.rings[0] @ up))
    centre = middle[:2] + under.origin
    stations = surface.stations
    xyz = np.array(stations.xyz)
    xyz[:, 2] += (xyz[:, :2] - centre) @ up * (more / depth)
    xyz.setflags(write=False)
    return build_surface(replace(stations, xyz=xyz))
