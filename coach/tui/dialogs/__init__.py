"""Questions over a screen."""
