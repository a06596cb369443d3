"""Decides whether a key press is a person's answer to what is on the screen, or a held, stray or early key."""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum

REPEAT_S = 0.25
"""Keys that follow each other faster than this are a held key: a person doesn't act so fast, a repeat does."""

ASKED_S = 10.0
"""How long a second press confirms what the first one asked."""
BELL_S = 1.0
"""The bell rings no sooner than this after it has rung: a held key mustn't sound like an alarm."""


class Verdict(Enum):
    """What a key press is taken for."""

    MEANT = "meant"
    EARLY = "early"
    HELD = "held"


class KeyGuard:
    """Lets a key count once the step has been on the screen for a while, and a held key count once.

    Args:
        wait_s: how long a step must have been on the screen, in seconds.
        clock: seconds, from anywhere.
    """

    def __init__(self, wait_s: float, clock: Callable[[], float]) -> None:
        self._wait_s = wait_s
        self._clock = clock
        self._shown_at: float | None = None
        self._last_key: float | None = None

    def hidden(self) -> None:
        """What is on the screen is out of date; no key counts until `shown`."""
        self._shown_at = None

    def shown(self) -> None:
        """The step has just been painted."""
        self._shown_at = self._clock()

    def judge(self, waits: float = 1.0) -> Verdict:
        """What to take a key for that was pressed just now.

        Args:
            waits: how many times the wait the step must have been on the screen; more where a key does more.
        """
        now = self._clock()
        held = self._last_key is not None and now - self._last_key < REPEAT_S
        self._last_key = now
        if held:
            return Verdict.HELD
        if self._shown_at is None or now - self._shown_at < waits * self._wait_s:
            return Verdict.EARLY
        return Verdict.MEANT


class Twice:
    """Asks for a second press where one key does much."""

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._asked_at: float | None = None

    @property
    def asked(self) -> bool:
        """Whether a second press is awaited."""
        return self._asked_at is not None

    def forget(self) -> None:
        """Something else has happened: the next press asks anew."""
        self._asked_at = None

    def confirmed(self) -> bool:
        """Whether this press is the second one, in time; else it is the first, and the second is awaited."""
        now, asked_at = self._clock(), self._asked_at
        second = asked_at is not None and now - asked_at <= ASKED_S
        self._asked_at = None if second else now
        return second


class Bell:
    """Rings the terminal's bell where the person wants one, but not over and over."""

    def __init__(self, ring: Callable[[], None], clock: Callable[[], float], *, wanted: bool) -> None:
        self._ring = ring
        self._clock = clock
        self._wanted = wanted
        self._rung_at: float | None = None

    def ring(self) -> None:
        """Rings, unless it has just rung."""
        now = self._clock()
        if self._wanted and (self._rung_at is None or now - self._rung_at >= BELL_S):
            self._rung_at = now
            self._ring()
