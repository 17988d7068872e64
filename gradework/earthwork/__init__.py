"""Outlines, clipping, volumes of cut and fill, side slopes, and the materials they are made of.

It never reads a file, never prints and never decides what to build.
"""
