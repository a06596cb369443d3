"""The app's own two themes, dark for a dim shop and light for a bright one: each pair of colours at 7 : 1 or better."""

from __future__ import annotations

from textual.theme import Theme

DARK = Theme(
    name="lamplight",
    primary="#e8c48a",
    secondary="#d8cfc0",
    accent="#ffd27a",
    warning="#ffb347",
    error="#ff9d94",
    success="#a8d8a0",
    foreground="#f2ede2",
    background="#15171a",
    surface="#1d2024",
    panel="#262a2f",
    dark=True,
    variables={
        "footer-key-foreground": "#ffd27a",
        "footer-description-foreground": "#f2ede2",
        "footer-background": "#262a2f",
        "input-selection-background": "#5a4a2a",
        "wood": "#d9b988",
        "quiet": "#bdb5a8",
        "cut": "#8fd3ff",
    },
)

LIGHT = Theme(
    name="daylight",
    primary="#4a3208",
    secondary="#3a3328",
    accent="#5c3a00",
    warning="#5c3a00",
    error="#7a0c0c",
    success="#0d4a1c",
    foreground="#17150f",
    background="#fbf8f1",
    surface="#f3eee2",
    panel="#e9e2d2",
    dark=False,
    variables={
        "footer-key-foreground": "#5c3a00",
        "footer-description-foreground": "#17150f",
        "footer-background": "#e9e2d2",
        "input-selection-background": "#e6cf9c",
        "wood": "#5a3d10",
        "quiet": "#4a453b",
        "cut": "#0a3a8c",
    },
)

SIGNAL_STYLES = {
    "DANGER": "bold #000000 on #ff8f86",
    "WARNING": "bold #000000 on #ffb04d",
    "CAUTION": "bold #000000 on #ffe066",
    "NOTICE": "bold #000000 on #9cc9ff",
}
"""Signal words in ANSI Z535.4's order of colours (red, orange, yellow, blue), each light enough for black letters."""
