"""The plan and the findings of a check as a person reads them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from textwrap import wrap

from rich.console import Console, Group, RenderableType
from rich.text import Text

from coach.ground.lengths import show_slope
from coach.ground.terms import Turn
from coach.joint.advice import Advice
from coach.plan.helping.totals import Totals
from coach.plan.job import Job
from coach.plan.settings import Settings
from coach.plan.steps import Step
from coach.plan.walking.alike_ends import baselines
from coach.plan.walking.situation import beginning
from coach.plan.walking.walker import Walker
from coach.telling.columns import columns
from coach.telling.phrases import (
    TURN_CHANGES,
    TURN_WORDS,
    Saying,
    counted,
    reading_at,
    rig_words,
    sample_shop_note,
)
from coach.telling.plan.totals import order_lines, totals_lines
from coach.telling.steps.ends import FROM_THE_END, ON_RIGHTS, WHICH_END, baseline_words
from coach.telling.steps.stop import stop_limits

LONGEST_LINE = 10_000


def printer(*, to_stderr: bool = False) -> Console:
    """A console that prints what people wrote as it is, never as markup; into a file or pipe it doesn't break lines."""
    console = Console(markup=False, highlight=False, emoji=False, stderr=to_stderr)
    if not console.is_terminal:
        console.width = LONGEST_LINE
    return console


def sample_shop_lines(job: Job) -> list[Text]:
    """The same in lines of a page, if it is so."""
    note = wrap(sample_shop_note(), 80, break_long_words=False, break_on_hyphens=False) if job.shop.sample else []
    return [Text(line, style="italic") for line in note]


def plan_page(job: Job, settings: Settings, steps: Sequence[Step], saying: Saying, title: str) -> RenderableType:
    """Settings, order of boards and turns, and totals."""
    walker = Walker(beginning(job, settings))
    spares = sum(board.spare for board in job.boards)
    boards = f"{counted(len(job.boards), 'board')}{f' ({spares} spare)' if spares else ''}"
    totals = Totals.of(steps)
    lines = [
        Text(title, style="bold"),
        Text(
            f"{boards}, {counted(job.cuts, 'cut')}, {counted(len(settings.fence_mm), 'fence setting')}"
            + _changes_words(settings)
        ),
        *map(Text, _shop_lines(job, settings, saying)),
        *sample_shop_lines(job),
        Text(),
        *_settings_lines(settings, walker, saying),
        *map(Text, order_lines(job, settings)),
        *(Text(line) for limit in stop_limits(job, settings, saying) for line in wrap(limit, 80)),
        Text(),
        *map(Text, ends_lines(job, saying)),
        Text(),
        *_order(job, steps, walker, saying),
        *(Text(f"{TURN_WORDS[turn]}: {TURN_CHANGES[turn]}") for turn in Turn if totals.turns[turn]),
        Text(),
        *map(Text, totals_lines(job, steps)),
    ]
    return Group(*lines)


def ends_lines(job: Job, saying: Saying) -> Iterator[str]:
    """How far the baselines are from the ends, and which end is which."""
    found = baselines(job)
    yield FROM_THE_END
    for alike in found:
        for line in baseline_words(alike, saying):
            yield from wrap(line, 80, initial_indent="  ", subsequent_indent="    ")
    yield from wrap(" ".join([WHICH_END, ON_RIGHTS] if any(alike.handed for alike in found) else [WHICH_END]), 80)


def shop_line(job: Job, settings: Settings, saying: Saying) -> str:
    """Jig, kerf and fence in one line."""
    return "; ".join(_shop_lines(job, settings, saying))


def _changes_words(settings: Settings) -> str:
    """How often the saw is changed over on the way, if it is."""
    if not settings.rig_changes:
        return ""
    return f", {counted(settings.rig_changes, 'change')} of fence or jig"


def _shop_lines(job: Job, settings: Settings, saying: Saying) -> tuple[str, ...]:
    jig, fence = job.shop.jig, job.shop.fence
    kerf = f"kerf {saying.length(job.shop.saw.kerf_mm)}"
    if settings.rigs:
        return (f"{kerf}; slope {show_slope(jig.slope)}; fence and jig by the setting",)
    leads = "wide" if jig.wide_leads else "narrow"
    return (
        f"Jig “{jig.name}”, {show_slope(jig.slope)}, {leads} end leading",
        f"{kerf}; fence at the {fence.side} of the blade",
    )


