"""A step in words, and what belongs to it."""
