"""Laws of reading notes: any bytes give shots or told faults; any way of writing gives the same shots."""

from __future__ import annotations

import csv
import io

from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.errors import InputError
from gradework.fieldnotes.lettered import LetteredGrid
from gradework.fieldnotes.spots import read_spots
from gradework.units.lengths import parse_length

LAW = settings(deadline=None, max_examples=60)
numbers = st.integers(-(10**7), 10**7).map(lambda n: f"{n / 1000:.3f}")
levels = st.integers(-500_000, 9_000_000).map(lambda n: f"{n / 1000:.3f}")  # what is on this earth [m]
names = st.text(alphabet="ABCabc123 #'\",;=@-_é", min_size=1, max_size=8).filter(
    lambda s: s.strip() == s and not s.startswith("#")
)
shots = st.lists(st.tuples(names, numbers, numbers, levels), min_size=1, max_size=12)
SCRAPS = [
    "station",
    "x",
    "y",
    "elevation",
    ",",
    ";",
    "\t",
    "\n",
    "\r\n",
    '"',
    "#",
    "1",
    "98.7",
    "1,5",
    "-",
    "A1",
    "B2",
    "sep=;",
    "ft",
    "(m)",
    "total",
    "nan",
    "½",
    "é",
    "\x1b",
    "\x00",
    "P",
    "N",
    "E",
    "Z",
    "5'3\"",
]
scraps = st.lists(st.sampled_from([*SCRAPS, " ", "\u00a0"]), max_size=60).map("".join)


def as_csv(rows, separator=",", quoting=csv.QUOTE_MINIMAL):
    out = io.StringIO()
    csv.writer(out, delimiter=separator, quoting=quoting).writerows(
        [("station", "x", "y", "elevation"), *rows]
    )
    return out.getvalue().encode()


def values(notes):
    return [(notes.names[i], notes.x[i], notes.y[i], notes.elevation[i]) for i in range(len(notes))]


def attempt(data, **options):
    """The shots, or the faults that were told instead; anything but an InputError is a crash."""
    try:
        return read_spots(data, "yard.csv", **options), ()
    except InputError as error:
        return None, error.faults


@LAW
@given(shots, st.sampled_from(["ft", "m"]), st.sampled_from([",", ";", "\t"]), st.booleans())
def test_shots_come_back_whatever_the_separator_and_quoting(rows, unit, separator, quote_all):
    data = as_csv(rows, separator, csv.QUOTE_ALL if quote_all else csv.QUOTE_MINIMAL)
    wanted = [(n, *(parse_length(cell, unit) for cell in cells)) for n, *cells in rows]
    notes, faults = attempt(data, unit=unit, decimal=".")
    assert {fault.code for fault in faults} <= {"notes-degrees"}
    assert notes is None or values(notes) == wanted


@LAW
@given(shots, st.sampled_from(["ft", "m", "in"]))
def test_a_block_at_once_and_row_by_row_give_the_same(rows, unit):
    data = as_csv([(f"S{i}", *cells) for i, (_, *cells) in enumerate(rows)])
    # a comment in the middle sends the block down the careful way
    careful = data.replace(b"S0,", b"# careful\r\nS0,", 1)
    at_once, faults = attempt(data, unit=unit)
    one_by_one, same_faults = attempt(careful, unit=unit)
    assert [fault.code for fault in faults] == [fault.code for fault in same_faults]
    assert at_once is None or values(at_once) == values(one_by_one)


@settings(deadline=None, max_examples=200)
@given(scraps, st.sampled_from(["ft", "m", None]), st.sampled_from([None, "PNEZ", "X-YZ"]))
def test_scraps_of_notes_never_crash(text, unit, columns):
    grid = LetteredGrid((1.0, 1.0))
    for head in (b"", b"station,x,y,elevation\n", b",0,1\n"):
        notes, faults = attempt(head + text.encode(), unit=unit, columns=columns, grid=grid)
        assert all(f.found and f.expected and f.fix and f.file == "yard.csv" for f in faults)
        if notes is None:
            assert faults
        else:
            sizes = {len(part) for part in (notes.names, notes.x, notes.y, notes.elevation, notes.lines)}
            assert sizes == {len(notes)}
            assert len(notes) > 0


@LAW
@given(st.binary(max_size=200))
def test_any_bytes_give_shots_or_told_faults(data):
    for head in (b"", b"\xff\xfe", b"station,x,y,elevation\n"):
        notes, faults = attempt(head + data, unit="m")
        assert (notes is None) == bool(faults)


steps = st.lists(st.integers(-500, 500), min_size=2, max_size=5, unique=True).map(
    lambda n: [f"{v / 10}" for v in n]
)


@LAW
@given(steps, steps, st.data(), st.sampled_from(["ft", "m", "in"]))
def test_a_grid_and_the_table_of_its_shots_are_the_same(xs, ys, data, unit):
    cell = st.one_of(st.just(""), numbers)
    cells = [[data.draw(cell) for _ in xs] for _ in ys]
    cells[0][0] = "1.5"
    rows = list(zip(ys, cells, strict=True))
    drawn = "\n".join([",".join(["", *xs]), *(",".join([y, *row]) for y, row in rows)])
    listed = [(f"x{x} y{y}", x, y, z) for y, row in rows for x, z in zip(xs, row, strict=True) if z]
    from_grid, faults = attempt(drawn.encode(), unit=unit)
    from_table, same_faults = attempt(as_csv(listed), unit=unit)
    assert [fault.code for fault in faults] == [fault.code for fault in same_faults]
    assert from_grid is None or values(from_grid) == values(from_table)


@LAW
@given(st.lists(st.tuples(st.integers(0, 51), st.integers(1, 30)), min_size=1, max_size=9, unique=True))
def test_a_lettered_grid_stands_where_its_letters_and_numbers_say(places):
    letters = [chr(65 + i) for i in range(26)] + ["A" + chr(65 + i) for i in range(26)]
    text = "station,elevation\n" + "".join(f"{letters[row]}{column},1\n" for row, column in places)
    notes, faults = attempt(text.encode(), unit="m", grid=LetteredGrid((2.0, 0.5), (10.0, -4.0)))
    assert not faults
    assert list(zip(notes.x, notes.y, strict=True)) == [(10 + (c - 1) * 0.5, -4 + r * 2.0) for r, c in places]
