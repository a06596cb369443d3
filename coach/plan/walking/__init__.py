"""Walks the plan: the next step, how boards lie, what is left."""
