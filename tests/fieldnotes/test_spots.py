"""Spot elevations in their three forms, and every bad file the reader must answer."""

from __future__ import annotations

import pytest

from gradework.errors import InputError
from gradework.fieldnotes import table as table_module
from gradework.fieldnotes.lettered import LetteredGrid
from gradework.fieldnotes.spots import read_spots
from gradework.units.form import saying

FOOT = 0.3048
HEAD = "station,x,y,elevation\n"


def spots(text, unit="ft", **options):
    data = text if isinstance(text, bytes) else text.encode()
    return read_spots(data, "yard.csv", unit=unit, **options)


def rows(notes):
    return list(zip(notes.names, notes.x, notes.y, notes.elevation, notes.lines, strict=True))


def faults(text, unit="ft", **options):
    with pytest.raises(InputError) as caught:
        spots(text, unit, **options)
    return caught.value.faults


def fault(text, unit="ft", **options):
    (only,) = faults(text, unit, **options)
    return only


def codes(notes):
    return [finding.code for finding in notes.findings]


SAME_YARD = [
    HEAD + "A,0,0,98.5\nB,4,8,5' 3 1/2\"\n",
    "elevation,y,x,station\n98.5,0,0,A\n5' 3 1/2\",8,4,B\n",
    "Point,Northing,Easting,Elev.,Description\nA,0,0,98.5,\nB,8,4,63.5 in,\n",
    "P,N,E,Z,D\nA,0,0,98.5,fence\nB,8,4,1.6129 m,\n",
    "Pt No,X (ft),Y (ft),Elev (ft)\nA,0,0,98.5\nB,4,8,5-3 1/2\n",
    "stn,x_ft,y_ft,elevation_ft\nA,0,0,98.5\nB,4,8,5’ 3½”\n",
    "station;x;y;elevation\nA;0;0;98,5\nB;4;8;63,5 in\n",
    "sep=;\nstation;x;y;elevation\nA;0;0;98.5\nB;4;8;63.5 in\n",
    "station\tx\ty\televation\nA\t0\t0\t98.5\nB\t4\t8\t5'3 1/2''\n",
    'station,x,y,elevation\n"A","0","0","98.5"\n"B","4","8","5\' 3 1/2"""\n',
    "Yard of the demo,,,\nstation,x,y,elevation\n\n# noon\n,,,\nA,0,0,98.5\nB,4,8,5' 3.5\"\n,,,\n",
    "station,x,y,elevation,,\nA,0,0,98.5,,\nB,4,8,5 ft 3.5 in,,\n",
    "station,x,y,elevation\n,ft,ft,ft\nA,0,0,98.5\nB,4,8,5'-3 1/2\"\n",
    "\ufeffstation , x , y , elevation\n A , 0 , 0 , 98.5\nB, 4,\u00a08,  5' 3 1/2\"",
    "Station,East,North,Level,date\nA,0,0,98.5,May\nB,4,8,5' 3 1/2\",May\n",
]


@pytest.mark.parametrize("text", SAME_YARD)
def test_one_yard_written_in_many_ways(text):
    notes = spots(text)
    assert [row[:4] for row in rows(notes)] == [
        ("A", 0.0, 0.0, 98.5 * FOOT),
        ("B", 4 * FOOT, 8 * FOOT, 1.6129),
    ]
    assert (notes.unit, notes.file) == ("ft", "yard.csv")


def test_lines_are_those_of_the_file():
    assert [row[4] for row in rows(spots(SAME_YARD[10]))] == [6, 7]
    assert list(spots(HEAD + "A,0,0,1\n\nB,4,0,1\n").lines) == [2, 4]


