"""What the tie rule leaves is proved: no station lost, no triangle changed, no ground covered twice."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.errors import CheckError
from gradework.ground.cocircular import Folded, check_cover, fold_ties
from gradework.ground.triangulation import Mesh, lay_grid, triangulate
from gradework.survey.stations import Stations


def grid() -> tuple[Mesh, Folded]:
    """A grid of 4 x 4 shots, of which the tie rule folds nine squares, and two shots beside it."""
    xyz = np.array(
        [(3.0 * i, 3.0 * j, 0.1 * i * j) for i in range(4) for j in range(4)] + [(20, 1, 0), (17, 6, 1)]
    )
    names = [f"S{k}" for k in range(len(xyz))]
    places = lay_grid(Stations(names, xyz, np.full(len(xyz), np.nan), np.arange(len(xyz)) + 2, "a.csv", "m"))
    mesh = triangulate(places)
    shots = np.column_stack([places.local[places.order], xyz[places.order, 2]])
    return mesh, fold_ties(shots, mesh, places.quantum)


def test_a_folded_grid_passes() -> None:
    mesh, folded = grid()
    assert len(folded.folds) == 9
    assert 0 < len(folded.folds.triangles) < len(folded.mesh.triangles)
    check_cover(mesh, folded)


def test_each_slip_of_the_folding_stops_the_run() -> None:
    mesh, folded = grid()
    triangles = folded.mesh.triangles
    fan = folded.folds.triangles
    plain = np.setdiff1d(np.arange(len(mesh.triangles)), fan)

    def with_row(row: int, corners: list[int]) -> Folded:
        changed = triangles.copy()
        changed[row] = corners
        return folded._replace(mesh=folded.mesh._replace(triangles=changed))

    a, b, c = triangles[fan[0]].tolist()
    with pytest.raises(CheckError, match="turned over"):
        check_cover(mesh, with_row(int(fan[0]), [b, a, c]))
    with pytest.raises(CheckError, match="exactly once"):  # one fan triangle twice, another not at all
        check_cover(mesh, with_row(int(fan[0]), triangles[fan[-1]].tolist()))
    a, b, c = triangles[plain[0]].tolist()
    with pytest.raises(CheckError, match="outside its rings"):
        check_cover(mesh, with_row(int(plain[0]), [b, c, a]))
    lost = folded._replace(vertices=np.vstack([folded.vertices, [[1.0, 1.0, 1.0]]]))
    with pytest.raises(CheckError, match="1 stations or centres are not part"):
        check_cover(mesh, lost)
