"""The Textual app: screens, widgets and one stylesheet."""
