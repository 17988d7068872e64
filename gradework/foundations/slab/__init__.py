"""The slab on ground: concrete, base, edge, forms, sheets, limits."""
