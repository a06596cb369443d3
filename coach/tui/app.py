"""The Textual app."""

from __future__ import annotations

import gc
from collections.abc import Sequence

from textual.app import App

from coach.preferences import remember
from coach.record.session import Session
from coach.talk import remarks
from coach.tui.context import Context
from coach.tui.theme import DARK, LIGHT

MOST_MISTAKES = 3


class CoachApp(App[None]):
    """Opens a batch's walk, or the home screen without one."""

    CSS_PATH = "coach.tcss"
    TITLE = "coach"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS = [("ctrl+t", "other_theme", "light or dark"), ("ctrl+c", "quit", "quit")]

    def __init__(self, context: Context, session: Session | None = None, advice: Sequence[str] = ()) -> None:
        super().__init__()
        context.set_up()
        self.context = context
        self.session = session
        self.advice = tuple(advice)
        self.register_theme(DARK)
        self.register_theme(LIGHT)
        self.theme = context.theme if context.theme in (DARK.name, LIGHT.name) else DARK.name

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
        if self.context.mistakes:
            self.notify(self._mistakes(), title="The usual keys hold", severity="warning", timeout=20, markup=False)
        self.call_after_refresh(self._settle)

    def action_other_theme(self) -> None:
        """Changes between dark and light."""
        self.theme = LIGHT.name if self.theme == DARK.name else DARK.name
        remember(theme=self.theme)

    def _mistakes(self) -> str:
        """What is wrong with the file of the person's own keys, as far as a note can hold it."""
        mistakes = self.context.mistakes
        more = len(mistakes) - MOST_MISTAKES
        return "\n".join(
            (*mistakes[:MOST_MISTAKES], *([f"and {more} more: the walk's help shows all"] if more > 0 else []))
        )

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
            print(remarks.farewell(session))  # noqa: T201
            if session.next() is not None:
                print(f"Carry on with:  {remarks.carry_on(session.name)}")  # noqa: T201
        return self.return_code or 0
