"""What is printed: the plan, what to watch, and the log."""
