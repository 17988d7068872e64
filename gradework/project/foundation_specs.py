"""From the tables of piers and slab, with what the rest of the job says of the yard, to what is asked of them."""

from __future__ import annotations

from dataclasses import replace

from gradework.foundations.slab_spec import SlabSpec
from gradework.project import specs
from gradework.project.job import Job
from gradework.project.slab_table import SlabTable


def slab_spec(job: Job, table: SlabTable) -> SlabSpec:
    """Say what is asked of the slab, on the soil that is dug."""
    return replace(table.spec(us=job.show.us), soil=specs.soil(job))
