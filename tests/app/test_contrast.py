"""Every text on every screen, in both themes, against WCAG 2.2, 1.4.6 (AAA): a contrast of at least 7 : 1."""

from __future__ import annotations

import re
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from rich.color import Color
from rich.segment import Segment
from rich.style import Style
from support.app_screens import Shown, opened
from support.plain_files import layout_text
from support.small_batches import ALL_STEPS, BEFORE_FIRST_CUT, go, go_to
from textual.theme import Theme
from textual.widgets import Input

import coach.tui
from coach.ground.errors import CoachError
from coach.plan.steps import StepKind
from coach.record.batch.session import Session
from coach.record.disk.store import Store
from coach.tui.dialogs.measuring import MeasureScreen
from coach.tui.home.screen import HomeScreen
from coach.tui.home.starting import StartScreen
from coach.tui.screens.help import HelpScreen
from coach.tui.screens.log import LogScreen
from coach.tui.theme import DARK, LIGHT, SIGNAL_STYLES

AAA = 7.0
THEMES = [DARK, LIGHT]
TUI = Path(coach.tui.__file__).parent
GROUNDS = ("background", "surface", "panel", "footer-background")
INKS = (
    "foreground",
    "primary",
    "secondary",
    "accent",
    "warning",
    "error",
    "success",
    "wood",
    "quiet",
    "cut",
    "footer-key-foreground",
    "footer-description-foreground",
)
BARS = set("▁▂▃▄▅▆▇█▉▊▋▌▍▎▏▐╸╺━")
"""The signs that scroll bars and the edges of notes are made of."""

both_themes = pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)


def luminance(colour: str) -> float:
    """Relative luminance of a colour such as "#15171a": WCAG 2.2's definition."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, from 1 to 21: WCAG 2.2's definition."""
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def colours(theme: Theme) -> dict[str, str]:
    """What a theme's names stand for."""
    named = {name: getattr(theme, name) for name in (*GROUNDS, *INKS) if hasattr(theme, name)}
    return {name: colour for name, colour in {**named, **theme.variables}.items() if colour is not None}


def of_hex(colour: Color | None) -> str:
    """A rendered colour as "#rrggbb"."""
    assert colour is not None and not colour.is_default
    return colour.get_truecolor().hex


def weak(segment: Segment) -> str | None:
    """What is wrong with a piece of text on the screen, if anything is."""
    text = segment.text.strip()
    if not text or set(text) <= BARS:
        return None
    style = segment.style
    assert isinstance(style, Style)
    ink, ground = of_hex(style.color), of_hex(style.bgcolor)
    ratio = contrast(ink, ground)
    if ratio < AAA or style.dim:
        return f"{text!r}: {ink} on {ground} is {ratio:.2f} : 1{' and dimmed' if style.dim else ''}"
    return None


@asynccontextmanager
async def themed(theme: Theme, store: Store, session: Session | None = None, **more: object) -> AsyncIterator[Shown]:
    """The app in a theme, changed to as a person does."""
    async with opened(store, session, **more) as shown:  # type: ignore[arg-type]
        if theme is LIGHT:
            await shown.pilot.press("ctrl+t")
        await shown.until(lambda: shown.app.theme == theme.name, theme.name)
        ground = colours(theme)["background"]
        await shown.until(lambda: _has_ground(shown, ground), "its background")
        yield shown


def _has_ground(shown: Shown, ground: str) -> bool:
    styles = (segment.style for segment in shown.segments())
    return any(isinstance(style, Style) and style.bgcolor and of_hex(style.bgcolor) == ground for style in styles)


async def check(shown: Shown, words: str) -> None:
    """Every text on the screen that shows `words` stands out."""
    await shown.until_shown(words)
    found = [problem for segment in shown.segments() if (problem := weak(segment))]
    assert not found, "\n".join(found)


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        # Published check values of the formula, as facts of the colours named.
        ("#595959", "#ffffff", 7.0047),
        ("#767676", "#ffffff", 4.5422),
        ("#ff0000", "#ffffff", 3.9985),
        ("#0000ff", "#000000", 2.444),
        ("#ffff00", "#000000", 19.556),
        ("#000000", "#ffffff", 21.0),
    ],
)
def test_the_ratio_is_the_one_that_is_published(one: str, other: str, ratio: float) -> None:
    assert contrast(one, other) == contrast(other, one) == pytest.approx(ratio, abs=5e-4)


@both_themes
@pytest.mark.parametrize("ground", GROUNDS)
@pytest.mark.parametrize("ink", INKS)
def test_every_ink_stands_out_on_every_ground(theme: Theme, ground: str, ink: str) -> None:
    named = colours(theme)
    assert contrast(named[ink], named[ground]) >= AAA


@both_themes
def test_what_is_typed_stands_out_where_it_is_selected(theme: Theme) -> None:
    named = colours(theme)
    assert contrast(named["foreground"], named["input-selection-background"]) >= AAA


@pytest.mark.parametrize("word", SIGNAL_STYLES)
def test_a_signal_word_stands_out_on_its_colour(word: str) -> None:
    found = re.fullmatch(r"bold (#\w{6}) on (#\w{6})", SIGNAL_STYLES[word])
    assert found is not None
    assert contrast(found[1], found[2]) >= AAA


