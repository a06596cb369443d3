"""What may be a name or a label: of a batch, a layout, a part or a jig."""

from __future__ import annotations

LONGEST_NAME = 60


def clean_text(text: str) -> str | None:
    """Why `text` can't be a name or a label, or None if it can: 1 to 60 printable characters, no bidirectional ones."""
    if not text.strip():
        return "is empty; expected 1 to 60 characters"
    if len(text) > LONGEST_NAME:
        return f"has {len(text)} characters; at most {LONGEST_NAME} are allowed"
    for char in text:
        if not char.isprintable():
            return f"holds the unprintable character U+{ord(char):04X}; expected printable ones only"
    return None
