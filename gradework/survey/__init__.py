"""Records from the yard to stations with x, y, elevation and spread, and the checks on them.

It never reads a file, never repairs a blunder by itself, and knows nothing of surfaces or plans.
"""
