"""Judges: what the saw reaches, what it would spoil, what a wrong cut means."""
