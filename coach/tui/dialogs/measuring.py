"""Asks for what was measured on the scrap, from one edge or from both."""

from __future__ import annotations

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.widgets import Footer, Input, Static

from coach.ground.errors import CoachError
from coach.plan.steps import Step
from coach.record.batch.session import Session
from coach.talk.measured import Measured, ScrapCut
from coach.telling.phrases import Saying
from coach.tui.dialogs.asking import Field
from coach.tui.steady import SteadyDialog


class MeasureScreen(SteadyDialog[Measured | None]):
    """Closes with what was measured, or None."""

    CSS_PATH = "../screens.tcss"
    BINDINGS = [
        Binding("tab", "app.focus_next", "next field", key_display="tab"),
        Binding("escape", "close", "back to the scrap cut"),
    ]

    def __init__(self, session: Session, step: Step, saying: Saying) -> None:
        super().__init__()
        self.saying = saying
        self.scrap = ScrapCut.at(session, step, saying, "escape")

    def compose(self) -> ComposeResult:
        """One field for the mark, or two for a scrap cut from both edges."""
        with VerticalScroll(id="dialog"):
            yield Static(f"The scrap cut should stand at {self.saying.length(self.scrap.expected_mm)}.", markup=False)
            yield Static(f"Measured from the edge to the {self.scrap.side} side of the kerf, at the end:")
            yield Field(id="mark", placeholder=f"such as {self.saying.length(self.scrap.expected_mm)}", compact=True)
            yield Static("Or cut from both edges (the error shows twice as large). The scrap's width:")
            yield Field(id="width", placeholder=f"such as {self.saying.length(100.0)}", compact=True)
            yield Static("and the wood left between the two kerfs, at the end:")
            yield Field(id="left", placeholder="such as what is left of it", compact=True)
            yield Static(id="wrong", markup=False)
        yield Footer(show_command_palette=False, compact=True)

    def on_mount(self) -> None:
        """The first field is the one most people need."""
        if not self.children:
            return  # it was closed while it opened
        self.query_one("#mark", Input).focus()

    def action_close(self) -> None:
        """Nothing was measured."""
        self.dismiss(None)

    @on(Input.Submitted)
    def action_take(self) -> None:
        """Takes what was typed, if it makes sense."""
        try:
            found = self._found()
        except CoachError as error:
            self._refuse(str(error))
            return
        if found is None:
            self._refuse("Type what was measured, or press escape if the cut is right.")
            return
        self.dismiss(found)

    def _refuse(self, why: str) -> None:
        """Says why, right below the field that is typed in, where a small window shows it too."""
        wrong = self.query_one("#wrong", Static)
        wrong.update(why)
        if isinstance(self.focused, Input):
            self.query_one("#dialog").move_child(wrong, after=self.focused)
        wrong.call_after_refresh(wrong.scroll_visible, animate=False)

    def _found(self) -> Measured | None:
        typed = {name: self.query_one(f"#{name}", Input).value.strip() for name in ("mark", "width", "left")}
        if typed["mark"] and (typed["width"] or typed["left"]):
            raise CoachError("Both ways are filled in; expected the first field alone, or the other two.")
        if typed["mark"]:
            return self.scrap.from_one_edge(typed["mark"])
        if typed["width"] and typed["left"]:
            return self.scrap.from_both_edges(typed["width"], typed["left"])
        if typed["width"] or typed["left"]:
            raise CoachError("A cut from both edges needs the scrap's width and the wood left.")
        return None
