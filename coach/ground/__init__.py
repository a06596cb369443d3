"""What everything stands on: terms, names, lengths, errors, places and files."""
