"""A screen as text for a diff: what stands in each row, then how each run of it is styled; and how two of them differ.

A run is so many cells and a style in short: a letter for the ink, capitals for bold and the like, and behind a slash
the letter of the ground where that isn't the theme's background. Blank cells have a ground alone, and belong to the
run around them where that is the same on both sides.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby, zip_longest

from rich.cells import cell_len
from rich.color import Color
from rich.style import Style
from textual.strip import Strip

from coach.tui.theme import SIGNAL_STYLES

COMMAND = "python tests/snapshots/take.py"
STYLES, LEGEND = "styles", "legend"
BLANK = "."
NAMED = {
    "foreground": "f",
    "background": "b",
    "primary": "p",
    "secondary": "s",
    "accent": "a",
    "wood": "w",
    "quiet": "q",
    "cut": "c",
    "error": "e",
    "surface": "u",
    "panel": "n",
    "input-selection-background": "i",
    "footer-key-foreground": "h",
}
"""The theme's colours; of those that are alike, the first gives the name."""
SIGNALS = {"DANGER": "r", "WARNING": "o", "CAUTION": "y", "NOTICE": "l"}
BLACK = {"#000000": ("k", "black")}
ATTRIBUTES = {"B": "bold", "D": "dim", "I": "italic", "U": "underline", "R": "reverse", "S": "strike"}
SEEN_WHERE_BLANK = {"underline", "reverse", "strike"}


@dataclass(frozen=True, slots=True)
class Run:
    """Cells of one row that are styled alike."""

    cells: int
    ink: str
    ground: str

    def alike(self, other: Run) -> bool:
        """Whether both are styled the same."""
        return (self.ink, self.ground) == (other.ink, other.ground)


def picture(strips: Sequence[Strip], colours: Mapping[str, str]) -> str:
    """The rows of a screen, their styles, and what the letters of those stand for.

    Args:
        colours: the theme's, by name, as the screens use them.
    """
    letters = _letters(colours)
    styled = [list(_joined(_runs(strip, letters))) for strip in strips]
    lines = [f"{number:>2}|{strip.text}".rstrip() for number, strip in enumerate(strips, 1)]
    lines.append(STYLES)
    lines += [f"{number:>2} {' '.join(map(_short, runs))}" for number, runs in enumerate(styled, 1)]
    lines.append(LEGEND)
    lines += _legend({_style(run) for runs in styled for run in runs}, letters)
    return "\n".join(lines) + "\n"


def differences(stored: str, now: str) -> str:
    """The rows in which two pictures differ, as stored and as they are now; nothing if they are the same."""
    parts = zip(("row", STYLES, LEGEND), _parts(stored), _parts(now), strict=True)
    found = [
        f"{name}\n  expected: {before}\n  found:    {after}"
        for name, expected, shown in parts
        for before, after in zip_longest(expected, shown, fillvalue="nothing")
        if before != after
    ]
    return "\n".join([*found, f"if that is meant, take them anew: {COMMAND}"]) if found else ""


def _parts(text: str) -> Iterator[list[str]]:
    """The rows, their styles and the legend of a picture, whatever has become of it."""
    left = text.splitlines()
    for ends in (STYLES, LEGEND):
        at = left.index(ends) if ends in left else len(left)
        yield left[:at]
        left = left[at + 1 :]
    yield left


def _letters(colours: Mapping[str, str]) -> dict[str, tuple[str, str]]:
    """What each colour is called, and its letter."""
    letters = dict(BLACK)
    for name, letter in NAMED.items():
        letters.setdefault(colours[name].lower(), (letter, name))
    for word, letter in SIGNALS.items():
        letters.setdefault(SIGNAL_STYLES[word].rpartition(" ")[2], (letter, f"the ground of {word}"))
    return letters


def _runs(strip: Strip, letters: dict[str, tuple[str, str]]) -> Iterator[Run]:
    for segment in strip:
        style = segment.style if isinstance(segment.style, Style) else Style()
        ink, ground = _letter(style.color, letters), _letter(style.bgcolor, letters)
        worn = [name for name in ATTRIBUTES.values() if getattr(style, name)]
        ink += "".join(letter for letter, name in ATTRIBUTES.items() if name in worn)
        for blank, signs in groupby(segment.text, key=lambda sign: sign == " "):
            unseen = blank and SEEN_WHERE_BLANK.isdisjoint(worn)
            yield Run(cell_len("".join(signs)), BLANK if unseen else ink, ground)


def _letter(colour: Color | None, letters: dict[str, tuple[str, str]]) -> str:
    if colour is None or colour.is_default:
        return "-"
    plain = colour.get_truecolor().hex
    return letters[plain][0] if plain in letters else plain


def _joined(runs: Iterator[Run]) -> Iterator[Run]:
    """Runs with those that are alike made one, along with what is blank between them."""
    row: list[Run] = []
    for run in runs:
        if not run.cells:
            continue
        if len(row) > 1 and row[-1].ink == BLANK and row[-1].ground == run.ground and row[-2].alike(run):
            between = row.pop()
            row[-1] = Run(row[-1].cells + between.cells + run.cells, run.ink, run.ground)
        elif row and row[-1].alike(run):
            row[-1] = Run(row[-1].cells + run.cells, run.ink, run.ground)
        else:
            row.append(run)
    return iter(row)


def _style(run: Run) -> str:
    return run.ink if run.ground == NAMED["background"] else f"{run.ink}/{run.ground}"


def _short(run: Run) -> str:
    return f"{run.cells}{_style(run)}"


def _legend(styles: set[str], letters: dict[str, tuple[str, str]]) -> Iterator[str]:
    """The letters that `styles` are made of, in a fixed order; colours without a name speak for themselves."""
    signs = {sign for style in styles for part in style.split("/") if not part.startswith("#") for sign in part}
    signs |= {sign for style in styles for sign in style if sign.isupper()} | {NAMED["background"]}
    for colour, (letter, name) in letters.items():
        if letter in signs:
            yield f"{letter} {name} {colour}"
    yield from (f"{letter} {name}" for letter, name in ATTRIBUTES.items() if letter in signs)
