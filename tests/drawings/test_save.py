"""Bytes of a figure: repeatable, quiet, without pyplot, whatever the words on it."""

from __future__ import annotations

import os
import re
import subprocess
import sys

import pytest

from gradework.drawings.lettering import Letters, Style, letters_not_drawn, name, shortened, width_mm, wrapped
from gradework.drawings.page import Page
from gradework.drawings.save import SCREEN_MARGIN_MM, Kind, figure_bytes

KINDS: tuple[Kind, ...] = ("png", "svg", "pdf")
NASTY = (
    r"$\frac$",
    "$$",
    "${{{{{",
    "$5 stake$",
    "a_b^c",
    r"\alpha",
    "tab\there",
    "bell\x07",
    "\x1b[2J",
    "new\nline",
    "<script>&amp;",
    "back\\",
    "100 %",
)


def _page(words: str):  # type: ignore[no-untyped-def]
    page = Page(90, 60)
    page.axes.plot([5, 80], [5, 50], linestyle="--")
    page.write(name(words), (10, 30))
    return page.finish()


@pytest.mark.parametrize("kind", KINDS)
def test_the_same_figure_gives_the_same_bytes(kind: Kind, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
    first = figure_bytes(_page("A1"), kind)
    assert figure_bytes(_page("A1"), kind) == first
    figure = _page("A1")
    assert [figure_bytes(figure, kind) for _ in range(2)] == [first, first]
    assert figure_bytes(_page("A2"), kind) != first


def test_each_kind_is_what_it_says() -> None:
    figure = _page("A1")
    assert figure_bytes(figure, "png").startswith(b"\x89PNG\r\n")
    assert figure_bytes(figure, "pdf").startswith(b"%PDF-1.")
    assert b"<svg" in figure_bytes(figure, "svg")[:1000]


def test_an_unknown_kind_is_refused() -> None:
    with pytest.raises(ValueError, match="there are: png, svg, pdf"):
        figure_bytes(_page("A1"), "jpg")  # type: ignore[arg-type]


def test_no_date_goes_in() -> None:
    for kind in KINDS:
        data = figure_bytes(_page("A1"), kind)
        assert b"CreationDate" not in data
        assert b"dc:date" not in data


@pytest.mark.parametrize("words", NASTY)
def test_any_words_draw(words: str) -> None:
    for kind in KINDS:
        assert len(figure_bytes(_page(words), kind)) > 500


def test_control_characters_are_shown_and_long_names_cut() -> None:
    assert name("A1\x1b[2J\n") == "A1\\x1b[2J\\n"
    assert name("x" * 50) == "x" * 37 + "..."


def test_letters_the_font_lacks_draw_as_boxes_and_are_listed() -> None:
    for kind in KINDS:
        assert figure_bytes(_page("家 yard"), kind)
    assert letters_not_drawn(["家 yard", "庭", "é ½ ³"]) == "家庭"


def test_text_is_cut_and_broken_to_fit() -> None:
    text = "Have buried services located before digging"
    for line in wrapped(text, 8, 30):
        assert width_mm(line, 8) <= 30
    assert " ".join(wrapped(text, 8, 30)) == text
    cut = shortened(text, 8, 30)
    assert cut.endswith("...")
    assert width_mm(cut, 8) <= 30
    assert shortened(text, 8, 300) == text
    assert wrapped("W" * 60, 8, 30) == [shortened("W" * 60, 8, 30)]


@pytest.mark.parametrize(("text", "weight"), [("102.91", "normal"), ("A long sentence, with Words", "bold")])
def test_lettering_is_measured_as_matplotlib_measures_it(text: str, weight: str) -> None:
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    page = Page()
    drawn = page.axes.text(20, 30, text, fontsize=8, weight=weight, parse_math=False, family="DejaVu Sans")
    extent = drawn.get_window_extent(FigureCanvasAgg(page.figure).get_renderer())
    kerning_and_dots = 0.04
    assert extent.width / page.figure.dpi * 25.4 == pytest.approx(
        width_mm(text, 8, weight), rel=kerning_and_dots
    )


@pytest.mark.parametrize("degrees", [0.0, 30.0, 90.0, -45.0])
@pytest.mark.parametrize("across", ["left", "center", "right"])
def test_letters_lie_in_the_box_that_is_kept_free_for_them(degrees: float, across: str) -> None:
    page = Page()
    line = page.write("E 102.9 H", (90, 120), Style(points=10), across=across, up="center", degrees=degrees)
    page.finish()
    (letters,) = (artist for artist in page.axes.patches if isinstance(artist, Letters))
    left, bottom, right, top = line.box
    low, high = letters.get_path().vertices.min(axis=0), letters.get_path().vertices.max(axis=0)
    overshoot = 0.15  # round letters reach a little past the line [mm]
    assert low[0] >= left - overshoot
    assert low[1] >= bottom - overshoot
    assert high[0] <= right + overshoot
    assert high[1] <= top + overshoot
    if degrees == 0.0 and across == "center":
        assert (left + right) / 2 == pytest.approx(90.0)
        assert (bottom + top) / 2 == pytest.approx(120.0)


def test_words_can_be_searched_in_a_vector_file_and_stand_the_right_way_up() -> None:
    page = Page(100, 60)
    page.write("upper", (10, 50))
    page.write("lower", (10, 10))
    svg = figure_bytes(page.finish(), "svg").decode()
    places = dict(re.findall(r"translate\(([^)]*)\)[^>]*>(upper|lower)<", svg))
    up = {word: float(place.split()[1]) for place, word in places.items()}
    assert up["upper"] == pytest.approx((SCREEN_MARGIN_MM + 10) * 72 / 25.4, abs=0.01)
    assert up["lower"] == pytest.approx((SCREEN_MARGIN_MM + 50) * 72 / 25.4, abs=0.01)
    assert "Verdana, sans-serif" in svg


SCRIPT = """
import sys
from gradework.drawings.page import Page
from gradework.drawings.save import figure_bytes
page = Page()
page.write("A1 \\u5bb6", (20, 30))
figure = page.finish()
for kind in ("png", "svg", "pdf"):
    sys.stdout.write(f"{kind} {len(figure_bytes(figure, kind))} ")
sys.stdout.write(str("matplotlib.pyplot" in sys.modules))
"""


@pytest.mark.parametrize("home", ["none", "read-only", "settings"])
def test_a_poor_home_keeps_stderr_clean(home: str, tmp_path) -> None:  # type: ignore[no-untyped-def]
    environment = {k: v for k, v in os.environ.items() if k not in {"HOME", "MPLCONFIGDIR", "XDG_CACHE_HOME"}}
    environment.pop("XDG_CONFIG_HOME", None)
    environment["TMPDIR"] = str(tmp_path)
    if home == "read-only":
        environment["HOME"] = "/nonexistent/home"
    if home == "settings":
        (tmp_path / "matplotlibrc").write_text(
            "text.usetex: true\nbackend: no-such-window\nsavefig.bbox: tight\n"
        )
        environment["MPLCONFIGDIR"] = str(tmp_path)
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT],
        env=environment,
        capture_output=True,
        text=True,
        check=True,
        cwd=tmp_path,
    )
    assert done.stderr == ""
    assert done.stdout.endswith("False")
