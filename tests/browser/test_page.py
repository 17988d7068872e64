"""The page in a browser: what is touched, what is kept, how it looks on a phone; run by ``.ci/browser``.

Needs Chromium and the extra ``browser``.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, sync_playwright

import gradework as gw
from gradework.command.main import gradework, run_to_status
from gradework.report.page.document import page

ROOT = Path(__file__).parents[2]
DEMOS = ("orchard-studio", "spring-pump-house", "tight-yard", "barn-yard", "evening")
PHONE = {"width": 360, "height": 640}


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    found = shutil.which("chromium") or shutil.which("google-chrome")
    assert found, "no Chromium: apt-get install chromium"
    with sync_playwright() as engine:
        started = engine.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield started
        started.close()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The pages of all demos."""
    made = tmp_path_factory.mktemp("pages")
    for name in DEMOS:
        (made / f"{name}.html").write_bytes(page(gw.plan(ROOT / "data" / name / "job.toml")))
    return made


class Seen:
    """A page that is open, and all that it asked for and complained of."""

    def __init__(self, opened: Page, file: Path) -> None:
        self.page, self.asked, self.said = opened, list[str](), list[str]()
        opened.on("request", lambda one: self.asked.append(one.url))
        opened.on("console", lambda one: self.said.append(one.text))
        opened.on("pageerror", lambda one: self.said.append(str(one)))
        opened.goto(file.as_uri())

    def text(self, where: str) -> str:
        return self.page.locator(where).inner_text()


@pytest.fixture
def look(browser: Browser, folder: Path) -> Iterator[Any]:
    opened: list[Any] = []

    def at(name: str, **how: Any) -> Seen:
        window = browser.new_context(**{"viewport": PHONE, **how})
        opened.append(window)
        return Seen(window.new_page(), folder / f"{name}.html")

    yield at
    for window in opened:
        window.close()


@pytest.mark.parametrize("demo", DEMOS)
def test_it_asks_for_nothing_and_complains_of_nothing(look: Any, demo: str) -> None:
    seen = look(demo)
    assert [url for url in seen.asked if not url.endswith(f"/{demo}.html")] == []
    assert seen.said == []


@pytest.mark.parametrize("demo", DEMOS)
@pytest.mark.parametrize("width", [320, 360, 1280])
def test_nothing_reaches_beyond_the_side(look: Any, demo: str, width: int) -> None:
    seen = look(demo, viewport={"width": width, "height": 640})
    wide = seen.page.evaluate("document.documentElement.scrollWidth")
    assert wide <= width


def test_the_answer_is_on_the_first_screen_of_a_phone(look: Any) -> None:
    """The verdict, the section and all four figures, above 640 px."""
    seen = look("orchard-studio")
    for where in ("p.verdict", "svg >> nth=0", "#stepper", ".planned .figures div >> nth=3"):
        box = seen.page.locator(where).bounding_box()
        assert box
        assert box["y"] + box["height"] <= 640


@pytest.mark.parametrize("demo", DEMOS)
def test_whatever_is_touched_is_as_large_as_a_thumb(look: Any, demo: str) -> None:
    seen = look(demo)
    for one in seen.page.locator("button:visible, select:visible, label:has(input), summary").all():
        box = one.bounding_box()
        assert box
        assert box["height"] >= 47.5


@pytest.mark.parametrize("demo", DEMOS)
def test_no_rule_of_access_is_broken(look: Any, demo: str) -> None:
    found = Axe().run(look(demo).page)
    assert found.violations_count == 0, found.generate_report()


def test_another_level_greys_what_is_not_worked_out_there(look: Any) -> None:
    seen = look("spring-pump-house")
    first = seen.text("#level")
    gravel = seen.page.locator("svg .gravel").get_attribute("d")
    seen.page.click("#higher")
    seen.page.click("#higher")
    assert float(seen.text("#level").split()[0]) == pytest.approx(float(first.split()[0]) + 0.02)
    assert re.fullmatch(r"\[pad\]\nlevel = \d+\.\d{3}", seen.text("#take"))
    assert seen.page.locator("#again").is_visible()
    assert seen.page.locator("svg .gravel").get_attribute("d") != gravel
    faint = seen.page.evaluate("getComputedStyle(document.querySelector('.planned')).opacity")
    assert float(faint) < 0.5
    seen.page.click("#back")
    assert seen.text("#level") == first
    assert not seen.page.locator("#again").is_visible()
    assert seen.said == []


_STANDING = """(old) => {
  const walk = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT), found = [];
  while (walk.nextNode()) {
    const text = walk.currentNode.textContent;
    if (text.includes(old) && !walk.currentNode.parentElement.closest(".planned")) found.push(text);
  }
  return found;
}"""
"""The texts that hold a figure and are not greyed when something moves."""


