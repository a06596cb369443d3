"""Screens that were taken for a terminal without Unicode hold nothing that it lacks, keys and scrollbars included."""

from __future__ import annotations

from pathlib import Path

import pytest

SCREENS = sorted((Path(__file__).resolve().parents[1] / "snapshots" / "screens").glob("*-ascii.txt"))


@pytest.mark.parametrize("screen", SCREENS, ids=lambda path: path.stem)
def test_a_screen_in_ascii_is_all_ascii(screen: Path) -> None:
    assert screen.read_text(encoding="utf-8").isascii()


def test_every_kind_of_screen_is_taken_in_ascii_too() -> None:
    names = " ".join(path.stem for path in SCREENS)
    assert all(kind in names for kind in ("home", "log", "measuring", "set-fence", "cut", "saw-pins"))
