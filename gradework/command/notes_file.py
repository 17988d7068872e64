"""The bytes of a file named on the command line, which may be standard input."""

from __future__ import annotations


def read_input(path: str) -> tuple[bytes, str]:
    """Read a file, or standard input for ``-``; return its bytes and the name for messages."""
    from gradework.files import read_bytes, read_standard_input

    if path == "-":
        return read_standard_input(), "standard input"
    return read_bytes(path), path
