"""The answer that stands on one screen: its parts, what each is worth, and how they fit so many lines.

Pure: parts in, lines out. What a plan has to say is put into parts in ``report/first_screen.py``.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Literal

from gradework.report.text import WIDTH, filled

# What may stand in an answer, and what it is worth where not all of it fits.

Kind = Literal[
    "verdict", "stop", "warning", "caution", "level", "dig", "order", "cost", "trust", "files", "next"
]

MUSTS = ("verdict", "stop", "warning", "caution")
"""What is never cut: it is said shorter, at the worst by its codes alone."""

_KEPT = ("level", "dig", "order", "cost", "trust", "next", "files")
"""The rest: the first of these stays longest."""

FIRST_OF_ORDER = 4
"""So many of the heaviest things to buy stay longer than cost, trust, files and the next command."""

MOST = 24
"""Lines of an answer: what a terminal shows at once."""


@dataclass(frozen=True, slots=True)
class Part:
    """One thing to say.

    ``text`` is all of it, ``short`` the same in fewer words (or ""); ``label`` stands in front, once for
    parts that follow each other under the same one. ``code`` is what a finding is called when only its name
    finds room; of the order the parts with more ``weight`` stay longer.
    """

    kind: Kind
    text: str
    short: str = ""
    label: str = ""
    code: str = ""
    weight: float = 0.0


# The fitting: the longest wording that fits; then names in place of sentences; then what is worth least goes.

_LABEL = 9
_CUT = "..."
_FOUND: tuple[Kind, Kind] = ("stop", "warning")
_SPARE = 3
"""Lines that are left beside all that must be said: level, dig, how much of the order is left out."""


def fit(
    parts: Sequence[Part],
    *,
    most: int = MOST,
    width: int = WIDTH,
    order_file: str = "order.csv",
    whole: Sequence[Kind] = ("verdict", "level", "dig"),
) -> list[str]:
    """Fit the parts, which come in the order of reading, to ``most`` lines of ``width`` letters at the most.

    The law: never more lines, never a wider one. The verdict is the first line. While all of it fits, all of
    it is there; what is worth least is said shorter first. Before one of the ``whole`` kinds is cut to one
    line, and the first of them loses a word, the light end of the order is left to its file. If not, stops,
    warnings and cautions are still there, by their codes at the least; then level, dig, the heaviest of the
    order, and what else finds room, in the order of reading; how many lines of the order are left out is said
    last. Only where the codes of all stops do not fit, which takes more of them than there are, are they
    counted.

    >>> fit([Part("verdict", "Buildable."), Part("dig", "2 yd³", label="Dig")])
    ['Buildable.', 'Dig      2 yd³']
    """
    light = [at for at in reversed(_by_worth(parts)) if at in _late(parts)]
    first = tuple(whole[:1])
    tries = ((tuple(whole), first), (tuple(whole), ()), (first, ()))
    for uncut, full in tries if len(whole) > 1 else tries[1:]:
        for left in (0, *range(2, len(light) + 1)):  # one that is left out is told in a line, too
            kept = [part for at, part in enumerate(parts) if at not in light[:left]]
            lines = _shortened(kept, most - bool(left), width, whole=uncut, full=full)
            if lines:
                return [*lines, *([_left_out(left, order_file, width)] if left else [])]
    return _shortened(parts, most, width) or _cut(parts, most, width, order_file)


def _shortened(
    parts: Sequence[Part], most: int, width: int, *, whole: Sequence[Kind] = (), full: Sequence[Kind] = ()
) -> list[str]:
    """Say all parts in ``most`` lines, those shorter that lose least by it; none of the kinds ``whole`` is
    cut to one line, those of ``full`` keep all their words. Nothing where that takes more lines."""
    said, high = [0] * len(parts), [len(_lines(part, 0, width)) for part in parts]
    for wording in (1, 2):
        for at in _first_shortened(parts):
            if sum(high) <= most:
                break
            kind, lines = parts[at].kind, len(_lines(parts[at], wording, width))
            # words that gain no line stay
            if lines < high[at] and kind not in full and not (wording == 2 and kind in whole):
                said[at], high[at] = wording, lines
    return _laid(parts, said, width) if sum(high) <= most else []


def _left_out(count: int, order_file: str, width: int) -> str:
    return f"{'':{_LABEL}}{count} more {'line' if count == 1 else 'lines'} in {order_file}"[:width]


def _first_shortened(parts: Sequence[Part]) -> list[int]:
    """Number the parts by their places, those first that lose least by being said shorter."""
    musts = [at for kind in MUSTS for at, part in enumerate(parts) if part.kind == kind]
    return [*reversed(_by_worth(parts)), *reversed(musts)]


def _cut(parts: Sequence[Part], most: int, width: int, order_file: str) -> list[str]:
    """Keep what must be said, then as much as finds room, one line each."""
    musts = sorted((p for p in parts if p.kind in MUSTS), key=lambda part: MUSTS.index(part.kind))
    if len(musts) > most - _SPARE:
        musts = list(_named(musts, most - _SPARE, width))
    room, worth = most - len(musts), _by_worth(parts)
    kept = worth[:room]
    things = sum(part.kind == "order" for part in parts)
    if sum(parts[at].kind == "order" for at in kept) < things:
        kept = worth[: room - 1]  # one line tells how many are left out
    rest = [part for at, part in enumerate(parts) if part.kind == "caution" or at in kept]
    told = [*(part for part in musts if part.kind != "caution"), *rest]
    lines = _laid(told, [2 if len(_lines(part, 0, width)) > 1 else 0 for part in told], width)
    left = things - sum(part.kind == "order" for part in rest)
    if left:
        lines.append(_left_out(left, order_file, width))
    return lines


def _late(parts: Sequence[Part]) -> set[int]:
    """The light end of the order: all but the few heaviest things."""
    order = [at for at, part in enumerate(parts) if part.kind == "order"]
    return set(sorted(order, key=lambda at: -parts[at].weight)[FIRST_OF_ORDER:])


def _by_worth(parts: Sequence[Part]) -> list[int]:
    """Number what may be cut by its place among the parts, the most worth first."""
    late = _late(parts)

    def worth(at: int) -> tuple[bool, int, float]:
        return at in late, _KEPT.index(parts[at].kind), -parts[at].weight

    return sorted((at for at, part in enumerate(parts) if part.kind not in MUSTS), key=worth)


def _named(musts: Sequence[Part], most: int, width: int) -> Iterator[Part]:
    """Put names in place of the sentences of findings: of the warnings first, then also of the stops."""
    stops, warnings, others = (
        [part for part in musts if part.kind == kind] if kind else [p for p in musts if p.kind not in _FOUND]
        for kind in (*_FOUND, "")
    )
    room = most - len(others)
    named = _names(warnings, max(1, room - len(stops)), width)
    if len(stops) + len(named) > room:
        stops = _names(stops, room - min(len(named), 1), width)
        named = _names(warnings, room - len(stops), width)
    for kind, group in groupby(musts, key=lambda part: part.kind):
        yield from stops if kind == "stop" else named if kind == "warning" else group


def _names(parts: Sequence[Part], most: int, width: int) -> list[Part]:
    """Put as many names on each line as it holds, at most ``most`` lines; each name once, and how often."""
    if not parts:
        return []
    kind = parts[0].kind
    counts = Counter(part.code or _one_line(part.short or part.text, width // 2) for part in parts)
    told = [name if count == 1 else f"{name} ({count} places)" for name, count in counts.items()]
    for number in range(len(told), 0, -1):
        more = [f"{len(told) - number} more"] if number < len(told) else []
        lines = filled(f"{kind}: {', '.join([*told[:number], *more])}", rest="  ", width=width)
        if len(lines) <= most:
            break
    return [Part(kind, line) for line in lines[:most]]


# Lines out of parts.


def _laid(parts: Sequence[Part], said: Sequence[int], width: int) -> list[str]:
    """Lay out each part as it is ``said``; a label stands once over the parts that share it."""
    lines, before = [], ""
    for part, wording in zip(parts, said, strict=True):
        first, *rest = _lines(part, wording, width)
        if part.label and part.label == before:
            first = " " * _LABEL + first[_LABEL:]
        lines += [first, *rest]
        before = part.label
    return lines


def _lines(part: Part, wording: int, width: int) -> list[str]:
    """Say one part: 0 in full, 1 in fewer words, 2 on one line."""
    text = (part.short or part.text) if wording else part.text
    first = f"{part.label:<{_LABEL}}" if part.label else ""
    if wording == 2:
        return [first + _one_line(text, width - len(first))]
    rest = " " * (len(first) or 2)
    return list(_hard(filled(text, first=first, rest=rest, width=width) or [first], width, rest))


def _hard(lines: Sequence[str], width: int, rest: str) -> Iterator[str]:
    """Break also a word that is wider than the line."""
    for line in lines:
        while len(line) > width:
            yield line[:width]
            line = rest + line[width:]  # noqa: PLW2901 - what is left of it
        yield line


def _one_line(text: str, width: int) -> str:
    """End a text at a word where the line ends; its code in square brackets, at the end, stays.

    >>> _one_line("The pad is 14 in below the ground. [pad-cut-deep]", 36)
    'The pad is 14 in... [pad-cut-deep]'
    """
    if len(text) <= width:
        return text
    body, bracket, code = text.rpartition(" [")
    end = f" [{code}" if bracket and code.endswith("]") else ""
    if not end or len(end) + len(_CUT) >= width:
        body, end = text, ""
    room = width - len(end) - len(_CUT)
    kept = body[: room + 1].rpartition(" ")[0] or body[:room]
    return kept.rstrip(" ,;:.") + _CUT + end
