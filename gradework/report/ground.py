"""The ground in words, and cut and fill at a level."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, cast

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.grading.led import NAMES, STAKE
from gradework.errors import visible
from gradework.foundations.checks.check import ONE_READING
from gradework.report.text import named
from gradework.sitework.heaped import heaped
from gradework.units.amounts import flow_words
from gradework.units.display import Display, fixed

if TYPE_CHECKING:
    from gradework.earthwork.footprint import Line, Place
    from gradework.earthwork.grading.capacity import Flow
    from gradework.earthwork.grading.drain import Drain
    from gradework.earthwork.grading.led import Led
    from gradework.earthwork.grading.plain import PlainApron
    from gradework.earthwork.grading.swale import Swale
    from gradework.earthwork.likely import Band
    from gradework.earthwork.volumes import CutFill
    from gradework.foundations.pad.likely import PadSpread
    from gradework.foundations.slab.likely import SlabSpread
    from gradework.ground.contours import Spot
    from gradework.ground.spread.left_out import LeftOut
    from gradework.project.cutfill import PlainCutFill
    from gradework.project.plan import Plan
    from gradework.sitework.from_beyond import FromBeyond
    from gradework.sitework.past_walls import WallMeasure


_COMPASS = (
    "along x",
    "toward +x and +y",
    "along y",
    "toward -x and +y",
    "against x",
    "toward -x and -y",
    "against y",
    "toward +x and -y",
)

FOLDS = "a square of the grid can fold along either diagonal"
OPEN = "ground between the shots, depth of topsoil, density of the stone"
"""Why volumes between shots are not sharper."""

MOST_LINES = 8
"""Of an outline with more sides only the ones that fall or rise most are told."""


def ground_lines(plan: Plan) -> list[str]:
    """Tell the site's high and low spot, then the ground under the building: its ends, falls, slope."""
    show, shape, under = plan.stations.ground, plan.shape, plan.footprint
    slope = slope_words(under.slope, under.downhill_degrees, show)
    rows = [
        ("High spot", _spot(shape.high, show)),
        ("Low spot", _spot(shape.low, show)),
        ("Drop", f"{show.elevation(shape.relief)} from the high spot to the low spot"),
        ("Building", f"{show.area(under.area)} of ground"),
        ("  highest", _place(under.high_at, show)),
        ("  lowest", _place(under.low_at, show)),
        ("  fall", f"{show.elevation(under.fall)} in all; {slope}"),
        ("  sides", falls(under.sides, show)),
        ("  across", falls(under.diagonals, show)),
        ("Curved", curved_words(plan.left_out, plan.job.show)),
    ]
    return [line for name, text in rows if text for line in named(name, text)]


CLEARLY = 0.1
"""[-] A curved surface that misses shots by less than this part less is not better."""


def curved_words(found: LeftOut | None, show: Display) -> str:
    """Say where a curved surface foretells shots that are left out clearly better, "" elsewhere.

    >>> from gradework.ground.spread.left_out import LeftOut
    >>> from gradework.units.display import METRIC
    >>> curved_words(LeftOut(40, 0.02, 0.019), METRIC), curved_words(LeftOut(40, 0.0, 0.0), METRIC)
    ('', '')
    """
    if found is None or found.straight <= 0.0 or found.curved > (1.0 - CLEARLY) * found.straight:
        return ""
    less = 100.0 * (1.0 - found.curved / found.straight)
    return (
        f"of {found.shots} shots left out one by one a curved surface misses each by "
        f"{show.error(found.curved)} (root mean square), the straight one by {show.error(found.straight)}: "
        f"{fixed(less, 0)} % less. All volumes are those of the straight one"
    )


def _spot(spot: Spot, show: Display) -> str:
    return f"{visible(spot.station)}, {show.elevation(spot.elevation)}, at {show.place(spot.x, spot.y)}"


def _place(place: Place, show: Display) -> str:
    return f"{show.elevation(place.elevation)}, at {show.place(place.x, place.y)}"


