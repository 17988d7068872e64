"""What wood carries: sections and their strengths, how far they span, and which load comes down where.

Pure: metres, kilonewtons and kilopascals in and out. It knows no job, no ground and no piers but as places.
"""
