"""Numbers read and written do not follow the locale of the machine: a German one gives the same words."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
from pathlib import Path

import gradework

HOUSE = Path(gradework.__file__).parent
JOB = HOUSE.parent / "data" / "spring-pump-house" / "job.toml"


def told(locale: str) -> tuple[int, bytes]:
    """What a plan says under a locale; a machine without it falls back to C, where nothing can differ."""
    command = [sys.executable, "-m", "gradework", "plan", str(JOB), "--dry-run"]
    done = subprocess.run(
        command, capture_output=True, check=False, env={**os.environ, "LC_ALL": locale, "PYTHONUTF8": "1"}
    )
    return done.returncode, done.stdout


def test_a_german_machine_says_the_same() -> None:
    status, text = told("de_DE.UTF-8")
    assert (status, text) == told("C")
    assert re.search(rb"\d\.\d", text)


def test_nothing_asks_for_the_locale() -> None:
    """What the other test cannot see on a machine without that locale: nothing in the source would use it."""
    for path in HOUSE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert "locale" not in names, path
            if isinstance(node, ast.FormattedValue) and isinstance(node.format_spec, ast.JoinedStr):
                spec = "".join(v.value for v in node.format_spec.values if isinstance(v, ast.Constant))
                assert not spec.endswith("n"), path
