"""Bytes of a figure: repeatable, quiet, without pyplot, whatever the words on it."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from gradework.drawings.lettering import letters_not_drawn, name, shortened, width_mm, wrapped, write
from gradework.drawings.page import new_page
from gradework.drawings.save import Kind, figure_bytes

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
    figure, axes = new_page(90, 60)
    axes.plot([5, 80], [5, 50], linestyle="--")
    write(axes, (10, 30), name(words))
    return figure


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
def test_lettering_is_measured_as_it_is_drawn(text: str, weight: str) -> None:
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    figure, axes = new_page()
    drawn = write(axes, (20, 30), text, points=8, weight=weight)
    extent = drawn.get_window_extent(FigureCanvasAgg(figure).get_renderer())
    kerning_and_dots = 0.04
    assert extent.width / figure.dpi * 25.4 == pytest.approx(width_mm(text, 8, weight), rel=kerning_and_dots)


SCRIPT = """
import sys
from gradework.drawings.lettering import write
from gradework.drawings.page import new_page
from gradework.drawings.save import figure_bytes
figure, axes = new_page()
write(axes, (20, 30), "A1 \\u5bb6")
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