def falls(lines: Sequence[Line], show: Display) -> str:
    """Say how the ground falls along each line; of many lines only the steepest.

    >>> from gradework.earthwork.footprint import Line
    >>> from gradework.units.display import FEET
    >>> falls([Line("corner 1", "corner 2", 4.8, 0.4572), Line("corner 2", "corner 3", 3.6, 0.0)], FEET)
    'corner 1 to 2 falls 1.50 ft; corner 2 to 3 is level'
    """
    told = list(lines)
    more = ""
    if len(told) > MOST_LINES:
        told = sorted(told, key=lambda line: -abs(line.fall))[:MOST_LINES]
        more = f"; the other {len(lines) - MOST_LINES} fall or rise less"
    return "; ".join(_fall(line, show) for line in told) + more


def _fall(line: Line, show: Display) -> str:
    way = "is level"
    if not show.is_rounding(line.fall):
        way = f"{'falls' if line.fall > 0 else 'rises'} {show.elevation(abs(line.fall))}"
    return f"{line.start} to {line.end.removeprefix('corner ')} {way}"


def slope_words(slope: float, downhill_degrees: float, show: Display) -> str:
    """Say how steep the ground is and which way it falls.

    >>> from gradework.units.display import FEET
    >>> slope_words(0.091, 2.0, FEET)
    'slope 9.1 %, downhill along x (2° from the x axis)'
    """
    if show.slope(slope) == show.slope(0.0) or math.isnan(downhill_degrees):
        return "nearly level"
    degrees = round(downhill_degrees) % 360
    way = _COMPASS[round(degrees / 45) % 8]
    return f"slope {show.slope(slope)}, downhill {way} ({degrees}° from the x axis)"


def cutfill_text(result: PlainCutFill) -> str:
    """Tell one level in lines, several as a table; cut is soil in place, fill is compacted."""
    show = result.show
    over = "all of the survey, " if result.whole else ""
    one = len(result.answers) == 1
    text = _one(result.answers[0], show, over) if one else _table(result.answers, show, over)
    return "\n".join([text, *_spread_lines(result)])


def band_words(band: Band, show: Display) -> str:
    """Say between which figures a volume lies 8 times in 10.

    >>> from gradework.earthwork.likely import Band
    >>> from gradework.units.display import METRIC
    >>> band_words(Band(1.9, 2.0, 2.2), METRIC)
    '1.90 to 2.20 m³'
    """
    low, high = show.volume_number(band.p10), show.volume_number(band.p90)
    return f"{low} to {high} {show.volume_unit}"


def sure_words(spread: PadSpread | SlabSpread, show: Display) -> str:
    """Say how sure dig and gravel are."""
    dig, gravel = (band_words(band, show) for band in (spread.excavation, spread.gravel))
    return f"dig {dig}, gravel {gravel}, 8 times in 10 ({OPEN})"


def shots_words(spread: PadSpread, show: Display) -> str:
    """Name the shots that would narrow the gravel most, with what each saves."""
    return "; ".join(f"{show.place(one.x, one.y)} saves {show.volume(one.saves)}" for one in spread.shots)


def _spread_lines(result: PlainCutFill) -> Iterator[str]:
    """Tell how sure cut, fill and net are, level by level, where it was asked for."""
    show = result.show
    if result.spreads:
        yield "How sure, from the shots: 1 in 10 is less, half are less, 9 in 10 are less:"
    for answer, spread in zip(result.answers, result.spreads, strict=bool(result.spreads)):
        if len(result.spreads) > 1:
            yield f"  level {show.elevation(answer.level)}"
        for name, band in (("cut", spread.cut), ("fill", spread.fill), ("net", spread.net)):
            yield f"  {name:<5} " + "  ".join(f"{show.volume(v):>12}" for v in (band.p10, band.p50, band.p90))


