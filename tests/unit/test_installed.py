from __future__ import annotations

import json
from importlib.metadata import distribution
from pathlib import Path

import pytest

import coach
from coach.ground import places


def _editable() -> bool:
    told = distribution("coach").read_text("direct_url.json")
    return bool(told and json.loads(told).get("dir_info", {}).get("editable"))


@pytest.mark.skipif(_editable(), reason="a developer's install points at the source folder on purpose")
def test_what_is_tested_is_what_was_installed_and_not_the_source_folder() -> None:
    installed = Path(str(distribution("coach").locate_file("coach/__init__.py")))
    assert Path(coach.__file__).resolve() == installed.resolve()
    assert not Path(coach.__file__).resolve().is_relative_to(Path(__file__).resolve().parents[2] / "coach")


def test_the_samples_come_with_the_program() -> None:
    names = {path.name for path in places.sample_layouts_folder().glob("*.toml")}
    assert {"shallow-drawers.toml", "graduated-set.toml", "handed-sides.toml", "from-marks.toml"} <= names
    assert {"wide-panel.toml", "shop-mm.toml", "shop-inches.toml"} <= names
