"""Home: batches under way, layouts to start one from, and the way to the log."""

from __future__ import annotations

from pathlib import Path

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.widgets import Footer, OptionList, Static
from textual.widgets.option_list import Option

from coach.ground import places
from coach.ground.clean import shown_path
from coach.ground.errors import CoachError
from coach.record.batch.session import Session
from coach.record.rows import BatchRow
from coach.talk.context import Context
from coach.telling.log.boards import when
from coach.telling.phrases import counted, sample_shop_note
from coach.tui.beside import look_for_damage
from coach.tui.home.found import Found, find_layouts
from coach.tui.paint import bar
from coach.tui.steady import SteadyScreen

FINISHED_SHOWN = 8


class Entries(OptionList):
    """A list whose enter stands among the keys."""

    BINDINGS = [Binding("enter", "select", "open")]


class HomeScreen(SteadyScreen[None]):
    """Where one begins."""

    CSS_PATH = "../screens.tcss"
    BINDINGS = [
        Binding("space", "mark", "mark several"),
        Binding("l", "log", "log"),
        Binding("q", "quit_coach", "quit"),
    ]

    def __init__(self, context: Context) -> None:
        super().__init__()
        self.context = context
        self.batches: dict[str, BatchRow] = {}
        self.damaged: frozenset[int] = frozenset()
        self.layouts: dict[str, Found] = {}
        self.marked: list[str] = []

    def compose(self) -> ComposeResult:
        """One list, in sections."""
        with Vertical(classes="page"):
            yield Static("coach: dovetails at the bandsaw, one key a step", id="home-title", markup=False)
            if self.context.shop is None and not places.shop_file().exists():
                yield Static(sample_shop_note(), id="home-shop", markup=False)
            yield Entries(id="choices")
            yield Static(id="told", markup=False)
        yield Footer(show_command_palette=False, compact=True)

    def on_mount(self) -> None:
        """Fills the list."""
        if self.children:
            self._fill()
            look_for_damage(self.app, self.context, self._mark_damaged)

    def _mark_damaged(self, found: frozenset[int]) -> None:
        self.damaged = found
        if self.is_mounted:
            self._fill()

    def on_screen_resume(self) -> None:
        """Back from a batch: it has come further."""
        if self.is_mounted:
            self._fill()

    def _fill(self) -> None:
        choices = self.query_one("#choices", OptionList)
        at = choices.highlighted
        choices.clear_options()
        try:
            rows = self.context.store.batches()
        except CoachError as error:
            self._tell(str(error))
            rows = []
        self.batches = {f"batch-{row.id}": row for row in rows}
        self.layouts = {f"layout-{found.path}": found for found in find_layouts(Path.cwd())}
        self.marked = [key for key in self.marked if key in self.layouts]
        under_way = [key for key, row in self.batches.items() if not row.finished]
        finished = [key for key, row in self.batches.items() if row.finished][:FINISHED_SHOWN]
        options = [_heading("Under way" if under_way else "No batch is under way: start one from a layout.")]
        options += [Option(self._batch_line(self.batches[key]), id=key) for key in under_way]
        samples = any(found.sample for found in self.layouts.values())
        if not self.layouts:
            options.append(_heading("No layouts here: put some into a folder called layouts."))
        else:
            options.append(_heading("Samples (all invented)" if samples else "Layouts"))
        options += [Option(self._layout_line(key), id=key) for key in self.layouts]
        if finished:
            options.append(_heading("Finished"))
            options += [Option(self._batch_line(self.batches[key]), id=key) for key in finished]
        choices.add_options(options)
        first = next((index for index, option in enumerate(options) if not option.disabled), None)
        choices.highlighted = at if at is not None and at < len(options) and not options[at].disabled else first
        choices.focus()

    def _batch_line(self, row: BatchRow) -> Text:
        if row.fault or row.id in self.damaged:
            text = Text(f"  {row.name}", no_wrap=True, overflow="ellipsis")
            text.append("\n    damaged: coach recover brings back what can be read")
            return text
        far = bar(row.cuts_done, row.cuts, 12, plain=self.context.plain)
        state = "finished" if row.finished else f"{row.cuts_done} of {row.cuts} cuts"
        text = Text(f"  {row.name}", no_wrap=True, overflow="ellipsis")
        text.append(f"\n    {far}  {state}, last worked on {when(row.last, self.context.now())}")
        return text

    def _layout_line(self, key: str) -> Text:
        found = self.layouts[key]
        mark = "+ " if key in self.marked else "  "
        text = Text(f"{mark}{found.name}", no_wrap=True, overflow="ellipsis")
        text.append(f"\n    {shown_path(found.path.name)}: {found.wrong or counted(found.boards, 'board')}")
        return text

    @on(OptionList.OptionSelected)
    def _chosen(self, event: OptionList.OptionSelected) -> None:
        key = event.option_id
        if key in self.batches:
            self._open_batch(self.batches[key])
        elif key in self.layouts:
            keys = self.marked or [key]
            from coach.tui.home.starting import StartScreen

            paths = [self.layouts[marked].path for marked in keys]
            self.app.push_screen(StartScreen(self.context, paths), self._started)

    def action_mark(self) -> None:
        """Marks or unmarks the highlighted layout."""
        key = self._highlighted()
        if key not in self.layouts:
            self._tell("Only layouts can be marked; enter opens a batch.")
            return
        if key in self.marked:
            self.marked.remove(key)
        else:
            self.marked.append(key)
        self.query_one("#choices", OptionList).replace_option_prompt(key, self._layout_line(key))
        self._tell(f"{len(self.marked)} marked; enter cuts them together." if self.marked else "")

    def action_log(self) -> None:
        """The log of the highlighted batch."""
        key = self._highlighted()
        if key not in self.batches:
            self._tell("A log belongs to a batch: choose one under Under way or Finished.")
            return
        from coach.tui.screens.log import LogScreen

        try:
            self.app.push_screen(LogScreen(Session(self.context.store, self.batches[key]), self.context.now()))
        except CoachError as error:
            self._tell(str(error))

    def action_quit_coach(self) -> None:
        """Leaves; everything is saved already."""
        self.app.exit()

    def _started(self, session: Session | None) -> None:
        if session is not None:
            self.marked.clear()
            self._walk(session)

    def _open_batch(self, row: BatchRow) -> None:
        if row.finished:
            self.action_log()
            return
        try:
            self._walk(Session(self.context.store, row))
        except CoachError as error:
            self._tell(str(error))

    def _walk(self, session: Session) -> None:
        from coach.tui.walk.screen import WalkScreen

        self._tell("")
        self.app.push_screen(WalkScreen(self.context, session))

    def _highlighted(self) -> str:
        choices = self.query_one("#choices", OptionList)
        if choices.highlighted is None:
            return ""
        return choices.get_option_at_index(choices.highlighted).id or ""

    def _tell(self, words: str) -> None:
        self.query_one("#told", Static).update(words)


def _heading(words: str) -> Option:
    return Option(Text(words, "bold"), disabled=True)
