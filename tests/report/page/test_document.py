"""The page: one file that says what the plan says, whatever is in the user's words, and asks no network."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import fromstring

import pytest

import gradework as gw
from gradework.project.section import section_of
from gradework.report.page.data import page_data, pier_row
from gradework.report.page.document import page
from gradework.report.page.pictures import section_box
from gradework.sitework.drains import drains_told

ROOT = Path(__file__).parents[3]
NASTY = "<script>alert(1)</script> \"x\" & 'y' {{ 7*7 }} \u202eabc"
VOID = {"meta", "input", "br"}


class Reader(HTMLParser):
    """All that is in a page: elements with their attributes, whether they close, and the text."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data


def read(html: bytes) -> Reader:
    reader = Reader()
    reader.feed(html.decode())
    reader.close()
    assert reader.open == []
    return reader


@pytest.fixture(scope="module", params=["orchard-studio", "spring-pump-house", "tight-yard", "barn-yard"])
def plan(request: pytest.FixtureRequest) -> Any:
    return gw.plan(ROOT / "data" / request.param / "job.toml")


@pytest.fixture(scope="module")
def told(plan: Any) -> Reader:
    return read(page(plan))


def test_it_is_one_small_file_that_asks_for_nothing(plan: Any, told: Reader) -> None:
    html = page(plan)
    assert len(html) < 2_000_000
    asking = [
        value
        for _, given in told.elements
        for name, value in given.items()
        if name in ("src", "href", "action", "srcset", "style") or name.startswith("on")
    ]
    assert asking == []
    tags = [tag for tag, _ in told.elements]
    assert {"link", "img", "iframe", "object"}.isdisjoint(tags)
    assert tags.count("script") == 2  # the data, and what works with it
    assert set(re.findall(rb"https?://[^\s\"<]*", html)) == {b"http://www.w3.org/2000/svg"}
    assert not re.search(rb"fetch\(|XMLHttpRequest|import\(|WebSocket|innerHTML|eval\(", html)


@pytest.mark.parametrize(("tag", "kind"), [("style", "style"), ("script", "script")])
def test_its_policy_allows_its_own_style_and_script_alone(plan: Any, tag: str, kind: str) -> None:
    html = page(plan).decode()
    found = re.search(rf"<{tag}>(.*?)</{tag}>", html, re.DOTALL)
    policy = re.search(rf"{kind}-src 'sha256-([^']*)'", html)
    assert found
    assert policy
    assert base64.b64encode(hashlib.sha256(found[1].encode()).digest()).decode() == policy[1]
    assert "default-src 'none'" in html


def test_the_answer_stands_first(plan: Any, told: Reader) -> None:
    words = " ".join(told.text.split())
    judged = plan.judged
    styles = [
        (ROOT / "gradework" / "report" / "page" / name).read_text() for name in ("base.css", "page.css")
    ]
    said = words.index("can be built" if judged.buildable else "not buildable as drawn")
    assert said < 1200 + sum(map(len, styles))
    if not judged.buildable:
        assert plan.stamp() in words
        assert "Nothing, since it cannot be built as drawn." in words
        assert "Instead: block piers" in words
        assert "What the rod must read" not in words  # nobody stakes it


def test_what_drains_to_walls_and_swales_is_told_as_plan_tells_it(plan: Any, told: Reader) -> None:
    tight = "".join(told.text.split())
    rows = drains_told(*plan.catchments)
    assert bool(rows) is (plan.job.name != "Tight yard")  # there the ground falls away on all sides
    for one in rows:
        cells = [has.words(plan.job.show) for has in (one.now, one.then) if has is not None]
        assert "".join(f"{one.where[0].upper()}{one.where[1:]} {' '.join(cells)}".split()) in tight
    assert ("Atleast,sincemoremaycomein" in tight) is any(one.least for one in rows)


def test_the_water_of_the_roof_is_drawn(plan: Any, told: Reader) -> None:
    """A gutter each with its pipes and an arrow, a strip each: the demos have some, and the key says so."""
    roof = plan.foundations.around[plan.foundations.chosen].roof
    pens = [given.get("class", "") for _, given in told.elements]
    assert pens.count("gutter") == len(roof.of("gutter"))
    assert pens.count("pipe") == 2 * len(roof.pipes)
    assert pens.count("pipe head") == len(roof.pipes)
    assert (pens.count("strip") > 0) == bool(roof.of("drip strip"))
    assert ("Blue along an eave" in told.text) == bool(roof.of("gutter"))


def test_every_line_of_the_order_has_its_box(plan: Any, told: Reader) -> None:
    boxes = [
        given["id"] for tag, given in told.elements if tag == "input" and given.get("type") == "checkbox"
    ]
    boxes = [one for one in boxes if one and one.startswith("box-")]
    assert len(boxes) == len(plan.order.lines) + len(plan.hired(plan.foundations.chosen))
    for line in plan.order.lines:
        assert line.item in told.text


def test_every_stake_has_its_box(plan: Any, told: Reader) -> None:
    """As many as ``setout`` sets, each with its place; none of what is held back."""
    boxes = [
        given
        for tag, given in told.elements
        if tag == "input" and (given.get("id") or "").startswith("stake-")
    ]
    wanted = [] if plan.held_back else [point.stake.name for point in gw.set_out(plan).sheet.points]
    assert [str(box["data-kept"]).split(" x ")[0] for box in boxes] == wanted


