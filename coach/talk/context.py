"""What the screens share: the record, the clock, what the person has set up, and how to treat the terminal."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from coach.ground.errors import CoachError
from coach.ground.lengths import Unit
from coach.preferences import Preferences, read_preferences, recall
from coach.record.batch.session import Session
from coach.record.disk.store import Store
from coach.record.moments import clock_doubt
from coach.record.rows import now
from coach.talk.pace import PACES, Pace

GUARD_S = 0.5


@dataclass
class Context:
    """Shared by all screens.

    Attributes:
        guard_s: how long a step must have been on the screen before a key may complete it, in seconds, as the command
            line says; None if it doesn't.
        plain: whether the terminal can only show ASCII.
        from_home: whether leaving a batch goes back to the home screen.
        clock: seconds, for the key guard; now: the time of day.
        left_batch: the batch that was left last.
        preferences: the person's own keys, bell and key guard.
        mistakes: what is wrong with the file that sets them up, which then isn't used.
        theme: the name of the theme that was chosen last; empty if none was.
        pace: how much one key completes.
        options: what the command line says of record and shop, to be said again when the batch is carried on.
        clock_told: whether the person has been told that the computer's clock is wrong.
    """

    store: Store
    shop: Path | None = None
    units: Unit | None = None
    guard_s: float | None = None
    plain: bool = False
    from_home: bool = False
    clock: Callable[[], float] = time.monotonic
    now: Callable[[], datetime] = now
    left_batch: Session | None = field(default=None)
    preferences: Preferences = field(default_factory=Preferences)
    mistakes: tuple[str, ...] = ()
    theme: str = ""
    pace: Pace = Pace.STEP
    options: tuple[str, ...] = ()
    clock_told: bool = False

    def set_up(self) -> None:
        """Reads what the person has set up and what was remembered; a file with mistakes is never a reason to stop."""
        try:
            self.preferences = read_preferences()
        except CoachError as error:
            self.mistakes = error.problems
        remembered = recall()
        self.theme = remembered.theme
        self.pace = Pace(remembered.pace) if remembered.pace in PACES else Pace.STEP

    @property
    def wait_s(self) -> float:
        """How long a step must have been on the screen, in seconds: the command line's word comes first."""
        if self.guard_s is not None:
            return self.guard_s
        return GUARD_S if self.preferences.key_guard_s is None else self.preferences.key_guard_s

    def left(self, session: Session) -> None:
        """Remembers the batch that was left, for the words of farewell."""
        self.left_batch = session

    def clock_words(self, session: Session) -> str:
        """What is plainly wrong with the computer's clock, said once; else nothing."""
        doubt = None if self.clock_told else clock_doubt(self.now(), session.last_at)
        self.clock_told = self.clock_told or doubt is not None
        return doubt or ""

    def back_up(self) -> str:
        """Makes the record's backup of the day, unless there is one; returns what went wrong, or nothing."""
        try:
            self.store.backup_of_the_day()
        except CoachError as error:
            return f"No backup was made today: {error}"
        return ""
