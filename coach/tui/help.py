"""The keys, and the habits of a good cut."""

from __future__ import annotations

from rich.table import Table
from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.screen import Screen
from textual.widgets import Footer, Static

from coach.sheets.saying import sample_shop_note
from coach.trade.reminders import MANUAL, cut_habits

KEYS = (
    ("space", "this step is done; so do enter, right arrow and page down, which foot pedals and page-turners send"),
    ("u", "take back the latest step, again for the one before it; so does backspace"),
    ("m", "at a scrap cut: type what you measured"),
    (
        "c",
        "change: a cut that went wrong or wasn't made; a board spoiled, added, skipped, put aside or finished first; "
        "another setting first; another blade or jig",
    ),
    ("l", "which boards are cut; enter there corrects a board's cuts"),
    ("ctrl+t", "dark or light"),
    ("q", "leave; everything is saved already"),
)
GUARD = "A step must have been on the screen for a moment before a key completes it, and a key held down counts once."


class HelpScreen(Screen[None]):
    """Help for the walk."""

    CSS_PATH = "screens.tcss"
    BINDINGS = [Binding("escape,q,question_mark,f1,space,enter", "close", "back", key_display="esc")]

    def __init__(self, backing_out: str, *, sample_shop: bool) -> None:
        super().__init__()
        self.backing_out = backing_out
        self.sample_shop = sample_shop

    def compose(self) -> ComposeResult:
        """Keys first, then what belongs to a cut."""
        with VerticalScroll(classes="page"):
            yield Static("Keys", classes="heading")
            yield Static(self._keys())
            yield Static(GUARD, markup=False)
            yield Static("A good cut", classes="heading")
            yield Static("\n".join(cut_habits(self.backing_out, long_board=True)), markup=False)
            yield Static(MANUAL, classes="heading", markup=False)
            if self.sample_shop:
                yield Static(sample_shop_note(), markup=False)
        yield Footer(show_command_palette=False, compact=True)

    def _keys(self) -> Table:
        """What each key does, wrapped beside it."""
        table = Table.grid(padding=(0, 2))
        for key, does in KEYS:
            table.add_row(Text(key, "bold"), Text(does))
        return table

    def action_close(self) -> None:
        """Back to the walk."""
        self.dismiss()
