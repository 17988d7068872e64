"""Whole commands against the start of bare Python, ``plan`` against a bare script that draws as much."""

from __future__ import annotations

import importlib.util
import json
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

DATA = Path(__file__).parents[2] / "data"

PICTURES = {".png", ".svg", ".pdf"}

BARE_DRAWING = """
import io, json, sys
import numpy as np
from matplotlib.figure import Figure
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_pdf import FigureCanvasPdf
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.patches import Polygon
canvases = {"png": FigureCanvasAgg, "svg": FigureCanvasSVG, "pdf": FigureCanvasPdf}
rng = np.random.default_rng(1)
for sheet in json.loads(sys.argv[1]):
    figure = Figure(figsize=(7.5, 10.2))
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_axis_off()
    axes.set(xlim=(0, 1), ylim=(0, 1))
    for x, y in rng.random((sheet["texts"], 2)):
        axes.text(x, y, "101.2 ft", fontsize=7)
    for x, y in rng.random((sheet["lines"], 2)):
        axes.plot([x, x + 0.1, x + 0.2], [y, y + 0.1, y], linewidth=0.5)
    for x, y in rng.random((sheet["areas"], 2)):
        corners = [(x, y), (x + 0.1, y), (x + 0.1, y + 0.1)]
        axes.add_patch(Polygon(corners, hatch="//" if sheet["hatched"] else None, fill=False))
    for kind in sheet["kinds"]:
        canvases[kind](figure)
        figure.savefig(io.BytesIO(), format=kind, dpi=160)
"""


def sheets(folder: Path) -> list[dict[str, object]]:
    """What our own sheets in ``folder`` hold, to draw as much with bare matplotlib; each read from its SVG.

    A sheet without an SVG is taken to hold as much as the one before it (plan-slab as plan, piers as
    pier-rows). Letters of the font are not counted as lines.
    """
    found: list[dict[str, object]] = []
    names = sorted({path.stem for path in folder.iterdir() if path.suffix in PICTURES})
    like: dict[str, object] = {}
    for name in names:
        kinds = [suffix[1:] for suffix in sorted(PICTURES) if (folder / f"{name}{suffix}").exists()]
        drawing = folder / f"{name}.svg"
        if drawing.exists():
            text = drawing.read_text("utf-8")
            texts = len(re.findall(r'<g id="text_\d+"|<text', text))
            areas = len(re.findall(r'<g id="patch_\d+"', text))
            lines = max(0, len(re.findall("<path", text)) - text.count("<defs") - areas)
            own = len(re.findall(r'<path id="[^"]*-', text))  # letters of a font, each drawn once
            like = {"texts": texts, "lines": max(0, lines - own), "areas": areas}
            like["hatched"] = "<pattern" in text
        found.append({**like, "kinds": kinds} if like else {**EMPTY, "kinds": kinds})
    return found


EMPTY: dict[str, object] = {"texts": 0, "lines": 0, "areas": 0, "hatched": False}


def traps() -> Iterator[str]:
    """Say what makes a start look slower than it is for who installs the program."""
    told = subprocess.run([sys.executable, "-c", ABOUT], capture_output=True, text=True, check=True, cwd="/")
    package, editable = told.stdout.strip().rsplit("\t", 1)
    modules = list(Path(package).rglob("*.py"))
    bare = [path for path in modules if not Path(importlib.util.cache_from_source(str(path))).exists()]
    if editable == "True":
        yield "NOTE: gradework is an editable install, whose finder takes time at every start; use a wheel."
    if bare:
        what = f"{len(bare)} of {len(modules)} modules"
        yield f"NOTE: {what} have no bytecode; run 'python -m compileall {package}' first."
    if os.environ.get("PYTHONDONTWRITEBYTECODE"):
        yield "NOTE: PYTHONDONTWRITEBYTECODE is set, so bytecode that is missing stays missing."


ABOUT = """
import importlib.metadata, json, pathlib, gradework
told = importlib.metadata.distribution("gradework").read_text("direct_url.json") or "{}"
editable = json.loads(told).get("dir_info", {}).get("editable", False)
print(pathlib.Path(gradework.__file__).parent, editable, sep="\\t")
"""


def _seconds(command: Sequence[str], runs: int) -> float:
    taken = []
    for _ in range(runs):
        start = time.perf_counter()
        subprocess.run(command, capture_output=True, check=True)
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def _pair(what: str, ours: Sequence[str], bare: Sequence[str], runs: int) -> str:
    pairs = [(_seconds(ours, 1), _seconds(bare, 1)) for _ in range(runs + 1)][1:]
    ratio = statistics.median(a / b for a, b in pairs)
    own, its = (statistics.median(column) for column in zip(*pairs, strict=True))
    return f"{what}: {own * 1e3:.0f} ms against {its * 1e3:.0f} ms, ratio {ratio:.1f}"


def lines() -> Iterator[str]:
    """The aims: help within 4, ``cutfill --json`` on 100 shots within 12, ``plan`` within 2.5."""
    yield from traps()
    program = str(Path(sys.executable).with_name("gradework"))
    nothing = [sys.executable, "-c", "pass"]
    yield _pair("gradework --help", [program, "--help"], nothing, 15)
    with tempfile.TemporaryDirectory() as folder:
        rng = np.random.default_rng(5)
        rows = [
            f"S{k},{x:.2f},{y:.2f},{100 + 0.05 * x + 0.02 * y:.2f}"
            for k, (x, y) in enumerate((rng.random((100, 2)) * 60).tolist())
        ]
        notes = Path(folder, "yard.csv")
        notes.write_text("station,x,y,elevation\n" + "\n".join(rows) + "\n")
        cutfill = [
            program,
            "cutfill",
            str(notes),
            "--units",
            "ft",
            "--level",
            "101.2",
            "--corner",
            "20,20",
            "--size",
            "16,12",
            "--json",
        ]
        yield _pair("gradework cutfill --json, 100 shots", cutfill, nothing, 15)
        for yard in ("spring-pump-house", "orchard-studio"):
            results = Path(folder, yard)
            plan = [program, "plan", str(DATA / yard / "job.toml"), "-o", str(results), "--force"]
            _seconds(plan, 1)
            like = sheets(results)
            bare = [sys.executable, "-c", BARE_DRAWING, json.dumps(like)]
            pictures = sum(path.suffix in PICTURES for path in results.iterdir())
            yield _pair(f"gradework plan, {yard}, {pictures} pictures", plan, bare, 5)
