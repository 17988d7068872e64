"""Small matrices are solved on one thread, and the number of threads is as before afterwards."""

from __future__ import annotations

import subprocess
import sys

import pytest

from gradework.survey import outliers
from gradework.survey.one_thread import _threads, one_thread

FOUND = _threads()


@pytest.mark.skipif(FOUND is None, reason="numpy brings no OpenBLAS of its own here")
def test_inside_there_is_one_thread_and_outside_as_many_as_before() -> None:
    assert FOUND is not None
    tell, put = FOUND
    before = tell()
    try:
        put(2)
        with one_thread():
            assert tell() == 1
            with one_thread():
                assert tell() == 1
            assert tell() == 1
        assert tell() == 2
        with pytest.raises(ZeroDivisionError), one_thread():
            raise ZeroDivisionError
        assert tell() == 2
    finally:
        put(before)


@pytest.mark.skipif(FOUND is None, reason="numpy brings no OpenBLAS of its own here")
def test_the_search_for_misread_shots_keeps_to_one_thread(monkeypatch: pytest.MonkeyPatch) -> None:
    assert FOUND is not None
    tell, put = FOUND
    seen: list[int] = []
    monkeypatch.setattr(outliers, "tiles", lambda *_: seen.append(tell()) or [])
    before = tell()
    try:
        put(2)
        outliers.find_blunders(outliers.np.zeros((20, 3)), "m")
        outliers.cross_validate(outliers.np.zeros((20, 3)))
        assert (seen, tell()) == ([1, 1], 2)
    finally:
        put(before)


def test_without_such_a_library_nothing_is_touched(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("gradework.survey.one_thread._threads", lambda: None)
    with one_thread():
        pass


CLOCK = """
import os, time
import numpy as np
from gradework.survey.outliers import cross_validate
rng = np.random.default_rng(1)
xyz = np.column_stack([rng.random((150, 2)) * 60, rng.normal(0, 0.1, 150)])
cross_validate(xyz)
start, process = time.thread_time(), time.process_time()
cross_validate(xyz)
print((time.process_time() - process) / (time.thread_time() - start))
"""


def test_no_other_thread_works_meanwhile() -> None:
    """The process takes no more processor than the thread that asks."""
    done = subprocess.run([sys.executable, "-c", CLOCK], capture_output=True, text=True, check=True)
    assert float(done.stdout) < 1.1
