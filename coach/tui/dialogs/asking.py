"""Small questions that a screen asks: choose one, type something, yes or no."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar

from textual import events, on
from textual.app import App, ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.widgets import Footer, Input, OptionList, Static
from textual.widgets.option_list import Option

from coach.ground.errors import CoachError
from coach.talk.asking import Choice, Choices, words_of
from coach.talk.keyguard import REPEAT_S
from coach.tui.base import OwnApp
from coach.tui.steady import SteadyDialog

Answer = TypeVar("Answer")


class ChoiceList(OptionList):
    """A list whose enter stands among the keys."""

    BINDINGS = [Binding("enter,space", "select", "take it", key_display="enter")]


class Field(Input):
    """A field whose enter stands among the keys."""

    BINDINGS = [Binding("enter", "submit", "take it")]


class _Dialog(SteadyDialog[Answer | None]):
    """A question, what there is to know about it in a part of its own that scrolls, and an escape that answers None."""

    CSS_PATH = "../screens.tcss"
    VERTICAL_BREAKPOINTS = [(0, "-low"), (20, "-high")]
    BINDINGS = [
        Binding("escape", "close", "no, back"),
        Binding("pagedown", "read(1)", "read on", priority=True),
        Binding("pageup", "read(-1)", show=False, priority=True),
    ]

    def told(self) -> VerticalScroll:
        """The part that scrolls."""
        return self.query_one(".told", VerticalScroll)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool:  # noqa: ARG002 - as Textual calls it
        """There is nothing to read on where everything is seen; the keys are the list's then."""
        return action != "read" or (self.is_mounted and self.told().max_scroll_y > 0)

    def on_resize(self) -> None:
        """What is seen in whole depends on the size."""
        self.call_after_refresh(self.refresh_bindings)

    def action_read(self, pages: int) -> None:
        """Scrolls what there is to know."""
        told = self.told()
        told.scroll_relative(y=pages * max(1, told.size.height - 1), animate=False)

    def action_close(self) -> None:
        """No answer."""
        self.dismiss(None)


class Choose(_Dialog[int]):
    """Closes with the number of the choice, from 0, or None."""

    def __init__(self, question: str, choices: Choices, told: Sequence[str] = ()) -> None:
        super().__init__()
        self.question = question
        self.choices = [words_of(choice) for choice in choices]
        self.letters = [choice.letter if isinstance(choice, Choice) else "" for choice in choices]
        self.possible = [isinstance(choice, str) or choice.possible for choice in choices]
        self.lines = list(told)
        self._last_key = 0.0
        self.set_class(bool(told), "telling")

    def compose(self) -> ComposeResult:
        """The question, what there is to know, and the choices."""
        with Vertical(classes="dialog"):
            yield Static(self.question, classes="question", markup=False)
            with VerticalScroll(classes="told", can_focus=False):
                yield Static("\n".join(self.lines), markup=False)
            yield ChoiceList(*self._options(), classes="choices")
        yield Footer(show_command_palette=False, compact=True)

    def on_mount(self) -> None:
        """The first choice is the likeliest."""
        if not self.children:
            return  # it was closed while it opened
        choices = self.query_one(ChoiceList)
        choices.highlighted = self.possible.index(True) if True in self.possible else None
        choices.focus()
        self._last_key = self._clock()

    def on_key(self, event: events.Key) -> None:
        """A choice's own letter takes it."""
        letter = (event.character or "").casefold()
        if letter and letter in self.letters:
            event.stop()
            event.prevent_default()
            place = self.letters.index(letter)
            if self.possible[place]:
                self._take(place)

    def _options(self) -> Iterator[Option]:
        for letter, words, possible in zip(self.letters, self.choices, self.possible, strict=True):
            said = words if possible else f"{words} (not now)"
            shown = Content.assemble((letter, "bold"), f"  {said}") if letter else Content(said)
            yield Option(shown, disabled=not possible)

    @on(OptionList.OptionSelected)
    def _chosen(self, event: OptionList.OptionSelected) -> None:
        self._take(event.option_index)

    def _take(self, place: int) -> None:
        now = self._clock()
        held = now - self._last_key < REPEAT_S  # a key held down must not run through one question after another
        self._last_key = now
        if not held:
            self.dismiss(place)

    def _clock(self) -> float:
        assert isinstance(self.app, OwnApp)
        return self.app.context.clock()


class Ask(_Dialog[str]):
    """Closes with what was typed once `check` takes it, or None."""

    def __init__(self, question: str, value: str, check: Callable[[str], object]) -> None:
        super().__init__()
        self.question = question
        self.value = value
        self.check = check

    def compose(self) -> ComposeResult:
        """The question, a field, and room for what is wrong with it."""
        with Vertical(classes="dialog"):
            yield Static(self.question, classes="question", markup=False)
            yield Field(self.value, compact=True)
            with VerticalScroll(classes="told", can_focus=False):
                yield Static(classes="wrong", markup=False)
        yield Footer(show_command_palette=False, compact=True)

    def on_mount(self) -> None:
        """Ready to type."""
        if not self.children:
            return  # it was closed while it opened
        self.query_one(Field).focus()

    @on(Input.Submitted)
    def _typed(self, event: Input.Submitted) -> None:
        try:
            self.check(event.value)
        except CoachError as error:
            self.query_one(".wrong", Static).update(str(error))
            self.told().scroll_home(animate=False)
            self.call_after_refresh(self.refresh_bindings)
            return
        self.dismiss(event.value)


@dataclass(frozen=True, slots=True)
class Dialogs:
    """Asks a conversation's questions in dialogs on top of the app's screen."""

    app: App[None]

    async def choose(self, question: str, choices: Choices, told: Sequence[str] = ()) -> int | None:
        """The number of the choice, from 0, or None."""
        return await self.app.push_screen_wait(Choose(question, choices, told))

    async def enter(self, question: str, value: str, check: Callable[[str], object]) -> str | None:
        """What was typed once `check` takes it, or None."""
        return await self.app.push_screen_wait(Ask(question, value, check))
