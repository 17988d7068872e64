"""Ground that was measured from the air: points of a laser scan, or a raster of heights, near one yard.

Nothing here knows the survey's own heights, and nothing is repaired: what is no ground is left out.
"""
