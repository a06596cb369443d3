"""With what it is cut: saw, fences, jigs."""
