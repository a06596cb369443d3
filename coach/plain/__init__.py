"""The walk as plain lines, for whoever hears it, for terminals that only print, and for logs."""
