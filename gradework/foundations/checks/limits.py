"""Limits that rules and custom set for any small building, each beside whose it is and how well it is known.

Model codes of the US bind only where they are adopted; elsewhere their figures are what there is to go by.
"""

from __future__ import annotations

from gradework.units.amounts import M_PER_FT, M_PER_IN

SIDING = 6.0 * M_PER_IN
SIDING_RULE = "IRC R317.1(5) (2009 to 2021)"
"""Siding and wall framing above the ground [m] (quoted). Over a slab or paving 2 in do; gravel is neither."""

JOISTS, SKIDS = 18.0 * M_PER_IN, 12.0 * M_PER_IN
FRAMING_RULE = "IRC R317.1(1) (2009 to 2021)"
"""Joists, and the beams or skids below them, above the ground [m] (quoted), unless they are treated for
contact with it."""

HELD = 24.0 * M_PER_IN
HELD_RULE = "IRC 2009 R404.4"
"""What an edge may hold back without being designed [m] (quoted). Later editions: 48 in, or 24 in with a load
besides the soil (memory); a building beside it is one."""

MOST_FILL = {"gravel": 24.0 * M_PER_IN, "earth": 8.0 * M_PER_IN}
FILL_RULE = "IRC 2009 R506.2.1"
"""Fill below a slab without engineering [m] (seen on a county's inspection page; 2009 quoted)."""

LEAST_SLAB = 3.5 * M_PER_IN
SLAB_RULE = "IRC 2009 R506.1"
"""Slabs are at least this thick [m] (quoted; IBC 1910.1 of 2006 and 2009 says the same)."""

DUG = 5.0 * M_PER_FT
DUG_RULE = "29 CFR 1926.652(a)(1) (2015)"
"""A face deeper than this is held or sloped back, a lower one where the ground shows signs of caving in [m]
(seen). It binds employers, and is the best that is published for others."""

FROST_RULE = "IRC R403.1.4 (2006 on)"
FROST_EXCEPTION = "IRC R403.1.4.1 exception 1 (2006 on)"
"""Footings reach below frost, 12 in at the least; light freestanding buildings need not (quoted)."""

GROUND_RULE = "24 CFR 3285.201 (2015)"
"""What a foundation stands on: firm undisturbed soil, or fill compacted to 90 %, without grass, roots or wood
(seen)."""

ANCHOR_RULE = "24 CFR 3285.402(a) (2015)"
"""An anchor holds its working load in the class of soil that it is listed for (seen)."""
