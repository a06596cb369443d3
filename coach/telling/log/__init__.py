"""The log, as a page and as lines."""
