"""What rain does near the building, as a part of the record: ponds, the ways of a few drops, catchments;
and the airborne ground around."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gradework.exchange.written import known, sure, written

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gradework.project.airborne import AirborneGround
    from gradework.sitework.drains import Catchment
    from gradework.sitework.from_beyond import FromBeyond
    from gradework.sitework.rain import Rain, Run, Standing

_CATCHMENT = (
    ("kind", "kind"),
    ("where", "where"),
    ("area", "area_m2"),
    ("least", "at_least"),
    ("surveyed", "surveyed_m2"),
)


def rain_record(rain: Rain, catchments: tuple[Sequence[Catchment], Sequence[Catchment]]) -> dict[str, Any]:
    """Write both grounds; ``after`` is null where the ground stays as it is."""
    runs, (now, then) = rain.runs or ((),), catchments
    after = None if rain.after is None else _scene(rain.after, runs[-1], then)
    return {"before": _scene(rain.before, runs[0], now), "after": after}


def airborne_record(ground: AirborneGround | None) -> dict[str, Any]:
    """Write how airborne ground fits the shots, and what of it comes to what is dug; empty without any."""
    if ground is None:
        return {}
    air, beside = ground.air, ground.beside
    return {
        "file": ground.file,
        "used": ground.beyond is not None,
        "heights_in": air.unit,
        "points": air.read,
        "square_m": air.square,
        "sd_m": ground.sd,
        "at_shots": beside.met,
        "shift_m": known(beside.shift if beside.met else None),
        "rough_m": known(beside.rough if beside.met else None),
        "measures": [_from_beyond(kind, one) for kind, found in ground.measures.items() for one in found],
    }


def _from_beyond(kind: str, one: FromBeyond) -> dict[str, Any]:
    return {
        "foundation": kind,
        "where": one.measure.where,
        "area_m2": sure(one.areas[0]),
        "surveyed_m2": sure(one.measure.catchment),
        "at_least": one.more,
        "most_m3_per_s": sure(max(flow.flow for flow in one.flows)),
        "carries_m3_per_s": sure(one.flows[0].most),
        "carried": one.carried,
    }


def _scene(ponds: Sequence[Standing], runs: Sequence[Run], areas: Sequence[Catchment]) -> dict[str, Any]:
    return {
        "ponds": [_pond(one) for one in ponds],
        "ways": [_way(one) for one in runs],
        "catchments": [written(one, _CATCHMENT) for one in areas],
    }


def _pond(one: Standing) -> dict[str, Any]:
    pond = one.pond
    return {
        "level_m": sure(pond.level),
        "depth_m": sure(pond.depth),
        "area_m2": sure(pond.area),
        "volume_m3": sure(pond.volume),
        "off_walls_m": sure(one.off),
        "lowest_m": [sure(value) for value in pond.lowest],
        "spill_m": [sure(value) for value in pond.spill],
    }


def _way(one: Run) -> dict[str, Any]:
    """Write one way: each leg falls; a new one begins where a full hollow runs over."""
    legs = [[[sure(value) for value in place] for place in leg.tolist()] for leg in one.legs]
    return {"comes": one.comes, "drained": one.drained, "ponds": one.ponds, "legs_m": legs}
