"""A batch walked through with keys at random and killed at random moments; whatever the screen said must be on disk.

Nothing here asks coach what it thinks: what the window shows is read as a person reads it, and is compared with the
events that lie on disk after the kill.
"""

from __future__ import annotations

import random
import shutil
import signal
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from support.seen_and_kept import STEPS, Event, Seen, State, events_on_disk, standing
from support.terminal import WAIT_S, Terminal
from support.walking import BETWEEN_KEYS_S, GUARD, NAME, Step, Workshop, identity, wait_for_step

DONE_KEYS = (b" ", b"\r", b"\x1b[C", b"\x1b[6~")
UNDO_KEYS = (b"u", b"\x7f")
QUIET_S, PATIENCE_S = 0.04, 2.0
COMMIT_MS = 20.0
"""A kill that is meant for a key's own commit comes within so long after the key."""


@dataclass
class Figures:
    """What came of many rounds.

    Attributes:
        kills: rounds that ended with a kill; the others were left with a key.
        steps: on disk at the end of each round, more than before it.
        cuts: of these, the cuts that the screen had acknowledged.
        seen: how often the screen was read.
        one_more: kills after which the disk held one step that the screen had not yet shown.
        torn: kills in the middle of painting, so that one line says more than another.
        batches: that were begun.
        losses: what was acknowledged and is not on disk, in words.
    """

    rounds: int = 0
    kills: int = 0
    steps: int = 0
    cuts: int = 0
    undone: int = 0
    seen: int = 0
    one_more: int = 0
    torn: int = 0
    batches: int = 0
    losses: list[str] = field(default_factory=list)

    def __str__(self) -> str:
        lost = "\n".join(self.losses) or "none"
        return (
            f"{self.rounds} rounds, {self.kills} kills, {self.batches} batches; the screen was read {self.seen} times\n"
            f"{self.cuts} cuts acknowledged, {self.steps} steps and {self.undone} undos on disk\n"
            f"{self.one_more} kills left one step that wasn't on the screen yet; {self.torn} in the middle of a paint\n"
            f"acknowledged and lost: {lost}"
        )


