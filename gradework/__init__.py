"""gradework: from a yard survey to a level foundation for a small building, and one trip to the supplier.

>>> import gradework as gw
>>> gw.plan("data/spring-pump-house/job.toml").pad
<Pad at 49.199 m (least fill): dig 2.05 m³, gravel 6.53 m³>

Each name is loaded when it is first used, so that ``import gradework`` costs nothing. All figures are SI:
metres, square metres, cubic metres, kilograms, money in whatever the prices are in. ``docs/library.md``
teaches it; the rooms behind it (``gradework.survey``, ``gradework.ground`` ...) may change between versions.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gradework.drawings.plan.sheet import draw_plan as draw_plan
    from gradework.earthwork.outline import Outline as Outline
    from gradework.earthwork.volumes import CutFill as CutFill
    from gradework.errors import Finding as Finding
    from gradework.errors import InputError as InputError
    from gradework.foundations.pad.spec import PadSpec as PadSpec
    from gradework.foundations.piers.spec import PierSpec as PierSpec
    from gradework.foundations.slab.spec import SlabSpec as SlabSpec
    from gradework.ground.surface import Surface as Surface
    from gradework.library.earth import balance_level as balance_level
    from gradework.library.earth import build_surface as build_surface
    from gradework.library.earth import clip as clip
    from gradework.library.earth import cut_and_fill as cut_and_fill
    from gradework.library.earth import profile as profile
    from gradework.library.foundations import design_pad as design_pad
    from gradework.library.foundations import design_piers as design_piers
    from gradework.library.foundations import design_slab as design_slab
    from gradework.library.jobs import read_job as read_job
    from gradework.library.place import place as place
    from gradework.library.place import placements as placements
    from gradework.library.plan import Plan as Plan
    from gradework.library.plan import plan as plan
    from gradework.library.readings import reduce_notes as reduce_notes
    from gradework.library.survey import Stations as Stations
    from gradework.library.survey import read_spots as read_spots
    from gradework.library.yard import as_built as as_built
    from gradework.library.yard import set_out as set_out
    from gradework.project.job.model import Job as Job

__version__ = "0.1.0"

_HOMES = {
    "Job": "project.job.model",
    "read_job": "library.jobs",
    "Plan": "library.plan",
    "plan": "library.plan",
    "place": "library.place",
    "placements": "library.place",
    "read_spots": "library.survey",
    "reduce_notes": "library.readings",
    "Stations": "library.survey",
    "Surface": "ground.surface",
    "build_surface": "library.earth",
    "Outline": "earthwork.outline",
    "clip": "library.earth",
    "cut_and_fill": "library.earth",
    "balance_level": "library.earth",
    "profile": "library.earth",
    "CutFill": "earthwork.volumes",
    "PadSpec": "foundations.pad.spec",
    "design_pad": "library.foundations",
    "PierSpec": "foundations.piers.spec",
    "design_piers": "library.foundations",
    "SlabSpec": "foundations.slab.spec",
    "design_slab": "library.foundations",
    "set_out": "library.yard",
    "as_built": "library.yard",
    "Finding": "errors",
    "InputError": "errors",
    "draw_plan": "drawings.plan.sheet",
}
"""Where each name lives, in the order of the work; the imports above tell the same to type checkers."""

__all__ = list(_HOMES)


if not TYPE_CHECKING:  # a type checker would take it for leave to use any name

    def __getattr__(name: str) -> object:
        if name not in _HOMES:
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        found: object = getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
        globals()[name] = found
        return found


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
