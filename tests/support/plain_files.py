"""A plain layout file and a plain shop file as text, with single keys changed, added or (None) left out."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

Keys = Mapping[str, str | None]

ROOT: Keys = {"format": "1", "name": '"Drawers"'}
PART: Keys = {
    "label": '"side"',
    "boards": "4",
    "width": '"57 mm"',
    "thickness": '"10 mm"',
    "length": '"380 mm"',
    "ends": '"both"',
    "joint": '"through"',
    "mates_with": '"12 mm"',
    "tails": "2",
    "half_pin": '"5 mm"',
    "pin": '"4 mm"',
}
NO_SPACING: Keys = {"tails": None, "half_pin": None, "pin": None}
SAW: Keys = {"kerf": '"0.9 mm"', "column_side": '"left"', "throat": '"345 mm"'}
FENCE: Keys = {"side": '"right"', "min": '"0 mm"', "max": '"300 mm"', "front": '"200 mm"', "scale": '"none"'}
JIG: Keys = {
    "name": '"one in eight"',
    "slope": '"1:8"',
    "leading_width": '"80 mm"',
    "length": '"330 mm"',
    "thickness": '"9 mm"',
}


def layout_text(part: Keys | None = None, *, root: Keys | None = None, more: str = "") -> str:
    """A layout with one part: sides with two even tails at both ends; `more` stands below it."""
    return f"{keys(ROOT, root)}\n[[parts]]\n{keys(PART, part)}{more}"


def shop_text(*, saw: Keys | None = None, fence: Keys | None = None, jig: Keys | None = None, root: str = "") -> str:
    """A shop with a kerf of 0.9 mm, a fence without a scale, and a jig of 1:8."""
    return f"format = 1\n{root}\n[saw]\n{keys(SAW, saw)}\n[[fences]]\n{keys(FENCE, fence)}\n[[jigs]]\n{keys(JIG, jig)}"


def keys(plain: Keys, changed: Keys | None) -> str:
    """A line for each key that is left."""
    merged = {**plain, **(changed or {})}
    return "".join(f"{key} = {value}\n" for key, value in merged.items() if value is not None)


def line_of(text: str, start: str) -> int:
    """The line, from 1, that begins with `start`."""
    return next(number for number, line in enumerate(text.splitlines(), 1) if line.startswith(start))


def live_in(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Makes `folder` the home of all that belongs to the person: settings, record and shop."""
    monkeypatch.setenv("HOME", str(folder))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(folder / "config"))
    monkeypatch.setenv("XDG_DATA_HOME", str(folder / "share"))
    monkeypatch.setenv("COACH_DATA", str(folder / "data"))
    for name in ("FORCE_COLOR", "COLUMNS", "NO_COLOR"):
        monkeypatch.delenv(name, raising=False)
