"""What was written down in the yard: bytes of notes to typed records, each with its line and column.

Never computes an elevation from readings, never joins or repairs shots, never opens a file itself, and
imports nothing numeric. All faults of a file are raised at once.
"""
