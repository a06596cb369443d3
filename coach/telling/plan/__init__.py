"""The plan, as a page and as JSON, and its aids."""
