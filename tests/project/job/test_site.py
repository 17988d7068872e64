"""What a job says of things near: each key with its faults at its line, all at once."""

from __future__ import annotations

import pytest

from gradework.errors import Fault, InputError
from gradework.project.job.read import read_job

GOOD = """\
name = "Studio"
units = "ft"
[survey]
notes = "yard.csv"
[building]
size = [16, 12]
corner = [20, 14]
[[site.near]]
"""
FENCE = 'name = "fence"\nkind = "fence"\nline = [[0, 0], ["3 m", "4 m"]]\n'


def faults(rest: str) -> list[Fault]:
    with pytest.raises(InputError) as told:
        read_job((GOOD + rest).encode(), "job.toml")
    return list(told.value.faults)


def test_places_are_read_in_the_units_of_the_job() -> None:
    job = read_job((GOOD + FENCE + 'setback = "2 ft"\n').encode())
    (near,) = job.site.near
    assert near.line == ((0.0, 0.0), (3.0, 4.0))
    assert near.setback == pytest.approx(0.6096)
    (tree,) = read_job((GOOD + 'name = "oak"\nkind = "tree"\nline = [[10, 0]]\n').encode()).site.near
    assert tree.line == ((pytest.approx(3.048), 0.0),)


@pytest.mark.parametrize(
    ("rest", "line", "code", "found"),
    [
        ('name = "f"\nkind = "fense"\nline = [[0, 0], [9, 0]]', 10, "job-value", 'kind: "fense"'),
        ('name = "f"\nkind = "fence"\nline = [[0, 0]]', 8, "job-value", "line of one place"),
        ('name = "f"\nkind = "fence"\nline = [[0, 0], [0, 0]]', 8, "job-value", "line of one place"),
        ('name = "f"\nkind = "fence"', 8, "job-missing-key", "no line or outline"),
        ('kind = "fence"\nline = [[0, 0], [9, 0]]', 8, "job-missing-key", "no name"),
        ('name = "f"\nkind = "house"\noutline = [[0, 0], [9, 0]]', 11, "job-value", "outline"),
        (
            'name = "f"\nkind = "tree"\nline = [[0, 0]]\noutline = [[0,0],[1,0],[1,1]]',
            11,
            "job-clash",
            "line",
        ),
        ('name = "f"\nkind = "tree"\nline = [[0, 0]]\nsetback = 5', 12, "job-length", "setback"),
        ('name = "f"\nkind = "tree"\nline = [[0, 0]]\nsetback = "-5 ft"', 12, "job-value", "setback"),
        ('name = "f"\nkind = "tree"\nline = [[0, 0]]\nsetback = "400 ft"', 12, "job-out-of-range", "setback"),
        ('name = "f"\nkind = "tree"\nline = [[0, 0]]\nset_back = "5 ft"', 12, "job-unknown-key", "set_back"),
    ],
)
def test_each_slip_is_told_at_its_line(rest: str, line: int, code: str, found: str) -> None:
    (fault,) = faults(rest + "\n")
    assert (fault.code, found in fault.found) == (code, True), fault
    assert fault.line == line, fault  # a table as a whole is told at its heading
    assert fault.fix


def test_all_at_once_and_a_name_only_once() -> None:
    second = '[[site.near]]\nname = "The  Fence"\nkind = "wall"\nline = [[0, 0], [9, 0]]\n'
    third = '[[site.near]]\nname = "fence"\nkind = "fence"\nline = [[0, 0], [9, 0]]\n'
    told = faults(FENCE + second + third)
    assert [(fault.code, fault.line) for fault in told] == [("job-value", 14), ("job-clash", 17)]
