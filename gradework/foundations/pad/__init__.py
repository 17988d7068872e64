"""The gravel pad: what is asked of it, its quantities at any level, the rules for the level, its design."""
