"""The simple ways of levelling as tables: what each column means, and what is told of a bad row."""

from __future__ import annotations

import pytest

from gradework.errors import InputError
from gradework.fieldnotes.height_notes import Difference, Drop, RodReading, Step, WaterPair
from gradework.fieldnotes.height_tables import read_rod, read_steps, read_strings, read_water


def codes(read, text: str, **more) -> list[tuple[str, int]]:
    with pytest.raises(InputError) as caught:
        read(text.encode(), "notes.csv", unit="m", **more)
    return [(fault.code, fault.line) for fault in caught.value.faults]


def test_two_strings_in_one_file():
    text = (
        "string,station,along,drop,known,sag\n"
        "A,west peg,0,,31.2,\nA,A1,1,0.5,,\nA,A2,2,0.6,,0.01\nA,east peg,8,,31.25,\n"
        "B,peg,,,32,\nB,B1,,0.7,,\n"
    )
    first, second = read_strings(text.encode(), "s.csv", unit="m").rows
    assert first.supports == ((0.0, 31.2), (8.0, 31.25))
    assert first.sag == 0.01
    assert first.drops == (Drop("A1", 0.5, 1.0, 3), Drop("A2", 0.6, 2.0, 4))
    assert second.supports == ((None, 32.0),)
    assert second.drops == (Drop("B1", 0.7, None, 7),)


def test_water_pairs_and_differences():
    text = "station,mark reading,station reading\nA,1.2,1.0\nB,1.2,1.5\n"
    assert read_water(text.encode(), "w.csv", unit="m", mark="BM").rows == (
        WaterPair("BM", 1.2, "A", 1.0, 2),
        WaterPair("BM", 1.2, "B", 1.5, 3),
    )
    text = "from,to,first,second\nBM,A,1.2,1.0\nA,B,0.9,1.0\n"
    assert [p.start for p in read_water(text.encode(), "w.csv", unit="m", mark="x").rows] == ["BM", "A"]
    text = "station,higher\nA,0.2\nB,-0.3\n"
    assert read_water(text.encode(), "w.csv", unit="m", mark="BM").rows == (
        Difference("A", 0.2, 2),
        Difference("B", -0.3, 3),
    )


def test_steps_and_rod_readings():
    assert read_steps(b"station,run,rise\nA,2,-0.1\n", "s.csv", unit="m").rows == (Step("A", 2.0, -0.1, 2),)
    assert read_rod(b"station,reading\nA,1.25\n", "r.csv", unit="m").rows == (RodReading("A", 1.25, 2),)
    assert read_rod(b"station,reading\nA,4' 0\"\n", "r.csv", unit=None).unit == "ft"


def test_faults_by_line():
    text = "station,along,drop,known\nA,2,,\nB,3,x,\n"
    assert codes(read_strings, text) == [("string-row-empty", 2), ("notes-cell", 3)]
    assert codes(read_strings, "station,drop\n,0.5\n") == [("levels-no-station", 2)]
    assert codes(read_water, "station,higher\nA,\n", mark="BM") != []
    assert codes(read_water, "station,mark reading\nA,1\n", mark="BM") == [("water-level-columns", 1)]
    assert codes(read_steps, "station,run\nA,1\n") == [("notes-column-missing", 1)]
    assert codes(read_rod, "station,reading\nA,one\n") == [("notes-cell", 2)]
