"""A whole job comes back as its notes were written, or as ``show`` asks; its record never changes."""

from __future__ import annotations

from dataclasses import replace

import pytest

import gradework
from gradework.errors import InputError
from gradework.exchange.record import record
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.report.plan import summary

JOB = """\
name = "Tool store"
units = "ft"
{show}
[survey]
notes = "yard.csv"
[building]
size = [8, 6]
corner = [6, 6]
[pad]
strip = "4 in"
gravel = "4 in"
"""


def yard(say: str) -> bytes:
    """A grid of 5 ft on a slope of 1/2 in in 5 ft; ``say``: how its levels are written."""
    rows = ["station,x,y,elevation"]
    for i in range(5):
        for j in range(5):
            inches = 1200 + 0.5 * i + 0.25 * j
            whole, part = divmod(inches, 12)
            text = {
                "inches": f'"{int(whole)}\' {part:g}"""',
                "tenths": f"{inches / 12:.4f}",
                "mm": f"{inches * 25.4:.1f} mm",
            }[say]
            rows.append(f"{'ABCDE'[j]}{i + 1},{5 * i},{5 * j},{text}")
    return ("\n".join(rows) + "\n").encode()


def planned(say: str, show: str = "") -> Plan:
    return plan(read_job(JOB.format(show=show).encode()), yard(say))


@pytest.mark.parametrize(
    ("say", "form", "level"),
    [("inches", "inches", "100' "), ("tenths", "tenths", "100."), ("mm", "mm", "30.")],
)
def test_a_job_is_said_as_its_notes_were_written(say: str, form: str, level: str) -> None:
    done = planned(say)
    assert done.job.show.form == done.stations.show.form == form
    assert f"Level        {level}" in summary(done)


@pytest.mark.parametrize("form", ["inches", "tenths", "m", "mm"])
def test_the_job_says_otherwise(form: str) -> None:
    done = planned("inches", f'show = "{form}"')
    assert done.job.show.form == done.stations.show.form == form
    assert done.job.unit == "ft"


def test_the_record_is_the_same_in_every_form_but_for_words() -> None:
    def figures(document: object) -> object:
        if isinstance(document, dict):
            return {key: figures(value) for key, value in document.items()}
        if isinstance(document, list | tuple):
            return [figures(value) for value in document]
        return document if not isinstance(document, str) else ""

    first, *others = (
        figures(record(planned("tenths", f'show = "{form}"'))) for form in ("tenths", "inches", "m")
    )
    assert all(other == first for other in others)


TIED = JOB.replace("corner = [6, 6]", 'ties = { P = "8 ft", Q = "8 ft", R = "9 ft" }\nside = "left"').replace(
    "[building]", "marks = { P = [0, 6], Q = [12, 6], R = [6, 20] }\n[building]"
)


@pytest.mark.parametrize(
    ("say", "worst"), [("inches", ' 1 5/8"'), ("tenths", " 0.13 ft"), ("mm", " 0.041 m")]
)
def test_a_taped_corner_is_said_as_the_notes_were_written(say: str, worst: str) -> None:
    done = plan(read_job(TIED.replace("{show}", "").encode()), yard(say))
    (told,) = (told for told in done.findings if told.code == "ties-disagree")
    assert worst in told.advice


def test_an_unknown_form_is_told_with_those_there_are() -> None:
    with pytest.raises(InputError) as told:
        planned("tenths", 'show = "feet"')
    (fault,) = told.value.faults
    assert (fault.line, fault.column) == (3, 8)
    assert fault.expected == 'one of "inches", "tenths", "m", "mm"'


def test_a_job_made_in_python_has_its_units_form_until_the_notes_tell() -> None:
    building = {"size": ["8 ft", "6 ft"], "corner": [0, 0]}
    tables = {"name": "Shed", "survey": {"notes": "y.csv"}, "building": building}
    assert gradework.Job(units="ft", **tables).show.form == "tenths"  # type: ignore[arg-type]
    assert gradework.Job(units="in", **tables).show.form == "inches"  # type: ignore[arg-type]
    assert gradework.Job(units="ft", show="mm", **tables).show.form == "mm"  # type: ignore[arg-type]


def test_ground_of_known_error_is_said_no_finer_than_it_earns() -> None:
    done = planned("tenths")
    sd = done.stations.sd.copy()
    sd[:] = 0.02
    rough = replace(done.stations, sd=sd)
    assert done.stations.ground.elevation(30.43556) == "99.85 ft"
    assert rough.ground.elevation(30.43556) == "99.85 ft"
    sd[:] = 0.05
    assert replace(rough, sd=sd).ground.elevation(30.43556) == "99.9 ft"
