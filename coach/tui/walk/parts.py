"""The parts of the walk's screen at a step: the least that must be seen, and what grows first where there is room."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from textual.content import Content

from coach.plan.steps import Step, StepKind
from coach.record.batch.session import Session
from coach.talk.pace import amount, boards_in
from coach.talk.warning import most_needed, procedure_at, reminders_at
from coach.telling.naming import board_name
from coach.telling.phrases import Saying, counted, reading_at, sample_shop_note
from coach.telling.steps.done import done_lines
from coach.telling.steps.step import briefly, tell
from coach.trade.reminders import MANUAL, Reminder
from coach.tui import paint
from coach.tui.theme import SIGNAL_STYLES
from coach.tui.walk.sharing import Page, wrapped
from coach.tui.walk.step_parts import LABEL, CutWords, headline, in_large, large_reading, stretch_lines

ORDER = ("reminders", "above", "headline", "large", "below", "do", "drawing", "procedure", "progress", "next", "recent")
"""The parts of the screen from top to bottom; "above" and "below" are blank, to set the large letters apart."""

COMPACT_ROWS, SINGLE_ROWS = 3, 6
TWO_DOUBLES, HUGE_ROWS, GIANT_ROWS = 11, 12, 24
"""What large letters take at the most, by their form; the rest of a reading may stand below it where it is huge."""
ROWS_BESIDE = 1
"""What is kept for how a cut ends where its label and turn stand side by side."""
ROWS_FOR_TWO = 26
"""With so many rows left, label and turn stand large one below the other, and the drawing has enough all the same."""
ROWS_AROUND = 3
"""What is kept for the rest where something large takes all it can: progress, next step, second reminder."""
LEAST_RECENT = 1
LEAST_STRETCH_ROWS = 5
LEAST_DRAWING_ROWS, MOST_DRAWING_ROWS, GOOD_DRAWING_ROWS = 7, 40, 12
LEAST_SETTINGS_ROWS = 3
NOT_DRAWN = (StepKind.PREPARE, StepKind.SAW_PIN, StepKind.FIT)
"""Steps with no tail board in hand: at the pin board a drawing of the tail board would be the wrong one."""
MOST_NEEDED = {StepKind.CHECK: 2}
"""How many of a step's lines must be seen, where the rest is advice."""


