"""Explains a plan and helps to carry it out: why, totals, spacers, stop block."""
