"""The Textual app."""

from __future__ import annotations

import gc
from collections.abc import Sequence

from textual.app import App

from coach.preferences import remember
from coach.record.session import Session
from coach.talk import remarks
from coach.talk.context import Context
from coach.tui.theme import DARK, LIGHT


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
        # Set as usual, the theme would have the stylesheet read a second time, which the first screen would wait for.
        self.set_reactive(App.theme, DARK.name)
        self.stylesheet.set_variables(self.get_css_variables())
        if context.theme == LIGHT.name:
            self.theme = LIGHT.name

    def on_mount(self) -> None:
        """The first screen."""
        if self.session is not None:
            from coach.tui.walk import WalkScreen

            self.push_screen(WalkScreen(self.context, self.session))
            if self.advice:
                from coach.tui.dialogs import Choose

                self.push_screen(Choose("Advice on this layout, before you begin:", ["Go on"], self.advice))
        else:
            from coach.tui.home import HomeScreen

            self.context.from_home = True
            self.push_screen(HomeScreen(self.context))
        if self.context.mistakes:
            from coach.tui.dialogs import Choose

            title = "The usual keys hold, since the file of your own has mistakes:"
            self.push_screen(Choose(title, ["Go on"], self.context.mistakes))
        self.call_after_refresh(self._settle)

    def action_other_theme(self) -> None:
        """Changes between dark and light."""
        self.theme = LIGHT.name if self.theme == DARK.name else DARK.name
        remember(theme=self.theme)

    def _settle(self) -> None:
        """What can wait until the first screen is there: the record's backup of the day.

        What has been loaded by now stays, so the garbage collector is told to leave it alone: looking through all of it
        every half minute made one key in a hundred three times as slow.
        """
        gc.freeze()
        gc.enable()
        if wrong := self.context.back_up():
            self.notify(wrong, severity="warning", timeout=12, markup=False)

    def run_to_end(self) -> int:
        """Runs until the person leaves, then says how to come back; returns the exit code."""
        gc.disable()  # what is made on the way to the first screen stays, so looking through it finds nothing
        self.run()
        session = self.context.left_batch
        if session is not None:
            print(remarks.farewell(session))  # noqa: T201
            if session.next() is not None:
                print(f"Carry on with:  {remarks.carry_on(session.name)}")  # noqa: T201
        return self.return_code or 0
