"""The app's tests run in an empty home, which is the current folder as well."""

from __future__ import annotations

from pathlib import Path

import pytest


@pytest.fixture(autouse=True)
def home(home: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The empty home is the current folder as well."""
    monkeypatch.chdir(home)
    return home
