"""Where rain runs on a surface of triangles: its ways down, what drains to a line, where it stands.

It never samples and never lets water run uphill; it knows neither rules nor what is built.
"""
