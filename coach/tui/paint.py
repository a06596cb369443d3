"""What the walk shows, as styled text: bars, drawing, reminders, settings, recent steps. Nothing is read as markup."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from itertools import groupby, islice

from textual.content import Content

from coach.plan.steps import StepKind
from coach.plan.walker import Walker
from coach.record.events import STEP_KINDS, step_of, undone_numbers
from coach.record.store import Event
from coach.sheets.saying import Saying, counted
from coach.sheets.step_words import briefly
from coach.tui.drawing import ASCII_GLYPHS, BASELINE, CUT, GLYPHS, NOW, WASTE, WOOD, View, draw, kerf_column
from coach.words import Edge, End, Hand, Lie, Side

LEAST_BAR = 4
"""A bar of fewer cells says less than the words beside it."""

SPELLED = str.maketrans("“”’−…×", '""\'-.x')
"""The signs in our own words that ASCII lacks, each as one that it has, so that no line gets longer."""


def spelled(content: Content) -> Content:
    """`content` in signs that a terminal without Unicode has; what a person wrote otherwise stays as it is."""
    return Content(content.plain.translate(SPELLED), list(content.spans))


def bar(done: int, whole: int, columns: int, *, plain: bool) -> str:
    """A bar of `columns` cells, filled as far as `done` of `whole`; full only when all is done."""
    filled = columns if done >= whole else min(columns - 1, done * columns // max(whole, 1))
    full, empty = ("#", "-") if plain else ("━", "╌")
    return full * filled + empty * (columns - filled)


def progress_lines(walker: Walker, columns: int, *, plain: bool) -> list[Content]:
    """Two bars: of this setting, with what is left at it, and of the batch; where it is narrow, only their words."""
    cuts, cuts_left = walker.cuts_in_all, walker.cuts_left_in_all
    setting = walker.fence.setting
    lines = []
    if setting is not None and cuts_left:
        at, left = walker.cuts_at(setting), walker.cuts_left(setting)
        boards = walker.boards_left(setting)
        name = f"Setting {setting + 1} of {len(walker.settings.fence_mm)}"
        still = f"{counted(left, 'cut')} left, {counted(boards, 'board')}"
        stop = still if left else "all cut: a good place to stop"
        lines.append((name, at - left, at, stop))
    if cuts_left:
        lines.append(("Batch", cuts - cuts_left, cuts, f"{cuts - cuts_left} of {cuts} cuts done"))
    else:
        bench = walker.steps_at_bench
        done = bench - walker.steps_at_bench_left
        lines.append(("Bench", done, bench, f"{done} of {bench} steps done, no cut is left"))
    label = max(len(line[0]) for line in lines) + 2
    note = max(len(line[3]) for line in lines) + 2
    if columns < label + LEAST_BAR + note:
        return [Content.assemble((f"{name}:", "bold"), f" {said}") for name, _, _, said in lines]
    return [
        Content.assemble(
            (name.ljust(label), "bold"),
            (bar(done, whole, columns - label - note, plain=plain), "$primary"),
            f"  {said}",
        )
        for name, done, whole, said in lines
    ]


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


STYLES = {WOOD: "$wood", WASTE: "$quiet", CUT: "bold", NOW: "bold $accent", BASELINE: "$quiet"}


def drawing(view: View, columns: int, rows: int, *, plain: bool, at_saw: bool) -> list[Content]:
    """The leading end with a pointer to the kerf to cut now, and which edge is where."""
    glyphs = ASCII_GLYPHS if plain else GLYPHS
    right = view.fence_side is Hand.RIGHT
    jig = "" if not at_saw else ("| jig" if plain else "▌ jig") if right else ("jig |" if plain else "jig ▐")
    pad = "" if right or not jig else " " * (len(jig) + 1)
    lines = []
    column = kerf_column(view, columns)
    if column is not None:
        arrow, words = ("v" if plain else "▼"), "this kerf"
        to_right = column + len(words) + 2 <= columns
        said = f"{arrow} {words}" if to_right else f"{words} {arrow}"
        lines.append(
            Content.assemble((pad + " " * (column if to_right else column + 1 - len(said)) + said, STYLES[NOW]))
        )
    for row in draw(view, columns, rows):
        cells = [("".join(glyphs[cell] for cell in run), STYLES[kind]) for kind, run in groupby(row)]
        beside = (f"{jig} ", "$quiet") if not right else (f" {jig}", "$quiet")
        lines.append(Content.assemble(*cells, beside) if right or not jig else Content.assemble(beside, *cells))
    at_jig = view.lie.edge
    left, at_right = (at_jig.other, at_jig) if right else (at_jig, at_jig.other)
    gap = max(1, columns - len(left) - len(at_right) - 10)
    lines.append(Content.assemble((f"{pad}{left} edge{' ' * gap}{at_right} edge", "$quiet")))
    return lines


def settings_lines(walker: Walker, saying: Saying, now: int | None, rows: int) -> list[Content]:
    """Every fence setting with its reading and what is left at it; the one to set now is marked."""
    count = len(walker.settings.fence_mm)
    first = 0 if now is None else max(0, min(now - rows // 2, count - rows))
    lines = []
    for index in range(first, min(count, first + rows)):
        left = walker.cuts_left(index)
        state = "all cut" if not left else f"{left} of {walker.cuts_at(index)} cuts left"
        reading = saying.reading(walker.reading_mm(index))
        line = f"{'>' if index == now else ' '} setting {index + 1:<3} {reading:<20} {state}"
        lines.append(Content.styled(line, "bold" if index == now else "$quiet"))
    if count > first + rows:
        lines.append(Content.styled(f"  and {count - first - rows} more", "$quiet"))
    return lines


def recent_lines(walker: Walker, events: Sequence[Event], saying: Saying, rows: int) -> list[Content]:
    """The last few steps that stand, the latest first."""
    undone = undone_numbers(events[-200:])
    standing = (event for event in reversed(events) if event.kind in STEP_KINDS and event.number not in undone)
    return [
        Content.styled(f"{datetime.fromisoformat(event.at):%H:%M:%S}  {_done_words(walker, event, saying)}", "$quiet")
        for event in islice(standing, rows)
    ]


def _done_words(walker: Walker, event: Event, saying: Saying) -> str:
    step = step_of(event)
    if step.kind is StepKind.CUT:
        return f"cut: {briefly(walker, step, saying)}"
    reading = event.data.get("reading")
    if reading is not None and step.setting is not None:  # as it was then: a scrap cut may have corrected it since
        return f"done: fence to {reading} (setting {step.setting + 1})"
    return f"done: {briefly(walker, step, saying)}"