def test_notes_are_kept_and_absent_ones_are_none():
    notes = spots("station,x,y,elevation,note\nA,0,0,1,fence post\nB,1,0,1,\n")
    assert notes.notes == ("fence post", "")
    assert spots("station,x,y,elevation,note\nA,0,0,1,\nB,1,0,1,\n").notes is None
    assert spots('station,x,y,elevation,note\nA,0,0,1,"two\nlines, one cell"\nB,1,0,1,\n').lines[1] == 4


def test_shots_without_a_name_are_named_after_their_line():
    assert spots("x,y,elevation\n0,0,1\n1,0,1\n").names == ("line 2", "line 3")
    assert spots(HEAD + "A,0,0,1\n,1,0,1\n").names == ("A", "line 3")


def test_letters_for_a_file_without_header():
    notes = spots("1,8,4,98.5,fence\n2,0,0,98.25,\n", columns="PNEZD")
    assert rows(notes)[0] == ("1", 4 * FOOT, 8 * FOOT, 98.5 * FOOT, 1)
    assert spots("9,1,8,4,98.5\n", columns="-PNEZ").names == ("1",)
    assert len(spots("P,N,E,Z\n1,8,4,98.5\n", columns="pnez")) == 1


def test_letters_that_make_no_sense():
    unknown, twice = (fault("1,2,3,4\n", columns=letters) for letters in ("PQEZ", "PXEZ"))
    assert unknown.code == twice.code == "notes-column-letters"
    assert "'Q'" in unknown.found
    assert "'E'" in twice.found
    assert fault("P,N,E,Z\n1,8,4,98.5\n", columns="PENZ").code == "notes-columns-disagree"
    assert "no column for elevation" in fault("1,2,3\n", columns="PNE").found


def test_row_1_empty_file_or_header_only():
    for text in ("", "\n\n", "# nothing yet\n", HEAD, HEAD + ",,,\n# later\n"):
        only = fault(text)
        assert only.code == "notes-no-shots"
        assert "station,x,y,elevation" in only.expected


@pytest.mark.parametrize("cell", ["NaN", "nan", "inf", "-Infinity", "1e400", "1e300", "1_000", "٣", "0x10"])
@pytest.mark.parametrize("column", ["x", "elevation"])
def test_rows_11_to_13_not_a_number_or_too_large_is_refused_at_the_cell(cell, column):
    row = f"B,{cell},0,1" if column == "x" else f"B,1,0,{cell}"
    only = fault(HEAD + f"A,0,0,1\n{row}\n")
    assert (only.code, only.line, only.column) == ("notes-cell", 3, 3 if column == "x" else 7)
    assert only.found.startswith(f"{column} '")


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        ("98.7.2", "98.72"),
        ("9 8.72", "98.72"),
        ('"98,72"', "98.72"),
        ("2-Jan", "date"),
        ("Mar-04", "date"),
        ("#REF!", "spreadsheet"),
        ("#N/A", "spreadsheet"),
        ("-", "not a value"),
        ("", "no elevation"),
        ("n/a", "not a value"),
        ('"1,234"', "1.234 or 1234"),
    ],
)
def test_rows_15_and_19_each_slip_is_named_with_its_likely_reading(cell, words):
    only = fault(HEAD + f"A,0,0,1\nB,1,0,{cell}\n")
    assert (only.line, only.column) == (3, 7)
    assert words in str(only)


def test_row_16_minus_as_dash_and_hidden_spaces():
    assert rows(spots(HEAD + "A,–1,−2,\u200b-3\u00a0\n", "m"))[0][1:4] == (-1.0, -2.0, -3.0)


def test_row_20_a_row_of_figures_is_never_a_header():
    only = fault("A1,0,4,98.5\nA2,4,4,98.25\n")
    assert (only.code, only.line) == ("notes-no-header", 1)
    assert "put station,x,y,elevation or station,y,x,elevation above them" in only.fix
    rover = fault("1,5000,5100,100.2,iron pin\n")
    assert rover.code == "notes-no-header"
    assert "which is northing cannot be told" in rover.found
    assert "name,northing,easting,elevation,description or name,easting,northing,elev" in rover.fix
    assert "without separators" in fault("station x y elevation\nA 0 0 1\n").found