def test_piers_are_stepped_to_another_top(look: Any) -> None:
    """Up by three inches, then further than the page goes, then back; the section and each pier follow."""
    seen = look("orchard-studio")
    first, rows = seen.text("#level"), seen.text("#piers")
    blocks = seen.page.locator("svg .block").count()
    for _ in range(3):
        seen.page.click("#higher")
    higher = float(seen.text("#level").split()[0])
    assert higher == pytest.approx(float(first.split()[0]) + 0.25, abs=0.006)
    top = re.fullmatch(r"\[piers\]\ntop = (\d+\.\d+)", seen.text("#take"))
    assert top is not None
    assert float(top[1]) == pytest.approx(higher, abs=0.006)
    assert seen.text("#piers") != rows
    # nothing that is not greyed says the old top any more
    assert seen.page.evaluate(_STANDING, first) == []
    assert seen.page.locator("svg .block").count() >= blocks
    assert seen.page.locator(".moves").first.get_attribute("transform") != "translate(0 0.0)"
    for _ in range(20):
        seen.page.click("#higher")
    assert seen.text("#limits") == "No higher top on this page."
    seen.page.click("#back")
    assert (seen.text("#level"), seen.text("#piers")) == (first, rows)
    assert seen.page.locator("svg .block").count() == blocks
    assert not seen.page.locator("#again").is_visible()
    assert seen.said == []


def test_the_building_is_moved_by_touch_and_by_buttons(look: Any) -> None:
    """Three touches to the right and a turn; then dragged beyond the survey; then back."""
    seen = look("spring-pump-house")
    for _ in range(3):
        seen.page.click("#east")
    seen.page.click("#right")
    told = seen.text("#take")
    job = gw.read_job(ROOT / "data" / "spring-pump-house" / "job.toml").building
    assert f"turn = {job.turn - 5:.1f}" in told
    moved = gw.plan(
        _moved(told, ROOT / "data" / "spring-pump-house"), ROOT / "data/spring-pump-house/shots.csv"
    )
    assert moved.building.rings[0].mean(axis=0) == pytest.approx(np.add(_middle(), (0.3, 0.0)), abs=2e-3)
    dig = float(seen.text("#dig-now").split()[0])
    at = moved.pad.ground.at(np.array([_level()]))
    assert dig == pytest.approx(float(at.excavation[0] - at.edge_excavation[0]), abs=0.03)
    seen.page.locator("#house").scroll_into_view_if_needed()
    house = seen.page.locator("#house").bounding_box()
    assert house
    x, y = house["x"] + house["width"] / 2, house["y"] + house["height"] / 2
    seen.page.mouse.move(x, y)
    seen.page.mouse.down()
    seen.page.mouse.move(x + 900, y, steps=5)
    seen.page.mouse.up()
    assert seen.text("#dig-now") == "not known"
    assert "beyond the survey" in seen.text("#limits")
    seen.page.click("#back")
    assert not seen.page.locator("#again").is_visible()
    assert seen.said == []


def _moved(told: str, folder: Path) -> bytes:
    """The job with the lines that the page says."""
    text = (folder / "job.toml").read_text("utf-8")
    for line in told.splitlines()[1:]:
        key = line.partition(" ")[0]
        text = re.sub(rf"(?m)^{key} *=.*$", line, text, count=1)
    return text.encode()


def _middle() -> Any:
    return gw.plan(ROOT / "data" / "spring-pump-house" / "job.toml").building.rings[0].mean(axis=0)


def _level() -> float:
    return float(gw.plan(ROOT / "data" / "spring-pump-house" / "job.toml").pad.chosen.level)


