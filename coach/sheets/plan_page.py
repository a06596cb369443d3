"""The plan and the findings of a check as a person reads them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from coach import places
from coach.joint.advice import Advice
from coach.lengths import show_slope
from coach.plan.job import Job
from coach.plan.settings import Settings
from coach.plan.situation import beginning
from coach.plan.steps import BENCH_KINDS, Step, StepKind
from coach.plan.walker import Walker
from coach.sheets.saying import SAMPLE_SHOP, TURN_WORDS, Saying
from coach.words import Turn


def printer(*, to_stderr: bool = False) -> Console:
    """A console that prints what people wrote as it is, never as markup."""
    return Console(markup=False, highlight=False, emoji=False, stderr=to_stderr, soft_wrap=False)


def sample_shop_note() -> str:
    """Says that the sample shop is in use, and where one's own goes."""
    return f"{SAMPLE_SHOP}: measure your own saw, fence and jig and save them as {places.shop_file()}"


@dataclass(frozen=True, slots=True)
class Totals:
    """What a plan costs at the saw."""

    moves: int
    pick_ups: int
    turns: Counter[Turn]

    @classmethod
    def of(cls, steps: Iterable[Step]) -> Totals:
        """Counted over `steps`."""
        moves = pick_ups = 0
        turns: Counter[Turn] = Counter()
        held: int | None = None
        for step in steps:
            if step.kind is StepKind.SET_FENCE:
                moves += 1
                held = None
            if step.side is not None:
                pick_ups += step.side.board != held
                held = step.side.board
                if step.turn is not None:
                    turns[step.turn] += 1
        return cls(moves, pick_ups, turns)


def plan_page(job: Job, settings: Settings, steps: Sequence[Step], saying: Saying, title: str) -> RenderableType:
    """Settings, order of boards and turns, and totals."""
    walker = Walker(beginning(job, settings))
    spares = sum(board.spare for board in job.boards)
    parts: list[RenderableType] = [
        Text(title, style="bold"),
        Text(
            f"{len(job.boards)} boards{f' ({spares} spare)' if spares else ''}, {job.cuts} cuts, "
            f"{len(settings.fence_mm)} fence settings"
        ),
        Text(shop_line(job, saying)),
    ]
    if job.shop.sample:
        parts.append(Text(sample_shop_note(), style="italic"))
    parts += [Text(), _settings_table(job, settings, walker, saying), Text()]
    parts += list(_order(job, steps, saying))
    totals = Totals.of(steps)
    turned = ", ".join(f"{totals.turns[turn]} {turn.value}" for turn in Turn if totals.turns[turn]) or "none"
    bench = sum(step.kind in BENCH_KINDS for step in steps)
    parts += [
        Text(),
        Text(f"Fence set {totals.moves} times; boards picked up {totals.pick_ups} times; turns: {turned}."),
        Text(f"Then {bench} steps at the bench: waste cleared, pins marked, sawn and fitted, corner by corner."),
    ]
    return Group(*parts)


def shop_line(job: Job, saying: Saying) -> str:
    """Jig, kerf and fence in one line."""
    jig, fence = job.shop.jig, job.shop.fence
    leads = "wide" if jig.wide_leads else "narrow"
    return (
        f"Jig “{jig.name}”, {show_slope(jig.slope)}, {leads} end leading; kerf {saying.length(job.shop.saw.kerf_mm)}; "
        f"fence at the {fence.side} of the blade"
    )


def _settings_table(job: Job, settings: Settings, walker: Walker, saying: Saying) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for heading, justify in (
        ("setting", "right"),
        ("reading", "left"),
        ("move", "left"),
        ("cuts", "right"),
        ("boards", "right"),
    ):
        table.add_column(heading, justify=justify)  # type: ignore[arg-type]
    moves = [None, *(later - earlier for earlier, later in pairwise(settings.fence_mm))]
    for index, move in enumerate(moves):
        table.add_row(
            str(index + 1),
            saying.reading(walker.reading_mm(index)),
            "set from the scale" if move is None else saying.move(move),
            str(walker.cuts_at(index)),
            str(walker.boards_left(index)),
        )
    return table


def _order(job: Job, steps: Sequence[Step], saying: Saying) -> Iterator[RenderableType]:
    """What is done to the boards at each setting; boards that are treated alike are said together."""
    for setting, cuts in groupby((step for step in steps if step.side is not None), key=lambda step: step.setting):
        assert setting is not None
        yield Text(f"Setting {setting + 1}", style="bold")
        boards: list[tuple[int, list[Step]]] = []
        for step in cuts:
            assert step.side is not None
            if not boards or boards[-1][0] != step.side.board:
                boards.append((step.side.board, []))
            boards[-1][1].append(step)
        for said, alike in groupby(boards, key=lambda board: tuple(_cut_words(step, saying) for step in board[1])):
            numbers = [number for number, _ in alike]
            first, last = job.board(numbers[0]).label, job.board(numbers[-1]).label
            who = first if len(numbers) == 1 else f"{first} … {last} ({len(numbers)} boards)"
            yield Padding(Text(who), (0, 0, 0, 2))
            for words in said:
                yield Padding(Text(words), (0, 0, 0, 4))


def _cut_words(step: Step, saying: Saying) -> str:
    assert step.side is not None and step.mark_mm is not None
    turn = f"{TURN_WORDS[step.turn]}: " if step.turn is not None else ""
    return (
        f"{turn}end {step.side.end} leading, {step.edge} edge at the jig, {step.face_up} face up; "
        f"tail {step.side.tail}, {step.side.faces} side, mark {saying.length(step.mark_mm)}"
    )


def advice_lines(notes: Iterable[tuple[str, Advice]]) -> Iterator[Text]:
    """Each advice with where it is about and the source of its rule."""
    for file, note in notes:
        yield Text(f"{file}: {note.where}: advice: {note.text} ({note.source})")
