"""Where a rectangle stands best on surveyed ground: many places at once, and the search among all of them.

It knows ground, outlines and volumes, never a foundation or a job.
"""