class Torture:
    """Rounds with one workshop: opened, walked through with keys at random, killed or left, looked at.

    Args:
        workshop: with its files, and no record yet.
        seed: makes keys and moments the same again, as far as the machine's speed allows.
        longest_s: a round's keys go on no longer.
    """

    def __init__(self, workshop: Workshop, seed: int, longest_s: float = 5.0) -> None:
        self.workshop = workshop
        self.figures = Figures()
        self._random = random.Random(seed)  # noqa: S311 - it has to be the same again
        self._longest_s = longest_s
        self._plan = workshop.plan()
        self._number = 0
        self._events: list[Event] = []
        self._next_batch()

    def run(self, rounds: int, told: Callable[[Figures], None] = lambda _: None) -> Figures:
        """So many rounds; `told` hears of the figures after each.

        Raises:
            AssertionError: a batch doesn't go on where the disk says, or the disk holds what was never done.
        """
        for _ in range(rounds):
            self._round()
            told(self.figures)
        return self.figures

    def _next_batch(self) -> None:
        self._number += 1
        self._name = NAME if self._number == 1 else f"{NAME} {self._number}"
        self._events = []
        self.figures.batches += 1

    def _round(self) -> None:
        self.figures.rounds += 1
        if self._random.random() < 0.4:  # so that there is a backup to be made, which a kill may come upon
            shutil.rmtree(self.workshop.data / "backups", ignore_errors=True)
        sightings: list[Seen] = []
        with self._opened() as terminal:
            killed = self._walk(terminal, sightings)
            last = Seen.on(terminal) if killed else None
        self._look_at_disk(sightings, last)

    def _opened(self) -> Terminal:
        """Coach with the batch, opened in one way or another; it may be killed before anything is on the screen."""
        data, shop = ("--data", str(self.workshop.data)), ("--shop", str(self.workshop.shop))
        begun = bool(self._events)
        way = self._random.choice(("layout", "name", "home")) if begun else "layout"
        if way == "layout":
            return self.workshop.terminal(*self.workshop.run_arguments(), *GUARD)
        if way == "name":
            return self.workshop.terminal("run", "--batch", self._name, *data, *GUARD)
        return self.workshop.terminal(*data, *shop, *GUARD)

    def _walk(self, terminal: Terminal, sightings: list[Seen]) -> bool:
        """Presses keys until a kill or until the batch is left; returns whether it was killed."""
        if self._random.random() < 0.1:
            terminal.watch(self._random.uniform(0.0, 1.0))  # into the start
            terminal.kill()
            self.figures.kills += 1
            return True
        self._reach_step(terminal)
        until = time.monotonic() + self._random.uniform(0.2, self._longest_s)
        while time.monotonic() < until and "The batch is done." not in terminal.text:
            for key in self._keys():
                self._settle(terminal, sightings)
                if terminal.process.poll() is not None:  # a q on the home screen
                    assert terminal.wait_for_end() == 0
                    return False
                if key == b"q" and self._random.random() < 0.5:
                    return self._left(terminal)
                terminal.send(key)
                if time.monotonic() >= until:
                    break
                terminal.watch(min(self._random.uniform(0.0, 0.1) + BETWEEN_KEYS_S, max(0.0, until - time.monotonic())))
        if self._random.random() < 0.6:
            self._settle(terminal, sightings)
            terminal.send(self._random.choice(DONE_KEYS))
            time.sleep(self._random.uniform(0.0, COMMIT_MS) / 1000)
        how = terminal.kill()
        assert how in (-signal.SIGKILL, 0), f"it ended with {how}"
        self.figures.kills += how != 0
        return True

    def _reach_step(self, terminal: Terminal) -> None:
        """Waits for the step to do now, which must be the one after those on disk."""
        terminal.wait_for(
            lambda seen: "space done" in seen.words or "mark several" in seen.words, what="the walk or home is shown"
        )
        if "mark several" in terminal.words:
            terminal.send(b"\r")
        wait_for_step(terminal, self._plan[len(standing(self._events))])

    def _keys(self) -> tuple[bytes, ...]:
        """What is pressed next, one after the other."""
        done = self._random.choice(DONE_KEYS)
        return self._random.choices(
            (
                (done,),
                (self._random.choice(UNDO_KEYS),),
                (b"l", b"\x1b"),
                (b"?", b"\x1b"),
                (b"m", b"\x1b"),
                (done * 5,),
                (b"q",),
            ),
            weights=(70, 11, 4, 4, 4, 4, 3),
        )[0]

    def _left(self, terminal: Terminal) -> bool:
        """Leaves with q, from the home screen once more; returns that nothing was killed."""
        until = time.monotonic() + WAIT_S
        while terminal.process.poll() is None and time.monotonic() < until:
            terminal.send(b"q")
            terminal.watch(BETWEEN_KEYS_S)
        assert terminal.wait_for_end() == 0
        return False

    def _settle(self, terminal: Terminal, sightings: list[Seen]) -> None:
        """Takes in what comes until nothing does for a moment, then reads the screen."""
        until = time.monotonic() + PATIENCE_S
        before = -1
        while before != len(terminal.output) and time.monotonic() < until:
            before = len(terminal.output)
            terminal.watch(QUIET_S)
        seen = Seen.on(terminal)
        if seen is not None and before == len(terminal.output):
            sightings.append(seen)
            self.figures.seen += 1

    def _look_at_disk(self, sightings: Sequence[Seen], last: Seen | None) -> None:
        """Compares what was seen with what lies on disk, without touching it."""
        events = events_on_disk(self.workshop.data, self._name)
        before = len(self._events)
        assert events[:before] == self._events, "an event from before this round is gone or changed"
        states = [State(tuple(standing(events[:count]))) for count in range(len(events) + 1)]
        for state in states:
            assert _identities(state.steps) == _identities(self._plan[: len(state.steps)]), "steps out of their order"
        at = before
        for seen in sightings:
            fits = [count for count in range(at, len(states)) if states[count].fits(seen)]
            if not fits:
                self.figures.losses.append(f"round {self.figures.rounds}: the screen said {seen}")
                continue
            at = fits[0]
        newest = len(events)
        if last is not None:
            self.figures.seen += 1
            fits = [count for count in range(at, len(states)) if states[count].fits(last)]
            if fits:
                at = fits[-1]
            elif all(any(state.fits(part) for state in states[at:]) for part in last.parts()):
                self.figures.torn += 1
            else:
                self.figures.losses.append(f"round {self.figures.rounds}: when killed, the screen said {last}")
        while at < newest and events[at]["kind"] not in STEPS and events[at]["kind"] != "undo":
            at += 1  # how the batch began is no step
        self.figures.one_more += newest - at == 1
        if sightings:
            assert newest - at <= 1, f"on disk, but never on the screen: {events[at:]}; last seen: {sightings[-3:]}"
        self._count(events, at)
        self._events = events
        if states[-1].steps and len(states[-1].steps) == len(self._plan):
            self._next_batch()

    def _count(self, events: Sequence[Event], acknowledged: int) -> None:
        new = events[len(self._events) :]
        self.figures.steps += sum(event["kind"] in STEPS for event in new)
        self.figures.undone += sum(event["kind"] == "undo" for event in new)
        self.figures.cuts += sum(event["kind"] == "cut" for event in events[len(self._events) : acknowledged])


def _identities(steps: Sequence[Step]) -> list[tuple[Any, ...]]:
    """What steps are, alike in plan and record, where settings are counted from 0."""
    return [
        identity({**step, "setting": step["setting"] + 1} if "event" in step and "setting" in step else step)
        for step in steps
    ]