def _one(answer: CutFill, show: Display, over: str) -> str:
    level = show.elevation(answer.level)
    lines = [f"A level plane at {level} over {over}{show.area(answer.area)}:"]
    if show.volume_number(answer.cut + answer.fill) == show.volume_number(0.0):
        return "\n".join([*lines, "  no cut, no fill: the ground is at this level already"])
    net = "more cut than fill" if answer.net > 0 else "more fill than cut"
    if show.volume_number(answer.net) == show.volume_number(0.0):
        net = "cut and fill are equal"
    mean = "above" if answer.mean_depth > 0 else "below"
    if show.elevation_number(answer.mean_depth) == show.elevation_number(0.0):
        mean = "at"
    rows = [
        ("cut", f"{show.volume(answer.cut)} in place", f"over {show.area(answer.cut_area)}"),
        ("fill", f"{show.volume(answer.fill)} compacted", f"over {show.area(answer.fill_area)}"),
        ("net", show.volume(abs(answer.net)), net),
        ("mean", show.elevation(abs(answer.mean_depth)), f"on average the ground is {mean} this level"),
    ]
    width = max(len(row[1]) for row in rows)
    lines += [f"  {name:<5} {value:<{width}}  {words}".rstrip() for name, value, words in rows]
    if show.volume_number(answer.doubt) != show.volume_number(0.0):
        lines.append(f"  +/- {show.volume(answer.doubt)}  {FOLDS}")
    return "\n".join(lines)


def _table(answers: tuple[CutFill, ...], show: Display, over: str) -> str:
    area, volume = show.area_unit, show.volume_unit
    doubtful = any(show.volume_number(a.doubt) != show.volume_number(0.0) for a in answers)
    columns: list[tuple[str, Iterable[str]]] = [
        (show.heading("level"), (show.elevation_number(a.level) for a in answers)),
        (f"cut ({volume})", (show.volume_number(a.cut) for a in answers)),
        (f"fill ({volume})", (show.volume_number(a.fill) for a in answers)),
        (f"net ({volume})", (show.volume_number(a.net) for a in answers)),
        (f"in cut ({area})", (show.area(a.cut_area).removesuffix(f" {area}") for a in answers)),
        (f"in fill ({area})", (show.area(a.fill_area).removesuffix(f" {area}") for a in answers)),
    ]
    if doubtful:
        columns.append((f"+/- ({volume})", (show.volume_number(a.doubt) for a in answers)))
    table = [[head, *cells] for head, cells in columns]
    widths = [max(map(len, column)) for column in table]
    lines = ["  ".join(map(str.rjust, row, widths)) for row in zip(*table, strict=True)]
    area_of_all = f"{over}{show.area(answers[0].area)}"
    title = f"Level planes over {area_of_all}; cut in place, fill compacted, net = cut - fill:"
    return "\n".join([title, *lines, *([f"+/-: {FOLDS}"] if doubtful else [])])


def counted_names(names: Sequence[str]) -> str:
    """Name things, more of a kind in the plural.

    >>> counted_names(["swale"]), counted_names(["swale", "pipe drain", "swale"])
    ('swale', 'swales and pipe drain')
    """
    each = {name: sum(one == name for one in names) for name in names}
    return " and ".join(name + "s" * (count > 1) for name, count in each.items())


def led_rows(plan: Plan, kind: str, own: float) -> list[tuple[str, str]]:
    """Tell each thing that would lead water past a pad or slab, which itself takes ``own`` [m³] of digging:
    where, how deep, how much to dig, where it ends."""
    show, air = plan.job.show, plan.airborne
    beyond = {one.measure.where: _beyond(one, show) for one in (air.measures.get(kind, ()) if air else ())}
    return [
        row
        for measure in plan.foundations.measures_of(kind)
        for row in (*_led(measure, own, show, beyond.get(measure.where)), *_costs(measure, plan))
    ]


def _beyond(one: FromBeyond, show: Display) -> str:
    """Say how much comes with what airborne ground brings from beyond the survey."""
    least, most = "at least " if one.more else "", max(flow.flow for flow in one.flows)
    sd = f"airborne ground, ± {show.depth(one.sd)}"
    return f"with what comes from beyond the survey, by {sd}, {least}{flow_words(most, us=show.us)} in all"


