"""``gradework explain CODE``: what a finding or an error means, and what to do."""

from __future__ import annotations

import difflib
import textwrap
import tomllib
from collections.abc import Mapping
from importlib import resources
from typing import Any

import click

from gradework.command.main import LeafCommand
from gradework.command.options import common_options
from gradework.command.screen import Screen
from gradework.errors import visible
from gradework.report.text import columns


def _codes(_context: click.Context, _argument: click.Parameter, begun: str) -> list[str]:
    """Offer the codes that begin so, to a shell that completes what is typed."""
    return [code for code in read_messages() if code.startswith(begun.lower().lstrip("["))]


@click.command(cls=LeafCommand, examples="gradework explain outline-outside-survey\ngradework explain --list")
@click.argument("code", required=False, shell_complete=_codes)
@click.option("--list", "all_codes", is_flag=True, help="List every code with its title.")
@click.option("--page", is_flag=True, help="All of it as a Markdown page (docs/messages.md).")
@common_options
def explain(*, screen: Screen, code: str | None, all_codes: bool, page: bool) -> None:
    """Explain the word in square brackets behind an error or a finding."""
    messages = read_messages()
    if page:
        screen.answer(messages_page(messages).rstrip("\n"))
        return
    if all_codes:
        _list(screen, messages)
        return
    if code is None:
        raise click.UsageError("Give a code, or --list for all of them.", click.get_current_context())
    wanted = _nearest(code, messages)
    if wanted != _plain(code):
        screen.note(f"no code {visible(code)!r}; the nearest is {wanted}")
    entry = messages[wanted]
    if screen.as_json:
        told: dict[str, object] = {
            key: entry[key] for key in ("kind", "title", "why", "fix", "unit") if key in entry
        }
        screen.document({"record": 1, "code": wanted} | told)
        return
    kind = "the input cannot be used" if entry["kind"] == "fault" else "about the yard or the plan"
    parts = [f"{wanted} ({kind})", entry["title"] + "."]
    parts += [textwrap.fill(" ".join(entry[key].split()), columns() - 2) for key in ("why", "fix")]
    screen.answer("\n\n".join(parts))


def _plain(code: str) -> str:
    """A code as it is written in the list, however it was typed.

    >>> _plain(" [Pad Cut_Deep]")
    'pad-cut-deep'
    """
    return "-".join(code.strip().strip("[]").lower().replace("_", " ").split())


def _nearest(code: str, messages: Mapping[str, object]) -> str:
    """The code that was meant; a usage error where none is near."""
    wanted = _plain(code)
    near = [wanted] if wanted in messages else difflib.get_close_matches(wanted, messages, n=1, cutoff=0.6)
    begun = sorted(name for name in messages if name.startswith(wanted)) if wanted else []
    if not near and not begun:
        known = "'gradework explain --list' names all."
        raise click.UsageError(f"No such code {visible(code)!r}; {known}", click.get_current_context())
    return (near or begun)[0]


def _list(screen: Screen, messages: dict[str, dict[str, str]]) -> None:
    if screen.as_json:
        screen.document({"record": 1, "codes": {code: entry["title"] for code, entry in messages.items()}})
        return
    width = max(map(len, messages))
    screen.answer("\n".join(f"{code:<{width}}  {entry['title']}" for code, entry in sorted(messages.items())))


def messages_page(messages: Mapping[str, Mapping[str, str]]) -> str:
    """Write every code as a Markdown page, errors of the input first, each kind in order of the alphabet."""
    parts = [
        "# What each message means",
        "Made from `gradework/messages.toml`; do not edit. To renew it:\n"
        "`python -m gradework explain --page > docs/messages.md`.\n"
        "`gradework explain CODE` tells one entry on the terminal.",
    ]
    headings = {
        "fault": "Errors: the input cannot be used, nothing is written (exit status 2)",
        "finding": "Findings: about the yard or the plan (a stop makes the exit status 1)",
    }
    for kind, heading in headings.items():
        parts.append(f"## {heading}")
        for code, entry in sorted(messages.items()):
            if entry["kind"] == kind:
                unit = f" (figures in {entry['unit']})" if entry.get("unit", "-") != "-" else ""
                why, fix = " ".join(entry["why"].split()), " ".join(entry["fix"].split())
                parts += [f"### `{code}`", f"**{entry['title']}.**{unit} {why}", f"What to do: {fix}"]
    return "\n\n".join(parts) + "\n"


def read_messages() -> dict[str, dict[str, Any]]:
    """Read every code with its kind, title, why, fix and sentences."""
    text = resources.files("gradework").joinpath("messages.toml").read_text("utf-8")
    return {code: entry for code, entry in tomllib.loads(text).items() if code != "words"}
