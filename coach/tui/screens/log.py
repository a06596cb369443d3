"""The log on the screen: the boards of a batch by their cuts, and every cut of the board that is looked at."""

from __future__ import annotations

from datetime import datetime
from functools import partial

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.widgets import DataTable, Footer, Input, Static

from coach.ground.errors import CoachError
from coach.plan.steps import StepKind
from coach.record.batch.session import Session
from coach.record.rows import Event
from coach.talk.remarks import refused
from coach.telling.log.boards import BENCH_WORDS, BoardProgress, board_progress, total, when
from coach.telling.phrases import SAMPLE_SHOP, Saying, counted, sample_shop_note
from coach.telling.steps.ends import board_words
from coach.tui.steady import SteadyScreen

ROOMY, LEAST_FOR_ENDS = 76, 54
"""Columns from which a row has all the room that it wants, and from which the ends have a column."""
MOST_ROWS = 500
"""More boards than this aren't put into the table at once; the filter finds the others."""


class Boards(DataTable[Text]):
    """A table whose enter stands among the keys."""

    BINDINGS = [Binding("enter", "select_cursor", "correct a cut")]


class LogScreen(SteadyScreen[None]):
    """Which boards are cut, when, and what is left."""

    CSS_PATH = "../screens.tcss"
    BINDINGS = [
        Binding("escape,q", "close", "back", key_display="esc"),
        Binding("tab", "app.focus_next", "its cuts", key_display="tab"),
        Binding("slash,f", "filter", "filter by board", key_display="/"),
    ]

    def __init__(self, session: Session, moment: datetime) -> None:
        super().__init__()
        self.session = session
        self.moment = moment
        self.boards = board_progress(session.walker, session.events)
        self.shown: list[BoardProgress] = []
        self._fitted = 0

    def compose(self) -> ComposeResult:
        """The table, and the cuts of one board below it."""
        with Vertical(classes="page"):
            yield Static(id="log-title", markup=False)
            yield Input(placeholder="part of a board's label", id="filter", compact=True)
            said = Static(id="said", markup=False)
            said.display = False
            yield said
            yield Boards(id="boards", cursor_type="row", zebra_stripes=True)
            with VerticalScroll(id="below"):
                yield Static(id="cuts", markup=False)
        yield Footer(show_command_palette=False, compact=True)

    def on_mount(self) -> None:
        """Fills the table."""
        if not self.children:
            return  # it was closed while it opened
        self._fill("")
        self._table().focus()

    def on_resize(self) -> None:
        """The columns share what width there is."""
        if self.children and self._wide() != self._fitted:
            self._fill(self.query_one("#filter", Input).value)

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

    @on(DataTable.RowSelected, "#boards")
    def _to_correct(self, event: DataTable.RowSelected) -> None:
        if 0 <= event.cursor_row < len(self.shown):
            self.run_worker(partial(self._correct, self.shown[event.cursor_row].number), exclusive=True)  # type: ignore[arg-type]

    async def _correct(self, board: int) -> None:
        from coach.talk.correcting import correct
        from coach.tui.dialogs.asking import Dialogs

        try:
            said = await correct(Dialogs(self.app), self.session, self._saying(), board)
        except CoachError as error:
            said = refused(error)
        self.boards = board_progress(self.session.walker, self.session.events)
        self._fill(self.query_one("#filter", Input).value)
        row = next((row for row, shown in enumerate(self.shown) if shown.number == board), 0)
        self._table().move_cursor(row=row, animate=False)
        told = self.query_one("#said", Static)
        told.update(said or "")
        told.display = bool(said)

    @on(DataTable.RowHighlighted, "#boards")
    def _looked_at(self, event: DataTable.RowHighlighted) -> None:
        if 0 <= event.cursor_row < len(self.shown):
            self.query_one("#cuts", Static).update(self._cuts_of(self.shown[event.cursor_row]))

    def _saying(self) -> Saying:
        return Saying(self.session.unit, self.session.job.shop.fence.graduation)

    def _table(self) -> Boards:
        return self.query_one("#boards", Boards)

    def _fill(self, wanted: str) -> None:
        table = self._table()
        table.clear(columns=True)
        self._fitted = self._wide()
        for heading, width in self._columns():
            table.add_column(heading, width=width)
        fits = [board for board in self.boards if wanted.casefold() in board.label.casefold()]
        self.shown = fits[:MOST_ROWS]
        for board in self.shown:
            label = f"{board.label} ({board.notes})" if board.notes else board.label
            cells = [
                Text(label, overflow="ellipsis", no_wrap=True),
                Text(board.state),
                Text(", ".join(end.words() for end in board.ends)),
                Text(when(board.last_cut, self.moment) if board.last_cut else ""),
            ]
            table.add_row(*(cells if self._fitted > LEAST_FOR_ENDS else [*cells[:2], cells[3]]))
        if not self.shown:
            self.query_one("#cuts", Static).update("No board's label holds that.")
        self._title(len(fits))

    def _wide(self) -> int:
        return self.app.size.width

    def _columns(self) -> list[tuple[str, int | None]]:
        """The columns, with the width of those that must give way: the last one is always seen."""
        if self._fitted >= ROOMY:
            return [("board", None), ("cuts", None), ("ends", None), ("last cut", None)]
        if self._fitted > LEAST_FOR_ENDS:
            return [("board", self._fitted - 49), ("cuts", 9), ("ends", 18), ("last cut", None)]
        return [("board", max(6, self._fitted - 30)), ("cuts", 9), ("last cut", None)]

    def _title(self, fits: int) -> None:
        """How far the batch is, and whether there are more boards than are shown."""
        cut, of = total(self.boards)
        left = self.session.walker.cuts_left_in_all
        title = Text().append(self.session.name, "bold")
        title.append(f"   {cut} of {counted(of, 'board')} all cut, {counted(left, 'cut')} left")
        if fits > MOST_ROWS:
            title.append(f"\n{fits} boards fit; the first {MOST_ROWS} are shown. A filter finds the others.")
        if self.session.job.shop.sample:
            roomy = self.app.size.width >= 80 and self.app.size.height >= 24
            title.append(f"\n{sample_shop_note() if roomy else SAMPLE_SHOP}", "italic")
        self.query_one("#log-title", Static).update(title)

    def _cuts_of(self, board: BoardProgress) -> Text:
        """Every step recorded for one board, oldest first, undone ones marked."""
        undone, recorded = self.session.undone, False
        text = Text(no_wrap=True, overflow="ellipsis")
        for line in board_words(self.session.job, board.number, self._saying()):
            text.append(f"{line}\n", "italic")
        for event in self.session.events:
            data = event.data
            if data.get("number") != board.number or "end" not in data:
                continue
            recorded = True
            moment = datetime.fromisoformat(event.at)
            said = _event_words(event)
            taken_back = event.number in undone
            text.append(f"{moment:%Y-%m-%d %H:%M:%S}  {said}", "strike" if taken_back else "")
            text.append("  (undone)\n" if taken_back else "\n")
        if not recorded:
            text.append("Nothing is cut on this board yet.")
        return text


def _event_words(event: Event) -> str:
    """What was recorded at one end of a board."""
    data = event.data
    side = f"end {data['end']}, tail {data['tail']}, {data['faces']} side" if "tail" in data else f"end {data['end']}"
    match event.kind:
        case StepKind.CUT:
            return f"{side}, setting {data['setting'] + 1}"
        case "wrong":
            return f"{side}: {data['mistake']}; {data['verdict']}"
        case "mend":
            return f"{side}: other marks, so that the board serves"
    return f"{side} {BENCH_WORDS[StepKind(event.kind)]}"
