"""`coach run --plain` as a command: started, carried on and chosen without a terminal, and without Textual."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from support.plain_files import layout_text, live_in

from coach.cli import main
from coach.ground.places import data_folder
from coach.record.disk.store import Store

LOADED = """
import json, sys
from coach.cli import main
assert main(sys.argv[1:]) == 0
print(json.dumps(sorted({module.split(".")[0] for module in sys.modules})))
"""


@pytest.fixture
def layout(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    live_in(tmp_path, monkeypatch)
    file = tmp_path / "drawers.toml"
    file.write_text(layout_text(), encoding="utf-8")
    return str(file)


def typed(monkeypatch: pytest.MonkeyPatch, text: str, *argv: str) -> int:
    """Runs a command line with this for its input."""
    monkeypatch.setattr(sys, "stdin", io.StringIO(text))
    return main(argv)


def done(name: str = "Drawers") -> int:
    """How many events the record has of a batch."""
    with Store.open(data_folder(None)) as store:
        row = store.batch_named(name)
        return 0 if row is None else row.events


def test_a_batch_is_started_and_carried_on_by_its_name_and_by_its_layout(
    layout: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert typed(monkeypatch, "\n\n", "run", layout, "--plain") == 0
    assert done() == 4
    assert typed(monkeypatch, "\n", "run", "--batch", "Drawers", "--plain") == 0
    assert typed(monkeypatch, "\n", "run", layout, "--plain") == 0
    assert done() == 6
    assert "coach run --batch Drawers --plain" in capsys.readouterr().out


def test_without_a_name_a_batch_under_way_is_chosen(
    layout: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    typed(monkeypatch, "", "run", layout, "--plain")
    assert typed(monkeypatch, "1\n\n", "run", "--plain") == 0
    assert done() == 3
    assert "1: Drawers: 0 of 32 cuts done" in capsys.readouterr().out


def test_where_no_batch_is_under_way_it_says_how_to_start_one(
    layout: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert typed(monkeypatch, "", "run", "--plain") == 1
    assert capsys.readouterr().err == "no batch is under way; start one:  coach run LAYOUT --plain\n"


def test_the_walk_on_the_screen_names_this_one_where_there_is_no_terminal(
    layout: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert typed(monkeypatch, "", "run", layout) == 1
    assert "coach run --plain walks in lines without one" in capsys.readouterr().err


def test_streams_that_whoever_started_it_has_closed_are_the_end_of_the_input(
    layout: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "stdin", None)
    monkeypatch.setattr(sys, "stdout", None)
    assert main(["run", layout, "--plain"]) == 0
    assert done() == 2


def test_carrying_on_in_lines_loads_neither_textual_nor_pint_and_writes_a_log(
    layout: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    typed(monkeypatch, "", "run", layout, "--plain")
    run = [sys.executable, "-c", LOADED, "run", "--batch", "Drawers", "--plain"]
    said = subprocess.run(run, input="\nc\n\nl\nh\n", check=True, capture_output=True, encoding="utf-8", env=os.environ)
    assert said.stdout.count("\nPrepare. ") == 3
    assert not set(json.loads(said.stdout.splitlines()[-1])) & {"textual", "pint", "asyncio", "ortools"}