def test_every_pier_and_every_check_is_there(plan: Any, told: Reader) -> None:
    rows = [tag for tag, _ in told.elements].count("tr")
    assert rows > len(plan.judged.checks)
    for check in plan.judged.checks:
        assert check.check in told.text
    if plan.foundations.chosen == "piers":
        assert all(pier.name in told.text for pier in plan.foundations.piers.piers)


def test_pictures_stand_for_themselves_and_have_words(plan: Any) -> None:
    pictures = re.findall(r"<svg.*?</svg>", page(plan).decode(), re.DOTALL)
    assert len(pictures) == 3
    for picture in pictures:
        root = fromstring(picture)
        space = "{http://www.w3.org/2000/svg}"
        assert root.find(f"{space}title") is not None
        assert root.find(f"{space}desc") is not None
        wide, high = map(float, root.attrib["viewBox"].split()[2:])
        assert 0.2 < high / wide < 4.0
        for one in root.iter(f"{space}text"):
            assert 0.0 <= float(one.attrib["x"]) <= wide
            assert 0.0 <= float(one.attrib["y"]) <= high


def test_each_control_and_table_is_named(told: Reader) -> None:
    tags = [tag for tag, _ in told.elements]
    assert tags.count("h1") == 1
    controls = [given for tag, given in told.elements if tag in ("input", "select")]
    assert tags.count("label") + sum("aria-label" in given for given in controls) == len(controls)
    assert ("html", {"lang": "en"}) in told.elements
    for tag, given in told.elements:
        if tag == "th":
            assert given.get("scope") in ("col", "row")


def test_words_of_the_user_are_never_markup() -> None:
    job = {
        "name": NASTY, "units": "m", "survey": {"notes": "a.csv"}, "pad": {},
        "building": {"size": [3.0, 2.0], "corner": [4.0, 4.0]},
    }  # fmt: skip
    rows = [f"<b>{x}{y}</b>,{x},{y},{10 - 0.02 * x}" for x in range(0, 12, 3) for y in range(0, 12, 3)]
    made = page(gw.plan(job, "\n".join(["name,x,y,z", *rows]).encode()))
    reader = read(made)
    assert [tag for tag, _ in reader.elements].count("script") == 2
    assert "<script>alert" not in made.decode()
    data = re.search(r'id="plan">(.*?)</script>', made.decode(), re.DOTALL)
    assert data
    assert NASTY in json.loads(data[1])["name"]
    assert "{{ 7*7 }}" in reader.text
    assert "\u202e" not in reader.text


def test_the_same_plan_gives_the_same_bytes(plan: Any) -> None:
    assert page(plan) == page(plan)


def test_piers_under_another_top_are_those_of_a_plan_with_it() -> None:
    """At its own top each pier is the plan's; at another those of a job that gives the top."""
    orchard = ROOT / "data" / "orchard-studio"
    plan = gw.plan(orchard / "job.toml")
    section = section_of(plan)
    assert section is not None
    tops = page_data(plan, section, section_box(section))["tops"]
    show, piers = plan.job.show, plan.foundations.piers
    assert piers is not None
    (own,) = (one for one in tops if one["steps"] == 0)
    assert own["rows"] == [pier_row(pier, show)[1:] for pier in piers.piers]
    assert own["tallest"] == show.depth(max(pier.height for pier in piers.piers))
    higher = tops[-1]
    text = (orchard / "job.toml").read_text("utf-8").replace("[piers]", f"[piers]\n{higher['take']}")
    again = gw.plan(gw.read_job(text.encode()), (orchard / "yard.csv").read_bytes()).foundations.piers
    assert again is not None
    assert again.top == pytest.approx(higher["top"], abs=2e-4)  # a job says it to a thousandth of a foot
    assert higher["blocks"] == str(again.units_total)
    assert higher["dig"] == show.volume(sum(pier.dig for pier in again.piers))
    assert [row[2] for row in higher["rows"]] == [pier_row(pier, show)[3] for pier in again.piers]
    assert all(one["top"] > plan.foundations.piers.top - 0.16 for one in tops)


@pytest.mark.parametrize("demo", ["orchard-studio", "terrace-yard"])
def test_how_sure_the_figures_are_is_told(demo: str) -> None:
    """Each row rises from what is exceeded 9 times in 10 to what is not; breaklines are on the map."""
    made = gw.plan(ROOT / "data" / demo / "job.toml")
    read = Reader()
    read.feed(page(made).decode())
    start = read.text.index("How sure the figures are")
    told = read.text[start : read.text.index("Checks", start)]
    spread = made.spread if demo == "terrace-yard" else made.piers_spread
    assert spread is not None
    for band in (spread.excavation, spread.gravel):
        assert band.p10 <= band.p50 <= band.p90
        for one in (band.p10, band.p50, band.p90):
            assert made.job.show.volume(one) in told
    lines = [at for tag, at in read.elements if "break" in (at.get("class") or "").split()]
    assert len(lines) == len(made.surface.breaklines)
