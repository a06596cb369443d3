"""Decides the fence settings: the fewest that serve every side, and which rig makes which."""
