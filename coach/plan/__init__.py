"""How it is cut: fence settings, order and turns of boards, the next step, and a virtual saw that tries it first."""
