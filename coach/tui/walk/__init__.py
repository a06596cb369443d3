"""The walk's screen and its parts."""
