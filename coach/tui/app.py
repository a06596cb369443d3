"""The Textual app."""

from __future__ import annotations

import gc
import shlex
import sys
from collections.abc import Sequence

from textual.app import App

from coach.record.session import Session
from coach.tui.context import Context
from coach.tui.theme import DARK, LIGHT


class CoachApp(App[None]):
    """Opens a batch's walk, or the home screen without one."""

    CSS_PATH = "coach.tcss"
    TITLE = "coach"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS = [("ctrl+t", "other_theme", "light or dark"), ("ctrl+c", "quit", "quit")]

    def __init__(self, context: Context, session: Session | None = None, advice: Sequence[str] = ()) -> None:
        super().__init__()
        self.context = context
        self.session = session
        self.advice = tuple(advice)
        self.register_theme(DARK)
        self.register_theme(LIGHT)
        self.theme = DARK.name

    def on_mount(self) -> None:
        """The first screen."""
        if self.session is not None:
            from coach.tui.walk import WalkScreen

            self.push_screen(WalkScreen(self.context, self.session))
            for note in self.advice:
                self.notify(note, title="Advice", timeout=12, markup=False)
        else:
            from coach.tui.home import HomeScreen

            self.context.from_home = True
            self.push_screen(HomeScreen(self.context))
        self.call_after_refresh(self._settle)

    def action_other_theme(self) -> None:
        """Changes between dark and light."""
        self.theme = LIGHT.name if self.theme == DARK.name else DARK.name

    def _settle(self) -> None:
        """What can wait until the first screen is there: the record's backup of the day.

        What has been loaded by now stays, so the garbage collector is told to leave it alone: looking through all of it
        every half minute made one key in a hundred three times as slow.
        """
        gc.freeze()
        if wrong := self.context.back_up():
            self.notify(wrong, severity="warning", timeout=12, markup=False)

    def run_to_end(self) -> int:
        """Runs until the person leaves, then says how to come back; returns the exit code."""
        self.run()
        session = self.context.left_batch
        if session is not None:
            whole = session.walker.cuts_in_all
            done = whole - session.walker.cuts_left_in_all
            print(f"{session.name}: {done} of {whole} cuts are done, and all of it is saved.")  # noqa: T201
            if session.next() is not None:
                print(f"Carry on with:  coach run --batch {shlex.quote(session.name)}")  # noqa: T201
        return self.return_code or 0


def only_ascii() -> bool:
    """Whether the terminal's encoding can't show boxes and blocks."""
    encoding = (sys.stdout.encoding or "ascii").lower().replace("-", "").replace("_", "")
    return encoding not in {"utf8", "utf16", "utf32", "cp65001"}
