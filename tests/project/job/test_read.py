"""Every fault of a job file at once, each with line, column, value, what was expected and the fix."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.errors import Fault, InputError
from gradework.project.job.model import Job
from gradework.project.job.read import read_job
from gradework.units.lengths import parse_length

DATA = Path(__file__).parents[3] / "data"
GOOD = """\
name = "Studio"
units = "ft"
[survey]
notes = "yard.csv"
[building]
size = [16, 12]
corner = [20, 14]
[pad]
margin = "12 in"
"""
FOOT = 0.3048


def faults(text: str | bytes) -> list[Fault]:
    with pytest.raises(InputError) as told:
        read_job(text.encode() if isinstance(text, str) else text, "job.toml")
    return list(told.value.faults)


def places(text: str) -> list[tuple[str, int, int]]:
    return [(f.code, f.line, f.column) for f in faults(text)]


def test_a_good_job_in_metres_inside() -> None:
    job = read_job(GOOD.encode())
    assert job.building.size == pytest.approx((16 * FOOT, 12 * FOOT), rel=1e-15)
    assert job.pad.margin == pytest.approx(0.3048, rel=1e-15)
    assert job.pad.level is None  # the room's own rule
    assert job.unit == "ft"
    assert job.show.us


@pytest.mark.parametrize("site", ["orchard-studio", "spring-pump-house"])
def test_the_demo_jobs_are_in_order(site: str) -> None:
    assert read_job((DATA / site / "job.toml").read_bytes()).name


def test_a_number_means_the_decimal_that_was_written() -> None:
    job = read_job(GOOD.replace("[20, 14]", "[20.1, 1e-3]").encode())
    assert job.building.corner == (parse_length("20.1 ft", None), parse_length("0.001 ft", None))


def test_a_quoted_length_may_have_another_unit() -> None:
    job = read_job(GOOD.replace("[20, 14]", """["5' 3 1/2\\"", "1.32 m"]""").encode())
    assert job.building.corner == pytest.approx((63.5 * 0.0254, 1.32), rel=1e-15)


def test_the_unit_decides_what_a_bare_number_is() -> None:
    sizes = {}
    for unit in ("ft", "in", "m", "ftUS"):
        text = GOOD.replace('"ft"', f'"{unit}"').replace("[16, 12]", "[64, 48]")
        sizes[unit] = read_job(text.encode()).building.size
    # exact definitions: foot 0.3048 m, inch 0.0254 m, US survey foot 1200/3937 m
    assert sizes["ft"] == pytest.approx((64 * 0.3048, 48 * 0.3048), rel=1e-15)
    assert sizes["in"] == pytest.approx((64 * 0.0254, 48 * 0.0254), rel=1e-15)
    assert sizes["m"] == (64, 48)
    assert sizes["ftUS"] == pytest.approx((64 * 1200 / 3937, 48 * 1200 / 3937), rel=1e-15)


