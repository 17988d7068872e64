"""Stations to a surface: triangulation, contours, slopes, high and low point, what is unknown between shots.

It never extrapolates: outside the surveyed ground there is no ground. It never reads a file, never
rounds an elevation, and never decides whether a plan is good.
"""
