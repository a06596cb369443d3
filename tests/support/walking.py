"""A workshop in a folder of its own, whose batch is walked through in a terminal and looked at from outside."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from support.terminal import Terminal

from coach.loading import load
from coach.record.batch.session import start
from coach.record.disk.store import Store
from coach.record.rows import now
from coach.trade.reminders import topic_title

NAME = "Tool chest, drawers"
LAYOUT = f"""\
format = 1
name = "{NAME}"

[[parts]]
label = "side"
boards = 5
width = "57 mm"
thickness = "10 mm"
length = "380 mm"
ends = "both"
joint = "through"
mates_with = "12 mm"
baseline = "0 mm"
tails = 2
half_pin = "5 mm"
pin = "4 mm"
"""
SHOP = """\
format = 1

[saw]
kerf = "0.9 mm"
column_side = "left"
throat = "345 mm"
backing_out = "stopped"

[[fences]]
side = "right"
min = "0 mm"
max = "300 mm"
front = "200 mm"
scale = "0.5 mm"
zero = "0 mm"

[[jigs]]
name = "one in eight"
slope = "1:8"
leading_width = "80 mm"
leading_end = "wide"
length = "330 mm"
thickness = "9 mm"
"""

GUARD = ("--key-guard", "0.05")
"""A short guard, so that the walk goes on as fast as keys may follow each other."""

BETWEEN_KEYS_S = 0.3
"""Keys that follow each other faster than every 0.25 s are taken for a held key."""

LOST_S = 2.0
BENCH_WORDS = {
    "clear": "clear the waste",
    "transfer": "mark the pins",
    "saw-pin": "saw the pins",
    "fit": "fit the corner",
}
UNSET = ("COACH_", "TEXTUAL", "PYTHON", "LC_", "LANG", "XDG_", "NO_COLOR", "FORCE_COLOR", "COLUMNS", "LINES", "TERM")
Step = Mapping[str, Any]


@dataclass(frozen=True)
class Workshop:
    """A home folder outside of the checkout, with a layout, a shop and a record.

    Attributes:
        home: the folder; commands run in it.
    """

    home: Path

    @classmethod
    def in_folder(cls, home: Path) -> Workshop:
        """A workshop with its files written."""
        workshop = cls(home)
        workshop.layout.write_text(LAYOUT, encoding="utf-8")
        workshop.shop.write_text(SHOP, encoding="utf-8")
        return workshop

    @property
    def layout(self) -> Path:
        """The layout file."""
        return self.home / "drawers.toml"

    @property
    def shop(self) -> Path:
        """The shop file."""
        return self.home / "shop.toml"

    @property
    def data(self) -> Path:
        """The folder of the record."""
        return self.home / "record"

    def command(self, *arguments: str) -> list[str]:
        """The installed coach with these arguments; nothing is imported from the folder that it runs in."""
        return [sys.executable, "-P", "-m", "coach", *arguments]

    def environment(self, surroundings: Mapping[str, str] | None = None) -> dict[str, str]:
        """A plain UTF-8 terminal's environment, with `surroundings` in it."""
        kept = {name: value for name, value in os.environ.items() if not name.startswith(UNSET)}
        plain = {"HOME": str(self.home), "TERM": "xterm-256color", "LANG": "C.UTF-8"}
        return kept | plain | dict(surroundings or {})

    def plain(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        """Runs a command without a terminal."""
        return subprocess.run(
            self.command(*arguments),
            cwd=self.home,
            env=self.environment(),
            stdin=subprocess.DEVNULL,
            capture_output=True,
            encoding="utf-8",
            timeout=15,
            check=False,
        )

    def run_arguments(self) -> tuple[str, ...]:
        """The arguments that start the batch, or carry it on, from its layout file."""
        return ("run", str(self.layout), "--data", str(self.data), "--shop", str(self.shop))

    def carry_on_arguments(self) -> tuple[str, ...]:
        """The arguments that carry the batch on by its name."""
        return ("run", "--batch", NAME, "--data", str(self.data))

    def terminal(
        self,
        *arguments: str,
        columns: int = 100,
        rows: int = 40,
        keys: bytes = b"",
        surroundings: Mapping[str, str] | None = None,
    ) -> Terminal:
        """Runs a command in a terminal, with `surroundings` in its environment."""
        return Terminal(
            self.command(*arguments),
            env=self.environment(surroundings),
            cwd=self.home,
            columns=columns,
            rows=rows,
            keys=keys,
        )

    def plan(self) -> list[Step]:
        """The steps as `coach plan --json` tells them: step n at index n − 1."""
        done = self.plain("plan", str(self.layout), "--shop", str(self.shop), "--json")
        assert done.returncode == 0, done.stderr
        found: dict[str, Any] = json.loads(done.stdout)
        readings = {setting["setting"]: setting["reading"] for setting in found["settings"]}
        return [step | {"reading": readings.get(step.get("setting"))} for step in found["steps"]]

    def steps_done(self) -> list[Step]:
        """The steps that `coach log --json` says are done and not undone, in order."""
        done = self.plain("log", NAME, "--json", "--data", str(self.data))
        assert done.returncode == 0, done.stderr
        events: list[Step] = json.loads(done.stdout)
        return [event for event in events if event.get("undone") is False]

    def begin(self, steps: int, clock: Callable[[], datetime] = now) -> None:
        """Starts the batch and records its first `steps` as done, without a terminal."""
        loaded = load([self.layout], self.shop, None)
        with Store.open(self.data, clock=clock) as store:
            session = start(store, NAME, loaded.job, loaded.settings, loaded.unit)
            for _ in range(steps):
                step = session.next()
                assert step is not None
                session.complete(step)


def shows(terminal: Terminal, step: Step) -> bool:
    """Whether `step`, as `coach plan --json` tells it, is the one to do now on the screen."""
    match step["kind"]:
        case "prepare":
            return _headline(terminal, "prepare") == topic_title(step["topic"])
        case "set-fence":
            return _headline(terminal, f"setting {step['setting']} of 2") == f"Set the fence to {step['reading']}"
        case "check":
            return bool(_headline(terminal, "scrap cut"))
        case "cut":
            side = f"{step['board']}: end {step['end']}, tail {step['tail']}, {step['faces']} side"
            lie = f"End {step['end']} leads, {step['edge'].upper()} edge at the jig, {step['face_up'].upper()} face up"
            return _headline(terminal, "cut") == side and lie in terminal.words
        case "clear" | "transfer" | "saw-pin" | "fit":
            return _headline(terminal, BENCH_WORDS[step["kind"]]) == f"{step['board']}, end {step['end']}"
    raise AssertionError(f"a step of an unknown kind: {step}")


def wait_for_step(terminal: Terminal, step: Step, timeout: float = 15.0) -> None:
    """Waits until `step` is the one to do now on the screen."""
    terminal.wait_for(lambda seen: shows(seen, step), timeout, f"the step to do now is {dict(step)}")


def press_through(terminal: Terminal, steps: Sequence[Step], following: Step, key: bytes = b" ") -> None:
    """Completes `steps` one by one, each with a key once it is on the screen, until `following` is there."""
    for step, after in zip(steps, [*steps[1:], following], strict=True):
        wait_for_step(terminal, step)
        terminal.watch(BETWEEN_KEYS_S)
        press_on(terminal, after, key)


def press_on(terminal: Terminal, following: Step, key: bytes = b" ") -> None:
    """Presses a key until `following` is the step to do now.

    On a machine that stood still for a moment a key may look like an early one, so it is pressed again. Pressed while
    the first is still under way, the second is a held key to the walk and counts for nothing.
    """
    until = time.monotonic() + 15.0
    while not shows(terminal, following):
        assert time.monotonic() < until, f"no key leads to {dict(following)}; the screen:\n{terminal.text}"
        terminal.send(key)
        again = time.monotonic() + LOST_S
        while not shows(terminal, following) and time.monotonic() < again:
            terminal.watch(0.02)


def identity(step: Step) -> tuple[Any, ...]:
    """What a step is, alike in plan and log."""
    keys = ("kind", "topic", "setting", "board", "end", "tail", "faces", "edge", "face_up", "turn")
    return tuple(step.get(key) for key in keys)


def _headline(terminal: Terminal, kind: str) -> str | None:
    """What the headline says after its kind, or None if the step on the screen is of another kind."""
    before = f"  {kind.upper()}  "
    return next((line.removeprefix(before) for line in terminal.lines if line.startswith(before)), None)