def test_all_faults_at_once_in_the_order_of_the_file() -> None:
    text = """\
nam = "x"
units = "feet"
[survey]
notes = 5
[building]
size = [12, nan, 4]
corner = ["12", "x ft"]
outline = 4
[pad]
thicknes = "4 in"
strip = 4
level = "least fil"
edge = "round"
[prices]
gravel = "38 per ton"
"""
    assert places(text) == [
        ("job-missing-key", 1, 1),
        ("job-unknown-key", 1, 1),
        ("job-value", 2, 9),
        ("job-value", 4, 9),
        ("job-clash", 6, 1),
        ("job-value", 6, 8),
        ("job-clash", 7, 1),
        ("job-length", 7, 11),
        ("job-length", 7, 17),
        ("job-value", 8, 11),
        ("job-unknown-key", 10, 1),
        ("job-length", 11, 9),
        ("job-value", 12, 9),
        ("job-value", 13, 8),
        ("job-value", 15, 10),
    ]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('name = "Studio"', "", "add the line name"),
        ('units = "ft"', "", "add the line units"),
        ('units = "ft"', 'units = "metres"', "did you mean"),
        ('[survey]\nnotes = "yard.csv"', "", "add the line survey"),
        ("size = [16, 12]", "", "add the line size"),
        ("corner = [20, 14]", "", "add the line corner"),
        ("corner", "cornr", "did you mean corner?"),
        ("[pad]", "[pda]", "did you mean pad?"),
        ("margin =", "margn =", "did you mean margin?"),
        ("margin =", "notes = 'x'\nmargin =", "it belongs in [survey]"),
        ("[16, 12]", "[16, -12]", "a length above zero"),
        ("[16, 12]", "[16]", "a list of 2"),
        ("[16, 12]", "16", "a list in brackets"),
        ("[16, 12]", "[16, true]", "without quotes"),
        ("[16, 12]", "[16, inf]", "an ordinary number"),
        ("[16, 12]", "[16, nan]", "an ordinary number"),
        ("[16, 12]", "[16, 1e300]", "an ordinary number"),
        ("[16, 12]", f"[16, 1{'0' * 4000}]", "an ordinary number"),
        ("[16, 12]", "[16, 2020-01-01]", "a number in the unit of the job"),
        ("[16, 12]", '[16, "12 furlongs"]', "expected a length"),
        ('"12 in"', "12", 'write "12 in" or "12 mm"'),
        ('"12 in"', '"12"', "write 12 ft, 12 in or 12 m [job-length]"),
        ('"12 in"', '"-2 in"', "a length of zero or more"),
        ('margin = "12 in"', 'gravel = "0 in"', "a thickness above zero"),
        ('margin = "12 in"', 'level = "least"', "did you mean"),
        ('margin = "12 in"', "level = nan", "an ordinary number"),
        ('margin = "12 in"', "batter = 2", "remove batter"),
        ('margin = "12 in"', 'edge = "battered"\nbatter = -1', "above zero"),
        ('margin = "12 in"', 'material = "choclate chips"', "material"),
        ('margin = "12 in"', 'drain = "yes"', "true or false"),
        ('margin = "12 in"', "turn = 3", "it belongs in [building]"),
        ("corner = [20, 14]", "corner = [20, 14]\nturn = 500", "one full circle"),
        (
            "corner = [20, 14]",
            "corner = [20, 14]\nholes = [[[1, 1], [2, 1], [2, 2]]]",
            "holes only beside outline",
        ),
        ("size = [16, 12]\ncorner = [20, 14]", "outline = [[0, 0], [1, 1]]", "a list of at least 3"),
        ("[building]", "[supplier]\nwaste = 0.1\n[building]", "percent sign"),
        ("[building]", "[supplier]\nwaste = '400 %'\n[building]", "0 % to 50 %"),
        ("[building]", "[supplier]\nwaste = '51 %'\n[building]", "0 % to 50 %"),
        ("[building]", "[supplier]\nmoisture = '30 %'\n[building]", "0 % to 25 %"),
        ("[building]", "[order]\nsure = '20 %'\n[building]", "50 % to 99 %"),
        ("[building]", "[order]\ntopsoil = 1\n[building]", "with its unit"),
        ("[building]", "[drainage]\nfall = '101 %'\n[building]", "0 % to 100 %"),
        ("[building]", "[supplier]\nsold_by = 'handfuls'\n[building]", "bags"),
        ("[building]", "[supplier]\ntruck = 5\n[building]", "its keys below"),
        ("[building]", "[supplier]\ntruck = { volume = 5 }\n[building]", "with its unit"),
        (
            "[building]",
            "[supplier]\nfabric = { width = '1 ft', length = '9 ft' }\n[building]",
            "narrower than the",
        ),
        ("[building]", "[supplier]\ntruck = { volume = '5 m3', payload = '0 t' }\n[building]", "above zero"),
        ("[building]", "[supplier]\ntrucks = ['tandum']\n[building]", "did you mean 'tandem'?"),
        ("[building]", "[supplier]\ntrucks = [{ name = 'cart' }]\n[building]", "volume"),
        (
            "[building]",
            "[supplier]\ntrucks = ['tandem']\ntruck = { volume = '5 yd3' }\n[building]",
            "leave trucks out",
        ),
        (
            "[building]",
            "[supplier]\nfabrics = [{ width = '6 ft', length = '50 ft', price = 40 }, "
            "{ width = '12 ft', length = '50 ft' }]\n[building]",
            "a price for each roll",
        ),
        ("[building]", "[prices]\ngravel = 38\n[building]", "money per unit"),
        ("[building]", "[prices]\ngravel = '38 per ton'\n[building]", "short ton"),
        ("[building]", "[prices]\ndig = '38 per yd4'\n[building]", "did you mean"),
        ("[building]", "[survey.grid]\nspacing = [1, 2, 3]\n[building]", "one spacing, or two"),
        ("[building]", "[survey.grid]\norigin = [0, 0]\n[building]", "add the line spacing = 5"),
        ("[building]", "[[building]]", "its keys below"),
    ],
)
def test_each_fault_says_what_to_do(old: str, new: str, words: str) -> None:
    assert old in GOOD
    found = faults(GOOD.replace(old, new))
    assert any(words in str(f) for f in found), [str(f) for f in found]
    assert all(f.line >= 1 and f.column >= 1 and f.fix for f in found)
    assert all(len(str(f)) < 400 for f in found)


