"""A command in a terminal of its own: a pseudo-terminal, with an emulator that keeps what a person would see on it."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import pyte

WAIT_S = 15.0
TAKE_TERMINAL = "import os, sys; os.login_tty(0); os.execvp(sys.argv[1], sys.argv[1:])"
SYNCHRONISED_ASKED, SYNCHRONISED_UNKNOWN = b"\x1b[?2026$p", b"\x1b[?2026;0$y"
IN_BAND_RESIZE_ASKED, IN_BAND_RESIZE_UNKNOWN = b"\x1b[?2048$p", b"\x1b[?2048;0$y"
ANSWERS = {SYNCHRONISED_ASKED: SYNCHRONISED_UNKNOWN, IN_BAND_RESIZE_ASKED: IN_BAND_RESIZE_UNKNOWN}
"""What a program may ask the terminal (DECRQM), and the answer of one that doesn't know the mode."""


class TwoPages(pyte.Screen):
    """The emulator, with the second page that full-screen programs draw on; leaving it shows the first, empty."""

    second_page = False

    def set_mode(self, *modes: int, **private: Any) -> None:
        super().set_mode(*modes, **private)
        self._turn_page(modes, private, second=True)

    def reset_mode(self, *modes: int, **private: Any) -> None:
        super().reset_mode(*modes, **private)
        self._turn_page(modes, private, second=False)

    def _turn_page(self, modes: Sequence[int], private: Mapping[str, Any], *, second: bool) -> None:
        if private.get("private") and 1049 in modes:
            self.second_page = second
            self.erase_in_display(2)
            self.cursor_position()


class Terminal:
    """A command that runs in a terminal, as its session's leader, until it is closed.

    Args:
        command: the program and its arguments.
        env: the whole environment.
        cwd: the folder that it runs in.
        columns, rows: the size of the window.
        keys: pressed before the command has started.
    """

    def __init__(
        self,
        command: Sequence[str],
        *,
        env: Mapping[str, str],
        cwd: Path,
        columns: int = 100,
        rows: int = 40,
        keys: bytes = b"",
    ) -> None:
        self.output = bytearray()
        self._screen = TwoPages(columns, rows)
        self._stream = pyte.ByteStream(self._screen)
        self._answered = 0
        self._master, slave = pty.openpty()
        try:
            self._set_size(columns, rows)
            self.attributes_found = self.attributes()
            if keys:
                self.send(keys)
            # `login_tty` gives the command this terminal as its own, so that closing the window hangs it up.
            self.process = subprocess.Popen(
                [sys.executable, "-ISc", TAKE_TERMINAL, *command],
                stdin=slave,
                stdout=slave,
                stderr=slave,
                env=dict(env),
                cwd=cwd,
            )
        except BaseException:
            os.close(self._master)
            raise
        finally:
            os.close(slave)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def attributes(self) -> list[Any]:
        """How the terminal is set (termios): echo, lines, signals and the like."""
        return termios.tcgetattr(self._master)

    @property
    def lines(self) -> list[str]:
        """What the window shows, row by row, without the blanks at the rows' ends."""
        return [line.rstrip() for line in self._screen.display]

    @property
    def text(self) -> str:
        """What the window shows."""
        return "\n".join(self.lines)

    @property
    def columns(self) -> int:
        """How wide the window is."""
        return int(self._screen.columns)

    @property
    def words(self) -> str:
        """What the window shows, in one line with single blanks, so that it doesn't matter where lines break."""
        return " ".join(self.text.split())

    @property
    def hidden_letters(self) -> str:
        """Letters in the very colour of their ground, which nobody can read; a solid block shows its colour anyway."""
        cells = (cell for row in self._screen.buffer.values() for cell in row.values())
        letters = (cell for cell in cells if cell.data.strip() and cell.data != "█")
        return "".join(cell.data for cell in letters if cell.fg == cell.bg != "default")

    @property
    def on_second_page(self) -> bool:
        """Whether the program draws on the page that is put away when it ends."""
        return self._screen.second_page

    def send(self, keys: bytes) -> None:
        """Presses keys."""
        os.write(self._master, keys)

    def watch(self, seconds: float) -> None:
        """Takes in what the command writes for so long, or until it has closed the terminal."""
        until = time.monotonic() + seconds
        while (left := until - time.monotonic()) > 0:
            if not self._take_in(left):
                time.sleep(min(left, 0.02))

    def wait_for(self, holds: Callable[[Terminal], bool], timeout: float = WAIT_S, what: str = "") -> None:
        """Takes in what the command writes until the screen is as wanted.

        Raises:
            AssertionError: with the screen, if it isn't within `timeout` seconds.
        """
        until = time.monotonic() + timeout
        while not holds(self):
            if time.monotonic() > until:
                ended = self.process.poll()
                state = "runs" if ended is None else f"has ended with {ended}"
                raise AssertionError(
                    f"after {timeout} s still not so: {what or 'the condition'}; the command {state}; "
                    f"the screen:\n{self.text}"
                )
            self.watch(0.02)

    def wait_for_text(self, words: str, timeout: float = WAIT_S) -> None:
        """Waits until `words` stand on the screen, wherever lines break."""
        self.wait_for(lambda terminal: words in terminal.words, timeout, f"“{words}” on the screen")

    def wait_for_end(self, timeout: float = WAIT_S) -> int:
        """Waits until the command has ended and all that it wrote is on the screen; returns its exit code.

        Raises:
            AssertionError: it still runs after `timeout` seconds.
        """
        self.wait_for(lambda terminal: terminal.process.poll() is not None, timeout, "the command has ended")
        self._drain()
        return self.process.wait()

    def resize(self, columns: int, rows: int) -> None:
        """Makes the window larger or smaller; the system tells the command (SIGWINCH)."""
        self._drain()
        self._screen.resize(rows, columns)
        self._screen.erase_in_display(2)
        self._set_size(columns, rows)

    def kill(self, how: signal.Signals = signal.SIGKILL) -> int:
        """Sends the command a signal that it can't survive, and waits for its end; returns the exit code."""
        self.process.send_signal(how)
        return self.wait_for_end()

    def close_window(self) -> int:
        """Closes the window under the command, as a person does, and waits for its end; returns the exit code."""
        self._let_go()
        return self.process.wait(WAIT_S)

    def close(self) -> None:
        """Ends the command if it still runs, and lets go of the terminal."""
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait(WAIT_S)
        self._let_go()

    def _let_go(self) -> None:
        if self._master >= 0:
            os.close(self._master)
            self._master = -1

    def _set_size(self, columns: int, rows: int) -> None:
        fcntl.ioctl(self._master, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))

    def _drain(self) -> None:
        while self._take_in(0.0):
            pass

    def _take_in(self, seconds: float) -> bool:
        """Takes in what comes within `seconds`; returns whether anything came."""
        ready, _, _ = select.select([self._master], [], [], seconds)
        if not ready:
            return False
        try:
            data = os.read(self._master, 65536)
        except OSError:  # how Linux says that nobody has the terminal open any more
            return False
        self.output += data
        self._stream.feed(data)
        self._answer()
        return bool(data)

    def _answer(self) -> None:
        for asked, answer in ANSWERS.items():
            at = self.output.find(asked, self._answered)
            if at >= 0:
                self.send(answer)
        # A question may be cut in two by the end of what has come so far.
        self._answered = max(self._answered, len(self.output) - max(len(asked) for asked in ANSWERS) + 1)
