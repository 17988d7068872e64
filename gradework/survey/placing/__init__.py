"""Where stations stand in plan: by ties, by tape, in a published reference system."""
