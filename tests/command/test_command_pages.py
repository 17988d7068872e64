"""The pages of the commands show their help as it is."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

PAGES = sorted((Path(__file__).parents[2] / "docs" / "commands").glob("*.md"))


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_help_on_the_page_is_the_help(run: Callable[..., Any], page: Path) -> None:
    """Renew the block by hand from: gradework COMMAND --help."""
    (shown,) = re.findall(r"```text\n(Usage: .*?)```", page.read_text("utf-8"), re.DOTALL)
    assert shown == run(page.stem, "--help").out
