"""The walk in lines: a step is said, and a line that is typed completes it or does something else."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from coach.ground.errors import CoachError
from coach.plain.lines import Lines, answer, quoted
from coach.plain.step_lines import Care, end_lines, help_lines, log_lines, step_lines
from coach.plan.steps import Step, StepKind
from coach.record.batch.session import Session
from coach.record.batch.tempo import Tempo, left_words
from coach.record.rows import Stale
from coach.talk.changing import Changing
from coach.talk.context import Context
from coach.talk.keyguard import KeyGuard, Verdict
from coach.talk.measured import ScrapCut, settled
from coach.talk.remarks import (
    NOT_A_SCRAP_CUT,
    NOTHING_CHANGED,
    carry_on,
    doubted,
    farewell,
    measured,
    refused,
    taken_back,
)
from coach.telling.phrases import Saying, reading_at, sample_shop_note
from coach.trade.reminders import MANUAL

COMMANDS = (
    ("Enter alone", "this step is done; the next one is said once it is saved"),
    ("u", "take back the latest step; again, the one before it"),
    ("m", "at a scrap cut: say what you measured"),
    (
        "c",
        "change: a cut that went wrong or wasn't made; a board spoiled, added, skipped, put aside or finished first; "
        "another setting first; another blade or jig",
    ),
    ("l", "the log: which boards are cut"),
    ("r", "say the step again"),
    ("h or ?", "help"),
    ("q", "leave; everything is saved already"),
)
BRIEFLY = "Enter: done. u: undo. c: change. l: log. r: say it again. h: help. q: leave."
EARLY = "Not counted: Enter was held down, or came too early. Enter again."
BOTH = "b"


class PlainWalk:
    """Walks through one batch.

    Args:
        guarded: whether a line that comes too early or too fast isn't counted, as befits a person's hand on a key.
    """

    def __init__(self, context: Context, session: Session, lines: Lines, *, guarded: bool) -> None:
        context.set_up()
        self.context = context
        self.session = session
        self.lines = lines
        self.guard = KeyGuard(context.wait_s, context.clock) if guarded else None
        self.tempo = Tempo()
        self._said = Care()
        self._step: list[str] = []
        self._told_early = False
        self._gave_up = False

    def run(self, advice: Sequence[str] = ()) -> bool:
        """Walks until the person leaves or no line comes any more, then says how to carry on.

        Args:
            advice: about the layouts, said at the start.

        Returns:
            False if it ended since a step couldn't be recorded and nobody was there to see to it.

        Raises:
            CoachError: the lines can't be written.
        """
        try:
            self._begin(advice)
            while self._go_on(self.lines.read()) and not self._gave_up:
                continue
        except (EOFError, KeyboardInterrupt):
            pass
        self._leave()
        return not self._gave_up

    def _begin(self, advice: Sequence[str]) -> None:
        self.lines.say(f"coach: {self.session.name}.", MANUAL)
        if self.session.job.shop.sample:
            self.lines.say(sample_shop_note())
        self.lines.say(*self.context.mistakes, *(f"Advice: {note}" for note in advice))
        if wrong := self.context.back_up():
            self.lines.say(wrong)
        if doubt := self.context.clock_words(self.session):
            self.lines.say(doubt)
        self.lines.say(BRIEFLY)
        self._come_back(stayed=False)
        self._show()

    def _go_on(self, typed: str) -> bool:
        """Does what a line asks for; returns whether the walk goes on."""
        does: dict[str, Callable[[], None]] = {
            "u": self._undo,
            "m": self._measure,
            "c": self._change,
            "l": self._log,
            "r": self._repeat,
            "h": self._help,
            "?": self._help,
        }
        word = typed.casefold()
        if word == "q":
            return False
        if not word:
            return self._done()
        if word in does:
            does[word]()
        else:
            self.lines.say(f"Found {quoted(typed)}; expected Enter alone, or u, m, c, l, r, h or q.")
        return True

    def _done(self) -> bool:
        """The step that was said last is done."""
        if not self._meant():
            return True
        step = self.session.next()
        if step is None:
            return False
        self._complete(step, None)
        return True

    def _undo(self) -> None:
        if not self._meant():
            return
        try:
            events = self.session.undo()
        except CoachError as error:
            self.lines.say(refused(error))
        else:
            self.lines.say(taken_back(self.session.walker, events, self._saying()))
        self._show()

    def _measure(self) -> None:
        if self._doubted():
            return
        step = self.session.next()
        if step is None or step.kind is not StepKind.CHECK:
            self.lines.say(NOT_A_SCRAP_CUT)
            return
        mark_mm = answer(self._measured(ScrapCut.at(self.session, step, self._saying(), "Enter")))
        if mark_mm is None:
            self._show()
        else:
            self._complete(step, mark_mm)

    async def _measured(self, scrap: ScrapCut) -> float | None:
        """Asks for what was measured from one edge, or from both; None if the person goes back."""
        such = scrap.saying.length(scrap.expected_mm)
        self.lines.say(f"The scrap cut should stand at {such}.")
        typed = await self.lines.enter(
            f"Type what it is, from the edge at the jig to the {scrap.side} side of the kerf, at the end, such as "
            f"{such}; or {BOTH} if it was cut from both edges.",
            "",
            lambda text: text.casefold() == BOTH or scrap.from_one_edge(text),
        )
        if typed is None or typed.casefold() != BOTH:
            return None if typed is None else await settled(self.lines, scrap.from_one_edge(typed))
        wide = scrap.saying.length(100.0)
        width = await self.lines.enter(f"The scrap's width, such as {wide}:", "", scrap.length)
        if width is None:
            return None
        left = await self.lines.enter(
            "The wood left between the two kerfs, at the end:", "", lambda text: scrap.from_both_edges(width, text)
        )
        return None if left is None else await settled(self.lines, scrap.from_both_edges(width, left))

    def _change(self) -> None:
        if self._doubted():
            return
        try:
            said = answer(Changing(self.lines, self.session, self._saying(), self.context.shop).ask())
        except CoachError as error:
            said = refused(error)
        self.lines.say(said or NOTHING_CHANGED)
        self._show()

    def _log(self) -> None:
        self.lines.say(*log_lines(self.session, self.context.now()))

    def _repeat(self) -> None:
        self.lines.say(*self._step)

    def _help(self) -> None:
        self.lines.say(*help_lines(self.session, self.session.next(), COMMANDS))

    def _leave(self) -> None:
        self.lines.say("", farewell(self.session))
        if self.session.next() is not None:
            self.lines.say("Carry on with:")
            self.lines.say_uncut(f"{carry_on(self.session.name, self.context.options)} --plain")

    def _complete(self, step: Step, measured_mm: float | None) -> None:
        """Records `step`; the next one is said only when that is on disk."""
        walker = self.session.walker
        reading = None
        if step.setting is not None and step.kind is StepKind.SET_FENCE:
            reading = reading_at(walker, step.setting, self._saying())
        before_mm = walker.fence.offset_mm
        try:
            self.session.complete(step, measured_mm=measured_mm, reading=reading)
        except CoachError as error:
            self._gave_up = self.guard is None and not isinstance(error, Stale)  # nobody makes room on a disk meanwhile
            self.lines.say(refused(error))
        else:
            if measured_mm is not None:
                self.lines.say(measured(self.session.walker, before_mm, self._saying()))
        self._show()

    def _show(self) -> None:
        """Says the step to do now; no line completes it before it has been said for a while."""
        step = self.session.next()
        if step is None:
            self._step = end_lines(self.session, self._saying())
        else:
            self.tempo.read(self.session.events)
            left = left_words(self.tempo.seconds_left(self.session.walker))
            self._step = step_lines(self.session, step, self._saying(), self._said, left)
            self._said = Care.at(self.session, step)
        self.lines.say("", *self._step)
        if self.guard is not None:
            self.guard.shown()

    def _saying(self) -> Saying:
        return Saying(self.session.unit, self.session.job.shop.fence.graduation)  # another shop has another scale

    def _meant(self) -> bool:
        verdict = Verdict.MEANT if self.guard is None else self.guard.judge()
        if verdict is Verdict.MEANT:
            self._told_early = False
            return not self._doubted()
        if verdict is Verdict.EARLY or not self._told_early:  # a key held down is told once, not thirty times a second
            self.lines.say(EARLY)
        self._told_early = True
        return False

    def _doubted(self) -> bool:
        """Whether a break has put the set-up in doubt since the last line, which the person is then told."""
        if not self._come_back(stayed=True):
            return False
        self.lines.say(f"{doubted('line')} {self.context.back_up()}".strip())
        self._show()
        return True

    def _come_back(self, *, stayed: bool) -> bool:
        try:
            return self.session.come_back(self.context.now(), stayed=stayed)
        except CoachError as error:
            self.lines.say(refused(error))
            return False
