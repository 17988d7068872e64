"""gradework: from a yard survey to a level foundation for a small building, and one trip to the supplier."""

__version__ = "0.1.0"
