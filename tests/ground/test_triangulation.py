"""The integer proofs fail when anything is wrong with a mesh."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.errors import CheckError
from gradework.ground.triangulation import Mesh, check_mesh, hull_loop

# a square of side 4 with a shot in the middle
WHOLE = np.array([[0, 0], [4, 0], [4, 4], [0, 4], [2, 2]])
TRIANGLES = np.array([[0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4]], dtype=np.int32)
NEIGHBOURS = np.array([[-1, 1, 3], [-1, 2, 0], [-1, 3, 1], [-1, 0, 2]], dtype=np.int32)


def mesh(triangles=TRIANGLES, neighbours=NEIGHBOURS) -> Mesh:
    return Mesh(np.array(triangles, dtype=np.int32), np.array(neighbours, dtype=np.int32))


def test_a_sound_mesh_passes():
    check_mesh(mesh(), WHOLE)
    assert hull_loop(mesh()).tolist() == [0, 1, 2, 3]


@pytest.mark.parametrize(
    ("broken", "whole", "words"),
    [
        (mesh(TRIANGLES[:0], NEIGHBOURS[:0]), WHOLE, "no triangles"),
        (mesh(TRIANGLES + 1), WHOLE, "unknown station"),
        (mesh(), np.vstack([WHOLE, [[1, 1]]]), "not part"),
        (mesh(TRIANGLES[:, [0, 2, 1]]), WHOLE, "turned over"),
        (mesh(TRIANGLES[:3], [[-1, 1, -1], [-1, 2, 0], [-1, -1, 1]]), WHOLE, "Euler|convex|cover"),
        (mesh(), np.array([[0, 0], [4, 0], [3, 3], [0, 4], [1, 1]]) * [1, 1], ""),
    ],
)
def test_a_broken_mesh_is_refused(broken, whole, words):
    if not words:  # a sound mesh of another figure: the control
        check_mesh(broken, whole)
        return
    with pytest.raises(CheckError, match=words):
        check_mesh(broken, whole)


def test_a_hull_with_a_dent_is_refused():
    dented = np.array([[0, 0], [4, 0], [4, 4], [0, 4], [2, 1]])
    triangles = [[1, 2, 4], [2, 3, 4], [3, 0, 4]]
    neighbours = [[-1, 1, -1], [-1, 2, 0], [-1, -1, 1]]
    with pytest.raises(CheckError, match="convex"):
        check_mesh(mesh(triangles, neighbours), dented)


def test_a_hull_that_goes_round_twice_is_refused():
    """Five stations joined like a pentagram: every turn is to the left, yet nothing is covered once."""
    a = np.arange(5) * 4 * np.pi / 5
    star = np.rint(np.column_stack([np.cos(a), np.sin(a)]) * 1000).astype(np.int64)
    whole = np.vstack([star, [[0, 0]]])
    triangles = [[i, (i + 1) % 5, 5] for i in range(5)]
    neighbours = [[-1, (i + 1) % 5, (i - 1) % 5] for i in range(5)]
    with pytest.raises(CheckError, match="convex"):
        check_mesh(mesh(triangles, neighbours), whole)


def test_a_boundary_in_two_pieces_is_refused():
    two = mesh([[0, 1, 2], [3, 4, 5]], [[-1, -1, -1], [-1, -1, -1]])
    with pytest.raises(CheckError, match="one closed line"):
        hull_loop(two)


def test_a_boundary_through_one_station_twice_is_refused():
    two = mesh([[0, 1, 2], [0, 3, 4]], [[-1, -1, -1], [-1, -1, -1]])
    with pytest.raises(CheckError, match="twice"):
        hull_loop(two)


def test_a_triangle_too_many_is_refused():
    triangles = [*TRIANGLES.tolist(), [0, 1, 4]]
    neighbours = [*NEIGHBOURS.tolist(), [0, 1, 3]]
    with pytest.raises(CheckError, match="Euler"):
        check_mesh(mesh(triangles, neighbours), WHOLE)


def test_a_triangle_that_covers_another_is_refused():
    triangles = [*TRIANGLES.tolist()[:3], [3, 0, 2]]
    with pytest.raises(CheckError, match="exactly once"):
        check_mesh(mesh(triangles), WHOLE)
