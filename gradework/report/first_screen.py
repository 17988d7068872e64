"""What a plan says first, on one screen: can it be built, how high, what to dig and to buy, what is wrong.

All of it, with every pier and every finding, is told by ``report/plan.py``.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from gradework.earthwork.grading.led import NAMES
from gradework.errors import Finding, visible
from gradework.foundations.checks.wall_strips import walls_named
from gradework.project.gate_told import condition, reasons
from gradework.project.specs import PRICED
from gradework.report.answer import MOST, Kind, Part, fit
from gradework.report.ground import led_dig
from gradework.report.instead import beside_words, better_part, instead_parts
from gradework.report.plan import KINDS, NOTHING, anyway_words, finding_text, first_sentence
from gradework.report.roof import roof_words
from gradework.report.soil import soil_words
from gradework.report.text import columns
from gradework.sitework.drainage import BAD, WALL_CODES, told_source, worst_first
from gradework.sitework.order import often
from gradework.units.display import counted, fixed

if TYPE_CHECKING:
    from gradework.foundations.checks.wall_falls import WallFall
    from gradework.foundations.piers.plan import Piers
    from gradework.project.plan import Plan
    from gradework.sitework.drainage import Drainage
    from gradework.sitework.order import OrderLine
    from gradework.units.display import Display


_TOO_SHORT = "drainage-survey-too-short"
_LONGEST_NAME = 30


def answer(
    plan: Plan, *, told: Sequence[Finding] = (), files: str = "", then: str = "", notes: bool = False
) -> str:
    """Tell a plan in at most 24 lines as wide as the terminal.

    ``told`` is found beside the plan, as by its drawings; ``files`` says where all of it is and ``then`` what
    to do next where nothing stops it, "" leaves each out; ``notes``: they came without a job.
    """
    lines = fit(parts_of(plan, told, files, then, notes), width=columns())
    also = _also(plan) if notes else ""
    return "\n".join([*lines, also] if also and len(lines) < MOST and len(also) <= columns() else lines)


def _also(plan: Plan) -> str:
    """Where no job was written and a line is left: what else could be said of this yard, and where."""
    others = " or ".join(f"--{kind}" for kind in KINDS if kind not in plan.foundations.asked)
    near = "[[site.near]] in job.toml for what is near"
    return f"{'Also':<9}{f'{others} to compare; ' if others else ''}{near}"


def verdict_and_stops(plan: Plan) -> str:
    """Tell only whether it can be built, and what stops it."""
    stops = (part for part in stop_parts(plan) if part.kind != "warning")
    return "\n".join(fit([verdict_part(plan, _name(plan)), *stops], width=columns()))


def parts_of(
    plan: Plan, told: Sequence[Finding] = (), files: str = "", then: str = "", notes: bool = False
) -> list[Part]:
    """Everything that is worth a line, in the order of reading; as ``answer`` takes it."""
    stops = stop_parts(plan)
    # where something stops it nobody digs yet
    caution = Part("trust" if stops else "caution", CAUTION, CAUTION_SHORT, label="Care")
    parts = [
        verdict_part(plan, _name(plan), told),
        *stops,
        *instead_parts(plan, notes=notes),
        *_level(plan),
        *_dig(plan),
        *_soil(plan),
    ]
    parts += [*order_parts(plan), *_cost(plan)]
    if not any(stop.code in WALL_CODES for stop in stops):
        parts += _water(plan)
    parts += [*warning_parts([*plan.findings, *told]), *_survey(plan), caution]
    parts += [_told("trust", note) for note in told if note.severity == "note"]
    parts += better_part(plan)
    parts += [Part("files", files, label="Files")] if files else []
    if then:
        parts.append(Part("next", f"gradework explain {stops[0].code}" if stops else then, label="Next"))
    return parts


CAUTION = "Have buried pipes and cables located before you dig. Local code, permit and frost rules decide."
CAUTION_SHORT = "Have buried lines located before you dig; local code decides."


# Can it be built? What the gate says of the foundation that is chosen.


def verdict(findings: Sequence[Finding]) -> tuple[str, str]:
    """Say whether it can be built, to go on after a name; then the same in fewer words.

    >>> verdict([])
    ('buildable as drawn.', 'buildable as drawn.')
    """
    count = sum(finding.severity == "stop" for finding in findings)
    if count:
        things = "one thing stops" if count == 1 else f"{count} things stop"
        return f"not buildable as drawn, {things} it:", "not buildable as drawn:"
    warnings = sum(finding.severity == "warning" for finding in findings)
    if not warnings:
        return "buildable as drawn.", "buildable as drawn."
    read = _read(warnings)
    return f"buildable as drawn, but {read} first.", f"buildable, but {read} first."


def _read(warnings: int) -> str:
    return "read the warning" if warnings == 1 else f"read the {warnings} warnings"


def verdict_part(plan: Plan, name: str, told: Sequence[Finding] = ()) -> Part:
    """Say behind ``name`` what the gate says of the foundation that is chosen, or what stops it."""
    findings = (*plan.findings, *told)
    own, what = plan.judged, KINDS[plan.foundations.chosen]
    what += "" if own is None else beside_words(own)
    if any(finding.severity == "stop" for finding in findings):
        if own is None or own.buildable:
            whole, brief = verdict(findings)
            return Part("verdict", f"{name}: {whole}", brief.capitalize())
        why = f"{what} not buildable as drawn: {reasons(own)}."
        return Part("verdict", f"{name}: {why}", f"{why[:1].upper()}{why[1:]}")
    ifs = conditions(plan)
    able = f"{what} can be built{', ' if ifs else ''}{ifs}"
    warnings = sum(finding.severity == "warning" for finding in findings)
    able += f"; {_read(warnings)}." if warnings else "."
    return Part("verdict", f"{name}: {able}", f"{able[:1].upper()}{able[1:]}")


def conditions(plan: Plan) -> str:
    """Say of the foundation that is chosen what could not be checked, as one phrase; "" where nothing is."""
    return "" if plan.judged is None else condition(plan.judged)


def able_words(plan: Plan) -> str:
    """Say that the foundation that is chosen can be built, with what is dug beside it, without its ifs."""
    what = KINDS[plan.foundations.chosen] + ("" if plan.judged is None else beside_words(plan.judged))
    return f"{what[:1].upper()}{what[1:]} can be built."


def _name(plan: Plan) -> str:
    return visible(plan.job.name, _LONGEST_NAME)


def stop_parts(plan: Plan) -> list[Part]:
    """Tell each finding that stops it; of walls that stop it a line each, with what they are held against."""
    stops = [finding for finding in plan.findings if finding.severity == "stop"]
    told = [_told("stop", finding) for finding in stops if finding.code not in WALL_CODES]
    if len(told) < len(stops):
        told += _water(plan)
    return told


def _told(kind: Kind, finding: Finding, more: int = 0) -> Part:
    text, first = finding_text(finding), finding_text(finding, first_sentence(finding.advice))
    if more:
        places = f" (and {more} more {'place' if more == 1 else 'places'}) ["
        text, first = (places.join(told.rsplit(" [", 1)) for told in (text, first))
    return Part(kind, text, first, code=finding.code)


# What is built, at which level, what is dug.


def _level(plan: Plan) -> Iterator[Part]:
    show, found = plan.job.show, plan.foundations
    if found.chosen == "piers":
        yield from _piers(plan, found.piers)
    elif found.chosen == "slab" and found.slab is not None:
        slab = found.slab
        what = f"Slab {show.depth(slab.spec.thickness)} thick, top at {show.elevation(slab.level)}"
        yield Part("level", f"{what}, {_seen_from(plan, slab.level)}.")
    else:
        chosen = found.pad.chosen
        what, seen = f"Gravel pad, level {show.elevation(chosen.level)}", _seen_from(plan, chosen.level)
        yield Part("level", f"{what} ({chosen.rule}), {seen}.", f"{what}, {seen}.")


def _piers(plan: Plan, piers: Piers | None) -> Iterator[Part]:
    show = plan.job.show
    if piers is None or piers.top is None or piers.floor_level is None:
        return
    tops = f"{counted(len(piers.piers), 'block piers')}, tops at {show.elevation(piers.top)}"
    seen, floor = _seen_from(plan, piers.top), f"floor at {show.elevation(piers.floor_level)}"
    yield Part("level", f"{tops}, {seen}; {floor}.", f"{tops}, {seen}.")


def _seen_from(plan: Plan, level: float) -> str:
    """Say how far a level is above or below what can be seen in the yard: a mark, and the ground."""
    marks = [mark for mark in plan.benchmarks if mark.basis != "levelled"]
    told = [
        _from(level - mark.elevation, f"the top of {visible(mark.name, _LONGEST_NAME)}", plan.job.show)
        for mark in marks[:1]
    ]
    ring = plan.building.rings[0]
    ground = plan.surface.elevation(ring)
    highest = int(ground.argmax())
    place = f"ground at the uphill corner ({plan.building.names[highest]})"
    return ", ".join([*told, _from(level - float(ground[highest]), place, plan.job.show)])


def _from(height: float, place: str, show: Display) -> str:
    far = show.depth(abs(height))
    if far == show.depth(0.0):
        return f"level with {place}"
    return f"{far} {'above' if height > 0.0 else 'below'} {place}"


def _dig(plan: Plan) -> Iterator[Part]:
    show, found = plan.job.show, plan.foundations
    if found.chosen == "piers":
        if found.piers is not None and found.piers.piers:
            piers = found.piers.piers
            sizes = dict.fromkeys(" x ".join(map(show.depth, pier.hole_size)) for pier in piers)
            low, high = (show.depth(pick(pier.depth for pier in piers)) for pick in (min, max))
            deep = f"{low} deep" if low == high else f"{low} to {high} deep"
            holes = f"{counted(len(piers), 'holes')} {' or '.join(sizes)}, {deep} at the low side"
            text = f"{show.volume(found.piers.dug)} in place{led_dig(plan, 'piers')}"
            yield Part("dig", f"{text}; {holes}", label="Dig")
        return
    spoil, beside = plan.order.spoil, led_dig(plan, found.chosen)
    if found.chosen == "slab" and found.slab is not None:
        text = f"{show.volume(found.slab.dig)} in place{beside}"
    else:
        chosen = found.pad.chosen
        text = f"{show.volume(chosen.dug)} in place"
        if chosen.deepest_cut > 0.0:
            text += f", {show.depth(chosen.deepest_cut)} at the deepest"
        text += beside
    short = text
    if spoil is not None and plan.soil is None:
        text += f"; {show.volume(spoil.loose.m3)} in the pile (loose)"
        text += "".join(f", {counted(one.count, f'{one.carrier.name} loads')}" for one in spoil.loads[:1])
    yield Part("dig", text, short, label="Dig")


def _soil(plan: Plan) -> Iterator[Part]:
    """Say where the soil goes that is left over."""
    if text := soil_words(plan):
        yield Part("dig", text, text.replace(" below the building", ""), label="Soil")


# What to buy, and for how much.


def order_parts(plan: Plan) -> Iterator[Part]:
    """A line for each thing; boards of several lengths are one. Where nothing is ordered, say why."""
    if said := anyway_words(plan):
        yield Part("stop", said, label="Anyway")
    if plan.held_back:
        yield Part("order", NOTHING, label="Order", weight=math.inf)
    things: dict[tuple[str, str], list[OrderLine]] = {}
    for line in plan.order.lines:
        things.setdefault((line.item.partition(",")[0], line.unit), []).append(line)
    amounts = [counted(sum(line.quantity for line in some), some[0].unit) for some in things.values()]
    width = max(map(len, amounts), default=0)
    for amount, ((name, _), some) in zip(amounts, things.items(), strict=True):
        kinds = [f"{line.quantity:g} of {line.item.partition(', ')[2]}" for line in some]
        whole = some[0].item if len(some) == 1 else f"{name}: {', '.join(kinds)}"
        if plan.job.show.us and "tons" in some[0].unit:
            whole += " (tons of 2,000 lb)"
        if some[0].chance is not None:
            whole += f", enough {often(some[0].chance)}"
        first, weight = f"{amount:<{width}}  ", sum(line.mass_kg for line in some)
        yield Part("order", first + whole, first + name, label="Order", weight=weight)


def _cost(plan: Plan) -> Iterator[Part]:
    """Tell the money where prices are given, or where there are other foundations to compare."""
    found, currency = plan.foundations, plan.job.prices.currency
    comparison = found.comparison
    if comparison is None:
        cost = None if found.invented else next(o.cost for o in found.judged if o.foundation == found.chosen)
        if cost is not None:
            yield Part("cost", _money(cost, currency), label="Cost")
        elif any(getattr(plan.job.prices, key, None) is not None for key in PRICED):
            missing = ", ".join(found.invented)
            yield Part("cost", f"not summed: no price for {missing}", label="Cost")
        return
    planned = {
        kind: option.money
        for option in comparison.options
        for kind, name in KINDS.items()
        if option.planned and option.name.endswith(name)
    }
    if found.chosen not in planned:
        return
    others = [f"{KINDS[kind]} {fixed(cost, 0)}" for kind, cost in planned.items() if kind != found.chosen]
    text = _money(planned[found.chosen], currency)
    text += f"; {', '.join(others)}" if others else ""
    yield Part("cost", f"{text}{' (made-up prices)' if found.invented else ''}", label="Cost")


def _money(cost: float, currency: str | None) -> str:
    return f"{fixed(cost, 0)}{f' {currency}' if currency else ''}"


# What to look out for: water wall by wall, then the rest by its kind.


def _water(plan: Plan) -> Iterator[Part]:
    """Tell each wall that needs something in one line, then once what it is held against."""
    show, water = plan.job.show, plan.drainage
    for text in roof_words(plan.foundations.roof, show):
        yield Part("trust", _corners(text), label="Water")
    if water.under:
        yield from _water_under(water)
    warned = {f.code for f in plan.findings if f.severity != "note"}
    if not warned & {*WALL_CODES, _TOO_SHORT}:
        return
    falls = water.after or water.before
    bad = worst_first([fall for fall in falls if fall.verdict in BAD])
    built = "the pad" if water.after and plan.foundations.chosen == "pad" else "the slab"
    base = f"the edge of {built}" if water.after else "the wall"
    cured = {wall: NAMES[one.made.kind] for one in plan.measures if one.made for wall in one.cured}
    stopped = [f.where for f in plan.findings if f.severity == "stop" and f.code in WALL_CODES]
    for fall, wall in bad:
        kind: Kind = "stop" if any(where.startswith(f"{wall}, ") for where in stopped) else "warning"
        cure = f"; the {cured[fall.wall]} cures it" if fall.wall in cured else ""
        text = f"{_corners(wall)}: {_need(fall, show)}{cure}"
        yield Part(kind, text, label="Water", code=WALL_CODES[BAD.index(fall.verdict)])
    if bad:
        needed, reach = show.depth(water.rule.fall * water.rule.reach), show.distance(water.rule.reach)
        taken = f", {water.rule.taken}" if water.rule.taken else ""
        source = told_source(water.rule.source, us=water.rule.us)
        rule = f"needed: {needed} over {reach}, from {base} ({source}{taken}; local code decides)"
        yield Part("trust", rule, label="Water")
    short = [fall for fall in falls if fall.missing]
    if short:
        known = show.distance(min(fall.known for fall in short))
        walls = _corners(walls_named([fall.wall for fall in short]))
        text = f"{walls}: the shots reach only {known} out: shoot "
        places = "; ".join(show.place(*place) for place in water.shots)
        reach = f"to {show.distance(water.rule.reach)}"
        yield Part("warning", text + places, text + reach, label="Water", code=_TOO_SHORT)


def _water_under(water: Drainage) -> Iterator[Part]:
    """Tell where rain comes to an open floor: it asks nothing of the ground as long as no skirt stops it."""
    toward = [fall.wall for fall in water.before if fall.verdict == "toward"]
    if toward:
        text = f"rain from above runs on under the open floor, from {_corners(walls_named(toward))}"
        yield Part("trust", f"{text}: put no skirt there.", f"{text}.", label="Water")


def _corners(walls: str) -> str:
    return re.sub(r"(?:the )?walls? \((.*)\)", r"\1", walls)


def _need(fall: WallFall, show: Display) -> str:
    if fall.verdict == "toward":
        return f"rises toward the wall by {show.depth(fall.rise)}, {show.distance(fall.rise_at)} out"
    return f"falls {show.depth(fall.fall)}, needs {show.depth(fall.needed)}"


def warning_parts(findings: Sequence[Finding]) -> Iterator[Part]:
    """Tell each kind of the other warnings once, with how many more places it is found at."""
    by_code: dict[str, list[Finding]] = {}
    for finding in findings:
        if finding.severity == "warning" and finding.code not in (*WALL_CODES, _TOO_SHORT):
            by_code.setdefault(finding.code, []).append(finding)
    for some in by_code.values():
        yield _told("warning", some[0], len(some) - 1)


def _survey(plan: Plan) -> Iterator[Part]:
    grade, told = plan.trust.grade, plan.trust.summary.partition(". ")[2].removesuffix(".")
    shots = f"{counted(len(plan.stations), 'shots')} in {visible(plan.stations.file, 40)}"
    if plan.surface.breaklines:
        shots += f", {counted(len(plan.surface.breaklines), 'breaklines')}"
    yield Part(
        "trust", f"{grade}: {told[:1].lower()}{told[1:]}; {shots}.", f"{grade}; {shots}.", label="Survey"
    )
