"""The keys, and the habits of a good cut."""

from __future__ import annotations

from rich.table import Table
from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.widgets import Footer, Static

from coach.ground import places
from coach.preferences import Action
from coach.talk.context import Context
from coach.talk.pace import MOST_UNASKED_BOARDS
from coach.telling.phrases import sample_shop_note
from coach.trade.reminders import MANUAL, cut_habits
from coach.tui.keys import KeyMap
from coach.tui.steady import SteadyScreen

DOES = {
    Action.DONE: "this step is done",
    Action.UNDO: "take back the latest step, or at a quicker pace all that the last key completed; "
    "again, the one before it",
    Action.MEASURED: "at a scrap cut: type what you measured",
    Action.PACE: "what one key completes: a step, or all cuts of a board or of a setting (of more than "
    f"{MOST_UNASKED_BOARDS} boards only when it is pressed twice)",
    Action.CHANGE: "change: a cut that went wrong or wasn't made; a board spoiled, added, skipped, put aside or "
    "finished first; another setting first; another blade or jig",
    Action.LOG: "which boards are cut; enter there corrects a board's cuts",
    Action.LEAVE: "leave; everything is saved already",
}
THEME = ("ctrl+t", "dark or light")
GUARD = (
    "A step must have been on the screen for a moment before a key completes it (twice as long for several cuts), and "
    "a key held down counts once."
)
ESTIMATE = "The time left is an estimate for the cuts alone, from your own last ones in this batch, without breaks."


class HelpScreen(SteadyScreen[None]):
    """Help for the walk."""

    CSS_PATH = "../screens.tcss"
    BINDINGS = [Binding("escape,q,question_mark,f1,space,enter", "close", "back", key_display="esc")]

    def __init__(self, context: Context, keys: KeyMap, backing_out: str, *, sample_shop: bool) -> None:
        super().__init__()
        self.context = context
        self.keys = keys
        self.backing_out = backing_out
        self.sample_shop = sample_shop

    def compose(self) -> ComposeResult:
        """Keys first, then what belongs to a cut."""
        with VerticalScroll(classes="page"):
            if self.sample_shop:
                yield Static(sample_shop_note(), markup=False)
            yield Static("Keys", classes="heading")
            yield Static(self._keys())
            yield Static(GUARD, markup=False)
            yield Static(self._own(), markup=False)
            yield Static("A good cut", classes="heading")
            yield Static("\n".join(cut_habits(self.backing_out, long_board=True)), markup=False)
            yield Static(MANUAL, classes="heading", markup=False)
            yield Static(ESTIMATE, markup=False)
        yield Footer(show_command_palette=False, compact=True)

    def on_key(self, event: events.Key) -> None:
        """The person's own keys for help and for leaving go back as well."""
        if self.keys.action(event.key, event.character) in (Action.HELP, Action.LEAVE):
            event.stop()
            event.prevent_default()
            self.action_close()

    def _keys(self) -> Table:
        """What each key does, wrapped beside it."""
        table = Table.grid(padding=(0, 2))
        for action, does in DOES.items():
            others = self.keys.others(action)
            also = f" (also {', '.join(others)})" if others else ""
            table.add_row(Text(self.keys.key(action), "bold"), Text(does + also))
        table.add_row(Text(THEME[0], "bold"), Text(THEME[1]))
        return table

    def _own(self) -> str:
        """Where keys of one's own are set up, and what is wrong with them."""
        if self.context.mistakes:
            return "\n".join(("The usual keys hold, since your own can't be used:", *self.context.mistakes))
        return f"Keys of your own, a bell, a longer wait: {places.walk_file()}"

    def action_close(self) -> None:
        """Back to the walk."""
        self.dismiss()
