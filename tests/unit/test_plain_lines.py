"""Plain lines by themselves: how they are broken, written and read, and how they ask."""

from __future__ import annotations

import io
from collections.abc import Sequence

import pytest
from rich.cells import cell_len
from support.small_batches import MORNING

from coach.ground.errors import CoachError
from coach.ground.lengths import parse_length
from coach.plain.choosing import which_batch
from coach.plain.lines import Lines, answer, wrapped
from coach.record.rows import BatchRow

MANY = [f"choice {number}" for number in range(1, 31)]


def lines(typed: Sequence[str] = (), *, plain: bool = False) -> tuple[Lines, io.StringIO]:
    """Lines that are typed in advance, and what was said."""
    said = io.StringIO()
    return Lines(io.StringIO("".join(f"{line}\n" for line in typed)), said, plain=plain), said


@pytest.mark.parametrize("text", ["a few words " * 20, "x" * 200, "横木 " * 60, "横" * 100, "e\u0301" * 100])
def test_text_is_broken_at_78_columns_and_nothing_of_it_is_lost(text: str) -> None:
    broken = wrapped(text)
    assert max(map(cell_len, broken)) <= 78
    assert "".join("".join(broken).split()) == "".join(text.split())


@pytest.mark.parametrize("sign", ["\x1b", "\x07", "\r", "\t", "\u202e", "\udc80"])
def test_what_a_terminal_could_take_for_a_command_is_not_written(sign: str) -> None:
    plain, said = lines()
    plain.say(f"a{sign}b")
    assert said.getvalue() == "a?b\n"


def test_signs_that_the_stream_lacks_are_written_as_others() -> None:
    stream = io.TextIOWrapper(io.BytesIO(), encoding="ascii", newline="\n")
    Lines(io.StringIO(), stream, plain=True).say("“side” × 3 … Möbel")
    stream.seek(0)
    assert stream.read() == '"side" x 3 . M?bel\n'


def test_bytes_that_are_no_text_are_read_all_the_same() -> None:
    source = io.TextIOWrapper(io.BytesIO(b"\xff\xfeu\n"), encoding="utf-8")
    assert Lines(source, io.StringIO(), plain=False).read() == "\ufffd\ufffdu"


def test_a_line_without_end_is_one_line() -> None:
    plain, _ = lines(["x" * 5000, "u"])
    plain.read()
    assert plain.read() == "u"


def test_after_the_last_line_comes_the_end() -> None:
    plain = Lines(io.StringIO("u"), io.StringIO(), plain=False)
    assert plain.read() == "u"
    with pytest.raises(EOFError):
        plain.read()


def test_a_terminal_that_has_gone_is_the_end() -> None:
    class Gone(io.StringIO):
        def readline(self, size: int | None = -1, /) -> str:  # type: ignore[override]  # noqa: ARG002
            raise OSError(5, "Input/output error")

    with pytest.raises(EOFError):
        Lines(Gone(), io.StringIO(), plain=False).read()


def test_a_log_on_a_full_disk_is_told() -> None:
    class Full(io.StringIO):
        def write(self, text: str, /) -> int:  # noqa: ARG002 - as a stream is written
            raise OSError(28, "No space left on device")

    with pytest.raises(CoachError, match="what is said can't be written: No space left on device; all steps so far"):
        Lines(io.StringIO(), Full(), plain=False).say("Cut.")


def test_a_choice_is_its_number() -> None:
    plain, said = lines(["0", "3", "two", "2"])
    assert answer(plain.choose("Which?", ["one", "two"], ["Two is more."])) == 1
    assert said.getvalue().startswith("Which?\nTwo is more.\n1: one\n2: two\nType a number from 1 to 2; Enter alone")
    assert said.getvalue().count("expected a number from 1 to 2, or Enter alone to go back.") == 3


def test_of_many_choices_a_few_are_said_and_more_when_asked_for() -> None:
    plain, said = lines(["+", "20"])
    assert answer(plain.choose("Which?", MANY)) == 19
    assert "12: choice 12\nType a number from 1 to 30; + for more, Enter alone goes back.\n13: " in said.getvalue()
    assert "choice 25" not in said.getvalue()


@pytest.mark.parametrize(("typed", "taken"), [("", "/shop.toml"), (".", None), ("other", "other")])
def test_enter_alone_takes_what_is_offered_and_a_full_stop_goes_back(typed: str, taken: str | None) -> None:
    plain, _ = lines([typed])
    assert answer(plain.enter("Which file?", "/shop.toml", str)) == taken


def test_words_that_can_not_be_are_asked_for_again_with_the_reason() -> None:
    plain, said = lines(["5", "5 mm"])
    assert answer(plain.enter("How far?", "", parse_length)) == "5 mm"
    assert "a length needs a unit" in said.getvalue()


@pytest.mark.parametrize(("typed", "name"), [(["2"], "frames"), ([""], None), ([], None)])
def test_a_batch_is_chosen_among_those_under_way(typed: list[str], name: str | None) -> None:
    at = MORNING.isoformat()
    rows = [
        BatchRow(n, name, at, at, cuts=96, cuts_done=12, steps_left=50, finished=False, events=60)
        for n, name in enumerate(["drawers", "frames"])
    ]
    plain, said = lines(typed)
    row = which_batch(plain, rows, MORNING)
    assert (row and row.name) == name
    assert "2: frames: 12 of 96 cuts done, last worked on today 09:30" in said.getvalue()
