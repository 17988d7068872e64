"""Ratios, each against something fair in the same run: ``python tests/bench [name ...] [number ...]``.

Nothing is asserted: machines differ and drift. Every file beside this one that has a function ``lines()``
is run; it yields the lines to print. Numbers are handed to those of the names given. A file with a function
``command(words)`` is run only when it is named first, and reads the words after its name itself.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

HERE = Path(__file__).parent


def main(words: list[str]) -> None:
    """Run the benchmarks of these names, or all; with the numbers among the words."""
    if words and (HERE / f"{words[0]}.py").exists():
        module = _loaded(HERE / f"{words[0]}.py")
        if hasattr(module, "command"):
            module.command(words[1:])
            return
    names, figures = [w for w in words if not w.isdigit()], [int(w) for w in words if w.isdigit()]
    for path in sorted(HERE.glob("[a-z]*.py")):
        if path.stem.startswith("_") or (names and path.stem not in names):
            continue
        if "def lines(" not in path.read_text():
            continue
        module = _loaded(path)
        print(f"\n{path.stem}: {(module.__doc__ or '').splitlines()[0]}")
        for line in module.lines(*(figures if names else ())):
            print(f"  {line}", flush=True)


def _loaded(path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"bench_{path.stem}", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


if __name__ == "__main__":
    sys.path[:0] = [str(HERE), str(HERE.parent / "oracle")]
    main(sys.argv[1:])
