"""A terminal that sends what is no text, changes its size all the time, vanishes, or is taken away by a signal."""

from __future__ import annotations

import os
import signal
import sys
import time
from pathlib import Path

import pytest
from support.terminal import Terminal
from support.walking import GUARD, Workshop, identity, press_through, wait_for_step

FIRST_CUT = 8


@pytest.fixture
def workshop(tmp_path: Path) -> Workshop:
    return Workshop.in_folder(tmp_path)


def processor_s(process: int) -> float:
    """The processor's time that a process has taken so far, in seconds, as Linux counts it."""
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


linux_only = pytest.mark.skipif(sys.platform != "linux", reason="it is seen in /proc")


@linux_only
def test_a_window_resized_under_a_dialog_comes_to_rest(workshop: Workshop) -> None:
    workshop.begin(FIRST_CUT)
    with workshop.terminal(*workshop.carry_on_arguments(), *GUARD) as terminal:
        wait_for_step(terminal, workshop.plan()[FIRST_CUT])
        time.sleep(0.3)
        terminal.send(b"c")
        terminal.wait_for_text("What is to change?")
        for number in range(90):
            terminal.resize(100 - number % 13, 40 - number % 7)
            terminal.watch(0.016)
        terminal.resize(100, 40)
        terminal.watch(1.5)
        before = processor_s(terminal.process.pid)
        terminal.watch(1.5)
        assert processor_s(terminal.process.pid) - before < 0.5
        terminal.send(b"\x03")
        assert terminal.wait_for_end() == 0


NOISE = {
    "a Latin-1 letter": b"\xe4",
    "line noise": bytes(range(0x80, 0x100)),
    "half a character": b"\xf0\x9f",
    "a key that is let go": b"\x1b[97;1:3u",
    "enter that is let go": b"\x1b[13;1:3u",
    "a number beyond all characters": b"\x1b[1114112u",
    "a number beyond all numbers": b"\x1b[999999999999u",
    "text beyond all characters": b"\x1b[97;1;1114112u",
    "a window that nobody has": b"\x1b[48;99999;99999;1;1t",
    "a mouse that is nowhere": b"\x1b[<0;99999;-5M\x1b[<35;0;0M",
    "a report cut short": b"\x1b[<35;1",
    "no bytes to speak of": b"\x00\x00\x00",
    "focus lost and found": b"\x1b[O\x1b[I",
}


def test_what_is_no_key_is_swallowed_and_the_walk_goes_on(workshop: Workshop) -> None:
    workshop.begin(FIRST_CUT)
    plan = workshop.plan()
    with workshop.terminal(*workshop.carry_on_arguments(), *GUARD) as terminal:
        wait_for_step(terminal, plan[FIRST_CUT])
        for what, noise in NOISE.items():
            terminal.send(noise)
            terminal.watch(0.3)
            assert terminal.process.poll() is None, what
            assert len(workshop.steps_done()) == FIRST_CUT, what
        terminal.watch(1.2)
        press_through(terminal, plan[FIRST_CUT : FIRST_CUT + 3], plan[FIRST_CUT + 3])
        terminal.send(b"q")
        assert terminal.wait_for_end() == 0
        assert "Traceback" not in terminal.text
    assert [identity(step) for step in workshop.steps_done()] == [identity(step) for step in plan[: FIRST_CUT + 3]]


def test_a_paste_of_a_megabyte_does_nothing(workshop: Workshop) -> None:
    workshop.begin(FIRST_CUT)
    plan = workshop.plan()
    with workshop.terminal(*workshop.carry_on_arguments(), *GUARD) as terminal:
        wait_for_step(terminal, plan[FIRST_CUT])
        for part in (b"\x1b[200~", *[b" \r" * 500] * 200, b"\x1b[201~"):
            terminal.send(part)
            terminal.watch(0.001)
        terminal.watch(1.0)
        assert len(workshop.steps_done()) == FIRST_CUT
        press_through(terminal, plan[FIRST_CUT : FIRST_CUT + 1], plan[FIRST_CUT + 1])


@pytest.mark.parametrize(("columns", "rows"), [(1, 1), (2, 2), (10, 3), (500, 200)])
def test_windows_of_any_size_are_survived(workshop: Workshop, columns: int, rows: int) -> None:
    workshop.begin(FIRST_CUT)
    plan = workshop.plan()
    with workshop.terminal(*workshop.carry_on_arguments(), *GUARD) as terminal:
        wait_for_step(terminal, plan[FIRST_CUT])
        terminal.resize(columns, rows)
        terminal.watch(0.5)
        terminal.send(b"c")
        terminal.watch(0.5)
        terminal.resize(100, 40)
        terminal.watch(0.5)
        terminal.send(b"\x1b")
        terminal.watch(0.5)
        press_through(terminal, plan[FIRST_CUT : FIRST_CUT + 1], plan[FIRST_CUT + 1])


def closed_while_hangups_are_ignored(workshop: Workshop, *more: str) -> float:
    """Closes the window under a walk that ignores SIGHUP; returns how long that took to end."""
    command = workshop.command(*workshop.carry_on_arguments(), *more)
    ignoring = "import os, signal, sys; signal.signal(signal.SIGHUP, signal.SIG_IGN); "
    ignoring += "os.execv(sys.argv[1], sys.argv[1:])"
    arguments = [sys.executable, "-c", ignoring, *command]
    with Terminal(arguments, env=workshop.environment(), cwd=workshop.home) as terminal:
        terminal.wait_for_text("side 1")
        begun = time.monotonic()
        terminal.close_window()
        return time.monotonic() - begun


@pytest.mark.parametrize("form", [(), ("--plain",)], ids=["on the screen", "in lines"])
def test_a_window_that_is_closed_ends_the_walk_whatever_was_said_of_hangups(
    workshop: Workshop, form: tuple[str, ...]
) -> None:
    workshop.begin(FIRST_CUT)
    assert closed_while_hangups_are_ignored(workshop, *form) < 6
    with workshop.terminal(*workshop.carry_on_arguments()) as terminal:
        wait_for_step(terminal, workshop.plan()[FIRST_CUT])


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT], ids=lambda how: how.name)
@pytest.mark.parametrize("dialog", [False, True], ids=["in the walk", "in a dialog"])
def test_after_a_signal_the_terminal_is_as_it_was_found(workshop: Workshop, how: signal.Signals, dialog: bool) -> None:
    workshop.begin(FIRST_CUT)
    with workshop.terminal(*workshop.carry_on_arguments(), *GUARD) as terminal:
        wait_for_step(terminal, workshop.plan()[FIRST_CUT])
        assert terminal.on_second_page
        assert terminal.attributes() != terminal.attributes_found
        if dialog:
            time.sleep(0.3)
            terminal.send(b"c")
            terminal.wait_for_text("What is to change?")
        assert terminal.kill(how) == 128 + how
        assert not terminal.on_second_page
        assert terminal.attributes() == terminal.attributes_found
        for mode in (b"\x1b[?1049", b"\x1b[?1000", b"\x1b[?1003", b"\x1b[?1006", b"\x1b[?2004", b"\x1b[?1004"):
            assert terminal.output.rfind(mode + b"l") > terminal.output.rfind(mode + b"h"), mode
        assert terminal.output.rfind(b"\x1b[?25h") > terminal.output.rfind(b"\x1b[?25l")
        assert terminal.output.rfind(b"\x1b[<u") > terminal.output.rfind(b"\x1b[>")
        assert "Traceback" not in terminal.text
