"""docs/job-file.md knows every key, and what it shows as an example reads."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

import pytest
from pydantic import BaseModel

from gradework.foundations.pad.spec import PadSpec
from gradework.project.job.model import Job
from gradework.project.job.read import read_job
from gradework.units.lengths import parse_length

DOCS = Path(__file__).parents[3] / "docs"
PAGE = (DOCS / "job-file.md").read_text("utf-8")
# each kind of foundation may explain its table on a page of its own
PAGES = "\n".join(page.read_text("utf-8") for page in sorted(DOCS.glob("*.md")) if page.name != "messages.md")
BLOCKS = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)


def keys(table: type[BaseModel], path: str = "") -> Iterator[str]:
    for name, described in table.model_fields.items():
        inner = [a for a in (described.annotation, *get_args(described.annotation)) if isinstance(a, type)]
        tables = [a for a in inner if issubclass(a, BaseModel)]
        yield f"{path}{name}"
        for one in tables:
            yield from keys(one, f"{path}{name}.")


@pytest.mark.parametrize("key", list(keys(Job)))
def test_every_key_is_explained(key: str) -> None:
    name = key.rpartition(".")[2]
    assert re.search(rf"`{name}`|^\[{name}\b|[{{,\s]{name}\s*=|`\[{name}\]`", PAGES, re.MULTILINE), key


@pytest.mark.parametrize("number", range(len(BLOCKS)))
def test_every_example_reads(number: int) -> None:
    least, block = BLOCKS[0], BLOCKS[number]
    if number == 0:
        text = least
    elif "[building]" in block:
        text = least.partition("[building]")[0] + block
    else:
        text = least + block
    assert read_job(text.encode()).name == "Garden studio"


def test_the_defaults_of_the_pad_are_those_of_the_room() -> None:
    spec = PadSpec()
    shown = dict(re.findall(r"^\| `(\w+)` \|.*\| `\"?([^`\"]+)\"?`[^|]*\|$", PAGE, re.MULTILINE))
    lengths = (
        "margin",
        "strip",
        "gravel",
        "freeboard",
        "max_cut",
        "max_height",
        "most_gravel",
        "most_native",
    )
    for name in lengths:
        assert getattr(spec, name) == pytest.approx(parse_length(shown[name], None)), name
    assert (shown["edge"], shown["material"], shown["level"]) == (spec.edge, spec.material.name, spec.rule)
    assert (shown["drain"], shown["native_fill"]) == (str(spec.drain).lower(), str(spec.native_fill).lower())


def test_the_metric_defaults_of_the_pad_are_those_of_the_room() -> None:
    spec = PadSpec.usual(us=False)
    shown = dict(re.findall(r"`(\w+)` (\d+ mm)", PAGE))
    assert len(shown) == 9
    for name, text in shown.items():
        assert getattr(spec, name) == pytest.approx(parse_length(text, None)), name
