"""The Textual app."""

from __future__ import annotations

import gc
from collections.abc import Sequence
from typing import TYPE_CHECKING

from textual import events
from textual.app import App, ScreenStackError
from textual.binding import Binding

from coach.preferences import remember
from coach.record.batch.session import Session
from coach.talk import remarks
from coach.talk.context import Context
from coach.tui.base import OwnApp
from coach.tui.keys import shown_key
from coach.tui.terminal import TerminalDriver
from coach.tui.theme import DARK, LIGHT

if TYPE_CHECKING:
    from textual.filter import LineFilter


class CoachApp(OwnApp):
    """Opens a batch's walk, or the home screen without one."""

    CSS_PATH = "coach.tcss"
    TITLE = "coach"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS = [("ctrl+t", "other_theme", "light or dark"), ("ctrl+c", "quit", "quit")]

    def __init__(self, context: Context, session: Session | None = None, advice: Sequence[str] = ()) -> None:
        super().__init__(context, TerminalDriver)
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
            from coach.tui.walk.screen import WalkScreen

            self.push_screen(WalkScreen(self.context, self.session))
            if self.advice:
                from coach.tui.dialogs.asking import Choose

                self.push_screen(Choose("Advice on this layout, before you begin:", ["Go on"], self.advice))
        else:
            from coach.tui.home.screen import HomeScreen

            self.context.from_home = True
            self.push_screen(HomeScreen(self.context))
        if self.context.mistakes:
            from coach.tui.dialogs.asking import Choose

            title = "The usual keys hold, since the file of your own has mistakes:"
            self.push_screen(Choose(title, ["Go on"], self.context.mistakes))
        self.call_after_refresh(self._settle)

    def get_line_filters(self) -> Sequence[LineFilter]:
        """Where the terminal has no Unicode, whatever is drawn is drawn without."""
        found = super().get_line_filters()
        if not self.context.plain:
            return found
        from coach.tui.plain_signs import PlainSigns  # few terminals need it

        return [*found, PlainSigns()]

    def get_key_display(self, binding: Binding) -> str:
        """A key as it is called everywhere."""
        return binding.key_display or shown_key(binding.key)

    async def on_event(self, event: events.Event) -> None:
        """A key, a click or a paste reaches a screen only once all of it is there: whoever is quicker meant the one
        before."""
        if isinstance(event, events.Key | events.Paste | events.MouseEvent) and not self._ready_for_keys():
            return
        await super().on_event(event)

    def _ready_for_keys(self) -> bool:
        try:
            return self.screen.is_mounted
        except ScreenStackError:
            return False

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
        from coach.tui.beside import back_up

        back_up(self, self.context)

    def run_to_end(self) -> int:
        """Runs until the person leaves, then says how to come back; returns the exit code."""
        gc.disable()  # what is made on the way to the first screen stays, so looking through it finds nothing
        self.run()
        session = self.context.left_batch
        if self.ended_by is not None:
            return 128 + self.ended_by
        if session is not None:
            print(remarks.farewell(session))  # noqa: T201
            if session.next() is not None:
                print(f"Carry on with:  {remarks.carry_on(session.name, self.context.options)}")  # noqa: T201
        return self.return_code or 0