def test_margin_and_rules_follow_and_each_touch_can_be_taken_back(look: Any) -> None:
    """A wider margin is dug as the program digs it; a rule goes to its level; undo goes back step by step."""
    seen = look("spring-pump-house")
    plan = gw.plan(ROOT / "data" / "spring-pump-house" / "job.toml")
    first, margin = seen.text("#level"), seen.text("#margin")
    assert margin == f"{plan.pad.spec.margin * 1000:.0f} mm"
    assert not seen.page.locator("#undo").is_visible()
    seen.page.click("#wider")
    seen.page.click("#wider")
    assert seen.text("#margin") == f"{plan.pad.spec.margin * 1000 + 100:.0f} mm"
    told = seen.text("#take")
    job = (ROOT / "data" / "spring-pump-house" / "job.toml").read_text("utf-8")
    wide = re.sub(r"(?m)^margin *=.*$", told.splitlines()[1], job).encode()
    there = gw.plan(wide, ROOT / "data/spring-pump-house/shots.csv")
    assert there.pad.spec.margin == pytest.approx(plan.pad.spec.margin + 0.1)
    at = there.pad.ground.at(np.array([_level()]))
    assert float(seen.text("#dig-now").split()[0]) == pytest.approx(
        float(at.excavation[0] - at.edge_excavation[0]), abs=0.006
    )
    balanced = next(k for k, one in enumerate(plan.pad.choices) if one.rule == "balanced")
    seen.page.click(f"#rule-{balanced}")
    assert seen.text("#level") == f"{plan.pad.choices[balanced].level:.3f} m"
    for wanted in (first, first, first):
        seen.page.click("#undo")
        assert seen.text("#level") == wanted
    assert seen.text("#margin") == margin
    assert not seen.page.locator("#again").is_visible()
    assert not seen.page.locator("#undo").is_visible()
    assert seen.said == []


def test_a_box_ticked_and_a_reading_typed_can_be_taken_back(look: Any) -> None:
    seen = look("orchard-studio")
    stake = seen.page.locator("label:has(#stake-0)")
    stake.click()
    seen.page.fill("#backsight", "4.57")
    seen.page.locator("input.read").first.press_sequentially("6.25")
    seen.page.click("#undo")
    assert seen.page.locator("input.read").first.input_value() == ""
    assert seen.page.locator("#backsight").input_value() == "4.57"
    seen.page.click("#undo")
    assert seen.page.locator("#backsight").input_value() == ""
    assert set(seen.page.locator("td.rod").all_inner_texts()) == {""}
    assert seen.page.locator("#stake-0").is_checked()
    seen.page.click("#undo")
    assert not seen.page.locator("#stake-0").is_checked()
    seen.page.reload()
    assert not seen.page.locator("#stake-0").is_checked()
    assert seen.page.locator("#backsight").input_value() == ""


def test_a_hole_that_is_too_deep_or_too_high_says_what_its_bed_becomes(look: Any) -> None:
    seen = look("orchard-studio")
    plan = gw.plan(ROOT / "data" / "orchard-studio" / "job.toml")
    pier, spec = plan.foundations.piers.piers[0], plan.foundations.piers.spec
    sight = plan.benchmarks[0].elevation / 0.3048 + 4.57
    seen.page.fill("#backsight", "4.57")
    low = spec.bed_most - pier.bed
    box = seen.page.locator(f"input[aria-label='as built: {pier.name}: bottom of the hole']")
    told = seen.page.locator("tr", has=box).locator(".off")
    box.fill(f"{sight - pier.bottom / 0.3048 + 0.5 * low / 0.3048:.3f}")
    assert re.search(r"too low; bed [\d /]+ in$", told.inner_text())
    box.fill(f"{sight - pier.bottom / 0.3048 + (low + 0.03) / 0.3048:.3f}")
    assert "another stack" in told.inner_text()
    box.fill(f"{sight - pier.bottom / 0.3048 - (pier.bed - spec.bed_least + 0.03) / 0.3048:.3f}")
    assert re.search(r"too high; dig [\d /]+ in deeper", told.inner_text())


def test_rod_readings_follow_the_backsight_and_are_there_again(look: Any) -> None:
    """By hand: the first mark is at the elevation that the plan says, the pier tops at theirs."""
    seen = look("orchard-studio")
    plan = gw.plan(ROOT / "data" / "orchard-studio" / "job.toml")
    seen.page.fill("#backsight", "4.57")
    sight = plan.benchmarks[0].elevation / 0.3048 + 4.57
    rods = seen.page.locator("td.rod").all_inner_texts()
    assert float(rods[-1].split()[0]) == pytest.approx(
        sight - plan.foundations.piers.top / 0.3048, abs=0.0051
    )
    seen.page.locator("label:has(input)").first.click()
    seen.page.locator("input.read").first.fill("6.25")
    seen.page.reload()
    assert seen.page.locator("input.read").first.input_value() == "6.25"
    assert seen.page.locator("td.rod").all_inner_texts() == rods
    assert seen.page.locator("input[type=checkbox]").first.is_checked()
    # planned again another way: what was ticked and read belongs to other things
    seen.page.evaluate(
        "() => { for (const name of Object.keys(localStorage)) localStorage.setItem(name,"
        " localStorage[name].replace(/box [a-z0-9]/g, 'box another').replace(/read /g, 'read higher ')); }"
    )
    seen.page.reload()
    assert not seen.page.locator("input[type=checkbox]").first.is_checked()
    assert seen.page.locator("input.read").first.input_value() == ""
    seen.page.fill("#backsight", "four")
    assert set(seen.page.locator("td.rod").all_inner_texts()) == {""}
    assert "Not a reading" in seen.text("#rod-told")


