"""From the tables of piers and slab, with what the job says of the yard, to what is asked of them."""

from __future__ import annotations

from dataclasses import replace

from gradework.foundations.pier_spec import FrostRule, PierSpec
from gradework.foundations.slab_spec import SlabSpec
from gradework.project import specs
from gradework.project.job import Job
from gradework.project.piers_table import PiersTable
from gradework.project.slab_table import SlabTable


def pier_spec(job: Job, table: PiersTable) -> PierSpec:
    """Say what is asked of the piers. Raises ``InputError`` for figures that cannot be."""
    spec, rule = table.spec(us=job.show.us), frost_rule(job)
    return replace(spec, frost=replace(spec.frost, depth=rule.depth, eave=rule.eave))


def slab_spec(job: Job, table: SlabTable) -> SlabSpec:
    """Say what is asked of the slab, on the soil that is dug."""
    return replace(table.spec(us=job.show.us), soil=specs.soil(job), frost=frost_rule(job))


def frost_rule(job: Job) -> FrostRule:
    """Give the one rule about frost for all foundations of a job, so that they compare.

    Depth and eaves may stand in the table of piers instead; then they hold for the slab all the same.
    """
    piers = job.piers or PiersTable()
    depth = piers.frost if job.site.frost is None else job.site.frost
    eave = piers.eave if job.building.eave is None else job.building.eave
    return FrostRule(depth=depth) if eave is None else FrostRule(depth=depth, eave=eave)
