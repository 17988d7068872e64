"""What a pad, piers or a slab take on this ground: each design by itself, without a job."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gradework.foundations.pad import design as pads
from gradework.foundations.pad.spec import PadSpec
from gradework.foundations.piers import design as pier_design
from gradework.foundations.prices import PriceList
from gradework.foundations.slab import design as slabs
from gradework.library.earth import as_outline, as_surface
from gradework.project.job.foundations import PiersTable, SlabTable
from gradework.project.specs import SALE_METRIC

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from gradework.earthwork.outline import Outline
    from gradework.foundations.buying.pad_prices import PadPrices
    from gradework.foundations.pad.design import Pad
    from gradework.foundations.piers.plan import Piers
    from gradework.foundations.piers.spec import PierPrices, PierSpec
    from gradework.foundations.slab.design import Slab
    from gradework.foundations.slab.spec import SlabPrices, SlabSpec
    from gradework.ground.surface import Surface
    from gradework.survey.stations import Stations
    from gradework.units.display import Display


def design_pad(
    ground: Surface | Stations | ArrayLike,
    building: Outline | ArrayLike,
    spec: PadSpec | None = None,
    prices: PadPrices | None = None,
) -> Pad:
    """Design a level gravel pad under a building by every rule, and take the rule that the spec names.

    Parameters
    ----------
    ground
        A ``Surface``, ``Stations``, or rows of x, y and elevation (n, 3) [m].
    building
        An ``Outline``, or its corners (k, 2) [m]; the pad reaches ``spec.margin`` beyond it.
    spec
        What is asked of it; None: the usual pad, round in inches for ground in feet, else in millimetres.
    prices
        Money for its parts; the rule "least cost" needs all of them.

    Returns
    -------
    Pad
        ``chosen`` has ``level`` [m], ``excavation`` in place, ``gravel`` compacted, ``spoil`` [m³] and
        ``gravel_mass`` [kg]; ``choices`` what every rule gives, ``findings`` what a builder should know.

    Raises
    ------
    InputError
        A pad that reaches outside the survey, or a spec that cannot be built; all faults at once.
    CheckError
        When the arithmetic disagrees with itself.

    Examples
    --------
    >>> import gradework as gw
    >>> slope = [(0, 0, 10.0), (8, 0, 10.4), (8, 6, 10.4), (0, 6, 10.0)]        # rises 1 in 20 along x
    >>> pad = gw.design_pad(slope, gw.Outline.rectangle((2, 2), (3, 2)), gw.PadSpec(margin=0.5, drain=True))
    >>> pad
    <Pad at 10.075 m (least fill): dig 3.79 m³, gravel 1.22 m³>
    """
    surface = as_surface(ground)
    show = surface.stations.show
    asked = PadSpec.usual(us=show.us) if spec is None else spec
    return pads.design_pad(surface, as_outline(building), asked, prices, show)


def design_piers(
    ground: Surface | Stations | ArrayLike,
    building: Outline | ArrayLike,
    spec: PierSpec | None = None,
    prices: PierPrices | None = None,
) -> Piers:
    """Plan concrete-block piers on gravel beds under a building: one common top, proved best for the goal.

    Parameters
    ----------
    ground
        A ``Surface``, ``Stations``, or rows of x, y and elevation (n, 3) [m].
    building
        An ``Outline``, or its corners (k, 2) [m].
    spec
        What is asked of them; None: the usual piers of blocks as sold where the ground is measured.
    prices
        Money for gravel and digging; None: invented ones, which say so.

    Returns
    -------
    Piers
        ``top`` [m] and ``piers``: each with its place, ``bottom``, ``bed`` and ``height`` [m], ``dig`` in
        place and ``bed_volume`` compacted [m³], ``mass`` [kg]. Without a common top ``top`` is None, and a
        finding says what would help.

    Raises
    ------
    InputError
        Holes that reach outside the survey or overlap, or a spec that cannot be built.
    CheckError
        When a pier does not add up.

    Examples
    --------
    >>> import gradework as gw
    >>> slope = [(0, 0, 10.0), (8, 0, 10.4), (8, 6, 10.4), (0, 6, 10.0)]
    >>> piers = gw.design_piers(slope, gw.Outline.rectangle((2, 2), (3, 2)))
    >>> len(piers.piers), piers.top > 10.25
    (8, True)
    """
    surface = as_surface(ground)
    show = surface.stations.show
    asked = PiersTable().spec(us=show.us) if spec is None else spec
    paid = _invented(show).for_piers() if prices is None else prices
    return pier_design.design_piers(surface, as_outline(building), asked, paid, show)


def design_slab(
    ground: Surface | Stations | ArrayLike,
    building: Outline | ArrayLike,
    spec: SlabSpec | None = None,
    prices: SlabPrices | None = None,
) -> Slab:
    """Plan a concrete slab on ground: concrete, base course, fill, digging, forms, joints.

    Parameters
    ----------
    ground
        A ``Surface``, ``Stations``, or rows of x, y and elevation (n, 3) [m].
    building
        An ``Outline``, or its corners (k, 2) [m]; the slab reaches ``spec.margin`` beyond it.
    spec
        What is asked of it; None: the usual slab with a thickened edge.
    prices
        Money for its parts; None: invented ones, which say so.

    Returns
    -------
    Slab
        ``level`` of its top [m], ``area`` [m²], ``concrete.volume``, ``dig`` in place, ``gravel`` compacted,
        ``fill`` compacted [m³], ``findings``.

    Raises
    ------
    InputError
        A slab that reaches outside the survey, or whose thickened edges would meet.
    CheckError
        When the arithmetic disagrees with itself.

    Examples
    --------
    >>> import gradework as gw
    >>> slope = [(0, 0, 10.0), (8, 0, 10.4), (8, 6, 10.4), (0, 6, 10.0)]
    >>> slab = gw.design_slab(slope, gw.Outline.rectangle((2, 2), (3, 2)), gw.SlabSpec(level=10.4))
    >>> slab.level, round(slab.area, 9), slab.concrete.volume > 0.6
    (10.4, 6.0, True)
    """
    surface = as_surface(ground)
    show = surface.stations.show
    asked = SlabTable().spec(us=show.us) if spec is None else spec
    paid = _invented(show).for_slab() if prices is None else prices
    return slabs.design_slab(surface, as_outline(building), asked, paid, show)


def _invented(show: Display) -> PriceList:
    """The prices that a job without any has."""
    return PriceList() if show.us else PriceList(concrete=SALE_METRIC)
