"""What the trade knows: safety by step, wood movement, waste and chisels, the pins that follow the tails."""
