"""The job file, and the one place that knows the whole order of work.

``read_job`` turns the text of a job file into a checked ``Job``; ``plan`` takes a job and the notes and
computes everything. Nothing here reads a file, draws, writes or prints.
"""
