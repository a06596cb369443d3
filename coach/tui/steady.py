"""Screens that are laid out for the size that the window has, not for one that it had a moment ago."""

from __future__ import annotations

from typing import TypeVar

from textual.binding import Binding
from textual.geometry import Size
from textual.screen import ModalScreen, Screen

Answer = TypeVar("Answer")


class SteadyScreen(Screen[Answer]):
    """A screen that can lie below another while the window changes its size.

    The screen on top tells those below it of each new size. Where two such messages are under way at once, each tells
    of a size that the other has just replaced, and the screens lay themselves out in turns for ever; so whatever one
    says, the size that counts is the one that the window has now.
    """

    def _screen_resized(self, size: Size) -> None:
        super()._screen_resized(self.app.size or size)


class SteadyDialog(ModalScreen[Answer]):
    """The same for what is asked on top of another screen, which keeps the app's keys from the app."""

    BINDINGS = [Binding("ctrl+c", "app.quit", "quit", show=False, priority=True)]

    def _screen_resized(self, size: Size) -> None:
        super()._screen_resized(self.app.size or size)
