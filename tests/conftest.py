"""What tests of several kinds share: an empty home, a record with a clock that stands, and a small batch in it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from support.plain_files import live_in
from support.small_batches import JOB, SETTINGS, Clock

from coach.record.batch.session import Session, start
from coach.record.disk.store import Store


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder that is the home."""
    folder = tmp_path / "home"
    folder.mkdir()
    live_in(folder, monkeypatch)
    return folder


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def store(tmp_path: Path, clock: Clock) -> Iterator[Store]:
    with Store.open(tmp_path / "record", clock=clock) as opened:
        yield opened


@pytest.fixture
def session(store: Store) -> Session:
    """Two boards of two tails: 16 cuts at two settings."""
    return start(store, "drawers", JOB, SETTINGS, "mm")
