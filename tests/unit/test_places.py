"""Where files live, whatever the environment says."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from coach.ground import places
from coach.ground.errors import CoachError


@pytest.fixture(autouse=True)
def _home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    for name in ("COACH_DATA", "XDG_DATA_HOME", "XDG_CONFIG_HOME"):
        monkeypatch.delenv(name, raising=False)


def test_a_given_data_folder_wins_over_the_environment(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_DATA", str(tmp_path / "environment"))
    assert places.data_folder(tmp_path / "given") == tmp_path / "given"


def test_the_environment_wins_over_the_users_data_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_DATA", str(tmp_path / "environment"))
    assert places.data_folder() == tmp_path / "environment"


def test_an_empty_variable_counts_as_unset(monkeypatch: pytest.MonkeyPatch) -> None:
    unset = places.data_folder()
    monkeypatch.setenv("COACH_DATA", "")
    assert places.data_folder() == unset


@pytest.mark.skipif(sys.platform != "linux", reason="the XDG folders")
def test_on_linux_the_data_folder_is_the_xdg_one(tmp_path: Path) -> None:
    # XDG Base Directory Specification: $XDG_DATA_HOME defaults to $HOME/.local/share (from memory).
    assert places.data_folder() == tmp_path / ".local" / "share" / "coach"


@pytest.mark.skipif(sys.platform != "linux", reason="the XDG folders")
def test_on_linux_the_config_folder_is_the_xdg_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # XDG Base Directory Specification: $XDG_CONFIG_HOME names the folder for configuration (from memory).
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "settings"))
    assert places.config_folder() == tmp_path / "settings" / "coach"


def test_a_tilde_stands_for_the_home_folder(tmp_path: Path) -> None:
    assert places.data_folder(Path("~/shop")) == tmp_path / "shop"


def test_an_unknown_home_folder_is_refused_in_words() -> None:
    with pytest.raises(CoachError, match=r"--data: ~no-such-user.*full path"):
        places.data_folder(Path("~no-such-user/shop"))


def test_a_relative_folder_is_told_in_full(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert places.data_folder(Path("record")) == tmp_path / "record"


def test_the_shop_and_the_users_layouts_live_in_the_config_folder() -> None:
    assert places.shop_file() == places.config_folder() / "shop.toml"
    assert places.user_layouts_folder() == places.config_folder() / "layouts"


def test_asking_for_a_place_makes_no_folder(tmp_path: Path) -> None:
    places.data_folder()
    places.user_layouts_folder()
    assert list(tmp_path.iterdir()) == []


def test_the_sample_layouts_are_there() -> None:
    assert places.sample_layouts_folder().is_dir()


def test_samples_in_the_package_win_over_a_folder_beside_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(places, "_PACKAGE", tmp_path / "coach")
    (tmp_path / "coach" / "samples").mkdir(parents=True)
    (tmp_path / "layouts").mkdir()
    assert places.sample_layouts_folder() == tmp_path / "coach" / "samples"


def test_a_checkout_keeps_its_samples_at_the_top(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(places, "_PACKAGE", tmp_path / "coach")
    (tmp_path / "layouts").mkdir()
    assert places.sample_layouts_folder() == tmp_path / "layouts"


def test_missing_samples_are_told_with_both_places(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(places, "_PACKAGE", tmp_path / "coach")
    with pytest.raises(CoachError, match=r"neither .*samples nor .*layouts; install coach again"):
        places.sample_layouts_folder()


def test_importing_places_and_the_store_loads_nothing_heavy() -> None:
    script = (
        "import sys, coach.ground.places, coach.record.disk.store\n"
        "print([name for name in ('platformdirs', 'pint', 'rich', 'textual') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"
