"""Decides whether a key press is a person's answer to the step on the screen, or a held, stray or early key."""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum

REPEAT_S = 0.25
"""Keys that follow each other faster than this are a held key: a person doesn't act so fast, a repeat does."""


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

    def judge(self) -> Verdict:
        """What to take a key for that was pressed just now."""
        now = self._clock()
        held = self._last_key is not None and now - self._last_key < REPEAT_S
        self._last_key = now
        if held:
            return Verdict.HELD
        if self._shown_at is None or now - self._shown_at < self._wait_s:
            return Verdict.EARLY
        return Verdict.MEANT
