"""Small questions that a screen asks: choose one, type something, yes or no."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Footer, Input, OptionList, Static
from textual.widgets.option_list import Option

from coach.errors import CoachError


class Choose(ModalScreen[int | None]):
    """Closes with the number of the choice, from 0, or None."""

    CSS_PATH = "screens.tcss"
    BINDINGS = [Binding("escape", "close", "no, back")]

    def __init__(self, question: str, choices: Sequence[str], told: Sequence[str] = ()) -> None:
        super().__init__()
        self.question = question
        self.choices = list(choices)
        self.told = list(told)

    def compose(self) -> ComposeResult:
        """The question, what there is to know, and the choices."""
        with VerticalScroll(classes="dialog"):
            yield Static(self.question, classes="question", markup=False)
            if self.told:
                yield Static("\n".join(self.told), markup=False)
            yield OptionList(*(Option(Content(choice)) for choice in self.choices), classes="choices")
        yield Footer(show_command_palette=False, compact=True)

    def on_mount(self) -> None:
        """The first choice is the likeliest."""
        choices = self.query_one(OptionList)
        choices.highlighted = 0
        choices.focus()

    @on(OptionList.OptionSelected)
    def _chosen(self, event: OptionList.OptionSelected) -> None:
        self.dismiss(event.option_index)

    def action_close(self) -> None:
        """None of them."""
        self.dismiss(None)


class Ask(ModalScreen[str | None]):
    """Closes with what was typed once `check` takes it, or None."""

    CSS_PATH = "screens.tcss"
    BINDINGS = [Binding("escape", "close", "no, back")]

    def __init__(self, question: str, value: str, check: Callable[[str], object]) -> None:
        super().__init__()
        self.question = question
        self.value = value
        self.check = check

    def compose(self) -> ComposeResult:
        """The question, a field, and room for what is wrong with it."""
        with VerticalScroll(classes="dialog"):
            yield Static(self.question, classes="question", markup=False)
            yield Input(self.value, compact=True)
            yield Static(classes="wrong", markup=False)
        yield Footer(show_command_palette=False, compact=True)

    def on_mount(self) -> None:
        """Ready to type."""
        self.query_one(Input).focus()

    @on(Input.Submitted)
    def _typed(self, event: Input.Submitted) -> None:
        try:
            self.check(event.value)
        except CoachError as error:
            self.query_one(".wrong", Static).update(str(error))
            return
        self.dismiss(event.value)

    def action_close(self) -> None:
        """Nothing was typed."""
        self.dismiss(None)
