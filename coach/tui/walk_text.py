"""What stands on the walk's screen, fitted to the window: the important first, the rest where there is room."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass

from rich.cells import cell_len
from textual.content import Content

from coach.plan.steps import BENCH_KINDS, Step, StepKind
from coach.record.session import Session
from coach.sheets.saying import SAMPLE_SHOP, Saying, sample_shop_note
from coach.sheets.step_words import briefly, tell
from coach.trade.reminders import AT_THE_END, MANUAL, Reminder, procedure, reminders
from coach.tui import paint
from coach.tui.theme import SIGNAL_STYLES
from coach.words import Edge

LEAST_COLUMNS, LEAST_ROWS = 40, 15
LEAST_DRAWING_ROWS, MOST_DRAWING_ROWS = 6, 18
LEAST_RECENT, MOST_RECENT = 2, 12
LEAST_SAID = 2
"""Enough for what is said of a key that isn't counted."""
ROWS_OF_A_STEP = 12
"""Title, keys, the gravest reminder and what is to be done, in the narrowest window."""
LONG_BOARD_MM = 900.0
"""A board longer than this overhangs a bandsaw's table so far that it wants support."""

KEYS = (
    ("space", "done"),
    ("u", "undo"),
    ("m", "measured"),
    ("c", "change"),
    ("l", "log"),
    ("?", "help"),
    ("q", "leave"),
)


@dataclass(frozen=True, slots=True)
class Window:
    """The room there is, and how it may be filled."""

    columns: int
    rows: int
    plain: bool

    @property
    def too_small(self) -> bool:
        """Whether the walk can't be shown in it."""
        return self.columns < LEAST_COLUMNS or self.rows < LEAST_ROWS


def title_line(session: Session, window: Window) -> Content:
    """The batch's name, and whether the shop is only the sample."""
    title = Content.styled(session.name, "bold")
    if session.job.shop.sample:
        wide = cell_len(session.name) + len(SAMPLE_SHOP) + 5 <= window.columns
        title = Content.assemble((SAMPLE_SHOP if wide else "Sample shop", "italic"), "   ", title)
    return paint.spelled(title) if window.plain else title


def keys_line(step: Step | None) -> Content:
    """The keys that do something now, the ones that matter most first."""
    shown = [pair for pair in KEYS if pair[0] != "m" or (step is not None and step.kind is StepKind.CHECK)]
    return Content(" ").join(Content.assemble((key, "bold $footer-key-foreground"), f" {does}") for key, does in shown)


def too_small_words(window: Window) -> str:
    """What size is needed, in lines that the window can show."""
    words = (
        f"The walk needs at least {LEAST_COLUMNS} columns by {LEAST_ROWS} rows; this window has "
        f"{window.columns} by {window.rows}. Make it larger, and the walk goes on where it was."
    )
    return textwrap.fill(words, max(1, window.columns - 2))


def body(session: Session, step: Step | None, saying: Saying, said: str, window: Window) -> Content:
    """Everything between the title and the keys: reminders, what to do, the drawing, progress, what was done last."""
    walker = session.walker
    columns, room = window.columns - 2, window.rows - 2
    progress = paint.progress_lines(walker, columns, plain=window.plain)
    if step is None:
        headline = _wrapped("The batch is done.", columns, "bold $primary")
        particulars = _wrapped("\n".join(AT_THE_END), columns)
    else:
        told = tell(walker, step, saying)
        headline = _headline(told.kind, told.headline, columns)
        particulars = _wrapped("\n".join(told.lines), columns)
    gravest = 0 if step is None else len(_reminders(session, step, columns, 0))
    said_lines = _said(said, columns, room - gravest - len(headline) - len(particulars))
    room -= len(headline) + len(particulars) + len(progress) + max(1, len(said_lines))
    warned: list[Content] = []
    beside: dict[str, list[Content]] = {"next": [], "procedure": [], "drawing": []}
    if step is not None:
        warned = _reminders(session, step, columns, room)
        room -= len(warned)
        how = procedure(step.kind.value, backing_out=_backing_out(session), long_board=_long_board(session, step))
        beside["next"] = _if_room(
            _wrapped(f"Next: {briefly(walker, walker.preview(), saying)}", columns, "$secondary"), room
        )
        room -= len(beside["next"])
        if step.kind is StepKind.PREPARE:
            how = (MANUAL, sample_shop_note()) if session.job.shop.sample else (MANUAL,)
        beside["procedure"] = _if_room(_wrapped("\n".join(how), columns, "$quiet"), room)
        room -= len(beside["procedure"])
        picture = _picture(session, step, saying, columns, min(room - LEAST_RECENT, MOST_DRAWING_ROWS), window)
        beside["drawing"] = _if_room(picture, room)
        room -= len(beside["drawing"])
    recent = paint.recent_lines(walker, session.events, saying, max(0, min(room, MOST_RECENT)))
    room -= len(recent)
    rows = [
        *warned,
        *headline,
        *particulars,
        *beside["procedure"],
        *beside["drawing"],
        *progress,
        *beside["next"],
        *recent,
    ]
    rows += [Content("")] * max(0, room)
    text = Content("\n").join((*rows[: window.rows - 2 - len(said_lines)], *said_lines))
    return paint.spelled(text) if window.plain else text


