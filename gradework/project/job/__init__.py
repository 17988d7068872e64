"""The job file: text to a checked ``Job``, every fault with its line and column."""
