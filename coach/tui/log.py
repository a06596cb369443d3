"""The log on the screen: the boards of a batch by their cuts, and every cut of the board that is looked at."""

from __future__ import annotations

from datetime import datetime

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import Screen
from textual.widgets import DataTable, Footer, Input, Static

from coach.record.events import undone_numbers
from coach.record.session import Session
from coach.record.store import now
from coach.sheets.board_table import BENCH_WORDS, BoardProgress, board_progress, total, when

MOST_ROWS = 500
"""More boards than this aren't put into the table at once; the filter finds the others."""


class LogScreen(Screen[None]):
    """Which boards are cut, when, and what is left."""

    BINDINGS = [
        Binding("escape,q", "close", "back", key_display="esc"),
        Binding("slash,f", "filter", "filter by board", key_display="/"),
    ]

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session = session
        self.boards = board_progress(session.job, session.events)
        self.shown: list[BoardProgress] = []

    def compose(self) -> ComposeResult:
        """The table, and the cuts of one board below it."""
        with Vertical(classes="page"):
            yield Static(id="log-title", markup=False)
            yield Input(placeholder="part of a board's label", id="filter", compact=True)
            yield DataTable(id="boards", cursor_type="row", zebra_stripes=True)
            yield Static(id="cuts", markup=False)
        yield Footer(show_command_palette=False, compact=True)

    def on_mount(self) -> None:
        """Fills the table."""
        cut, of = total(self.boards)
        walker = self.session.walker
        self.query_one("#log-title", Static).update(
            Text(self.session.name, "bold").append(
                f"   {cut} of {of} boards all cut, {walker.cuts_left_in_all} cuts left", "none"
            )
        )
        table = self._table()
        table.add_columns("board", "cuts", "ends", "last cut")
        self._fill("")
        table.focus()

    def action_close(self) -> None:
        """Back to where the log was opened from; out of the filter first."""
        if self.focused is self.query_one("#filter", Input):
            self._table().focus()
        else:
            self.dismiss()

    def action_filter(self) -> None:
        """Into the filter."""
        self.query_one("#filter", Input).focus()

    @on(Input.Changed, "#filter")
    def _filtered(self, event: Input.Changed) -> None:
        self._fill(event.value)

    @on(Input.Submitted, "#filter")
    def _filter_done(self) -> None:
        self._table().focus()

    @on(DataTable.RowHighlighted, "#boards")
    def _looked_at(self, event: DataTable.RowHighlighted) -> None:
        if 0 <= event.cursor_row < len(self.shown):
            self.query_one("#cuts", Static).update(self._cuts_of(self.shown[event.cursor_row]))

    def _table(self) -> DataTable[Text]:
        return self.query_one("#boards", DataTable)

    def _fill(self, wanted: str) -> None:
        table = self._table()
        table.clear()
        fits = [board for board in self.boards if wanted.casefold() in board.label.casefold()]
        self.shown = fits[:MOST_ROWS]
        moment = now()
        for board in self.shown:
            label = f"{board.label} ({board.notes})" if board.notes else board.label
            table.add_row(
                Text(label),
                Text(board.state),
                Text(", ".join(end.words() for end in board.ends)),
                Text(when(board.last_cut, moment) if board.last_cut else ""),
            )
        cuts = self.query_one("#cuts", Static)
        if not self.shown:
            cuts.update("No board's label holds that.")
        elif len(fits) > MOST_ROWS:
            cuts.update(f"{len(fits)} boards fit; the first {MOST_ROWS} are shown. A filter finds the others.")

    def _cuts_of(self, board: BoardProgress) -> Text:
        """Every step recorded for one board, oldest first, undone ones marked."""
        undone = undone_numbers(self.session.events)
        text = Text(no_wrap=True, overflow="ellipsis")
        for event in self.session.events:
            data = event.data
            if data.get("board") != board.label or "end" not in data:
                continue
            moment = datetime.fromisoformat(event.at)
            if event.kind == "cut":
                said = f"end {data['end']}, tail {data['tail']}, {data['faces']} side, setting {data['setting'] + 1}"
            else:
                said = f"end {data['end']} {next(word for kind, word in BENCH_WORDS.items() if kind == event.kind)}"
            taken_back = event.number in undone
            text.append(f"{moment:%Y-%m-%d %H:%M:%S}  {said}", "strike" if taken_back else "")
            text.append("  (undone)\n" if taken_back else "\n")
        return text if text.plain else Text("Nothing is cut on this board yet.")
