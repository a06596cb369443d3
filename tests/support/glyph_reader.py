"""Reads large letters back from a screen's cells, by bitmaps that it takes from each sign set alone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache

from coach.tui.drawing.glyphs import FORMS, Form, render, signs

INK = frozenset("█▀▄#")
PIXELS_HIGH = (5, 6)
"""Without and with what hangs below the line."""

Column = tuple[str, ...]


def read(lines: Sequence[str], *, plain: bool) -> str | None:
    """What `lines` spell in large letters of one form, and nothing else; None if they don't."""
    for form in FORMS:
        if len(lines) <= _rows(6, form):
            texts = list(_texts(lines, form, plain=plain))
            if len(texts) == 1 and texts[0] is not None:
                return texts[0]
    return None


def large_on(screen: str, *, plain: bool) -> set[str]:
    """All that can be read in large letters on a screen, wherever it stands."""
    rows = screen.splitlines()
    return {
        text
        for form in FORMS
        for high in PIXELS_HIGH
        for top in range(len(rows))
        if any(set(row) & INK for row in rows[top : top + 1])
        for text in _texts(rows[top : top + _rows(high, form)], form, plain=plain)
        if text is not None
    }


def _texts(lines: Sequence[str], form: Form, *, plain: bool) -> Iterator[str | None]:
    """The texts from left to right, each up to a sign that isn't known, for which None is given, or an odd gap."""
    known = _alphabet(form, plain=plain)
    text, glyph, blanks = "", [], 0
    for column in (*_columns(lines, _rows(6, form)), _blank(form)):
        if column != _blank(form):
            if text and blanks > form.across:  # one pixel after each sign, and two for a space
                spaces, odd = divmod(blanks - form.across, 3 * form.across)
                if odd:
                    yield text
                text = "" if odd else text + " " * spaces
            glyph.append(column)
            blanks = 0
            continue
        blanks += 1
        if glyph:
            sign = known.get(tuple(glyph))
            if sign is None:
                yield from (text.rstrip(), None) if text else (None,)
            text = "" if sign is None else text + sign
            glyph = []
    if text:
        yield text


@cache
def _alphabet(form: Form, *, plain: bool) -> dict[tuple[Column, ...], str]:
    """Each sign by its columns of cells, as high as the highest sign; none where there is no such form."""
    found: dict[tuple[Column, ...], str] = {}
    for sign in sorted(signs() - {" "}):
        lines = render(sign, form, plain=plain)
        if lines is not None:
            cells = _columns(lines, _rows(6, form))
            assert cells not in found, f"{sign!r} looks like {found[cells]!r}"
            found[cells] = sign
    return found


def _rows(pixels: int, form: Form) -> int:
    return -(-pixels * form.halves // 2)


def _blank(form: Form) -> Column:
    return (" ",) * _rows(6, form)


def _columns(lines: Sequence[str], rows: int) -> tuple[Column, ...]:
    """The cells of `lines` column by column, filled up with blanks to `rows`."""
    width = max(map(len, lines), default=0)
    filled = [line.ljust(width) for line in lines] + [" " * width] * (rows - len(lines))
    return tuple(zip(*filled, strict=True))
