"""Mistakes at the saw, at random, each replayed in the wood: what the coach says of them against what is left.

The board is a rigid body, the kerf a slot where the blade really went (`sawn_wood`), the tails are polygons; what the
program under test gives is its verdict alone.
"""

from __future__ import annotations

import math
import random
from collections import Counter
from dataclasses import dataclass, replace

from shapely.geometry import Polygon
from support.rigid_board import Board, tail_outline
from support.sawn_wood import Kerf, bench_of, designed
from support.small_jobs import job, joint, part, plain, shop

from coach.ground.errors import CoachError
from coach.ground.terms import Edge, End, Hand, Side
from coach.joint.layout import EndLayout
from coach.joint.limits import end_problems
from coach.plan.deciding.decide import decide
from coach.plan.job import Job
from coach.plan.judging.mistakes import Judgement, Mistake, Verdict
from coach.plan.judging.wrong_cuts import judge
from coach.plan.walking.situation import beginning
from coach.plan.walking.walker import Walker

SCALES = (None, *(f"{25.4 / n}" for n in (64, 32, 16, 8)), "1/10", "1/2", "1", "2", "5")
TOLERANCES_MM = (None, 0.05, 0.2, 0.5, 1.0, 2.0)
SLIVER_MM2 = 1e-4
SOUND = (Verdict.WITHIN, Verdict.CUT_AGAIN, Verdict.COUNTS_AS)


@dataclass(frozen=True)
class Case:
    """A side that was cut wrong."""

    made: Job
    side: Side
    mistake: Mistake
    off_mm: float


def cases(seed: int, count: int) -> list[Case]:
    """So many mistakes; the same for the same seed."""
    chance = random.Random(seed)  # noqa: S311 - no secret
    found: list[Case] = []
    while len(found) < count:
        one = _case(chance)
        if one is not None:
            found.append(one)
    return found


def _case(chance: random.Random) -> Case | None:
    scale = chance.choice(SCALES)
    tools = shop(
        kerf_mm=chance.choice((0.6, 0.8, 0.9, 1.2)),
        wide_leads=chance.random() < 0.75,
        slope=math.atan(1 / chance.choice((5, 6, 7.5, 8))),
        fence_side=chance.choice(tuple(Hand)),
        graduation_mm=scale,
        throat_mm=900.0,
        front_mm=30.0,
    )
    width_mm = chance.uniform(40, 140)
    ends = {end: _end(chance, width_mm) for end in End if end is End.A or chance.random() < 0.8}
    tolerance_mm = chance.choice(TOLERANCES_MM)
    made = job([part(ends, width_mm=width_mm)], tools, tolerance_mm=tolerance_mm)
    for end in ends.values():
        if end_problems(made.layouts[0].parts[0], end, tools.jig.slope, tools.saw.kerf_mm, plain):
            return None
    try:
        decide(made)
    except CoachError:  # a scale too coarse for the layout
        return None
    sides = made.patterns[0].sides()
    off_mm = chance.choice((chance.uniform(-1.5, 1.5), chance.uniform(-30, 12), -20.0, 0.0))
    return Case(made, Side(1, *chance.choice(sides)), chance.choice(tuple(Mistake)), off_mm)


def _end(chance: random.Random, width_mm: float) -> EndLayout:
    tails = chance.randint(1, 4)
    half, pin = chance.uniform(4, 9), chance.uniform(1.8, 8)
    each = (width_mm - 2 * half - (tails - 1) * pin) / tails
    tops = tuple(half + number * (each + pin) + chance.uniform(-0.4, 0.4) for number in range(tails))
    bottoms = tuple(half + number * (each + pin) + chance.uniform(-0.4, 0.4) for number in range(tails))
    return joint(tops, bottoms, mates_with_mm=chance.uniform(8, 18))


def told(case: Case) -> tuple[Walker, Judgement]:
    """What the coach says of a mistake."""
    walker = Walker(replace(beginning(case.made, decide(case.made)), done=frozenset({case.side})))
    return walker, judge(walker, case.side, case.mistake, case.off_mm, plain)


def contradicted(case: Case) -> tuple[Verdict, str | None]:
    """The verdict, and how the wood contradicts it; None if it bears it out."""
    walker, said = told(case)
    if case.mistake is Mistake.TOO_DEEP:
        return said.verdict, None
    board = designed(case.made.patterns[0], "board")
    slot = _kerf(walker, case, board).outline(board)
    counted = said.counts_as
    if said.verdict is Verdict.WITHIN:
        counted = case.side
    elif said.verdict is Verdict.MENDABLE:
        return said.verdict, _mended(case, said, board, slot)
    harmed = _harmed(case, board, slot, counted)
    if said.verdict in SOUND and harmed:
        return said.verdict, f"called {said.verdict}, but {harmed}"
    if said.verdict is Verdict.SPOILED and "through" in " ".join(said.lines) and "cut in two" not in harmed:
        return said.verdict, f"{said.lines}, but no tail is cut in two: {harmed or 'none is harmed'}"
    if (
        said.verdict is Verdict.SPOILED
        and not harmed
        and case.mistake is not Mistake.OFF_LINE
        and "gets no" not in said.lines[0]
    ):
        spoils = case.mistake in (Mistake.WRONG_EDGE, Mistake.WRONG_END)
        return said.verdict, "called spoiled, but no tail is harmed" if spoils else None
    return said.verdict, None


