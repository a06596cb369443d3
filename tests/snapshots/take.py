"""Takes all snapshots of the screens anew:  python tests/snapshots/take.py"""

from __future__ import annotations

import sys
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]


def renew() -> None:
    """Writes every snapshot that is asked for and shows what it should, and removes those that nothing asks for."""
    from snapshots.taking import FOLDER, MISSING, stored_names, take

    found = take()
    wrong = {name: text.splitlines()[0] for name, text in found.items() if text.startswith(MISSING)}
    for name in stored_names() - found.keys():
        (FOLDER / f"{name}.txt").unlink()
    FOLDER.mkdir(exist_ok=True)
    for name in found.keys() - wrong.keys():
        (FOLDER / f"{name}.txt").write_text(found[name], encoding="utf-8", newline="\n")
    if wrong:
        sys.exit("\n".join(f"{name}: {why}" for name, why in wrong.items()))


if __name__ == "__main__":
    sys.path.insert(0, str(TESTS))
    renew()
