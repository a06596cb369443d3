"""The terminal as it really is: it may send what is no text, vanish, or be taken away by a signal."""

from __future__ import annotations

import codecs
import os
import selectors
import sys
from collections.abc import Iterable
from contextlib import suppress
from typing import IO, Any

from textual import events
from textual._parser import ParseError
from textual._xterm_parser import XTermParser
from textual.drivers.linux_driver import LinuxDriver
from textual.keys import Keys
from textual.message import Message

from coach.tui.base import OwnApp

_MOST_READ = 4096
_LARGEST_WINDOW = 2000  # columns or rows


class SturdyParser(XTermParser):
    """Reads what the terminal sends; of a report that it can't read nothing comes."""

    def _sequence_to_key_events(self, sequence: str, alt: bool = False) -> Iterable[events.Key]:
        try:
            return list(super()._sequence_to_key_events(sequence, alt))
        except (ValueError, OverflowError):  # the release of a key, or a number beyond all characters
            return [events.Key(Keys.Ignore, None)]


class _Unbreakable:
    """A stream that nothing happens to when it can't be written any more."""

    def __init__(self, stream: IO[str]) -> None:
        self._stream = stream

    def write(self, text: str) -> None:
        """Writes, if it goes."""
        with suppress(OSError, ValueError):
            self._stream.write(text)

    def flush(self) -> None:
        """Flushes, if it goes."""
        with suppress(OSError, ValueError):
            self._stream.flush()

    def fileno(self) -> int:
        """The stream's own."""
        return self._stream.fileno()


class TerminalDriver(LinuxDriver):
    """Talks to the terminal, and leaves when that is gone."""

    def __init__(self, *arguments: Any, **options: Any) -> None:
        super().__init__(*arguments, **options)
        if sys.__stderr__ is not None:
            self._file = _Unbreakable(sys.__stderr__)  # type: ignore[assignment]

    @property
    def _own_app(self) -> OwnApp:
        assert isinstance(self._app, OwnApp)
        return self._app

    def start_application_mode(self) -> None:
        """From now on the terminal is the app's, so it has to be given back, however the app ends."""
        self._own_app.listen_for_signals()
        super().start_application_mode()  # type: ignore[no-untyped-call]

    def process_message(self, message: Message) -> None:
        """Passes on what the terminal has sent, but for a size that no window has."""
        if isinstance(message, events.Resize) and max(message.size) > _LARGEST_WINDOW:
            return
        super().process_message(message)

    def run_input_thread(self) -> None:
        """Reads until the app ends or the terminal is gone."""
        parser = SturdyParser(self._debug)
        decode = codecs.getincrementaldecoder("utf-8")(errors="ignore").decode
        with selectors.SelectSelector() as selector:
            selector.register(self.fileno, selectors.EVENT_READ)
            while not self.exit_event.is_set():
                if selector.select(0.1):
                    raw = self._read()
                    if not raw:
                        self._own_app.call_from_thread(self._own_app.terminal_is_gone)
                        return
                    if text := decode(raw):
                        self._process(parser.feed(text))
                self._process(parser.tick())
        with suppress(EOFError, ParseError):
            self._process(parser.feed(""))

    def _read(self) -> bytes:
        try:
            return os.read(self.fileno, _MOST_READ)
        except OSError:
            return b""

    def _process(self, messages: Iterable[Message]) -> None:
        for message in messages:
            self.process_message(message)
