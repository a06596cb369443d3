"""The pictures that the README shows are what the app shows."""

from __future__ import annotations

from pathlib import Path

import pytest
from pictures.take import FOLDER, NAMES, take_in, visible_text

TOP = Path(__file__).parents[2]


@pytest.mark.parametrize("name", NAMES)
async def test_a_picture_reads_as_the_screen_does_now(tmp_path: Path, name: str) -> None:
    stored = (FOLDER / f"{name}.svg").read_text(encoding="utf-8")
    now = await take_in(tmp_path, name)
    assert visible_text(stored) == visible_text(now), "take them again: python tests/pictures/take.py"


async def test_a_picture_taken_twice_is_the_same_to_the_byte(tmp_path: Path) -> None:
    assert await take_in(tmp_path / "one", "walk") == await take_in(tmp_path / "other", "walk")


@pytest.mark.parametrize("name", NAMES)
def test_a_picture_fetches_nothing_from_the_network(name: str) -> None:
    stored = (FOLDER / f"{name}.svg").read_text(encoding="utf-8")
    assert "url(http" not in stored.replace('"', "")
    assert "@font-face" not in stored
