"""Readings of any kind of level to elevations, with every check that the notes allow."""
