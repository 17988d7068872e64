"""The columns by which a table of notes tells how it was levelled.

They stand apart from the readers of those tables, so that notes without readings are known as such without
loading one of them.
"""

from __future__ import annotations

from gradework.fieldnotes.headers import Field

BACKSIGHT = Field("BS", ("bs", "b s", "bs +", "backsight", "back sight", "back", "plus", "+"), "length")
READING = Field(
    "reading", ("reading", "rod", "rod reading", "staff", "staff reading", "readings", "r"), "length"
)
DROP = Field("drop", ("drop", "drop below string", "below string", "down", "depth"), "length")
RUN = Field("run", ("run", "level distance"), "length")
FIRST = Field(
    "water at from", ("water at from", "first", "reading from", "water from", "first reading"), "length"
)
HIGHER_THAN_MARK = Field("higher", ("higher", "higher by", "difference", "above mark", "higher than mark"))
KNOWN = Field(
    "known", ("known", "known elevation", "known level", "given", "given elevation", "datum"), "length"
)
