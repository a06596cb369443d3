"""Before a batch starts: what its layouts come to, what to watch, and its name."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Footer, Input, Static

from coach.ground.errors import CoachError
from coach.loading import Loaded, load
from coach.plan.walking.situation import beginning
from coach.plan.walking.walker import Walker
from coach.record.batch.session import Session, checked_name, name_after, start
from coach.talk.context import Context
from coach.telling.phrases import Saying, counted, sample_shop_note
from coach.telling.plan.page import shop_line
from coach.tui.paint import settings_lines
from coach.tui.steady import SteadyScreen

MOST_SETTINGS = 12


class NameField(Input):
    """A field whose enter stands among the keys."""

    BINDINGS = [Binding("enter", "submit", "start the batch")]


class StartScreen(SteadyScreen[Session | None]):
    """Closes with the batch that was started, or None."""

    CSS_PATH = "../screens.tcss"
    BINDINGS = [Binding("escape", "close", "back")]

    def __init__(self, context: Context, paths: Sequence[Path]) -> None:
        super().__init__()
        self.context = context
        self.paths = list(paths)
        self.loaded: Loaded | None = None

    def compose(self) -> ComposeResult:
        """What would be cut, and a field for the name."""
        with VerticalScroll(classes="page"):
            yield Static(id="findings", markup=False)
            yield Static("Enter starts the batch, under this name:", id="ask")
            yield NameField(id="name")
            yield Static(id="wrong", markup=False)
        yield Footer(show_command_palette=False, compact=True)

    def on_mount(self) -> None:
        """Reads and proves the layouts."""
        if not self.children:
            return  # it was closed while it opened
        findings = self.query_one("#findings", Static)
        try:
            self.loaded = load(self.paths, self.context.shop, self.context.units)
            name = self._free_name(name_after(self.loaded.job.layouts))
        except CoachError as error:
            findings.update(Content.assemble(("This can't be cut:\n\n", "bold"), "\n".join(error.problems)))
            self.query_one("#ask").display = False
            self.query_one("#name").display = False
            return
        findings.update(self._findings(self.loaded))
        field = self.query_one("#name", Input)
        field.value = name
        field.focus(scroll_visible=False)  # the form opens at its heading; enter starts the batch from there as well

    def action_close(self) -> None:
        """Back home; nothing was started."""
        self.dismiss(None)

    @on(Input.Submitted, "#name")
    def _begin(self, event: Input.Submitted) -> None:
        if self.loaded is None:
            return
        try:
            name = checked_name(event.value)
            session = start(self.context.store, name, self.loaded.job, self.loaded.settings, self.loaded.unit)
        except CoachError as error:
            self.query_one("#wrong", Static).update(str(error))
            return
        self.dismiss(session)

    def _free_name(self, name: str) -> str:
        """`name`, or with the first number after it that no batch has yet."""
        free, number = name, 1
        while self.context.store.batch_named(free) is not None:
            number += 1
            free = f"{name[:50]} {number}"
        return free

    def _findings(self, loaded: Loaded) -> Content:
        job = loaded.job
        saying = Saying(loaded.unit, job.shop.fence.graduation)
        spares = sum(board.spare for board in job.boards)
        lines: list[Content | str] = [
            Content.styled(" + ".join(layout.name for layout in job.layouts), "bold"),
            f"{counted(len(job.boards), 'board')}{f' ({spares} spare)' if spares else ''}, {job.cuts} cuts, "
            f"{counted(len(loaded.settings.fence_mm), 'fence setting')}; "
            "every tail comes out right on the virtual saw.",
            shop_line(job, loaded.settings, saying),
        ]
        if job.shop.sample:
            lines.append(Content.styled(sample_shop_note(), "italic"))
        walker = Walker(beginning(job, loaded.settings))
        lines += ["", *settings_lines(walker, saying, None, MOST_SETTINGS), ""]
        lines += [f"Advice: {note.where}: {note.text} ({note.source})" for _, note in loaded.advice]
        return Content("\n").join(lines)