_PASSED = {
    "does not fit": "no swale fits there",
    "does not come out": "a swale does not come out on your survey",
    "is not clear": "a swale would run at what stands near",
    "cures fewer walls": "a swale helps fewer walls",
    "costs more": "a swale costs more",
}


def _led(measure: WallMeasure, own: float, show: Display, beyond: str | None = None) -> list[tuple[str, str]]:
    made, flow, built = measure.made, measure.flow, measure.run.pad.name
    if made is not None and made.kind == "plain_apron":
        return _plain(measure, cast("PlainApron", made), show)
    if made is None or flow is None:
        return [("Swale", f"none fits past the {measure.where}, and no pipe drain")]
    text = f"to divert the water past the {measure.where}: "
    if made.kind != "drain":
        text += _swale(measure, cast("Swale", made), show)
    else:
        text += _drain(cast("Drain", made), built, show)
    if measure.passed:
        text += f"; {_PASSED[measure.passed]}"
    least = "" if made.daylights and made.bank_leaves is None else "at least "
    dig = f"{least}{show.volume(made.cut)} in place, besides the {built}"
    if measure.dug is None:
        dig += "; not in the order, the cost or the hours, since where it ends is not known"
    if made.fill > 0.0 and show.volume_number(made.fill) != show.volume_number(0.0):
        dig += f"; {least}{show.volume(made.fill)} of fill beside the {built}"
        dig += " and over the solid pipe" if made.solid else ""
        dig += _soil(measure, made, show)
    if made.cut > own:
        dig += f". That is more digging than the {built} ({show.volume(own)}); "
        dig += f"a higher {built} may need less of it"
    rows = [
        (NAMES[made.kind].capitalize(), text),
        ("  dig", dig),
        ("  bottom", "; then ".join(_levels(bends, show) for bends in made.bends)),
    ]
    if len(made.outlets):
        keep = "keep it on your own ground, clear of a septic field or a well"
        rows.append(("  comes out", f"{_levels(made.outlets, show)}; {keep}"))
    if made.daylights:
        rows.append(("  with it", _cures(measure, made)))
    if flow.flow <= flow.most:
        rows.append(("  carries", _carries(measure, flow, show, beyond)))
    return rows


def _plain(measure: WallMeasure, made: PlainApron, show: Display) -> list[tuple[str, str]]:
    """Tell of soil that is only heaped."""
    built, left = measure.run.pad.name, measure.run.pad.level - made.start
    text = (
        f"too flat for a swale past the {measure.where}: heap soil against the {built} there, up to "
        f"{show.elevation(made.start)}, {show.depth(left)} below its top ({show.depth(made.raised)} above "
        f"the ground), falling {show.slope(made.slope)} away from it over {show.distance(made.offset)}, then "
        f"{measure.run.swale.side:g}:1 down to the ground; tamp it in layers"
    )
    soil = f"{show.volume(made.fill)} of fill beside the {built}{_soil(measure, made, show)}"
    cures = "the ground falls away from these walls as the rule asks; water runs on round its foot"
    if set(measure.walls) - set(measure.cured):
        cures = _cures(measure, made)
    return [
        (NAMES[made.kind].capitalize(), text),
        ("  soil", soil),
        ("  foot", _levels(np.array([one.place for one in made.stations(STAKE)]), show)),
        ("  with it", cures),
    ]


def _soil(measure: WallMeasure, made: Led, show: Display) -> str:
    """Say where the soil comes from, where more is heaped than is dug."""
    prices = measure.run.prices
    if prices is None:
        return ""
    soil = heaped([made], prices.compaction, prices.spare)
    parts = [f"{show.volume(soil.pad)} of the soil from the {measure.run.pad.name}"] if soil.pad > 0.0 else []
    parts += [f"{show.volume(soil.bought)} more to buy"] if soil.bought > 0.0 else []
    return f", which takes {' and '.join(parts)}" if parts else ""


