"""The profile of a swale or drain: the ground over its line, its bottom, every stake with its figures."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.drawings import frame, pens
from gradework.drawings.engine import matplotlib, steady
from gradework.drawings.lettering import Style, name, width_mm
from gradework.drawings.page import HEIGHT_MM, WIDTH_MM, Page, ring_path
from gradework.drawings.section.view import View, draw_axes, fitting, taller_words
from gradework.earthwork.grading.led import NAMES
from gradework.ground.profile import cut_along
from gradework.project.buying import laid_beside
from gradework.sitework.led_stakes import BOTTOMS, STAKED, led_stakes

if TYPE_CHECKING:
    from gradework.earthwork.grading.led import Kind
    from gradework.ground.surface import Surface
    from gradework.project.plan import Plan
    from gradework.units.display import Display

Floats = NDArray[np.float64]

A_PAGE = 2
"""So many profiles stand on one page."""

_LEFT_MM, _RIGHT_MM, _HIGH_MM = 24.0, 3.0, 45.0
_HEAD_MM, _AXES_MM, _SLANT_MM, _ROOM_MM = 7.0, 9.5, 3.0, 4.0
_APART_MM = 3.6
_HEADING = Style(points=10, weight="bold")
_FIGURE = Style(points=8)
_NAME = Style(points=8, weight="bold")
_ON_LINE = 1e-6


class Post(NamedTuple):
    """One stake of a profile: its name, where along the line it is marked for [m], ground and bottom there
    [m]; ground is None off the survey."""

    name: str
    u: float
    ground: float | None
    bottom: float


class Profile(NamedTuple):
    """A stretch that is dug: what it is, the ground over its line and its bottom (k, 2) of distance along it
    and elevation [m], its stakes."""

    kind: Kind | Literal["gutter", "outlet"]
    ground: Floats
    bottom: Floats
    posts: tuple[Post, ...]

    @property
    def heights(self) -> tuple[float, float]:
        """The lowest and the highest elevation in it [m]."""
        every = np.concatenate((self.ground[:, 1], self.bottom[:, 1]))
        return float(every.min()), float(every.max())


def profiles(plan: Plan) -> list[Profile]:
    """The profile of each stretch that is dug in a line to lead water away; stakes as they are set out."""
    chosen, near = plan.foundations.chosen, plan.nearby if plan.nearby else None
    laid = laid_beside(plan.foundations.around.get(chosen), plan.foundations.built[chosen])
    stakes = led_stakes(plan.surface, plan.building, laid, us=plan.job.show.us, nearby=near, of=chosen)
    middles = np.array([(at.x, at.y) for at in (one.aside or one for one in stakes)]).reshape(-1, 2)
    found = []
    for one in laid:
        for bends in one.bends:
            along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(bends[:, :2], axis=0).T))))
            posts = []
            for stake, u in zip(stakes, _along(bends, along, middles).tolist(), strict=True):
                if np.isfinite(u) and stake.kind == STAKED[one.kind]:
                    x, y = np.array([np.interp(u, along, bends[:, axis]) for axis in (0, 1)])
                    height = float(plan.surface.elevation(np.array([[x, y]]))[0])
                    over = height if np.isfinite(height) else None
                    posts.append(Post(stake.name, u, over, stake.levels[0][1]))
            ground = _ground_over(plan.surface, bends, along)
            bottom = np.column_stack((along, bends[:, 2]))
            found.append(Profile(one.kind, ground, bottom, tuple(sorted(posts, key=lambda post: post.u))))
    return found


def _along(bends: Floats, along: Floats, places: Floats) -> Floats:
    """How far along a line (m, 3) places (n, 2) on it lie (n,) [m]; nan of those that are not on it."""
    found = np.full(len(places), np.nan)
    for number, (a, b) in enumerate(pairwise(bends[:, :2])):
        length = along[number + 1] - along[number]
        way = (b - a) / length
        arm = places - a
        at, off = arm @ way, np.abs(arm[:, 1] * way[0] - arm[:, 0] * way[1])
        on = (off <= _ON_LINE) & (at >= -_ON_LINE) & (at <= length + _ON_LINE) & np.isnan(found)
        found[on] = along[number] + at[on]
    return found


def _ground_over(surface: Surface, bends: Floats, along: Floats) -> Floats:
    """The surveyed ground over a line (m, 3): distance along it and elevation (k, 2) [m]."""
    legs = []
    for number, (a, b) in enumerate(pairwise(bends[:, :2])):
        length = along[number + 1] - along[number]
        leg = cut_along(surface, a, (b - a) / length).reshape(-1, 2)
        u = np.unique([0.0, *leg[(leg[:, 0] > 0.0) & (leg[:, 0] < length), 0], length])
        legs.append(np.column_stack((along[number] + u, np.interp(u, leg[:, 0], leg[:, 1]))))
    return np.concatenate(legs)


def draw_profiles(plan: Plan) -> list[matplotlib.figure.Figure]:
    """Draw the profiles of all that leads water past what is built, two on a page; none without any."""
    every = profiles(plan)
    return [_draw_page(plan, every[at : at + A_PAGE]) for at in range(0, len(every), A_PAGE)]


def _draw_page(plan: Plan, shown: Sequence[Profile]) -> matplotlib.figure.Figure:
    with steady():
        show = plan.job.show
        long = max(float(one.bottom[-1, 0]) for one in shown)
        high = max(one.heights[1] - one.heights[0] for one in shown)
        scale, taller = fitting(long, high, (WIDTH_MM - _LEFT_MM - _RIGHT_MM, _HIGH_MM), show)
        per = scale.mm_per_m * taller
        each = [(one.heights[1] - one.heights[0]) * per + 2 * _ROOM_MM for one in shown]
        bands = [_AXES_MM + _SLANT_MM + sum(_rows_mm(one, show)) + 3.0 for one in shown]
        tall = frame.TITLE_MM + sum(each) + sum(bands) + _HEAD_MM * len(shown) + 20.0
        page = Page(height_mm=min(tall, HEIGHT_MM))
        kinds = " and ".join(dict.fromkeys(NAMES[one.kind] for one in shown))
        frame.draw_title(
            page,
            title=name(plan.job.name),
            subtitle=f"Profile of the {kinds}; {taller_words(taller)}",
            right=[f"Scale {scale.words}", "Print at 100 % (actual size)"],
            stamp=plan.stamp("pad"),
        )
        top = page.height - frame.TITLE_MM
        for one, height, band in zip(shown, each, bands, strict=True):
            words = f"Along the {NAMES[one.kind]}: solid its bottom, dashed the ground as surveyed"
            page.write(words, (_LEFT_MM, top - 1.5), _HEADING, up="top", role="profile")
            bottom = top - _HEAD_MM - height
            view = View((_LEFT_MM, bottom), 0.0, one.heights[0] - _ROOM_MM / per, scale, taller)
            _draw_profile(page, view, one, show, height / per)
            top = bottom - band
        frame.draw_caution(page, frame.source_words(plan.stations.file, plan.stations.xyz))
        return page.finish()


def _draw_profile(page: Page, view: View, one: Profile, show: Display, high: float) -> None:
    """Draw one profile with its axes, and the figures of its stakes below it."""
    long = float(one.bottom[-1, 0])
    unit = show.unit_title.capitalize()
    draw_axes(page, view, (long, high), show, name=f"{unit} along the line, from its first stake")
    ground, bottom = view.to_page(one.ground), view.to_page(one.bottom)
    area = np.vstack((bottom, ground[::-1]))
    page.axes.add_artist(
        matplotlib.patches.PathPatch(
            ring_path([area]), facecolor=pens.CUT_TINT, edgecolor=pens.EARTH, linewidth=0.0,
            hatch=pens.CUT_HATCH, zorder=1.5, gid="dug",
        )
    )  # fmt: skip
    page.strokes([ground], color=pens.EARTH, width=pens.RULE, dash=pens.EVEN_DASH, zorder=4.2, gid="existing")
    page.strokes([bottom], color=pens.WATER, width=pens.INDEX, zorder=4.0, gid="bottom")
    _draw_posts(page, view, one, show)


def _rows(one: Profile, show: Display) -> list[tuple[str, list[str]]]:
    """The rows of figures below a profile: what they are called, one figure for each stake."""
    kind = STAKED[one.kind]
    dig = [None if post.ground is None else max(post.ground - post.bottom, 0.0) for post in one.posts]
    return [
        (
            "stake" if kind.endswith("pipe") else f"{kind} stake",
            [post.name.rpartition(" ")[2] for post in one.posts],
        ),
        ("ground", ["-" if p.ground is None else show.elevation_number(p.ground) for p in one.posts]),
        (BOTTOMS[kind].partition(" ")[2], [show.elevation_number(post.bottom) for post in one.posts]),
        ("dig", ["-" if depth is None else show.stake(depth) for depth in dig]),
    ]


def _rows_mm(one: Profile, show: Display) -> list[float]:
    """How high each row of figures stands [mm]: they are written upright."""
    return [
        max([width_mm(text, _NAME.points, _NAME.weight) for text in texts], default=0.0) + 2.5
        for _, texts in _rows(one, show)
    ]


def _draw_posts(page: Page, view: View, one: Profile, show: Display) -> None:
    """Draw a line up at each stake and its figures below, moved apart where stakes stand close."""
    if not one.posts:
        return
    left, foot = view.corner
    wanted = [view.place(post.u, view.level)[0] for post in one.posts]
    right = view.place(float(one.bottom[-1, 0]), view.level)[0]
    columns = list(apart(wanted, _APART_MM, (left + 1.0, max(right, left + 1.0 + _APART_MM * len(wanted)))))
    head = foot - _AXES_MM
    lines = [
        ((x, foot), view.place(p.u, p.ground or p.bottom)) for x, p in zip(wanted, one.posts, strict=True)
    ]
    page.strokes(lines, color=pens.BLACK, width=pens.FINE, zorder=3.0, gid="stake")
    slants = [((x, head), (at, head - _SLANT_MM)) for x, at in zip(wanted, columns, strict=True)]
    page.strokes(slants, color=pens.SOFT, width=pens.FINE, gid="to its figures")
    y = head - _SLANT_MM
    for number, ((words, texts), high) in enumerate(zip(_rows(one, show), _rows_mm(one, show), strict=True)):
        style = _FIGURE if number else _NAME
        edge = ((frame.SIDE_MM, y), (max(columns[-1], right) + 2.0, y))
        page.strokes([edge], color=pens.FAINT, width=pens.GRID, gid="row")
        page.write(words, (frame.SIDE_MM, y - high / 2), style, up="center", role="row")
        for x, text in zip(columns, texts, strict=True):
            page.write(
                text, (x, y - high / 2), style, across="center", up="center", degrees=90, role="figure"
            )
        y -= high


def apart(wanted: Sequence[float], gap: float, ends: tuple[float, float]) -> Iterator[float]:
    """Places (in order) moved apart so that neighbours stand ``gap`` from each other, between two ends.

    >>> list(apart([0.0, 1.0, 9.5, 10.0], 3.0, (0.0, 10.0)))
    [0.0, 3.0, 7.0, 10.0]
    """
    places: list[float] = []
    for place in wanted:
        places.append(max(place, places[-1] + gap if places else ends[0]))
    limit = ends[1]
    for number in range(len(places) - 1, -1, -1):
        places[number] = limit = min(places[number], limit)
        limit -= gap
    yield from places