def test_what_was_built_is_told_and_saved_for_the_program(look: Any, tmp_path: Path) -> None:
    """The invented tops of the demo, typed into the page: the file that it saves is read as theirs is."""
    seen = look("orchard-studio")
    folder = ROOT / "data" / "orchard-studio"
    rows = [line.split(",") for line in (folder / "tops.csv").read_text().splitlines()[3:-1]]
    seen.page.fill("#backsight", "4.54")
    for station, _, rod, *_ in rows:
        seen.page.fill(
            f"input[aria-label='as built: {station.removeprefix('pier ')}: top of the blocks']", rod
        )
    told = seen.page.locator(".off").all_inner_texts()
    assert len([one for one in told if one]) == len(rows)
    best = gw.as_built(gw.plan(folder / "job.toml"), folder / "tops.csv").levels.best / 0.3048
    assert f"{len(rows)} tops" in seen.text("#tops-told")
    assert f"Best common level {best:.2f} ft" in seen.text("#tops-told")
    with seen.page.expect_download() as caught:
        seen.page.click("button[data-stage=tops]")
    caught.value.save_as(tmp_path / "tops.csv")
    plan = gw.plan(folder / "job.toml")
    ours, theirs = (gw.as_built(plan, path) for path in (tmp_path / "tops.csv", folder / "tops.csv"))
    assert ours.summary().splitlines()[1:] == theirs.summary().splitlines()[1:]


def test_without_scripts_all_of_it_is_there_to_read(look: Any) -> None:
    seen = look("orchard-studio", java_script_enabled=False)
    assert seen.page.locator("#rod").is_hidden()
    assert seen.page.locator("label:has(input)").count() > 5
    assert seen.page.locator("svg").count() == 3


def test_where_nothing_is_kept_it_says_so(browser: Browser, folder: Path) -> None:
    window = browser.new_context(viewport=PHONE)
    window.add_init_script(
        "Object.defineProperty(window, 'localStorage', {get() { throw new Error('no'); }})"
    )
    opened = window.new_page()
    opened.goto((folder / "orchard-studio.html").as_uri())
    assert opened.locator("#forgets").is_visible()
    opened.locator("label:has(input)").first.click()
    assert opened.locator("input[type=checkbox]").first.is_checked()
    window.close()


def test_it_prints(look: Any) -> None:
    assert look("orchard-studio").page.pdf(format="Letter").startswith(b"%PDF")


@pytest.fixture(scope="module")
def batch(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of two demos and a broken job, with their own pages where it leads."""
    made = tmp_path_factory.mktemp("many")
    for name in ("orchard-studio", "barn-yard"):
        shutil.copytree(ROOT / "data" / name, made / name, ignore=shutil.ignore_patterns("results"))
    (made / "broken").mkdir()
    (made / "broken/job.toml").write_text("size = 3\n")
    assert run_to_status(gradework, ["batch", str(made)]) == 1
    return made / "batch/batch.html"


@pytest.mark.parametrize("width", [320, 360, 1280])
def test_the_page_of_many_yards_reads_on_a_phone_and_leads_to_each(
    browser: Browser, batch: Path, width: int
) -> None:
    window = browser.new_context(viewport={"width": width, "height": 640}, java_script_enabled=False)
    seen = Seen(window.new_page(), batch)
    assert "3 jobs: 1 can be built as drawn, 1 cannot, 1 with errors." in seen.text("h1")
    assert seen.page.locator(".yards tbody tr >> nth=0").inner_text().startswith("Orchard studio")
    box = seen.page.locator(".yards").bounding_box()
    assert box
    assert box["x"] + box["width"] <= width
    for link in seen.page.locator("a").all():
        box = link.bounding_box()
        assert box
        assert box["height"] >= 47.5
    seen.page.click(".yards a >> nth=0")
    assert seen.page.title() == "Orchard studio"
    assert [url for url in seen.asked if not url.endswith((batch.name, "report.html"))] == []
    assert seen.said == []
    window.close()


@pytest.mark.parametrize("width", [320, 1280])
def test_no_rule_of_access_is_broken_by_the_page_of_many_yards(
    browser: Browser, batch: Path, width: int
) -> None:
    window = browser.new_context(viewport={"width": width, "height": 640})
    seen = Seen(window.new_page(), batch)
    assert seen.page.evaluate("document.documentElement.scrollWidth") <= width
    found = Axe().run(seen.page)
    assert found.violations_count == 0, found.generate_report()
    window.close()
