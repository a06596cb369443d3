"""The surroundings in which snapshots are taken: the same whatever the person, the terminal, the place or the day."""

from __future__ import annotations

import asyncio
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from unittest.mock import patch

from coach.ground import places

SETTINGS = Path("/home/joiner/.config/coach")
"""Where somebody's settings would lie; it stands on some screens, and no file is looked for there but in vain."""


@contextmanager
def in_fixed_surroundings(folder: Path) -> Iterator[None]:
    """Lives in `folder`, an empty one: nothing of the person's own, no environment, the same names on the screens."""
    here = Path.cwd()
    names = ("HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "COACH_DATA")
    os.chdir(folder)
    try:
        with (
            patch.dict(os.environ, {name: str(folder / name.lower()) for name in names}, clear=True),
            patch.object(places, "shop_file", lambda: SETTINGS / "shop.toml"),
            patch.object(places, "walk_file", lambda: SETTINGS / "walk.toml"),
            patch("textual.pilot.wait_for_idle", _at_once),
            patch("textual.app.wait_for_idle", _at_once),
        ):
            yield
    finally:
        os.chdir(here)


async def _at_once(*_: float) -> None:
    """In place of a wait until the processor is idle, after each key and size: whether a screen rests is looked at."""
    await asyncio.sleep(0)