def test_row_71_of_a_foreign_file_no_more_than_forty_letters_are_shown():
    only = fault("root,of-all-words-that-no-survey-has-in-its-first-row-ever\n" + "secret,words\n" * 3)
    assert "root, of-all-words" in only.found
    assert len(only.found) < 90
    assert "secret" not in str(only)


def test_row_21_unknown_and_repeated_columns():
    only = fault("station,x,y,elevatoin\nA,0,0,1\n")
    assert "did you mean 'elevation'" in only.fix
    assert "station, x, y, elevation, breakline, note" in only.expected
    assert "'E' and 'Easting'" in fault("station,E,Easting,y,elevation\nA,0,0,0,1\n").found
    assert fault("station,x,elevation\nA,0,1\n").code == "notes-column-missing"
    assert {f.code for f in faults("station,x,y,z,rods,chains\nA,0,0,1,2,3\n")} == {"notes-unknown-column"}


def test_places_of_a_map_of_the_web_are_refused():
    # 83.8418 W, 37.5876 N, by x = R lon and y = R ln tan(45 + lat/2) (the formulas of EPSG method 1024)
    web = HEAD + "".join(f"S{i},{-9333221.1 + 10 * i},4521337.2,210.3\n" for i in range(4))
    told = fault(web, unit="m")
    assert told.code == "notes-web-map"
    assert "1.26 times" in told.found
    assert "UTM zone 17 north (EPSG:32617)" in told.fix
    # bare figures are in metres whatever the unit of the job: 122.17 W and 73.66 W
    for unit, x, zone in (("m", -13_600_000, 10), ("ft", -13_600_000, 10), ("ft", -8_200_000, 18)):
        web_map = HEAD + "".join(f"S{i},{x + 10 * i},{5_700_000 + 10 * i},210.3\n" for i in range(4))
        told = fault(web_map, unit=unit)
        assert told.code == "notes-web-map"
        assert f"x {x:,} and y 5,700,000 m" in told.found
        assert f"UTM zone {zone} north (EPSG:326{zone})" in told.fix
    said = web_map.replace("x,y", "x (m),y (m)")
    assert "UTM zone 18 north" in fault(said, unit="ft").fix
    own = web.replace("-9", "-")  # some national grids do count from the east: 333 km west is one of these
    assert len(spots(own, unit="m")) == 4
    small = HEAD + "".join(f"S{i},{-4_000_000 + 5000 * i},{5000 * i},98000\n" for i in range(4))
    assert len(spots(small, unit="mm")) == 4  # 4 km from the middle of a site


def test_row_23_latitudes_and_degrees_are_no_lengths():
    assert {f.code for f in faults("station,lat,lon,elevation\nA,40.1,-80.1,99\n")} == {"notes-degrees"}
    degrees = HEAD + "".join(f"S{i},-80.{i:06d},40.{i:06d},99\n" for i in range(9))
    assert fault(degrees).code == "notes-degrees"
    assert len(spots(degrees.replace("-80.", "80").replace("40.", "40"))) == 9


def test_row_25_ragged_rows():
    missing, extra = faults(HEAD + "A,0,0\nB,1,0,98,5\nC,2,0,1,,,\n")
    assert (missing.line, extra.line) == (2, 3)
    assert "nothing for elevation" in missing.found
    assert "decimal comma" in extra.fix
    assert len(spots("station,x,y,elevation,note\nA,0,0,1\nB,1,0,1,,,\n")) == 2
    assert fault("station,x,y,elevation,\nA,0,0,1,7\n").code == "notes-ragged-row"


