"""Where the rain of the roof goes, in words: gutters with their pipes, drip strips, drops on stone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from gradework.errors import visible
from gradework.errors import words as trade_words
from gradework.report.text import named
from gradework.units.amounts import flow_words
from gradework.units.display import counted

if TYPE_CHECKING:
    from gradework.sitework.roof_water import EaveWater, RoofWater
    from gradework.units.display import Display

OWN_STONE = {"pad": "the gravel of the pad", "piers": "the stone under the floor", "slab": "stone"}
"""What drops fall on that is there in any case."""


def roof_lines(roof: RoofWater | None, kind: str, show: Display) -> list[str]:
    """Tell where the rain off each eave goes, over the foundation of a ``kind``."""
    if roof is None:
        return []
    rows = [("Gutter", _gutter(one, roof.off, show)) for one in roof.of("gutter")]
    if strips := roof.of("drip strip"):
        rows.append(("Drip strip", _strip(roof, strips, show)))
    if roof.of("own stone"):
        what = OWN_STONE[kind]
        rows.append(("Drips", f"off the {roof.walls('own stone')} onto {what}: nothing more to buy"))
    return [line for name, text in rows for line in named(name, text)]


def roof_words(roof: RoofWater | None, show: Display) -> Iterator[str]:
    """Tell in a line each what is bought for the rain of the roof."""
    for one in () if roof is None else roof.of("gutter"):
        ends = "; ".join(show.place(*spout.end.tolist()) for spout in one.led)
        pipe = f", {show.distance(one.pipe)} of pipe to {ends}" if one.led else ""
        yield f"gutter on the {one.eave.wall.name}, {show.distance(one.eave.length)}{pipe}."
    if roof is not None and roof.of("drip strip"):
        yield f"drip strip of clean stone below the eaves of the {roof.walls('drip strip')}."


def _gutter(one: EaveWater, off: float, show: Display) -> str:
    toward = " and ".join(map(visible, one.toward))
    why = "as the job asks" if one.asked else f"since rain would run to {toward}"
    name = trade_words(show.dialect)["downspout"]
    text = f"on the {one.eave.wall.name}, {show.distance(one.eave.length)}, {why}; "
    text += counted(len(one.spouts), f"{name}s")
    for spout in one.led:
        (x, y, high), (end_x, end_y, low) = spout.rows[[0, -1]].tolist()
        text += (
            f"; {show.distance(spout.pipe)} of {show.depth(spout.size)} solid pipe, its bottom at "
            f"{show.elevation(high)} where it goes into the ground, {show.place(x, y)}, and at "
            f"{show.elevation(low)} where it comes out, {show.place(end_x, end_y)}"
        )
    flow = one.flow
    text += f"; the heaviest rain brings {flow_words(flow.flow, us=show.us)} to each"
    if one.lost:
        return f"{text}. No pipe comes out on your survey toward nobody: lead it away by hand"
    carried = f", the pipe carries {flow_words(flow.most, us=show.us)}"
    keep = f". Keep its end {show.distance(off)} from the walls, a grate on it, on your own ground"
    return text + carried + keep


def _strip(roof: RoofWater, strips: Sequence[EaveWater], show: Display) -> str:
    why = ", as the job asks" if any(one.asked for one in strips) else ""
    return (
        f"below the eaves of the {roof.walls('drip strip')}{why}: {show.area(roof.area)} of clean stone, "
        f"{show.depth(roof.deep)} deep on fabric, its middle {show.depth(strips[0].eave.out)} out from the "
        f"wall and its top level with the ground: {show.volume(roof.stone)}, and as much to dig. It keeps "
        f"drops from washing the soil out and from splashing on the wall; it does not drain"
    )
