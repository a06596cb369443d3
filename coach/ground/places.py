"""Where files live: the record, the shop, the user's layouts and the samples that come with the program."""

from __future__ import annotations

import os
from pathlib import Path

from coach.ground.clean import shown_path
from coach.ground.errors import CoachError

DATA_VARIABLE = "COACH_DATA"
_NAME = "coach"
_PACKAGE = Path(__file__).resolve().parents[1]


def data_folder(given: Path | None = None) -> Path:
    """The folder that holds the record, as an absolute path; it need not exist yet.

    Args:
        given: what the person asked for on the command line; it wins over the environment variable
            `COACH_DATA`, which wins over the user's data folder. A leading `~` stands for the home folder.

    Raises:
        CoachError: a leading `~` stands for a home folder that is not known.
    """
    if given is not None:
        return _absolute(given, "--data")
    if named := os.environ.get(DATA_VARIABLE):
        return _absolute(Path(named), DATA_VARIABLE)
    import platformdirs

    return Path(platformdirs.user_data_path(_NAME, appauthor=False))


def config_folder() -> Path:
    """The user's folder for what is set up once, as an absolute path; it need not exist yet."""
    import platformdirs

    return Path(platformdirs.user_config_path(_NAME, appauthor=False))


def shop_file() -> Path:
    """The file that describes the user's saw, fences and jigs; it need not exist yet."""
    return config_folder() / "shop.toml"


def walk_file() -> Path:
    """The file in which the user sets up the walk's keys, bell and key guard; it need not exist."""
    return config_folder() / "walk.toml"


def remembered_file() -> Path:
    """The file in which the app remembers theme and pace from one run to the next; it need not exist yet."""
    return config_folder() / "remembered.json"


def where_a_shop_goes() -> str:
    """What to do to have one's own shop used."""
    return f"measure your own saw, fence and jig and save them as {shown_path(shop_file())}, or name a file with --shop"


def user_layouts_folder() -> Path:
    """The folder of layouts that the user keeps; it need not exist yet."""
    return config_folder() / "layouts"


def sample_layouts_folder() -> Path:
    """The folder of sample layouts: inside the installed package, or at the top of a checkout.

    Raises:
        CoachError: neither is there, so the installation is not whole.
    """
    return _first_folder(_PACKAGE / "samples", _PACKAGE.parent / "layouts")


def _first_folder(*candidates: Path) -> Path:
    for folder in candidates:
        if folder.is_dir():
            return folder
    looked = " nor ".join(map(shown_path, candidates))
    raise CoachError(f"the sample layouts are missing: there is neither {looked}; install coach again")


def _absolute(folder: Path, where: str) -> Path:
    try:
        return folder.expanduser().absolute()
    except RuntimeError as error:
        raise CoachError(
            f"{where}: {shown_path(folder)}: no home folder is known for “{folder.parts[0]}”; write the full path"
        ) from error
