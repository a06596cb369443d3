"""The walk as a person sets it up in walk.toml, and what the app remembers by itself."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from support.plain_files import line_of, live_in

from coach.ground import places
from coach.ground.errors import CoachError
from coach.preferences import (
    FIXED,
    USUAL,
    Action,
    Preferences,
    Remembered,
    parse_preferences,
    read_preferences,
    recall,
    remember,
)

NAME = "walk.toml"


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    live_in(tmp_path, monkeypatch)


def own_keys(lines: str) -> dict[Action, tuple[str, ...]]:
    """All keys, with these lines in [keys]."""
    return dict(parse_preferences(NAME, f"format = 1\n[keys]\n{lines}\n").keys)


def problems(text: str) -> tuple[str, ...]:
    with pytest.raises(CoachError) as raised:
        parse_preferences(NAME, text)
    return raised.value.problems


def problem(lines: str) -> str:
    """The one thing that is wrong with these lines in [keys]."""
    (found,) = problems(f"format = 1\n[keys]\n{lines}\n")
    return found


def test_without_a_file_all_is_as_usual() -> None:
    assert read_preferences() == Preferences({**FIXED, **USUAL}, None, bell=False)


def test_the_file_in_the_config_folder_is_read() -> None:
    places.walk_file().parent.mkdir(parents=True)
    places.walk_file().write_text('format = 1\nbell = true\nkey_guard = 1\n[keys]\ndone = ["b"]\n')
    read = read_preferences()
    assert read.bell
    assert read.key_guard_s == 1.0
    assert read.keys[Action.DONE][0] == "b"


@pytest.mark.parametrize("action", FIXED)
def test_keys_for_what_is_fixed_are_added_before_the_fixed_ones(action: Action) -> None:
    assert own_keys(f'{action} = ["b", "f13"]')[action] == ("b", "f13", *FIXED[action])


def test_naming_a_fixed_key_again_changes_nothing() -> None:
    assert own_keys('done = ["space"]')[Action.DONE] == FIXED[Action.DONE]


def test_keys_for_anything_else_replace_the_usual_ones() -> None:
    assert own_keys('log = ["ctrl+l", "ä"]')[Action.LOG] == ("ctrl+l", "ä")


def test_a_usual_key_given_to_something_else_leaves_the_others() -> None:
    keys = own_keys('change = ["?"]')
    assert keys[Action.CHANGE] == ("?",)
    assert keys[Action.HELP] == ("f1",)


def test_two_actions_may_swap_their_keys() -> None:
    keys = own_keys('log = ["c"]\nchange = ["l"]')
    assert (keys[Action.LOG], keys[Action.CHANGE]) == (("c",), ("l",))


@pytest.mark.parametrize(
    ("lines", "expected"),
    [
        ('log = ["space"]', 'keys.log[1]: found "space", which always means "done"; expected a key of its own'),
        ('done = ["q"]', 'keys.done[1]: found "q", which always means "leave"; expected a key of its own'),
        (
            'done = ["b"]\nlog = ["b"]',
            'keys.log[1]: found "b", which is already given to "done"; expected a key of its own',
        ),
        (
            'log = ["c"]',
            'keys.log: "c" is the usual key of "change", which has no other then; expected a key for "change" as well',
        ),
        ("help = []", 'keys.help: found an empty list; expected a list of keys such as ["b", "f5"]'),
        ('help = "h"', 'keys.help: found "h"; expected a list of keys such as ["b", "f5"]'),
        ('done = ["ctrl+c"]', 'found "ctrl+c", which always ends coach; expected another key'),
        ('done = ["ctrl+t"]', 'found "ctrl+t", which always changes between dark and light; expected another key'),
        ('done = ["ctrl+m"]', 'found "ctrl+m", which terminals send as enter; expected another key'),
        ('done = ["page_up"]', 'found "page_up"; did you mean "pageup"?'),
        ('done = ["Pedal"]', 'found "Pedal"; expected a single character, ctrl+ and a letter, or one of space, enter'),
        ('done = ["ctrl+1"]', 'found "ctrl+1"; expected a single character'),
        ('done = [" "]', 'found " "; expected "space"'),
        ('done = [""]', 'found ""; expected a single character'),
        ("done = [5]", 'found 5; expected a key in quotes, such as "b" or "f5"'),
        ('measure = ["b"]', 'keys.measure: unknown key; did you mean "measured"?'),
        ("bell = true", "keys.bell: unknown key; it belongs above [keys]"),
    ],
)
def test_a_key_that_cannot_be_is_refused_with_what_would_be_right(lines: str, expected: str) -> None:
    found = problem(lines)
    assert expected in found
    assert found.startswith(f"{NAME}, line ")


@pytest.mark.parametrize("guard", ["-0.1", "5.1", "nan", "inf", "true", '"0.5 s"'])
def test_a_key_guard_that_is_no_wait_is_refused(guard: str) -> None:
    (found,) = problems(f"format = 1\nkey_guard = {guard}\n")
    assert found.startswith(f"{NAME}, line 2: key_guard: found ")
    assert found.endswith("; expected seconds from 0 to 5, such as 0.5")


def test_every_mistake_is_told_at_once_with_its_line() -> None:
    text = 'format = 2\nbel = true\nkey_guard = 9\ndone = ["x"]\n[keys]\nundo = ["space"]\nlog = []\n'
    found = problems(text)
    assert len(found) == 6
    for start in ("format", "bel", "key_guard", "done", "undo", "log"):
        assert any(said.startswith(f"{NAME}, line {line_of(text, start)}: ") for said in found), (start, found)
    assert any(said.endswith('bel: unknown key; did you mean "bell"?') for said in found)
    assert any(said.endswith("done: unknown key; it belongs in [keys]") for said in found)


def test_a_file_that_is_no_toml_is_refused_with_its_line() -> None:
    (found,) = problems("format = 1\nbell = yes\n")
    assert found.startswith(f"{NAME}, line 2: not valid TOML")


def test_nothing_is_remembered_at_first() -> None:
    assert recall() == Remembered()


def test_what_is_remembered_is_recalled_and_the_rest_kept() -> None:
    remember(theme="daylight")
    remember(pace="board")
    assert recall() == Remembered("daylight", "board")
    remember(theme="lamplight")
    assert recall() == Remembered("lamplight", "board")


def test_remembering_leaves_no_other_file_behind() -> None:
    remember(theme="daylight")
    assert list(places.config_folder().iterdir()) == [places.remembered_file()]


@pytest.mark.parametrize(
    "held",
    [b"", b"{", b"\xff\xfe", b"[]", b"7", b'{"theme": 7, "pace": ["board"]}', b"[" * 9000, b'{"a":"' + b"x" * 20_000],
)
def test_a_damaged_memory_is_ignored_and_written_anew(held: bytes) -> None:
    file = places.remembered_file()
    file.parent.mkdir(parents=True)
    file.write_bytes(held)
    assert recall() == Remembered()
    remember(pace="setting")
    assert recall() == Remembered("", "setting")


def test_a_folder_that_cannot_be_written_is_no_reason_to_stop() -> None:
    places.config_folder().parent.mkdir(parents=True)
    places.config_folder().write_text("a file where the folder should be")
    remember(theme="daylight")
    assert recall() == Remembered()


def test_a_memory_that_cannot_be_replaced_stays_as_it_was(monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    remember(theme="daylight")
    monkeypatch.setattr(Path, "replace", full)
    remember(theme="lamplight")
    assert recall() == Remembered("daylight", "")
    assert list(places.config_folder().iterdir()) == [places.remembered_file()]


def test_where_no_file_is_nothing_that_reads_toml_is_loaded() -> None:
    code = (
        "import sys\nfrom coach.preferences import read_preferences, recall\nread_preferences(), recall()\n"
        "assert not {'tomllib', 'coach.toml.tables', 'coach.ground.lengths', 'difflib'} & set(sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