def test_no_colour_is_used_that_is_not_looked_at_here() -> None:
    sources = [file.read_text(encoding="utf-8") for file in (*TUI.glob("*.py"), *TUI.glob("*.tcss"))]
    used = {name for source in sources for name in re.findall(r"\$([a-z][a-z-]*)", source)}
    assert used <= {*GROUNDS, *INKS, "input-selection-background"}


@both_themes
async def test_home(theme: Theme, store: Store, session: Session, home: Path) -> None:
    (home / "layouts").mkdir()
    for letter in "AB":
        text = layout_text(root={"name": f'"{letter}"'})
        (home / "layouts" / f"{letter}.toml").write_text(text, encoding="utf-8")
    async with themed(theme, store) as shown:
        await check(shown, "0 of 16 cuts")
        await shown.pilot.press("space")
        await check(shown, "Only layouts can be marked")
        await shown.pilot.press("down", "space")
        await check(shown, "+ A")
        await shown.pilot.hover("#choices", (5, 4))
        await check(shown, "+ A")


@both_themes
@pytest.mark.parametrize("tools", ["", "the sample shop"])
async def test_the_start(theme: Theme, store: Store, home: Path, tools: str) -> None:
    (home / "layouts").mkdir()
    fine = layout_text({"pin": '"0.3 mm"' if tools else '"4 mm"'})
    (home / "layouts" / "a.toml").write_text(fine, encoding="utf-8")
    async with themed(theme, store, size=(80, 40)) as shown:
        await shown.until_shown("a.toml")
        await shown.pilot.press("enter")
        await shown.until_on(StartScreen)
        await check(shown, "This can't be cut:" if tools else "Enter starts the batch")
        if not tools:
            shown.screen.query_one("#name", Input).value = ""
            await shown.pilot.press("enter")
            await check(shown, "the batch's name")


@both_themes
async def test_the_walk_at_every_step(theme: Theme, store: Store, session: Session) -> None:
    async with themed(theme, store, session, size=(100, 40)) as shown:
        await shown.pilot.press("space")
        await check(shown, "The step has just come up")
        for _ in range(ALL_STEPS):
            await check(shown, "Batch" if session.walker.cuts_left_in_all else "Bench")
            go(session, 1)
            shown.walk.show()
        await check(shown, "The batch is done.")


@both_themes
async def test_measuring(theme: Theme, store: Store, session: Session) -> None:
    go_to(session, StepKind.CHECK)
    async with themed(theme, store, session) as shown:
        await shown.press("m")
        await shown.until_on(MeasureScreen)
        await check(shown, "such as 30.5 mm")
        await shown.paste("31")
        await shown.pilot.press("left")
        await check(shown, "31")
        await shown.pilot.press("shift+home")
        await check(shown, "31")
        await shown.pilot.press("enter")
        await check(shown, "a length needs a unit")


@both_themes
async def test_the_log(theme: Theme, store: Store, session: Session) -> None:
    go(session, BEFORE_FIRST_CUT + 2)
    session.undo()
    async with themed(theme, store, session) as shown:
        await shown.press("l")
        await shown.until_on(LogScreen)
        await check(shown, "(undone)")
        await shown.pilot.press("down")
        await check(shown, "Nothing is cut on this board yet.")
        await shown.pilot.hover("#boards", (5, 1))
        await check(shown, "side 1")
        await shown.pilot.press("slash")
        await check(shown, "part of a board's label")
        await shown.paste("2")
        await check(shown, "side 2")


@both_themes
async def test_the_help(theme: Theme, store: Store, session: Session) -> None:
    async with themed(theme, store, session, size=(80, 24)) as shown:
        await shown.press("question_mark")
        await shown.until_on(HelpScreen)
        await check(shown, "A good cut")


@both_themes
async def test_notes(theme: Theme, store: Store, session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails() -> None:
        raise CoachError("the disk is full")

    monkeypatch.setattr(store, "backup_of_the_day", fails)
    async with themed(theme, store, session) as shown:
        await check(shown, "No backup was made today")


@both_themes
async def test_a_window_that_is_too_small(theme: Theme, store: Store, session: Session) -> None:
    async with themed(theme, store, session, size=(38, 12)) as shown:
        await check(shown, "The walk needs at least")


@both_themes
async def test_keys_under_the_mouse(theme: Theme, store: Store) -> None:
    async with themed(theme, store) as shown:
        await shown.until_on(HomeScreen)
        await shown.pilot.hover("FooterKey")
        await check(shown, "mark several")


async def test_the_theme_changes_back_and_forth(store: Store, session: Session) -> None:
    seen: list[str] = []
    async with opened(store, session) as shown:
        for name in (LIGHT.name, DARK.name):
            await shown.pilot.press("ctrl+t")
            await shown.until(_theme_is(shown, name), name)
            seen.append(shown.app.theme)
    assert seen == [LIGHT.name, DARK.name]


def _theme_is(shown: Shown, name: str) -> Callable[[], bool]:
    return lambda: shown.app.theme == name
