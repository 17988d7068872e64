"""Whole commands against the start of bare Python, ``plan`` against a bare script that draws as much."""

from __future__ import annotations

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
import io, sys
import numpy as np
from matplotlib.figure import Figure
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_pdf import FigureCanvasPdf
from matplotlib.backends.backend_svg import FigureCanvasSVG
x = np.linspace(0, 10, 200)
canvases = {"png": FigureCanvasAgg, "svg": FigureCanvasSVG, "pdf": FigureCanvasPdf}
for kind in sys.argv[1:]:
    figure = Figure(figsize=(8.27, 11.69))
    axes = figure.subplots()
    axes.plot(x, np.sin(x))
    axes.set_title("a curve")
    canvases[kind](figure)
    figure.savefig(io.BytesIO(), format=kind, dpi=150)
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
    """The aims: help within 5, ``cutfill --json`` on 100 shots within 15, ``plan`` within 2.5."""
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
            kinds = [path.suffix[1:] for path in sorted(results.iterdir()) if path.suffix in PICTURES]
            bare = [sys.executable, "-c", BARE_DRAWING, *kinds]
            yield _pair(f"gradework plan, {yard}, {len(kinds)} pictures", plan, bare, 5)
