"""What every page of ours stands in: one file with its own style, and a policy that allows nothing else.

A browser takes a style or a script only if its digest is the one that the head of the page names.
"""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from pathlib import Path
from typing import Any

_HERE = Path(__file__).parent

_BASE = "base.css"
"""Letters, boxes and tables, which all pages have in common."""


def rendered(template: str, style: str, script: tuple[str, ...] = (), /, **words: Any) -> bytes:
    """Fill the ``template`` with ``words``, which are never markup; UTF-8.

    ``style`` is the file of what this page alone has, ``script`` the files that in this order are one script.
    """
    styled = _text(_BASE) + _text(style)
    scripted = "".join(map(_text, script))
    own = {"style": styled, "style_hash": _digest(styled)}
    if script:
        own |= {"script": scripted, "script_hash": _digest(scripted)}
    return f"{_templates().get_template(template).render(**own, **words)}\n".encode()


@cache
def _text(name: str) -> str:
    return (_HERE / name).read_text("utf-8")


@cache
def _templates() -> Any:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined  # only what is written needs it

    return Environment(loader=FileSystemLoader(_HERE), autoescape=True, undefined=StrictUndefined)


def _digest(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
