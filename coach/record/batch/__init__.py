"""A batch of the record: its events, what follows from them, and what may be put right."""
