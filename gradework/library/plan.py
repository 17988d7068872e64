"""A whole job at once: read it, plan it, see it, save it."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import fields, replace
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from gradework.exchange.record import record
from gradework.files.write import write_folder
from gradework.library.inputs import Source
from gradework.library.jobs import around_of, notes_of, read_job
from gradework.library.survey import Stations
from gradework.project import plan as planning
from gradework.project.job.model import Job
from gradework.report.first_screen import answer
from gradework.report.plan import summary
from gradework.units.display import counted

if TYPE_CHECKING:
    import matplotlib.figure

    from gradework.drawings.paper import Paper
    from gradework.units.display import Display


class Plan(planning.Plan):
    """Everything that is known about one job, all SI: the stages of the work in their order.

    ``gradework.plan`` makes it.

    Attributes
    ----------
    job
        What was asked.
    stations, surface
        The survey and the ground through it.
    building, footprint
        The outline of the building [m], and how the ground lies under it.
    pad
        The gravel pad: ``pad.chosen.level`` [m], ``.excavation`` in place and ``.gravel`` compacted [m³].
    foundations
        Pad, piers and slab side by side; ``foundations.chosen`` names the one that is ordered.
    order, orders
        What to buy for the chosen one, and for each one asked for: ``order.lines``, ``order.mass_kg`` [kg].
        Nothing for one that cannot be built as drawn (``held_back``), but ``anyway``.
    gravel
        What the pad's stone weighs [kg] and takes up loose.
    drainage
        Falls from the walls.
    measures
        What leads water past the walls of the pad that it comes to, one for each run of walls: a swale, a
        pipe drain or an apron, ``made.line`` (n, 3) [m], ``made.cut`` [m³].
    nearby, near
        What stands near the building, and for each foundation how far off it is and what is checked there.
    finished
        The ground once all is built, like ``surface``: pad or slab, side slopes, and what leads water past
        and comes out on the survey. What lies between the two surfaces is what is dug and filled.
    trust
        How far the survey can be trusted.
    findings
        What a builder should know; one of severity "stop" means: not like this.
    cautions
        What to take care of before digging.

    Examples
    --------
    >>> import gradework as gw
    >>> done = gw.plan("data/spring-pump-house/job.toml")
    >>> done.pad
    <Pad at 49.199 m (least fill): dig 2.05 m³, gravel 6.53 m³>
    >>> round(done.order.mass_kg / 1000.0), sorted(done.figures())          # tonnes to bring home
    (18, ['curve', 'days', 'plan', 'section', 'shopping', 'swale'])
    >>> middle = done.building.rings[0].mean(axis=0)                            # level with the pad
    >>> round(float(done.finished.elevation([middle])[0]), 3)
    49.199
    """

    stations: Stations

    @classmethod
    def _of(cls, found: planning.Plan) -> Plan:
        """The same plan with what this class adds."""
        stations = Stations.of(found.stations)
        own = {one.name: getattr(found, one.name) for one in fields(found)}
        own |= {"stations": stations, "surface": replace(found.surface, stations=stations)}
        return cls(**own)

    def summary(self, full: bool = False) -> str:
        """Tell the plan in words, in the units of the job, as ``gradework plan JOB`` prints it.

        Parameters
        ----------
        full
            All of it, as ``gradework plan JOB --full``; else the answer, in 24 lines at the most.
        """
        return summary(self) if full else answer(self)

    def record(self) -> dict[str, Any]:
        """Give the whole plan as plain data, always SI: equal to ``gradework plan JOB --json``.

        Strings, finite numbers, lists, dictionaries and None; ``docs/result.schema.json`` is its shape.
        """
        return record(self)

    def figures(self) -> dict[str, matplotlib.figure.Figure]:
        """Draw everything: "plan", "section", "curve", "plan-piers" ..., whatever the job asks for.

        They are figures of matplotlib that no window keeps; a notebook shows one that ends a cell.
        """
        from gradework.library.figures import draw_all  # loads matplotlib

        return dict(draw_all(self).figures)

    def save(
        self,
        folder: str | os.PathLike[str],
        force: bool = False,
        pictures: bool = False,
        paper: Paper | None = None,
        formats: bool = False,
    ) -> tuple[Path, ...]:
        """Write the same folder as ``gradework plan JOB -o FOLDER``: all of it, or nothing.

        Parameters
        ----------
        folder
            Where to; it is made where it does not exist.
        force
            Also replace files that gradework did not write, or that were changed since.
        pictures
            Also each drawing by itself, as PNG and SVG.
        paper
            Of ``sheets.pdf``: "a4" or "letter"; the one that goes with the units of the job.
        formats
            Also ground.xml (LandXML) and, for a yard in a reference system, yard.geojson.

        Returns
        -------
        tuple of pathlib.Path
            The files, the manifest last.

        Raises
        ------
        OutputError
            Nothing was written: a full disk, a file in the way that is not ours.
        """
        from gradework.library.figures import all_files  # as above

        files, _ = all_files(self, paper, pictures=pictures, formats=formats)
        return tuple(written.path for written in write_folder(files, folder, force=force))

    def __repr__(self) -> str:
        told = counted(len(self.findings), "findings")
        name = self.job.name if len(self.job.name) <= _LONGEST_NAME else f"{self.job.name[:_LONGEST_NAME]}..."
        return f"<Plan {name!r}: {self.foundations.chosen}{self._at()}, {told}>"

    def _at(self) -> str:
        top = self._top()
        return "" if top is None else f" at {self.job.show.elevation(top)}"

    def _top(self) -> float | None:
        """The level that is built to [m]; None without one."""
        found = self.foundations
        if found.chosen == "piers":
            return None if found.piers is None else found.piers.top
        if found.chosen == "slab":
            return None if found.slab is None else found.slab.level
        return found.pad.chosen.level

    def _repr_html_(self) -> str:
        show, found = self.job.show, self.foundations
        rows = [("to build", f"{found.chosen}{self._at()}"), *_amounts(self, show)]
        rows += [("to carry", "nothing is ordered" if self.held_back else show.mass(self.order.mass_kg))]
        rows += [("survey", self.trust.grade)]
        cells = "".join(f"<tr><th>{escape(name)}</th><td>{escape(value)}</td></tr>" for name, value in rows)
        items = "".join(
            f"<li><b>{finding.severity}</b>: {escape(finding.advice)}</li>" for finding in self.findings
        )
        told = f"<ul>{items}</ul>" if items else ""
        stamp = f"<p><b>{escape(self.stamp())}</b></p>" if self.stamp() else ""
        return f"<h4>{escape(self.job.name)}</h4>{stamp}<table>{cells}</table>{told}"


_LONGEST_NAME = 60


def _amounts(plan: Plan, show: Display) -> list[tuple[str, str]]:
    """What the chosen foundation takes, in words."""
    found, beside = plan.foundations, sum(one.dug.cut for one in plan.measures if one.dug)
    if found.chosen == "piers" and found.piers is not None:
        dig = show.volume(found.piers.dug)
        return [("dig, in place", dig), ("blocks", str(found.piers.units_total))]
    if found.chosen == "slab" and found.slab is not None:
        slab = found.slab
        dig = show.volume(slab.dig + beside)
        return [("dig, in place", dig), ("concrete", show.volume(slab.concrete.volume))]
    chosen = found.pad.chosen
    return [
        ("dig, in place", show.volume(chosen.dug + beside)),
        ("gravel, compacted", show.volume(chosen.gravel)),
    ]


def plan(
    job: Job | Source | Mapping[str, Any],
    notes: Source | None = None,
    places: Source | None = None,
    *,
    breaklines: Source | None = None,
    around: Source | None = None,
    anyway: bool = False,
) -> Plan:
    """Plan a whole job: level, digging, gravel, the order, drainage, findings.

    Parameters
    ----------
    job
        A ``Job``, or what ``read_job`` takes: the path of a job file, its bytes, a dictionary.
    notes
        The path or the bytes of its notes; None reads the file that the job names, beside the job.
    places
        The same for its table of places, where the job names one.
    breaklines
        The same for its table of breaklines, where the job names one.
    around
        The same for its file of airborne ground, where the job names one.
    anyway
        Order what is chosen though a check fails; never over what bears, held edges or dug faces.

    Returns
    -------
    Plan
        All SI; ``summary()``, ``record()``, ``figures()`` and ``save(folder)`` show it.

    Raises
    ------
    InputError
        With every fault of the job, or else of the notes, or else of the plan; ``notes-not-given`` for a job
        from no file without notes.
    CheckError
        When the arithmetic disagrees with itself.

    Examples
    --------
    >>> import gradework as gw
    >>> done = gw.plan("data/orchard-studio/job.toml")
    >>> done.foundations.chosen, done.foundations.asked
    ('piers', ('pad', 'piers', 'slab'))
    >>> round(done.foundations.piers.top, 3), round(done.pad.chosen.level, 3)      # m
    (30.948, 30.639)
    """
    asked = job if isinstance(job, Job) else read_job(job)
    given = notes_of(asked, notes, places, breaklines)
    return Plan._of(planning.plan(asked, *given, around=around_of(asked, around), anyway=anyway))
