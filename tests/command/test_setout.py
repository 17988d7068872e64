"""``gradework setout``: arguments in, stakes out, a sheet in a folder, plain words for what cannot be."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]
DEMO = Path(__file__).parents[2] / "data" / "orchard-studio"


@pytest.fixture
def site(tmp_path: Path) -> Path:
    shutil.copytree(DEMO, tmp_path / "site", ignore=shutil.ignore_patterns("setout", "results"))
    return tmp_path / "site" / "job.toml"


def test_the_sheet_is_printed_and_written(run: Run, site: Path) -> None:
    ended = run("setout", site, "--foundation", "piers", "--backsight", "BM 4.54")
    assert ended.status == 0
    assert "Height of instrument 108.00 ft: BM at 103.46 ft, backsight 4.54 ft." in ended.out
    assert "pier 2-4" in ended.out
    assert max(map(len, ended.out.splitlines())) <= 80
    files = sorted(path.name for path in (site.parent / "setout").iterdir())
    assert files == ["manifest.json", "setout.csv", "setout.pdf"]
    assert (site.parent / "setout" / "setout.pdf").read_bytes().startswith(b"%PDF")
    table = (site.parent / "setout" / "setout.csv").read_text("utf-8-sig").splitlines()
    assert table[0] == (
        "stake,what,x (ft),y (ft),elevation (ft),rod (ft),above string (ft),mark,cut or fill (ft),along (ft),"
        "offset left (ft),first mark,first tape (ft),second mark,second tape (ft),side,x SI (m),y SI (m),"
        "elevation SI (m),rod SI (m),above string SI (m),cut or fill SI (m),along SI (m),offset left SI (m),"
        "first tape SI (m),second tape SI (m)"
    )
    assert "gate post: " in ended.out  # a mark called 20 is kept apart from 8' 6"
    assert run("setout", site, "--hi", "109").status == 0  # another day, another sheet in its place
    bare = " ".join(run("setout", site).out.split())
    assert 'Rod readings are not worked out: read BM (103.46 ft), and add --backsight "BM READING".' in bare


def test_json_holds_the_readings_in_metres(run: Run, site: Path) -> None:
    document = run("setout", site, "--foundation", "piers", "--hi", "108", "--row", "1", "--json").document
    assert document["instrument_m"] == pytest.approx(108 * 0.3048)
    names = ["row 1 start", "row 1 end", *(f"pier 1-{n}" for n in (1, 2, 3, 4))]
    assert [stake["name"] for stake in document["stakes"]] == names
    (row,) = document["rows"]
    assert [one["pier"] for one in row["piers"]] == ["1-1", "1-2", "1-3", "1-4"]
    assert row["piers"][0]["along_m"] == pytest.approx(5.0 * 0.3048)
    (shared,) = document["shared_levels"]
    assert shared["rod_m"] == pytest.approx(document["instrument_m"] - document["level_m"])
    beside = document["stakes"][2]["aside"]
    assert (beside["distance_m"], beside["toward_side"]) == (
        pytest.approx(2.5 * 0.3048),
        "1-2",
    )  # 13 7/8 in of hole, 12 in clear
    for stake in document["stakes"]:
        for level in stake["levels"]:
            assert level["rod_m"] == pytest.approx(document["instrument_m"] - level["level_m"])
        assert stake["tie"]["from"] == ["gate post", "orchard post"]


def test_the_table_has_the_ties_and_the_marks_of_the_record(run: Run, site: Path) -> None:
    document = run("setout", site, "--foundation", "piers", "--backsight", "BM 4.54", "--json").document
    text = (site.parent / "setout" / "setout.csv").read_text("utf-8-sig")
    rows = list(csv.DictReader(text.splitlines()))
    stakes = {stake["name"]: stake for stake in document["stakes"]}
    assert {row["stake"] for row in rows} == set(stakes)
    for row in rows:
        stake = stakes[row["stake"]]
        assert [row["first mark"], row["second mark"]] == stake["tie"]["from"]
        tapes = [float(row["first tape (ft)"]), float(row["second tape (ft)"])]
        assert tapes == pytest.approx([tape / 0.3048 for tape in stake["tie"]["tapes_m"]], abs=6e-3)
        assert row["side"] == stake["tie"]["side"]
        assert float(row["along (ft)"]) == pytest.approx(stake["along_m"] / 0.3048, abs=6e-3)
        assert float(row["offset left (ft)"]) == pytest.approx(stake["offset_left_m"] / 0.3048, abs=6e-3)
        in_full = [
            row[f"{name} SI (m)"] for name in ("x", "y", "along", "offset left", "first tape", "second tape")
        ]
        keys = ("x_m", "y_m", "along_m", "offset_left_m")
        assert [float(cell) for cell in in_full] == [*(stake[key] for key in keys), *stake["tie"]["tapes_m"]]
        marked = row["what"] == stake["mark_for"]
        assert row["mark"] == (stake["mark"] if marked else "")
        if marked:
            assert float(row["cut or fill (ft)"]) == pytest.approx(stake["mark_m"] / 0.3048, abs=6e-3)
    assert {row["mark"] for row in rows} >= {"C", "F"}


def test_what_is_built_is_set_out_unless_told(run: Run, site: Path) -> None:
    """A pad takes a long swale there, so piers are built, unless the job or the command says else."""
    assert run("setout", site, "--json").document["foundation"] == "piers"
    assert run("setout", site, "--foundation", "slab", "--json").document["foundation"] == "slab"
    site.write_text('build = "pad"\n' + site.read_text("utf-8"), "utf-8")
    assert run("setout", site, "--json").document["foundation"] == "pad"


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("--hi", "108", "--backsight", "BM 4"), "not both"),
        (("--hi", "tall"), "--hi"),
        (("--backsight", "BN 4.2"), "did you mean BM?"),
        (
            ("--backsight", "BM"),
            'the reading on BM is missing; expected the mark and the reading on it, such as "BM',
        ),
        (("--stake", "pad 9"), "no stake"),
        (("--foundation", "pad", "--row", "1"), "no row 1"),
        (("--row", "3"), "no row 3"),
        (("--row", "0"), "--row"),
        (("--string", "1 ell"), "--string"),
    ],
)
def test_what_cannot_be_set_out_is_told(run: Run, site: Path, options: tuple[str, ...], says: str) -> None:
    ended = run("setout", site, *options)
    assert ended.status == 2
    assert says in ended.err
    assert ended.out == ""
    assert not (site.parent / "setout").exists()


def test_a_job_without_a_slab_cannot_set_one_out(run: Run, site: Path) -> None:
    site.write_text(site.read_text("utf-8").replace("[slab]", "[site]"), "utf-8")
    ended = run("setout", site, "--foundation", "slab")
    assert ended.status == 2
    assert "the job asks for no slab; expected pad, piers" in " ".join(ended.err.split())
