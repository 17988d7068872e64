"""What was written down in the yard: bytes of notes to typed records, each with its line and column.

Never computes an elevation from readings, never joins or repairs shots, never opens a file itself, and
imports nothing numeric. All faults of a file are raised at once.
"""

from gradework.fieldnotes.headers import ELEVATION, NOTE, STATION, Columns, Field, X, Y, recognise
from gradework.fieldnotes.lettered import LetteredGrid
from gradework.fieldnotes.spots import SPOT_FIELDS, Spot, SpotNotes, read_spots
from gradework.fieldnotes.table import Row, Table, read_table
from gradework.fieldnotes.text import NotesText, read_text

__all__ = [
    "ELEVATION",
    "NOTE",
    "SPOT_FIELDS",
    "STATION",
    "Columns",
    "Field",
    "LetteredGrid",
    "NotesText",
    "Row",
    "Spot",
    "SpotNotes",
    "Table",
    "X",
    "Y",
    "read_spots",
    "read_table",
    "read_text",
    "recognise",
]
