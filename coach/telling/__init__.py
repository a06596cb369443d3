"""What is told on paper and on the screen: the plan, the steps and the log."""
