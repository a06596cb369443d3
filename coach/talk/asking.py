"""How a conversation asks: dialogs on a screen, or lines that are answered with lines."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Choice:
    """A choice with a letter of its own, which is the same in whatever company it stands.

    Attributes:
        letter: takes it, lower case.
        possible: whether it can be taken now; if not it keeps its place all the same.
    """

    letter: str
    words: str
    possible: bool = True


Choices = Sequence[str | Choice]
"""What is offered; choices that are only words are told apart by their place."""


def words_of(choice: str | Choice) -> str:
    """What a choice says."""
    return choice if isinstance(choice, str) else choice.words


def letter_of(choice: str | Choice) -> str:
    """The letter that takes a choice now; empty if none does."""
    return choice.letter if isinstance(choice, Choice) and choice.possible else ""


class Asker(Protocol):
    """Somewhere a person is asked, one question after another."""

    async def choose(self, question: str, choices: Choices, told: Sequence[str] = ()) -> int | None:
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
