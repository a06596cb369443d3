"""Finds the layouts that can be chosen: the current folder's, the user's own, else the samples."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path

from coach.ground import places
from coach.ground.clean import shown_path
from coach.ground.errors import CoachError
from coach.ground.names import clean_text
from coach.toml.tables import read_source


@dataclass(frozen=True, slots=True)
class Found:
    """A layout file; `wrong` says why it can't be read, if it can't."""

    path: Path
    name: str
    boards: int
    sample: bool
    wrong: str | None = None


def find_layouts(folder: Path) -> list[Found]:
    """The layouts in `folder`/layouts and in the user's own folder; where there are none, the samples."""
    own = [
        found
        for place in (folder / "layouts", places.user_layouts_folder())
        for path in _files(place)
        if (found := _look(path, sample=False)) is not None
    ]
    if own:
        return own
    try:
        samples = places.sample_layouts_folder()
    except CoachError:
        return []
    return [found for path in _files(samples) if (found := _look(path, sample=True)) is not None]


def _files(folder: Path) -> list[Path]:
    try:
        return sorted(path for path in folder.iterdir() if path.suffix == ".toml" and path.is_file())
    except OSError:
        return []


def _look(path: Path, *, sample: bool) -> Found | None:
    """What `path` is called, without reading its lengths; None if it isn't a layout (a shop, say)."""
    try:
        data = tomllib.loads(read_source(path))
    except CoachError as error:
        return Found(path, shown_path(path.name), 0, sample, str(error))
    except (ValueError, RecursionError):
        return Found(path, shown_path(path.name), 0, sample, "not valid TOML")
    parts = data.get("parts")
    if "saw" in data and parts is None:
        return None
    name = data.get("name")
    title = name if isinstance(name, str) and clean_text(name) is None else shown_path(path.name)
    boards = 0
    for part in parts if isinstance(parts, list) else []:
        counts = [part.get(key, 0) for key in ("boards", "spares")] if isinstance(part, dict) else []
        boards += sum(count for count in counts if isinstance(count, int))
    return Found(path, title, boards, sample)
