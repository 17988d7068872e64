"""Every number that a job holds is bounded: a slip of the unit or of a digit is told at its line."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, NamedTuple, get_args, get_origin

import pytest
from pydantic import BaseModel, TypeAdapter, ValidationError

from gradework.errors import Fault, InputError
from gradework.project.job.bounds import BOUNDS, MOST_CORNERS, MOST_KINDS, MOST_MARKS, MOST_NEAR, MOST_PIERS
from gradework.project.job.model import Job
from gradework.project.job.read import read_job
from gradework.project.job.values import bare_numbers_in
from gradework.units.amounts import parse_mass, parse_pressure, parse_speed, parse_volume
from gradework.units.lengths import parse_length

GOOD = """\
name = "Studio"
units = "ft"
[survey]
notes = "yard.csv"
[building]
size = [16, 12]
corner = [20, 14]
"""
PAGE = (Path(__file__).parents[3] / "docs" / "job-file.md").read_text("utf-8")

FORMS = {
    "bare": ("1", "2", "0.9", "1.2"),
    "length": ('"1 m"', '"2 m"', '"100 mm"'),
    "weight": ('"30 kg"',),
    "percent": ('"5 %"', '"80 %"'),
    "pressure": ('"40 kPa"',),
    "speed": ('"50 m/s"',),
    "volume": ('"1 m3"',),
    "per weight": ('"40 per kg"',),
    "per volume": ('"40 per m3"',),
    "per area": ('"40 per m2"',),
    "per bag": ('"7 per 25 kg"',),
    "density": ('"2200 kg/m3"',),
}
"""How numbers are written, each with sane values."""

SHAPES = ("{}", "[{0}, {0}]", "{{ A = {0}, B = {0} }}", "[[{0}, {0}], [{0}, {0}]]")
SHAPES += ("{{ A = [{0}, {0}] }}", "[[{0}, {0}], [{0}, {0}], [{0}, {0}]]", '{{ "crusher run" = {0} }}')
SHAPES += ("[[{0}, {0}], [0, 0], [{0}, 0]]",)
SHAPES += ("[[[{0}, {0}], [{0}, {0}], [{0}, {0}]]]", "{{ M = {{ A = {0}, B = {0} }} }}")

BELOW_ZERO = {
    "site.water.place",
    "site.boundary",
    "site.around_at",
    "survey.grid.origin",
    "survey.grid.turn",
    "survey.known",
    "survey.hi",
    "survey.string.first",
    "survey.string.second",
    "survey.strings.first",
    "survey.strings.second",
    "survey.marks",
    "survey.baseline",
    "survey.seat",
    "survey.zero",
    "building.corner",
    "building.turn",
    "building.outline",
    "building.holes",
    "pad.level",
    "piers.positions",
    "piers.clearance",
    "piers.top",
    "slab.level",
    "setout.marks",
    "setout.benchmarks",
    "soil.spread",
    "site.north",
    "site.near.line",
    "site.near.outline",
}
"""Places, elevations and turns: a number below zero has its sense there."""


class Leaf(NamedTuple):
    """A key that is no table: where it stands, and what it takes."""

    path: str
    takes: TypeAdapter[Any]
    numeric: bool


def leaves(table: type[BaseModel], path: str = "") -> Iterator[Leaf]:
    for name, field in table.model_fields.items():
        inner = [t for t in parts(field.annotation) if isinstance(t, type) and issubclass(t, BaseModel)]
        if inner:
            yield from leaves(inner[0], f"{path}{name}.")
            continue
        kind = Annotated[field.annotation, *field.metadata] if field.metadata else field.annotation
        yield Leaf(path + name, TypeAdapter(kind), any(t in (int, float, Any) for t in parts(kind)))


def parts(kind: Any) -> Iterator[Any]:
    """Each type within a type; what stands beside it in ``Annotated`` is none."""
    yield kind
    inner = get_args(kind)
    for one in inner[:1] if get_origin(kind) is Annotated else inner:
        yield from parts(one)


LEAVES = {leaf.path: leaf for leaf in leaves(Job)}


def value_of(text: str) -> Any:
    return tomllib.loads(f"k = {text}")["k"]


def taken(leaf: Leaf, text: str) -> bool:
    try:
        with bare_numbers_in("m"):
            leaf.takes.validate_python(value_of(text))
    except ValidationError:
        return False
    return True


def forms_taken(leaf: Leaf) -> list[tuple[str, str]]:
    """In which shape and form the key takes a sane number; none for a key that takes words."""
    if taken(leaf, '"seven"'):
        return []
    return [
        (shape, sane)
        for shape in SHAPES
        for form in FORMS.values()
        for sane in form
        if taken(leaf, shape.format(sane))
    ]


def with_number(sane: str, number: str) -> str:
    return re.sub(r"[0-9.]+", number, sane.replace("mm", "m"), count=1)


def test_every_numeric_key_is_reached() -> None:
    missed = [leaf.path for leaf in LEAVES.values() if leaf.numeric and not forms_taken(leaf)]
    assert missed == []
    assert len(LEAVES) > 100


@pytest.mark.parametrize("path", [path for path, leaf in LEAVES.items() if forms_taken(leaf)])
def test_a_thousand_million_is_refused(path: str) -> None:
    leaf = LEAVES[path]
    for shape, sane in forms_taken(leaf):
        for number in ("1000000000", "1e9") if sane[0] != '"' else ("1000000000",):
            assert not taken(leaf, shape.format(with_number(sane, number))), (sane, shape)


@pytest.mark.parametrize("path", [path for path, leaf in LEAVES.items() if forms_taken(leaf)])
def test_less_than_nothing_is_refused_where_it_has_no_sense(path: str) -> None:
    leaf = LEAVES[path]
    below = [
        taken(leaf, shape.format(with_number(sane, r"-\g<0>")))
        for shape, sane in forms_taken(leaf)
        if not (path.endswith("marks") and "M =" in shape)  # distances from marks
    ]
    assert any(below) == (path in BELOW_ZERO)


def faults(text: str) -> list[Fault]:
    with pytest.raises(InputError) as told:
        read_job(text.encode(), "job.toml")
    return list(told.value.faults)


@pytest.mark.parametrize(
    ("line", "found", "expected"),
    [
        ('[pad]\ngravel = "1e6 in"', 'gravel: "1e6 in"', "at most 6.56 ft"),
        ('[pad]\nstrip = "1e9 mm"', 'strip: "1e9 mm"', "at most 6.56 ft"),
        ('[piers]\nspacing = "1 mm"', 'spacing: "1 mm"', "3.94 in to 65.6 ft"),
        ("[setout]\nbenchmarks = { BM = 1e6 }", "BM: 1000000.0", "-32,800 ft to 32,800 ft"),
        ('[supplier]\ntruck = { volume = "1000000 m3" }', 'volume: "1000000 m3"', "0.00131 yd³ to 130 yd³"),
        ('[supplier]\nsold_by = "1000000 lb bags"', 'sold_by: "1000000 lb bags"', "0.221 lb to 11,000 lb"),
        ("[prices]\nshort_load = 200_000_000", "short_load: 200000000", "0 to 100,000,000"),
        ('[prices]\ndig = "200000000 per yd3"', 'dig: "200000000 per yd3"', "0 to 100,000,000"),
    ],
)
def test_told_with_place_value_bound_and_mend(line: str, found: str, expected: str) -> None:
    (fault,) = faults(GOOD + line + "\n")
    assert (fault.code, fault.line, fault.found) == ("job-out-of-range", 9, found)
    assert fault.column > 5
    assert expected in fault.expected
    assert fault.fix


@pytest.mark.parametrize(
    ("units", "building", "line", "found"),
    [
        ("cm", "size = [4.8, 3.6]", 6, "size: 48 mm by 36 mm"),
        ("cm", 'size = "48 x 36"', 6, "size: 480 mm by 360 mm"),
        ("in", "size = [16, 12]", 6, "size: 1' 4\" by 1' 0\""),
        ("cm", "outline = [[0, 0], [48, 0], [48, 36], [0, 36]]", 5, "building: 480 mm by 360 mm"),
    ],
)
def test_a_building_of_no_size_is_told_with_the_unit_it_was_read_in(
    units: str, building: str, line: int, found: str
) -> None:
    job = GOOD.replace('"ft"', f'"{units}"').replace("size = [16, 12]", building)
    (fault,) = faults(job if "size" in building else job.replace("corner = [20, 14]\n", ""))
    assert (fault.code, fault.line, fault.found) == ("job-out-of-range", line, found)
    assert "a building of at least " in fault.expected
    assert f" {units} here" in fault.fix
    # a long narrow strip is a strip, and a unit that is written is believed
    for good in ('size = ["30 ft", "6 in"]', 'size = ["16 ft", "12 ft"]'):
        read_job(GOOD.replace('"ft"', f'"{units}"', 1).replace("size = [16, 12]", good).encode())


def test_a_metric_job_is_told_metres() -> None:
    (fault,) = faults(GOOD.replace('"ft"', '"m"') + '[pad]\ngravel = "2.01 m"\n')
    assert "at most 2 m" in fault.expected


READ = {
    "length": parse_length,
    "mass": parse_mass,
    "volume": parse_volume,
    "pressure": parse_pressure,
    "speed": parse_speed,
}


@pytest.mark.parametrize("us", [True, False])
@pytest.mark.parametrize("name", list(BOUNDS))
def test_the_bound_that_is_told_is_allowed_and_close(name: str, us: bool) -> None:
    bound = BOUNDS[name]
    for words, meant in zip(bound.told(us=us), (bound.least, bound.most), strict=True):
        bare = words.replace(",", "")
        read = READ.get(bound.kind) if " " in bare else None
        value = (
            float(bare) if read is None else float(read(bare, None) if read is parse_length else read(bare))
        )
        assert bound.holds(value), words
        assert value == pytest.approx(meant, rel=0.01)


@pytest.mark.parametrize("name", list(BOUNDS))
def test_the_page_tells_every_bound(name: str) -> None:
    section = PAGE.partition("## Bounds")[2].partition("\n## ")[0]
    bound = BOUNDS[name]
    row = next((row for row in section.splitlines() if row.startswith(f"| {name} |")), None)
    assert row is not None
    for us in (True, False):
        for words in bound.told(us=us):
            assert words in row


def test_the_page_names_every_numeric_key() -> None:
    section = PAGE.partition("## Bounds")[2].partition("\n## ")[0]
    for path, leaf in LEAVES.items():
        if forms_taken(leaf):
            assert f"`{path.rpartition('.')[2]}`" in section, path


@pytest.mark.parametrize("holes", [False, True])
def test_an_outline_of_too_many_corners_is_refused(holes: bool) -> None:
    corners = ", ".join(f"[{x}, {x * x / 10}]" for x in range(MOST_CORNERS - 2))
    rest = "holes = [[[1, 1.5], [2, 4.5], [3, 9.5]]]\n" if holes else "outlin = 1\n"
    told = faults(GOOD.partition("size")[0] + f"outline = [{corners}]\n{rest}")
    large = [fault for fault in told if fault.code == "job-out-of-range"]
    assert [(fault.line, fault.found) for fault in large] == (
        [(6, f"outline: {MOST_CORNERS + 1} corners with those of the holes")] if holes else []
    )


def many(count: int, text: str) -> str:
    return ", ".join(text.replace("#", str(i)) for i in range(count))


@pytest.mark.parametrize(
    ("table", "column", "found"),
    [
        (f"[setout]\nmarks = {{ {many(MOST_MARKS + 1, 'm# = [#, 0]')} }}", 9, f"{MOST_MARKS + 1} marks"),
        (f"[piers]\npositions = {{ {many(MOST_PIERS + 1, 'p# = [#, 0]')} }}", 13, f"{MOST_PIERS + 1} piers"),
        (
            '[supplier]\nboard = { name = "b", thickness = "2 in", face = "6 in", '
            f"""lengths = [{many(MOST_KINDS + 1, '"8 ft"')}] }}""",
            68,
            f"{MOST_KINDS + 1} lengths",
        ),
    ],
)
def test_lists_have_a_most(table: str, column: int, found: str) -> None:
    (fault,) = faults(GOOD + table + "\n")
    assert (fault.code, fault.line, fault.column) == ("job-out-of-range", 9, column)
    assert found in fault.found
    assert "at most" in fault.expected


def test_what_stands_near_has_a_most() -> None:
    near = '[[site.near]]\nname = "n#"\nkind = "fence"\nline = [[0, 0], [9, #]]\n'
    (fault,) = faults(GOOD + "".join(near.replace("#", str(n)) for n in range(MOST_NEAR + 1)))
    assert (fault.code, fault.line) == ("job-out-of-range", 8)
    assert f"{MOST_NEAR + 1} neighbours" in fault.found
    places = many(MOST_CORNERS + 1, "[#, 0]")
    (fault,) = faults(f'{GOOD}[[site.near]]\nname = "n"\nkind = "fence"\nline = [{places}]\n')
    assert (fault.code, fault.line) == ("job-out-of-range", 11)
    assert f"{MOST_CORNERS + 1} corners" in fault.found


def test_kinds_of_block_have_a_most() -> None:
    block = (
        '[[piers.units]]\nname = "u"\nthickness = "4 in"\nlength = "16 in"\nwidth = "8 in"\nweight = "9 kg"\n'
        "price = 1\n"
    )
    (fault,) = faults(GOOD + block * (MOST_KINDS + 1))
    assert (fault.code, fault.line) == ("job-out-of-range", 8)


def test_an_outline_wider_than_any_small_building_is_refused() -> None:
    (fault,) = faults(GOOD.partition("size")[0] + "outline = [[0, 0], [330, 0], [330, 9], [0, 9]]\n")
    assert (fault.code, fault.line) == ("job-out-of-range", 5)
    assert "at most 328 ft" in fault.expected
