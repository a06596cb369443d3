"""The other screens: log and help."""
