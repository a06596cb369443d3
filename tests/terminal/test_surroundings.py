"""The walk where things aren't as they should be: terminals, folders, files, other windows and long breaks."""

from __future__ import annotations

import hashlib
import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest
from support.terminal import Terminal
from support.walking import (
    BETWEEN_KEYS_S,
    GUARD,
    Workshop,
    identity,
    press_on,
    press_through,
    wait_for_step,
)

from coach.record.disk.files import FILE_NAME
from coach.record.disk.schema import APPLICATION_ID
from coach.record.rows import now

SET_FENCE, FIRST_CUT, FIRST_AT_BENCH = 6, 8, 49
NOT_UTF_8 = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "PYTHONIOENCODING": "ascii"}
WIDE = 1000
"""Columns enough for any message on one line, so that lines can be counted."""


@pytest.fixture
def workshop(tmp_path: Path) -> Workshop:
    return Workshop.in_folder(tmp_path)


def test_output_into_a_pipe_is_refused_in_one_line(workshop: Workshop) -> None:
    done = workshop.plain(*workshop.run_arguments())
    assert done.returncode == 1
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1
    assert "terminal" in done.stderr
    assert not workshop.data.exists()


@pytest.mark.parametrize("redirected", ["< /dev/null", "> out.txt", "2> out.txt"])
def test_a_walk_with_one_stream_elsewhere_is_refused(workshop: Workshop, redirected: str) -> None:
    script = f'exec "$@" {redirected}'
    terminal = Terminal(
        ["sh", "-c", script, "sh", *workshop.command(*workshop.run_arguments())],
        env=workshop.environment(),
        cwd=workshop.home,
    )
    with terminal:
        assert terminal.wait_for_end() == 1
    assert not workshop.data.exists()


@pytest.mark.parametrize("command", ["run", "log"])
def test_a_data_folder_below_a_file_is_refused_in_one_message(workshop: Workshop, command: str) -> None:
    (workshop.home / "file").write_text("no folder", encoding="utf-8")
    data = workshop.home / "file" / "record"
    arguments = [str(workshop.layout)] if command == "run" else []
    message = refused(workshop, command, *arguments, "--data", str(data))
    assert str(data) in message


def test_a_file_that_is_no_database_is_refused_and_left_as_it_is(workshop: Workshop) -> None:
    workshop.data.mkdir()
    file = workshop.data / FILE_NAME
    file.write_bytes(b"shopping list\n" * 1000)
    before = digest(file)
    assert str(file) in refused(workshop, *workshop.run_arguments())
    assert digest(file) == before
    assert [path.name for path in workshop.data.iterdir()] == [FILE_NAME]


def test_a_record_with_its_pages_overwritten_is_refused_and_left_as_it_is(workshop: Workshop) -> None:
    workshop.begin(20)
    file = workshop.data / FILE_NAME
    whole = file.read_bytes()
    file.write_bytes(whole[:4096] + b"\xa5" * (len(whole) - 4096))
    before = digest(file)
    assert str(file) in refused(workshop, *workshop.carry_on_arguments())
    assert digest(file) == before


def test_a_newer_record_is_refused_and_left_as_it_is(workshop: Workshop) -> None:
    workshop.begin(20)
    file = workshop.data / FILE_NAME
    with closing(sqlite3.connect(file)) as connection:
        assert connection.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)
        connection.execute("PRAGMA user_version = 999")
    before = digest(file)
    assert "999" in refused(workshop, *workshop.carry_on_arguments())
    assert digest(file) == before


@pytest.mark.parametrize("how", ["missing", "a folder", "not UTF-8", "empty"])
def test_a_layout_that_cannot_be_read_is_refused_by_its_name(workshop: Workshop, how: str) -> None:
    workshop.layout.unlink()
    if how == "a folder":
        workshop.layout.mkdir()
    elif how == "not UTF-8":
        workshop.layout.write_bytes(b'name = "\xff\xfe"\n')
    elif how == "empty":
        workshop.layout.touch()
    with workshop.terminal(*workshop.run_arguments(), columns=WIDE) as terminal:
        assert terminal.wait_for_end() == 1
        assert "Traceback" not in terminal.text
        for line in filter(None, terminal.lines):
            assert line.startswith(str(workshop.layout))


