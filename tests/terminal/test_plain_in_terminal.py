"""The walk in plain lines in a terminal that only prints: killed, carried on, held down and left."""

from __future__ import annotations

import shlex
import signal
import sys
from pathlib import Path

import pytest
from support.terminal import Terminal
from support.walking import BETWEEN_KEYS_S, GUARD, NAME, Step, Workshop, identity

from coach.trade.reminders import topic_title

DUMB = {"TERM": "dumb"}
KILLED_AFTER = 8
SMALL = f"""\
format = 1
name = "{NAME}"
[[parts]]
label = "side"
boards = 1
width = "57 mm"
thickness = "10 mm"
length = "380 mm"
ends = "A"
joint = "through"
mates_with = "12 mm"
tails = 1
half_pin = "5 mm"
pin = "4 mm"
"""
HEADLINES = {
    "set-fence": "Setting {setting} of 1. Set the fence to {reading}.",
    "check": "Scrap cut. Cut scrap and measure:",
    "cut": "Cut. {board}: end {end}, tail {tail}, {faces} side.",
    "clear": "Clear the waste. {board}, end {end}.",
    "transfer": "Mark the pins. {board}, end {end}.",
    "saw-pin": "Saw the pins. {board}, end {end}.",
    "fit": "Fit the corner. {board}, end {end}.",
}


@pytest.fixture
def workshop(tmp_path: Path) -> Workshop:
    """One board with one tail at one end: two cuts."""
    workshop = Workshop.in_folder(tmp_path)
    workshop.layout.write_text(SMALL, encoding="utf-8")
    return workshop


def headline(step: Step) -> str:
    """How a step, as `coach plan --json` tells it, begins when it is said."""
    if step["kind"] == "prepare":
        return f"Prepare. {topic_title(step['topic'])}."
    return HEADLINES[step["kind"]].format(**step)


def heard(terminal: Terminal) -> str:
    """All that has been written to the terminal."""
    return terminal.output.decode().replace("\r\n", "\n")


def listen(terminal: Terminal, words: str, times: int = 1) -> None:
    """Waits until something has been said so many times."""
    terminal.wait_for(lambda _: heard(terminal).count(words) >= times, what=f"“{words}” said {times} times")


def enter_through(terminal: Terminal, steps: list[Step]) -> None:
    """Completes steps one by one, each with an Enter once it has been said."""
    for step in steps:
        listen(terminal, headline(step))
        terminal.watch(BETWEEN_KEYS_S)
        terminal.send(b"\r")


def plain(terminal: Terminal) -> bool:
    """Whether nothing but printable signs and line ends has been written, in lines of at most 78 columns."""
    said = heard(terminal)
    return said.replace("\n", "").isprintable() and max(map(len, said.splitlines())) <= 78


def test_a_whole_batch_on_a_terminal_that_only_prints_with_a_kill_in_its_middle(workshop: Workshop) -> None:
    plan = workshop.plan()
    with workshop.terminal(*workshop.run_arguments(), "--plain", *GUARD, surroundings=DUMB) as terminal:
        enter_through(terminal, plan[:KILLED_AFTER])
        listen(terminal, headline(plan[KILLED_AFTER]))
        assert terminal.kill() == -signal.SIGKILL
        assert plain(terminal)
    assert [identity(step) for step in workshop.steps_done()] == [identity(step) for step in plan[:KILLED_AFTER]]
    with workshop.terminal(*workshop.carry_on_arguments(), "--plain", *GUARD, surroundings=DUMB) as terminal:
        enter_through(terminal, plan[KILLED_AFTER:])
        listen(terminal, "The batch is done.")
        terminal.send(b"q\r")
        assert terminal.wait_for_end() == 0
        assert plain(terminal)
        assert heard(terminal).endswith(f"{NAME}: 2 of 2 cuts are done, and all of it is saved.\n")
    assert [identity(step) for step in workshop.steps_done()] == [identity(step) for step in plan]


def test_twenty_enters_at_once_complete_one_step(workshop: Workshop) -> None:
    with workshop.terminal(*workshop.run_arguments(), "--plain", *GUARD, keys=b"\r" * 20) as terminal:
        listen(terminal, "Prepare. The saw, its table and its fence.")
        terminal.watch(BETWEEN_KEYS_S)
        terminal.send(b"\r" * 20 + b"h\r")
        listen(terminal, "A good cut:")
        assert heard(terminal).count("Not counted") == 2
    assert len(workshop.steps_done()) == 1


@pytest.mark.parametrize("how", [b"\x03", b"\x04"], ids=["ctrl+c", "ctrl+d"])
def test_ctrl_c_and_ctrl_d_leave_with_the_farewell(workshop: Workshop, how: bytes) -> None:
    with workshop.terminal(*workshop.run_arguments(), "--plain") as terminal:
        listen(terminal, "cuts done.")
        terminal.send(how)
        assert terminal.wait_for_end() == 0
        carry_on = heard(terminal).rpartition("Carry on with:\n")[2]
        again = ["run", "--batch", NAME, "--data", str(workshop.data), "--shop", str(workshop.shop), "--plain"]
        assert shlex.split(carry_on) == [sys.executable, "-m", "coach", *again]


def test_with_an_encoding_of_ascii_nothing_else_is_written(workshop: Workshop) -> None:
    said = workshop.terminal(*workshop.run_arguments(), "--plain", surroundings={"PYTHONIOENCODING": "ascii"})
    with said as terminal:
        for key in (b"x\r", b"h\r", b"q\r"):
            terminal.send(key)
        assert terminal.wait_for_end() == 0
        assert terminal.output.isascii()
        assert b'Found "x"; expected' in terminal.output