def test_row_26_an_unclosed_quote_names_the_line_where_it_opened_and_the_rest_is_still_read():
    opened, later = faults(HEAD + 'A,0,0,1\nB,1,0,"98.5\nC,2,0,1\nD,3,0,bad\n')
    assert (opened.code, opened.line, opened.column) == ("notes-quote", 3, 7)
    assert (later.code, later.line) == ("notes-cell", 5)


def test_row_26_an_unclosed_quote_that_meets_a_later_quoted_cell():
    opened = fault(HEAD + 'A,0,0,1\nB,1,0,"98.5\nC,2,0,1\n"D",3,0,1\n')
    assert (opened.code, opened.line) == ("notes-quote", 3)


def test_row_27_text_after_a_closing_quote():
    junk = fault(HEAD + 'A,0,0,1\n"B"x,1,0,98.5\n')
    assert (junk.code, junk.line, junk.column) == ("notes-quote", 3, 1)
    assert "after a closing quote" in junk.found


def test_row_34_the_dialect_is_told_and_an_unclear_comma_is_refused():
    assert codes(spots("station;x;y;elevation\nA;0;0;98,5\n", "m")) == ["notes-dialect"]
    unclear = "station;x;y;elevation\nA;1,234;2,345;8,765\n"
    assert (fault(unclear, "m").code, fault(unclear, "m").line) == ("notes-unclear-decimals", 2)
    assert rows(spots(unclear, "m", decimal=","))[0][1:4] == (1.234, 2.345, 8.765)
    assert rows(spots(unclear, "m", decimal="."))[0][1:4] == (1234.0, 2345.0, 8765.0)
    # a leading zero, or four digits before the mark, cannot be grouping
    assert rows(spots("station;x;y;z\nA;0,234;2,345;98,765\n", "m"))[0][1] == 0.234
    mixed = fault("station;x;y;elevation\nA;1,5;2;98\nB;1.5;2;98\n", "m")
    assert mixed.code == "notes-mixed-decimals"
    assert "line 3" in mixed.found


def test_row_36_more_rows_than_the_limit(monkeypatch):
    monkeypatch.setattr(table_module, "MOST_ROWS", 10)
    assert fault(HEAD + "A,0,0,1\n" * 11).code == "notes-too-many-rows"


def test_row_37_totals_and_notes_rows_are_named_and_comments_skipped():
    total, note = faults(HEAD + "A,0,0,1\n# B,1,0,1\nTotal,,,99\nmeasured on a dry day,,,\n")
    assert (total.line, note.line) == (4, 5)
    assert "a row of totals: 'Total 99'" in total.found
    assert "a row of notes" in note.found
    assert "begin it with #" in total.fix
    assert fault(HEAD + "A,0,0,1\nAverage,1,1,1\n").code == "notes-not-a-shot"


def test_a_comment_that_looks_like_a_shot_is_told():
    notes = spots(HEAD + "A,0,0,1\n#5,1,0,1\n# a plain comment\n")
    assert notes.names == ("A",)
    assert [(f.code, f.where) for f in notes.findings] == [("notes-comment-like-shot", "yard.csv line 3")]
    assert codes(spots(HEAD + '#5,1,0,1\n"A",0,0,1\n')) == ["notes-comment-like-shot"]


@pytest.mark.parametrize(
    "name",
    ["=cmd|' /C calc'!A0", "@SUM(1)", "+1+1", "<script>", '"><img onerror>', "$\\frac$", "$$", "點三", "🌳"],
)
def test_rows_38_to_43_names_of_every_kind_are_kept_as_text(name):
    quoted = '"' + name.replace('"', '""') + '"'
    assert spots(HEAD + f"{quoted},0,0,1\n").names == (name,)


def test_row_42_control_characters_and_endless_names_are_made_harmless():
    notes = spots(HEAD + "A\x1b[2J,0,0,1\n" + "N" * 5000 + ",1,0,1\nC\u202e,2,0,1\n")
    assert notes.names == ("A\\x1b[2J", "N" * 37 + "...", "C\\u202e")
    assert codes(notes) == ["notes-name-changed"]


