"""Concrete-block piers on gravel beds: layout, holes, stacks, the one best top, limits."""
