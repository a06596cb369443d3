"""The command that carries a batch on works where it is read, however the program was called."""

from __future__ import annotations

import os
import shlex
import subprocess
import sys
from pathlib import Path

import pytest
from support.small_batches import BEFORE_FIRST_CUT, go

from coach.ground.clean import batch_option
from coach.record.batch.session import Session
from coach.record.disk.store import Store
from coach.talk.called import called
from coach.talk.remarks import carry_on


@pytest.mark.parametrize(
    ("argv", "said"),
    [
        ([".venv/bin/coach", "run"], ".venv/bin/coach"),
        (["/opt/my tools/coach"], "'/opt/my tools/coach'"),
        (["/somewhere/coach/__main__.py", "run"], f"{shlex.quote(sys.executable)} -m coach"),
        ([""], "coach"),
    ],
)
def test_the_program_is_named_as_it_was_called(monkeypatch: pytest.MonkeyPatch, argv: list[str], said: str) -> None:
    monkeypatch.setattr(sys, "argv", argv)
    monkeypatch.setenv("PATH", "")
    assert called() == said


def test_a_program_found_on_the_path_is_named_by_its_name(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    script = tmp_path / "coach"
    script.write_text("#!/bin/sh\n")
    script.chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(sys, "argv", [str(script)])
    assert called() == "coach"


@pytest.mark.parametrize(
    ("name", "said"), [("Drawers", "--batch Drawers"), ("two words", "--batch 'two words'"), ("-x", "--batch=-x")]
)
def test_a_batch_is_named_so_that_the_command_line_takes_it(name: str, said: str) -> None:
    assert batch_option(name) == said


def test_what_was_said_of_record_and_shop_is_said_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "argv", ["./coach"])
    assert carry_on("a b", ("--data", "my record")) == "./coach run --batch 'a b' --data 'my record'"


def test_the_command_of_the_farewell_carries_the_batch_on_in_a_shell(store: Store, session: Session) -> None:
    go(session, BEFORE_FIRST_CUT + 1)
    folder = Path(store._file).parent
    command = [sys.executable, "-P", "-m", "coach", "run", "--batch", "drawers", "--plain", "--data", str(folder)]
    environment = {**os.environ, "HOME": str(folder)}
    left = subprocess.run(command, input="q\n", capture_output=True, text=True, env=environment, check=True).stdout
    again = left.splitlines()[-1]
    assert again.startswith(f"{shlex.quote(sys.executable)} -m coach run --batch drawers --data ")
    done = subprocess.run(again, shell=True, input="q\n", capture_output=True, text=True, env=environment)  # noqa: S602
    assert done.returncode == 0, done.stderr
    assert "coach: drawers." in done.stdout
