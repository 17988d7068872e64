"""A million shots in CSV: read, triangulate, one cut-and-fill, against the bare triangulation call."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np

WHOLE = """
import json, resource, sys, time
start = time.perf_counter()
from pathlib import Path
from gradework.earthwork.clip import clip
from gradework.earthwork.outline import Outline
from gradework.earthwork.volumes import cut_and_fill
from gradework.fieldnotes.spots import read_spots
from gradework.ground.surface import build_surface
from gradework.survey.from_spots import stations_from_spots
clock = [time.perf_counter()]
notes = read_spots(Path(sys.argv[1]).read_bytes(), "big.csv", unit="m"); clock.append(time.perf_counter())
stations = stations_from_spots(notes); clock.append(time.perf_counter())
surface = build_surface(stations); clock.append(time.perf_counter())
outline = Outline.rectangle((300, 200), (400, 300), 15)
(result,) = cut_and_fill(clip(surface, outline), 50.0); clock.append(time.perf_counter())
steps = [b - a for a, b in zip(clock, clock[1:])]
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
print(json.dumps({"steps": steps, "gigabytes": peak, "cut": result.cut}))
"""

BARE = """
import json, sys, time
import numpy as np, pythoncdt
xy = np.load(sys.argv[1])
start = time.perf_counter()
order, crossings = pythoncdt.VertexInsertionOrder.AUTO, pythoncdt.IntersectingConstraintEdges.NOT_ALLOWED
mesh = pythoncdt.Triangulation(order, crossings, 0.0)
mesh.insert_vertices(xy)
mesh.erase_super_triangle()
mesh.triangles_array()
print(json.dumps(time.perf_counter() - start))
"""


def _run(script: str, path: Path) -> object:
    done = subprocess.run(
        [sys.executable, "-c", script, str(path)], capture_output=True, text=True, check=True
    )
    return json.loads(done.stdout)


def lines(count: int = 1_000_000) -> Iterator[str]:
    """Three pairs, each step in seconds; the aim is a ratio of at most 3 and less than 1 GB."""
    rng = np.random.default_rng(3)
    xy = np.unique(np.round(rng.random((count, 2)) * 1000, 3), axis=0)
    rng.shuffle(xy)
    z = 50 + 5 * np.sin(xy[:, 0] / 90) + 0.01 * xy[:, 1]
    with tempfile.TemporaryDirectory() as folder:
        table, places = Path(folder, "big.csv"), Path(folder, "xy.npy")
        rows = (
            f"S{k},{x:.3f},{y:.3f},{e:.3f}"
            for k, ((x, y), e) in enumerate(zip(xy.tolist(), z.tolist(), strict=True))
        )
        table.write_text("station,x,y,elevation\n" + "\n".join(rows) + "\n")
        np.save(places, xy)
        for _ in range(3):
            whole, bare = _run(WHOLE, table), _run(BARE, places)
            assert isinstance(whole, dict)
            assert isinstance(bare, float)
            steps = " + ".join(f"{step:.2f}" for step in whole["steps"])
            total = sum(whole["steps"])
            yield (
                f"{len(xy)} shots: read + stations + surface + volume = {steps} = {total:.2f} s; "
                f"bare triangulation {bare:.2f} s; ratio {total / bare:.2f}; peak {whole['gigabytes']:.2f} GB"
            )