def test_a_missing_layout_gets_one_message(workshop: Workshop) -> None:
    workshop.layout.unlink()
    assert str(workshop.layout) in refused(workshop, *workshop.run_arguments())


def test_a_batch_of_an_unknown_name_is_refused_in_one_message(workshop: Workshop) -> None:
    assert "Nobody’s" in refused(workshop, "run", "--batch", "Nobody’s", "--data", str(workshop.data))


@pytest.mark.parametrize(
    "arguments",
    [["run"], ["frobnicate"], ["run", "--nonsense"], ["plan"], ["--key-guard", "9"], ["log", "--json", "--csv"]],
    ids=" ".join,
)
def test_a_wrong_command_line_ends_with_2_and_one_line(workshop: Workshop, arguments: list[str]) -> None:
    done = workshop.plain(*arguments)
    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1


def test_a_window_too_small_says_what_it_needs_and_goes_on_when_it_has_grown(workshop: Workshop) -> None:
    plan = workshop.plan()
    workshop.begin(FIRST_CUT)
    with workshop.terminal(*workshop.carry_on_arguments(), *GUARD, columns=30, rows=10) as terminal:
        terminal.wait_for_text("at least 40 columns by 15 rows")
        assert "30 by 10" in terminal.words
        terminal.watch(BETWEEN_KEYS_S)
        terminal.send(b" ")
        terminal.resize(80, 24)
        wait_for_step(terminal, plan[FIRST_CUT])
        press_through(terminal, plan[FIRST_CUT : FIRST_CUT + 1], plan[FIRST_CUT + 1])
    assert len(workshop.steps_done()) == FIRST_CUT + 1


def test_a_window_made_too_small_in_mid_walk_goes_on_at_the_same_step(workshop: Workshop) -> None:
    plan = workshop.plan()
    workshop.begin(FIRST_CUT)
    with workshop.terminal(*workshop.carry_on_arguments()) as terminal:
        wait_for_step(terminal, plan[FIRST_CUT])
        terminal.resize(30, 10)
        terminal.wait_for_text("at least 40 columns by 15 rows")
        terminal.resize(40, 15)
        terminal.wait_for_text("side 1: end A, tail 2, top side")


@pytest.mark.parametrize("begun", [SET_FENCE, FIRST_CUT, FIRST_AT_BENCH], ids=["fence", "cut", "bench"])
def test_a_terminal_that_is_not_utf_8_gets_ascii_and_nothing_that_it_cannot_show(
    workshop: Workshop, begun: int
) -> None:
    workshop.begin(begun)
    pages = []
    with workshop.terminal(*workshop.carry_on_arguments(), *GUARD, surroundings=NOT_UTF_8) as terminal:
        terminal.wait_for_text("Next:")
        pages.append(terminal.text)
        for key in (b"?", b"l"):
            terminal.send(key)
            terminal.wait_for(lambda seen: "Next:" not in seen.words and len(seen.words) > 100, what="another page")
            pages.append(terminal.text)
            terminal.send(b"q")
            terminal.wait_for_text("Next:")
        terminal.send(b"q")
        assert terminal.wait_for_end() == 0
        pages.append(terminal.text)
        assert terminal.output.isascii()
    for page in pages:
        assert "\\u" not in page and "\\x" not in page
        strange = [line for line in page.splitlines() if "?" in line.replace("? help", "")]
        assert strange == []


@pytest.mark.parametrize(
    "surroundings", [{"NO_COLOR": "1"}, {"TERM": "dumb"}, {"NO_COLOR": "1", "TERM": "dumb"}], ids=str
)
def test_terminals_without_colour_or_skill_show_the_walk_too(workshop: Workshop, surroundings: dict[str, str]) -> None:
    plan = workshop.plan()
    workshop.begin(FIRST_CUT)
    with workshop.terminal(*workshop.carry_on_arguments(), *GUARD, surroundings=surroundings) as terminal:
        press_through(terminal, plan[FIRST_CUT : FIRST_CUT + 1], plan[FIRST_CUT + 1])
        assert terminal.hidden_letters == ""
        terminal.send(b"q")
        assert terminal.wait_for_end() == 0


