"""The plan sheet, layer by layer."""
