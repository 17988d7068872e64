"""Frost and eaves hold for the whole job: piers and slab keep the same rule, wherever the job tells it."""

from __future__ import annotations

import pytest

from gradework.errors import Fault, InputError
from gradework.foundations.piers.spec import FrostRule
from gradework.project.job.model import Job
from gradework.project.job.read import read_job
from gradework.project.plan import plan
from gradework.project.specs import frost_rule, pier_spec, slab_spec

HEAD = 'name = "x"\nunits = "ft"\n[survey]\nnotes = "n.csv"\n[building]\nsize = [16, 12]\ncorner = [0, 0]\n'


def job(tables: str) -> Job:
    return read_job((HEAD + tables).encode(), "job.toml")


@pytest.mark.parametrize(
    "tables",
    [
        'eave = "11 ft"\n[site]\nfrost = "36 in"\n[piers]\n[slab]\n',
        '[piers]\nfrost = "36 in"\neave = "11 ft"\n[slab]\n',
        'eave = "11 ft"\n[piers]\nfrost = "36 in"\n[slab]\n',
    ],
)
def test_piers_and_slab_are_held_to_the_same_rule(tables: str) -> None:
    read = job(tables)
    assert read.piers is not None
    assert read.slab is not None
    piers, slab = pier_spec(read, read.piers).frost, slab_spec(read, read.slab).frost
    assert (slab.depth, slab.eave) == pytest.approx((36 * 0.0254, 11 * 0.3048))
    assert (piers.depth, piers.eave) == (slab.depth, slab.eave)


def test_a_job_that_does_not_tell_keeps_the_general_rule() -> None:
    assert frost_rule(job("[piers]\n[slab]\n")) == FrostRule()


def faults(tables: str) -> list[Fault]:
    with pytest.raises(InputError) as told:
        job(tables)
    return list(told.value.faults)


def test_frost_told_twice_is_refused() -> None:
    (fault,) = faults('[site]\nfrost = "36 in"\n[piers]\nfrost = "30 in"\n')
    assert (fault.code, fault.line) == ("job-clash", 11)
    (fault,) = faults('eave = "9 ft"\n[piers]\neave = "9 ft"\n')
    assert fault.found == "eave in [piers] beside eave in [building]"


def test_frost_in_the_slab_is_sent_to_the_yard() -> None:
    """Not to [piers], which would ask for piers too."""
    (fault,) = faults('[slab]\nfrost = "36 in"\n')
    assert (fault.code, fault.fix) == ("job-unknown-key", "it belongs in [site]")


def test_the_finding_on_the_slab_tells_that_depth_and_the_size_of_the_building(
    plane_job: bytes, plane_notes: bytes
) -> None:
    """4 x 3 m is small, though the slab around it may be large; a high eave takes the exception away."""
    wide = b'[slab]\nmargin = "1 m"\n'
    for more, severity in ((b"", "note"), (b'eave = "4 m"\n', "warning")):
        text = plane_job.replace(b"[pad]", more + b"[pad]").partition(b"[pad]")[0]
        done = plan(read_job(text + b'[site]\nfrost = "900 mm"\n' + wide), plane_notes)
        (found,) = [f for f in done.foundations.findings if f.code == "slab-frost"]
        assert (found.severity, found.limit) == (severity, pytest.approx(0.9))
