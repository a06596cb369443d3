"""What each command does; what it needs is imported when it runs, so that every command loads quickly."""

DONE, WRONG_INPUT, WRONG_COMMAND = 0, 1, 2
"""Exit codes: done; what was given is wrong; the command line itself is wrong."""
