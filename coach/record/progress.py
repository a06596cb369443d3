"""Telling how far something is that may take long."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[str, float], None]
"""Told what is being done, and how far it is, from 0 to 1."""


def quiet(_: str, __: float) -> None:
    """Nobody is told."""