@pytest.mark.parametrize(
    ("text", "code", "line", "column"),
    [
        (b"", "job-missing-key", 1, 1),
        (b'name = "x"\nmargin 12 in\n', "job-syntax", 2, 8),
        (b'name = "x\n', "job-syntax", 1, 10),
        (b"a = 1\na = 2\n", "job-syntax", 2, 6),
        (b"[a]\n[a]\n", "job-syntax", 2, 3),
        (b"a = [1,\n", "job-syntax", 1, 8),
        (b"a = 1\r\nb = \xff\n", "job-encoding", 2, 5),
        (b"\x00", "job-syntax", 1, 1),
        (b"x = " + b"1" * 5000, "job-value", 1, 5),
        (b"\nx = " + b"[" * 5000, "job-too-deep", 2, 5),
        (b"x = " + b"{a=" * 5000, "job-too-deep", 1, 5),
        (b"#" * (2**20 + 1), "file-too-large", 0, 0),
        (b'name = "x"\rb = 1', "job-syntax", 1, 11),
    ],
)
def test_text_that_is_no_job(text: bytes, code: str, line: int, column: int) -> None:
    first = faults(text)[0]
    assert (first.code, first.line, first.column) == (code, line, column)


def test_a_value_that_does_not_fit_is_told_once() -> None:
    broken = GOOD.replace("size = [16, 12]\ncorner = [20, 14]", "outline = [[1, 2, 3], [2, 3], [4, 5]]")
    assert [f.expected for f in faults(broken)] == ["a list of 2"]


def test_a_bare_ton_is_a_short_ton_in_feet_and_refused_in_metres() -> None:
    truck = '[supplier]\ntruck = { volume = "5 yd3", payload = "7 tons" }\n'
    job = read_job((GOOD + truck).encode())
    assert job.supplier.truck is not None
    assert job.supplier.truck.payload == pytest.approx(7 * 907.18474)
    (only,) = faults((GOOD + truck).replace('"ft"', '"m"'))
    assert "ton" in only.found


def test_vehicles_and_rolls_on_offer() -> None:
    offer = """[supplier]
trucks = ["Tandem", { name = "my trailer", volume = "1 yd3", payload = "1800 lb", longest = "12 ft" }]
fabrics = [{ width = "6 ft", length = "50 ft" }, { width = "12.5 ft", length = "100 ft", overlap = "18 in" }]
"""
    yard = read_job((GOOD + offer).encode()).supplier.resolved(us=True)
    tandem, trailer = yard.carriers
    assert (tandem.name, tandem.longest) == ("tandem", 0.0)
    assert tandem.payload == pytest.approx(12 * 907.18474)
    assert (trailer.name, trailer.longest) == ("my trailer", pytest.approx(12 * 0.3048))
    assert [roll.overlap for roll in yard.fabrics] == pytest.approx([0.3048, 0.4572])
    usual = read_job(GOOD.encode()).supplier.resolved(us=True)
    assert (usual.carriers, len(usual.fabrics)) == ((usual.truck,), 1)


