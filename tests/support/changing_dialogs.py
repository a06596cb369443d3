"""The conversation about a change in the app: choices taken and words typed in the dialogs that come up."""

from __future__ import annotations

from support.app_screens import Shown
from support.small_batches import BEFORE_FIRST_CUT, go
from support.small_jobs import two_tails
from textual.widgets import Input

from coach.plan.deciding.decide import decide
from coach.record.batch.session import Session, start
from coach.record.disk.store import Store
from coach.tui.dialogs.asking import Ask, Choose
from coach.tui.walk.screen import WalkScreen

WRONG = "A cut wasn't made, or went wrong"
NOTHING = "Nothing was changed."


def three_boards(store: Store) -> Session:
    """Three boards of two tails, one a spare, with three cuts done on the first."""
    boards = two_tails(boards=2, spares=1, tolerance_mm=0.2)
    begun = start(store, "drawers", boards, decide(boards), "mm")
    go(begun, BEFORE_FIRST_CUT + 3)
    return begun


async def choose(shown: Shown, *choices: str) -> None:
    """Takes choices one after another, each by how it begins, in the dialogs that come up."""
    for choice in choices:
        await shown.until(lambda wanted=choice: place(shown, wanted) is not None, choice)  # type: ignore[misc]
        found = place(shown, choice)
        assert found is not None
        shown.seconds.passed += 1
        screen = shown.screen
        assert isinstance(screen, Choose)
        letter = screen.letters[found]
        await shown.pilot.press(*([letter] if letter else [*["down"] * found, "enter"]))
        await shown.pilot.pause()


def place(shown: Shown, choice: str) -> int | None:
    """Where in the list on the screen a choice stands, by how it begins."""
    screen = shown.screen
    if not isinstance(screen, Choose) or not screen.is_mounted:
        return None
    return next((index for index, words in enumerate(screen.choices) if words.startswith(choice)), None)


async def menu(shown: Shown, *choices: str) -> None:
    """Opens the menu and takes `choices`."""
    await shown.press("c")
    await choose(shown, *choices)


async def answer(shown: Shown, text: str) -> None:
    """Types `text` instead of what stands in the field, and enter."""
    await shown.until_on(Ask)
    field = shown.screen.query_one(Input)
    field.value = ""
    await shown.paste(text)
    await shown.pilot.press("enter")


async def back(shown: Shown, *said: str) -> None:
    """Waits for the walk, which says so."""
    await shown.until_on(WalkScreen)
    for words in said:
        await shown.until_shown(words)


def kinds(session: Session, after: int) -> list[str]:
    """The kinds of the events after the first so many."""
    return [event.kind for event in session.events[after:]]
