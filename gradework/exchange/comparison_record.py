"""The comparison of foundations in the result record: always SI, the unit at the end of each key."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gradework.exchange.findings import finding_records, known

if TYPE_CHECKING:
    from gradework.foundations.comparison import Option
    from gradework.project.choosing import Foundations


def comparison_record(found: Foundations) -> dict[str, Any]:
    """Write the options side by side, cheapest first; empty where only one foundation was asked for."""
    comparison = found.comparison
    if comparison is None:
        return {}
    return {
        "winner": None if comparison.winner is None else comparison.winner.name,
        "prices_date": found.prices.date,
        "prices_invented": list(found.invented),
        "options": [_option(option) for option in comparison.options],
        "changes": [switch.words for switch in comparison.switches],
    }


def _option(option: Option) -> dict[str, Any]:
    """Write one option; what has no plan takes nothing that is known, so its figures are null."""
    least, most = option.hours if option.planned else (None, None)
    return {
        "name": option.name,
        "level_m": known(option.level),
        "floor_m": known(option.floor),
        "dig_m3": known(option.digging if option.planned else None),
        "carry_kg": known(option.mass if option.planned else None),
        "cost": known(option.money if option.planned else None),
        "hours_least": known(least),
        "hours_most": known(most),
        "buy": list(option.buy),
        "floor_above_ground": [
            {"side": side.side, "least_m": known(side.least), "most_m": known(side.most)}
            for side in option.floor_heights
        ],
        "blocked_by": [finding.code for finding in option.blockers],
        "findings": finding_records(option.findings),
    }
