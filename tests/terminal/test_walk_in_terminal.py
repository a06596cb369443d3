"""The walk in a real terminal: killed, closed, pressed too often and too early, taken back and left."""

from __future__ import annotations

import shlex
import signal
import sys
import time
from pathlib import Path

import pytest
from support.terminal import Terminal
from support.walking import (
    BETWEEN_KEYS_S,
    GUARD,
    NAME,
    Step,
    Workshop,
    identity,
    press_through,
    wait_for_step,
)

STEP_38 = 37
FIRST_CUT = 8
HELD_EVERY_S, HELD_FIRST_S, HELD_FOR_S, LET_GO_S = 0.03, 0.4, 2.0, 0.2


@pytest.fixture
def workshop(tmp_path: Path) -> Workshop:
    return Workshop.in_folder(tmp_path)


def test_after_37_steps_and_a_kill_step_38_is_on_the_screen(workshop: Workshop) -> None:
    plan = workshop.plan()
    with workshop.terminal(*workshop.run_arguments(), *GUARD) as terminal:
        press_through(terminal, plan[:STEP_38], plan[STEP_38])
        assert terminal.kill() == -signal.SIGKILL
    with workshop.terminal(*workshop.carry_on_arguments()) as terminal:
        wait_for_step(terminal, plan[STEP_38])
    assert plan[STEP_38]["step"] == 38
    assert [identity(step) for step in workshop.steps_done()] == [identity(step) for step in plan[:STEP_38]]


@pytest.mark.parametrize("how", ["hung up", "told to end", "window closed"])
def test_a_closed_window_loses_no_acknowledged_step(workshop: Workshop, how: str) -> None:
    plan = workshop.plan()
    workshop.begin(25)
    with workshop.terminal(*workshop.carry_on_arguments(), *GUARD) as terminal:
        press_through(terminal, plan[25:30], plan[30])
        if how == "hung up":
            terminal.kill(signal.SIGHUP)
        elif how == "told to end":
            terminal.kill(signal.SIGTERM)
        else:
            terminal.close_window()
    with workshop.terminal(*workshop.carry_on_arguments()) as terminal:
        wait_for_step(terminal, plan[30])
    assert [identity(step) for step in workshop.steps_done()] == [identity(step) for step in plan[:30]]


@pytest.mark.parametrize("after_ms", [0, 2, 5, 10])
def test_a_kill_right_after_a_key_leaves_that_step_done_or_not_done_and_the_screen_says_which(
    workshop: Workshop, after_ms: int
) -> None:
    plan = workshop.plan()
    workshop.begin(12)
    with workshop.terminal(*workshop.carry_on_arguments(), *GUARD) as terminal:
        wait_for_step(terminal, plan[12])
        terminal.watch(BETWEEN_KEYS_S)
        terminal.send(b" ")
        time.sleep(after_ms / 1000)
        terminal.kill()
    done = workshop.steps_done()
    assert len(done) in (12, 13)
    assert [identity(step) for step in done] == [identity(step) for step in plan[: len(done)]]
    with workshop.terminal(*workshop.carry_on_arguments()) as terminal:
        wait_for_step(terminal, plan[len(done)])


def test_a_burst_of_50_spaces_completes_one_step(workshop: Workshop) -> None:
    plan = workshop.plan()
    workshop.begin(FIRST_CUT)
    with workshop.terminal(*workshop.carry_on_arguments(), *GUARD) as terminal:
        wait_for_step(terminal, plan[FIRST_CUT])
        terminal.watch(BETWEEN_KEYS_S)
        terminal.send(b" " * 50)
        wait_for_step(terminal, plan[FIRST_CUT + 1])
        wait_until_all_keys_are_taken(terminal)
    assert len(workshop.steps_done()) == FIRST_CUT + 1


def test_a_key_held_down_for_two_seconds_completes_two_steps_at_most(workshop: Workshop) -> None:
    plan = workshop.plan()
    workshop.begin(FIRST_CUT)
    with workshop.terminal(*workshop.carry_on_arguments(), *GUARD) as terminal:
        wait_for_step(terminal, plan[FIRST_CUT])
        terminal.watch(BETWEEN_KEYS_S)
        let_go = hold_down(terminal, b" ")
        wait_until_all_keys_are_taken(terminal)
    assert FIRST_CUT < len(workshop.steps_done()) <= FIRST_CUT + 2 + let_go


