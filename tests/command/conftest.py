"""Run the command line in this process: arguments in, status and both streams out."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest

from gradework.command.main import gradework, run_to_status


@dataclass
class Outcome:
    """How a run ended."""

    status: int
    out: str
    err: str

    @property
    def document(self) -> Any:
        return json.loads(self.out)


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Callable[..., Outcome]:
    def call(*arguments: object) -> Outcome:
        capsys.readouterr()
        status = run_to_status(gradework, [str(a) for a in arguments])
        out, err = capsys.readouterr()
        return Outcome(status, out, err)

    return call
