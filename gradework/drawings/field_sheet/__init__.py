"""The blank field sheet: what it lists, its sketch, its table."""
