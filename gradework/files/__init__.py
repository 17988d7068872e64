"""The only door to the disk: files are read whole and bounded, results are written whole or not at all.

It knows nothing of yards or plans, never prints, and never makes a file name out of user text. A folder of
results carries ``manifest.json`` with the SHA-256 of every file, put in place last: what stands in it is ours
and may be replaced; anything else is refused unless forced.
"""