def test_row_47_no_unit_anywhere_is_refused_once():
    only = fault(HEAD + "A,0,0,1\nB,1,0,1\n", None)
    assert (only.code, only.line) == ("notes-no-unit", 2)
    assert 'units = "ft"' in only.fix
    assert fault("station,x,y,Elev (ft)\nA,0,0,1\n", None).code == "notes-no-unit"


def test_a_header_or_every_cell_may_declare_the_unit():
    assert spots("station,x (ft),y (ft),Elev (ft)\nA,0,4,1\n", None).unit == "ft"
    own = spots("station,x,y,elevation\nA,0 ft,4 ft,5-3 1/2\n", None)
    assert (own.unit, own.y[0]) == ("ft", 4 * FOOT)
    assert spots("station,x,y,elevation\nA,0 m,4 m,132 cm\n", None).unit == "m"


def test_row_48_a_unit_in_the_header_is_taken_whatever_the_declared_one():
    """x and y in feet as declared, heights in metres as the header says: read so, and said."""
    notes = spots("station,x,y,Elev (m)\nA,0,10,1\n", "ft")
    assert (notes.y[0], notes.elevation[0], notes.unit) == (10 * FOOT, 1.0, "ft")
    (told,) = notes.findings
    assert (told.code, told.severity) == ("notes-units-by-column", "note")
    assert told.advice.startswith("Read as the header says: elevation in metres.")
    assert spots("station,x,y,elevation\n,m,m,m\nA,0,4,1\n", "ft").y[0] == 4.0
    assert told.advice.endswith("Results are shown in feet.")
    with saying("mm"):  # in the form of the notes, whatever the unit of bare numbers
        (told,) = spots("station,x,y,Elev (cm)\nA,0,10,100\n", "ft").findings
    assert told.advice.endswith("Results are shown in metres and millimetres.")


def test_row_48_a_unit_for_one_of_two_columns_that_go_together_is_refused():
    only = fault("station,x (m),y,Elev (ft)\nA,0,0,1\n", "ft")
    assert (only.code, only.line) == ("notes-unit-disagrees", 1)
    assert only.fix.startswith("write y (m) in the header")
    assert fault("station,x (m),y,Elev (ft)\nA,0,0,1\n", None).code == "notes-no-unit"


def test_two_units_for_one_column_are_refused_and_the_same_one_twice_is_none():
    told = fault("station,x,y,elev (ft)\n,m,m,cm\nA,0,4,1\n", "m")
    assert (told.code, told.line) == ("notes-unit-disagrees", 2)
    assert told.found == "'elev (ft)' in the header, and 'cm' in the row of units below it"
    assert told.expected == "one unit for elevation"
    for header, row in (("ft", "ft"), ("ft", "feet"), ("ftUS", "ft"), ("ft-in", "ft"), ("ft", "")):
        assert spots(f"station,x,y,elev ({header})\n,ft,ft,{row}\nA,0,4,1 ft\n", None).names == ("A",)


@pytest.mark.parametrize("head", ["station,x,y,elevation", "x,station,y,elevation"])
def test_an_error_of_a_sheet_is_no_name(head):
    cells = {"station": "#REF!", "x": "5", "y": "0", "elevation": "98"}
    row = ",".join(cells[name] for name in head.split(","))
    told = fault(f"{head}\n{row.replace('#REF!', 'A')}\n{row}\n", "m")
    assert (told.code, told.line, told.column) == ("notes-cell", 3, row.index("#") + 1)
    assert told.found == "station '#REF!' is a spreadsheet error"


