"""Changing a batch in its middle: what can be chosen, what is asked, and what is told before it is recorded."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence
from pathlib import Path

from coach.ground import places
from coach.ground.errors import CoachError
from coach.ground.names import clean_text
from coach.plan.steps import Step
from coach.record.batch import corrections
from coach.record.batch.corrections import Correction
from coach.record.batch.session import Session
from coach.shop.files import read_shop
from coach.shop.tools import Shop
from coach.talk.asking import Asker, Choice
from coach.talk.correcting import correct
from coach.telling.naming import board_name
from coach.telling.phrases import Saying, counted, reading_at

Said = str | None
"""What to say afterwards; None if nothing was changed."""


class Changing:
    """One person's way through the questions."""

    def __init__(self, asker: Asker, session: Session, saying: Saying, shop: Path | None) -> None:
        self.asker = asker
        self.session = session
        self.saying = saying
        self.shop = shop
        self._wanted = ""  # what was chosen, to be said with what comes of it

    async def ask(self) -> Said:
        """Asks what to change, tells what comes of it, and records it; CoachError if it can't be."""
        options = self._options(self.session.next())
        chosen = await self.asker.choose("What is to change?", [choice for choice, _ in options])
        if chosen is None:
            return None
        self._wanted = options[chosen][0].words
        return await options[chosen][1]()

    def _options(self, step: Step | None) -> list[tuple[Choice, Callable[[], Awaitable[Said]]]]:
        """All that can be changed, always in the same places and by the same letters; what can't be now as well."""
        walker = self.session.walker
        board = None if step is None else step.side.board if step.side is not None else step.board
        cutting = step is not None and step.side is not None
        label = "the board in hand" if board is None else self.session.job.board(board).label
        number = board or 0
        left = bool(walker.cuts_left_in_all)

        def told(change: Callable[[Session, int], Correction]) -> Callable[[], Awaitable[Said]]:
            return lambda: self._told(change(self.session, number))

        return [
            (Choice("w", "A cut wasn't made, or went wrong", bool(walker.done)), self._correct),
            (Choice("s", "A board is spoiled"), lambda: self._spoiled(board)),
            (Choice("n", f"Another name for {label}", board is not None), lambda: self._label(number)),
            (Choice("k", f"Skip {label}: last at this setting", cutting), told(corrections.skip)),
            (Choice("p", f"Put {label} aside until the end", cutting), told(corrections.put_aside)),
            (Choice("f", f"Finish {label} first, everywhere", cutting), told(corrections.finish_first)),
            (Choice("e", "Another setting first", left), self._setting_first),
            (Choice("t", "Take up one put aside", bool(walker.aside)), self._take_up),
            (Choice("a", "Add a board"), self._add),
            (Choice("o", "Leave a board out of the batch"), self._drop),
            (Choice("b", "Another blade, jig or fence"), self._change_shop),
        ]

    async def _spoiled(self, in_hand: int | None) -> Said:
        """Asks which board is spoiled: the one in hand, the one cut last, or another."""
        last = self.session.last_step()
        cut_last = None if last is None or last.side is None else last.side.board
        if cut_last == in_hand or cut_last in self.session.walker.out:
            cut_last = None
        which = [
            Choice(letter, words if number is None else f"{self.session.job.board(number).label}, {words}", can)
            for letter, words, number, can in (
                ("h", "the board in hand", in_hand, in_hand is not None),
                ("l", "the board cut last", cut_last, cut_last is not None),
                ("o", "another board", None, True),
            )
        ]
        chosen = 2
        if in_hand is not None or cut_last is not None:
            found = await self.asker.choose("Which board is spoiled?", which)
            if found is None:
                return None
            chosen = found
        number = (in_hand, cut_last, None)[chosen]
        if number is None:
            return await self._spoil_another()
        label = self.session.job.board(number).label
        self._wanted = f"{label} is spoiled"
        return await self._spoil(number)

    async def _correct(self) -> Said:
        return await correct(self.asker, self.session, self.saying, None)

    async def _spoil(self, number: int) -> Said:
        label = self.session.job.board(number).label
        reason = await self.asker.enter(f"{label} is spoiled. Why?", "", _reason)
        if reason is None:
            return None
        return await self._told(corrections.spoil(self.session, number, reason.strip()))

    async def _spoil_another(self) -> Said:
        number = await self._board("Which board is spoiled?", self._in_batch())
        return None if number is None else await self._spoil(number)

    async def _drop(self) -> Said:
        number = await self._board("Which board is left out?", self._in_batch())
        return None if number is None else await self._told(corrections.drop(self.session, number))

    async def _take_up(self) -> Said:
        number = await self._board("Which board is taken up again?", sorted(self.session.walker.aside))
        return None if number is None else await self._told(corrections.take_up(self.session, number))

    async def _label(self, number: int) -> Said:
        board = self.session.job.board(number)

        def check(text: str) -> object:
            return corrections.label(self.session, number, text)

        text = await self.asker.enter(f"What is {board.label} called from now on?", board.label, check)
        if text is None or text.strip() == board.label:
            return None
        return self._record(corrections.label(self.session, number, text))

    async def _setting_first(self) -> Said:
        walker = self.session.walker
        settings = [index for index in range(len(walker.settings.fence_mm)) if walker.cuts_left(index)]
        words = [
            f"setting {index + 1}: {reading_at(walker, index, self.saying)}, "
            f"{counted(walker.cuts_left(index), 'cut')} left"
            for index in settings
        ]
        chosen = await self.asker.choose("Which setting first?", words)
        return None if chosen is None else await self._told(corrections.set_first(self.session, settings[chosen]))

    async def _add(self) -> Said:
        job = self.session.job
        like: dict[int, int] = {}
        for board in job.boards:
            like.setdefault(board.pattern, board.number)
        first = {  # mended boards have patterns of their own, which a new board doesn't take after
            (job.patterns[pattern].part.label, job.patterns[pattern].hand): number
            for pattern, number in reversed(like.items())
        }
        kinds = [
            f"{label}{f' ({hand})' if hand is not None else ''}{spare}"
            for label, hand in first
            for spare in ("", ", as a spare")
        ]
        chosen = await self.asker.choose("Another board of which kind?", kinds)
        if chosen is None:
            return None
        number = list(first.values())[chosen // 2]
        _, correction = corrections.add_boards(self.session, number, 1, spare=chosen % 2 == 1)
        return await self._told(correction)

    async def _change_shop(self) -> Said:
        known = self.shop or places.shop_file()
        question = "The shop file that says what is in use from now on:"
        path = await self.asker.enter(question, str(known), _shop_at)
        if path is None:
            return None
        return await self._told(corrections.change_shop(self.session, _shop_at(path), self.saying.length))

    async def _told(self, correction: Correction) -> Said:
        """Tells what comes of it, and records it if the person agrees."""
        told = (f"{self._wanted}:", *correction.lines)
        choices = [Choice("y", "Yes"), Choice("n", "No, leave it as it was")]
        chosen = await self.asker.choose("Shall it be so?", choices, told)
        return self._record(correction) if chosen == 0 else None

    def _record(self, correction: Correction) -> str:
        self.session.change(correction.events)
        return "\n".join(correction.lines) or "Recorded."

    def _in_batch(self) -> list[int]:
        walker = self.session.walker
        return [board.number for board in self.session.job.boards if board.number not in walker.out]

    async def _board(self, question: str, numbers: Sequence[int]) -> int | None:
        labels = [board_name(self.session.walker, number) for number in numbers]
        chosen = await self.asker.choose(question, labels)
        return None if chosen is None else numbers[chosen]


def _shop_at(path: str) -> Shop:
    return read_shop(Path(path).expanduser())


def _reason(text: str) -> None:
    why = clean_text(text)
    if why:
        raise CoachError(f"the reason {why}")
