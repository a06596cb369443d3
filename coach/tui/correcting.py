"""Correcting an earlier cut, in dialogs."""

from __future__ import annotations

from textual.app import App

from coach.record.session import Session
from coach.sheets.saying import Saying
from coach.talk import correcting
from coach.tui.dialogs import Dialogs


async def correct(app: App[None], session: Session, saying: Saying, board: int | None) -> str | None:
    """Asks which cut (of one board, or of any) and what of it, and records that; CoachError if it can't be."""
    return await correcting.correct(Dialogs(app), session, saying, board)
