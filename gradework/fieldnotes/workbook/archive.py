"""The archive that a workbook is packed in: unpacked within bounds, and packed anew with what was looked at.

A workbook is a zip of XML files. Sizes written in an archive may lie, so each member is unpacked here,
counted and checked, and the reader of cells gets a new archive of just these bytes.
"""

from __future__ import annotations

import io
import lzma
import zipfile
import zlib
from collections.abc import Callable, Mapping
from typing import Any
from xml.parsers import expat

from gradework.errors import Faults

MOST_UNPACKED = 64 * 2**20
"""Bytes of all members together; a sheet of 100,000 rows takes about 30 MB."""

MOST_MEMBERS = 2_000

_NEEDLESS = ("xl/media/", "xl/drawings/", "xl/charts/", "Pictures/", "Thumbnails/", "Object ")
"""Pictures and the like, which hold no cells."""

_DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    lzma.LZMAError,
    EOFError,
    OSError,
    ValueError,
    LookupError,
    NotImplementedError,
)
"""What a bad archive makes the unpacking raise; ``NotImplementedError`` is an unknown way of packing."""


def unpack(data: bytes, faults: Faults) -> dict[str, bytes]:
    """The members by name; halts on a damaged archive, a locked one, and one that unpacks to too much."""
    found: dict[str, bytes] = {}
    left = MOST_UNPACKED
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            members = archive.infolist()
            if len(members) > MOST_MEMBERS:
                faults.halt("workbook-too-large", variant="members", most=f"{MOST_MEMBERS:,}")
            for member in members:
                if member.is_dir() or member.filename.startswith(_NEEDLESS):
                    continue
                if member.flag_bits & 1:
                    faults.halt("workbook-unreadable", variant="password")
                if member.filename in found:
                    faults.halt("workbook-unreadable", reason="two parts of one name in its archive")
                with archive.open(member) as stream:
                    found[member.filename] = stream.read(left + 1)
                left -= len(found[member.filename])
                if left < 0:
                    faults.halt("workbook-too-large", variant="unpacked", most=MOST_UNPACKED // 2**20)
    except _DAMAGED:
        faults.halt("workbook-unreadable", reason="its archive is damaged or cut short")
    return found


def packed(members: Mapping[str, bytes]) -> bytes:
    """An archive of the members, stored as they are."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for name, content in members.items():
            archive.writestr(zipfile.ZipInfo(name), content)
    return stream.getvalue()


Attributes = Mapping[str, str]


class _TypesDeclaredError(Exception):
    """Document types are declared: no spreadsheet does so, and they may hold text that grows without end."""


def walk(
    content: bytes,
    faults: Faults,
    *,
    start: Callable[[str, Attributes], None],
    end: Callable[[str], None] = lambda _: None,
    text: Callable[[str], None] | None = None,
) -> None:
    """Walk through an XML file; names come without their namespace. Halts on XML that is not well formed."""
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartDoctypeDeclHandler = _refuse_types
    parser.StartElementHandler = lambda name, said: start(
        _local(name), {_local(k): v for k, v in said.items()}
    )
    parser.EndElementHandler = lambda name: end(_local(name))
    if text is not None:
        parser.CharacterDataHandler = text
    try:
        parser.Parse(content, True)
    except (expat.ExpatError, _TypesDeclaredError, LookupError, ValueError):
        faults.halt("workbook-unreadable", reason="a part of it is not what spreadsheets write")


def _refuse_types(*_: Any) -> None:
    raise _TypesDeclaredError


def _local(name: str) -> str:
    return name.rpartition(":")[2]
