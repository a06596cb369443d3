"""The conversation about a change, in dialogs."""

from __future__ import annotations

from pathlib import Path

from textual.app import App

from coach.record.session import Session
from coach.sheets.saying import Saying
from coach.talk import changing
from coach.tui.dialogs import Dialogs


class Changing(changing.Changing):
    """One person's way through the dialogs."""

    def __init__(self, app: App[None], session: Session, saying: Saying, shop: Path | None) -> None:
        super().__init__(Dialogs(app), session, saying, shop)
