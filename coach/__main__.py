"""`python -m coach` does what the console script does."""

from coach.cli import entry

if __name__ == "__main__":
    entry()