def test_row_49_steps_twelve_times_as_long_one_way_are_told():
    grid = [(x, y) for x in range(5) for y in range(5)]
    inches = HEAD + "".join(f"S{x}{y},{4 * x},{48 * y},{99 + x}\n" for x, y in grid)
    (finding,) = spots(inches).findings
    assert (finding.code, finding.value, finding.limit) == ("notes-step-ratio", pytest.approx(12), 12)
    metres = HEAD + "".join(f"S{x}{y},{x},{y * 3.2808:.4f},{99 + x}\n" for x, y in grid)
    assert "in metres" in spots(metres).findings[0].advice
    assert spots(HEAD + "".join(f"S{x}{y},{4 * x},{5 * y},99\n" for x, y in grid)).findings == ()


def test_row_50_far_coordinates_in_feet_ask_which_foot():
    far = HEAD + "A,6300000,2100000,1\nB,6300020,2100000,1\n"
    assert codes(spots(far)) == ["notes-which-foot"]
    assert codes(spots(far, "ftUS")) == []
    assert spots(far, "ftUS").x[0] == 6300000 * 1200 / 3937


def test_row_51_far_coordinates_are_read_to_the_last_digit():
    assert spots(HEAD + "A,6300000.123,2100000.456,1\n", "m").x[0] == 6300000.123


def test_a_day_number_among_elevations_is_a_date():
    only = fault(HEAD + "A,0,0,98.5\nB,1,0,45355\nC,2,0,98\nD,3,0,98\n")
    assert "stores a date" in only.found
    assert only.line == 3


def test_all_faults_of_a_file_at_once_in_its_order():
    found = faults(HEAD + "A,x,0,1\nB,0,0\nC,0,0,2-Jan\nTotal,,,9\nE,0,0,1\n")
    assert [f.line for f in found] == [2, 3, 4, 5]
    many = faults(HEAD + "A,x,0,1\n" * 5000)
    assert 1000 <= len(many) <= 6000


def test_grid_as_people_draw_it():
    for corner in ("", "y\\x", "y/x (ft)", "Elev", "North \\ East"):
        notes = spots(f"{corner},0,4,8' 6\"\n8,99.1,,98\n0,98,99.25,5-3 1/2\n")
        assert rows(notes) == [
            ("x0 y8", 0.0, 8 * FOOT, 99.1 * FOOT, 2),
            ("x8'6\" y8", 8.5 * FOOT, 8 * FOOT, 98 * FOOT, 2),
            ("x0 y0", 0.0, 0.0, 98 * FOOT, 3),
            ("x4 y0", 4 * FOOT, 0.0, 99.25 * FOOT, 3),
            ("x8'6\" y0", 8.5 * FOOT, 0.0, 1.6129, 3),
        ]


def test_grid_with_semicolons_and_decimal_commas():
    notes = spots("y\\x (m);0;0,5\n1,5;30,125;30,5\n\n# end\n", "m")
    assert rows(notes)[1] == ("x0,5 y1,5", 0.5, 1.5, 30.5, 2)


def test_a_title_may_stand_above_a_grid():
    notes = spots("My yard\n,0,4\n0,1,2\n")
    assert (notes.names, codes(notes)) == (("x0 y0", "x4 y0"), ["notes-title-line"])
    several = spots("My yard,,\n3 May,,\nB. Builder\n,0,4\n0,1,2\n")
    assert (several.names, codes(several)) == (("x0 y0", "x4 y0"), ["notes-title-line"])


def test_a_number_sign_inside_a_name_is_no_comment():
    assert spots(HEAD + "stake #5,0,0,1\n  # note,9,9,\n").names == ("stake #5",)


def test_grid_faults_name_the_cell():
    found = faults(",0,4,4\n0,1,bad,3\n0,1,2,3\ny,1,2,3\n8,1,2,3,9\n")
    assert [(f.code, f.line, f.column) for f in found] == [
        ("notes-position-twice", 1, 6),
        ("notes-cell", 2, 5),
        ("notes-position-twice", 3, 1),
        ("notes-cell", 4, 1),
        ("notes-ragged-row", 5, 0),
    ]
    assert fault(",0,4\n").code == "notes-no-shots"
    assert rows(spots("y\\x (m),0,4\n0,1,2\n", "ft"))[1][1:4] == (4.0, 0.0, 2.0)
    assert fault(",0,4\n0,1,2\n", None).code == "notes-no-unit"
    assert spots("y\\x (ft),0,4\n0,1,2\n", None).unit == "ft"