def _kerf(walker: Walker, case: Case, board: Board) -> Kerf:
    """Where the blade really went."""
    key = (case.side.end, case.side.tail, case.side.faces)
    setting = walker.settings.serving(case.made.board(1))[key]
    step = walker.cut_of(case.side, None)
    assert step.edge is not None
    tools, pattern = case.made.shop, case.made.patterns[0]
    length = pattern.ends[case.side.end].tail_length_mm
    bench = bench_of(tools, walker.settings.fence_mm[setting])
    meant = Kerf(bench, tools.saw.kerf_mm, case.side.end.value, step.edge.value, length)
    match case.mistake:
        case Mistake.WRONG_EDGE:
            return replace(meant, edge=step.edge.other.value)
        case Mistake.WRONG_END:
            other = case.side.end.other
            depth = pattern.ends[other].tail_length_mm if other in pattern.ends else length
            return replace(meant, end=other.value, depth_mm=depth)
    drawn = pattern.ends[case.side.end].mark_mm(case.side.tail, case.side.faces)
    along = tools.saw.kerf_mm / math.cos(tools.jig.slope)
    off = along if case.mistake is Mistake.WRONG_SIDE else case.off_mm
    return meant.off(drawn - meant.mark_mm(board, case.side.faces.value) + off)


def _harmed(case: Case, board: Board, slot: Polygon, counted: Side | None) -> str:
    """What of the tails, as designed, is harmed beyond tolerance; nothing if none is.

    The tail of the side that the kerf counts as is whole up to twice the tolerance on that side: it may shift within
    tolerance of where the others are cut, which may be as much off the drawing.
    """
    slope, tolerance = case.made.shop.jig.slope, case.made.tolerance_mm(case.made.patterns[0])
    for end in board.ends:
        for tail in range(1, len(board.ends[end].top_marks_mm) + 1):
            if counted is not None and (counted.end.value, counted.tail) == (end, tail):
                twice = 2 * tolerance if case.mistake in (Mistake.OFF_LINE, Mistake.WRONG_SIDE) else tolerance
                top, bottom = (twice, 0.0) if counted.faces is Edge.TOP else (0.0, twice)
                core = tail_outline(board, end, tail, slope, top_shift_mm=top + 1e-5, bottom_shift_mm=bottom + 1e-5)
                if core.is_valid and core.intersection(slot).area > SLIVER_MM2:
                    return f"tail {tail} at end {end} isn't whole"
                continue
            # The kerf's bottom is square to its travel: one corner stops short of the baseline, and leaves a splinter.
            left = tail_outline(_shallower(board, case.made), end, tail, slope).difference(slot)
            pieces = [piece for piece in getattr(left, "geoms", [left]) if piece.area > SLIVER_MM2]
            if len(pieces) != 1:
                return f"tail {tail} at end {end} is cut in two"
            core = tail_outline(
                board, end, tail, slope, top_shift_mm=tolerance + 1e-5, bottom_shift_mm=tolerance + 1e-5
            )
            if core.is_valid and core.intersection(slot).area > SLIVER_MM2:
                return f"tail {tail} at end {end} loses more than the tolerance"
    return ""


def _shallower(board: Board, made: Job) -> Board:
    """The board with its tails as deep as both corners of a kerf get."""
    by = made.shop.saw.kerf_mm * math.sin(made.shop.jig.slope) + 1e-6
    ends = {end: replace(one, tail_length_mm=one.tail_length_mm - by) for end, one in board.ends.items()}
    return replace(board, ends=ends)


def _mended(case: Case, said: Judgement, board: Board, slot: Polygon) -> str | None:
    """Of a board that serves with other marks: its kerf stands along the new mark, and every other tail is whole."""
    assert said.joint is not None
    end = case.side.end.value
    now = replace(
        board,
        ends={
            **board.ends,
            end: replace(
                board.ends[end], top_marks_mm=said.joint.top_marks_mm, bottom_marks_mm=said.joint.bottom_marks_mm
            ),
        },
    )
    slope = case.made.shop.jig.slope
    for tail in range(1, len(now.ends[end].top_marks_mm) + 1):
        whole = tail_outline(now, end, tail, slope)
        if whole.intersection(slot).area > SLIVER_MM2:
            return f"mended, but tail {tail} at end {end} has the kerf in it"
    return None


def counted(found: list[tuple[Verdict, str | None]]) -> str:
    """How many of each verdict."""
    counts = Counter(str(verdict) for verdict, _ in found)
    return ", ".join(f"{number} {word}" for word, number in sorted(counts.items()))
