"""What the building stands on: gravel pad, block piers, slab on ground, and the comparison of the three.

It never reads a file, never prints and never draws.
"""
