"""Sections through the building, and the profile of what leads water past it."""
