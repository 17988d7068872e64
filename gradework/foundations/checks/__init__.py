"""Named checks: what was found, what it is held against, by which source. It designs and words nothing."""
