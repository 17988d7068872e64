"""Plain cut and fill in words for the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gradework.units import Display

if TYPE_CHECKING:
    from gradework.earthwork.cutfill import CutFill
    from gradework.project.plain import PlainCutFill


def cutfill_text(result: PlainCutFill) -> str:
    """Tell one level in lines, several as a table; cut is soil in place, fill is compacted."""
    show = result.show
    if len(result.answers) == 1:
        return _one(result.answers[0], show)
    return _table(result.answers, show)


def _one(answer: CutFill, show: Display) -> str:
    level = show.elevation(answer.level)
    lines = [f"A level plane at {level} over {show.area(answer.area)}:"]
    if show.volume_number(answer.cut + answer.fill) == show.volume_number(0.0):
        return "\n".join([*lines, "  no cut, no fill: the ground is at this level already"])
    rows = [
        ("cut", f"{show.volume(answer.cut)} in place", f"over {show.area(answer.cut_area)}"),
        ("fill", f"{show.volume(answer.fill)} compacted", f"over {show.area(answer.fill_area)}"),
        ("net", show.volume(abs(answer.net)), _net_words(answer, show)),
        ("mean", show.elevation(abs(answer.mean_depth)), _mean_words(answer, show)),
    ]
    width = max(len(row[1]) for row in rows)
    lines += [f"  {name:<5} {value:<{width}}  {words}".rstrip() for name, value, words in rows]
    if show.volume_number(answer.doubt) != show.volume_number(0.0):
        lines.append(
            f"  give or take {show.volume(answer.doubt)}: the shots do not say how each square folds"
        )
    return "\n".join(lines)


def _net_words(answer: CutFill, show: Display) -> str:
    if show.volume_number(answer.net) == show.volume_number(0.0):
        return "cut and fill are equal"
    return "more cut than fill" if answer.net > 0 else "more fill than cut"


def _mean_words(answer: CutFill, show: Display) -> str:
    if show.elevation_number(answer.mean_depth) == show.elevation_number(0.0):
        return "on average the ground is at this level"
    side = "above" if answer.mean_depth > 0 else "below"
    return f"on average the ground lies {side} this level"


def _table(answers: tuple[CutFill, ...], show: Display) -> str:
    area, volume = show.area_unit, show.volume_unit
    doubtful = any(show.volume_number(a.doubt) != show.volume_number(0.0) for a in answers)
    header = [
        f"level ({show.unit_name})",
        f"cut ({volume})",
        f"fill ({volume})",
        f"net ({volume})",
        f"in cut ({area})",
        f"in fill ({area})",
        *([f"give or take ({volume})"] if doubtful else []),
    ]
    rows = [
        [
            show.elevation_number(a.level),
            show.volume_number(a.cut),
            show.volume_number(a.fill),
            show.volume_number(a.net),
            show.area(a.cut_area).removesuffix(f" {area}"),
            show.area(a.fill_area).removesuffix(f" {area}"),
            *([show.volume_number(a.doubt)] if doubtful else []),
        ]
        for a in answers
    ]
    widths = [max(map(len, column)) for column in zip(header, *rows, strict=True)]
    lines = [
        "  ".join(f"{cell:>{width}}" for cell, width in zip(row, widths, strict=True))
        for row in (header, *rows)
    ]
    title = f"Level planes over {show.area(answers[0].area)}; cut in place, fill compacted, net = cut - fill:"
    why = ["give or take: the shots do not say how each square folds"] if doubtful else []
    return "\n".join([title, *lines, *why])