@pytest.mark.parametrize("key", [b" ", b"\r"], ids=["space", "enter"])
def test_keys_pressed_before_the_first_paint_complete_nothing(workshop: Workshop, key: bytes) -> None:
    plan = workshop.plan()
    with workshop.terminal(*workshop.run_arguments(), keys=key * 20) as terminal:
        while "Next:" not in terminal.words:
            terminal.send(key)
            terminal.watch(0.02)
        wait_for_step(terminal, plan[0])
        wait_until_all_keys_are_taken(terminal)
    assert workshop.steps_done() == []


@pytest.mark.parametrize(
    "key",
    [b" ", b"\r", b"\x1b[C", b"\x1b[6~", b"\x1b[32u"],
    ids=["space", "enter", "right", "page-down", "kitty-space"],
)
def test_each_key_for_done_completes_a_step(workshop: Workshop, key: bytes) -> None:
    plan = workshop.plan()
    workshop.begin(FIRST_CUT)
    with workshop.terminal(*workshop.carry_on_arguments(), *GUARD) as terminal:
        press_through(terminal, plan[FIRST_CUT : FIRST_CUT + 1], plan[FIRST_CUT + 1], key)
    assert len(workshop.steps_done()) == FIRST_CUT + 1


def test_undo_takes_back_the_latest_step_and_leaving_says_how_to_carry_on(workshop: Workshop) -> None:
    plan = workshop.plan()
    workshop.begin(11)
    with workshop.terminal(*workshop.carry_on_arguments(), *GUARD) as terminal:
        press_through(terminal, plan[11:12], plan[12])
        undo_to(terminal, plan[11])
        undo_to(terminal, plan[10])
        terminal.send(b"q")
        assert terminal.wait_for_end() == 0
        assert not terminal.on_second_page
        assert f"{NAME}: 2 of 40 cuts are done" in terminal.words
        assert f"coach run --batch {shlex.quote(NAME)} --data" in unwrapped(terminal)
    assert [identity(step) for step in workshop.steps_done()] == [identity(step) for step in plan[:10]]


def test_the_farewell_s_own_command_carries_the_batch_on(workshop: Workshop) -> None:
    plan = workshop.plan()
    workshop.begin(10)
    with workshop.terminal(*workshop.carry_on_arguments()) as terminal:
        wait_for_step(terminal, plan[10])
        terminal.send(b"q")
        assert terminal.wait_for_end() == 0
        said = unwrapped(terminal)
    command = shlex.split(said[said.index("Carry on with:") + len("Carry on with:") :])
    assert command[:4] == [sys.executable, "-m", "coach", "run"]
    with workshop.terminal(*command[3:]) as terminal:
        wait_for_step(terminal, plan[10])


def unwrapped(terminal: Terminal) -> str:
    """What the window shows, its rows put together as the terminal broke them, in the middle of words too."""
    return "".join(line if len(line) == terminal.columns else f"{line} " for line in terminal.lines)


def undo_to(terminal: Terminal, step: Step) -> None:
    terminal.watch(BETWEEN_KEYS_S)
    terminal.send(b"u")
    wait_for_step(terminal, step)


def wait_until_all_keys_are_taken(terminal: Terminal) -> None:
    """Keys are taken in their order: once the last one, for help, has its answer, so have all before it."""
    terminal.send(b"?")
    terminal.wait_for(lambda seen: "Next:" not in seen.words and "backspace" in seen.words, what="help on the screen")


def hold_down(terminal: Terminal, key: bytes) -> int:
    """Holds a key for two seconds; returns how often the machine stood still so long that it counts as let go."""
    let_go = 0
    terminal.send(key)
    terminal.watch(HELD_FIRST_S)
    last = time.monotonic()
    until = last + HELD_FOR_S
    while last < until:
        terminal.send(key)
        terminal.watch(HELD_EVERY_S)
        moment = time.monotonic()
        let_go += moment - last > LET_GO_S
        last = moment
    return let_go
