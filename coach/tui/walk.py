"""The walk: what to do now, one key a step."""

from __future__ import annotations

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Footer, Static

from coach.errors import CoachError
from coach.plan.steps import BENCH_KINDS, Step, StepKind
from coach.record.session import Session
from coach.record.store import Stale
from coach.sheets.saying import SAMPLE_SHOP, Saying
from coach.sheets.step_words import briefly, tell
from coach.trade.reminders import AT_THE_END, MANUAL, procedure, reminders
from coach.tui import paint
from coach.tui.context import Context
from coach.tui.keyguard import KeyGuard, Verdict
from coach.words import Edge

LEAST_COLUMNS, LEAST_ROWS = 40, 15
PARTS = ("reminders", "headline", "particulars", "procedure", "drawing", "progress", "next", "recent")
LEAST_DRAWING_ROWS, MOST_DRAWING_ROWS = 6, 18
MOST_RECENT = 12
LONG_BOARD_MM = 900.0
"""A board longer than this overhangs a bandsaw's table so far that it wants support."""


class WalkScreen(Screen[None]):
    """Walks through one batch."""

    BINDINGS = [
        Binding("space,enter,right,pagedown", "done", "done", key_display="space"),
        Binding("u,backspace", "undo", "undo", key_display="u"),
        Binding("m", "measure", "measured"),
        Binding("l", "log", "log"),
        Binding("question_mark,f1", "help", "help", key_display="?"),
        Binding("q", "leave", "leave"),
    ]

    def __init__(self, context: Context, session: Session) -> None:
        super().__init__()
        self.context = context
        self.session = session
        self.saying = Saying(session.unit, session.job.shop.fence.graduation)
        self.guard = KeyGuard(context.guard_s, context.clock)
        self._said = ""

    def compose(self) -> ComposeResult:
        """One column: reminders, what to do, the drawing, progress, what comes next, what was done last."""
        yield Static(id="title", markup=False)
        with Vertical(id="body"):
            for part in PARTS:
                yield Static(id=part, markup=False)
        yield Static(id="small", markup=False)
        yield Static(id="said", markup=False)
        yield Footer(show_command_palette=False, compact=True)

    def on_mount(self) -> None:
        """Doubts the fence after a break, and shows the step to do now."""
        self._come_back()
        self.show()

    def on_resize(self, _: events.Resize) -> None:
        """Fits everything to the new size."""
        self.show()

    def on_screen_resume(self) -> None:
        """Back from another screen: what stands here may be out of date, and the key that closed it must not count."""
        self.show()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Measuring is only offered at a scrap cut."""
        del parameters
        step = self.session.next()
        return action != "measure" or (step is not None and step.kind is StepKind.CHECK)

    def action_done(self) -> None:
        """The step on the screen is done."""
        step = self.session.next()
        if step is None:
            self._say("The batch is done: l shows its log, q leaves.")
            return
        if not self._meant("The step has just come up: look at it, then press again."):
            return
        if self._come_back():
            self._say("That key wasn't counted: a new day begins with a look at the saw.")
            self.show()
            return
        self.complete(step, None)

    def action_undo(self) -> None:
        """Takes back the latest step."""
        if not self._meant("The screen has just changed: look at it, then press again."):
            return
        try:
            step = self.session.undo()
        except CoachError as error:
            self._failed(error)
            return
        said = (
            "Nothing to take back."
            if step is None
            else f"Taken back: {briefly(self.session.walker, step, self.saying)}."
        )
        self._say(said)
        self.show()

    def action_measure(self) -> None:
        """Asks for what was measured on the scrap."""
        step = self.session.next()
        if step is None or step.kind is not StepKind.CHECK or self._too_small():
            return
        from coach.tui.measuring import MeasureScreen

        self.guard.hidden()

        def measured(mark_mm: float | None) -> None:
            if mark_mm is not None:
                self.complete(step, mark_mm)

        self.app.push_screen(MeasureScreen(self.session, step, self.saying), measured)

    def action_log(self) -> None:
        """Shows which boards are cut."""
        from coach.tui.log import LogScreen

        self.app.push_screen(LogScreen(self.session))

    def action_help(self) -> None:
        """Shows the keys and the habits of a good cut."""
        from coach.tui.help import HelpScreen

        self.app.push_screen(HelpScreen(self.session.job.shop.saw.backing_out))

    def action_leave(self) -> None:
        """Leaves; everything is saved already."""
        self.context.left(self.session)
        if self.context.from_home:
            self.dismiss()
        else:
            self.app.exit()

    def complete(self, step: Step, measured_mm: float | None) -> None:
        """Records `step`; the screen moves on only when that is on disk."""
        reading = None
        if step.setting is not None and step.kind is StepKind.SET_FENCE:
            reading = self.saying.reading(self.session.walker.reading_mm(step.setting))
        before = self.session.walker.fence.offset_mm
        try:
            self.session.complete(step, measured_mm=measured_mm, reading=reading)
        except CoachError as error:
            self._failed(error)
            return
        self._say("" if measured_mm is None else self._measured_words(before))
        self.show()

    def show(self) -> None:
        """Paints the step to do now; no key completes it before it has been on the screen."""
        self.guard.hidden()
        small = self._too_small()
        self.set_class(small, "too-small")
        if small:
            size = self.app.size
            self.query_one("#small", Static).update(
                f"The walk needs at least {LEAST_COLUMNS} columns by {LEAST_ROWS} rows; this window has "
                f"{size.width} by {size.height}. Make it larger, and the walk goes on where it was."
            )
            return
        self._paint(self.session.next())
        self.refresh_bindings()
        self.call_after_refresh(self.guard.shown)

    def _paint(self, step: Step | None) -> None:
        walker = self.session.walker
        columns, rows = self.app.size.width - 2, self.app.size.height
        plain = self.context.plain
        parts: dict[str, str | Content] = dict.fromkeys(("reminders", "procedure", "drawing", "next"), "")
        if step is None:
            parts |= {"headline": Content.styled("The batch is done.", "bold"), "particulars": "\n".join(AT_THE_END)}
        else:
            told = tell(walker, step, self.saying)
            parts["headline"] = Content.assemble((f" {told.kind.upper()} ", "bold reverse"), f" {told.headline}")
            parts["particulars"] = "\n".join(told.lines)
            parts |= self._beside(step)
        parts["progress"] = paint.progress_lines(walker, columns, plain=plain)
        spare = (
            rows
            - 3
            - sum(paint.rows_needed(str(parts[part]), columns) for part in ("headline", "particulars", "progress"))
        )
        for part in ("reminders", "next", "procedure"):
            needs = paint.rows_needed(str(parts[part]), columns)
            parts[part] = parts[part] if needs <= spare else ""
            spare -= needs if parts[part] else 0
        if step is not None:
            picture = self._picture(step, columns, min(spare, MOST_DRAWING_ROWS))
            spare -= paint.rows_needed(str(picture), columns) if picture else 0
            parts["drawing"] = picture
        parts["recent"] = paint.recent_lines(walker, self.session.events, self.saying, max(0, min(spare, MOST_RECENT)))
        parts["title"] = self._title()
        parts["said"] = self._said
        for part, content in parts.items():
            widget = self.query_one(f"#{part}", Static)
            widget.update(content)
            widget.display = bool(str(content))

    def _beside(self, step: Step) -> dict[str, str | Content]:
        """Reminders, how the step is done, and what comes next."""
        walker = self.session.walker
        backing_out = self.session.job.shop.saw.backing_out
        long_board = self._long_board(step)
        kind = step.kind.value
        last = walker.cuts_left_in_all == 0 and walker.steps_at_bench_left == 1
        said = reminders(kind, topic=step.topic, backing_out=backing_out, long_board=long_board, last=last)
        how = procedure(kind, backing_out=backing_out, long_board=long_board) or (MANUAL,)
        return {
            "reminders": paint.reminder_lines(said),
            "procedure": "\n".join(how),
            "next": f"Next: {briefly(walker, walker.preview(), self.saying)}",
        }

    def _picture(self, step: Step, columns: int, rows: int) -> Content:
        walker = self.session.walker
        plain = self.context.plain
        across = max(20, min(columns - 6, 72))
        view = None
        if step.kind is StepKind.CUT:
            assert step.side is not None and step.edge is not None
            view = paint.view_of(walker, step.side.board, step.side.end, step.edge, step.side)
        elif step.kind in BENCH_KINDS:
            assert step.board is not None and step.end is not None
            if not walker.benched:
                return Content("\n".join(("The saw's work is over:", *AT_THE_END)[:rows]))
            view = paint.view_of(walker, step.board, step.end, Edge.BOTTOM, None)
        elif step.kind is StepKind.SET_FENCE or step.kind is StepKind.CHECK:
            return paint.settings_lines(walker, self.saying, step.setting, rows - 1)
        if view is None or rows < LEAST_DRAWING_ROWS:
            return Content("")
        return paint.drawing(view, across, rows - 2, plain=plain, at_saw=step.kind is StepKind.CUT)

    def _title(self) -> Content:
        note = f"   {SAMPLE_SHOP}" if self.session.job.shop.sample else ""
        return Content.assemble((self.session.name, "bold"), (note, "italic"))

    def _long_board(self, step: Step) -> bool:
        number = step.side.board if step.side is not None else step.board
        parts = self.session.job.patterns if number is None else (self.session.job.pattern_of(number),)
        return any(pattern.part.length_mm > LONG_BOARD_MM for pattern in parts)

    def _measured_words(self, before_mm: float) -> str:
        walker = self.session.walker
        off = before_mm - walker.fence.offset_mm
        if abs(off) < 0.005:
            return "The scrap is right."
        where = "far from" if off > 0 else "near"
        said = (
            f"The scrap was cut too {where} the edge, by {self.saying.length(abs(off))} at the fence; "
            "all readings are corrected by it. "
        )
        if walker.fence.confirmed:
            return said + "So little needs no move now."
        return said + f"Move the fence {self.saying.move(-off)}."

    def _come_back(self) -> bool:
        try:
            return self.session.come_back(self.context.now())
        except CoachError as error:
            self._failed(error)
            return False

    def _meant(self, early: str) -> bool:
        verdict = self.guard.judge()
        if verdict is Verdict.EARLY and not self._too_small():
            self._say(early)
            self._show_said()
        return verdict is Verdict.MEANT and not self._too_small()

    def _show_said(self) -> None:
        widget = self.query_one("#said", Static)
        widget.update(self._said)
        widget.display = bool(self._said)

    def _failed(self, error: CoachError) -> None:
        if isinstance(error, Stale):
            self._say("Another window was quicker: this one has caught up, and nothing was counted twice.")
        else:
            self._say(f"Not recorded: {error}")
        self.show()

    def _too_small(self) -> bool:
        return self.app.size.width < LEAST_COLUMNS or self.app.size.height < LEAST_ROWS

    def _say(self, words: str) -> None:
        self._said = words
