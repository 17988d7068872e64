"""The page of many yards: whole without scripts, links only to the pages of its jobs, words are no markup."""

from __future__ import annotations

import base64
import hashlib
import re
from html.parser import HTMLParser

import pytest

from gradework.project.batch import Bought, Yard
from gradework.report.page.batch import batch_page

NASTY = "<script>alert(1)</script> \"x\" & 'y' {{ 7*7 }} \u202eabc"

YARDS = [
    Yard(
        "n/east/job.toml",
        "East",
        "buildable",
        "pad",
        2.5,
        900.0,
        "EUR",
        5000.0,
        2,
        first="2027-04-12",
        days=3,
    ),
    Yard("n/west/job.toml", "West", "not buildable", "pad", mass=400.0, stops=("water", "edge height")),
    Yard("n/lost/job.toml", "", "fault", faults=("n/lost: error: no notes", "n/lost: error: no size")),
    Yard("n/later/job.toml", "", "not done"),
]
DELIVERIES = [
    Bought("quarry", "2027-04-12", "", "", 0.0, 5000.0, 80.0, "EUR", loads=2),
    Bought("", "", "", "", 0.0, 7.0, None, ""),
]
ORDER = [
    Bought("quarry", "2027-04-12", "stone", "tonnes", 0.1 + 0.2, 300.0, 80.0, "EUR", jobs=2),
    Bought("", "", "string", "rolls", 1.0, 7.0, None, ""),
]
LINKS = {"n/east/job.toml": "../east/results/report.html", "n/west/job.toml": "../a%20b/results/report.html"}


class Reader(HTMLParser):
    """Elements with their attributes, and the text outside the style."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in ("meta", "br"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.text += data


def read(html: bytes) -> Reader:
    reader = Reader()
    reader.feed(html.decode())
    reader.close()
    assert reader.open == []
    return reader


@pytest.fixture(scope="module")
def html() -> bytes:
    return batch_page(YARDS, DELIVERIES, ORDER, LINKS)


def test_it_asks_for_nothing_and_runs_nothing(html: bytes) -> None:
    read_page = read(html)
    tags = {tag for tag, _ in read_page.elements}
    assert tags.isdisjoint({"script", "link", "img", "iframe", "object", "form", "base"})
    given = [(name, value) for _, attrs in read_page.elements for name, value in attrs.items()]
    assert not [name for name, _ in given if name in ("src", "srcset", "style") or name.startswith("on")]
    assert {value for name, value in given if name == "href"} == set(LINKS.values())
    assert not re.search(rb"https?://", html)


def test_its_policy_allows_its_own_style_alone(html: bytes) -> None:
    text = html.decode()
    style = re.search(r"<style>(.*?)</style>", text, re.DOTALL)
    assert style
    digest = base64.b64encode(hashlib.sha256(style[1].encode()).digest()).decode()
    assert f"content=\"default-src 'none'; style-src 'sha256-{digest}'\"" in text


def test_the_answer_stands_first_then_what_stops_each_then_all(html: bytes) -> None:
    words = " ".join(read(html).text.split())
    verdict = "4 jobs: 1 can be built as drawn, 1 cannot, 1 with errors, 1 not done yet."
    assert words.startswith(f"{verdict} {verdict}")  # the title of the window, and the head
    stops, every, order = map(words.index, ("What stops them", "All of them", "To order"))
    assert stops < words.index("stop: water, edge height") < every
    assert stops < words.index("n/lost: error: no size") < every
    for told in ("2.500 m", "900 EUR", "5.00 tonnes", "Mon 2027-04-12, 3 days", "2 errors", "not done yet"):
        assert every < words.index(told, every) < order


def test_orders_stand_by_day_and_supplier_those_without_a_day_last(html: bytes) -> None:
    words = " ".join(read(html).text.split())
    order = words[words.index("To order") :]
    told = ["Mon 2027-04-12", "Quarry", "5.00 tonnes in 2 loads, for 1 job, cost 80 EUR."]
    told += ["0.3 tonnes stone for 2 jobs, cost 80 EUR", "No day yet", "Others", "7.0 kg, for 1 job."]
    places = [order.index(one) for one in [*told, "1 roll string for 1 job"]]
    assert places == sorted(places)


def test_a_yard_without_a_page_has_no_link_and_every_cell_its_heading(html: bytes) -> None:
    read_page = read(html)
    assert [tag for tag, _ in read_page.elements].count(
        "a"
    ) == 3  # East once, West among what stops and below
    heads = [
        attrs.get("data-head") for tag, attrs in read_page.elements if tag == "td" and attrs.get("data-head")
    ]
    assert heads == ["build", "level", "cost", "weight", "loads", "first day", "build", "weight"]


def test_words_of_the_user_are_never_markup() -> None:
    yard = Yard(NASTY, NASTY, "fault", NASTY, currency=NASTY, cost=1.0, stops=(NASTY,), faults=(NASTY,))
    bought = Bought(NASTY, "", NASTY, NASTY, 1.0, 1.0, 1.0, NASTY)
    page = batch_page([yard], [bought], [bought], {NASTY: "../x/report.html"})
    assert "script" not in {tag for tag, _ in read(page).elements}
    assert "{{ 7*7 }}" in read(page).text
    assert b"alert(1)</script>" not in page


def test_where_nothing_stops_and_nothing_is_ordered_it_says_so() -> None:
    words = " ".join(read(batch_page([Yard("a/job.toml", "A", "buildable")], [], [], {})).text.split())
    assert words.count("Nothing.") == 2
    assert "to bring" not in words
