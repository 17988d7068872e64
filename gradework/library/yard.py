"""Back in the yard: what to stake and read, and whether what was built is level and square."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields
from typing import TYPE_CHECKING, Any

from gradework.errors import InputError, fault
from gradework.exchange.yard_records import asbuilt_record, setout_record
from gradework.library.inputs import Table, table_of
from gradework.project import asbuilt as checking
from gradework.project import setout as staking
from gradework.project.backsight import read_backsight
from gradework.project.stations.forms import ReadingsForm, SurveyForm
from gradework.project.tops import read_tops
from gradework.report.yard import asbuilt_text, setout_text
from gradework.units.display import METRIC, counted

if TYPE_CHECKING:
    from gradework.project.plan import Plan


class SettingOut(staking.SettingOut):
    """A sheet for setting out: ``sheet.points`` are the stakes, ``level`` [m] what is built to, all SI."""

    def summary(self) -> str:
        """The sheet in words, in the units of the job, as ``gradework setout JOB`` prints it."""
        return setout_text(self)

    def record(self) -> dict[str, Any]:
        """The same as ``gradework setout JOB --json``: plain data, always SI."""
        return setout_record(self)

    def __repr__(self) -> str:
        count, at = len(self.sheet.points), METRIC.elevation(self.level)
        return f"<SettingOut of the {self.kind} at {at}: {count} stakes, {len(self.marks)} marks>"


class AsBuilt(checking.AsBuilt):
    """The verdict on what was built: ``passed``, ``levels``, ``square``, ``findings``, all SI."""

    def summary(self) -> str:
        """The verdict in words, in the units of the job, as ``gradework asbuilt JOB READINGS`` prints it."""
        return asbuilt_text(self)

    def record(self) -> dict[str, Any]:
        """The same as ``gradework asbuilt JOB READINGS --json``: plain data, always SI."""
        return asbuilt_record(self)

    def __repr__(self) -> str:
        count, verdict = len(self.levels.points), "passed" if self.passed else "not passed"
        return f"<AsBuilt, {self.kind}: {count} tops, {verdict}>"


def set_out(
    plan: Plan,
    *,
    kind: str | None = None,
    instrument: float | None = None,
    backsight: str | None = None,
    string: float | None = None,
    rows: Sequence[int] = (),
    stakes: Sequence[str] = (),
) -> SettingOut:
    """Work out every stake: where it goes, cut or fill, and what the rod reads at each level.

    Parameters
    ----------
    plan
        What ``gradework.plan`` gave.
    kind
        "pad", "piers" or "slab"; None takes the one that is built.
    instrument
        Elevation of today's line of sight [m]; or
    backsight
        a mark of known elevation and the reading on it, in the unit of the job: "BM 4.54".
    string
        Height of a level string above the finished level [m].
    rows, stakes
        Only these rows of piers, or these stakes; all of them where none is named.

    Returns
    -------
    SettingOut
        ``sheet.points`` with places, marks and readings [m]; ``summary()`` tells it.

    Raises
    ------
    InputError
        A kind that the job does not ask for, a mark without an elevation, an unknown stake.
    CheckError
        Where a stake does not lead back to its levels.

    Examples
    --------
    >>> import gradework as gw
    >>> done = gw.plan("data/orchard-studio/job.toml")
    >>> sheet = gw.set_out(done, backsight="BM 4.54")
    >>> sheet
    <SettingOut of the piers at 30.948 m: 28 stakes, 2 marks>
    >>> round(sheet.sheet.instrument, 4)                                       # m
    32.9184
    """
    if instrument is not None and backsight is not None:
        raise InputError([fault("setout-refused", variant="twice")])
    seen = None if backsight is None else read_backsight(backsight, plan)
    wanted = staking.Wanted(kind, rows, stakes, instrument, seen, string)
    made = staking.set_out_plan(plan, wanted)
    return SettingOut(**{one.name: getattr(made, one.name) for one in fields(made)})


def as_built(
    plan: Plan,
    readings: Table,
    *,
    kind: str | None = None,
    sides: Sequence[float] = (),
    diagonals: Sequence[float] = (),
    tolerance: float | None = None,
    known: Mapping[str, float] | None = None,
) -> AsBuilt:
    """Check what was built: each top, neighbours against each other, the whole against the plan, squareness.

    Parameters
    ----------
    plan
        What ``gradework.plan`` gave.
    readings
        The path or the bytes of a CSV file or a workbook, or either with the name of a sheet,
        ``("tops.xlsx", "Spring")``: the tops by name, as elevations or as readings, in the unit of the job.
    kind
        "pad", "piers" or "slab"; None: the names tell piers, else it is the one that is built.
    sides, diagonals
        As measured [m]: four sides, corners 1-2, 2-3, 3-4, 4-1, and two diagonals, 1-3 and 2-4.
    tolerance
        By how much neighbouring tops may differ [m]; None: 1/4 in, or what the job says.
    known
        Elevations of marks [m] besides those of the job, by name.

    Returns
    -------
    AsBuilt
        ``passed``, ``levels``, ``square``, ``findings``; ``summary()`` says what to do at each top.

    Raises
    ------
    InputError
        With every fault of the readings; sides and diagonals that belong to no four corners.

    Examples
    --------
    >>> import gradework as gw
    >>> done = gw.plan("data/orchard-studio/job.toml")
    >>> gw.as_built(done, "data/orchard-studio/tops.csv")
    <AsBuilt, piers: 8 tops, not passed>
    """
    if (len(sides), len(diagonals)) not in ((0, 0), (4, 2)):
        told = (counted(len(sides), "sides"), counted(len(diagonals), "diagonals"))
        raise InputError([fault("setout-refused", variant="sides", sides=told[0], diagonals=told[1])])
    if tolerance is not None and not 0.0 < tolerance < 1.0:
        raise InputError([fault("setout-refused", variant="tolerance", tolerance=tolerance)])
    data, file = table_of(readings, "readings")
    form = SurveyForm(ReadingsForm(known=dict(known or {})))
    tops = read_tops(plan, data, file, form)
    measured = checking.Measured(sides, diagonals)
    built = checking.check_built(plan, tops, file, kind=kind, measured=measured, tolerance=tolerance)
    return AsBuilt(**{one.name: getattr(built, one.name) for one in fields(built)})