def test_of_two_windows_the_slower_is_told_and_no_cut_counts_twice(workshop: Workshop) -> None:
    plan = workshop.plan()
    workshop.begin(FIRST_CUT)
    with (
        workshop.terminal(*workshop.carry_on_arguments(), *GUARD) as first,
        workshop.terminal(*workshop.carry_on_arguments(), *GUARD) as second,
    ):
        wait_for_step(second, plan[FIRST_CUT])
        press_through(first, plan[FIRST_CUT : FIRST_CUT + 2], plan[FIRST_CUT + 2])
        assert identity(plan[FIRST_CUT]) != identity(plan[FIRST_CUT + 2])
        press_on(second, plan[FIRST_CUT + 2])
        second.wait_for_text("Another window was quicker")
        assert len(workshop.steps_done()) == FIRST_CUT + 2
        press_through(second, plan[FIRST_CUT + 2 : FIRST_CUT + 3], plan[FIRST_CUT + 3])
    done = [identity(step) for step in workshop.steps_done()]
    assert done == [identity(step) for step in plan[: FIRST_CUT + 3]]


def test_of_two_windows_the_slower_cannot_take_back_what_it_has_not_seen(workshop: Workshop) -> None:
    plan = workshop.plan()
    workshop.begin(FIRST_CUT + 1)
    with (
        workshop.terminal(*workshop.carry_on_arguments(), *GUARD) as first,
        workshop.terminal(*workshop.carry_on_arguments(), *GUARD) as second,
    ):
        wait_for_step(second, plan[FIRST_CUT + 1])
        press_through(first, plan[FIRST_CUT + 1 : FIRST_CUT + 2], plan[FIRST_CUT + 2])
        second.send(b"u")
        second.wait_for_text("Another window was quicker")
        wait_for_step(second, plan[FIRST_CUT + 2])
    assert len(workshop.steps_done()) == FIRST_CUT + 2


@pytest.mark.parametrize("break_", [timedelta(minutes=11), timedelta(days=3)], ids=["11 minutes", "3 days"])
def test_coming_back_later_the_saw_is_looked_at_before_the_same_cut(workshop: Workshop, break_: timedelta) -> None:
    plan = workshop.plan()
    begun = 14  # in the middle of a board, at the first setting
    workshop.begin(begun, lambda: now() - break_)
    again = {"kind": "prepare", "topic": "again"}
    fence, check = plan[SET_FENCE], plan[SET_FENCE + 1]
    with workshop.terminal(*workshop.carry_on_arguments(), *GUARD) as terminal:
        press_through(terminal, [again, fence, check], plan[begun])
        press_through(terminal, plan[begun : begun + 1], plan[begun + 1])
    kinds = [step["kind"] for step in workshop.steps_done()[begun:]]
    assert kinds == ["prepare", "set-fence", "check", "cut"]


def test_coming_back_within_ten_minutes_goes_straight_on(workshop: Workshop) -> None:
    plan = workshop.plan()
    moment = now()
    if moment.time() < (moment - timedelta(minutes=9)).time():
        pytest.skip("midnight lies between: another day begins with a look at the saw")
    workshop.begin(13, lambda: now() - timedelta(minutes=9))
    with workshop.terminal(*workshop.carry_on_arguments()) as terminal:
        wait_for_step(terminal, plan[13])


def refused(workshop: Workshop, *arguments: str) -> str:
    """The one line that says why a command was refused, in a terminal that is left as it was."""
    with workshop.terminal(*arguments, columns=WIDE) as terminal:
        assert terminal.wait_for_end() == 1
        said = [line for line in terminal.lines if line]
        assert len(said) == 1, terminal.text
        assert b"\x1b" not in terminal.output
        return said[0]


def digest(file: Path) -> str:
    return hashlib.sha256(file.read_bytes()).hexdigest()