def _settings_lines(settings: Settings, walker: Walker, saying: Saying) -> Iterator[Text]:
    rows = [("setting", "reading", "move", "cuts", "boards")]
    first = "set by measuring" if saying.graduation is None else "set from the scale"
    for index in range(len(settings.fence_mm)):
        reading, move = reading_at(walker, index, saying), settings.move_mm(index)
        said = first if move is None else saying.on(walker.job_at(index).shop.fence).move(move)
        rows.append((str(index + 1), reading, said, str(walker.cuts_at(index)), str(walker.boards_left(index))))
    heading, *lines = columns(rows, right=(0, 3, 4))
    yield Text(heading, style="bold")
    for index, line in enumerate(lines):
        if settings.rigs and settings.move_mm(index) is None:
            words = rig_words(walker.job.shop, settings.rig(index))
            yield from (Text(said) for said in wrap(f"{words[0].upper()}{words[1:]}:", 80))
        yield Text(line)


def _order(job: Job, steps: Sequence[Step], walker: Walker, saying: Saying) -> Iterator[Text]:
    """What is done to the boards at each setting; boards that are treated alike are said together."""
    plain: list[str | tuple[str, ...]] = []
    for setting, cuts in groupby((step for step in steps if step.side is not None), key=lambda step: step.setting):
        assert setting is not None
        plain += [f"Setting {setting + 1}: {reading_at(walker, setting, saying)}", _CUT_COLUMNS]
        of_board: dict[int, list[Step]] = {}
        for step in cuts:
            assert step.side is not None
            of_board.setdefault(step.side.board, []).append(step)
        for _, run in groupby(of_board, key=lambda number: id(job.pattern_of(number).part)):
            plain += _run(walker, {number: of_board[number] for number in run}, saying)
        plain.append("")
    aligned = iter(columns([line for line in plain if isinstance(line, tuple)]))
    for line in plain:
        if isinstance(line, str):
            yield Text(line, style="bold" if line.startswith("Setting") else "")
        else:
            yield Text("    " + next(aligned))


def _run(walker: Walker, run: Mapping[int, Sequence[Step]], saying: Saying) -> Iterator[str | tuple[str, ...]]:
    """Boards of one part that follow one another at a setting, in the order in which they lie."""
    job = walker.job
    numbers = list(run)
    first, last = job.board(numbers[0]).label, job.board(numbers[-1]).label
    yield f"  {first}" if len(numbers) == 1 else f"  {first} … {last} ({len(numbers)} boards, in this order)"
    alike: dict[tuple[tuple[str, ...], ...], list[int]] = {}
    for number, steps in run.items():
        alike.setdefault(tuple(_cut_row(walker, step, saying) for step in steps), []).append(number)
    for rows, boards in alike.items():
        if len(alike) > 1:
            which = ", ".join(job.board(number).label.rsplit(" ", 1)[1] for number in boards)
            hands = {job.pattern_of(number).hand for number in boards}
            hand = hands.pop() if len(hands) == 1 else None
            yield from wrap(
                f"{f'{hand}: ' if hand else ''}{which}", 76, initial_indent="   ", subsequent_indent="     "
            )
        yield from rows


_CUT_COLUMNS = ("turn", "end leads", "edge at jig", "face up", "tail", "side", "mark")


def _cut_row(walker: Walker, step: Step, saying: Saying) -> tuple[str, ...]:
    """A cut's row: its mark as the fence setting cuts it, and as drawn where that differs."""
    assert step.side is not None and step.mark_mm is not None and step.edge is not None and step.face_up is not None
    side = step.side
    turn = "no turn" if step.turn is None else step.turn.value
    mark, drawn = saying.length(walker.mark_as_cut_mm(side)), saying.length(step.mark_mm)
    mark += "" if mark == drawn else f" (drawn {drawn})"
    return turn, side.end, step.edge, step.face_up, str(side.tail), side.faces, mark


def advice_lines(notes: Iterable[tuple[str, Advice]]) -> Iterator[Text]:
    """Each advice with where it is about and the source of its rule."""
    for file, note in notes:
        yield Text(f"{file}: {note.where}: advice: {note.text} ({note.source})")