def test_lettered_grid():
    notes = spots("station,elevation\nA1,98.5\nA3,98.25\nB1,98\nc-2,97\n", grid=LetteredGrid((1.0, 2.0)))
    assert [row[:3] for row in rows(notes)] == [
        ("A1", 0.0, 0.0),
        ("A3", 4.0, 0.0),
        ("B1", 0.0, 1.0),
        ("c-2", 2.0, 2.0),
    ]
    turned = spots("station,elevation\nA2,1\nB1,1\n", "m", grid=LetteredGrid((1.0, 2.0), (10.0, 20.0), 90.0))
    assert [(turned.x[i], turned.y[i]) for i in (0, 1)] == [(10.0, 22.0), (9.0, 20.0)]


def test_lettered_grid_faults():
    assert fault("station,elevation\nA1,98.5\n").code == "notes-no-spacing"
    assert fault("station,elevation\nA1,98.5\n", grid=LetteredGrid((0.0, 1.0))).code == "notes-no-spacing"
    found = faults("station,elevation\nA1,x\nB,1\nA0,2\nTP99999,3\n", grid=LetteredGrid((1.0, 1.0)))
    assert [(f.code, f.line) for f in found] == [
        ("notes-cell", 2),
        ("notes-not-in-grid", 3),
        ("notes-not-in-grid", 4),
        ("notes-not-in-grid", 5),
    ]


def test_several_titles_may_stand_above_a_header_and_are_told():
    notes = spots("Back yard survey,,,\n\nDate 3 May,,,\nstation,x,y,elevation\n,ft,ft,ft\nA,0,0,1\n")
    assert notes.names == ("A",)
    (told,) = [f for f in notes.findings if f.code == "notes-title-line"]
    assert told.advice == (
        "Lines 1 ('Back yard survey') and 3 ('Date 3 May') are above the table and were taken as titles."
    )


@pytest.mark.parametrize(
    ("text", "words", "line"),
    [
        ("a b c\nd e f\n", "a first row without separators", 1),
        ("My yard\nMay\nA,0,0,1\n", "figures", 3),
        (
            "My yard\nMay\nalpha,beta\nA,0,0,1\n",
            "'alpha, beta'",
            3,
        ),
        (
            "title\n" * 13 + "station,x,y,z\nA,0,0,1\n",
            "12 title rows, and no header below them",
            1,
        ),
    ],
)
def test_titles_without_a_header_below(text, words, line):
    found = fault(text)
    assert (found.code, found.line) == ("notes-no-header", line)
    assert words in found.found


def test_a_title_and_left_out_columns_are_told():
    assert codes(spots("My yard\nstation,x,y,z,date\nA,0,0,1,May\n")) == [
        "notes-title-line",
        "notes-columns-left-out",
    ]


def test_each_column_may_name_its_own_unit():
    """Two plain rows, and one with an odd cell, which is read by itself."""
    text = "station,x (m),y (in),elevation (ft)\nA,1.5,100,10\nB,3,40 cm,10.25\n"
    notes = spots(text, None)
    assert rows(notes) == [
        ("A", 1.5, 2.54, 3.048, 2),
        ("B", 3.0, 0.4, 10.25 * FOOT, 3),
    ]
    assert notes.unit == "ft"
    (told,) = notes.findings
    assert told.code == "notes-units-by-column"
    assert told.advice.startswith("Read as the header says: x in metres, y in inches, elevation in feet.")
    assert codes(spots("station,x (m),y (m),elevation (m)\nA,0,0,1\n", None)) == []