class Parts:
    """What the parts of the screen show at the step to do now, or at all the steps that one key completes."""

    def __init__(
        self, session: Session, steps: Sequence[Step], saying: Saying, columns: int, *, plain: bool, done_key: str
    ) -> None:
        self._session, self._walker, self._saying = session, session.walker, saying
        self._steps, self._columns, self._plain = steps, columns, plain
        self._banded = False  # whether a cut's label and turn stand side by side
        if not steps:
            return
        step = steps[0]
        self._told = tell(self._walker, step, saying, key=done_key)
        self._reminders = [_reminder(reminder, columns) for reminder in reminders_at(session, step)]
        self._cut: CutWords | None = None
        if step.kind is StepKind.CUT and len(steps) == 1:
            self._cut = CutWords(self._walker, step, self._told, plain=plain)

    def least(self) -> dict[str, Sequence[Content]]:
        """What must be seen whatever the window: the gravest reminder, what to do and how."""
        if not self._steps:
            done = wrapped("The batch is done.", self._columns, LABEL)
            lines = done_lines(self._walker, self._session.events, self._saying)
            return {"headline": done, "do": wrapped("\n".join(lines), self._columns)}
        if len(self._steps) > 1:
            do = stretch_lines(self._walker, self._steps, self._columns, LEAST_STRETCH_ROWS)
        elif self._cut is not None:
            do = self._cut.least(self._columns)
        else:
            do = self._particulars(MOST_NEEDED.get(self._steps[0].kind))
        needed = self._reminders[: most_needed(self._steps[0])]
        return {"reminders": [line for one in needed for line in one], "headline": self._headline(), "do": do}

    def grow(self, page: Page, progress: Sequence[Content]) -> None:
        """Lets the parts grow where there is room: first what prevents a mistake, then what is good to know."""
        if not self._steps:
            return
        if len(self._steps) > 1:
            self._grow_stretch(page, progress)
        elif self._cut is not None:
            self._grow_cut(page, self._cut, progress)
        else:
            self._grow_reading(page, progress)
        if len(self._steps) == 1:
            following = briefly(self._walker, self._walker.preview(), self._saying)
            if not self._banded or page.left > LEAST_DRAWING_ROWS:
                page.improve("next", wrapped(f"Next: {following}", self._columns, "$secondary"))
        page.improve("reminders", [line for reminder in self._reminders for line in reminder])
        if not self._banded or page.left > LEAST_DRAWING_ROWS:
            recent = paint.recent_lines(
                self._walker, self._session.events, self._saying, LEAST_RECENT, self._session.moment()
            )
            page.improve("recent", recent)
        if page.room("large") > page.left and not self._banded:
            page.improve("below", [Content("")])
        if not self._banded or page.left > GOOD_DRAWING_ROWS:
            page.improve("procedure", wrapped("\n".join(self._procedure()), self._columns, "$quiet"))
        if not self._banded:
            most = GIANT_ROWS if self._cut is None else min(HUGE_ROWS, page.room("large") - GOOD_DRAWING_ROWS)
            self._grow_label(page, most)
        if len(self._steps) > 1:
            page.improve("do", stretch_lines(self._walker, self._steps, self._columns, page.room("do")))
        if page.left > LEAST_DRAWING_ROWS:
            page.improve("above", [Content("")])
        page.improve("drawing", self._drawing(page.left))

    def _headline(self) -> list[Content]:
        if len(self._steps) == 1:
            return headline(self._told.kind, self._told.headline, self._columns)
        side = self._steps[0].side
        assert side is not None
        one = f"{board_name(self._walker, side.board)}: {counted(len(self._steps), 'cut')}"
        words = one if boards_in(self._steps) == 1 else amount(self._steps)
        return headline(self._told.kind, f"{words}, all with one key", self._columns)

    def _grow_cut(self, page: Page, cut: CutWords, progress: Sequence[Content]) -> None:
        page.improve("do", cut.in_words(self._columns))
        page.improve("progress", progress)
        page.improve("reminders", [line for reminder in self._reminders for line in reminder])
        band = cut.band(self._columns)
        if band and len(band) + ROWS_BESIDE <= page.left < ROWS_FOR_TWO:
            self._banded = page.improve("large", band)
            page.improve("procedure", wrapped(self._procedure()[-1], self._columns, "$quiet"))
            return
        self._grow_label(page, COMPACT_ROWS)
        page.improve("do", cut.with_picture(self._columns))
        page.improve("do", cut.with_large_words(self._columns, page.room("do")))
        self._grow_label(page, SINGLE_ROWS)

    def _grow_stretch(self, page: Page, progress: Sequence[Content]) -> None:
        page.improve("progress", progress)
        self._grow_label(page, COMPACT_ROWS)
        rows = max(LEAST_STRETCH_ROWS, page.room("do") - ROWS_AROUND)
        page.improve("do", stretch_lines(self._walker, self._steps, self._columns, rows))
        self._grow_label(page, SINGLE_ROWS)

    def _grow_reading(self, page: Page, progress: Sequence[Content]) -> None:
        """A step with one thing to read, which is worth more than the particulars' second mention of it."""
        most = TWO_DOUBLES if page.room("large") >= TWO_DOUBLES + ROWS_AROUND else SINGLE_ROWS
        if not self._grow_label(page, most) and self._short_headline():
            whole = self._headline()
            page.put("headline", self._short_headline())
            if not self._grow_label(page, COMPACT_ROWS):
                page.put("headline", whole)
        page.improve("progress", progress)
        page.improve("do", self._particulars(None))

    def _particulars(self, most: int | None) -> list[Content]:
        """What the step says of itself, the first lines of it or all."""
        return wrapped("\n".join(self._told.lines[:most]), self._columns)

    def _grow_label(self, page: Page, most_rows: int) -> bool:
        """What must be read right, as large as it fits: the reading, the mark, or the board's label."""
        rows = min(page.room("large"), most_rows)
        step = self._steps[0]
        if step.kind is StepKind.SET_FENCE:
            assert step.setting is not None
            reading = reading_at(self._walker, step.setting, self._saying)
            lines = large_reading(reading, self._columns, rows, plain=self._plain)
        else:
            lines = in_large(self._large_text(), self._columns, rows, plain=self._plain)
        return len(lines) >= page.room("large") - page.left and page.improve("large", lines)

    def _large_text(self) -> str:
        step = self._steps[0]
        if step.mark_mm is not None and step.kind is StepKind.CHECK:
            return self._saying.length(step.mark_mm)
        if step.side is not None and boards_in(self._steps) == 1:
            return self._walker.job.board(step.side.board).label
        if step.board is not None:
            return f"{self._walker.job.board(step.board).label} {step.end}"
        return ""

    def _short_headline(self) -> list[Content]:
        """The headline without what stands large below it."""
        words = {StepKind.SET_FENCE: "Set the fence to", StepKind.CHECK: "Cut scrap and measure"}
        said = words.get(self._steps[0].kind)
        return [] if said is None else headline(self._told.kind, said, self._columns)

    def _procedure(self) -> tuple[str, ...]:
        if self._steps[0].kind is StepKind.PREPARE:
            return (MANUAL, sample_shop_note()) if self._session.job.shop.sample else (MANUAL,)
        return procedure_at(self._session, self._steps[0])

    def _drawing(self, rows: int) -> list[Content]:
        """The board on the table or the bench, or the fence settings where no board is in hand."""
        step, walker = self._steps[0], self._walker
        if step.kind in (StepKind.SET_FENCE, StepKind.CHECK):
            return paint.settings_lines(walker, self._saying, step.setting, rows) if rows >= LEAST_SETTINGS_ROWS else []
        if rows < LEAST_DRAWING_ROWS or len(self._steps) > 1 or step.kind in NOT_DRAWN:
            return []
        from coach.tui.drawing import board  # only here: where it isn't drawn, the first screen comes sooner

        if step.kind is StepKind.CUT:
            view = board.view_of(walker, step)
        else:
            assert step.board is not None and step.end is not None
            view = board.end_view_of(walker, step.board, step.end)
        return board.lines(view, self._columns, min(rows, MOST_DRAWING_ROWS), plain=self._plain)


@lru_cache(maxsize=64)
def _reminder(reminder: Reminder, columns: int) -> tuple[Content, ...]:
    """The signal word, then what it warns of, wrapped."""
    word = reminder.signal.value
    return tuple(Content.assemble((word, SIGNAL_STYLES[word]), f" {reminder.text}").wrap(columns))
