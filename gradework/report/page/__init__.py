"""One page that opens by itself in any browser: can it be built, how it stands, what to order."""
