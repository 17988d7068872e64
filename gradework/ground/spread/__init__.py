"""How sure the ground between the shots is: its roughness from the shots themselves, and likely grounds.

It never repairs a reading, and it does not know what is built.
"""
