"""Rich texts of the walk: bars, drawing, reminders, settings and recent steps. No text that a person wrote is markup."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from rich.text import Text

from coach.plan.steps import Step, StepKind
from coach.plan.walker import Walker
from coach.record.events import STEP_KINDS, step_of, undone_numbers
from coach.record.store import Event
from coach.sheets.saying import Saying
from coach.sheets.step_words import briefly
from coach.trade.reminders import Reminder
from coach.tui.drawing import ASCII_GLYPHS, CUT, GLYPHS, NOW, View, draw, kerf_column
from coach.tui.theme import SIGNAL_STYLES
from coach.words import Edge, End, Hand, Lie, Side


def bar(done: int, whole: int, columns: int, *, plain: bool) -> str:
    """A bar of `columns` cells, filled as far as `done` of `whole`; full only when all is done."""
    filled = columns if done >= whole else min(columns - 1, done * columns // max(whole, 1))
    full, empty = ("#", "-") if plain else ("━", "╌")
    return full * filled + empty * (columns - filled)


def progress_lines(walker: Walker, columns: int, *, plain: bool) -> Text:
    """Two bars: of this setting, with what is left at it, and of the batch."""
    job = walker.job
    cuts_left = walker.cuts_left_in_all
    setting = walker.fence.setting
    lines = []
    if setting is not None and cuts_left:
        at, left = walker.cuts_at(setting), walker.cuts_left(setting)
        boards = walker.boards_left(setting)
        name = f"Setting {setting + 1} of {len(walker.settings.fence_mm)}"
        stop = f"{left} cuts left here on {boards} boards" if left else "done: a good place to stop"
        lines.append((name, at - left, at, stop))
    if cuts_left:
        lines.append(("Batch", job.cuts - cuts_left, job.cuts, f"{job.cuts - cuts_left} of {job.cuts} cuts"))
    else:
        bench = walker.steps_at_bench
        done = bench - walker.steps_at_bench_left
        lines.append(("Bench", done, bench, f"{done} of {bench} steps; all {job.cuts} cuts are done"))
    text = Text(no_wrap=True, overflow="ellipsis")
    label = max(len(line[0]) for line in lines) + 2
    note = max(len(line[3]) for line in lines) + 2
    for index, (name, done, whole, said) in enumerate(lines):
        text.append("\n" if index else "")
        text.append(name.ljust(label), "bold")
        text.append(bar(done, whole, max(4, columns - label - note), plain=plain))
        text.append(f"  {said}")
    return text


def reminder_lines(reminders: Sequence[Reminder]) -> Text:
    """A line each: the signal word, then what it warns of."""
    text = Text(no_wrap=False)
    for index, reminder in enumerate(reminders):
        text.append("\n" if index else "")
        text.append(reminder.signal.value, SIGNAL_STYLES[reminder.signal.value])
        text.append(f" {reminder.text}")
    return text


def view_of(walker: Walker, board: int, end: End, edge: Edge, now: Side | None) -> View:
    """What to draw of a board that lies with `end` leading and `edge` at the jig."""
    pattern = walker.job.pattern_of(board)
    joint = pattern.ends[end]
    done = frozenset(
        (tail, faces)
        for tail in range(1, joint.tails + 1)
        for faces in Edge
        if Side(board, end, tail, faces) in walker.done
    )
    shop = walker.job.shop
    return View(
        joint,
        pattern.part.width_mm,
        shop.jig.slope,
        shop.saw.kerf_mm,
        Lie(end, edge),
        shop.fence.side,
        done,
        None if now is None else (now.tail, now.faces),
    )


def drawing(view: View, columns: int, rows: int, *, plain: bool, at_saw: bool) -> Text:
    """The leading end with a pointer to the kerf to cut now, and which edge is where."""
    glyphs = ASCII_GLYPHS if plain else GLYPHS
    styles = {NOW: "bold reverse", CUT: "bold"}
    right = view.fence_side is Hand.RIGHT
    at_right = view.lie.edge if right else view.lie.edge.other
    jig = ("| jig" if plain else "▌ jig") if at_saw else ""
    text = Text(no_wrap=True, overflow="crop")
    pad = "" if right or not jig else " " * 6
    column = kerf_column(view, columns)
    if column is not None:
        pointer = ("v" if plain else "▼") + " this kerf"
        start = min(column, max(0, columns - len(pointer))) if column + len(pointer) > columns else column
        said = pointer if start == column else "this kerf " + pointer[0]
        start = column if start == column else column - len(said) + 1
        text.append(pad + " " * max(0, start) + said + "\n", "bold")
    for row in draw(view, columns, rows):
        if not right and jig:
            text.append("jig ▐ " if not plain else "jig | ", "dim")
        run = ""
        kind = row[0]
        for cell in row:
            if cell != kind:
                text.append(run, styles.get(kind, ""))
                run, kind = "", cell
            run += glyphs[cell]
        text.append(run, styles.get(kind, ""))
        text.append((f" {jig}" if right else "") + "\n", "dim")
    left_name, right_name = f"{at_right.other} edge", f"{at_right} edge"
    gap = max(1, columns - len(left_name) - len(right_name))
    text.append(pad + left_name + " " * gap + right_name)
    return text


def settings_lines(walker: Walker, saying: Saying, now: int | None, rows: int) -> Text:
    """Every fence setting with its reading and what is left at it; the one to set now is marked."""
    count = len(walker.settings.fence_mm)
    first = 0 if now is None else max(0, min(now - rows // 2, count - rows))
    text = Text(no_wrap=True, overflow="ellipsis")
    for index in range(first, min(count, first + rows)):
        left = walker.cuts_left(index)
        state = "all cut" if not left else f"{left} of {walker.cuts_at(index)} cuts left"
        line = f"{'>' if index == now else ' '} setting {index + 1}   {saying.reading(walker.reading_mm(index)):<22} {state}"
        text.append(("\n" if index > first else "") + line, "bold" if index == now else "")
    return text


def recent_lines(walker: Walker, events: Sequence[Event], saying: Saying, rows: int) -> Text:
    """The last few steps that stand, the latest first."""
    undone = undone_numbers(events[-200:])
    text = Text(no_wrap=True, overflow="ellipsis")
    shown = 0
    for event in reversed(events):
        if shown == rows:
            break
        if event.kind in STEP_KINDS and event.number not in undone:
            moment = datetime.fromisoformat(event.at)
            said = _done_words(walker, step_of(event), saying)
            text.append(("\n" if shown else "") + f"{moment:%H:%M:%S}  {said}", "dim" if shown else "")
            shown += 1
    return text


def _done_words(walker: Walker, step: Step, saying: Saying) -> str:
    said = briefly(walker, step, saying)
    return f"cut: {said}" if step.kind is StepKind.CUT else f"done: {said}"
