"""The reduced level book: every line with its height of instrument, rise or fall, elevation and spread."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from gradework.survey.levelling.tolerances import is_within
from gradework.units.display import Display
from gradework.units.form import Form, form_in_force

if TYPE_CHECKING:
    from gradework.errors import Finding
    from gradework.fieldnotes.levels import LevelRow
    from gradework.survey.levelling.network import BookNetwork
    from gradework.survey.levelling.tolerances import Allowance
    from gradework.units.lengths import Unit


@dataclass(frozen=True, slots=True)
class BookLine:
    """One line of the reduced book, metres throughout.

    ``height_of_instrument`` is that of the set-up that starts on this line.
    ``rise``: from the reading before it in the same set-up, negative for a fall; None on an opening line.
    ``raw`` before and ``elevation`` after the miss was shared; ``sd`` standard error of ``elevation``.
    """

    row: LevelRow
    height_of_instrument: float | None
    rise: float | None
    raw: float
    elevation: float
    sd: float


@dataclass(frozen=True, slots=True)
class Closure:
    """One check on a mark of known elevation, since the mark before it in the same run.

    ``misclosure`` computed minus known, of this stretch alone [m]; ``allowable`` [m], None where the kind of
    work has no rule for what was measured; ``distance`` [m] or None.
    """

    station: str
    line: int
    setups: int
    distance: float | None
    computed: float
    known: float
    misclosure: float
    allowable: float | None

    @property
    def within(self) -> bool | None:
        """Whether the miss is allowed (to a hundredth of a millimetre); None without a rule, unless there is
        no miss."""
        return is_within(self.misclosure, self.allowable)


@dataclass(frozen=True, slots=True)
class PageCheck:
    """The arithmetic check at the foot of the page for one unbroken run, all in metres.

    ``backsights - foresights``, ``rises - falls`` and ``last - first`` agree for a sound page.
    """

    run: int
    first_line: int
    last_line: int
    backsights: float
    foresights: float
    rises: float
    falls: float
    first: float
    last: float

    @property
    def by_instrument(self) -> float:
        """Sum BS - sum FS minus (last - first) [m]."""
        return self.backsights - self.foresights - (self.last - self.first)

    @property
    def by_rise_and_fall(self) -> float:
        """Sum rise - sum fall minus (last - first) [m]."""
        return self.rises - self.falls - (self.last - self.first)


@dataclass(frozen=True, slots=True)
class FieldBook:
    """A level book reduced, checked and, where the miss is allowed, adjusted.

    ``misclosure`` (computed minus known [m]) and ``allowable`` [m] are those of the largest closure against
    its allowance; None when nothing closes. ``shared`` says how the misclosure was spread: "setups",
    "distance", "network" by least squares over several routes, or "no" when there was nothing to spread or
    too much. ``network``: what least squares say of a book with several routes, else None. ``benchmark``: the
    mark that the first levels are tied to, ``datum`` its elevation [m], given or ``assumed``.
    """

    lines: tuple[BookLine, ...]
    closures: tuple[Closure, ...]
    pages: tuple[PageCheck, ...]
    setups: int
    shared: str
    allowance: Allowance
    benchmark: str
    datum: float
    assumed: bool
    file: str
    unit: Unit
    findings: tuple[Finding, ...]
    network: BookNetwork | None = None
    form: Form = field(default_factory=form_in_force)

    @property
    def show(self) -> Display:
        """How values are shown back to whoever wrote the notes."""
        return Display(self.unit, self.form)

    @property
    def sum_backsights(self) -> float:
        return sum(p.backsights for p in self.pages)

    @property
    def sum_foresights(self) -> float:
        return sum(p.foresights for p in self.pages)

    @property
    def worst(self) -> Closure | None:
        """The closure that misses most for what it is allowed; None when nothing closes."""
        return max(self.closures, key=lambda c: abs(c.misclosure) / (c.allowable or 1.0), default=None)

    @property
    def misclosure(self) -> float | None:
        return None if self.worst is None else self.worst.misclosure

    @property
    def allowable(self) -> float | None:
        return None if self.worst is None else self.worst.allowable
