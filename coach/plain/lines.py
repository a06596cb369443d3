"""Whole lines said and whole lines read: short, without a code or a sign that a screen reader or a log trips over."""

from __future__ import annotations

from collections.abc import Callable, Coroutine, Iterator, Sequence
from io import TextIOWrapper
from typing import Any, TextIO, TypeVar

from rich.cells import cell_len, chop_cells

from coach.ground.errors import CoachError
from coach.talk.asking import Choice, Choices, letter_of, words_of
from coach.talk.signs import SPELLED

Answer = TypeVar("Answer")

COLUMNS = 78
"""The longest line."""
MOST_CHOICES = 12
"""How many choices are said at once: nobody keeps more in mind."""
LONGEST_TYPED = 1000
LONGEST_QUOTED = 40
BACK, MORE = ".", "+"


class Lines:
    """Says lines and reads lines, and so asks the questions of a conversation (an `Asker`).

    Args:
        plain: whether the signs in our own words that ASCII lacks are to be spelled.
    """

    def __init__(self, source: TextIO, target: TextIO, *, plain: bool) -> None:
        self._source = source
        self._target = target
        self._plain = plain
        if isinstance(source, TextIOWrapper):
            source.reconfigure(errors="replace")

    def say(self, *texts: str) -> None:
        """Says each text in lines of at most 78 columns; an empty text is an empty line.

        Raises:
            CoachError: they can't be written, to a full disk for instance.
        """
        for text in texts:
            for line in text.split("\n"):
                self._write(wrapped(self._clean(line)))

    def say_uncut(self, line: str) -> None:
        """Says a line that is to be copied, however long it is; CoachError as for `say`."""
        self._write([self._clean(line)])

    def read(self) -> str:
        """The next line without the blanks around it; EOFError if none comes any more."""
        try:
            line = self._source.readline(LONGEST_TYPED)
            rest = line
            while len(rest) == LONGEST_TYPED and not rest.endswith("\n"):  # one line is one answer, however long
                rest = self._source.readline(LONGEST_TYPED)
        except OSError:  # the terminal has gone
            line = ""
        if not line:
            raise EOFError
        return line.strip()

    async def choose(self, question: str, choices: Choices, told: Sequence[str] = ()) -> int | None:
        """The number of the choice, from 0, or None."""
        self.say(question, *told)
        letters = {letter: number for number, choice in enumerate(choices) if (letter := letter_of(choice))}
        said = self._offer(choices, 0)
        while (typed := self.read()) not in ("", BACK):
            number = int(typed) if typed.isascii() and typed.isdigit() else 0
            if typed == MORE and said < len(choices):
                said = self._offer(choices, said)
            elif typed.casefold() in letters:
                return letters[typed.casefold()]
            elif 1 <= number <= len(choices) and not letters:
                return number - 1
            else:
                self.say(f"Found {quoted(typed)}; expected {_expected(choices)}, or Enter alone to go back.")
        return None

    async def enter(self, question: str, value: str, check: Callable[[str], object]) -> str | None:
        """What was typed once `check` takes it, or None."""
        back = f"Enter alone takes {value}; a full stop alone goes back." if value else "Enter alone goes back."
        self.say(question, back)
        while True:
            typed = self.read() or value or BACK
            if typed == BACK:
                return None
            try:
                check(typed)
            except CoachError as error:
                self.say(str(error), "Type it again.", back)
            else:
                return typed

    def _offer(self, choices: Choices, said: int) -> int:
        """Says the next few choices with their letters or numbers, those that can be taken; returns how many have been
        said by now."""
        upto = min(len(choices), said + MOST_CHOICES)
        for number in range(said, upto):
            choice = choices[number]
            sign = letter_of(choice) if isinstance(choice, Choice) else str(number + 1)
            if sign:
                self.say(f"{sign}: {words_of(choice)}")
        more = f"{MORE} for more, " if upto < len(choices) else ""
        self.say(f"Type {_expected(choices)}; {more}Enter alone goes back.")
        return upto

    def _write(self, lines: Sequence[str]) -> None:
        try:
            self._target.write("".join(f"{line}\n" for line in lines))
            self._target.flush()
        except BrokenPipeError:  # nobody listens any more: the command line knows what to do
            raise
        except OSError as error:
            raise CoachError(f"what is said can't be written: {error.strerror}; all steps so far are saved") from error

    def _clean(self, text: str) -> str:
        """`text` without what a terminal could take for a command, in signs that it has."""
        if self._plain:
            text = text.translate(SPELLED)
        text = "".join(sign if sign.isprintable() else "?" for sign in text)
        encoding = self._target.encoding  # None in memory
        return text.encode(encoding, "replace").decode(encoding) if encoding else text


def answer(conversation: Coroutine[Any, Any, Answer]) -> Answer:
    """The outcome of a conversation in lines, which waits for nothing but the lines that it reads itself."""
    try:
        conversation.send(None)
    except StopIteration as end:
        outcome: Answer = end.value
        return outcome
    raise AssertionError("a conversation in lines waited for something else")


def wrapped(text: str, columns: int = COLUMNS) -> list[str]:
    """`text` in lines of at most so many columns, broken at blanks where that can be; at least one."""
    lines = [""]
    for word in text.split():
        for piece in _pieces(word, columns):
            if not lines[-1]:
                lines[-1] = piece
            elif cell_len(lines[-1]) + 1 + cell_len(piece) <= columns:
                lines[-1] += f" {piece}"
            else:
                lines.append(piece)
    return lines


def quoted(typed: str) -> str:
    """What was typed, cut short, for a message."""
    return f"“{typed}”" if len(typed) <= LONGEST_QUOTED else f"“{typed[:LONGEST_QUOTED]}…”"


def _pieces(word: str, columns: int) -> Iterator[str]:
    yield from [word] if cell_len(word) <= columns else chop_cells(word, columns)


def _expected(choices: Choices) -> str:
    letters = [letter for choice in choices if (letter := letter_of(choice))]
    if letters:
        return ", ".join(letters[:-1]) + (" or " if letters[:-1] else "") + letters[-1]
    return "1" if len(choices) == 1 else f"a number from 1 to {len(choices)}"
