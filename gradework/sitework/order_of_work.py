"""Setting out and digging as a list of steps, for the stakes and tools at hand."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Set
from typing import TYPE_CHECKING

from gradework.errors import words

if TYPE_CHECKING:
    from gradework.errors import Dialect

_STRETCHED: tuple[tuple[str, str], ...] = (
    ("batter board", "Set batter boards on the lines of the sides, clear of the dig. Stretch the strings."),
    (
        "row string",
        "Stretch a string for each row of piers. Hook the tape on its first stake and mark all piers of the "
        "row without moving it.",
    ),
)

_LED_STEPS: Mapping[str, str] = {
    "swale": (
        "Dig the swale first, from its low end up; it keeps water off the rest. Its stakes stand beside it: "
        "measure in to the middle, and check the bottom there with the rod. Where stone lines it, dig "
        "{lining} deeper: the level is the top of the stone."
    ),
    "drain": (
        "Dig the drain first, from its outlet up; it keeps water off the rest. Its stakes stand beside it: "
        "measure in to the middle. Their level is the bottom of the pipe: where it lies in stone, dig "
        "{bedding} deeper."
    ),
}
"""How what leads water past is dug."""

_STONE_BELOW: Mapping[Dialect, Mapping[str, str]] = {
    "us": {"lining": "4 in", "bedding": "2 in"},
    "gb": {"lining": "100 mm", "bedding": "50 mm"},
}


def order_of_work(
    kinds: Set[str], instrument: bool, string: bool, *, backsight: bool = False, dialect: Dialect = "us"
) -> tuple[str, ...]:
    """Say what to do in which order, for the stakes and tools at hand.

    ``backsight`` says that the sheet shows the reading that the height of ``instrument`` comes from.
    """
    word = words(dialect)
    steps = ["Have buried services (pipes, cables) located and marked before a stake or spade goes in."]
    steps += [text.format_map(_STONE_BELOW[dialect]) for kind, text in _LED_STEPS.items() if kind in kinds]
    if kinds & {"building corner", "pad corner", "slab corner"}:
        what = "building" if "building corner" in kinds else "pad" if "pad corner" in kinds else "slab"
        steps.append(f"Set the first two {what} corners from the marks. Measure the side between them.")
        steps.append(
            "Set the other corners by side and diagonal. Both diagonals must agree before you go on."
        )
    steps += [text for kind, text in _STRETCHED if kind in kinds]
    steps.append("Hold the tape level and plumb down: every length here is level, not along the slope.")
    if instrument and not backsight:
        steps.append(
            "Set up the level and read the benchmark: its elevation plus the reading must give the HI."
        )
    elif instrument:
        steps.append("Set up the level and read the benchmark: it must match the backsight on this sheet.")
    if string:
        steps.append("Level the string to its mark. Measure from it near the ends: the middle sags.")
    for kind, stone in (("pad corner", "gravel"), ("slab corner", "base")):
        if kind in kinds:
            dig = f"Strip the topsoil and dig to the {word['subgrade']}."
            steps.append(f"{dig} Place and compact the {stone} in layers.")
    if "slab corner" in kinds:
        steps.append("Dig the edge to its reading. Set the forms to the top of the slab all round.")
        barrier = f"Lay the {word['vapor_barrier']} and the {word['wire_mesh']}."
        steps.append(f"{barrier} Read the forms once more, and only then order the concrete.")
    if "pier" in kinds:
        steps.append(
            "Drive the stake of each pier beside its hole. Dig as far below the ground at the stake as it "
            "says, and check with the rod. Trim by hand: no loose soil goes back under a pier."
        )
        steps.append("Compact the bed to its reading. Lay block by block and read each top.")
    if "anchor" in kinds:
        steps.append(
            "Screw an anchor in at each of its stakes, and strap it to the skid once the floor is on. At the "
            "four corners fit a second strap, along the skid."
        )
    steps.append(
        "Read the benchmark again at the end. If it has changed, redo what you read since it agreed."
    )
    return tuple(steps)


def with_heaps(steps: tuple[str, ...], heaps: Iterable[tuple[str, str]]) -> tuple[str, ...]:
    """Say before the last step up to which levels soil is heaped against a pad, and to what it falls away, in
    words; none: as it was.

    >>> with_heaps(("Dig.", "Read."), [("99.44 ft", "the swale")])[1]
    'Heap soil against the pad in thin layers up to 99.44 ft and tamp each; it falls away to the swale.'
    """
    told = [
        f"Heap soil against the pad in thin layers up to {level} and tamp each; it falls away to {end}."
        for level, end in heaps
    ]
    return (*steps[:-1], *told, *steps[-1:])


def with_first(steps: tuple[str, ...], told: Iterable[str]) -> tuple[str, ...]:
    """Put after the first step, before anything is dug, what must be known by then."""
    return (*steps[:1], *told, *steps[1:])


def with_steps(steps: tuple[str, ...], told: Iterable[str]) -> tuple[str, ...]:
    """Put before the last step what else is done, a step each."""
    return (*steps[:-1], *told, *steps[-1:])