def said_in_whole(said: str, window: Window) -> bool:
    """Whether the walk has room for all of what is said, beside a step."""
    return len(_wrapped(said, window.columns - 2)) <= window.rows - ROWS_OF_A_STEP


def _said(said: str, columns: int, room: int) -> list[Content]:
    """What is said of the latest key, never so much that it covers what is to be done."""
    lines = _wrapped(said, columns, "bold $accent")
    room = max(LEAST_SAID, room)
    if len(lines) <= room:
        return lines
    shown = lines[:room]
    shown[-1] = Content.styled(f"{shown[-1].plain[: columns - 2].rstrip()} …", "bold $accent")
    return shown


def _if_room(lines: list[Content], room: int) -> list[Content]:
    return lines if len(lines) <= room else []


def _wrapped(text: str, columns: int, style: str = "") -> list[Content]:
    return Content.styled(text, style).wrap(columns) if text else []


def _headline(kind: str, words: str, columns: int) -> list[Content]:
    badge = f" {kind.upper()} "
    if len(badge) + 1 + cell_len(words) <= columns:
        return [Content.assemble((badge, "bold reverse $primary"), " ", (words, "bold $primary"))]
    return [Content.styled(badge, "bold reverse $primary"), *_wrapped(words, columns, "bold $primary")]


def _reminders(session: Session, step: Step, columns: int, room: int) -> list[Content]:
    """Both reminders if there is room, else the gravest."""
    walker = session.walker
    said = reminders(
        step.kind.value,
        topic=step.topic,
        backing_out=_backing_out(session),
        long_board=_long_board(session, step),
        last=walker.cuts_left_in_all == 0 and walker.steps_at_bench_left == 1,
    )
    both = [_reminder(reminder, columns) for reminder in said]
    lines = [line for reminder in both for line in reminder]
    return lines if len(lines) <= room else both[0]


def _reminder(reminder: Reminder, columns: int) -> list[Content]:
    """The signal word, then what it warns of, wrapped."""
    word = reminder.signal.value
    return Content.assemble((word, SIGNAL_STYLES[word]), f" {reminder.text}").wrap(columns)


def _backing_out(session: Session) -> str:
    return session.job.shop.saw.backing_out


def _long_board(session: Session, step: Step) -> bool:
    number = step.side.board if step.side is not None else step.board
    parts = session.job.patterns if number is None else (session.job.pattern_of(number),)
    return any(pattern.part.length_mm > LONG_BOARD_MM for pattern in parts)


def _picture(session: Session, step: Step, saying: Saying, columns: int, rows: int, window: Window) -> list[Content]:
    """The board's leading end, or the fence settings where no board is in hand."""
    walker = session.walker
    if step.kind is StepKind.CUT:
        assert step.side is not None and step.edge is not None
        view = paint.view_of(walker, step.side.board, step.side.end, step.edge, step.side)
    elif step.kind in BENCH_KINDS:
        assert step.board is not None and step.end is not None
        if not walker.benched:
            return _wrapped("\n".join(("The saw's work is over:", *AT_THE_END)), columns)
        view = paint.view_of(walker, step.board, step.end, Edge.BOTTOM, None)
    elif step.kind is StepKind.PREPARE:
        return []
    else:
        return paint.settings_lines(walker, saying, step.setting, max(1, rows - 1))
    if rows < LEAST_DRAWING_ROWS:
        return []
    across = max(20, min(columns - 6, 72))
    return paint.drawing(view, across, rows - 2, plain=window.plain, at_saw=step.kind is StepKind.CUT)
