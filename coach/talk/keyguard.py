"""Decides whether a key press is a person's answer to what is on the screen, or a held, stray or early key."""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum

REPEAT_S = 0.25
"""Keys that follow each other faster than this are a held key: a person doesn't act so fast, a repeat does."""

TYPED_WAITS = 3.0
"""For how many waits (`KeyGuard`) after a printable key space and enter don't count: whoever types words where nothing
asks for them sends a space between them and enter at their end."""

ASKED_S = 10.0
"""How long a second press confirms what the first one asked."""
BELL_S = 1.0
"""The bell rings no sooner than this after it has rung: a held key mustn't sound like an alarm."""


class Verdict(Enum):
    """What a key press is taken for."""

    MEANT = "meant"
    EARLY = "early"
    HELD = "held"
    TYPED = "typed"


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
        self._typed_at: float | None = None
        self._character: tuple[str, float] | None = None

    def typed(self, character: str, *, acts: bool) -> None:
        """A printable key was pressed that doesn't complete a step.

        One that acts by itself is no word; one that follows another right away is, whatever it does.

        Args:
            acts: whether it does something here.
        """
        now = self._clock()
        before, self._character = self._character, (character, now)
        follows = before is not None and before[0] != character and now - before[1] < TYPED_WAITS * self._wait_s
        if follows or not acts:
            self._typed_at = now

    def hidden(self) -> None:
        """What is on the screen is out of date; no key counts until `shown`."""
        self._shown_at = None

    def shown(self) -> None:
        """The step has just been painted."""
        self._shown_at = self._clock()

    def judge(self, waits: float = 1.0, *, in_words: bool = False) -> Verdict:
        """What to take a key for that was pressed just now.

        Args:
            waits: how many times the wait the step must have been on the screen; more where a key does more.
            in_words: whether the key is one that whoever types words sends as well, space or enter.
        """
        now = self._clock()
        if in_words and self._typed_at is not None and now - self._typed_at < TYPED_WAITS * self._wait_s:
            self._typed_at = self._last_key = now  # the words may go on
            return Verdict.TYPED
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