def _swale(measure: WallMeasure, made: Swale, show: Display) -> str:
    spec, built = measure.run.swale, measure.run.pad.name
    start, offset = show.elevation(made.route.crest[1]), show.distance(made.offset)
    near, far, reach = show.slope(spec.near), show.slope(spec.far), show.distance(spec.reach)
    heap = "" if made.kind == "swale" else _heap(measure, made, show)
    text = (
        f"{heap}{show.distance(made.length)} long, {offset} out "
        f"from the edge of the {built}, up to {show.depth(made.deepest)} deep, sides {spec.side:g}:1; the "
        f"bottom starts at {start} and falls {near}, past {reach} from the building {far}; between it and "
        f"the {built} a strip at least {show.depth(spec.bench)} wide falls {show.slope(spec.bench_fall)}"
    )
    stone = f"; its bottom is lined with {show.volume(made.stone)} of clean stone over fabric"
    return text + (stone if made.stone else "")


def _heap(measure: WallMeasure, made: Swale, show: Display) -> str:
    """Say how high soil is heaped against the edge."""
    left = measure.run.pad.level - made.route.start
    top = "to its top" if left < ONE_READING else f"to {show.depth(left)} below its top"
    return (
        f"heap soil against the {measure.run.pad.name}, {top} ({show.depth(made.raised)} above the ground "
        f"there), falling {show.slope(measure.run.swale.bench_fall)} away from it; tamp it in layers. Along "
        f"its foot a shallow swale, "
    )


def _costs(measure: WallMeasure, plan: Plan) -> Iterator[tuple[str, str]]:
    """Say what it costs, and what the next cheapest would that does as well."""
    if measure.other is None:
        return
    kind, money = measure.other
    made_up = " (made-up prices)" if plan.foundations.invented else ""
    currency = f" {plan.job.prices.currency}" if plan.job.prices.currency else ""
    article = "an" if kind == "apron" else "a"
    yield (
        "  costs",
        f"{fixed(measure.money, 0)}{currency}; {article} {NAMES[kind]} there {fixed(money, 0)}{made_up}",
    )


def _drain(made: Drain, built: str, show: Display) -> str:
    spec = made.spec
    return (
        f"{show.distance(made.pipe)} of trench {show.depth(spec.width)} wide, its middle "
        f"{show.distance(made.offset)} out from the edge of the {built}, with {show.volume(made.stone)} of "
        f"clean stone up to the surface, fabric round the stone, a {show.depth(spec.pipe)} perforated pipe, "
        f"then {show.distance(made.solid)} of solid pipe; the pipe falls {show.slope(spec.fall)}, its bottom "
        f"lies up to {show.depth(made.deepest)} below the ground; the strip between {built} and stone falls "
        f"{show.slope(spec.bench_fall)}. Keep leaves and soil off the stone, or it closes"
    )


def _carries(measure: WallMeasure, flow: Flow, show: Display, farther: str | None) -> str:
    beyond = f"the {show.area(measure.catchment)} of surveyed ground that drain to it"
    least = "at least" if len(measure.above) else "up to"
    rain = (
        f"the heaviest rain brings {least} {flow_words(flow.flow, us=show.us)} from the roof and {beyond}: "
    )
    deep = f"{show.depth(flow.depth)} deep"
    if flow.depth == 0.0:
        deep = f"the pipe carries {flow_words(flow.most, us=show.us)}"
    more = farther or "more may come from beyond the survey"
    return f"{rain}{deep}{f'; {more}' if len(measure.above) else ''}"


def _cures(measure: WallMeasure, made: Led) -> str:
    """Say from which walls the ground then falls as it should."""
    left = [wall for wall in measure.walls if wall not in measure.cured]
    if not left:
        return f"the ground falls away from these walls as the rule asks, out to the {made.kind}"
    return f"the ground still falls too little from the {' and the '.join(left)}: grade it by hand there"


def _levels(places: NDArray[np.float64], show: Display) -> str:
    """Say how high each place (n, 3) of a line is to be."""
    return "; ".join(f"{show.elevation(z)} at {show.place(x, y)}" for x, y, z in places.tolist())
