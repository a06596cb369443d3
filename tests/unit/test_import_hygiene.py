"""What the commands load: nothing that makes a person wait for what they didn't ask for."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from support.plain_files import layout_text

from coach.loading import load
from coach.record.batch.session import start
from coach.record.disk.store import Store

# Pint reads its default units from these files, and from nowhere else unless a cache folder is set.
WATCH = """\
import json, os, sys
opened = []
def watch(event, arguments):
    if event == "open" and str(arguments[0]).endswith(("default_en.txt", "constants_en.txt")):
        opened.append(str(arguments[0]))
sys.addaudithook(watch)
"""
REPORT = """
found = {"opened": opened, "modules": sorted(sys.modules)}
if "pint" in sys.modules:
    import pint
    found["registry"] = type(pint.application_registry.get()).__name__
with open(sys.argv[-1], "w") as file:
    json.dump(found, file)
"""
COMMAND = "from coach.cli import main\nassert main(sys.argv[1:-1]) == 0\n"


class Loaded:
    """What a Python process had loaded when it ended."""

    def __init__(self, found: dict[str, object]) -> None:
        modules, opened = found["modules"], found["opened"]
        assert isinstance(modules, list) and isinstance(opened, list)
        self.packages = {module.split(".")[0] for module in modules}
        self.modules = set(modules)
        self.default_units = bool(opened) or found.get("registry", "LazyRegistry") != "LazyRegistry"


def ran(folder: Path, code: str, *argv: str) -> Loaded:
    report = folder / "report.json"
    environment = {
        **os.environ,
        "HOME": str(folder),
        "XDG_CONFIG_HOME": str(folder / "config"),
        "COACH_DATA": str(folder / "data"),
    }
    subprocess.run(
        [sys.executable, "-c", WATCH + code + REPORT, *argv, str(report)],
        check=True,
        env=environment,
        stdout=subprocess.DEVNULL,
    )
    return Loaded(json.loads(report.read_text(encoding="utf-8")))


@pytest.fixture
def drawers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """A layout file, of which a batch is under way."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    file = tmp_path / "drawers.toml"
    file.write_text(layout_text(), encoding="utf-8")
    loaded = load([file], None, None)
    with Store.open(tmp_path / "data") as store:
        session = start(store, "Drawers", loaded.job, loaded.settings, loaded.unit)
        for _ in range(9):
            step = session.next()
            assert step is not None
            session.complete(step)
    return str(file)


def argv(command: str, file: str) -> list[str]:
    return [file if word == "FILE" else word for word in command.split()]


def test_the_watch_notices_pints_default_units(tmp_path: Path) -> None:
    built = ran(tmp_path, "import pint\npint.Quantity(1, 'inch')\n")
    assert built.default_units


def test_the_watch_lets_a_small_registry_pass(tmp_path: Path) -> None:
    assert not ran(tmp_path, "import pint\npint.UnitRegistry(None)\n").default_units


@pytest.mark.parametrize(
    "command",
    [
        "--version",
        "plan FILE --json",
        "plan FILE",
        "check FILE",
        "fit FILE",
        "log",
        "log Drawers",
        "log --json",
        "log --csv",
    ],
)
def test_a_plain_command_loads_neither_textual_nor_pints_default_units(
    tmp_path: Path, drawers: str, command: str
) -> None:
    loaded = ran(tmp_path, COMMAND, *argv(command, drawers))
    assert "textual" not in loaded.packages
    assert not loaded.default_units


@pytest.mark.parametrize("command", ["--version", "log", "log Drawers", "log --json", "log --csv"])
def test_what_needs_no_file_loads_neither_pint_nor_a_solver(tmp_path: Path, drawers: str, command: str) -> None:
    loaded = ran(tmp_path, COMMAND, *argv(command, drawers))
    assert not loaded.packages & {"pint", "ortools", "numpy"}


def test_the_version_loads_nothing_but_the_commands(tmp_path: Path) -> None:
    loaded = ran(tmp_path, COMMAND, "--version")
    assert not loaded.packages & {"textual", "rich", "pint", "sqlite3", "platformdirs"}


@pytest.mark.parametrize("module", ["coach.record.batch.session", "coach.tui.walk.screen", "coach.tui.app"])
def test_resuming_a_batch_loads_neither_pint_nor_a_solver(tmp_path: Path, module: str) -> None:
    loaded = ran(tmp_path, f"import {module}\n")
    assert not loaded.packages & {"pint", "ortools", "numpy"}


def test_a_batch_is_resumed_without_pint(tmp_path: Path, drawers: str) -> None:
    resumed = """
from pathlib import Path
from coach.record.batch.session import Session
from coach.record.disk.store import Store
import coach.tui.walk.screen
with Store.open(Path(os.environ["COACH_DATA"])) as store:
    session = Session(store, store.batch_named("Drawers"))
    session.complete(session.next())
    session.undo()
"""
    loaded = ran(tmp_path, resumed)
    assert not loaded.packages & {"pint", "ortools"}
    assert "coach.joint.files" not in loaded.modules


def test_a_batch_is_opened_on_its_walk_without_pint(tmp_path: Path, drawers: str) -> None:
    opened = """
import asyncio
from pathlib import Path
from coach.record.batch.session import Session
from coach.record.disk.store import Store
from coach.tui.app import CoachApp
from coach.talk.context import Context
async def walk(store):
    app = CoachApp(Context(store), Session(store, store.batch_named("Drawers")))
    async with app.run_test() as pilot:
        await pilot.pause()
with Store.open(Path(os.environ["COACH_DATA"])) as store:
    asyncio.run(walk(store))
"""
    loaded = ran(tmp_path, opened)
    assert "textual" in loaded.packages
    assert not loaded.packages & {"pint", "ortools"}
