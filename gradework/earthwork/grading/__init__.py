"""Finished ground: what is dug and filled outside a pad, in planes, and the swale that leads water past it.

It never warps, samples or guesses ground, and it does not know why a side needs a swale.
"""
