"""How this program was called, so that a command that it names works where it is read."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from coach.ground.clean import shell_word


def called() -> str:
    """The program as it was called: `coach`, `.venv/bin/coach`, or an interpreter with `-m coach`."""
    name = sys.argv[0] if sys.argv else ""
    if Path(name).name == "__main__.py":
        return f"{shell_word(sys.executable)} -m coach"
    found = shutil.which("coach")
    if Path(name).name != "coach" or (found is not None and Path(found) == Path(name)):
        return "coach"
    return shell_word(name)
