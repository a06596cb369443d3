"""Large letters, digits and signs, to be read from two metres: drawn in pixels, and set as large as the room allows."""

from __future__ import annotations

from functools import cache, lru_cache
from typing import NamedTuple
from unicodedata import combining, normalize

GLYPH_ROWS = 5
"""Pixels from the top of a capital to the line on which it stands; one more row below it holds what hangs down."""


class Form(NamedTuple):
    """How large a pixel is: so many columns across, and so many halves of a row down, one or an even number."""

    across: int
    halves: int


GIANT, HUGE, DOUBLE, SINGLE, COMPACT = FORMS = (Form(6, 6), Form(4, 4), Form(2, 2), Form(1, 2), Form(1, 1))
"""From the largest to the smallest; the compact one takes three rows of half-blocks."""

_BLOCKS = {(".", "."): " ", ("#", "#"): "█", ("#", "."): "▀", (".", "#"): "▄"}

_SHEET = """
0   1   2   3   4   5   6   7   8   9
### .#. ##. ### #.. ### .## ### ### ###
#.# ##. ..# ..# #.# #.. #.. ..# #.# #.#
#.# .#. .#. .## #.# ##. ### ..# .#. ###
#.# .#. #.. ..# ### ..# #.# .#. #.# ..#
### ### ### ### ..# ##. ### .#. ### ..#
... ... ... ... ... ... ... ... ... ...

A    B    C    D    E   F   G    H    I   J    K    L   M     N
.##. ###. .### ###. ### ### .### #..# ### ..## #..# #.. #...# #...#
#..# #..# #... #..# #.. #.. #... #..# .#. ...# #.#. #.. ##.## ##..#
#### ###. #... #..# ##. ##. #.## #### .#. ...# ##.. #.. #.#.# #.#.#
#..# #..# #... #..# #.. #.. #..# #..# .#. #..# #.#. #.. #...# #..##
#..# ###. .### ###. ### #.. .### #..# ### .##. #..# ### #...# #...#
.... .... .... .... ... ... .... .... ... .... .... ... ..... .....

O     P    Q     R    S    T     U    V     W     X     Y     Z
.###. ###. .###. ###. .### ##### #..# #...# #...# #...# #...# ####
#...# #..# #...# #..# #... ..#.. #..# #...# #...# .#.#. .#.#. ...#
#...# ###. #...# ###. .##. ..#.. #..# #...# #.#.# ..#.. ..#.. .##.
#...# #... #..#. #.#. ...# ..#.. #..# .#.#. ##.## .#.#. ..#.. #...
.###. #... .##.# #..# ###. ..#.. .##. ..#.. #...# #...# ..#.. ####
..... .... ..... .... .... ..... .... ..... ..... ..... ..... ....

a    b   c   d   e    f   g   h   i j  k   l  m
.... #.. ... ..# .... .## ... #.. # .# #.. #. .....
.##. #.. .## ..# .##. .#. .## #.. . .. #.. #. ##.#.
#.#. ##. #.. .## #### ### #.# ##. # .# #.# #. #.#.#
#.#. #.# #.. #.# #... .#. .## #.# # .# ##. #. #.#.#
.### ##. .## .## .### .#. ..# #.# # .# #.# .# #.#.#
.... ... ... ... .... ... ##. ... . #. ... .. .....

n   o    p   q   r   s    t   u    v   w     x   y   z
... .... ... ... ... .... .#. .... ... ..... ... ... ...
##. .##. ##. .## #.# .### ### #..# #.# #...# #.# #.# ###
#.# #..# #.# #.# ##. ##.. .#. #..# #.# #.#.# .#. #.# .#.
#.# #..# ##. .## #.. ..## .#. #..# #.# #.#.# .#. .## #..
#.# .##. #.. ..# #.. ###. .## .### .#. .#.#. #.# ..# ###
... .... #.. ..# ... .... ... .... ... ..... ... ##. ...

/   \\   . ,  : ;  - _   + =   *   ' "    ( ) [ ]
..# #.. . .. . .. ... .... ... ... ... .# .#.# .# #. ## ##
..# #.. . .. # .# ... .... .#. ### #.# #. #.#. #. .# #. .#
.#. .#. . .. . .. ### .... ### ... .#. .. .... #. .# #. .#
#.. ..# . .. # .# ... .... .#. ### #.# .. .... #. .# #. .#
#.. ..# # .# . .. ... #### ... ... ... .. .... #. .# #. .#
... ... . #. . #. ... .... ... ... ... .. .... .# #. ## ##

#     &     °   ! ?   %   @     <   >   |
.#.#. .##.. .#. # ##. #.# .###. ..# #.. #
##### #..#. #.# # ..# ..# #.#.# .#. .#. #
.#.#. .##.# .#. # .#. .#. #.### #.. ..# #
##### #..#. ... . ... #.. #.... .#. .#. #
.#.#. .##.# ... # .#. #.# .###. ..# #.. #
..... ..... ... . ... ... ..... ... ... #
"""
"""The font: under each sign its pixels. No column of a glyph is empty, so that empty ones tell signs apart."""

_SPACE = ("..",) * (GLYPH_ROWS + 1)
_LIKE = str.maketrans("−‐‑–—⁄∕’‘′“”″×", "-----//'''\"\"\"x")


@cache
def _font() -> dict[str, tuple[str, ...]]:
    """Each sign's rows of pixels, from the top; "#" is set."""
    font = {" ": _SPACE}
    for block in _SHEET.strip("\n").split("\n\n"):
        signs, *rows = (line.split() for line in block.splitlines())
        font |= dict(zip(signs, zip(*rows, strict=True), strict=True))
    return font


def signs() -> frozenset[str]:
    """The signs that can be large."""
    return frozenset(_font())


@lru_cache(maxsize=512)
def spelled(text: str) -> str | None:
    """`text` in the font's own signs, letters with accents as their base letters; None if it has others or no ink."""
    letters = "".join(sign for sign in normalize("NFKD", text.translate(_LIKE)) if not combining(sign))
    letters = letters.translate(_LIKE).strip()
    return letters if letters and all(sign in _font() for sign in letters) else None


def large(text: str, columns: int, rows: int, *, plain: bool) -> tuple[str, ...] | None:
    """`text` in the largest form that fits, row by row; None if none fits or the font lacks one of its signs.

    Each row is as long as the widest. `plain` draws with "#", for terminals without Unicode, and has no compact form.
    """
    for form in FORMS:
        lines = render(text, form, plain=plain)
        if lines is not None and len(lines) <= rows and len(lines[0]) <= columns:
            return lines
    return None


@lru_cache(maxsize=512)
def render(text: str, form: Form, *, plain: bool) -> tuple[str, ...] | None:
    """`text` in one form, row by row; None if the font lacks one of its signs, or `plain` the half-blocks it takes."""
    letters = spelled(text)
    if letters is None or (plain and form.halves % 2):
        return None
    glyphs = [_font()[sign] for sign in letters]
    pixels = [".".join(rows) for rows in zip(*glyphs, strict=True)]
    if "#" not in pixels[-1]:
        pixels.pop()
    if form.halves % 2:
        rows = [*pixels, "." * len(pixels[0])] if len(pixels) % 2 else pixels
        return tuple(
            "".join(_BLOCKS[cell] for cell in zip(upper, lower, strict=True))
            for upper, lower in zip(rows[::2], rows[1::2], strict=True)
        )
    cells = str.maketrans({"#": ("#" if plain else "█") * form.across, ".": " " * form.across})
    return tuple(row for line in pixels for row in [line.translate(cells)] * (form.halves // 2))
