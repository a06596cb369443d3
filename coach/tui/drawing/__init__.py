"""Pictures: the board on the saw, large letters, turns."""
