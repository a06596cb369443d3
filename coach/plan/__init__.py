"""How it is cut: fence settings, the order of boards and turns, the next step, and a virtual saw that tries it first."""
