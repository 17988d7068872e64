"""Plans and curves: a figure for each, and its bytes as PNG, SVG or PDF.

Importing this room loads matplotlib, so it is imported only by the work that draws. It never opens a window,
never keeps a figure, never writes a file and never computes a quantity: it draws what lower rooms found.
"""
