"""Lengths are written by one record: no other room turns a length into figures."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import gradework

HOUSE = Path(gradework.__file__).parent
ROOMS = ("command", "drawings", "report", "sitework")
WRITERS = {"fixed", "eighths", "feet_inches", "format", "round_half_away"}

NO_LENGTHS = {
    "command/plan.py": {"count / 1000"},  # bytes
    "drawings/curve.py": {"value"},  # tons, yards, money at the marks
    "drawings/field_sheet/content.py": {"grid.turn"},
    "drawings/field_sheet/sketch.py": {"turn"},
    "drawings/frame.py": {"value + 0.0"},  # round figures along a map or a scale bar, whose unit stands there
    "drawings/page.py": {"k * step"},  # round figures along an axis; a step, no text
    "drawings/plan/water.py": {"fall * 100"},
    "drawings/section/view.py": {"k * step"},  # round figures along an axis
    "drawings/shopping.py": {"line.quantity"},
    "report/batch.py": {"cost"},
    "report/first_screen.py": {"cost", "count"},
    "report/foundations.py": {"choice.cost", "one.more", "spec.waste * 100"},
    "report/ground.py": {
        "less",
        "measure.money",
        "measure.run.swale.side",
        "money",
        "spec.side",
    },  # per cent, run per rise
    # lines of a job, in its own unit
    "report/instead.py": {
        "abs(turn)",
        "best.cost",
        "near.cost",
        "table.turn",
        "value / per",
        "written",
    },
    "report/pad.py": {"money", "pad.spec.batter", "spec.face"},
    "report/page/batch.py": {"cost"},
    "report/page/document.py": {"cost", "value"},  # of a check without a unit
    # units of a picture
    "report/page/svg.py": {"PX", "self.height", "x", "y", "x + dx", "y + dy", "ax", "ay", "cx", "cy"},
    "report/plan.py": {
        "amount",
        "h",
        "line.computed",
        "o.at_yard",
        "o.earthwork",
        "o.money",
        "o.paid[OWN_WORK].money",
    },
    "report/days.py": {"least", "most", "worth"},
    "report/door.py": {"access.slope"},  # run per rise
    "report/place.py": {"(costs[0] or 0.0) - (costs[1] or 0.0)", "cost", "turn", "value"},
    "report/soil.py": {"soil.soil.swell.value"},
    "report/survey.py": {"network.reference_variance", "r.standardised"},
    "sitework/days_told.py": {"days.day", "hours[0]", "hours[1]"},
    "sitework/asbuilt.py": {"misfit"},  # an error of a caller, always in metres
    "sitework/order.py": {
        "fraction * 100",
        "need.more * 100",
        "sure * 100",
        "tenths",
    },
    "sitework/order_marking.py": {"STRING_ALLOWANCE * 100"},
    "sitework/soil.py": {"one.dug", "self.hauled"},  # of a repr
    "drawings/place.py": {"turn", "value"},  # money, degrees
    "drawings/plan/door.py": {"access.slope"},
    "sitework/order_foundations.py": {"slab.spec.waste * 100", "supplier.waste * 100"},
}
"""What is written with decimals in these rooms, by file, and is no length of a yard."""


def figures(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Lines and values of all that is written with so many decimals."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FormattedValue) and node.format_spec is not None:
            spec = "".join(
                part.value for part in ast.walk(node.format_spec)
                if isinstance(part, ast.Constant) and isinstance(part.value, str)
            )  # fmt: skip
            if spec[-1:] in ("f", "g", "e") and ("." in spec or spec == "g"):
                yield node.lineno, ast.unparse(node.value)
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in WRITERS:
            yield node.lineno, ast.unparse(node.args[0])


def test_only_the_display_writes_lengths() -> None:
    found = [
        f"{path.relative_to(HOUSE).as_posix()}:{line}: {value}"
        for room in ROOMS
        for path in sorted((HOUSE / room).rglob("*.py"))
        for line, value in figures(ast.parse(path.read_text("utf-8")))
        if value not in NO_LENGTHS.get(path.relative_to(HOUSE).as_posix(), set())
    ]
    assert found == []


def test_what_is_excused_is_there() -> None:
    for file, values in NO_LENGTHS.items():
        assert values <= {value for _, value in figures(ast.parse((HOUSE / file).read_text("utf-8")))}, file


def test_the_search_sees_each_way_of_writing_decimals() -> None:
    text = "a = f'{x:.2f} {y:+.{n}f} {z:g} {w:>8}'; b = fixed(u, 2); c = eighths(v); d = format(t, '.1f')"
    assert sorted(value for _, value in figures(ast.parse(text))) == ["t", "u", "v", "x", "y", "z"]