def test_a_syntax_error_shows_the_line_with_a_caret() -> None:
    (fault,) = faults('name = "x"\nmargin 12 in\n')
    assert "margin ^12 in" in fault.found


def test_an_inline_table_over_two_lines_is_refused_on_every_python() -> None:
    found = faults(
        GOOD.replace('notes = "yard.csv"', 'notes = "yard.csv"\ngrid = { spacing = 5,\n turn = 3 }')
    )
    assert found[0].code in ("job-broken-table", "job-syntax")  # TOML 1.0 readers stop there by themselves
    assert "heading" in found[0].fix or "table] of its own" in found[0].fix


def test_byte_order_mark_and_windows_lines_are_taken() -> None:
    plain = read_job(GOOD.encode())
    assert read_job(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode()) == plain


def test_a_job_cannot_be_changed() -> None:
    job = read_job(GOOD.encode())
    with pytest.raises(Exception, match="frozen"):
        job.name = "other"  # type: ignore[misc]


def test_nothing_of_a_foreign_file_is_shown_beyond_forty_letters() -> None:
    secret = "s" * 30 + "ecret" * 40
    assert all(len(f.found) < 120 for f in faults(f"root:x:0:0 {secret}\n"))


def test_control_characters_are_shown_as_escapes() -> None:
    text = GOOD.replace('margin = "12 in"', 'level = "\\u001b[2Jx"\n"\\u0007k" = 1')
    assert not any(c in str(f) for f in faults(text) for c in "\x1b\x07")


def test_prices_are_per_si_unit_inside() -> None:
    job = read_job((GOOD + '[prices]\ngravel = "38 per short ton"\ndig = "60 per yd3"\n').encode())
    assert job.prices.gravel == pytest.approx(38 / 907.18474, rel=1e-15)  # 2,000 lb of 0.45359237 kg
    assert job.prices.dig == pytest.approx(60 / 0.9144**3, rel=1e-12)  # the yard is 0.9144 m


def test_the_supplier_keeps_defaults_where_nothing_is_said() -> None:
    job = read_job((GOOD + '[supplier]\nsold_by = "50 lb bags"\nwaste = "5 %"\n').encode())
    supplier = job.supplier.resolved(us=True)
    assert supplier.stone.unit == "bags of 50 lb"
    assert supplier.waste == 0.05
    assert dataclasses.replace(supplier, stone=Job.model_validate, waste=0.1).truck.name == "truck"  # type: ignore[arg-type]


VALUES = st.one_of(
    st.integers(),
    st.floats().map(repr),
    st.booleans().map(lambda b: str(b).lower()),
    st.text(max_size=12).map(lambda s: "'" + s.replace("'", "") + "'"),
    st.sampled_from(
        ["[]", "[[]]", "[[[1]]]", "{}", "{a=1}", "1979-05-27", "[1, 2]", "['1 ft', 2]", '"least fill"']
    ),
)
KEYS = st.sampled_from(
    [
        *(
            "name",
            "units",
            "survey",
            "survey.notes",
            "survey.grid",
            "survey.grid.spacing",
            "survey.grid.origin",
        ),
        *(
            "building",
            "building.size",
            "building.corner",
            "building.turn",
            "building.outline",
            "pad",
            "pad.level",
        ),
        *("building.holes", "pad.margin", "pad.batter", "prices.gravel", "supplier.fabric", "supplier.board"),
        *("soil.kind", "x", "pad.x.y"),
    ]
)


@settings(deadline=None, max_examples=60)
@given(st.lists(st.tuples(KEYS, VALUES), max_size=5))
def test_whatever_is_written_is_read_or_refused_with_a_place(pairs: list[tuple[str, object]]) -> None:
    text = "\n".join(f"{key} = {value}" for key, value in pairs)
    try:
        job = read_job(text.encode("utf-8", "surrogatepass"))
    except InputError as problem:
        told = problem.faults
    else:
        told = ()
        assert isinstance(job, Job)
    assert all(f.line >= 1 and f.column >= 1 and f.found and f.fix for f in told)
