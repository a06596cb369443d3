"""The walk in plain lines, typed and heard in memory, with a clock that moves only between lines."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol, TextIO, cast

from support.small_batches import Clock

from coach.plain.lines import Lines
from coach.plain.walk import PlainWalk
from coach.record.batch.session import Session
from coach.record.disk.store import Store
from coach.talk.context import Context

Typed = str | tuple[float, str]
"""A line, or a line with the seconds that pass before it comes; one second where nothing is said."""


class Source(Protocol):
    """Where lines come from, and how late it is there."""

    seconds: float

    def readline(self, size: int) -> str:
        """The next line with its end, or nothing at all."""


class Hand:
    """A person's hand: each line comes some seconds after what was said before it."""

    def __init__(self, lines: Iterable[Typed]) -> None:
        self.seconds = 100.0
        self._lines = [(1.0, line) if isinstance(line, str) else line for line in lines]

    def readline(self, size: int) -> str:  # noqa: ARG002 - as a stream is read
        """The next line, once its time has come."""
        if not self._lines:
            return ""
        passed, line = self._lines.pop(0)
        self.seconds += passed
        return f"{line}\n"


@dataclass(frozen=True)
class Heard:
    """What was said from start to end, and whether all was recorded."""

    text: str
    recorded: bool

    @property
    def lines(self) -> list[str]:
        """Line by line."""
        return self.text.splitlines()

    @property
    def words(self) -> str:
        """In one line, however it was broken."""
        return " ".join(self.text.split())

    @property
    def steps(self) -> list[str]:
        """What stands between empty lines: each step with what was said after it, without start and farewell."""
        return self.text.split("\n\n")[1:-1]

    @property
    def farewell(self) -> str:
        """What was said last."""
        return self.text.split("\n\n")[-1]


def heard(
    store: Store,
    session: Session,
    typed: Sequence[Typed] | Source,
    *,
    guarded: bool = False,
    guard_s: float | None = 0.5,
    plain: bool = False,
    clock: Clock | None = None,
    advice: Sequence[str] = (),
) -> Heard:
    """Walks through `session` with these lines, or with whatever else has them, until they end."""
    source = Hand(typed) if isinstance(typed, Sequence) else typed
    target = io.StringIO()
    context = Context(store, guard_s=guard_s, clock=lambda: source.seconds, now=clock or Clock())
    walk = PlainWalk(context, session, Lines(cast(TextIO, source), target, plain=plain), guarded=guarded)
    recorded = walk.run(advice)
    return Heard(target.getvalue(), recorded)
