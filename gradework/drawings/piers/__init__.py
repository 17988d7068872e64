"""Piers seen from the side: rows to scale, and each pier in detail."""
