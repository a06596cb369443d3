"""The walk: what to do now, one key a step."""

from __future__ import annotations

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Static

from coach.errors import CoachError
from coach.plan.steps import Step, StepKind
from coach.record.session import Session
from coach.record.store import Stale
from coach.sheets.saying import Saying
from coach.sheets.step_words import briefly
from coach.tui.context import Context
from coach.tui.keyguard import KeyGuard, Verdict
from coach.tui.walk_text import Window, body, keys_line, said_in_whole, title_line, too_small_words


class WalkScreen(Screen[None]):
    """Walks through one batch."""

    BINDINGS = [
        Binding("space,enter,right,pagedown", "done", "done", key_display="space"),
        Binding("u,backspace", "undo", "undo", key_display="u"),
        Binding("m", "measure", "measured"),
        Binding("l", "log", "log"),
        Binding("c", "change", "change"),
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
        self._on_screen: dict[str, str] = {}
        self.set_class(context.plain, "plain")

    def compose(self) -> ComposeResult:
        """The title, everything else as one text, and the keys: three rows' worth of layout, so that a key is quick."""
        yield Static(id="title", markup=False)
        yield Static(id="body", markup=False)
        yield Static(id="keys", markup=False)

    def on_mount(self) -> None:
        """Doubts the fence after a break."""
        self._come_back()

    def on_resize(self, _: events.Resize) -> None:
        """Fits everything to the size, the first one as well."""
        self.show()

    def on_screen_resume(self) -> None:
        """Back from another screen: what stands here may be out of date, and the key that closed it must not count."""
        if self._on_screen:
            self.show()

    def action_done(self) -> None:
        """The step on the screen is done."""
        step = self.session.next()
        if step is None:
            self._say("The batch is done: l shows its log, q leaves.")
            self.show()
        elif self._meant("The step has just come up: look at it, then press again."):
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
        if self._window().too_small or self._doubted():
            return
        if step is None or step.kind is not StepKind.CHECK:
            self._say("Only a scrap cut is measured; this step is not one.")
            self.show()
            return
        from coach.tui.measuring import MeasureScreen

        self.guard.hidden()

        def measured(mark_mm: float | None) -> None:
            if mark_mm is not None:
                self.complete(step, mark_mm)

        self.app.push_screen(MeasureScreen(self.session, step, self.saying), measured)

    def action_change(self) -> None:
        """Corrects a cut, takes a board out, adds one, changes the order or the shop."""
        if not self._window().too_small and not self._doubted():
            self.guard.hidden()
            self.run_worker(self._change(), exclusive=True)

    async def _change(self) -> None:
        from coach.tui.changing import Changing
        from coach.tui.dialogs import Choose

        try:
            said = (
                await Changing(self.app, self.session, self.saying, self.context.shop).ask() or "Nothing was changed."
            )
        except CoachError as error:
            said = self._refused(error)
        if not said_in_whole(said, self._window()):
            await self.app.push_screen_wait(Choose("What came of it:", ["Go on"], said.splitlines()))
        self._say(said)
        self.show()

    def action_log(self) -> None:
        """Shows which boards are cut."""
        from coach.tui.log import LogScreen

        self.app.push_screen(LogScreen(self.session, self.context.now()))

    def action_help(self) -> None:
        """Shows the keys and the habits of a good cut."""
        from coach.tui.help import HelpScreen

        shop = self.session.job.shop
        self.app.push_screen(HelpScreen(shop.saw.backing_out, sample_shop=shop.sample))

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
        self.saying = Saying(self.session.unit, self.session.job.shop.fence.graduation)  # the scale may be another
        self._paint()
        if not self._window().too_small:  # there only the size that is needed is on the screen, not the step
            self.call_after_refresh(self.guard.shown)

    def _paint(self) -> None:
        step, window = self.session.next(), self._window()
        if window.too_small:
            self._put("", too_small_words(window), "")
            return
        self._put(
            title_line(self.session, window),
            body(self.session, step, self.saying, self._said, window),
            keys_line(step),
        )

    def _put(self, title: Content | str, text: Content | str, keys: Content | str) -> None:
        """Paints what has changed, without laying anything out anew: the three parts have fixed places."""
        for name, content in (("title", title), ("body", text), ("keys", keys)):
            if self._on_screen.get(name) != str(content) or name == "body":
                self._on_screen[name] = str(content)
                self.query_one(f"#{name}", Static).update(content, layout=False)

    def _window(self) -> Window:
        return Window(self.app.size.width, self.app.size.height, self.context.plain)

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

    def _doubted(self) -> bool:
        """Whether a break has put the set-up in doubt since the last key, which the person is then told."""
        if not self._come_back(stayed=True):
            return False
        said = "That key wasn't counted: after a break, or on a new day, the saw comes first."
        self._say(f"{said} {self.context.back_up()}".strip())
        self.show()
        return True

    def _come_back(self, *, stayed: bool = False) -> bool:
        try:
            return self.session.come_back(self.context.now(), stayed=stayed)
        except CoachError as error:
            self._failed(error)
            return False

    def _meant(self, early: str) -> bool:
        if self._window().too_small:
            return False
        verdict = self.guard.judge()
        if verdict is Verdict.EARLY:
            self._said = early
            self._paint()
        return verdict is Verdict.MEANT and not self._doubted()

    def _failed(self, error: CoachError) -> None:
        self._say(self._refused(error))
        self.show()

    def _refused(self, error: CoachError) -> str:
        if isinstance(error, Stale):
            return "Another window was quicker: this one has caught up, and nothing was counted twice."
        return f"Not recorded: {error}"

    def _say(self, words: str) -> None:
        self._said = words
