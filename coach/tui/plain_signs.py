"""What the screen library draws, scrollbars and frames above all, in signs that a terminal without Unicode has."""

from __future__ import annotations

from functools import lru_cache

from rich.segment import Segment
from textual.color import Color
from textual.filter import LineFilter

from coach.talk.signs import SPELLED

_HORIZONTAL = "─━┄┅┈┉╌╍═╴╶╸╺╼╾"
_VERTICAL = "│┃┆┇┊┋╎╏║╵╷╹╻╽╿▏▎▍▌▋▊▉▐▕"
_FRAMES: dict[str, str | int | None] = {
    **dict.fromkeys((chr(sign) for sign in range(0x2500, 0x2580)), "+"),
    **dict.fromkeys((chr(sign) for sign in range(0x2580, 0x25A0)), "#"),
    **dict.fromkeys(_HORIZONTAL, "-"),
    **dict.fromkeys(_VERTICAL, "|"),
    "⏎": "<",
    "•": "*",
    "›": ">",
    "→": ">",
    "←": "<",
    "↑": "^",
    "↓": "v",
}
_SIGNS: dict[int, str | int | None] = {**str.maketrans(_FRAMES), **SPELLED}


class PlainSigns(LineFilter):
    """Puts a sign of ASCII in the place of each of ours and the library's; a person's own words stay as they are."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """The same segments with their text so."""
        del background
        return [Segment(_plain(text), style, control) for text, style, control in segments]


@lru_cache(maxsize=2048)
def _plain(text: str) -> str:
    return text if text.isascii() else text.translate(_SIGNS)
