"""docs/materials.md says what the code says: its tables are made here and compared.

Renew them with: python tests/earthwork/test_materials_page.py
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from gradework.earthwork.conditions import STATUS_MEANS, Figure
from gradework.earthwork.materials import GRAVELS, SOILS
from gradework.foundations.checks.drainage_rules import RULES
from gradework.sitework.cutting import Board, FabricRoll
from gradework.sitework.drainage import (
    FLAT,
    FLAT_SOURCE,
    STEEP,
    STEEP_SOURCE,
    VERY_STEEP,
    VERY_STEEP_SOURCE,
)
from gradework.sitework.supplier import Supplier
from gradework.units.amounts import short_tons_per_cubic_yard
from gradework.units.display import FEET, METRIC, Display

PAGE = Path(__file__).resolve().parents[2] / "docs" / "materials.md"


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def span(figure: Figure, digits: int) -> str:
    own = f"{figure.value:.{digits}f}"
    if figure.low == figure.high:
        return own
    return f"{own} ({figure.low:.{digits}f} to {figure.high:.{digits}f})"


def density(figure: Figure) -> str:
    low, own, high = (short_tons_per_cubic_yard(v) for v in (figure.low, figure.value, figure.high))
    return f"{figure.value:.0f} [{own:.2f}], {figure.low:.0f} to {figure.high:.0f} [{low:.2f} to {high:.2f}]"


def statuses() -> str:
    return "\n".join(f"- **{status}**: {meaning}." for status, meaning in STATUS_MEANS.items())


def stone() -> str:
    rows = [
        [g.name, ", ".join(g.also), density(g.compacted), density(g.loose),
         f"{g.settle:.2f} ({g.settle_low:.2f} to {g.settle_high:.2f})",
         f"{g.moisture.value * 100:.0f} % ({g.moisture.low * 100:.0f} to {g.moisture.high * 100:.0f})"]
        for g in GRAVELS.values()
    ]  # fmt: skip
    return table(["stone", "also called", "compacted", "loose", "settlement", "water"], rows)


def stone_sources() -> str:
    rows = []
    for g in GRAVELS.values():
        for what, figure in (("compacted", g.compacted), ("loose", g.loose), ("water", g.moisture)):
            rows.append([g.name, what, figure.source, figure.status])
    return table(["stone", "figure", "source", "status"], rows)


def soil() -> str:
    rows = [
        [s.name, ", ".join(s.also), span(s.swell, 2), span(s.compaction, 2), span(s.bank, 0)]
        for s in SOILS.values()
    ]
    return table(["soil", "also called", "loose", "compacted", "in place, kg/m³"], rows)


def soil_sources() -> str:
    rows = []
    for s in SOILS.values():
        for what, figure in (("loose", s.swell), ("compacted", s.compaction), ("in place", s.bank)):
            rows.append([s.name, what, figure.source, figure.status])
    return table(["soil", "figure", "source", "status"], rows)


def supplier() -> str:
    both = ((Supplier.us(), FEET), (Supplier.metric(), METRIC))

    def board(show: Display, sold: Board) -> str:
        return f"{sold.name}: {show.depth(sold.thickness)} x {show.depth(sold.face)}"

    def roll(show: Display, sold: FabricRoll) -> str:
        return f"{show.distance(sold.width)} x {show.distance(sold.length)}"

    def row(what: str, shown: Sequence[str], why: str, status: str) -> list[str]:
        return [what, *shown, why, status]

    def carrier(show: Display, volume: float, payload: float | None) -> str:
        assert payload is not None
        return f"{show.mass(payload)}, {show.volume(volume)} loose"

    return table(
        ["what", "US", "metric", "reason and source", "status"],
        [
            row("stone sold in steps of", [f"{s.stone.step:g} {s.stone.unit}" for s, _ in both],
                "what yards load by the bucket; common practice", "judgement"),
            row("waste on stone", [f"{s.waste:.0%}" for s, _ in both],
                "stockpile waste, note to WSDOT Exhibit 620-1; trade pages say 5 to 10 %", "seen"),
            row("truck", [carrier(show, s.truck.volume, s.truck.payload) for s, show in both],
                "single axle: 6 to 8 short tons, 5 to 6 yd³; weight limits a load of stone", "quoted"),
            row("wheelbarrow", [carrier(show, s.barrow.volume, s.barrow.payload) for s, show in both],
                "what one person pushes over rough ground", "judgement"),
            row("fabric roll", [roll(show, s.fabrics[0]) for s, show in both],
                "a width on the market (3 to 17.5 ft are) in a length that one person carries", "memory"),
            row("fabric lap", [show.depth(s.fabrics[0].overlap) for s, show in both],
                "AASHTO M288, firm ground (CBR over 3): 12 to 18 in; weak ground 24 to 36 in", "title seen"),
            row("fabric turned up", [show.depth(s.turn_up) for s, show in both],
                "turn it up the sides: ICPI contractor note, May 2005; how far: judgement", "seen"),
            row("edge board, actual", [board(show, s.board) for s, show in both],
                "US softwood standard PS 20-20; metric sizes common in UK trade", "memory"),
            row("board lengths", [", ".join(show.distance(v) for v in s.board.lengths) for s, show in both],
                "common stock; common practice, no source", "memory"),
            row("saw cut", [f"{s.board.kerf * 1000:.0f} mm" for s, _ in both], "a circular saw", "memory"),
            row("board weight", [f"{s.board.density:.0f} kg/m³" for s, _ in both],
                "treated softwood, still damp", "memory"),
            row("fabric weight", [f"{s.fabrics[0].mass_per_m2 * 1000:.0f} g/m²" for s, _ in both],
                "a light to middling fabric", "memory"),
            row("thickest finished layer", [show.depth(s.lift) for s, show in both],
                "see Compaction", "seen"),
        ],
    )  # fmt: skip


def drainage() -> str:
    rows = []
    for name, rule in RULES.items():
        reach = f"{FEET.distance(rule.reach)} ({METRIC.distance(rule.reach)})"
        fall = rule.fall * rule.reach
        least = f"{FEET.depth(fall)} ({METRIC.depth(fall)})"
        rows.append(
            [
                f'fall from a wall, rule "{name}"',
                f"{rule.fall:.0%} over {reach}: {least}",
                rule.clause,
                rule.status,
            ]
        )
    rows += [
        ["flat ground", f"under {FLAT:.0%}", *split(FLAT_SOURCE)],
        ["steep ground", f"over {STEEP:.1%} (3:1)", *split(STEEP_SOURCE)],
        ["too steep to stand", f"over {VERY_STEEP:.0%} (2:1)", *split(VERY_STEEP_SOURCE)],
    ]
    return table(["what", "limit", "source", "status"], rows)


def split(source: str) -> tuple[str, str]:
    clause, status = source.split("; ")
    return clause, status


PARTS = {
    "statuses": statuses,
    "stone": stone,
    "stone sources": stone_sources,
    "soil": soil,
    "soil sources": soil_sources,
    "supplier": supplier,
    "drainage": drainage,
}


def renewed(text: str) -> str:
    for name, make in PARTS.items():
        begin, end = f"<!-- {name} -->\n", "<!-- end -->"
        head, rest = text.split(begin)
        text = f"{head}{begin}{make()}\n{end}{rest.partition(end)[2]}"
    return text


def test_the_page_is_made_from_the_code() -> None:
    text = PAGE.read_text("utf-8")
    assert renewed(text) == text


@pytest.mark.parametrize("figure", [5.2, 6.6, 6.9, 7.6, 8.0])
def test_the_example_of_the_trap_adds_up(figure: float) -> None:
    yards = 12 * 16 * 0.5 / 27
    dry = yards * 1.85
    steps = [yards * 1.45, dry, dry * 1.05, dry * 1.05 * 1.10, 8.0]
    assert figure in [round(step, 1) for step in steps]
    assert f" {figure:.1f} |" in PAGE.read_text("utf-8")


if __name__ == "__main__":
    PAGE.write_text(renewed(PAGE.read_text("utf-8")), "utf-8")
