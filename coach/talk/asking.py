"""How a conversation asks: dialogs on a screen, or lines that are answered with lines."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol


class Asker(Protocol):
    """Somewhere a person is asked, one question after another."""

    async def choose(self, question: str, choices: Sequence[str], told: Sequence[str] = ()) -> int | None:
        """Asks for one of `choices`; returns its number, from 0, or None if the person goes back.

        Args:
            told: what there is to know before choosing.
        """

    async def enter(self, question: str, value: str, check: Callable[[str], object]) -> str | None:
        """Asks for words; returns what was typed once `check` takes it, or None if the person goes back.

        Args:
            value: what is offered to be taken as it is; nothing if empty.
            check: raises CoachError, whose words the person reads, if it can't be.
        """
