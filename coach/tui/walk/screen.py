"""The walk: what to do now, one key a step, a board or a setting."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from textual import events
from textual.app import ComposeResult
from textual.content import Content

from coach.ground.errors import CoachError
from coach.plan.steps import Step, StepKind
from coach.preferences import Action, remember
from coach.record.batch.session import Session
from coach.record.batch.tempo import Tempo, left_words
from coach.talk import remarks
from coach.talk.context import Context
from coach.talk.keyguard import ASKED_S, Bell, KeyGuard, Twice, Verdict
from coach.talk.pace import MOST_UNASKED_BOARDS, PACE_WORDS, Pace, amount, boards_in, stretch
from coach.telling.phrases import Saying, reading_at
from coach.tui.keys import APP_KEYS, KeyMap, keys_line
from coach.tui.steady import SteadyScreen
from coach.tui.walk.rows import Rows
from coach.tui.walk.text import Window, body, said_in_whole, title_line, too_small_words

WAITS_OF_A_STRETCH = 2.0
"""A key that completes several cuts has to find them on the screen for so many times the usual wait."""


class WalkScreen(SteadyScreen[None]):
    """Walks through one batch."""

    def __init__(self, context: Context, session: Session) -> None:
        super().__init__()
        self.context = context
        self.session = session
        self.saying = Saying(session.unit, session.job.shop.fence.graduation)
        self.keys = KeyMap(context.preferences.keys)
        self._in_words = False
        self.guard = KeyGuard(context.wait_s, context.clock)
        self.twice = Twice(context.clock)
        self.bell = Bell(lambda: self.app.bell(), context.clock, wanted=context.preferences.bell)
        self.tempo = Tempo()
        self._stretch: tuple[object, tuple[Step, ...]] = (None, ())
        self._said = ""
        self._rows = [Rows(name, ellipsis=not context.plain) for name in ("title", "body", "keys")]
        self._fitted: Window | None = None
        self._on_screen = self._covered = False
        self.set_class(context.plain, "plain")

    def compose(self) -> ComposeResult:
        """The title, everything else as one text, and the keys, at fixed places: no key lays anything out anew."""
        yield from self._rows

    def on_mount(self) -> None:
        """Doubts the fence after a break, and says it once if the clock is plainly wrong."""
        self._say(self.context.clock_words(self.session))
        self._come_back()

    def on_resize(self, _: events.Resize) -> None:
        """Fits everything to the size, the first one as well, which is told more than once."""
        if self._fitted != self._window():
            self._fitted = self._window()
            self.show()

    def on_screen_suspend(self) -> None:
        """Another screen lies over this one."""
        self._covered = True

    def on_screen_resume(self) -> None:
        """Back from another screen: what stands here may be out of date, and the key that closed it must not count."""
        if self._covered and self._on_screen:
            self._covered = False
            self.show()

    async def on_key(self, event: events.Key) -> None:
        """Does what a key is for, or says why it does nothing; the app's own keys go on to the app."""
        if event.key in APP_KEYS:
            return
        event.stop()
        event.prevent_default()
        action = self.keys.action(event.key, event.character)
        self._in_words = event.key in ("space", "enter")
        if action is not Action.DONE and event.is_printable:
            self.guard.typed(event.character or "", acts=self._acts(action))
        if action is not Action.DONE:
            self.twice.forget()
        if action is None:
            self._remark(self.keys.idle_words(event.key, event.character))
        else:
            await self.run_action(action)

    def _acts(self, action: Action | None) -> bool:
        """Whether a key for it does something now."""
        if action is Action.MEASURED:
            step = self.session.next()
            return step is not None and step.kind is StepKind.CHECK
        return action is not None

    def steps(self) -> tuple[Step, ...]:
        """What the next key completes; none when the batch is done."""
        known = (self.session.walker, self.session.events[-1].number, self.context.pace)
        if self._stretch[0] != known:
            self._stretch = (known, stretch(self.session.walker, self.context.pace))
        return self._stretch[1]

    def action_done(self) -> None:
        """What is on the screen is done."""
        steps = self.steps()
        if not steps:
            log, leave = self.keys.key(Action.LOG), self.keys.key(Action.LEAVE)
            self._remark(f"The batch is done: {log} shows its log, {leave} leaves.")
        elif self._meant("The step has just come up: look at it, then press again.", steps) and self._sure(steps):
            self.complete(steps, None)

    def action_undo(self) -> None:
        """Takes back what was done last, whatever it was: at a step's pace one step, else all that the last key had
        completed; all that one answer changed."""
        if not self._meant("The screen has just changed: look at it, then press again.", ()):
            return
        try:
            events = self.session.undo(whole=self.context.pace is not Pace.STEP)
        except CoachError as error:
            self._failed(error)
            return
        self._say(remarks.taken_back(self.session.walker, events, self.saying))
        self.show()

    def action_measured(self) -> None:
        """Asks for what was measured on the scrap."""
        step = self.session.next()
        if self._window().too_small or self._doubted(()):
            return
        if step is None or step.kind is not StepKind.CHECK:
            self._remark(remarks.NOT_A_SCRAP_CUT)
            return
        self.guard.hidden()
        self.run_worker(partial(self._measure, step), exclusive=True)  # type: ignore[arg-type]

    async def _measure(self, step: Step) -> None:
        from coach.talk.measured import settled
        from coach.tui.dialogs.asking import Dialogs
        from coach.tui.dialogs.measuring import MeasureScreen

        found = await self.app.push_screen_wait(MeasureScreen(self.session, step, self.saying))
        mark_mm = None if found is None else await settled(Dialogs(self.app), found)
        if mark_mm is not None:
            self.complete((step,), mark_mm)

    def action_pace(self) -> None:
        """Changes what one key completes."""
        if self._window().too_small:
            return
        self.context.pace = self.context.pace.following
        remember(pace=self.context.pace)
        self._say(PACE_WORDS[self.context.pace])
        self.show()

    def action_change(self) -> None:
        """Corrects a cut, takes a board out, adds one, changes the order or the shop."""
        if not self._window().too_small and not self._doubted(()):
            self.guard.hidden()
            self.run_worker(self._change, exclusive=True)  # type: ignore[arg-type]

    async def _change(self) -> None:
        from coach.talk.changing import Changing
        from coach.tui.dialogs.asking import Choose, Dialogs

        try:
            asked = await Changing(Dialogs(self.app), self.session, self.saying, self.context.shop).ask()
            said = asked or remarks.NOTHING_CHANGED
        except CoachError as error:
            said = remarks.refused(error)
        if not said_in_whole(said, self._window()):
            await self.app.push_screen_wait(Choose("What came of it:", ["Go on"], said.splitlines()))
        self._say(said)
        self.show()

    def action_log(self) -> None:
        """Shows which boards are cut."""
        from coach.tui.screens.log import LogScreen

        self.app.push_screen(LogScreen(self.session, self.context.now()))

    def action_help(self) -> None:
        """Shows the keys and the habits of a good cut."""
        from coach.tui.screens.help import HelpScreen

        shop = self.session.job.shop
        self.app.push_screen(HelpScreen(self.context, self.keys, shop.saw.backing_out, sample_shop=shop.sample))

    def action_leave(self) -> None:
        """Leaves; everything is saved already."""
        self.context.left(self.session)
        if self.context.from_home:
            self.dismiss()
        else:
            self.app.exit()

    def complete(self, steps: Sequence[Step], measured_mm: float | None) -> None:
        """Records `steps`, one or a stretch of cuts; the screen moves on only when all of that is on disk."""
        step, walker = steps[0], self.session.walker
        before = walker.fence.offset_mm
        try:
            if len(steps) > 1:
                self.session.complete_cuts(steps)
            elif step.setting is not None and step.kind is StepKind.SET_FENCE:
                self.session.complete(step, reading=reading_at(walker, step.setting, self.saying))
            else:
                self.session.complete(step, measured_mm=measured_mm)
        except CoachError as error:
            self._failed(error)
            return
        if len(steps) > 1:
            self._say(f"Recorded: {amount(steps)}.")
        else:
            self._say("" if measured_mm is None else remarks.measured(walker, before, self.saying))
        following = self.session.next()
        if step.kind is StepKind.CUT and (following is None or following.kind is not StepKind.CUT):
            self.bell.ring()
        self.show()

    def show(self) -> None:
        """Paints the step to do now; no key completes it before it has been on the screen."""
        self.guard.hidden()
        self.saying = Saying(self.session.unit, self.session.job.shop.fence.graduation)  # the scale may be another
        self._paint()
        if not self._window().too_small:  # there only the size that is needed is on the screen, not the step
            self.call_after_refresh(self.guard.shown)

    def _paint(self) -> None:
        steps, window = self.steps(), self._window()
        if window.too_small:
            self._put((), too_small_words(window), ())
            return
        step = steps[0] if steps else None
        self.tempo.read(self.session.events)
        self._put(
            [title_line(self.session, window)],
            body(
                self.session,
                steps,
                self.saying,
                self._said,
                window,
                left_words=left_words(self.tempo.seconds_left(self.session.walker)),
                done_key=self.keys.key(Action.DONE),
            ),
            [keys_line(step, self.keys, self.context.pace, window.columns - 2)],
        )

    def _put(self, title: Sequence[Content], text: Sequence[Content], keys: Sequence[Content]) -> None:
        """Paints what has changed."""
        for rows, lines in zip(self._rows, (title, text, keys), strict=True):
            rows.put(lines)
        self._on_screen = True

    def _window(self) -> Window:
        return Window(self.app.size.width, self.app.size.height, self.context.plain)

    def _meant(self, early: str, steps: Sequence[Step]) -> bool:
        """Whether a key that would complete `steps` is a person's answer to what is on the screen."""
        if self._window().too_small:
            return False
        waits = WAITS_OF_A_STRETCH if len(steps) > 1 else 1.0
        verdict = self.guard.judge(waits, in_words=self._in_words and bool(steps))
        if verdict is Verdict.TYPED:
            self._remark("Right after another key this one doesn't count: wait a moment, then press it again.")
        if verdict is Verdict.EARLY:
            self.bell.ring()
            if not self.twice.asked:  # else the question stays, which asks for the same
                self._said = early
                self._paint()
        return verdict is Verdict.MEANT and not self._doubted(steps)

    def _sure(self, steps: Sequence[Step]) -> bool:
        """Whether a key that completes the cuts of many boards has been pressed twice; the first press asks."""
        if boards_in(steps) <= MOST_UNASKED_BOARDS or self.twice.confirmed():
            return True
        self._say(f"{amount(steps)}: really all cut? Then press again within {ASKED_S:.0f} seconds.")
        self.show()
        return False

    def _doubted(self, steps: Sequence[Step]) -> bool:
        """Whether a break has put the set-up in doubt since the last key, which the person is then told."""
        clock = self.context.clock_words(self.session)
        if not self._come_back(stayed=True, cuts=len(steps)):
            return False
        from coach.tui.beside import back_up

        self.twice.forget()
        self.bell.ring()
        self._say(" ".join(filter(None, (remarks.doubted("key"), clock))))
        back_up(self.app, self.context)
        self.show()
        return True

    def _come_back(self, *, stayed: bool = False, cuts: int = 1) -> bool:
        try:
            return self.session.come_back(self.context.now(), stayed=stayed, cuts=cuts)
        except CoachError as error:
            self._failed(error)
            return False

    def _failed(self, error: CoachError) -> None:
        self.twice.forget()
        self.bell.ring()
        self._say(remarks.refused(error))
        self.show()

    def _remark(self, words: str) -> None:
        """Says why a key did nothing; what is on the screen stays as it is."""
        if not self._window().too_small:
            self.bell.ring()
            if self._said != words:
                self._said = words
                self._paint()

    def _say(self, words: str) -> None:
        self._said = words
