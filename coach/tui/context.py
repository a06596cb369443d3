"""What the screens share: where the record is, the clock, and how the terminal is to be treated."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from coach.errors import CoachError
from coach.lengths import Unit
from coach.record.session import Session
from coach.record.store import Store, now

GUARD_S = 0.5


@dataclass
class Context:
    """Shared by all screens.

    Attributes:
        guard_s: how long a step must have been on the screen before a key may complete it, in seconds.
        plain: whether the terminal can only show ASCII.
        from_home: whether leaving a batch goes back to the home screen.
        clock: seconds, for the key guard; now: the time of day.
        left_batch: the batch that was left last.
    """

    store: Store
    shop: Path | None = None
    units: Unit | None = None
    guard_s: float = GUARD_S
    plain: bool = False
    from_home: bool = False
    clock: Callable[[], float] = time.monotonic
    now: Callable[[], datetime] = now
    left_batch: Session | None = field(default=None)

    def left(self, session: Session) -> None:
        """Remembers the batch that was left, for the words of farewell."""
        self.left_batch = session

    def back_up(self) -> str:
        """Makes the record's backup of the day, unless there is one; returns what went wrong, or nothing."""
        try:
            self.store.backup_of_the_day()
        except CoachError as error:
            return f"No backup was made today: {error}"
        return ""
