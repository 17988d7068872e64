"""What rain does near the building, as a part of the record: ponds, the ways of a few drops, catchments."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gradework.exchange.written import sure, written

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gradework.sitework.drains import Catchment
    from gradework.sitework.rain import Rain, Run, Standing

_CATCHMENT = (("kind", "kind"), ("where", "where"), ("area", "area_m2"), ("least", "at_least"))


def rain_record(rain: Rain, catchments: tuple[Sequence[Catchment], Sequence[Catchment]]) -> dict[str, Any]:
    """Write both grounds; ``after`` is null where the ground stays as it is."""
    runs, (now, then) = rain.runs or ((),), catchments
    after = None if rain.after is None else _scene(rain.after, runs[-1], then)
    return {"before": _scene(rain.before, runs[0], now), "after": after}


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
