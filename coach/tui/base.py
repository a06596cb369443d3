"""What all parts of the app know of it: what a walk goes by, and that it ends well when it is told to."""

from __future__ import annotations

import asyncio
import os
import signal
import threading

from textual.app import App
from textual.driver import Driver

from coach.talk.context import Context

ENDING = (signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT)
"""The signals that end a program, but for Ctrl+C, which comes as a key."""
LAST_S = 3.0
"""How long leaving may take where the terminal or the system wants it."""


class OwnApp(App[None]):
    """An app that gives the terminal back, however it ends.

    Attributes:
        context: what is shared by all screens.
        ended_by: the signal that ended it, if one did.
    """

    def __init__(self, context: Context, driver: type[Driver]) -> None:
        super().__init__(driver_class=driver)
        context.set_up()
        self.context = context
        self.ended_by: signal.Signals | None = None

    def listen_for_signals(self) -> None:
        """From now on signals that would end the program end the app, so that the terminal is given back first."""
        loop = asyncio.get_running_loop()
        for number in ENDING:
            if signal.getsignal(number) is not signal.SIG_IGN:
                loop.add_signal_handler(number, self.end_by, number)

    def end_by(self, number: signal.Signals) -> None:
        """Leaves since a signal said so; everything is saved already."""
        self.ended_by = number
        self._leave_soon()
        self.exit()

    def terminal_is_gone(self) -> None:
        """Leaves since nobody is there any more, whatever was said about that signal."""
        self.end_by(signal.SIGHUP)

    def _leave_soon(self) -> None:
        """Should what is still to be done take too long, it isn't done: nothing of it matters to the record."""
        assert self.ended_by is not None
        last = threading.Timer(LAST_S, os._exit, [128 + self.ended_by])
        last.daemon = True
        last.start()
